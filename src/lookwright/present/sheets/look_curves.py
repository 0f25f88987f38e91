"""The curves of a look on one sheet: tone, tint of greys, turn of hues; and of its print, where it has one."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.film.curves import print_curves
from lookwright.colour.spaces.oklab import SCENE_TO_LMS, light_to_oklab, opponent_to_scene
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.pipeline import Pipeline, compile_look
from lookwright.look.steps.base import Context
from lookwright.look.steps.print import Print
from lookwright.look.steps.render import Render

from . import plot_style as style

STOPS = np.arange(-8.0, 7.01, 0.1)
HUES = np.arange(0.0, 360.0, 2.0)


def write_look_curves(path: Path, look: Look) -> None:
    """Draw the sheet into ``path`` (.png, .svg or .pdf).

    Raises :class:`OutputError` for another ending or a target that cannot be written.
    """
    with style.plotting() as plt:
        style.save_figure(_drawn(plt, look), path)


def look_curves_svg(look: Look) -> str:
    """The same sheet as SVG text, the same each time."""
    with style.plotting() as plt:
        return style.svg_text(_drawn(plt, look))


def _drawn(plt: Any, look: Look) -> Any:
    made, plain = compile_look(look), compile_look(look.plain())
    film = next((s for s in look.effective_steps() if isinstance(s, Print) and s.amount > 0), None)
    rows = 2 if film is not None else 1
    figure, axes = plt.subplots(rows, 3, figsize=(15, 4.6 * rows), layout="constrained", squeeze=False)
    figure.suptitle(f"{look.title or 'Look'}: {made.source.describe()} to {made.output.describe()}", fontsize=11)
    _tone(axes[0, 0], made, plain)
    _tint(axes[0, 1], made)
    _hues(axes[0, 2], made, plain)
    if film is not None:
        _print(axes[1], film)
    return figure


def feed(pipeline: Pipeline, scene: Array) -> Array:
    """Output signal for scene light (linear ACEScg)."""
    if pipeline.source.kind == "scene":
        return pipeline(pipeline.source.from_scene(scene))
    # A display source stands for the scene light whose plain rendering, on its own display, it is.
    op = Render(kind="render").prepare(Context(pipeline.source, pipeline.source))
    return pipeline(pipeline.source.from_light(op(scene)))


def oklab_of(pipeline: Pipeline, scene: Array) -> Array:
    """Oklab of the output (of scene light for a log-to-log look)."""
    signal = feed(pipeline, scene)
    if pipeline.output.kind == "display":
        return light_to_oklab(pipeline.output.to_light(signal))
    return light_to_oklab(pipeline.output.to_scene(signal), SCENE_TO_LMS)


def greys() -> Array:
    """Scene light of the scale of greys at :data:`STOPS`, linear ACEScg."""
    return np.repeat((0.18 * np.exp2(STOPS))[:, None], 3, axis=1)


def around(strength: float) -> Array:
    """Scene light of all :data:`HUES` at middle grey and one saturation, linear ACEScg."""
    angle = np.radians(HUES)
    return opponent_to_scene(
        np.stack([np.full_like(angle, 0.565), strength * np.cos(angle), strength * np.sin(angle)], -1)
    )


def _tone(ax: Any, made: Pipeline, plain: Pipeline) -> None:
    ax.plot(STOPS, feed(plain, greys())[:, 1] * 100, color=style.FAINT, ls="--", label="plain rendering")
    signal = feed(made, greys()) * 100
    for i, (colour, name) in enumerate(((style.RED, "red"), (style.GREEN, "green"), (style.BLUE, "blue"))):
        ax.plot(STOPS, signal[:, i], color=colour, lw=1.2, label=name)
    ax.axvline(0, color=style.FAINT, lw=0.8)
    ax.set(title="Grey scale: signal given", xlabel="stops from middle grey", ylabel="signal, %", ylim=(0, 102))
    ax.legend(loc="upper left")


def _tint(ax: Any, made: Pipeline) -> None:
    lab = oklab_of(made, greys())
    ax.plot(STOPS, lab[:, 1] * 100, color=style.INK, label="a: + toward red, − toward green")
    ax.plot(STOPS, lab[:, 2] * 100, color=style.INK, ls="--", label="b: + toward yellow, − toward blue")
    span = max(1.0, float(np.abs(lab[:, 1:]).max() * 110))
    ax.set(title="Tint of greys", xlabel="stops from middle grey", ylabel="Oklab, × 100", ylim=(-span, span))
    ax.legend(loc="upper right")


def _hues(ax: Any, made: Pipeline, plain: Pipeline) -> None:
    for strength, dash in ((0.08, "-"), (0.2, "--")):
        scene = around(strength)
        hue = [np.degrees(np.arctan2(lab[:, 2], lab[:, 1])) for lab in (oklab_of(plain, scene), oklab_of(made, scene))]
        turn = (hue[1] - hue[0] + 180.0) % 360.0 - 180.0
        name = "saturation of skin" if strength < 0.1 else "strong colour"
        ax.plot(HUES, turn, color=style.INK, ls=dash, label=f"{name} ({strength:g})")
    ax.axvspan(38, 60, color=style.WARM, alpha=0.18, lw=0)
    ax.text(49, 0.98, "skin", ha="center", va="top", fontsize=8, transform=ax.get_xaxis_transform())
    ax.axhline(0, color=style.FAINT, lw=0.8)
    ax.set(title="Turn of hues against the plain rendering", xlabel="Oklab hue, degrees", ylabel="turn, degrees")
    ax.set_xlim(0, 360)
    ax.set_xticks(range(0, 361, 60))
    ax.legend(loc="lower right")


def _print(axes: Any, step: Print) -> None:
    c = print_curves(step.film())
    ax = axes[0]
    ax.plot(c.log_exposure, c.negative_density, color=style.INK, ls="--", label="negative, above base")
    for i, colour in enumerate((style.CYAN, style.MAGENTA, style.YELLOW)):
        ax.plot(c.log_exposure, c.print_density[:, i], color=colour, lw=1.2)
    ax.plot(c.log_exposure, c.visual_density, color=style.INK, label="print, visual; colours: its three layers")
    grey = float(np.log10(0.18))
    ax.axvline(grey, color=style.FAINT, lw=0.8)
    ax.text(grey, 0.02, " grey", fontsize=8, transform=ax.get_xaxis_transform())
    ax.set(title="Density against exposure", xlabel="log10 of scene light", ylabel="density")
    ax.legend(loc="upper right")

    ax = axes[1]
    ax.plot(c.stops, c.system_gamma, color=style.INK)
    ax.axhline(1.5, color=style.FAINT, lw=0.9, ls="--")
    ax.text(0.99, 1.5, "1.5, dark surround ", ha="right", va="bottom", fontsize=8, transform=ax.get_yaxis_transform())
    ax.set(title="System gamma: light on the screen", xlabel="stops from middle grey", ylabel="slope, log against log")
    ax.set_ylim(0, max(1.7, 1.1 * float(c.system_gamma.max())))

    ax = axes[2]
    for band, colour, name in zip(
        c.dye_bands, (style.CYAN, style.MAGENTA, style.YELLOW), ("cyan", "magenta", "yellow"), strict=True
    ):
        ax.plot(c.wavelength, band, color=colour, label=name)
    ax.plot(c.wavelength, c.neutral, color=style.INK, ls="--", label="grey of density 1")
    ax.set(title="Dye bands in a grey of visual density 1", xlabel="wavelength, nm", ylabel="density")
    ax.set_ylim(0, 1.3 * float(c.neutral.max()))
    ax.legend(loc="upper center", ncols=4)
