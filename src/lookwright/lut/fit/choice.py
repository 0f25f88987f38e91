"""The choices in a refinement, each made on colours that were not fitted to.

Nor is the report made on them: what was chosen by a set of colours looks better on it than it is (judge.py).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from lookwright.arrays import Array
from lookwright.lut.lattices.lattice import Lattice
from lookwright.lut.lattices.samples import edges, spread

from .appearance import ToLab
from .content import Content, ratios, roughness
from .limits import Limits
from .prior import Prior, draw
from .problem import Case, Problem
from .threads import Run

CHECKED = 60_000
"""Colours of the cube at which the bound is checked; none of them is fitted to. A third of them let the bound slip by a
hundredth elsewhere on small lattices, whose cells are large."""

EDGES = 20_000
"""Colours on the edges between lattice points at which the bound is checked too."""

NATURAL = 20_000
"""Colours drawn from the prior, independently of those fitted to."""

HINTS = (0.0, 0.06)
"""Weights of the stills that are tried. With more than a tenth, what they do not show begins to lose."""
_ONE_STILL = 0.03
"""Weight of a single still, which cannot be left out."""
_SHARES = (0.65, 0.2)
"""Shares of the trilinear residuals between which the mixture is chosen; either one alone hurts the other lookup."""
_MIXTURES = (0.0, 0.25, 0.5, 0.75, 1.0)
_ITERATIONS, _TRIAL_ITERATIONS, _FURTHER = 6, 1, 3
"""Steps of conjugate gradients: from local means, for a trial, and from the trial's end. After six the mean differences
no longer change in their third digit, and four of which the first is the trial's are as near (measured)."""
_SCALES = (1.0, 0.85, 0.7, 0.6, 0.5, 0.3)
"""Parts of the displacements that are tried, until nothing is worse than plain sampling."""
_LOSING = 1.005
"""Ratio to plain sampling from which a set of colours loses: half a hundredth is the noise of so many."""
_ROUGHER = 1.15
"""Most by which ramps may be rougher than through the plain lattice."""


class Choice:
    """What the choices of one refinement are judged by. Nothing here was fitted to.

    Parameters are those of :func:`lookwright.lut.fit.refine.refine`; ``held`` (stills, M, 3) are pixels of the fitted
    stills, set aside for choices.
    """

    def __init__(
        self,
        look: Callable[[Array], Any],
        plain: Lattice,
        to_lab: ToLab,
        prior: Prior,
        held: Array,
        seed: int,
        run: Run,
    ) -> None:
        self._to_lab = to_lab
        self._still = np.repeat(np.arange(len(held)), held.shape[1])
        self._natural = draw(prior, NATURAL, seed + 1)
        sets = {"stills": held.reshape(-1, 3)} if held.size else {}
        sets |= {
            "natural": self._natural,
            "cube": spread(CHECKED, 3, seed + 1),
            "edges": edges(plain.size, EDGES, seed + 1),
        }
        self._parts: dict[str, slice] = {}
        start = 0
        for name, points in sets.items():
            self._parts[name] = slice(start, start + len(points))
            start += len(points)
        self._all = Content(look, to_lab, np.concatenate(list(sets.values())), run)
        self._before = self._all.differences(plain)
        self._chosen_at = self._all.part(slice(0, self._parts["natural"].stop))
        self._rough = roughness(plain, to_lab, self._natural)

    def _ratios(self, differences: Array) -> Array:
        """Ratios to plain sampling on the stills, where there are any, and on natural colours: (4,) or (8,)."""
        names = [n for n in ("stills", "natural") if n in self._parts]
        return np.concatenate([ratios(differences[:, self._parts[n]], self._before[:, self._parts[n]]) for n in names])

    def chosen_hint(self, problem: Problem, limits: Limits) -> tuple[float, Array | None]:
        """The weight of the stills that serves stills best which the fit did not see, and displacements (N, 3) from
        which solutions for it are near; None where nothing was tried."""
        if problem.stills < 2:
            return (_ONE_STILL if problem.stills else 0.0), None
        # Without a hint both halves are left out at once.
        cases = [Case(sum(_SHARES) / 2.0, hint, half) for hint in HINTS for half in ((0, 1) if hint else (0,))]
        solved = problem.solutions(cases, _TRIAL_ITERATIONS)
        best = np.inf
        chosen = 0.0, solved[0]
        for hint in HINTS:
            found = np.empty_like(self._before[:, : self._chosen_at.count])
            moved = [(case, x) for case, x in zip(cases, solved, strict=True) if case.hint == hint]
            for case, x in moved:
                if not hint:
                    found[:] = self._chosen_at.differences(limits.lattice(x))
                    continue
                unseen = np.concatenate([self._still % 2 == case.without, np.full(NATURAL, case.without == 0)])
                found[:, unseen] = self._chosen_at.part(unseen).differences(limits.lattice(x))
            score = float(self._ratios(found).mean())
            if score < best:
                best, chosen = score, (hint, np.mean([x for _, x in moved], axis=0))
        return chosen

    def chosen_mixture(self, problem: Problem, limits: Limits, hint: float, near: Array | None) -> Array:
        """Displacements for that mixture of the lookups whose ratios to plain sampling have the least mean, of fourth
        powers, so that the worst count most. ``near``: where solutions for this hint are near."""
        cases = [Case(share, hint) for share in _SHARES]
        one, two = problem.solutions(cases, _ITERATIONS if near is None else _FURTHER, near)
        best = np.inf
        chosen = one
        for share in _MIXTURES:
            moved = (1.0 - share) * one + share * two
            score = float((self._ratios(self._chosen_at.differences(limits.lattice(moved))) ** 4).mean())
            if score < best:
                best, chosen = score, moved
        return chosen

    def finished(self, moved: Array, limits: Limits) -> tuple[Lattice, float]:
        """As much of the displacements as nowhere loses, held to the limits.

        Returns the lattice, and the most by which any colour is worse than with the plain one.
        """
        for scale in (*_SCALES, 0.0):
            lattice, after = limits.held(moved * scale, self._all, self._before)
            sets = [p for n, p in self._parts.items() if n != "edges"]
            losing = any((ratios(after[:, p], self._before[:, p]) > _LOSING).any() for p in sets)
            rough = roughness(lattice, self._to_lab, self._natural) > _ROUGHER * self._rough
            if not losing and not rough.any():
                break
        return lattice, float((after - self._before).max())
