"""CLF, CDL and Hald: what is refused on writing and reading, bounds against hostile files, and repeatable bytes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from lookwright.errors import LutFileError, PictureError
from lookwright.lut.formats import hald, safe_xml
from lookwright.lut.formats.cdl import Correction, cdl_text, read_cdl, write_cdl
from lookwright.lut.formats.clf import clf_text, identity_of, read_clf, write_clf
from lookwright.lut.formats.read import read_lut
from lookwright.lut.lattices.lattice import Curves, Lattice, grid, sample
from lookwright.pictures.stills import read, write

CUBE = Lattice(grid(3))


# hostile XML


BOMB = '<!DOCTYPE a [<!ENTITY x "xxxxxxxxxx"><!ENTITY y "&x;&x;&x;&x;&x;&x;&x;&x;">]><ProcessList>&y;</ProcessList>'
OUTSIDE = '<!DOCTYPE a [<!ENTITY x SYSTEM "file:///etc/hostname">]><ProcessList>&x;</ProcessList>'


@pytest.mark.parametrize("suffix", [".clf", ".cc", ".ccc", ".cdl"])
@pytest.mark.parametrize(
    ("text", "words"),
    [
        (BOMB, "has a DOCTYPE; expected plain XML without one"),
        (OUTSIDE, "has a DOCTYPE"),
        ("<a>" * 200_000, "is nested more than 16 levels deep"),
        ("<a>" + "<b/>" * 200_001 + "</a>", "has more than 100000 elements"),
        ("<a><b></a>", "is not well-formed XML: mismatched tag"),
        ("", "the file is empty"),
        ("  \n", "the file is empty"),
        ("LUT_3D_SIZE 2\n", "is not well-formed XML"),
        ('<?xml version="1.0" encoding="no-such"?><a/>', "XML"),
        ("<a>\0</a>", "XML"),
    ],
)
def test_hostile_xml_is_one_line(tmp_path: Path, suffix: str, text: str, words: str) -> None:
    path = tmp_path / f"bad{suffix}"
    path.write_bytes(text.encode())
    with pytest.raises(LutFileError) as caught:
        read_lut(path)
    line = caught.value.line()
    assert words in line and line.startswith(str(path)) and "\n" not in line and len(line) < 400


def test_files_beyond_the_limit_are_not_read_into_memory(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "big.cc"
    with open(path, "wb") as file:
        file.truncate(20_000_001)  # sparse
    with pytest.raises(LutFileError, match="too large for a CDL file; expected at most 20 MB"):
        read_cdl(path)


@pytest.mark.parametrize("name", ["missing.clf", "missing.cc", "folder.clf"])
def test_what_is_no_file(tmp_path: Path, name: str) -> None:
    (tmp_path / "folder.clf").mkdir()
    with pytest.raises(LutFileError, match=r"no such file|this is a folder, not a CLF file"):
        read_lut(tmp_path / name)


def test_an_unknown_ending(tmp_path: Path) -> None:
    (tmp_path / "a.txt").write_text("x")
    with pytest.raises(LutFileError, match=r"cannot read LUT files ending in '\.txt'"):
        read_lut(tmp_path / "a.txt")


def test_other_xml_text_encodings_are_read(tmp_path: Path) -> None:
    text = cdl_text([Correction(id="Wärme")], ".cc").replace("UTF-8", "UTF-16")
    (tmp_path / "a.cc").write_bytes(text.encode("utf-16"))
    assert read_cdl(tmp_path / "a.cc")[0].id == "Wärme"
    assert safe_xml.parse(b"\xef\xbb\xbf<a/>", "x").tag == "a"


# CLF


def test_clf_comes_back(tmp_path: Path) -> None:
    curves = Curves(np.linspace(0, 1, 9)[:, None] ** np.array([0.8, 1.0, 1.3]))
    cube = sample(lambda s: np.stack([s[:, 1], s[:, 2] ** 2, s[:, 0] * 1.5 - 0.2], axis=-1), 5)
    notes = ["Feed it: <this> & that", "", "| indented = 1  \\u0020", "last"]
    write_clf(tmp_path / "a.clf", cube, curves, identity=identity_of("a"), title='A "b" <c>', comments=notes)
    found = read_clf(tmp_path / "a.clf")
    assert found.title == 'A "b" <c>' and found.identity == identity_of("a")
    assert found.notes == notes and found.nodes == ["LUT1D", "LUT3D"]
    assert found.recipe() is None


def test_clf_bytes_repeat_and_name_themselves(tmp_path: Path) -> None:
    words = {"identity": identity_of("x", "y"), "title": "t", "feed": "f", "gives": "g"}
    assert clf_text(CUBE, **words) == clf_text(Lattice(CUBE.table.copy()), **words)
    assert identity_of("x", "y") == identity_of("x", "y") != identity_of("xy")
    # RFC 4122: version 5, variant 1.
    assert identity_of("x")[9:][14] == "5" and identity_of("x")[9:][19] in "89ab"
    assert clf_text(CUBE, **words).isascii() and "-0 " not in clf_text(Lattice(-0.0 * CUBE.table), **words)


def test_clf_refuses_to_write_what_it_cannot_say() -> None:
    with pytest.raises(LutFileError, match="neither a lattice nor curves"):
        clf_text(None, identity="a")
    with pytest.raises(LutFileError, match="the input range is"):
        clf_text(Lattice(CUBE.table, (0.0, 0.0, 0.0), (2.0, 2.0, 2.0)), identity="a")


def test_clf_refuses_nan_pixels_and_takes_infinite_ones(tmp_path: Path) -> None:
    write_clf(tmp_path / "a.clf", CUBE, identity="a")
    found = read_clf(tmp_path / "a.clf")
    with pytest.raises(PictureError, match="NaN"):
        found(np.array([[0.1, np.nan, 0.2]]))
    assert found(np.array([[np.inf, -np.inf, 0.5]])).tolist() == [[1.0, 0.0, 0.5]]
    assert found(np.empty((0, 3))).shape == (0, 3) and found(np.zeros((2, 4, 3))).shape == (2, 4, 3)


def test_a_rewritten_clf_is_read_anew(tmp_path: Path) -> None:
    """OpenColorIO remembers files by their path; ours must not show the earlier one."""
    for value in (0.25, 0.75):
        write_clf(tmp_path / "a.clf", Lattice(np.full((2, 2, 2, 3), value)), identity="a")
        assert read_clf(tmp_path / "a.clf")(np.zeros((1, 3)))[0, 0] == value


# ASC CDL


@pytest.mark.parametrize(
    ("numbers", "words"),
    [
        ({"slope": (1.0, -0.1, 1.0)}, "slope -0.1; expected 0 or more"),
        ({"power": (1.0, 0.0, 1.0)}, "power 0; expected above 0"),
        ({"saturation": -1.0}, "saturation -1"),
        ({"offset": (float("nan"), 0.0, 0.0)}, "offset nan"),
        ({"slope": (float("inf"), 1.0, 1.0)}, "slope inf"),
    ],
)
def test_a_correction_that_cannot_be(numbers: dict[str, object], words: str) -> None:
    with pytest.raises(LutFileError, match=words):
        Correction(id="a", **numbers)  # type: ignore[arg-type]


def test_cdl_ids_are_needed_and_unique() -> None:
    a, b = Correction(id="a"), Correction(id="b")
    assert cdl_text([a, b], ".ccc").count("<ColorCorrection ") == 2
    for wrong, kind, words in (
        ([a, a], ".ccc", "used twice"),
        ([Correction()], ".cc", "is empty"),
        ([a, b], ".cc", "2 corrections for a .cc"),
        ([], ".cdl", "0 corrections"),
        ([a], ".xml", "a file ending in '.xml'"),
    ):
        with pytest.raises(LutFileError, match=words):
            cdl_text(wrong, kind)


def test_cdl_text_that_would_be_markup(tmp_path: Path) -> None:
    one = Correction(id='<a href="x">&', words=("5 < 6 & 7 > 2", "line\nbreak\x07"))
    for suffix in (".cc", ".ccc", ".cdl"):
        write_cdl(tmp_path / f"a{suffix}", [one])
        (back,) = read_cdl(tmp_path / f"a{suffix}")
        assert back.id == one.id and back.words == ("5 < 6 & 7 > 2", "line break")


def test_a_collection_is_not_one_lut(tmp_path: Path) -> None:
    write_cdl(tmp_path / "a.ccc", [Correction(id="shot-1"), Correction(id="shot-2")])
    with pytest.raises(
        LutFileError, match=r"holds 2 corrections; expected one; name one with --correction ID, .*: shot-1, shot-2$"
    ):
        read_lut(tmp_path / "a.ccc")


def test_nine_digits_come_back(tmp_path: Path) -> None:
    one = Correction((1.0123456789, 1e-9, 3.0), (-0.1, 1 / 3, 0.0), (0.1, 2.2, 1.0), 0.7, "a")
    write_cdl(tmp_path / "a.cc", [one])
    (back,) = read_cdl(tmp_path / "a.cc")
    for name in ("slope", "offset", "power"):
        np.testing.assert_allclose(getattr(back, name), getattr(one, name), rtol=5e-9)


# Hald


def test_hald_comes_back_to_half_a_code(tmp_path: Path) -> None:
    cube = sample(lambda s: np.stack([s[:, 1] ** 2, s[:, 2], s[:, 0] * 0.5], axis=-1), 16)
    hald.write_hald(tmp_path / "a.png", cube)
    assert read(tmp_path / "a.png").depth == "16" and read(tmp_path / "a.png").pixels.shape == (64, 64, 3)
    # Half a code, and the 32-bit numbers of a still.
    assert np.abs(hald.read_hald(tmp_path / "a.png").table - cube.table).max() <= 0.5 / 65535 + 3e-8


def test_hald_identity() -> None:
    assert hald.identity(8).size == 64 and hald.points_of(8) == 64
    picture = hald.to_picture(hald.identity(4))
    # Red first along the row, then green, then blue.
    np.testing.assert_allclose(picture[0, :2], [[0, 0, 0], [1 / 15, 0, 0]])
    np.testing.assert_allclose(picture[0, 16], [0, 1 / 15, 0])
    np.testing.assert_allclose(picture[4, 0], [0, 0, 1 / 15])


def test_hald_faults(tmp_path: Path) -> None:
    with pytest.raises(LutFileError, match="33 points a side; expected one of 4, 9, 16"):
        hald.to_picture(Lattice(grid(33)))
    with pytest.raises(LutFileError, match="level 1"):
        hald.points_of(1)
    with pytest.raises(LutFileError, match=r"does not end in \.png"):
        hald.write_hald(tmp_path / "a.tif", hald.identity(2))
    with pytest.raises(LutFileError, match="the input range is"):
        hald.to_picture(Lattice(grid(4), (0.0, 0.0, 0.0), (2.0, 2.0, 2.0)))
    write(tmp_path / "photo.png", np.zeros((64, 32, 3), np.float32))
    with pytest.raises(LutFileError, match=r"32 x 64 pixels; expected a square of L\^3 pixels"):
        hald.read_hald(tmp_path / "photo.png")
    write(tmp_path / "square.png", np.zeros((65, 65, 3), np.float32))
    with pytest.raises(LutFileError, match="65 x 65 pixels"):
        hald.read_hald(tmp_path / "square.png")
