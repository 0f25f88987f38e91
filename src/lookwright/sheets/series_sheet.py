"""Drift over a series: a plot in the order of the shots, and one page to read."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from . import plot_style as style

if TYPE_CHECKING:
    from ..series.shots import Shot, Tolerance


def write_drift_plot(path: Path, shots: Sequence[Shot], tolerance: Tolerance) -> None:
    """Exposure, balance and separation of each shot, before and after matching, into ``path`` (.png, .svg, .pdf)."""
    with style.plotting() as plt:
        wide = min(24.0, max(9.0, 0.32 * len(shots) + 4.0))
        figure, axes = plt.subplots(3, 1, figsize=(wide, 8.4), sharex=True, layout="constrained")
        places = range(len(shots))
        _drift(axes[0], shots, "stops", "exposure from the anchor", "stops", tolerance.stops)
        _drift(axes[1], shots, "mired", "balance from the anchor, + is warmer", "mired", tolerance.mired)
        before = [s.before_colour.separation for s in shots]
        axes[2].plot(places, before, "o", mfc="none", color=style.FAINT, label="before")
        axes[2].plot(places, [s.after_colour.separation for s in shots], "o-", color=style.INK, lw=1, label="after")
        axes[2].set(title="separation of warm and cool parts", ylabel="Oklab")
        axes[2].set_ylim(bottom=0)
        _legend(axes[2])
        every = max(1, len(shots) // 40)
        axes[2].set_xticks(list(places)[::every], [s.shot for s in shots][::every], rotation=60, ha="right")
        style.save_figure(figure, path)


def _drift(ax: Any, shots: Sequence[Shot], name: str, title: str, unit: str, tolerance: float) -> None:
    matched = [i for i, s in enumerate(shots) if not s.match.changed]
    changed = [i for i, s in enumerate(shots) if s.match.changed]
    before = [getattr(shots[i].match.difference, name) for i in matched]
    after = [getattr(shots[i].after, name) for i in matched]
    ax.axhspan(-tolerance, tolerance, color=style.FAINT, alpha=0.25, lw=0, label="tolerance")
    ax.plot(matched, before, "o", mfc="none", color=style.FAINT, label="before")
    ax.plot(matched, after, "o", color=style.INK, ms=4, label="after")
    for i in changed:
        ax.axvline(i, color=style.WARM, lw=1.2, ls=":")
    if changed:
        ax.plot([], [], color=style.WARM, lw=1.2, ls=":", label="not matched")
    ax.set(title=title, ylabel=unit)
    _legend(ax)


def _legend(ax: Any) -> None:
    """Over the plot, at the right of its title: no point can hide behind it."""
    ax.legend(loc="lower right", bbox_to_anchor=(1.0, 1.0), ncols=4, borderaxespad=0.2)
