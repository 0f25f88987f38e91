"""Finding the shortest recipe that does what a LUT does."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.difference import ciede2000
from lookwright.colour.spaces.signal import Signal
from lookwright.look.recipe.model import Look, SignalText
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.staged import Staged, StagedPoints
from lookwright.look.steps.base import Step
from lookwright.look.steps.numbers import with_value
from lookwright.lut.fit.appearance import lab_of, sensitivity
from lookwright.lut.fit.prior import draw, even, natural

from .ways import Way, ways

Table = Callable[[Array], Array]
"""(n, 3) code values to code values."""

GOOD = 0.5
"""Mean CIEDE2000 on natural colours at which a LUT counts as explained: half of what is about just noticeable."""
SHORTER = 0.1
"""A longer recipe is taken only where it leaves less by this much, mean CIEDE2000."""
NOTHING, NOTHING_IN_ALL = 0.01, 0.04
"""Numbers are left out that earn no more than this, each and all together, mean CIEDE2000."""
FITTED, FITTED_CUBE = 500, 120
"""Natural colours that are fitted to, and colours of the whole cube."""
JUDGED = 4_000
"""Natural colours, and colours of the whole cube, that the figures are of: none of them is fitted to."""
_CUBE_SHARE = 0.1
_ROUNDS = 40
_DIGITS = 5


@dataclass(frozen=True)
class Explained:
    """A recipe for a LUT, and what it leaves."""

    look: Look
    way: str
    numbers: int
    """Numbers that were found and stand in the recipe."""
    mean: float
    """CIEDE2000 on natural colours."""
    p99: float
    cube: float
    """Mean CIEDE2000 over the whole cube, most of which no picture holds."""
    plain: float
    """Mean CIEDE2000 that no step at all, or the plain rendering, leaves on natural colours."""

    @property
    def good(self) -> bool:
        """Whether the recipe may stand for the LUT."""
        return self.mean <= GOOD


def explain(
    table: Table, source: Signal, output: Signal, title: str = "", told: Callable[[str], None] = lambda what: None
) -> Explained:
    """The recipe of few steps that comes nearest to ``table``, at most ten numbers in it.

    Parameters
    ----------
    table
        The LUT: code values (n, 3) of ``source``, 0..1, to those of ``output``. Both are held to 0..1.
    told
        Called with what is tried next.
    """
    judge = _Judge(table, source, output)
    fits = _Fits(table, source, output, title)
    best: Explained | None = None
    plain = 0.0
    for way in ways(source, output):
        if best is not None and best.mean < SHORTER and best.numbers < way.count():
            break  # a longer way earns its numbers by more than is left
        told(way.name)
        steps = fits.fitted(way)
        found = judge(fits.look(steps), way.name, way.count())
        if best is None:
            plain = found.mean
        if best is None or _better(found, best):
            best, best_way = found, way
    assert best is not None
    best = _shortened(best, best_way, judge, fits)
    return Explained(best.look, best.way, best.numbers, best.mean, best.p99, best.cube, plain)


def _better(found: Explained, best: Explained) -> bool:
    """Whether a later, longer recipe is worth its numbers; always where it is the first that explains the LUT."""
    if found.good and not best.good:
        return True
    return found.mean < best.mean - SHORTER * (found.numbers > best.numbers)


def _shortened(best: Explained, way: Way, judge: _Judge, fits: _Fits) -> Explained:
    """Without the numbers that earn nothing: each put to its neutral value in turn, the least wanted first."""
    steps, kept = best.look.steps, 0
    mean = best.mean
    for place, number in way.numbers():
        value = number.info.neutral if number.info.neutral is not None else number.default
        trial = tuple(with_value(s, number.path, value) if i == place else s for i, s in enumerate(steps))
        error = judge.mean(fits.look(trial))
        most = min(mean + NOTHING, best.mean + NOTHING_IN_ALL)
        if error <= (min(most, GOOD) if best.good else most):
            steps, mean = trial, max(mean, error)
        else:
            kept += 1
    return judge(fits.look(tuple(s for s in steps if s.rendering or not s.is_neutral())), way.name, kept)


class _Fits:
    """Least squares in units of CIEDE2000 round what the LUT gives."""

    def __init__(self, table: Table, source: Signal, output: Signal, title: str) -> None:
        self._frame = Look(
            title=title[:120],
            source=SignalText(encoding=source.encoding.name, primaries=source.primaries.name, range=source.range),
            output=SignalText(encoding=output.encoding.name, primaries=output.primaries.name, range=output.range),
        )
        points = np.concatenate([draw(natural(source), FITTED, 21), draw(even, FITTED_CUBE, 22)])
        weight = np.concatenate([np.full(FITTED, 1 / FITTED), np.full(FITTED_CUBE, _CUBE_SHARE / FITTED_CUBE)])
        self._aim = np.clip(table(points), 0.0, 1.0)
        a, b, c, d, e, f = sensitivity(self._aim, lab_of(output))
        form = np.stack([np.stack(r, -1) for r in ((a, d, e), (d, b, f), (e, f, c))], -2)
        # A little of the identity: in black CIEDE2000 has no slope.
        self._root = np.linalg.cholesky(form + 25.0 * np.eye(3)) * np.sqrt(weight)[:, None, None]
        self._points = StagedPoints(points)
        self._staged = Staged()

    def look(self, steps: tuple[Step, ...]) -> Look:
        """The steps between source and output."""
        return self._frame.model_copy(update={"steps": steps})

    def fitted(self, way: Way) -> tuple[Step, ...]:
        """The steps with their free numbers found, rounded to five significant digits."""
        from scipy.optimize import least_squares

        free = way.numbers()
        if not free:
            return way.steps
        low = np.array([n.info.low for _, n in free])
        high = np.array([n.info.high for _, n in free])
        span = np.array([n.info.soft_high - n.info.soft_low for _, n in free])
        start = np.array([min(max(n.value, n.info.low), n.info.high) for _, n in free])

        def steps_at(x: Array) -> tuple[Step, ...]:
            steps = list(way.steps)
            for (place, number), value in zip(free, x, strict=True):
                steps[place] = with_value(steps[place], number.path, float(value))
            return tuple(steps)

        def left(x: Array) -> Array:
            made = self._points.varied(self._staged.parts(self.look(steps_at(np.clip(x * span, low, high)))))
            off = np.clip(made, 0.0, 1.0) - self._aim
            off = np.einsum("nij,ni->nj", self._root, off).ravel()
            return np.concatenate([off, 1e-4 * (x - start / span)])

        self._points.run(self._staged.parts(self.look(way.steps)))
        inside = np.clip(start, low + 1e-6 * span, high - 1e-6 * span)
        found = least_squares(
            left, inside / span, bounds=(low / span, high / span), diff_step=1e-5, loss="soft_l1", max_nfev=_ROUNDS
        )
        return steps_at(np.array([float(f"{v:.{_DIGITS}g}") for v in np.clip(found.x * span, low, high)]))


class _Judge:
    """Figures on colours that no recipe was fitted to."""

    def __init__(self, table: Table, source: Signal, output: Signal) -> None:
        self._to_lab = lab_of(output)
        self._points = np.concatenate([draw(natural(source), JUDGED, 31), draw(even, JUDGED, 32)])
        self._aim = self._to_lab(np.clip(table(self._points), 0.0, 1.0))

    def mean(self, look: Look) -> float:
        """Mean CIEDE2000 on natural colours."""
        return float(self._off(look, slice(0, JUDGED)).mean())

    def _off(self, look: Look, part: slice) -> Array:
        made = np.clip(compile_look(look).run(self._points[part]), 0.0, 1.0)
        return np.asarray(ciede2000(self._aim[part], self._to_lab(made)))

    def __call__(self, look: Look, way: str, numbers: int) -> Explained:
        off = self._off(look, slice(None))
        known = off[:JUDGED]
        return Explained(
            look, way, numbers, float(known.mean()), float(np.percentile(known, 99)), float(off[JUDGED:].mean()), 0.0
        )
