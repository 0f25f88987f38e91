"""What must be lit rather than graded: the light that a zone lacks, or has too much of, in stops."""

from __future__ import annotations

from collections.abc import Sequence

from lookwright.arrays import Array
from lookwright.colour.luma import luma_percent
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.steps.exposure import Exposure

from .goals import middle
from .outcome import Reached

MOST = 6.0
"""Stops either way that are looked through: more than that is another set-up (our choice)."""
FINE = 0.01
"""Stops to which the answer is found."""


def stops_of_light(look: Look, codes: Array, wanted: float) -> float | None:
    """Stops by which the light on one zone must change for it to sit at ``wanted`` through the look.

    Scene light of the zone is multiplied by 2^stops ahead of the look's first step, so everything that the look does to
    its light and colour is counted; light that spills onto other zones is not.

    Parameters
    ----------
    look
        As tuned; its output is a display signal.
    codes
        (n, 3) source code values of the zone.
    wanted
        Level in percent of signal.

    Returns
    -------
    float or None
        + is more light; None where :data:`MOST` stops either way do not bring it there.
    """
    output = look.output.signal()

    def level(stops: float) -> float:
        lit = look.model_copy(update={"steps": (Exposure(stops=stops), *look.steps)}).with_folder(look.folder)
        return middle(luma_percent(compile_look(lit)(codes), output))

    low, high = -MOST, MOST
    if not level(low) <= wanted <= level(high):
        return None
    while high - low > FINE:
        half = 0.5 * (low + high)
        low, high = (half, high) if level(half) < wanted else (low, half)
    return 0.5 * (low + high)


def light_words(targets: Sequence[Reached]) -> list[str]:
    """``wall 0.8 stops more`` for each target that was not met."""
    said = []
    for t in targets:
        if t.met:
            continue
        if t.light is None:
            said.append(f"{t.label} not within {MOST:g} stops of light")
        else:
            said.append(f"{t.label} {abs(t.light):.1f} stops {'more' if t.light > 0 else 'less'}")
    return said
