"""Every display encoding carries what profiles, clips, pages and configurations need; a new one is one entry."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np
import pytest

from lookwright.app.bench.shown import screen_for
from lookwright.arrays import Array
from lookwright.colour.spaces import curves, encodings
from lookwright.colour.spaces.display import ClipTags, DisplayFacts, gamma
from lookwright.colour.spaces.encodings import CURATED, Encoding
from lookwright.colour.spaces.primaries import primaries
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import PictureError
from lookwright.lut.formats.ocio_config import Part, write_config
from lookwright.lut.lattices.lattice import Lattice, grid
from lookwright.pictures.clips.colour import MATRIX_CODES, PRIMARIES_CODES, TRANSFER_CODES, WEIGHTS
from lookwright.pictures.clips.write import tags_for
from lookwright.pictures.stills import profile_for

DISPLAYS = [name for name, e in CURATED.items() if e.kind == "display"]
CODES = np.linspace(0.0, 1.0, 257)

NEW = Encoding(
    "Gamma 2.2 P3",
    "display",
    "P3-D65",
    partial(curves.power_decode, gamma=2.2),
    partial(curves.power_encode, gamma=2.2),
    "a test",
    display=DisplayFacts(gamma(2.2), "", (ClipTags("P3-D65", 12, 4, 1),), "", ""),
)
"""H.273 transfer 4: an assumed display gamma of 2.2."""


@pytest.fixture(params=[*DISPLAYS, NEW.name])
def display(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[Encoding]:
    """Each display encoding, and one that nothing but the list of encodings knows of."""
    monkeypatch.setitem(CURATED, NEW.name, NEW)
    encodings.encoding.cache_clear()
    screen_for.cache_clear()
    yield CURATED[request.param]
    encodings.encoding.cache_clear()
    screen_for.cache_clear()


def _profile_curve(profile: bytes, codes: Array) -> Array:
    """Light of ``codes`` by the red curve that stands in the bytes of a profile; ICC.1:2022 10.18."""
    count = struct.unpack(">I", profile[128:132])[0]
    table = [struct.unpack(">4sII", profile[132 + 12 * i : 144 + 12 * i]) for i in range(count)]
    at = next(offset for name, offset, _ in table if name == b"rTRC")
    kind = struct.unpack(">H", profile[at + 8 : at + 10])[0]
    size = {0: 1, 3: 5}[kind]
    g, *rest = (n / 65536 for n in struct.unpack(f">{size}i", profile[at + 12 : at + 12 + 4 * size]))
    if kind == 0:
        return codes**g
    a, b, c, d = rest
    return np.where(codes >= d, (a * codes + b) ** g, c * codes)


def test_the_profile_says_the_curve_of_the_encoding(display: Encoding) -> None:
    profile = profile_for(display.name)
    if display.peak > 1.0:  # more light than a profile's white
        assert profile is None
        return
    assert profile is not None
    # Parameters are stored in steps of 1/65536: near the toe that is 2e-5 of light.
    np.testing.assert_allclose(_profile_curve(profile, CODES), display.decode(CODES), rtol=0, atol=3e-5)


def test_clip_tags_mean_the_encoding_or_say_why_there_are_none(display: Encoding) -> None:
    facts = display.display
    assert facts is not None
    assert (display.primaries in [t.gamut for t in facts.tags]) == (not facts.untagged)
    if facts.untagged:
        with pytest.raises(PictureError) as caught:
            tags_for(display.name, display.primaries)
        assert facts.untagged in caught.value.line()
    for t in facts.tags:
        tags = tags_for(display.name, t.gamut)
        assert (tags.primaries, tags.transfer, tags.matrix_code) == (t.primaries, t.transfer, t.matrix)
        # The reader's own table of H.273 names must call these codes what they are.
        assert PRIMARIES_CODES[t.primaries] == t.gamut
        assert MATRIX_CODES[t.matrix] in WEIGHTS
    said = {TRANSFER_CODES[t.transfer] for t in facts.tags}
    # Cameras' BT.709 and BT.2020 curves are what BT.1886 displays; sRGB's curve is Display P3's too.
    assert said <= {
        "BT.1886": {"BT.709", "BT.2020"},
        "Display P3": {"sRGB"},
        NEW.name: {"gamma 2.2"},
    }.get(display.name, {display.name})


@pytest.mark.parametrize("range_", ["full", "legal"])
@pytest.mark.parametrize("gamut", [None, "BT.709", "P3-D65", "BT.2020"])
def test_a_page_shows_it(display: Encoding, gamut: str | None, range_: str) -> None:
    """As it is where a canvas means it, else by way of one that does, in 0..1 and with the light unchanged."""
    output = Signal.named(display.name, gamut, "full" if range_ == "full" else "legal")
    screen = screen_for(output)
    assert screen.space in ("srgb", "display-p3")
    canvas_primaries = {"srgb": "BT.709", "display-p3": "P3-D65"}[screen.space]
    assert screen.signal.primaries.name == canvas_primaries and screen.signal.range == "full"
    assert bool(screen.note) == bool(screen.after) == (screen.signal != output)
    code = output.encode(np.full((1, 3), 0.5))  # a grey: inside every set of primaries
    shown = code
    for op in screen.after:
        shown = op(shown)
    np.testing.assert_allclose(screen.signal.to_light(shown), output.to_light(code), rtol=0, atol=1e-9)


def test_canvas_primaries_are_those_of_the_encoding(display: Encoding) -> None:
    assert display.display is not None
    canvas = display.display.canvas
    if canvas:
        assert display.primaries == {"srgb": "BT.709", "display-p3": "P3-D65"}[canvas]
        assert display.peak == 1.0


def test_a_configuration_carries_it(display: Encoding, tmp_path: Path) -> None:
    ocio = pytest.importorskip("PyOpenColorIO")
    part = Part(Lattice(grid(2)))
    signal = Signal.named(display.name)
    names = write_config(tmp_path, signal, signal, part, part)
    config = ocio.Config.CreateFromFile(str(tmp_path / "config.ocio"))
    word = "hdr-video" if display.peak > 1.0 else "sdr-video"
    assert config.getColorSpace(names.source).getEncoding() == word
    assert config.getColorSpace(f"{names.view} - {names.display}").getEncoding() == word


def test_its_primaries_are_known(display: Encoding) -> None:
    assert primaries(display.primaries).name == display.primaries


def test_facts_cannot_be_left_out() -> None:
    with pytest.raises(ValueError, match="display facts"):
        replace(NEW, display=None)
    with pytest.raises(ValueError, match="display facts"):
        replace(CURATED["ACEScct"], display=NEW.display)
