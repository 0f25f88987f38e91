"""Where a learnt lattice was taught, and how far it moves colours: the coverage map."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.lut.lattices.lattice import grid

from . import plot_style as style

if TYPE_CHECKING:
    from lookwright.solve.learn.residual import Residual


SIDES = (("red", "green", 2), ("red", "blue", 1), ("green", "blue", 0))
"""Horizontal axis, vertical axis, and the axis looked along."""
NAMES = ("red", "green", "blue")


def write_coverage(path: Path, residual: Residual, title: str, encoding: str) -> None:
    """Draw into ``path`` (.png, .svg or .pdf): the signal cube from three sides.

    Raises :class:`OutputError` for another ending or a target that cannot be written.
    """
    moved = 100 * np.linalg.norm(residual.lattice.table - grid(residual.lattice.size), axis=-1)
    with style.plotting() as plt:
        figure, axes = plt.subplots(2, 3, figsize=(13, 8.4), layout="constrained")
        figure.get_layout_engine().set(h_pad=0.1)
        figure.suptitle(
            f"{title}: the pairs speak for {100 * residual.coverage:.1f} % of the lattice (inside the white outlines); "
            "away from there it fades out\n"
            f"On pixels kept apart the recipe leaves {100 * residual.before:.2f} % of signal, "
            f"with the lattice {100 * residual.after:.2f} %",
            fontsize=11,
        )
        top = max(0.5, float(moved.max()))
        for k, (x, y, along) in enumerate(SIDES):
            through = NAMES[along]
            seen = residual.covered.max(axis=along)
            covered = _side(axes[0, k], seen, x, y, encoding, 1.0)
            shift = _side(axes[1, k], moved.max(axis=along), x, y, encoding, top)
            for ax in axes[:, k]:
                _outline(ax, seen >= 0.5)
            axes[0, k].set_title(f"Seen: {x} against {y}, best over {through}")
            axes[1, k].set_title(f"Moved: {x} against {y}, most over {through}")
        _legend(figure, covered, axes[0, :], "coverage: 0 never seen, 1 well covered")
        _legend(figure, shift, axes[1, :], "displacement, % of signal")
        style.save_figure(figure, path)


def _side(ax: Any, values: Array, x: str, y: str, encoding: str, top: float) -> Any:
    half = 50.0 / (len(values) - 1)
    image = ax.imshow(
        values.T, origin="lower", extent=(-half, 100 + half, -half, 100 + half), cmap="cividis", vmin=0.0, vmax=top
    )
    ax.grid(visible=False)
    ax.set(xlabel=f"{x}, % of {encoding} signal", ylabel=f"{y}, %")
    return image


def _outline(ax: Any, inside: NDArray[np.bool_]) -> None:
    """Lines between cells that are inside and cells that are not."""
    n = len(inside)
    half = 50.0 / (n - 1)
    edge = (np.arange(n + 1) - 0.5) * 2.0 * half
    padded = np.pad(inside, 1)
    for across, down in ((padded, False), (padded.T, True)):
        at, other = np.nonzero(across[1:, 1:-1] != across[:-1, 1:-1])
        start, end, along = edge[other], edge[other + 1], edge[at]
        lines = (along, start, end)
        (ax.hlines if down else ax.vlines)(*lines, color=style.INK, lw=0.9)


def _legend(figure: Any, image: Any, axes: Any, text: str) -> None:
    bar = figure.colorbar(image, ax=list(axes), shrink=0.85)
    bar.set_label(text, fontsize=9)
    bar.outline.set_linewidth(0.5)
