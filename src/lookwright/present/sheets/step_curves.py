"""The curves of one step: what the look gives with it against what it gives without, each only where it differs."""

from __future__ import annotations

from typing import Any

import numpy as np

from lookwright.arrays import Array
from lookwright.assess.measure.skin import OKLAB_HUE_DEG
from lookwright.look.recipe.pipeline import Pipeline

from . import plot_style as style
from .check_plots import Plot
from .look_curves import HUES, STOPS, around, feed, greys, oklab_of

_SIZE = (3.9, 2.9)
SATURATIONS = ((0.08, "-", "as skin"), (0.2, "--", "strong"))
"""Of scene light, as ratios; 0.08 is about that of measured skin."""

LEAST_SIGNAL, LEAST_TINT, LEAST_TURN, LEAST_FACTOR, LEAST_LIGHT = 0.2, 0.1, 0.5, 0.02, 0.3
"""Percent of signal, hundredths of Oklab, degrees, share of saturation, hundredths of Oklab: what is less is
not drawn."""


def step_curves(before: Pipeline, after: Pipeline) -> list[Plot]:
    """The plots in which the two paths differ; none where neither greys nor colours at middle grey do."""
    drawn: list[Plot] = []
    with style.plotting() as plt:
        for draw in (_tone, _tint, _turn, _saturation, _lightness):
            figure, ax = plt.subplots(figsize=_SIZE)
            # Fixed margins, as in the plots of a check.
            figure.subplots_adjust(left=0.18, right=0.97, bottom=0.17, top=0.89)
            caption = draw(ax, before, after)
            if caption:
                drawn.append(Plot(style.svg_text(figure), caption))
            plt.close(figure)
    return drawn


def _tone(ax: Any, before: Pipeline, after: Pipeline) -> str:
    one, other = (100.0 * feed(path, greys()).mean(axis=-1) for path in (before, after))
    if np.abs(other - one).max() < LEAST_SIGNAL:
        return ""
    _both(ax, STOPS, one, other)
    ax.set(title="Greys", xlabel="stops from middle grey", ylabel="signal, %", ylim=(0, 102))
    ax.legend(loc="upper left")
    return "Signal that greys give."


def _tint(ax: Any, before: Pipeline, after: Pipeline) -> str:
    one, other = (100.0 * oklab_of(path, greys())[:, 1:] for path in (before, after))
    if np.abs(other - one).max() < LEAST_TINT:
        return ""
    for i, (dash, name) in enumerate((("-", "+ red, − green"), ("--", "+ yellow, − blue"))):
        ax.plot(STOPS, one[:, i], color=style.FAINT, ls=dash, lw=1.0)
        ax.plot(STOPS, other[:, i], color=style.INK, ls=dash, label=name)
    ax.axhline(0, color=style.FAINT, lw=0.8)
    reach = max(1.0, 1.3 * float(np.abs([one, other]).max()))
    ax.set(title="Tint of greys", xlabel="stops from middle grey", ylabel="Oklab, × 100", ylim=(-reach, reach))
    ax.legend(loc="upper left", ncols=2)
    return "Tint of greys; faint: before."


def _turn(ax: Any, before: Pipeline, after: Pipeline) -> str:
    turns = []
    for strength, _, _ in SATURATIONS:
        one, other = (oklab_of(path, around(strength)) for path in (before, after))
        hue = [np.degrees(np.arctan2(x[:, 2], x[:, 1])) for x in (one, other)]
        turns.append((hue[1] - hue[0] + 180.0) % 360.0 - 180.0)
    reach = float(np.abs(turns).max())
    if reach < LEAST_TURN:
        return ""
    for turn, (_, dash, name) in zip(turns, SATURATIONS, strict=True):
        ax.plot(HUES, turn, color=style.INK, ls=dash, label=name)
    _around(ax, "Turn of hues", "degrees", 0.0, max(2.0, 1.35 * reach))
    return "How far this step turns each hue. Shaded: skin."


def _saturation(ax: Any, before: Pipeline, after: Pipeline) -> str:
    factors = []
    for strength, _, _ in SATURATIONS:
        one, other = (_ratio(oklab_of(path, around(strength))) for path in (before, after))
        factors.append(other / np.maximum(one, 1e-6))
    reach = float(np.abs(np.array(factors) - 1.0).max())
    if reach < LEAST_FACTOR:
        return ""
    for factor, (_, dash, name) in zip(factors, SATURATIONS, strict=True):
        ax.plot(HUES, factor, color=style.INK, ls=dash, label=name)
    _around(ax, "Saturation", "times", 1.0, max(0.1, 1.35 * reach))
    return "Chroma over lightness as displayed, times what it was. Shaded: skin."


def _lightness(ax: Any, before: Pipeline, after: Pipeline) -> str:
    moved = [
        100.0 * (oklab_of(after, around(strength)) - oklab_of(before, around(strength)))[:, 0]
        for strength, _, _ in SATURATIONS
    ]
    # Much the same for all hues: the curve of greys tells it.
    if np.ptp(moved, axis=1).max() < max(LEAST_LIGHT, 0.25 * float(np.abs(moved).max())):
        return ""
    for line, (_, dash, name) in zip(moved, SATURATIONS, strict=True):
        ax.plot(HUES, line, color=style.INK, ls=dash, label=name)
    _around(ax, "Lightness", "Oklab, × 100", 0.0, max(1.0, 1.35 * float(np.abs(moved).max())))
    return "How much lighter or darker this step makes each hue. Shaded: skin."


def _ratio(colours: Array) -> Array:
    """Chroma over lightness, Oklab."""
    return np.asarray(np.hypot(colours[:, 1], colours[:, 2]) / np.maximum(colours[:, 0], 1e-6))


def _both(ax: Any, x: Array, one: Array, other: Array) -> None:
    ax.plot(x, one, color=style.FAINT, ls="--", label="before")
    ax.plot(x, other, color=style.INK, label="after")
    ax.axvline(0, color=style.FAINT, lw=0.8)


def _around(ax: Any, title: str, unit: str, middle: float, reach: float) -> None:
    ax.axvspan(*OKLAB_HUE_DEG, color="#6e6e6e", lw=0)
    ax.axhline(middle, color=style.FAINT, lw=0.8)
    ax.set(title=title, xlabel="Oklab hue, degrees", ylabel=unit, xlim=(0, 360), xticks=range(0, 361, 60))
    ax.set_ylim(middle - reach, middle + reach)
    ax.legend(loc="upper center", ncols=2)
