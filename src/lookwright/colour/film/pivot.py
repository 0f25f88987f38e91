"""A print whose gammas turn about another level than middle grey, so that faces, say, keep the place they have."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np

from .layers import log_exposure
from .model import GREY, curves, printed_grey
from .parameters import SPANS, FilmParameters
from .printing import POINT, base_light
from .sensitometry import Curve

LIGHTS = ("printer_red", "printer_green", "printer_blue")


@lru_cache(maxsize=64)
def _printed(p: FilmParameters, stops: float) -> tuple[float, float, Curve]:
    """Of a grey ``stops`` over middle grey: its density on the negative, the base light, and the print's curve."""
    negative, positive = curves(p)
    base = base_light(float(negative(log_exposure(GREY))), printed_grey(p), positive)
    return float(negative(log_exposure(GREY * 2.0**stops))), base, positive


def density_at(p: FilmParameters, stops: float) -> float:
    """Density, above clear film and before the surround, of a grey so many stops over middle grey, at base light."""
    negative, base, positive = _printed(p, stops)
    return float(positive(base - negative))


def pivoted(p: FilmParameters, stops: float) -> FilmParameters:
    """The parameters with the printer lights so set that the gammas turn about ``stops`` over grey.

    A grey of that level gets the density that the standard gammas would give it, all else being equal, by as many
    printer points on all three lights as that takes, at most to their bounds: a steeper print then darkens what lies
    below the level and lightens what lies above. 0 stops gives the parameters themselves.
    """
    standard = replace(p, **{name: SPANS[name].default for name in ("negative_gamma", "print_gamma")})
    if stops == 0.0 or standard == p:
        return p
    negative, base, positive = _printed(p, stops)
    points = (base_light(negative, density_at(standard, stops), positive) - base) / POINT
    lights = {name: float(np.clip(getattr(p, name) + points, SPANS[name].low, SPANS[name].high)) for name in LIGHTS}
    return replace(p, **lights)
