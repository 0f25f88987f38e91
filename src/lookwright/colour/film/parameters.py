"""What a filmmaker may set on the print: each parameter declared once, with default, bounds, unit and meaning.

The step ``print`` makes its own parameters of these declarations, so a parameter added here is one of recipes too.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from math import isfinite
from typing import Any, Literal

from lookwright.errors import LookwrightError


@dataclass(frozen=True)
class Span:
    """What a parameter may be: hard bounds, the range a filmmaker will want, unit and meaning."""

    default: float
    low: float
    high: float
    soft: tuple[float, float]
    unit: str
    help: str
    of_the_room: bool = False
    """Describes where the print is shown, not the print: nothing for a solver to move."""
    acts_on: Literal["", "level", "slope"] = ""
    """What of the whole scale of greys it sets: where grey lands, or how steep the scale is about it."""
    main: bool = False
    """Whether a hand reaches for it first."""


def _span(
    default: float,
    *,
    bounds: tuple[float, float],
    soft: tuple[float, float],
    help: str,
    unit: str = "",
    of_the_room: bool = False,
    acts_on: Literal["", "level", "slope"] = "",
    main: bool = False,
) -> Any:
    span = Span(default, *bounds, soft, unit, help, of_the_room, acts_on, main)
    return field(default=default, metadata={"span": span})


def _points(help: str) -> Any:
    return _span(0.0, bounds=(-24.0, 24.0), soft=(-4.0, 4.0), unit="points", help=help)


@dataclass(frozen=True)
class FilmParameters:
    """Everything a filmmaker may set on the print. Units, bounds and meaning: :data:`SPANS`.

    Notes
    -----
    * ``toe`` and ``shoulder`` speak of the *picture*: ``toe`` softens its shadows (the print curve's
      own shoulder, and half as much the negative's toe), ``shoulder`` its highlights (the print curve's
      toe, and half as much the negative's shoulder).
    * ``density_max`` is the density of the print where the scene is black
      (:func:`~lookwright.colour.film.model.black_density`).
    * Printer points have the sign of the trade: the print is a positive made by exposing through a
      negative, so **adding** red light makes more cyan dye: the picture gets darker and less red.
      0, 0, 0 is balanced; equal points on all three change lightness only.
    * ``grey_density`` is the density of middle grey as shown, before flare: ``surround`` takes contrast out
      around it and leaves clear film clear.
    * ``finish`` tints the support: every grey of the picture gets the same chromaticity, a whole unit being a
      20 mired shift of the white. Contrast and grey density stay. The largest component of clear
      film is 1 at any finish.

    Raises
    ------
    LookwrightError
        For a value that is not finite or outside its hard bounds.
    """

    negative_gamma: float = _span(
        0.6,
        bounds=(0.3, 1.0),
        soft=(0.5, 0.7),
        unit="density per log10 exposure",
        help="slope of the negative",
        acts_on="slope",
    )
    print_gamma: float = _span(
        2.6,
        bounds=(1.2, 4.5),
        soft=(2.2, 3.2),
        unit="density per log10 exposure",
        help="slope of the print",
        acts_on="slope",
        main=True,
    )
    toe: float = _span(
        0.12, bounds=(0.02, 0.22), soft=(0.05, 0.18), unit="share of latitude", help="softness of the picture's shadows"
    )
    shoulder: float = _span(
        0.1,
        bounds=(0.02, 0.22),
        soft=(0.06, 0.2),
        unit="share of latitude",
        help="softness of the picture's highlights",
    )
    density_max: float = _span(
        3.8,
        bounds=(2.4, 4.4),
        soft=(2.6, 4.2),
        unit="density",
        help="density of the print's deepest black, above clear film",
    )
    grey_density: float = _span(
        0.92,
        bounds=(0.4, 1.6),
        soft=(0.75, 1.15),
        unit="density",
        help="visual density of 18 % grey on the print",
        acts_on="level",
        main=True,
    )
    printer_red: float = _points("more red light: darker and toward cyan")
    printer_green: float = _points("more green light: darker and toward magenta")
    printer_blue: float = _points("more blue light: darker and toward yellow")
    coupling: float = _span(
        1.0,
        bounds=(0.0, 1.5),
        soft=(0.6, 1.25),
        help="inter-image coupling: 0 none, 1 the base set, above: more colour",
        main=True,
    )
    lamp_kelvin: float = _span(
        5400.0,
        bounds=(2800.0, 7500.0),
        soft=(3200.0, 6500.0),
        unit="K",
        help="blackbody temperature of the projection lamp",
        of_the_room=True,
    )
    flare: float = _span(
        0.0, bounds=(0.0, 0.05), soft=(0.0, 0.01), unit="share of white", help="stray light on the screen"
    )
    finish: float = _span(
        0.0, bounds=(-1.0, 1.0), soft=(-0.5, 0.5), help="tint of the film base: -1 cool, 0 neutral, +1 warm", main=True
    )
    surround: float = _span(
        1.0,
        bounds=(0.6, 1.2),
        soft=(0.8, 1.0),
        unit="exponent",
        help="contrast for the room: 1 dark; 0.83 to 0.93 dim, 0.67 to 0.83 average; grey stays",
        of_the_room=True,
    )

    def __post_init__(self) -> None:
        for name, span in SPANS.items():
            value = getattr(self, name)
            if not (isfinite(value) and span.low <= value <= span.high):
                raise LookwrightError(
                    f"print, {name}", f"{value}", f"{span.low:g} to {span.high:g} {span.unit}".rstrip()
                )


SPANS: dict[str, Span] = {f.name: f.metadata["span"] for f in fields(FilmParameters)}
"""Every parameter by its name, in the order of the declarations."""
