"""The film-style print: scene light to display light through a negative, a print and a projector."""

from __future__ import annotations

from typing import Any, ClassVar, Literal

from lookwright.arrays import Array
from lookwright.colour.film.model import SPANS, FilmParameters, FilmPrint
from lookwright.colour.spaces.oklab import light_to_oklab, oklab_to_light

from .base import Context, Domain, Op, Step
from .params import Param
from .render import Render

_STANDARD = FilmParameters()


def _film(name: str, tunable: bool = True) -> Any:
    """The film room's own declaration of a parameter, as a parameter of this step."""
    span = SPANS[name]
    return Param(
        getattr(_STANDARD, name),
        low=span.low,
        high=span.high,
        neutral=None,
        unit=span.unit,
        help=span.help,
        soft=(span.soft_low, span.soft_high),
        tunable=tunable,
    )


class Print(Step):
    """Makes display light as a projected film print would: see ``film/`` for the physics.

    ``amount`` mixes with the plain rendering of the same colour, in Oklab. It is a smooth function of colour like
    either end, not a mix of two pictures, and it is what a look's ``strength`` moves: at 0 the look is rendered
    plainly. The other parameters describe the print itself and are not moved by ``strength``.
    """

    takes: ClassVar[Domain] = "scene"
    gives: ClassVar[Domain] = "display"
    summary: ClassVar[str] = "scene light to display light as a film print: negative, print, projector"
    rendering: ClassVar[bool] = True

    kind: Literal["print"] = "print"
    amount: float = Param(
        1.0, low=0.0, high=1.0, neutral=0.0, soft=(0.3, 1.0), help="1 the print, 0 the plain rendering instead"
    )
    negative_gamma: float = _film("negative_gamma")
    print_gamma: float = _film("print_gamma")
    toe: float = _film("toe")
    shoulder: float = _film("shoulder")
    density_max: float = _film("density_max")
    grey_density: float = _film("grey_density")
    printer_red: float = _film("printer_red")
    printer_green: float = _film("printer_green")
    printer_blue: float = _film("printer_blue")
    coupling: float = _film("coupling")
    lamp_kelvin: float = _film("lamp_kelvin", tunable=False)
    flare: float = _film("flare")
    finish: float = _film("finish")
    surround: float = _film("surround", tunable=False)

    def film(self) -> FilmParameters:
        """The parameters of the film room."""
        return FilmParameters(**{name: getattr(self, name) for name in SPANS})

    def prepare(self, context: Context) -> Op:
        plain = Render().prepare(context)
        if self.amount == 0.0:
            return plain
        film = FilmPrint(self.film())
        if self.amount == 1.0:
            return Op("print", film)

        def mixed(x: Array) -> Array:
            a, b = light_to_oklab(plain(x)), light_to_oklab(film(x))
            return oklab_to_light(a + self.amount * (b - a))

        return Op("print", mixed)

    def in_words(self) -> str:
        text = (
            f"makes a film print: negative gamma {self.negative_gamma:g}, print gamma {self.print_gamma:g}, grey at "
            f"density {self.grey_density:g}, black at {self.density_max:g}"
        )
        points = (self.printer_red, self.printer_green, self.printer_blue)
        if any(points):
            text += ", printer points " + " ".join(f"{p:+g}" for p in points)
        if self.finish:
            text += f", {'warm' if self.finish > 0 else 'cool'} finish {abs(self.finish):g}"
        if self.flare:
            text += f", flare {self.flare:g}"
        return text if self.amount == 1 else f"{text}; {self.amount * 100:.0f} % of it, the rest plain"
