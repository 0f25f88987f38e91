"""Which parameters of a look may move, how far, and how their values are put into it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from lookwright.arrays import Array
from lookwright.errors import RecipeError, did_you_mean
from lookwright.look.recipe.model import Look
from lookwright.look.steps.base import Step
from lookwright.look.steps.numbers import Path, locked, numbers, with_value
from lookwright.look.steps.params import ParamInfo


@dataclass(frozen=True)
class Free:
    """One number that tuning may move.

    Its coordinate z is 0 at the start and 1 one whole usual (soft) range further; equal steps are equal factors where
    the parameter is declared ``scale="log"``.
    """

    step: int
    """Place in ``look.steps``, from 0."""
    path: Path
    """Within the step: ``("pull",)``, ``("band", 0, "turn")``, ``("slope", 2)`` for the blue of a triple."""
    name: str
    """As messages and ``--lock`` spell it: ``split.pull``, ``hues.band.1.turn``, ``cdl.slope.blue``."""
    info: ParamInfo
    start: float
    low: float
    high: float
    """Bounds of the value; they always contain ``start``."""

    @property
    def log(self) -> bool:
        """Whether z counts factors."""
        return self.info.scale == "log" and self.start > 0 and self.info.soft_low > 0

    @property
    def span(self) -> float:
        """One unit of z: the usual range, as a difference or as a natural logarithm."""
        low, high = self.info.soft_low, self.info.soft_high
        return math.log(high / low) if self.log else high - low

    def value(self, z: float) -> float:
        """The parameter's value at z, held inside the bounds."""
        v = self.start * math.exp(z * self.span) if self.log else self.start + z * self.span
        return min(max(v, self.low), self.high)

    def z(self, value: float) -> float:
        """The inverse of :meth:`value` inside the bounds."""
        return math.log(value / self.start) / self.span if self.log else (value - self.start) / self.span

    def bounds_z(self) -> tuple[float, float]:
        """z at the two bounds."""
        return self.z(self.low), self.z(self.high)

    def uncertainty(self, z: float, z_off: float) -> float:
        """Half the width, in the parameter's own unit, of z - z_off .. z + z_off."""
        if self.log:
            return self.start * math.exp(z * self.span) * math.sinh(min(z_off * self.span, 50.0))
        return z_off * self.span


def free_parameters(look: Look, lock: Sequence[str] = (), free: Sequence[str] = (), wide: bool = False) -> list[Free]:
    """Every parameter that tuning may move, in the order of the recipe.

    Left out: steps that are off, parameters that the recipe or ``lock`` locks, and those declared as not for tuning,
    unless ``free`` names them. Bounds are the usual (soft) range of the declaration widened to contain the start; with
    ``wide`` the hard bounds.

    Parameters
    ----------
    lock, free
        Names: ``split.pull``, ``split`` (the whole step), ``hues.band`` or ``hues.band.2``, ``3.pull`` (by the step's
        number, from 1). ``free`` is stronger than the recipe's own locks; ``lock`` is stronger than ``free``.

    Raises
    ------
    RecipeError
        A name that fits no parameter, or no parameter left to move.
    """
    every = list(_all(look))
    for option, names in (("--lock", lock), ("--free", free)):
        for name in names:
            if not any(fits(name, number, full) for number, full, *_ in every):
                known = [full for _, full, *_ in every]
                raise RecipeError(f"{option} {name}", "no such parameter in this look", hint=did_you_mean(name, known))
    found = []
    for number, full, index, path, info, start in every:
        asked = any(fits(n, number, full) for n in free)
        step = look.steps[index]
        if any(fits(n, number, full) for n in lock) or not step.on:
            continue
        if not asked and (not info.tunable or locked(step, path) or _impossible(step, path)):
            continue
        low, high = (info.low, info.high) if wide else (min(info.soft_low, start), max(info.soft_high, start))
        found.append(Free(index, path, full, info, start, low, high))
    if not found:
        raise RecipeError(
            look.title or "look",
            "every parameter is locked, so there is nothing to tune",
            hint="take a lock out of the recipe, or use --free STEP.PARAMETER",
        )
    return found


def _all(look: Look) -> Iterator[tuple[int, str, int, Path, ParamInfo, float]]:
    """(step number, full name, step index, path, declaration, value) of every number in every step."""
    kinds = [s.kind for s in look.steps]
    for i, step in enumerate(look.steps):
        head = step.kind if kinds.count(step.kind) == 1 else f"{step.kind}[{i + 1}]"
        for n in numbers(step):
            yield i + 1, f"{head}.{n.words}", i, n.path, n.info, n.value


def fits(asked: str, number: int, full: str) -> bool:
    """Whether ``asked`` names ``full`` or a group that it is in."""
    kind, _, rest = full.partition(".")
    plain = kind.split("[")[0]
    spelled = {full, f"{plain}.{rest}", f"{number}.{rest}"}
    wanted = asked.strip()
    return any(s == wanted or s.startswith(wanted + ".") for s in spelled)


def _impossible(step: Step, path: Path) -> bool:
    """A share of a LUT makes sense only where it takes and gives the same signal."""
    if step.kind != "lut" or path != ("amount",):
        return False
    takes, gives = getattr(step, "input", None), getattr(step, "output", None)
    return takes is None or gives is None or takes.signal() != gives.signal()


def with_values(look: Look, free: Sequence[Free], z: Array) -> Look:
    """The look at coordinates z (len(free),)."""
    steps = list(look.steps)
    for f, at in zip(free, z, strict=True):
        steps[f.step] = with_value(steps[f.step], f.path, f.value(float(at)))
    copy = look.model_copy(update={"steps": tuple(steps)})
    return copy.with_folder(look.folder)
