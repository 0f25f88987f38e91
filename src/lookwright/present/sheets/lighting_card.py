"""The lighting card: one A4 page from which a set can be lit, as PDF and PNG."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from lookwright.assess.breakdown.against import Against
from lookwright.assess.breakdown.breakdown import Breakdown, Zone
from lookwright.assess.breakdown.on_camera import OnCamera
from lookwright.assess.breakdown.spoken import precise
from lookwright.assess.breakdown.warmth import nearest_filter
from lookwright.assess.measure.compare import CAUTION
from lookwright.assess.measure.ratios import spoken_ratio
from lookwright.assess.measure.stepped import Steps
from lookwright.colour.spaces.signal import Signal

from .plot_style import plotting, save_figure
from .step_map import draw_legend, draw_steps

PAPER, INK, FAINT, RULE = "#ffffff", "#111111", "#555555", "#bbbbbb"
A4 = (8.27, 11.69)
"""Inches."""
MOST_ROWS = 10
WHITE = 97.0
"""Percent from which a lamp's own level says nothing more of its light."""
DOTS = 150
LEFT, RIGHT = 0.06, 0.94
LEGEND = 0.125
_CURVES = (("#111111", "-", "o"), ("#666666", "--", "s"), ("#111111", ":", "^"), ("#888888", "-.", "D"))


@dataclass(frozen=True)
class Card:
    """What stands on one card."""

    title: str
    breakdown: Breakdown
    readings: Sequence[OnCamera]
    camera: Signal
    through: str
    steps: Steps
    off: frozenset[int]
    notes: Sequence[str]
    against: Against | None = None


def write_lighting_card(paths: Sequence[Path], card: Card) -> None:
    """Draw the card into each of ``paths`` (.pdf, .png); raises :class:`OutputError` where one cannot be written."""
    with plotting() as plt:
        plt.rcParams["savefig.facecolor"] = PAPER
        figure = plt.figure(figsize=A4, facecolor=PAPER)
        _heading(figure, card)
        bottom = _map(figure, card, 0.744)
        bottom = _table(figure, card, bottom - 0.016)
        _curves(figure, card, bottom - 0.014)
        _to_do(figure, card, bottom - 0.014)
        _foot(figure)
        for path in paths:
            save_figure(figure, path, DOTS)


def _heading(figure: Any, card: Card) -> None:
    frame = card.breakdown.frame
    figure.text(LEFT, 0.966, "Lighting card", fontsize=19, color=INK, weight="bold", va="center")
    figure.text(RIGHT, 0.966, card.title, fontsize=11, color=INK, va="center", ha="right")
    aspect = frame.luma.shape[0] / frame.luma.shape[1]
    wide = min(0.36, 0.142 * A4[1] / A4[0] / aspect)
    tall = wide * aspect * A4[0] / A4[1]
    axes = figure.add_axes((LEFT, 0.943 - tall, wide, tall))
    axes.imshow(np.clip(frame.picture, 0.0, 1.0), aspect="auto")
    axes.set_axis_off()
    x = LEFT + wide + 0.03
    figure.text(x, 0.938, "Ratios", fontsize=12, color=INK, weight="bold", va="top")
    y = 0.914
    for ratio in card.breakdown.ratios[:4]:
        r = ratio.ratio
        figure.text(x, y, f"{ratio.first} over {_short(ratio.second, ratio.first)}", fontsize=9, color=INK, va="top")
        figure.text(
            RIGHT,
            y,
            f"{precise(r.light)}   {r.stops:+.1f} stops",
            fontsize=9.5,
            color=INK,
            va="top",
            ha="right",
            weight="bold",
        )
        said = (
            ""
            if r.spoken is None
            else f"{r.first_level:.0f} % over {r.second_level:.0f} %, spoken of as {spoken_ratio(r.spoken)}"
        )
        figure.text(x, y - 0.0145, said, fontsize=8, color=FAINT, va="top")
        if r.lamps is not None:
            figure.text(
                RIGHT, y - 0.0145, f"lamp to lamp {precise(r.lamps)}", fontsize=8, color=FAINT, va="top", ha="right"
            )
        y -= 0.0345
    note = "Bold: light; of two sides of a face, (key + fill) : fill. Spoken: signal divided, no ratio of light."
    notes = list(card.notes)
    if wide < 0.25:  # an upright frame: no room under it
        _small(figure, x, y, RIGHT - x, [note, *notes])
    elif len(card.breakdown.ratios) < 4:
        _small(figure, x, y, RIGHT - x, [note])
        _small(figure, LEFT, 0.938 - tall, wide, notes)
    else:
        _small(figure, LEFT, 0.938 - tall, wide, [*notes, note])


def _small(figure: Any, x: float, y: float, wide: float, notes: Sequence[str]) -> None:
    text = "\n".join(line for n in notes for line in textwrap.wrap(n, round(wide * 172)))
    figure.text(x, y, text, fontsize=7.2, color=FAINT, va="top", linespacing=1.2)


def _short(second: str, first: str) -> str:
    """``shaded side`` where both are of one face."""
    head = first.split(",")[0] + ", "
    return second.removeprefix(head)


def _map(figure: Any, card: Card, top: float) -> float:
    """The stepped map with a number on each zone; gives back its lower edge."""
    frame = card.breakdown.frame
    values = frame.luma if card.steps.unit == "percent" else frame.stops
    what = "percent of signal" if card.steps.unit == "percent" else "stops from middle grey"
    aspect = frame.luma.shape[0] / frame.luma.shape[1]
    wide = min(RIGHT - LEFT - LEGEND - 0.015, 0.31 * A4[1] / A4[0] / aspect)
    tall = wide * aspect * A4[0] / A4[1]
    said = f"Exposure map in steps, {what}. On each zone: its letter in the table and its level."
    figure.text(LEFT, top + 0.006, said, fontsize=9, color=FAINT, va="bottom")
    axes = figure.add_axes((LEFT, top - tall, wide, tall))
    draw_steps(axes, values, card.steps, frame.picture, card.off, _numbers(card, values))
    legend = figure.add_axes((LEFT + wide + 0.015, top - tall, LEGEND, tall))
    draw_legend(legend, card.steps, RULE, card.off, 9.0)
    return top - tall


def _numbers(card: Card, values: Any) -> list[tuple[float, float, str, float]]:
    """Text for the map; where two would meet, the smaller zone without a role goes without."""
    rows = {z.number: letter for z, letter in zip(_rows(card), _letters(), strict=False)}
    out: list[tuple[float, float, str, float]] = []
    order = sorted(card.breakdown.zones, key=lambda z: (z.number not in rows, -z.share))
    for zone in order:
        if zone.number not in rows and zone.share < 0.008:
            continue
        said = f"{zone.level:.0f}" if card.steps.unit == "percent" else f"{zone.stops:+.1f}".replace("-", "−")
        named = zone.number in rows
        text = f"{rows[zone.number]} {said}" if named else said
        x, y = zone.place
        if all(abs(x - a) > 0.052 or abs(y - b) > 0.052 for a, b, _, _ in out):
            out.append((x, y, text, 10.5 if named else 8.0))
        elif named:
            out.append((x, _free(x, y, out), text, 10.5))
    return out


def _free(x: float, y: float, taken: Sequence[tuple[float, float, str, float]]) -> float:
    """The nearest height at which nothing stands yet."""
    for step in range(1, 12):
        for way in (1, -1):
            trial = min(max(y + way * 0.035 * step, 0.03), 0.97)
            if all(abs(x - a) > 0.075 or abs(trial - b) > 0.048 for a, b, _, _ in taken):
                return trial
    return y


def _letters() -> str:
    return "ABCDEFGHJKLMNPQRSTUVWXYZ"


def _rows(card: Card) -> list[Zone]:
    """Zones in the table: the named ones, then the largest."""
    named = card.breakdown.named()[:MOST_ROWS]
    return [*named, *card.breakdown.unnamed()[: max(0, min(MOST_ROWS - len(named), 4))]]


_COLUMNS = (
    # x of the column, alignment, heading over two lines
    (0.06, "left", "", "zone"),
    (0.335, "right", "level", "%"),
    (0.342, "left", "", "from – to"),
    (0.483, "right", "stops to", "grey"),
    (0.557, "right", "stops to", "key"),
    (0.58, "left", "colour to white", "mired, Duv"),
    (0.748, "right", "camera", "code"),
    (0.807, "right", "camera", "% of log"),
    (0.879, "right", "monitor", "%"),
    (0.94, "right", "", "sure"),
)


def _table(figure: Any, card: Card, top: float) -> float:
    figure.text(LEFT, top, "Zones", fontsize=12, color=INK, weight="bold", va="top")
    words = f"camera: {card.camera.encoding.name}, 10-bit code; monitor: through {card.through}"
    figure.text(RIGHT, top - 0.002, words, fontsize=8, color=FAINT, va="top", ha="right")
    y = top - 0.026
    for x, align, first, second in _COLUMNS:
        figure.text(x, y, f"{first}\n{second}", fontsize=7.5, color=FAINT, va="top", ha=align, linespacing=1.15)
    y -= 0.027
    _rule(figure, y + 0.001)
    rows = _rows(card)
    by_number = dict(zip((z.number for z in card.breakdown.zones), card.readings, strict=True))
    for letter, zone in zip(_letters(), rows, strict=False):
        for (x, align, _, _), text in zip(_COLUMNS, _cells(letter, zone, by_number[zone.number]), strict=True):
            bold = "bold" if text and x == 0.335 else "normal"
            figure.text(x, y - 0.004, text, fontsize=9, color=INK, va="top", ha=align, weight=bold)
        y -= 0.0172
    return y


def _cells(letter: str, zone: Zone, reading: OnCamera) -> tuple[str, ...]:
    warmth = ""
    if zone.warmth is not None:
        warmth = f"{zone.warmth.mired:+.0f}, {zone.warmth.duv:+.3f}".replace("-", "−")
        if zone.role in ("key", "fill", "skin"):
            warmth = "skin"
    from_key = "" if zone.from_key is None else _signed(zone.from_key)
    return (
        f"{letter}  {zone.name}",
        f"{zone.level:.0f}",
        f"{zone.low:.0f} – {zone.high:.0f}",
        _signed(zone.stops),
        from_key,
        warmth,
        str(reading.code),
        f"{reading.log:.0f}",
        f"{reading.monitor:.0f}",
        zone.sure or "",
    )


def _signed(value: float) -> str:
    return f"{value:+.1f}".replace("-", "−")


def _rule(figure: Any, y: float) -> None:
    from matplotlib.lines import Line2D

    figure.add_artist(Line2D([LEFT, RIGHT], [y, y], color=RULE, linewidth=0.7))


def _curves(figure: Any, card: Card, top: float) -> None:
    """Fall-off round the lamps, where there is one."""
    if not card.breakdown.lamps:
        return
    figure.text(LEFT, top, "Fall-off beside the lamps", fontsize=12, color=INK, weight="bold", va="top")
    axes = figure.add_axes((LEFT + 0.045, 0.108, 0.37, max(0.06, top - 0.042 - 0.108)))
    axes.set_facecolor(PAPER)
    for (name, curve), (colour, dash, dot) in zip(card.breakdown.lamps, _CURVES, strict=False):
        axes.plot(
            curve.distances,
            curve.levels,
            color=colour,
            linestyle=dash,
            marker=dot,
            markersize=3.5,
            linewidth=1.3,
            label=name,
        )
    ground = next((z for z in card.breakdown.zones if z.role == "ambient"), None)
    if ground is not None:
        axes.axhline(ground.level, color=FAINT, linewidth=0.8, linestyle=(0, (1, 2)), label="ambience")
    axes.set_ylim(0.0, 105.0)
    axes.set_xlim(left=0.0)
    axes.set_yticks(range(0, 101, 20))
    axes.grid(color="#dddddd", linewidth=0.6)
    axes.tick_params(labelsize=8, colors=INK)
    axes.set_xlabel("from the lamp's edge, % of frame width", fontsize=8, color=INK)
    axes.set_ylabel("level, %", fontsize=8, color=INK)
    # Lamps fall to what is round them, not to black: the lower corner is free.
    axes.legend(fontsize=8, labelcolor=INK, loc="lower left", ncols=4, columnspacing=1.2, frameon=False)


def _to_do(figure: Any, card: Card, top: float) -> None:
    """What to do on set, in order."""
    left = 0.52 if card.breakdown.lamps else LEFT
    heading = "On set, worst first" if card.against is not None else "On set, in this order"
    figure.text(left, top, heading, fontsize=12, color=INK, weight="bold", va="top")
    lines = _changes(card.against) if card.against is not None else _order(card.breakdown)
    wide = round((RIGHT - left) * 120)
    y = top - 0.026
    for i, line in enumerate(lines, start=1):
        wrapped = textwrap.wrap(line, wide)
        if y - 0.0135 * len(wrapped) < 0.075:
            break
        figure.text(left, y, str(i), fontsize=9, color=FAINT, va="top")
        figure.text(left + 0.025, y, "\n".join(wrapped), fontsize=9, color=INK, va="top", linespacing=1.2)
        y -= 0.0137 * len(wrapped) + 0.005


def _changes(against: Against) -> list[str]:
    return [*against.summary, *(g.sentence for g in against.gaps if g.mended_by != "nothing")]


def _order(taken: Breakdown) -> list[str]:
    """From the ground up, as light is built: ambience, lamps in the picture, key, fill, figures."""
    lines = []
    ground = next((z for z in taken.zones if z.role == "ambient"), None)
    if ground is not None:
        shift = "" if ground.warmth is None else nearest_filter(ground.warmth.mired)
        tail = f"; its colour lies at {shift}, light and wall together" if shift else ""
        lines.append(
            f"Ambience: bring the ground to {ground.level:.0f} % ({ground.low:.0f} to {ground.high:.0f}){tail}."
        )
    curves = dict(taken.lamps)
    for zone in [z for z in taken.zones if z.role == "lamp"][:2]:
        curve = curves.get(zone.name)
        name = f"{zone.name[0].upper()}{zone.name[1:]}"
        fall = (
            ""
            if curve is None
            else f" and what lies beside it falls from {curve.levels[0]:.0f} to {curve.levels[-1]:.0f} %"
        )
        if zone.level < WHITE:
            lines.append(f"{name}: dim it until it reads {zone.level:.0f} %{fall}.")
        elif fall:
            lines.append(
                f"{name} is white in the frame, so go by what is beside it: dim it until{fall.removeprefix(' and')}."
            )
        else:
            lines.append(f"{name} is white in the frame: how bright it was is not to be read.")
    for role, verb in (("key", "Key: lit side to"), ("fill", "Fill: shaded side to")):
        side = next((z for z in taken.zones if z.role == role), None)
        if side is not None:
            rest = "" if side.from_key in (None, 0.0) else f", {abs(side.from_key or 0.0):.1f} stops under the key"
            lines.append(f"{verb} {side.level:.0f} %{rest}.")
    figure_ = next((z for z in taken.zones if z.role == "silhouette"), None)
    if figure_ is not None:
        lines.append(f"Silhouette: keep light off the figure until it reads {figure_.level:.0f} % or less.")
    return lines or ["No part was recognised: light to the levels on the map."]


def _foot(figure: Any) -> None:
    text = "\n".join(textwrap.wrap(CAUTION, 138))
    figure.text(LEFT, 0.018, text, fontsize=7.4, color=INK, va="bottom", linespacing=1.25)
