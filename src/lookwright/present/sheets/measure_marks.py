"""The marks of a measured still on its sheet: numbers beside the boxes, a table, their levels on the waveform."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from lookwright.assess.measure.levels import Level
from lookwright.assess.measure.ratios import Ratio, spoken_ratio
from lookwright.pictures.stills.marks import Mark

from .plot_style import FAINT, INK, WARM

MOST_ROWS = 13
"""Of the table; a still with more marks has the rest on the picture only."""


@dataclass(frozen=True)
class Numbers:
    """What was measured at the marks."""

    shown: Mapping[str, Level] = field(default_factory=dict)
    """On the picture that is looked at, by name of a mark."""
    recorded: Mapping[str, Level] = field(default_factory=dict)
    """On the still itself."""
    ratios: Sequence[Ratio] = ()


def outline(axes: Any, marks: Sequence[Mark], numbers: Numbers, width: int, height: int) -> None:
    """Each mark's box with its number and level beside it."""
    from matplotlib.patches import Rectangle
    from matplotlib.patheffects import withStroke

    edge = [withStroke(linewidth=2.0, foreground="black")]  # it may be bright or dark behind a box
    for i, mark in enumerate(marks, start=1):
        x, y, w, h = mark.box
        axes.add_patch(
            Rectangle(
                (x * width, y * height),
                w * width,
                h * height,
                fill=False,
                edgecolor="white",
                linewidth=0.8,
                path_effects=edge,
            )
        )
        level = numbers.shown.get(mark.name)
        low = y < 0.06  # no room above
        axes.annotate(
            str(i) if level is None else f"{i}: {level.luma.median:.0f} %",
            (x * width, (y + h if low else y) * height),
            xytext=(0, -2 if low else 2),
            va="top" if low else "bottom",
            textcoords="offset points",
            fontsize=8,
            color="white",
            annotation_clip=True,
            path_effects=edge,
        )


def levels_on_waveform(axes: Any, marks: Sequence[Mark], numbers: Numbers) -> None:
    """A line at each mark's median level, as long as its box is wide, with its number."""
    for i, mark in enumerate(marks, start=1):
        level = numbers.shown.get(mark.name)
        if level is None:
            continue
        x, _, w, _ = mark.box
        percent = level.luma.median
        axes.plot([100.0 * x, 100.0 * (x + w)], [percent, percent], color=WARM, linewidth=2.2, solid_capstyle="butt")
        axes.annotate(
            str(i),
            (100.0 * (x + w), percent),
            xytext=(2, 0),
            textcoords="offset points",
            fontsize=7,
            color=WARM,
            va="center",
        )


def mark_table(
    figure: Any, left: float, top: float, marks: Sequence[Mark], numbers: Numbers, notes: Sequence[str]
) -> None:
    """Levels, range and stops of each mark; ratios both ways; then the notes."""
    figure.text(left, top, "Marks", fontsize=9, color=INK, va="top", weight="bold")
    columns = ((0.0, "left"), (0.195, "right"), (0.25, "right"), (0.312, "right"))
    for (x, align), head in zip(columns, ("", "level %", "5 to 95 %", "stops from grey"), strict=True):
        figure.text(left + x, top, head, fontsize=7.5, color=FAINT, va="top", ha=align)
    y = top - 0.016
    for i, mark in enumerate(marks[:MOST_ROWS], start=1):
        shown, recorded = numbers.shown.get(mark.name), numbers.recorded.get(mark.name)
        cells = [f"{i}  {mark.name}" + (f" ({mark.role})" if mark.role else ""), "", "", ""]
        if shown is not None and recorded is not None:
            cells[1] = f"{shown.luma.median:.1f}"
            cells[2] = f"{shown.luma.p5:.0f} to {shown.luma.p95:.0f}"
            cells[3] = ("~" if recorded.scene.estimated else "") + f"{recorded.scene.stops:+.1f}".replace("-", "−")
        for (x, align), text in zip(columns, cells, strict=True):
            figure.text(left + x, y, text, fontsize=7.5, color=INK, va="top", ha=align)
        y -= 0.0112
    lines = [_ratio_line(r) for r in numbers.ratios if r.light is not None][:4]
    lines += [line for note in notes for line in textwrap.wrap(note, 96, subsequent_indent="   ")]
    figure.text(left, y - 0.004, "\n".join(lines), fontsize=7.5, color=INK, va="top", linespacing=1.3)


def _ratio_line(ratio: Ratio) -> str:
    said = "no ratio of levels" if ratio.spoken is None else f"spoken of as {spoken_ratio(ratio.spoken)}"
    light = ratio.light or 0.0
    return f"{ratio.first} over {ratio.second}: {said}; in light {light:.1f}:1, {ratio.light_stops:+.1f} stops"
