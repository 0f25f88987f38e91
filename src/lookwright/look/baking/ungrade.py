"""Taking a look off a picture: the source signal that the look would have made it from."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from lookwright.arrays import Array, Pixels
from lookwright.lut.lattices.lattice import grid

from .viewing import View

UNREACHED = 0.01
"""Code values; a colour farther than this from every one that the look gives was not made by it."""
_POINTS = 17
_ROUNDS = 10
_NUDGE = 1e-3


def ungraded(picture: Pixels, view: View) -> tuple[Array, float]:
    """Source signal (H, W, 3) whose graded picture comes nearest to ``picture``, and the share that none gives.

    From the nearest of a coarse lattice, by damped Gauss-Newton steps through the look as it is delivered. Where a look
    makes one colour of several (black, clipped light) the one found is as good as any other.
    """
    from scipy.spatial import cKDTree  # slow to import, and only needed here

    wanted = np.asarray(picture, np.float64).reshape(-1, 3)
    source = grid(_POINTS).reshape(-1, 3)

    def look(x: Array) -> Array:
        return np.asarray(view.graded(np.ascontiguousarray(x[None], np.float32), True)[0], np.float64)

    _, nearest = cKDTree(look(source)).query(wanted)
    x = source[nearest]
    seen = look(x)
    error = ((seen - wanted) ** 2).sum(axis=-1)
    live = np.arange(len(x))  # a colour that a step does not better would get the same step again
    for _ in range(_ROUNDS):
        step = np.clip(_step(look, x[live], seen[live], wanted[live]), -0.06, 0.06)
        trial = np.clip(x[live] + step, 0.0, 1.0)
        trial_seen = look(trial)
        trial_error = ((trial_seen - wanted[live]) ** 2).sum(axis=-1)
        better = trial_error < error[live]
        live = live[better]
        if not len(live):
            break
        x[live], seen[live], error[live] = trial[better], trial_seen[better], trial_error[better]
    return x.reshape(picture.shape), float((np.sqrt(error) > UNREACHED).mean())


def _step(look: Callable[[Array], Array], x: Array, seen: Array, wanted: Array) -> Array:
    """The damped Gauss-Newton step from the slopes of the look at each colour."""
    slopes = np.empty((len(x), 3, 3))
    for i in range(3):
        nudged = x.copy()
        way = np.where(x[:, i] > 0.5, -_NUDGE, _NUDGE)
        nudged[:, i] += way
        slopes[..., i] = (look(nudged) - seen) / way[:, None]
    square = np.einsum("nji,njk->nik", slopes, slopes) + 1e-5 * np.eye(3)
    right = np.einsum("nji,nj->ni", slopes, wanted - seen)
    return np.linalg.solve(square, right[..., None])[..., 0]
