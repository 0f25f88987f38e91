"""Timelines: which shots they name, where their media lie, and that an EDL's text stays the user's own."""

from __future__ import annotations

import random
import re
from pathlib import Path

import pytest

pytest.importorskip("opentimelineio")

from lookwright.errors import TimelineError
from lookwright.lut.formats.cdl import Correction
from lookwright.lut.formats.edl_cdl import with_corrections
from lookwright.pictures.timelines.edl import blocks, parse_edl, seconds, split_lines
from lookwright.pictures.timelines.event import Event
from lookwright.pictures.timelines.media import Media
from lookwright.pictures.timelines.read import read_timeline, timeline_text

EDL = """\
TITLE: WORKSHOP, EPISODE 1
FCM: NON-DROP FRAME

001  A001     V     C        10:00:05:00 10:00:09:00 01:00:00:00 01:00:04:00
* FROM CLIP NAME: bench.mov
* a remark of the editor
002  A002     V     C        10:00:05:00 10:00:05:00 01:00:04:00 01:00:04:00
002  B001     V     D    024 10:01:00:12 10:01:04:12 01:00:04:00 01:00:08:00
* FROM CLIP NAME: bench.mov
* TO CLIP NAME: door.mov
003  BL       V     C        00:00:00:00 00:00:01:00 01:00:08:00 01:00:09:00
004  A001     AA    C        10:00:05:00 10:00:09:00 01:00:00:00 01:00:04:00
005  AX       B     C        00:00:02:00 00:00:03:00 01:00:09:00 01:00:10:00
M2   AX       012.0          00:00:02:00
* SOURCE FILE: varnish.mov
* FROM CLIP NAME: varnish take 2

006  C003     V     D    012 00:00:10:00 00:00:12:00 01:00:10:00 01:00:12:00
"""


def test_the_events_of_a_list() -> None:
    told = parse_edl(EDL, "ep.edl", 24.0)
    rows = [(e.place, e.label, e.name, e.media, e.first, e.last) for e in told.events]
    hour, minute = 3600.0, 60.0
    assert rows == [
        (0, "001", "bench.mov", ("bench.mov", "A001"), 10 * hour + 5, 10 * hour + 9),
        (1, "002", "door.mov", ("door.mov", "B001"), 10 * hour + minute + 0.5, 10 * hour + minute + 4.5),
        (2, "005", "varnish take 2", ("varnish.mov", "varnish take 2"), 2.0, 3.0),
        (3, "006", "C003", ("C003",), 10.0, 12.0),
    ], "of a dissolve what is faded to, also where it stands alone; black and sound are none"
    assert told.notes == ("2 events of sound, black or bars passed over",)


@pytest.mark.parametrize(
    ("rate", "drop", "code", "wanted"),
    [
        (25.0, False, "00:01:00:05", 60.2),
        (24000 / 1001, False, "01:00:00:00", 3600 * 24 * 1001 / 24000),
        # SMPTE ST 12-1: ten minutes of dropped frames are 17,982 frames of 1001/30000 s.
        (29.97, True, "00:10:00:00", 17982 * 1001 / 30000),
        (29.97, False, "00:10:00;00", 17982 * 1001 / 30000),
        (29.97, False, "00:10:00:00", 18000 * 1001 / 30000),
        (59.94, False, "00:10:00;00", 35964 * 1001 / 60000),
    ],
)
def test_timecode(rate: float, drop: bool, code: str, wanted: float) -> None:
    assert seconds(code, rate, drop, "x") == pytest.approx(wanted, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "rate", "words"),
    [
        ("", 24.0, "holds no event"),
        ("TITLE: x\n\nnothing here\n", 24.0, "holds no event"),
        ("001  BL  V  C  00:00:00:00 00:00:01:00 00:00:00:00 00:00:01:00\n", 24.0, "holds sound or black only"),
        ("001  A  V  C  00:00:00:24 00:00:01:00 00:00:00:00 00:00:01:00\n", 24.0, "is no timecode at 24"),
        (EDL, 17.3, "has no timecode"),
    ],
)
def test_lists_that_are_none(text: str, rate: float, words: str) -> None:
    with pytest.raises(TimelineError, match=words):
        parse_edl(text, "ep.edl", rate)


def test_a_change_of_frame_code_mode_counts_from_where_it_stands() -> None:
    line = "00{n}  A  V  C  00:10:00:00 00:10:01:00 00:00:00:00 00:00:01:00\n"
    text = f"FCM: NON-DROP FRAME\n{line.format(n=1)}FCM: DROP FRAME\n{line.format(n=2)}"
    first, second = parse_edl(text, "x.edl", 29.97).events
    assert first.first is not None and second.first is not None
    assert first.first - second.first == pytest.approx(18 * 1001 / 30000)


def values(n: int) -> Correction:
    return Correction((1.0 + n / 100, 1.0, 0.9), (-0.01 * n, 0.0, 1e-7), (1.0, 1.1, 1.0), 0.95, f"shot {n}")


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("last", [True, False])
def test_the_text_is_untouched_but_for_the_cdl_lines(end: str, last: bool) -> None:
    text = EDL.replace("bench.mov", "b\xe4nk.mov").replace("\n", end)
    text = text if last else text.removesuffix(end)
    marked = with_corrections(text, {n: values(n) for n in range(4)})
    assert marked.replaced == 0
    lines = split_lines(marked.text)
    ours = [at for at, line in enumerate(lines) if re.match(r"\* ASC_(SOP|SAT)", line)]
    rest = "".join(line for at, line in enumerate(lines) if at not in ours)
    assert rest.removesuffix(end) == text.removesuffix(end), "byte for byte"
    assert len(ours) == 8
    # Behind the last remark of each event, before blank lines and what comes next.
    before = [lines[at - 1].strip() for at in ours[::2]]
    assert before[0] == "* a remark of the editor" and before[1] == "* TO CLIP NAME: door.mov"
    assert before[2] == "* FROM CLIP NAME: varnish take 2" and before[3].startswith("006")


def test_values_that_were_there_are_replaced_where_they_stood() -> None:
    once = with_corrections(EDL, {0: values(1), 2: values(2)})
    again = with_corrections(once.text, {0: values(3), 2: values(2)})
    assert (once.replaced, again.replaced) == (0, 2)
    assert again.text == with_corrections(EDL, {0: values(3), 2: values(2)}).text
    assert "* ASC_SOP (1.030000 1.000000 0.900000)(-0.030000 0.000000 0.000000)" in again.text


def test_a_list_without_an_end_of_line() -> None:
    line = "001  A  V  C  00:00:00:00 00:00:01:00 00:00:00:00 00:00:01:00"
    marked = with_corrections(line, {0: values(0)})
    assert marked.text.startswith(line + "\n* ASC_SOP") and marked.text.endswith("* ASC_SAT 0.950000")
    assert with_corrections(marked.text, {0: values(0)}).text == marked.text


def test_any_text_is_given_back() -> None:
    rng = random.Random(20)
    alphabet = [
        "001  A  V  C  00:00:00:00 00:00:01:00 00:00:00:00 00:00:01:00",
        "* X",
        "\r",
        "\n",
        "\r\n",
        " ",
        "é",
        "M2 ",
    ]
    for _ in range(300):
        text = "".join(rng.choice(alphabet) for _ in range(rng.randrange(12)))
        lines = split_lines(text)
        assert "".join(lines) == text
        shown = [b for b in blocks(lines) if b.shown]
        marked = with_corrections(text, {n: values(n) for n in range(len(shown))})
        left = re.sub(r"\* ASC_S[OA][PT] [^\r\n]*(\r\n|\r|\n)?", "", marked.text)
        assert left.rstrip("\r\n") == text.rstrip("\r\n")


# -- media ----------------------------------------------------------------------------------------------------------


def event(*media: str) -> Event:
    return Event(0, "001", media[0], media, None, None)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name in ("day 1/A001.mov", "day 2/B001.MOV", "day 2/still.png", "day 3/A001.mov", ".hidden/C001.mov"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(b"x")
    return tmp_path


def test_media_are_found_by_name_reel_and_path(folder: Path) -> None:
    places = Media([folder], folder)
    assert places.of(event("b001")) == folder / "day 2/B001.MOV", "whatever the case, and without its ending"
    assert places.of(event("no such take", "STILL.PNG")) == folder / "day 2/still.png"
    assert places.of(event((folder / "day 3/A001.mov").as_uri())) == folder / "day 3/A001.mov", "a path decides"
    assert places.of(event("day 1/A001.mov")) == folder / "day 1/A001.mov", "from the timeline's folder"
    assert places.of(event("X:\\rushes\\B001.mov")) == folder / "day 2/B001.MOV", "a path of another machine"
    with pytest.raises(TimelineError, match="more than one file is called A001"):
        places.of(event("A001"))
    with pytest.raises(TimelineError, match="no file for it was found"):
        places.of(event("C001"))
    assert Media([folder], folder, without=folder / "day 3").of(event("A001")) == folder / "day 1/A001.mov"
    (folder / "day 1/series.ccc").write_text("made from day 3")
    assert Media([folder], folder).of(event("A001")) == folder / "day 3/A001.mov", "not what an earlier run made"
    with pytest.raises(TimelineError, match="no such folder"):
        Media([folder / "none"], folder)


# -- OpenTimelineIO's own format ------------------------------------------------------------------------------------


def test_an_otio_timeline(tmp_path: Path) -> None:
    import opentimelineio as otio

    def clip(name: str, first: int, start: int, url: str = "", **more: object) -> object:
        def span(a: int, n: int) -> object:
            return otio.opentime.TimeRange(otio.opentime.RationalTime(a, 24), otio.opentime.RationalTime(n, 24))

        reference = otio.schema.ExternalReference(url, span(start, 240)) if url else otio.schema.MissingReference()
        return otio.schema.Clip(name, reference, span(first, 48), **more)

    timeline = otio.schema.Timeline("episode 1")
    pictures, sounds = otio.schema.Track("V1", kind="Video"), otio.schema.Track("A1", kind="Audio")
    nested = otio.schema.Stack("inside")
    nested.append(otio.schema.Track("V", [clip("inner", 24, 0, "inner.mov")], kind="Video"))
    off = clip("off", 0, 0)
    off.enabled = False
    black = otio.schema.Clip("black", otio.schema.GeneratorReference("black", "black"))
    pictures.extend(
        [clip("bench", 86424, 86400, "file:///rushes/b%20ench.mov"), nested, off, black, clip("door", 0, 0)]
    )
    sounds.append(clip("sound", 0, 0))
    timeline.tracks.extend([pictures, sounds])
    path = tmp_path / "ep.otio"
    otio.adapters.write_to_file(timeline, str(path))
    told = read_timeline(path, 24.0)
    assert [(e.place, e.name, e.media[0], e.first, e.last, e.start) for e in told.events] == [
        (0, "bench", "file:///rushes/b%20ench.mov", 3601.0, 3603.0, 3600.0),
        (1, "inner", "inner.mov", 1.0, 3.0, 0.0),
        (2, "door", "door", 0.0, 2.0, None),
    ]
    assert told.notes == ("3 clips of sound, generated or switched off passed over",)


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("a.otio", b"{", "is no JSON text"),
        ("a.otio", b"[" * 5000, "is no JSON text|is nested"),
        ("a.otio", b"[" * 300 + b"]" * 300, "is nested more than 200 deep"),
        ("a.otio", b"\xff\xfe", "is no UTF-8 text"),
        ("a.otio", b"[1, 2]", "does not read it|holds a"),
        ("a.otio", b'{"OTIO_SCHEMA": "SerializableCollection.1", "children": []}', "does not read it|holds a Ser"),
        ("a.otio", b'{"OTIO_SCHEMA": "Timeline.1", "name": "x"}', "holds no picture clip|does not read it"),
        ("a.xml", b"<x/>", "a name ending in .xml; expected .edl or .otio"),
    ],
)
def test_files_that_are_no_timeline(tmp_path: Path, name: str, data: bytes, words: str) -> None:
    path = tmp_path / name
    path.write_bytes(data)
    with pytest.raises(TimelineError, match=words):
        read_timeline(path, 24.0)


def test_an_edl_is_read_byte_for_byte(tmp_path: Path) -> None:
    path = tmp_path / "ep.edl"
    data = EDL.encode() + bytes(range(128, 256))
    path.write_bytes(data)
    assert timeline_text(path).encode("latin-1") == data
    path.write_bytes(EDL.replace("bench", "bänk").encode())
    assert read_timeline(path, 24.0).events[0].name == "bänk.mov"
