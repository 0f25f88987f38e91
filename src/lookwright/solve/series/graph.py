"""Differences between many frames made into one answer for each: a graph whose edges may be wrong.

Least absolute deviations (L1) rather than squares: an edge that crosses a change of light is outvoted and keeps its
whole residual, where squares would share it out among all.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.sparse import coo_matrix, csr_matrix, diags
from scipy.sparse.csgraph import connected_components
from scipy.sparse.linalg import splu

from lookwright.arrays import Array

ROUNDS = 30
SOFT = 0.3
"""Residuals, in standard errors, under which L1 turns into squares: below it an edge is as good as another."""


def levels(count: int, edges: Sequence[tuple[int, int]], steps: Array, errors: Array, fixed: int = 0) -> Array:
    """One level per node from differences along edges, by iteratively reweighted least squares (Holland, Welsch 1977).

    ``edges`` (i, j) with ``steps`` (m, k) = level of j less that of i, and their standard ``errors`` (m, k), positive.
    Node ``fixed`` is at zero. Returns (count, k); NaN for nodes that no path joins to ``fixed``.
    """
    out = np.full((count, np.shape(steps)[1] if np.ndim(steps) == 2 else 1), np.nan)
    joined = reached(count, edges, fixed)
    out[fixed] = 0.0
    kept = [n for n, (i, _) in enumerate(edges) if joined[i]]
    nodes = np.flatnonzero(joined)
    if len(nodes) < 2:
        return out
    order = [fixed, *(n for n in nodes.tolist() if n != fixed)]
    place = {n: p - 1 for p, n in enumerate(order)}
    system = _incidence([(place[edges[n][0]], place[edges[n][1]]) for n in kept], len(nodes) - 1)
    rows = order[1:]
    for k in range(out.shape[1]):
        out[rows, k] = _one(system, np.asarray(steps)[kept, k], np.asarray(errors)[kept, k])
    return out


def reached(count: int, edges: Sequence[tuple[int, int]], start: int) -> Array:
    """Which nodes a path of edges joins to ``start``: bool (count,)."""
    ends = np.array(edges, np.intp).reshape(-1, 2)
    links = coo_matrix((np.ones(len(ends)), (ends[:, 0], ends[:, 1])), shape=(count, count))
    parts = connected_components(links, directed=False)[1]
    return np.asarray(parts == parts[start])


def _incidence(ends: Sequence[tuple[int, int]], free: int) -> csr_matrix:
    """(edges, free nodes): -1 at the start of an edge, +1 at its end; the fixed node, numbered -1, is left out."""
    entries = [(r, n, s) for r, (i, j) in enumerate(ends) for n, s in ((i, -1.0), (j, 1.0)) if n >= 0]
    rows, nodes, signs = zip(*entries, strict=True)
    return coo_matrix((signs, (rows, nodes)), shape=(len(ends), free)).tocsr()


def _one(system: csr_matrix, step: Array, error: Array) -> Array:
    weight = 1.0 / error**2
    level = np.zeros(system.shape[1])
    for _ in range(ROUNDS):
        normal = (system.T @ diags(weight) @ system).tocsc()
        level, before = splu(normal).solve(system.T @ (weight * step)), level
        gap = np.abs(system @ level - step) / error
        weight = 1.0 / (error**2 * np.maximum(gap, SOFT))
        if np.max(np.abs(level - before)) < 1e-9:
            break
    return level
