"""One labelled sheet for a measured still: picture, exposure map, waveforms, vectorscope, and what they say.

Our own quiet appearance: neutral grey ground, captions outside the pictures, axes with units. The exposure map is one
continuous diverging scale in stops with its numbers beside it.
"""

from __future__ import annotations

import math
import os
import textwrap
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.assess.measure.scopes import (
    Vectorscope,
    Waveform,
    component_waveforms,
    exposure_map,
    vectorscope,
    waveform,
)
from lookwright.assess.measure.skin_line import SKIN_LINE_DEG
from lookwright.colour.spaces.signal import Signal
from lookwright.files import replacing
from lookwright.pictures.stills.marks import Mark

from .plot_style import BLUE, FAINT, GREEN, GROUND, INK, MADE_BY, RED, WARM, quietly

PANEL = "#3a3a3a"
"""Ground of the scopes, darker than the sheet so that thin traces show."""
MAP_STOPS = 8.0
"""Ends of the exposure map's legend, either side of middle grey: night frames have silhouettes 6 to 8 stops under.
Beyond the ends the map keeps its end colour, as the pointed ends of the legend say."""
DIVERGING = ("berlin", "coolwarm")
"""The first that the installed matplotlib has: Crameri's perceptually uniform 'berlin' (2018; matplotlib 3.10 on), else
Moreland's 'coolwarm' (2009)."""


@quietly()
def write_measure_sheet(
    path: os.PathLike[str] | str,
    pixels: NDArray[Any],
    signal: Signal,
    *,
    picture: NDArray[Any],
    title: str,
    picture_caption: str = "Plain rendering",
    marks: Sequence[Mark] = (),
    notes: Sequence[str] = (),
    scopes_pixels: NDArray[Any] | None = None,
    scopes_signal: Signal | None = None,
) -> None:
    """Draw and write the sheet as a PNG, 1920 pixels wide.

    Parameters
    ----------
    path
        Target; written whole or not at all.
    pixels, signal
        (H, W, 3) code values of the measured still and what they are: the exposure map is made from them.
    picture
        (h, w, 3) what the still looks like, sRGB code values 0..1 (or uint8).
    title
        Heading, e.g. the still's name.
    marks
        Boxes, outlined and numbered on the exposure map in the order given.
    notes
        Lines of findings, printed in order at the lower right; long ones are wrapped.
    scopes_pixels, scopes_signal
        What the waveforms and vectorscope show, e.g. the picture after a look; the still itself by default.

    Raises
    ------
    OutputError
        The target cannot be written.
    PictureError
        Pixels that are not (H, W, 3) or not finite.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    shown = pixels if scopes_pixels is None else scopes_pixels
    shown_signal = signal if scopes_signal is None else scopes_signal
    figure = Figure(figsize=(16.0, 13.0), dpi=120, facecolor=GROUND)
    FigureCanvasAgg(figure)
    figure.text(0.035, 0.975, title, fontsize=15, color=INK, va="center")
    figure.text(0.965, 0.975, signal.describe(), fontsize=10, color=INK, va="center", ha="right")
    _picture(figure.add_axes((0.035, 0.612, 0.45, 0.335)), picture, picture_caption)
    _exposure(figure, pixels, signal, marks)
    wide = figure.add_axes((0.065, 0.32, 0.53, 0.225))
    _waveform(wide, waveform(shown, shown_signal), f"Waveform, luma. {shown_signal.describe()}")
    for i, (name, wave) in enumerate(zip("RGB", component_waveforms(shown, shown_signal), strict=True)):
        axes = figure.add_axes((0.065 + 0.18 * i, 0.05, 0.17, 0.205))
        _waveform(axes, wave, {"R": "Red", "G": "Green", "B": "Blue"}[name], tint=name, labelled=i == 0)
    _vectorscope(figure.add_axes((0.655, 0.285, 0.26, 0.26)), vectorscope(shown, shown_signal, bins=600))
    _notes(figure, marks, notes)
    with replacing(path) as temporary:
        figure.savefig(temporary, format="png", facecolor=GROUND, metadata={"Software": MADE_BY})


def _caption(axes: Any, text: str) -> None:
    axes.set_title(text, loc="left", fontsize=9, color=INK, pad=5)


def _quiet(axes: Any) -> None:
    for spine in axes.spines.values():
        spine.set_linewidth(0.5)
        spine.set_color(FAINT)
    axes.tick_params(labelsize=8, width=0.5, length=3, color=FAINT, labelcolor=INK)


def _frame(axes: Any) -> None:
    axes.set_xticks([])
    axes.set_yticks([])
    _quiet(axes)


def _smaller(picture: NDArray[Any], most: int = 960) -> NDArray[Any]:
    """Block means, so that fine detail does not alias; (h, w, ...)."""
    n = max(1, picture.shape[1] // most)
    h, w = picture.shape[0] // n * n, picture.shape[1] // n * n
    blocks = picture[:h, :w].reshape(h // n, n, w // n, n, *picture.shape[2:])
    return blocks.mean(axis=(1, 3), dtype=np.float32)


def _picture(axes: Any, picture: NDArray[Any], caption: str) -> None:
    scale = 255.0 if picture.dtype == np.uint8 else 1.0
    axes.imshow(np.clip(_smaller(picture) / scale, 0.0, 1.0), interpolation="antialiased")
    _frame(axes)
    _caption(axes, caption)


def diverging_map() -> Any:
    """The colour map of the exposure map."""
    import matplotlib

    name = next(n for n in DIVERGING if n in matplotlib.colormaps)
    return matplotlib.colormaps[name]


def _exposure(figure: Any, pixels: NDArray[Any], signal: Signal, marks: Sequence[Mark]) -> None:
    from matplotlib.patches import Rectangle
    from matplotlib.patheffects import withStroke

    stops, estimated = exposure_map(pixels, signal)
    axes = figure.add_axes((0.515, 0.612, 0.45, 0.335))
    height, width = stops.shape
    image = axes.imshow(
        _smaller(stops),
        cmap=diverging_map(),
        vmin=-MAP_STOPS,
        vmax=MAP_STOPS,
        extent=(0.0, width, height, 0.0),
        interpolation="antialiased",
    )
    _frame(axes)
    _caption(axes, "Exposure map" + (", estimated through the plain rendering" if estimated else ""))
    edge = [withStroke(linewidth=2.0, foreground="black")]  # the map may be bright or dark behind a box
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
        axes.annotate(
            str(i),
            (x * width, y * height),
            xytext=(0, 2),
            textcoords="offset points",
            fontsize=7,
            color="white",
            annotation_clip=True,
            path_effects=edge,
        )
    legend = figure.add_axes((0.515, 0.597, 0.45, 0.008))
    bar = figure.colorbar(image, cax=legend, orientation="horizontal", extend="both")
    bar.outline.set_linewidth(0.5)
    bar.outline.set_edgecolor(FAINT)
    bar.set_ticks(np.arange(-MAP_STOPS, MAP_STOPS + 1.0, 2.0))
    bar.set_ticklabels([f"{t:+.0f}" if t else "0" for t in np.arange(-MAP_STOPS, MAP_STOPS + 1.0, 2.0)])
    bar.ax.tick_params(labelsize=8, width=0.5, length=3, color=FAINT, labelcolor=INK)
    bar.set_label("stops from middle grey (0.18)", fontsize=8, color=INK)


_TINTS = {"": "#ffffff", "R": RED, "G": GREEN, "B": BLUE}


def _density(counts: NDArray[np.int64]) -> NDArray[np.float64]:
    """Counts to 0..1 on a log scale, so that thin traces stay visible beside large areas."""
    top = float(np.percentile(counts[counts > 0], 99.5)) if counts.any() else 1.0
    return np.clip(np.log1p(counts) / math.log1p(max(top, 1.0)), 0.0, 1.0)


def _ramp(tint: str) -> Any:
    from matplotlib.colors import LinearSegmentedColormap

    return LinearSegmentedColormap.from_list("trace", [PANEL, _TINTS[tint]])


def _waveform(axes: Any, wave: Waveform, caption: str, tint: str = "", labelled: bool = True) -> None:
    axes.set_facecolor(PANEL)
    axes.imshow(
        _density(wave.counts),
        origin="lower",
        aspect="auto",
        cmap=_ramp(tint),
        vmin=0.0,
        vmax=1.0,
        extent=(0.0, 100.0, float(wave.edges[0]), float(wave.edges[-1])),
        interpolation="antialiased",
    )
    axes.set_yticks(range(0, 101, 20))
    axes.set_xticks([20, 50, 80] if tint else range(0, 101, 10))
    axes.grid(axis="y", color=FAINT, linewidth=0.4, alpha=0.6)
    _quiet(axes)
    axes.set_xlabel("across the frame, %", fontsize=8, color=INK)
    if labelled:
        axes.set_ylabel("signal, %", fontsize=8, color=INK)
    else:
        axes.set_yticklabels([])
    _caption(axes, caption)


def _vectorscope(axes: Any, scope: Vectorscope) -> None:
    reach = _reach(scope)
    axes.set_facecolor(PANEL)
    axes.imshow(
        _density(scope.counts),
        origin="lower",
        cmap=_ramp(""),
        vmin=0.0,
        vmax=1.0,
        extent=(-0.5, 0.5, -0.5, 0.5),
        interpolation="antialiased",
    )
    axes.set_xlim(-reach, reach)
    axes.set_ylim(-reach, reach)
    ticks = [-reach, -reach / 2.0, 0.0, reach / 2.0, reach]
    axes.set_xticks(ticks)
    axes.set_yticks(ticks)
    angle = math.radians(SKIN_LINE_DEG)
    axes.plot([0.0, reach * math.cos(angle)], [0.0, reach * math.sin(angle)], color=WARM, linewidth=1.0)
    axes.axhline(0.0, color=FAINT, linewidth=0.5)
    axes.axvline(0.0, color=FAINT, linewidth=0.5)
    _quiet(axes)
    axes.set_xlabel("Cb", fontsize=8, color=INK)
    axes.set_ylabel("Cr", fontsize=8, color=INK)
    _caption(axes, f"Vectorscope, {scope.matrix}; line: skin, {SKIN_LINE_DEG:.0f}° (I axis) from +Cb")


def _reach(scope: Vectorscope) -> float:
    """Half width of the plot: 0.1, 0.2, 0.3 or 0.5, the smallest that holds all but one in 10,000 pixels."""
    centres = 0.5 * (scope.edges[:-1] + scope.edges[1:])
    radius = np.maximum(np.abs(centres)[:, None], np.abs(centres)[None, :])
    total = max(int(scope.counts.sum()), 1)
    for reach in (0.1, 0.2, 0.3):
        if scope.counts[radius <= reach].sum() >= 0.9999 * total:
            return reach
    return 0.5


def _notes(figure: Any, marks: Sequence[Mark], notes: Sequence[str]) -> None:
    lines = [f"{i}  {m.name}" + (f" ({m.role})" if m.role else "") for i, m in enumerate(marks, start=1)]
    half = -(-len(lines) // 2)
    figure.text(0.635, 0.235, "Marks", fontsize=9, color=INK, va="top", weight="bold")
    for column, part in enumerate((lines[:half], lines[half:])):
        figure.text(0.635 + 0.165 * column, 0.218, "\n".join(part), fontsize=8, color=INK, va="top", linespacing=1.35)
    if not notes:
        return
    top = 0.205 - 0.0125 * half if marks else 0.235
    wrapped = "\n".join(line for note in notes for line in textwrap.wrap(note, 88, subsequent_indent="   "))
    figure.text(0.635, top, wrapped, fontsize=8, color=INK, va="top", linespacing=1.35)
