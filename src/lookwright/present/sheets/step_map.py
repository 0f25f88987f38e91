"""The exposure map in steps as a drawing: colours with a little of the picture in them, numbers, a legend."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.assess.measure.stepped import Steps


def draw_steps(
    axes: Any,
    values: Array,
    steps: Steps,
    picture: NDArray[Any],
    off: Collection[int] = (),
    numbers: Sequence[tuple[float, float, str, float]] = (),
) -> None:
    """Draw the map on matplotlib axes.

    ``numbers`` are written at (x, y) in fractions of the frame, with their size in points.
    """
    from matplotlib.patheffects import withStroke

    painted = steps.painted(values, np.clip(np.asarray(picture, np.float64), 0.0, 1.0), off)
    axes.imshow(
        _bordered(painted, steps.of(values)), extent=(0.0, 1.0, 1.0, 0.0), aspect="auto", interpolation="antialiased"
    )
    axes.set_xticks([])
    axes.set_yticks([])
    axes.grid(False)
    for x, y, text, size in numbers:
        axes.text(
            x,
            y,
            text,
            fontsize=size,
            color="white",
            ha="center",
            va="center",
            weight="bold",
            path_effects=[withStroke(linewidth=0.28 * size, foreground="black")],
        )


def _bordered(painted: Array, step: NDArray[Any]) -> Array:
    """A thin darker line where one step meets another."""
    edge = np.zeros(step.shape, bool)
    edge[:, 1:] |= step[:, 1:] != step[:, :-1]
    edge[1:] |= step[1:] != step[:-1]
    out = painted.copy()
    out[edge] *= 0.72
    return out


def draw_legend(
    axes: Any, steps: Steps, ink: str, off: Collection[int] = (), size: float = 8.0, upright: bool = True
) -> None:
    """One field for each step with its name on it, the brightest on top or at the right; one switched off is grey."""
    from matplotlib.patches import Rectangle

    for i, (colour, label) in enumerate(zip(steps.colours, steps.labels, strict=True)):
        face = (0.5, 0.5, 0.5) if i in off else tuple(colour)
        x, y = (0.0, float(i)) if upright else (float(i), 0.0)
        axes.add_patch(Rectangle((x, y), 1.0, 1.0, facecolor=face, edgecolor="none"))
        dark = i not in off and float(np.dot(colour, (0.2126, 0.7152, 0.0722))) < 0.45
        axes.text(x + 0.5, y + 0.5, label, ha="center", va="center", fontsize=size, color="white" if dark else "black")
    axes.set_xlim(0.0, 1.0 if upright else steps.count)
    axes.set_ylim(0.0, steps.count if upright else 1.0)
    axes.set_xticks([])
    axes.set_yticks([])
    axes.grid(False)
    for spine in axes.spines.values():
        spine.set_color(ink)
        spine.set_linewidth(0.5)
