"""What tuning did, on one sheet: before, after and reference, with the distributions that were brought together."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from lookwright.arrays import Array, Pixels
from lookwright.colour.spaces.oklab import light_to_oklab
from lookwright.colour.spaces.signal import Signal
from lookwright.look.baking.viewing import View
from lookwright.solve.tune.goals import LEVEL_TOLERANCE
from lookwright.solve.tune.words import goal_line

from . import plot_style as style

if TYPE_CHECKING:
    from lookwright.solve.tune.run import Outcome


ROWS = 3
"""Most stills shown."""
DOTS = 1500
"""Samples in the colour plots."""


def write_tune_sheet(path: Path, outcome: Outcome, reference_encoding: str = "") -> None:
    """Draw the sheet into ``path`` (.png, .svg or .pdf).

    ``outcome`` must have been made with ``Wishes.pictures``. ``reference_encoding`` is that of references and graded
    frames; empty for the look's output.

    Raises :class:`OutputError` for another ending or a target that cannot be written.
    """
    gathered = outcome.gathered
    assert gathered is not None
    before, after = View(outcome.start), View(outcome.look)
    output = after.output
    target = Signal.named(reference_encoding) if reference_encoding else output
    stills = gathered.thumbnails[:ROWS]
    references = gathered.reference_thumbnails[:ROWS]
    paired = bool(references) and not gathered.still_parts
    with style.plotting() as plt:
        rows = max(1, len(stills))
        columns = 3 if references else 2
        width = 15.6
        tall = 0.58 * width / columns * rows
        low = 9.6 if outcome.targets else 5.4
        figure = plt.figure(figsize=(width, tall + low), layout="constrained")
        top, bottom = figure.subfigures(2, 1, height_ratios=[tall, low])
        title = outcome.look.title or "Look"
        figure.suptitle(f"{title}, tuned: {output.describe()}\n{_summary(outcome)}", fontsize=12)
        axes = top.subplots(rows, columns, squeeze=False)
        for row, (name, pixels) in enumerate(stills):
            _picture(axes[row, 0], before.graded(pixels), f"{name}: before")
            _picture(axes[row, 1], after.graded(pixels), f"{name}: after")
        for row in range(rows):
            if columns < 3:
                break
            if row < len(references):
                name, pixels = references[row]
                word = "graded frame" if paired else "reference"
                _picture(axes[row, 2], _converted(pixels, target, output), f"{name}: {word}")
            else:
                axes[row, 2].axis("off")
        if outcome.targets:
            plots = bottom.subplots(2, 2).ravel()
            _levels(plots[2], outcome)
        else:
            plots = bottom.subplots(1, 3, width_ratios=[1.0, 1.0, 1.15])
        lab_before = _lab([before.graded(p) for _, p in stills], output)
        lab_after = _lab([after.graded(p) for _, p in stills], output)
        lab_reference = _lab([p for _, p in references], target) if references else None
        _tones(plots[0], lab_before, lab_after, lab_reference)
        _colours(plots[1], lab_before, lab_after, lab_reference)
        _moves(plots[-1], outcome)
        style.save_figure(figure, path)


def _summary(outcome: Outcome) -> str:
    """How near, and what the check says, in a line."""
    goals = "; ".join(goal_line(n, a, b).replace("->", "→") for n, (a, b) in outcome.goals.items())
    return f"{goals}; 'check' {'passes' if outcome.passes else 'fails'}"


def _levels(ax: Any, outcome: Outcome) -> None:
    """Each marked part: the band it should lie in, where it was and where it is."""
    for k, t in enumerate(outcome.targets):
        low = 0.0 if t.most else t.wanted - LEVEL_TOLERANCE
        width = t.wanted + LEVEL_TOLERANCE - low
        ax.barh(k, width, left=low, height=0.62, color="#7c7c7c", lw=0, label="wanted" if k == 0 else None)
        ax.plot([t.before, t.after], [k, k], color=style.FAINT, lw=1.0)
        ax.plot(t.before, k, "o", ms=5, mfc="none", color=style.INK, label="before" if k == 0 else None)
        ax.plot(t.after, k, "o", ms=5, color=style.INK, label="after" if k == 0 else None)
    names = [t.label + ("" if t.met else " (not met)") for t in outcome.targets]
    ax.set_yticks(range(len(names)), names)
    ax.set_ylim(len(names) - 0.4, -1.6)
    ax.grid(axis="y", visible=False)
    ax.set_axisbelow(True)
    ax.set(title="Levels at marks", xlabel="signal, %", xlim=(0, 100))
    ax.legend(loc="upper left", ncols=3)


def _picture(ax: Any, pixels: Pixels, caption: str) -> None:
    ax.imshow(np.clip(pixels, 0.0, 1.0), interpolation="antialiased")
    ax.set_title(caption, fontsize=9)
    ax.axis("off")


def _converted(pixels: Pixels, source: Signal, output: Signal) -> Pixels:
    """Code values in the reference's encoding as the look's output would carry them."""
    if source == output:
        return pixels
    light = source.to_light(np.asarray(pixels, np.float64))
    return np.asarray(output.from_light(np.clip(light, 0.0, None)), np.float32)


def _lab(pictures: list[Pixels], signal: Signal) -> Array:
    """(n, 3) Oklab of all pixels of all pictures, thinned evenly."""
    some = [p.reshape(-1, 3)[:: max(1, p.shape[0] * p.shape[1] * len(pictures) // 20_000)] for p in pictures]
    code = np.concatenate(some).astype(np.float64)
    return light_to_oklab(signal.to_light(code))


def _series(before: Array, after: Array, reference: Array | None) -> list[tuple[Array, str, str, str]]:
    found = [(before, style.FAINT, "--", "before"), (after, style.INK, "-", "after")]
    if reference is not None:
        found.append((reference, style.WARM, "-", "reference"))
    return found


def _tones(ax: Any, before: Array, after: Array, reference: Array | None) -> None:
    share = np.linspace(0.5, 99.5, 100)
    for lab, colour, dash, name in _series(before, after, reference):
        ax.plot(share, 100 * np.percentile(lab[:, 0], share), color=colour, ls=dash, label=name)
    ax.set(
        title="Tones: lightness not exceeded by a share of the picture",
        xlabel="share of the picture, %",
        ylabel="Oklab lightness, × 100",
        xlim=(0, 100),
        ylim=(0, 102),
    )
    ax.legend(loc="upper left")


def _colours(ax: Any, before: Array, after: Array, reference: Array | None) -> None:
    for lab, colour, dash, name in _series(before, after, reference):
        dots = lab[:: max(1, len(lab) // DOTS)]
        if dash == "-":
            ax.scatter(100 * dots[:, 1], 100 * dots[:, 2], s=2, color=colour, alpha=0.35, lw=0, label=name)
        else:
            ax.scatter(100 * dots[:, 1], 100 * dots[:, 2], s=2, color=colour, alpha=0.2, lw=0, label=name)
    every = np.concatenate([s[0] for s in _series(before, after, reference)])
    reach = max(4.0, 100 * float(np.percentile(np.abs(every[:, 1:]), 99.8)) * 1.1)
    ax.axhline(0, color=style.FAINT, lw=0.7)
    ax.axvline(0, color=style.FAINT, lw=0.7)
    ax.set(
        title="Colours",
        xlabel="Oklab a, × 100 (+ toward red)",
        ylabel="Oklab b, × 100 (+ toward yellow)",
        xlim=(-reach, reach),
        ylim=(-reach, reach),
        aspect="equal",
    )
    legend = ax.legend(loc="upper left", markerscale=4)
    for handle in legend.legend_handles:
        handle.set_alpha(1.0)


def _moves(ax: Any, outcome: Outcome) -> None:
    """The largest moves, as the change that each makes to the picture, with old and new values."""
    moved = [c for c in outcome.changes if c.after != c.before][:12]
    names = []
    for k, c in enumerate(moved):
        ax.barh(k, c.effect, height=0.6, color=style.COOL if c.status == "determined" else style.FAINT)
        names.append(f"{c.name}  {c.before:.3g} → {c.after:.3g}" + (" (bound)" if c.bound else ""))
    ax.set_yticks(range(len(moved)), names)
    ax.invert_yaxis()
    ax.grid(axis="y", visible=False)
    ax.set_axisbelow(True)
    ax.set(title="What moved (grey: others could stand in)", xlabel="change of the picture, Oklab × 100, r.m.s.")
    if not moved:
        ax.text(0.5, 0.5, "nothing moved", ha="center", va="center", transform=ax.transAxes)
