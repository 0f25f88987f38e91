"""The film-style print: scene light to display light through a negative, a print and a projector."""

from __future__ import annotations

from typing import Any, ClassVar, Literal

from pydantic import create_model

from lookwright.colour import plain
from lookwright.colour.film.model import FilmPrint, black_density
from lookwright.colour.film.parameters import SPANS, FilmParameters
from lookwright.colour.film.pivot import pivoted
from lookwright.colour.film.print_rendering import SKEW, PrintRendering

from .base import Context, Domain, Op, Step, in_stops
from .contrast import pivot_stops
from .params import Param
from .render import Render, peak, threshold


class PrintStep(Step):
    """Makes display light as a projected film print would: see ``colour/film/`` for the physics.

    ``amount`` mixes with the plain rendering of the same colour, in Oklab. It is a smooth function of colour like
    either end, not a mix of two pictures, and it is what a look's ``strength`` moves: at 0 the look is rendered
    plainly. The other parameters describe the print itself and are not moved by ``strength``; they are those that
    :class:`~lookwright.colour.film.parameters.FilmParameters` declares, and :data:`Print` has them.
    """

    takes: ClassVar[Domain] = "scene"
    gives: ClassVar[Domain] = "display"
    summary: ClassVar[str] = "scene light to display light as a film print: negative, print, projector"
    rendering: ClassVar[bool] = True
    fits: ClassVar[bool] = True

    kind: Literal["print"] = "print"
    amount: float = Param(
        1.0,
        low=0.0,
        high=1.0,
        neutral=0.0,
        soft=(0.3, 1.0),
        help="1 the print, 0 the plain rendering instead",
        main=True,
    )
    peak: float = peak("brightest highlight; 0 takes the output's own: clear film, or 4.9 (1000 cd/m2) for PQ and HLG")
    skew: float = Param(
        SKEW,
        low=0.0,
        high=20.0,
        neutral=None,
        unit="deg",
        soft=(0.0, 15.0),
        help="how far bright warm lights turn toward yellow",
    )
    threshold: float = threshold()
    pivot_stops: float = pivot_stops(
        "over grey, where the gammas turn: that level keeps what gammas of 0.6 and 2.6 give it; 1.4 for lit faces"
    )

    def as_set(self) -> FilmParameters:
        """The parameters of the film room, as this step has them."""
        return FilmParameters(**{name: getattr(self, name) for name in SPANS})

    def film(self) -> FilmParameters:
        """The parameters that are printed with: the printer lights set for the pivot."""
        return pivoted(self.as_set(), self.pivot_stops)

    def prepare(self, context: Context) -> Op:
        render = Render(peak=self.peak, threshold=self.threshold)
        if self.amount == 0.0:
            return render.prepare(context)
        output = context.output.encoding
        nits = render.nits(output)
        volume = plain.volume(output.name, context.output.primaries.name, nits)
        return Op(
            "print",
            PrintRendering(
                FilmPrint(self.film()),
                volume,
                nits / output.unit_nits,
                self.skew,
                self.threshold,
                render.rendering_for(context) if self.amount < 1.0 else None,
                self.amount,
            ),
        )

    def in_words(self) -> str:
        film = self.as_set()
        text = (
            f"makes a film print: negative gamma {film.negative_gamma:g}, print gamma {film.print_gamma:g}, grey at "
            f"density {film.grey_density:g}, black at {black_density(film):.2f}"
        )
        if self.pivot_stops:
            text += f" (gammas turn {in_stops(self.pivot_stops, '+')} from grey)"
        points = (film.printer_red, film.printer_green, film.printer_blue)
        if any(points):
            text += ", printer points " + " ".join(f"{p:+g}" for p in points)
        if film.finish:
            text += f", {'warm' if film.finish > 0 else 'cool'} finish {abs(film.finish):g}"
        if film.flare:
            text += f", flare {film.flare:g}"
        return text if self.amount == 1 else f"{text}; {self.amount * 100:.0f} % of it, the rest plain"


def _parameters() -> dict[str, Any]:
    """The film room's declarations as fields of a step."""
    return {
        name: (
            float,
            Param(
                span.default,
                low=span.low,
                high=span.high,
                neutral=None,
                unit=span.unit,
                help=span.help,
                soft=span.soft,
                tunable=not span.of_the_room,
                acts_on=span.acts_on,
                main=span.main,
            ),
        )
        for name, span in SPANS.items()
    }


Print = create_model("Print", __base__=PrintStep, __module__=__name__, __doc__=PrintStep.__doc__, **_parameters())
"""The step itself: :class:`PrintStep` with every parameter of the film room."""
