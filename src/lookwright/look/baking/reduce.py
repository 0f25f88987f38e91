"""The part of a look before its rendering as one ASC CDL, with the error of saying it so."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from lookwright.arrays import Array
from lookwright.colour.cdl import apply_cdl
from lookwright.colour.difference import ciede2000
from lookwright.look.recipe.model import Look, SignalText
from lookwright.look.recipe.pipeline import Pipeline, compile_look
from lookwright.look.recipe.variants import rendering_at
from lookwright.look.steps.render import Render
from lookwright.lut.fit.appearance import lab_of
from lookwright.lut.formats.cdl import Correction

MEAN, P99 = 0.5, 2.0
"""Largest CIEDE2000 at which a look counts as reducible: about half a just noticeable difference on average and two
in the worst hundredth (that one unit is about just noticeable is common practice, no source)."""

_DECIMALS = 5


@dataclass(frozen=True)
class Reduction:
    """The best CDL for a look and what is lost by it. Errors are of the samples; None without a correction."""

    correction: Correction | None
    why_not: str = ""
    mean: float = 0.0
    """CIEDE2000 after the look's own rendering."""
    p99: float = 0.0
    max: float = 0.0
    mean_codes: float = 0.0
    """Difference of source signal in 10-bit codes."""
    max_codes: float = 0.0

    @property
    def reducible(self) -> bool:
        """Whether the CDL may stand for those steps."""
        return self.correction is not None and self.mean <= MEAN and self.p99 <= P99

    def reason(self) -> str:
        """What the error is, or why there is no correction."""
        if self.correction is None:
            return self.why_not
        error = (
            f"mean {self.mean:.2f}, 99th percentile {self.p99:.2f} CIEDE2000 through the rendering; "
            f"mean {self.mean_codes:.1f}, largest {self.max_codes:.1f} 10-bit codes of log"
        )
        return error if self.reducible else f"the best one errs by {error}; {MEAN:g} and {P99:g} CIEDE2000 would pass"

    def words(self) -> str:
        """One sentence."""
        if self.reducible:
            return f"reduces to a CDL with an error of {self.reason()}"
        return f"does not reduce to a CDL: {self.reason()}"


def reduce_to_cdl(look: Look, samples: ArrayLike, identity: str = "look") -> Reduction:
    """Fit slope, offset, power and saturation, in the look's source signal, to the steps before the rendering.

    Parameters
    ----------
    look
        The look; its source must carry scene light.
    samples
        (..., 3) source signal to fit and to judge at: pixels of stills, and colours of the cube if they matter.
    identity
        The ``id`` of the correction.

    Returns
    -------
    The correction (not clamped, rounded to five decimals) with its error; or the reason why there is none.
    """
    source = look.source.signal()
    if source.kind != "scene":
        return Reduction(None, f"the look is fed {source.encoding.name}, which carries display light")
    cut = rendering_at(look)
    before = look.steps[:cut]
    if all(not s.on or s.is_neutral() for s in before):
        return Reduction(None, "no step stands before the rendering")
    graded = compile_look(look.model_copy(update={"steps": before, "output": look.source}))
    rendering = look.steps[cut:]
    if look.output.signal().kind == "scene":
        rendered = look.model_copy(update={"steps": (Render(),), "output": SignalText(encoding="BT.1886")})
    else:
        rendered = look.model_copy(update={"steps": rendering})
    points = np.asarray(samples, np.float64).reshape(-1, 3)
    aim = graded(points)
    found = _fit(points, aim)
    correction = Correction(
        (found[0], found[1], found[2]),
        (found[3], found[4], found[5]),
        (found[6], found[7], found[8]),
        found[9],
        identity,
        (f"Feed it: {source.describe()}", f"It gives: {source.describe()}", "Not clamped"),
    )
    return _judged(correction, points, aim, compile_look(rendered))


def _judged(correction: Correction, points: Array, aim: Array, rendering: Pipeline) -> Reduction:
    got = correction(points)
    to_lab = lab_of(rendering.output)
    difference = ciede2000(to_lab(rendering(aim)), to_lab(rendering(got)))
    codes = np.abs(got - aim) * 1023.0
    return Reduction(
        correction,
        "",
        float(difference.mean()),
        float(np.percentile(difference, 99)),
        float(difference.max()),
        float(codes.mean()),
        float(codes.max()),
    )


def _fit(points: Array, aim: Array) -> list[float]:
    from scipy.optimize import least_squares

    neutral = np.concatenate([np.ones(3), np.zeros(3), np.ones(4)])
    root = np.sqrt(points.size)

    def residual(v: Array) -> Array:
        error = (apply_cdl(points, v[:3], v[3:6], v[6:9], float(v[9])) - aim).ravel() / root
        # Slope, offset and power nearly stand in for each other on a narrow picture: a faint pull settles them.
        return np.concatenate([error, 1e-5 * (v - neutral)])

    low = np.concatenate([np.full(3, 0.05), np.full(3, -1.0), np.full(3, 0.1), [0.0]])
    high = np.concatenate([np.full(3, 8.0), np.full(3, 1.0), np.full(3, 8.0), [4.0]])
    # Tolerances at the limit of float64, so that every version of the solver stops at the same five decimals.
    fit = least_squares(residual, neutral, bounds=(low, high), xtol=1e-14, ftol=1e-14, gtol=1e-14, max_nfev=200)
    return [float(x) + 0.0 for x in np.round(fit.x, _DECIMALS)]
