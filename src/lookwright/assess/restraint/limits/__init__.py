"""The measures: what each one is, from where on it is harm, and why. One file for each group of them.

Nothing else in the project holds a limit. A look may set its own with ``[limits.NAME]``, a value and a reason; the
report then says so. Reasons without a source are marked as our choice or as common practice. What to ease is no part
of this: advice tries the parameters that the look has (``ease.py``).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from lookwright.errors import RecipeError, RecipeErrors, did_you_mean

from . import clipping, colours, gradients, greys, hues, memory, noise, skin, stills, tone
from .measure import Measure, State

if TYPE_CHECKING:
    from lookwright.look.recipe.model import Limit

__all__ = ["BY_NAME", "MEASURES", "Measure", "State", "check_limits"]

_GROUPS = (skin, memory, colours, greys, tone, hues, noise, clipping, gradients, stills)

MEASURES: tuple[Measure, ...] = tuple(m for group in _GROUPS for m in group.MEASURES)

BY_NAME: dict[str, Measure] = {m.name: m for m in MEASURES}


def check_limits(limits: Mapping[str, Limit], where: str) -> None:
    """Refuse a look's own limits for measures that there are none of, or on the wrong side of the ideal.

    Raises :class:`RecipeErrors` with every fault, each with the nearest names.
    """
    faults: list[RecipeError] = []
    for name, limit in limits.items():
        measure = BY_NAME.get(name)
        if measure is None:
            faults.append(
                RecipeError(f"{where}, limits.{name}", f"no measure {name!r}", hint=did_you_mean(name, BY_NAME))
            )
        elif (limit.value - measure.ideal) * (measure.fail - measure.ideal) <= 0:
            side = "above" if measure.fail > measure.ideal else "below"
            faults.append(
                RecipeError(f"{where}, limits.{name}.value", f"{limit.value:g}", f"a number {side} {measure.ideal:g}")
            )
    if faults:
        raise RecipeErrors(faults)
