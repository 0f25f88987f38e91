"""A series as one self-contained page: its pictures in order, those to look at first, the drift, the table."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from lookwright.files import write_text
from lookwright.words import listed

from .report_html import data_address, page_environment
from .series_pictures import Seen, SeriesPictures
from .series_sheet import STATES

if TYPE_CHECKING:
    from lookwright.solve.series.shots import Shot, Tolerance

FIRST = 6
"""Shots shown large above the rest: of more, the worst."""


@dataclass(frozen=True)
class Card:
    """One shot on the page."""

    shot: Shot
    seen: Seen | None
    why: str
    """Why it is flagged; empty where all is well."""
    within: Sequence[str]
    """What happens inside the clip."""
    keys: Sequence[str]
    """Keyframes that steady it."""

    @property
    def ratio(self) -> float:
        """Width over height."""
        return 16.0 / 9.0 if self.seen is None else self.seen.width / self.seen.height


def write_series_page(
    path: Path,
    title: str,
    shots: Sequence[Shot],
    tolerance: Tolerance,
    plot: Path,
    pictures: SeriesPictures,
    within: Mapping[str, Sequence[str]] | None = None,
    keys: Mapping[str, Sequence[str]] | None = None,
    faults: Sequence[str] = (),
    notes: Sequence[str] = (),
) -> None:
    """Write the page with its pictures inside it; nothing is fetched from anywhere when it is read.

    Parameters
    ----------
    plot
        A PNG, written already.
    within, keys
        By name of a shot, what happens inside the clip, and keyframes that steady it, a clause each.
    faults, notes
        Shots that could not be read, and what is to be known of the rest, a sentence each.
    """
    inside, steady = within or {}, keys or {}
    cards = [Card(s, pictures.seen.get(s.shot), _why(s), inside.get(s.shot, ()), steady.get(s.shot, ())) for s in shots]
    flagged = sorted((c for c in cards if c.why), key=lambda c: -_badness(c.shot, tolerance))
    html = (
        page_environment()
        .get_template("series.html.jinja")
        .render(
            title=title,
            cards=cards,
            shown=[c for c in cards if c.seen is not None],
            first=[c for c in flagged if c.seen is not None][:FIRST],
            flagged=flagged,
            anchor=next((c.seen for c in cards if c.shot.match.by == "anchor"), None),
            skin=any(s.after_colour.skin_level is not None for s in shots),
            moving=[c for c in cards if c.within],
            verdict=in_short(shots, tolerance),
            plot=data_address("png", plot.read_bytes()),
            faults=faults,
            notes=notes,
        )
    )
    write_text(path, html)


def in_short(shots: Sequence[Shot], tolerance: Tolerance) -> list[str]:
    """How many shots are where the anchor is, and which are not and why, a sentence each."""
    near = sum(s.inside for s in shots)
    many = "All" if near == len(shots) > 1 else f"{near} of"
    is_are = "is" if near == 1 else "are"
    limits = f"{tolerance.stops:g} stop and {tolerance.mired:g} mired"
    said = [f"{many} {len(shots)} shots {is_are} within {limits} of the anchor."]
    for state, words in {"matched": "still outside", **STATES}.items():
        names = [s.shot for s in shots if not s.inside and s.match.state == state]
        if names:
            said.append(f"{words[:1].upper()}{words[1:]} ({len(names)}): {listed(names, FIRST)}.")
    return said


def _why(shot: Shot) -> str:
    """Why a shot is to be looked at; empty where all is well."""
    if shot.match.changed:
        return f"{STATES[shot.match.state]}: {shot.match.changed}"
    return "" if shot.inside else f"still {shot.after.in_words()}"


def worst_first(shots: Sequence[Shot], tolerance: Tolerance) -> list[Shot]:
    """Those outside the tolerance or not matched, the worst first, then the rest in their order."""
    outside = sorted((s for s in shots if not s.inside), key=lambda s: -_badness(s, tolerance))
    return [*outside, *(s for s in shots if s.inside)]


def _badness(shot: Shot, tolerance: Tolerance) -> float:
    """How far a shot is off, in tolerances; what was not matched is worse than anything that was."""
    if shot.match.changed:
        return 1e6
    stops = abs(shot.after.stops) / max(tolerance.stops, 1e-6)
    return max(stops, abs(shot.after.mired) / max(tolerance.mired, 1e-6))
