"""Edit decision lists in the CMX 3600 form: where each picture event stands in the text, and what it says.

The text is the user's own and is only ever added to (:mod:`lookwright.lut.formats.edl_cdl`), so it is lines that are
found here. OpenTimelineIO's adapter gives no lines, and takes a dissolve that stands alone, an M2 retime and a
change of the frame code mode for something else (0.18.1 with otio-cmx3600-adapter 1.0.0, measured); its timecode is
what counts here. Columns as OpenTimelineIO's adapter and the CMX 3600 manuals have them (the latter from memory).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from lookwright.errors import TimelineError

from .event import Event, Timeline
from .library import timeline_library

LARGEST = 20_000_000
"""Bytes of a timeline: 999 events with remarks are 200 kB."""

_TIME = r"(\d{1,2}[:;.,]\d{2}[:;.,]\d{2}[:;.,]\d{2,3})"
_EVENT = re.compile(
    rf"\s*(?P<number>\d{{1,6}})\s+(?P<reel>\S.*?)\s+(?P<channels>\S+)\s+(?P<edit>C|D|W\d{{3}}|KB|KO|K)\s+"
    rf"(?:\d{{1,4}}\s+)?(?:\(F\)\s+)?{_TIME}\s+{_TIME}\s+{_TIME}\s+{_TIME}\s*$"
)
_REMARK = re.compile(r"\s*\*\s*(?P<key>[A-Z][A-Z _/]*?)\s*(?:IS)?\s*:\s*(?P<value>.*?)\s*$", re.IGNORECASE)
_LONGEST = 300
"""Characters of a line that may be an event: the form has 80 columns, and long lines of blanks are slow to tell."""

_NO_MEDIA = ("BL", "BLACK", "BARS")
"""Reels that stand for pictures the editor makes."""


@dataclass
class Block:
    """The lines of one event, from its first to its last remark."""

    number: str
    reel: str
    channels: str
    edits: list[str]
    source_in: str
    source_out: str
    drop: bool
    first: int
    """Its first line, from 0."""
    end: int
    """One past its last line that is an event, a retime or a remark."""
    remarks: dict[str, str] = field(default_factory=dict)

    @property
    def shown(self) -> bool:
        """Whether it is a picture with media behind it."""
        picture = "V" in self.channels.upper() or self.channels.upper() == "B"
        return picture and self.reel.upper() not in _NO_MEDIA


def split_lines(text: str) -> list[str]:
    """Lines with their ends, broken at LF, CR LF or CR only: joined again they are the text, byte for byte."""
    return re.findall(r"[^\r\n]*(?:\r\n|\n|\r)|[^\r\n]+", text)


def blocks(lines: list[str]) -> Iterator[Block]:
    """The events of a list, those of sound too, in the order of the text."""
    current: Block | None = None
    drop = False
    for at, line in enumerate(lines):
        if mode := re.match(r"\s*FCM\s*:\s*(NON[- ]?)?DROP", line, re.IGNORECASE):
            drop = mode[1] is None
        elif len(line) < _LONGEST and (event := _EVENT.match(line)):
            if current is not None and event["number"] == current.number and _joins(current, event["channels"]):
                # The second line of a dissolve: what is faded to.
                current.reel, current.end = event["reel"].strip(), at + 1
                current.edits.append(event["edit"])
                current.source_in, current.source_out = event.group(5), event.group(6)
                continue
            if current is not None:
                yield current
            number, reel, channels, edit = (event[k] for k in ("number", "reel", "channels", "edit"))
            current = Block(number, reel.strip(), channels, [edit], event.group(5), event.group(6), drop, at, at + 1)
        elif current is not None and line.lstrip()[:1] == "*":
            current.end = at + 1
            if said := _REMARK.match(line):
                current.remarks.setdefault(said["key"].upper(), said["value"])
        elif current is not None and re.match(r"\s*M2\s", line):
            current.end = at + 1
    if current is not None:
        yield current


def _joins(block: Block, channels: str) -> bool:
    """Whether another line of the same number goes on with the event, not with its sound."""
    return channels == block.channels and block.edits == ["C"]


def parse_edl(text: str, where: str, rate: float) -> Timeline:
    """The picture events of a list.

    Parameters
    ----------
    rate
        Frames a second; the list does not say.

    Raises :class:`TimelineError` for a text without picture events, or a timecode that cannot be.
    """
    found = list(blocks(split_lines(text)))
    if not found:
        raise TimelineError(where, "holds no event that could be read", "an edit decision list in the CMX 3600 form")
    events: list[Event] = []
    for block in found:
        if block.shown:
            here = f"{where}, event {block.number}"
            first, last = (seconds(t, rate, block.drop, here) for t in (block.source_in, block.source_out))
            name, media = _names(block)
            events.append(Event(len(events), block.number, name, media, first, max(first, last)))
    if not events:
        raise TimelineError(where, "holds sound or black only", "picture events")
    left = len(found) - len(events)
    notes = (f"{left} event{'s' if left > 1 else ''} of sound, black or bars passed over",) if left else ()
    return Timeline(tuple(events), notes)


def _names(block: Block) -> tuple[str, tuple[str, ...]]:
    """The clip's name, and what its file may be called; of a dissolve what is faded to."""
    said = block.remarks
    faded = block.edits[-1] != "C"
    incoming = said.get("TO CLIP NAME") if faded else None
    # A dissolve without a line of its own for what goes out names only what comes in.
    own = incoming or (said.get("FROM CLIP NAME") if not faded or len(block.edits) == 1 else None)
    reel = "" if block.reel.upper() in ("AX", "UNKNOWN") else block.reel
    names = [said.get("SOURCE FILE") if not faded else None, said.get("FROM FILE") if not faded else None, own, reel]
    media = tuple(dict.fromkeys(as_text(n) for n in names if n))
    return as_text(own or reel or block.number), media


def as_text(text: str) -> str:
    """What was read with each byte taken for a character, as UTF-8 where it is."""
    try:
        return text.encode("latin-1").decode("utf-8")
    except UnicodeError:
        return text


def seconds(timecode: str, rate: float, drop: bool, where: str) -> float:
    """A timecode on its clock in seconds; frames may be set off by ``;`` where they are dropped.

    Raises :class:`TimelineError` for one that cannot be at this rate.
    """
    time = timeline_library().opentime
    parts = re.split(r"[:;.,]", timecode)
    dropping = (drop or ";" in timecode) and round(rate) in (30, 60) and abs(rate - round(rate)) > 1e-3
    text = ":".join(parts[:3]) + (";" if dropping else ":") + parts[3]
    valid = time.RationalTime.nearest_valid_timecode_rate(rate)
    if abs(valid - rate) > 0.02:
        raise TimelineError(where, f"{rate:g} frames a second has no timecode", "24, 25, 29.97, 30, 50, 59.94 or 60")
    try:
        return float(time.from_timecode(text, valid).to_seconds())
    except ValueError as exc:
        raise TimelineError(where, f"{timecode} is no timecode at {rate:g} frames a second ({exc})") from None


def misread(text: str) -> str:
    """Why OpenTimelineIO's adapter would take a list for something else, in words; empty where it would not.

    What it loses was measured (0.18.1 with otio-cmx3600-adapter 1.0.0): a dissolve of one line has no transition, a
    retime another duration, dropped frames are counted.
    """
    lines = split_lines(text)
    found = list(blocks(lines))
    if any(block.edits[0] != "C" for block in found):
        return "a dissolve or wipe that stands alone"
    if any(block.drop for block in found):
        return "drop frame timecode"
    return "a retime (M2)" if any(re.match(r"\s*M2\s", line) for line in lines) else ""
