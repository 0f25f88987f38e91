"""What is kept of a series between episodes: its looks, anchor, tolerances and each shot's match, in one TOML file."""

from __future__ import annotations

import re
from collections.abc import Sequence
from math import inf, isfinite
from pathlib import Path
from typing import Annotated, Any, Literal

import tomlkit
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from lookwright import safe_toml
from lookwright.errors import LookwrightError
from lookwright.files import write_text
from lookwright.lut.formats.cdl import Correction
from lookwright.reading import read_bytes

from .shots import Shot, Span

FORMAT = 1
_MOST_BYTES = 50_000_000
"""Some fifty thousand shots."""

HEAD = "A series, kept by lookwright: 'lookwright series --memory' reads it and adds to it. Remarks stay."

Number = Annotated[float, Field(allow_inf_nan=False, ge=-1e6, le=1e6)]
Seconds = Annotated[float, Field(allow_inf_nan=False, ge=0.0, le=1e6)]
Word = Annotated[str, Field(max_length=4000)]
Triple = tuple[Number, Number, Number]


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class KeptShot(_Strict):
    """One shot of an episode: how it was shot, against the anchor, and the CDL that brings it there."""

    name: Word
    path: Word
    first: Seconds | None = None
    last: Seconds | None = None
    """Of a part of a clip: where it begins, and ends if before the clip's end."""
    state: Literal["anchor", "matched", "changed", "unknown"]
    by: Word
    stops: Number
    mired: Number
    tint: Number
    flare: Number
    stops_error: Number | None = None
    mired_error: Number | None = None
    left_stops: Number
    left_mired: Number
    why: Word = ""
    slope: Triple
    offset: Triple
    power: Triple
    saturation: Number

    @property
    def correction(self) -> Correction:
        """Its CDL."""
        return Correction(self.slope, self.offset, self.power, self.saturation)


class KeptLook(_Strict):
    """A look that episodes were graded with, whole, so that what another would alter can be told."""

    file: Word
    text: Annotated[str, Field(max_length=1_000_000)]


class KeptEpisode(_Strict):
    """An episode, in the order in which it was matched."""

    name: Word
    look: Annotated[int, Field(ge=0)]
    """Place of its look among the looks."""
    shot: list[KeptShot] = []


class KeptAnchor(_Strict):
    """The still or clip that every episode is brought to, and its marks where there are any."""

    file: Word
    first: Seconds | None = None
    last: Seconds | None = None
    """Of a part of a clip, as for a shot."""
    marks: Word | None = None

    @property
    def span(self) -> Span | None:
        """The part of the clip; None for a still or a whole clip."""
        return None if self.first is None else (self.first, inf if self.last is None else self.last)


class KeptTolerance(_Strict):
    """How far a shot may stay from the anchor."""

    stops: Annotated[float, Field(ge=0.0, le=4.0)]
    mired: Annotated[float, Field(ge=0.0, le=100.0)]


class Memory(_Strict):
    """All of a series file."""

    format: Literal[1]
    anchor: KeptAnchor
    tolerance: KeptTolerance
    look: list[KeptLook]
    episode: list[KeptEpisode] = []


class SeriesFileError(LookwrightError):
    """A series file that cannot be used."""


def read_memory(path: Path) -> Memory:
    """Read a series file.

    Raises :class:`LookwrightError` for one that is damaged, of another kind, or of a later format, with the key.
    """
    text = _text(path)
    try:
        data = safe_toml.loads(text)
    except (ValueError, RecursionError) as exc:
        said = str(exc) or "too deep"
        raise SeriesFileError(
            str(path), f"is no TOML: {said}", hint="mend it there, or keep the series in a new file"
        ) from None
    if "format" not in data or "anchor" not in data:
        raise SeriesFileError(
            str(path), "is no series file", "'format' and [anchor]", "name the file that --memory wrote"
        )
    if isinstance(data["format"], int) and data["format"] > FORMAT:
        raise SeriesFileError(
            str(path), f"is of format {data['format']}", f"format {FORMAT} or earlier", "use a newer lookwright"
        )
    try:
        memory = Memory.model_validate(data)
    except ValidationError as exc:
        first = exc.errors()[0]
        key = ".".join(str(p) for p in first["loc"])
        more = f" ({len(exc.errors()) - 1} more faults)" if len(exc.errors()) > 1 else ""
        raise SeriesFileError(f"{path}, {key}", first["msg"].lower() + more, hint="mend it there") from None
    for place, episode in enumerate(memory.episode):
        if episode.look >= len(memory.look):
            raise SeriesFileError(f"{path}, episode.{place}.look", f"is {episode.look}", f"0 to {len(memory.look) - 1}")
    return memory


def _text(path: Path) -> str:
    data = read_bytes(path, _MOST_BYTES, "a series file", SeriesFileError, folder="name a .toml file")
    try:
        return data.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError:
        raise SeriesFileError(str(path), "not a text file", "TOML text in UTF-8") from None


def told_span(span: Span | None) -> dict[str, float]:
    """The keys that keep a part of a clip; none for a whole one."""
    if span is None:
        return {}
    return {key: round(v, 4) for key, v in zip(("first", "last"), span, strict=True) if isfinite(v)}


def kept_shot(shot: Shot) -> KeptShot:
    """What is kept of a shot."""
    match, cdl = shot.match, shot.expressed.cdl
    d = match.difference

    def short(values: Sequence[float]) -> tuple[float, float, float]:
        return (round(values[0], 6), round(values[1], 6), round(values[2], 6))

    return KeptShot(
        name=shot.shot,
        path=shot.path,
        **told_span(shot.span),
        state="anchor" if match.by == "anchor" else match.state,
        by=match.by,
        stops=round(d.stops, 4),
        mired=round(d.mired, 2),
        tint=round(d.tint, 5),
        flare=round(d.flare, 5),
        stops_error=None if match.stops_error is None else round(match.stops_error, 4),
        mired_error=None if match.mired_error is None else round(match.mired_error, 2),
        left_stops=round(shot.after.stops, 4),
        left_mired=round(shot.after.mired, 2),
        why=match.changed,
        slope=short(cdl.slope),
        offset=short(cdl.offset),
        power=short(cdl.power),
        saturation=round(cdl.saturation, 6),
    )


def write_memory(path: Path, memory: Memory) -> None:
    """Write a series file whole or not at all; remarks and order of one that is there stay, but for the episodes and
    looks that changed."""
    if path.exists():
        document = tomlkit.parse(_text(path))
    else:
        document = tomlkit.document()
        document.add(tomlkit.comment(HEAD))
    data = memory.model_dump(mode="json", exclude_none=True)
    before = document.unwrap()
    for key, value in data.items():
        if before.get(key) == value:
            continue
        if key == "episode" and key in document:
            _episodes(document, before[key], value)
        elif key == "look":
            document[key] = _looks(value)
        else:
            document[key] = _tables(value) if isinstance(value, list) else value
    write_text(path, re.sub(r"\n{3,}", "\n\n", tomlkit.dumps(document)))


def _tables(values: list[dict[str, Any]]) -> Any:
    array = tomlkit.aot()
    for value in values:
        table = tomlkit.table()
        for key, entry in value.items():
            table.add(
                key, _tables(entry) if isinstance(entry, list) and entry and isinstance(entry[0], dict) else entry
            )
        array.append(table)
    return array


def _looks(values: list[dict[str, Any]]) -> Any:
    array = tomlkit.aot()
    for value in values:
        table = tomlkit.table()
        table.add("file", value["file"])
        table.add("text", tomlkit.string(value["text"], multiline=True))
        array.append(table)
    return array


def _episodes(document: Any, before: list[dict[str, Any]], now: list[dict[str, Any]]) -> None:
    """Episodes that changed are written anew in their place; new ones come last."""
    array = document["episode"]
    for place, value in enumerate(now):
        if place < len(before):
            if before[place] != value:
                del array[place]  # tomlkit 0.12 takes no table in the place of another
                array.insert(place, _tables([value])[0])
        else:
            array.append(_tables([value])[0])
