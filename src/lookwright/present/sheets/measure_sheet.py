"""One labelled sheet for a measured still: picture, exposure map, waveforms, vectorscope, and what they say.

Our own quiet appearance: neutral grey ground, captions outside the pictures, axes with units. The exposure map stands
in steps of a stop, with each mark's level beside its box.
"""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from threading import Lock
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
from lookwright.assess.measure.stepped import steps_of
from lookwright.colour.spaces.signal import Signal
from lookwright.files import replacing
from lookwright.pictures.stills.marks import Mark

from .measure_marks import Numbers, levels_on_waveform, mark_table, outline
from .plot_style import BLUE, FAINT, GREEN, GROUND, INK, MADE_BY, RED, WARM, quietly
from .step_map import draw_legend, draw_steps

PANEL = "#3a3a3a"
"""Ground of the scopes, darker than the sheet so that thin traces show."""
REACH = 0.5
"""Half width of the vectorscope, always: the whole nominal range of Cb and Cr."""


_drawing = Lock()
"""Figures are drawn one at a time: matplotlib's settings belong to the whole process."""


@dataclass(frozen=True)
class _Scopes:
    """What the sheet draws, worked out before anything is drawn."""

    waveform: Waveform
    components: tuple[Waveform, Waveform, Waveform]
    vectorscope: Vectorscope
    stops: NDArray[Any]
    """Of the exposure map, made small."""
    estimated: bool
    size: tuple[int, int]
    """Height and width of the still."""
    picture: NDArray[Any]
    """Made small, 0..1."""


def write_measure_sheet(
    path: os.PathLike[str] | str,
    pixels: NDArray[Any],
    signal: Signal,
    *,
    picture: NDArray[Any],
    title: str,
    picture_caption: str = "Plain rendering",
    marks: Sequence[Mark] = (),
    numbers: Numbers | None = None,
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
    numbers
        What was measured at them: told beside each box, in the table and on the waveform.
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
    shown = pixels if scopes_pixels is None else scopes_pixels
    shown_signal = signal if scopes_signal is None else scopes_signal
    stops, estimated = exposure_map(pixels, signal)
    scopes = _Scopes(
        waveform(shown, shown_signal),
        component_waveforms(shown, shown_signal),
        vectorscope(shown, shown_signal, bins=600),
        _smaller(stops),
        estimated,
        (stops.shape[0], stops.shape[1]),
        _smaller(picture) / (255.0 if picture.dtype == np.uint8 else 1.0),
    )
    with _drawing, replacing(path) as temporary:
        figure = _figure(scopes, signal, shown_signal, title, picture_caption, marks, numbers or Numbers(), notes)
        _save(figure, temporary)


@quietly()
def _save(figure: Any, path: Path) -> None:
    figure.savefig(path, format="png", facecolor=GROUND, metadata={"Software": MADE_BY})


@quietly()
def _figure(
    scopes: _Scopes,
    signal: Signal,
    shown_signal: Signal,
    title: str,
    picture_caption: str,
    marks: Sequence[Mark],
    numbers: Numbers,
    notes: Sequence[str],
) -> Any:
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(16.0, 13.0), dpi=120, facecolor=GROUND)
    FigureCanvasAgg(figure)
    figure.text(0.035, 0.975, title, fontsize=15, color=INK, va="center")
    figure.text(0.965, 0.975, signal.describe(), fontsize=10, color=INK, va="center", ha="right")
    _picture(figure.add_axes((0.035, 0.612, 0.45, 0.335)), scopes.picture, picture_caption)
    _exposure(figure, scopes, marks, numbers)
    wide = figure.add_axes((0.065, 0.32, 0.53, 0.225))
    _waveform(wide, scopes.waveform, f"Waveform, luma. {shown_signal.describe()}")
    levels_on_waveform(wide, marks, numbers)
    for i, (name, wave) in enumerate(zip("RGB", scopes.components, strict=True)):
        axes = figure.add_axes((0.065 + 0.18 * i, 0.05, 0.17, 0.205))
        _waveform(axes, wave, {"R": "Red", "G": "Green", "B": "Blue"}[name], tint=name, labelled=i == 0)
    _vectorscope(figure.add_axes((0.655, 0.285, 0.26, 0.26)), scopes.vectorscope)
    mark_table(figure, 0.635, 0.24, marks, numbers, notes)
    return figure


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
    axes.imshow(np.clip(picture, 0.0, 1.0), interpolation="antialiased")
    _frame(axes)
    _caption(axes, caption)


def _exposure(figure: Any, scopes: _Scopes, marks: Sequence[Mark], numbers: Numbers) -> None:
    axes = figure.add_axes((0.515, 0.612, 0.45, 0.335))
    steps = steps_of("stops")
    draw_steps(axes, scopes.stops, steps, _fitting(scopes.picture, scopes.stops.shape))
    height, width = scopes.size
    axes.images[0].set_extent((0.0, width, height, 0.0))
    axes.set_xlim(0.0, width)
    axes.set_ylim(height, 0.0)
    axes.set_aspect("equal")
    _frame(axes)
    _caption(axes, "Exposure map, stops from middle grey" + (", estimated" if scopes.estimated else ""))
    outline(axes, marks, numbers, width, height)
    legend = figure.add_axes((0.515, 0.588, 0.45, 0.017))
    draw_legend(legend, steps, FAINT, size=7.5, upright=False)


def _fitting(picture: NDArray[Any], shape: tuple[int, ...]) -> NDArray[Any]:
    """The picture on the map's grid, by the nearest pixel; it lends detail only."""
    rows = np.arange(shape[0]) * picture.shape[0] // shape[0]
    columns = np.arange(shape[1]) * picture.shape[1] // shape[1]
    return picture[rows][:, columns]


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
    """Always at one scale, so that two sheets compare; hue in degrees from +Cb, anticlockwise, round the edge."""
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
    axes.set_xlim(-REACH, REACH)
    axes.set_ylim(-REACH, REACH)
    ticks = [-0.5, -0.25, 0.0, 0.25, 0.5]
    axes.set_xticks(ticks)
    axes.set_yticks(ticks)
    for degrees in range(0, 360, 30):
        way = np.array([math.cos(math.radians(degrees)), math.sin(math.radians(degrees))])
        axes.plot(*np.outer(way, (0.41, 0.435)), color=FAINT, linewidth=0.8)
        axes.text(*(0.465 * way), f"{degrees}°", fontsize=6.5, color=FAINT, ha="center", va="center")
    angle = math.radians(SKIN_LINE_DEG)
    axes.plot([0.0, 0.41 * math.cos(angle)], [0.0, 0.41 * math.sin(angle)], color=WARM, linewidth=1.0)
    axes.axhline(0.0, color=FAINT, linewidth=0.5)
    axes.axvline(0.0, color=FAINT, linewidth=0.5)
    axes.grid(False)
    _quiet(axes)
    axes.set_xlabel("Cb", fontsize=8, color=INK)
    axes.set_ylabel("Cr", fontsize=8, color=INK)
    _caption(axes, f"Vectorscope, {scope.matrix}; line: skin, {SKIN_LINE_DEG:.0f}° (I axis) from +Cb")
