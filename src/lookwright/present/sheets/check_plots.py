"""The plots of a check report, as SVG text."""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import Any

import numpy as np

from lookwright.assess.measure.skin import OKLAB_HUE_DEG
from lookwright.assess.restraint.report import Report

from . import plot_style as style

_SIZE = (5.4, 3.5)


@dataclass(frozen=True)
class Plot:
    """One plot: SVG, and what it shows in words."""

    svg: str
    caption: str


def check_plots(report: Report) -> list[Plot]:
    """All plots of a report; the same bytes each time."""
    drawn: list[Plot] = []
    data = report.plots
    with style.plotting() as plt:
        for key, draw in _DRAW.items():
            if key not in data:
                continue
            figure, ax = plt.subplots(figsize=_SIZE)
            # Fixed margins: fitting them to the words would draw every plot twice.
            figure.subplots_adjust(left=0.11, right=0.97, bottom=0.14, top=0.91)
            caption = draw(ax, data[key])
            stream = io.StringIO()
            figure.savefig(stream, format="svg", metadata={"Date": None, "Creator": None})
            plt.close(figure)
            drawn.append(Plot(stream.getvalue(), caption))
    return drawn


def _tone(ax: Any, data: dict[str, Any]) -> str:
    ax.plot(data["stops"], data["plain"], color=style.FAINT, ls="--", label="plain rendering")
    ax.plot(data["stops"], data["graded"], color=style.INK, label="graded")
    # At two heights, so that the words of a very short scale do not run into each other.
    for name, side, shift, height in (("black", "left", 4, 93), ("white", "right", -4, 84)):
        ax.axvline(data[name], color=style.INK, lw=0.9, ls=":")
        ax.annotate(
            f"{name} {data[name]:+.1f}",
            (data[name], height),
            xytext=(shift, 0),
            textcoords="offset points",
            ha=side,
            fontsize=8,
            color=style.INK,
        )
    ax.set(title="Tone scale of greys", xlabel="stops from middle grey", ylabel="signal at gamma 2.4, %")
    ax.set(xlim=(-10, 7), ylim=(0, max(102.0, float(np.max(data["graded"])) * 1.02)))
    ax.legend(loc="lower right")
    return "Signal level of greys against their light; dotted, where tones end in black and in white."


def _neutrals(ax: Any, data: dict[str, Any]) -> str:
    ax.axhline(0, color=style.FAINT, lw=0.8)
    ax.plot(data["stops"], data["along"], color=style.WARM, label="+ warm, − cool")
    ax.plot(data["stops"], data["across"], color=style.GREEN, ls="--", label="+ green, − magenta")
    reach = max(3.0, 1.1 * float(np.max(np.abs([data["along"], data["across"]]))))
    ax.set(title="Tint of greys, beyond the plain one", xlabel="stops from middle grey", ylabel="CIELAB units")
    ax.set(xlim=(-8, 6), ylim=(-reach, reach))
    ax.legend(loc="upper left")
    return "Tint of greys against their light. About 1 unit is just visible side by side."


def _skin(ax: Any, data: dict[str, Any]) -> str:
    before, after = 100.0 * data["before"], 100.0 * data["after"]
    reach = 1.1 * float(max(np.abs(before[..., 1:]).max(), np.abs(after[..., 1:]).max()))
    low, high = np.radians(OKLAB_HUE_DEG)
    ray = np.array([0.0, 2.0 * reach])
    ax.fill_between(ray * np.cos(low), ray * np.sin(low), ray * np.tan(high) * np.cos(low), color="#6e6e6e", lw=0)
    markers = {"daylight": "o", "tungsten": "s", "mixed, warm side": "^", "mixed, cool side": "v"}
    for i, light in enumerate(data["lights"]):
        for j in range(before.shape[1]):
            ax.annotate(
                "",
                after[i, j, 1:],
                xytext=before[i, j, 1:],
                arrowprops={"arrowstyle": "->", "color": style.INK, "lw": 1.0, "shrinkA": 2, "shrinkB": 0},
            )
        ax.scatter(
            before[i, :, 1],
            before[i, :, 2],
            s=22,
            marker=markers.get(light, "o"),
            facecolor="none",
            edgecolor=style.WARM if "cool" not in light else style.COOL,
            label=light,
            zorder=3,
        )
    ax.set(title="Measured skin at key level", xlabel="Oklab a × 100", ylabel="Oklab b × 100")
    left = min(-1.0, 1.1 * float(min(before[..., 1].min(), after[..., 1].min())))
    ax.set(xlim=(left, reach), ylim=(min(-1.0, left), reach))
    ax.set_aspect("equal", adjustable="box")
    ax.legend(loc="center left", bbox_to_anchor=(1.0, 0.5))
    ax.figure.subplots_adjust(right=0.74)
    return "Skin in four lights: symbols plainly rendered, arrow heads graded. Shaded: measured skin hues."


def _hues(ax: Any, data: dict[str, Any]) -> str:
    low, high = OKLAB_HUE_DEG
    ax.axvspan(low, high, color="#6e6e6e", lw=0)
    ax.axhline(0, color=style.FAINT, lw=0.8)
    for turn, saturation, dash in zip(data["turn"], data["saturation"], (":", "--", "-"), strict=True):
        ax.plot(data["hue"], turn, color=style.INK, ls=dash, lw=1.3, label=f"saturation {saturation:g}")
    reach = max(12.0, 1.45 * float(np.max(np.abs(data["turn"]))))
    ax.set(title="Turn of hues at middle grey", xlabel="Oklab hue, degrees", ylabel="turn, degrees")
    ax.set(xlim=(0, 360), ylim=(-reach, reach), xticks=range(0, 361, 60))
    ax.legend(loc="upper center", ncols=3)
    return "How far each hue is turned, beyond the plain rendering. Shaded: measured skin hues."


def _noise(ax: Any, data: dict[str, Any]) -> str:
    ax.axhline(1, color=style.FAINT, lw=0.8)
    ax.plot(data["stops"], data["greys"], color=style.INK, label="greys")
    ax.plot(data["stops"], data["worst"], color=style.INK, ls="--", label="worst of seven hues")
    ax.set(title="Noise against the plain rendering", xlabel="stops from middle grey", ylabel="times")
    ax.set(ylim=(0, max(2.5, 1.1 * float(np.max(data["worst"])))))
    ax.legend(loc="upper left")
    return "How much more a small disturbance shows than plainly rendered; below 1 it shows less."


_DRAW = {"tone": _tone, "neutrals": _neutrals, "skin": _skin, "hues": _hues, "noise": _noise}
