"""Drift over a series: a plot in the order of the shots, and one page to read."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from . import plot_style as style

if TYPE_CHECKING:
    from lookwright.solve.series.shots import Shot, Tolerance


def write_drift_plot(path: Path, shots: Sequence[Shot], tolerance: Tolerance) -> None:
    """Exposure, balance, separation and, where marked, skin, before and after, into ``path`` (.png, .svg, .pdf).

    In the order of the shots.
    """
    with style.plotting() as plt:
        wide = min(24.0, max(9.0, 0.32 * len(shots) + 4.0))
        skin = any(s.after_colour.skin_level is not None for s in shots)
        rows = 6 if skin else 4
        figure, axes = plt.subplots(rows, 1, figsize=(wide, 2.5 * rows + 0.9), sharex=True, layout="constrained")
        _drift(axes[0], shots, "stops", "exposure from the anchor", "stops", tolerance.stops)
        _drift(axes[1], shots, "mired", "balance from the anchor, + is warmer", "mired", tolerance.mired)
        _drift(axes[2], shots, "tint", "tint from the anchor, + is greener", "Duv", None)
        _colour(axes[3], shots, "separation", "separation of warm and cool parts, graded", "Oklab")
        axes[3].set_ylim(bottom=0)
        if skin:
            _colour(axes[4], shots, "skin_level", "level of the skin mark, graded", "% of signal")
            _colour(axes[5], shots, "skin_hue_deg", "hue of the skin mark, graded", "degrees, Oklab")
        every = max(1, len(shots) // 40)
        places = list(range(len(shots)))[::every]
        axes[-1].set_xticks(places, [s.shot for s in shots][::every], rotation=60, ha="right")
        style.save_figure(figure, path)


def _colour(ax: Any, shots: Sequence[Shot], name: str, title: str, unit: str) -> None:
    def values(which: str) -> tuple[list[int], list[float]]:
        # A shot in other light, or of another scene, would set the scale of all the rest.
        read = [(i, getattr(getattr(s, which), name)) for i, s in enumerate(shots) if not s.match.changed]
        return [i for i, v in read if v is not None], [v for _, v in read if v is not None]

    ax.plot(*values("before_colour"), "o", mfc="none", color=style.FAINT, label="before")
    ax.plot(*values("after_colour"), "o-", color=style.INK, ms=4, lw=0.8, label="after")
    ax.margins(y=0.15)
    ax.set(title=title, ylabel=unit)
    _legend(ax)


STATES = {"changed": "the light is another", "unknown": "not known"}
"""What shots that were not matched are called, by the state of their match."""

LINES = {"changed": ":", "unknown": "--"}


def _drift(ax: Any, shots: Sequence[Shot], name: str, title: str, unit: str, tolerance: float | None) -> None:
    matched = [i for i, s in enumerate(shots) if not s.match.changed]
    before = [getattr(shots[i].match.difference, name) for i in matched]
    after = [getattr(shots[i].after, name) for i in matched]
    errors = [getattr(shots[i].match, f"{name}_error", None) for i in matched]
    if tolerance is not None:
        ax.axhspan(-tolerance, tolerance, color=style.FAINT, alpha=0.25, lw=0, label="tolerance")
    ax.plot(matched, before, "o", mfc="none", color=style.FAINT, label="before")
    known = [(i, b, 2.0 * e) for i, b, e in zip(matched, before, errors, strict=True) if e is not None]
    if known:
        at, middle, reach = zip(*known, strict=True)
        ax.errorbar(at, middle, reach, fmt="none", ecolor=style.FAINT, elinewidth=1.0, capsize=3, label="two errors")
    ax.plot(matched, after, "o", color=style.INK, ms=4, label="after")
    for state, words in STATES.items():
        places = [i for i, s in enumerate(shots) if s.match.changed and s.match.state == state]
        for n, i in enumerate(places):
            ax.axvline(i, color=style.WARM, lw=1.2, ls=LINES[state], label=words if n == 0 else None)
    ax.set(title=title, ylabel=unit)
    _legend(ax)


def _legend(ax: Any) -> None:
    """Over the plot, at the right of its title: no point can hide behind it."""
    ax.legend(loc="lower right", bbox_to_anchor=(1.0, 1.0), ncols=6, borderaxespad=0.2)
