"""Shots that neither marks nor a whole frame decide, decided by what they share with others."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from lookwright.colour.spaces.signal import Signal
from lookwright.errors import LookwrightError
from lookwright.installed import how_to_get
from lookwright.pictures.stills import read

from .across import Answer, answers, candidates
from .difference import Difference
from .features import Seen, available, look
from .match import CERTAIN_FRAME, Match

FRAME_ALONE = 0.05
"""Stops left over a whole frame up to which it is believed where shared content does not tell: takes with moved framing
leave as much (see ``match.SAME_FRAME``)."""

WITHOUT = f"matching other framings needs the extra 'matching': {how_to_get('matching')}; or give it marks"

Parts = Callable[[str, int], Callable[[int], None]]
"""Given what begins and its number of pieces, a function that is told of pieces done, and may raise to stop."""


def quietly(what: str, total: int) -> Callable[[int], None]:
    """Tells nobody."""
    return lambda done: None


def is_open(match: Match | LookwrightError) -> bool:
    """Whether more is to be learnt of a shot: marks that the user gave and equal framings have decided."""
    if isinstance(match, LookwrightError) or match.by in ("anchor", "marks"):
        return False
    return bool(match.changed) or match.left > CERTAIN_FRAME


def by_content(
    paths: Sequence[Path],
    names: Sequence[str],
    anchor: Path,
    signal: Signal,
    matches: Sequence[Match | LookwrightError],
    parts: Parts = quietly,
) -> list[Match | LookwrightError]:
    """The matches, with those that are open decided over all shots together, as far as what they share goes.

    Parameters
    ----------
    names
        Of the shots, for the words that tell what was compared.
    anchor
        One of ``paths``, or a still beside them.
    """
    still_open = [n for n, m in enumerate(matches) if is_open(m)]
    if not still_open:
        return list(matches)
    if not available():
        return [replace(m, changed=WITHOUT) if isinstance(m, Match) and _undecided(m) else m for m in matches]
    files, called = list(paths), list(names)
    at = next((n for n, m in enumerate(matches) if isinstance(m, Match) and m.by == "anchor"), None)
    if at is None:
        at = len(files)
        files.append(anchor)
        called.append(anchor.stem)

    def seen(number: int) -> Seen | None:
        if number < len(matches) and isinstance(matches[number], LookwrightError):
            return None
        return look(signal.to_scene(read(files[number]).pixels))

    each = parts("comparing framings", len(candidates(len(files), at, still_open)))
    found = answers(len(files), seen, at, still_open, each)
    out = list(matches)
    for n in still_open:
        match = out[n]
        if isinstance(match, Match):
            out[n] = _decided(match, found[n], called)
    return out


def _undecided(match: Match) -> bool:
    return match.by == "frame" and bool(match.changed)


def _decided(match: Match, answer: Answer, names: Sequence[str]) -> Match:
    """The whole frame's word or that of the shared surfaces."""
    compared = tuple(names[n] for n in answer.compared)
    if answer.state == "unknown" and not match.changed and match.left <= FRAME_ALONE:
        return match
    if answer.state != "matched":
        return Match(Difference(), "content", 0.0, match.left, answer.why, state=answer.state, compared=compared)
    sure = max(answer.stops_error / 0.1, answer.mired_error / 10.0)
    return Match(
        answer.difference,
        "content",
        max(0.0, 1.0 - sure),
        match.left,
        "",
        stops_error=answer.stops_error,
        mired_error=answer.mired_error,
        compared=compared,
    )
