"""Every bad .cube gives one line that names the place, what was there and what belongs there."""

from __future__ import annotations

import os

import numpy as np
import pytest

from lookwright.errors import LutFileError, OutputError, PictureError
from lookwright.lut.formats.cube import cube_text, parse_cube, read_cube, write_cube
from lookwright.lut.lattices.apply import Applier
from lookwright.lut.lattices.interpolate import lookup
from lookwright.lut.lattices.lattice import Curves, Lattice, grid, sample

ROWS = "0 0 0\n1 0 0\n0 1 0\n1 1 0\n0 0 1\n1 0 1\n0 1 1\n1 1 1\n"
GOOD = "LUT_3D_SIZE 2\n" + ROWS

FAULTS = {
    "too few rows": (
        GOOD.removesuffix("1 1 1\n"),
        "x.cube, line 8: the table ends after row 7; expected 8 for LUT_3D_SIZE 2",
    ),
    "too many rows": (GOOD + "0.5 0.5 0.5\n", "x.cube, line 10: row 9: '0.5 0.5 0.5'; expected 8 for LUT_3D_SIZE 2"),
    "no rows": ("LUT_3D_SIZE 2\n", "x.cube, line 1: the table ends after row 0; expected 8 for LUT_3D_SIZE 2"),
    "NaN": (
        GOOD.replace("0 1 0", "0 nan 0"),
        "x.cube, line 4: 'nan' in '0 nan 0'; expected finite numbers (within 32-bit float)",
    ),
    "NaN first": (
        GOOD.replace("0 0 0", "NaN 0 0"),
        "x.cube, line 2: 'NaN' in 'NaN 0 0'; expected finite numbers (within 32-bit float)",
    ),
    "infinity": (
        GOOD.replace("0 1 0", "0 -inf 0"),
        "x.cube, line 4: '-inf' in '0 -inf 0'; expected finite numbers (within 32-bit float)",
    ),
    "beyond 32-bit": (
        GOOD.replace("0 1 0", "0 1e39 0"),
        "x.cube, line 4: '1e39' in '0 1e39 0'; expected finite numbers (within 32-bit float)",
    ),
    "size 1": (
        GOOD.replace("SIZE 2", "SIZE 1"),
        "x.cube, line 1: LUT_3D_SIZE 1; expected a whole number from 2 to 129",
    ),
    "size 300": (
        GOOD.replace("SIZE 2", "SIZE 300"),
        "x.cube, line 1: LUT_3D_SIZE 300; expected a whole number from 2 to 129",
    ),
    "size 2.5": (
        GOOD.replace("SIZE 2", "SIZE 2.5"),
        "x.cube, line 1: LUT_3D_SIZE 2.5; expected a whole number from 2 to 129",
    ),
    "size with a very long number": (
        GOOD.replace("SIZE 2", "SIZE " + "9" * 5000),
        "x.cube, line 1: LUT_3D_SIZE 99999999999999999999; expected a whole number from 2 to 129",
    ),
    "1D size 1": ("LUT_1D_SIZE 1\n0 0 0\n", "x.cube, line 1: LUT_1D_SIZE 1; expected a whole number from 2 to 65536"),
    "two sizes": (
        GOOD.replace("SIZE 2", "SIZE 2 2"),
        "x.cube, line 1: LUT_3D_SIZE with 2 values: 'LUT_3D_SIZE 2 2'; expected 1 value",
    ),
    "size twice": ("LUT_3D_SIZE 2\n" + GOOD, "x.cube, line 2: a second LUT_3D_SIZE: '2'; expected one"),
    "unknown keyword": (
        "# a\n\nLUT_4D_SIZE 2\n" + ROWS,
        "x.cube, line 3: unknown keyword in 'LUT_4D_SIZE 2'; expected a keyword of the .cube format, '#' or numbers",
    ),
    "no size": (
        'TITLE "a"\n' + ROWS,
        "x.cube, line 2: a table row before any size; expected LUT_3D_SIZE or LUT_1D_SIZE first",
    ),
    "header only": (
        'TITLE "a"\n# b\n',
        "x.cube: there is no LUT_3D_SIZE or LUT_1D_SIZE line and no table; expected a .cube LUT",
    ),
    "domain reversed": (
        "DOMAIN_MIN 0 1 0\nDOMAIN_MAX 1 0 1\n" + GOOD,
        "x.cube, line 2: the domain of G runs from 1 to 0; expected DOMAIN_MIN below DOMAIN_MAX in every channel",
    ),
    "domain of no width": (
        "DOMAIN_MAX 1 1 0\n" + GOOD,
        "x.cube, line 1: the domain of B runs from 0 to 0; expected DOMAIN_MIN below DOMAIN_MAX in every channel",
    ),
    "domain not a number": (
        "DOMAIN_MAX 1 1 one\n" + GOOD,
        "x.cube, line 1: 'one' in 'DOMAIN_MAX 1 1 one'; expected a decimal number",
    ),
    "domain twice": (
        "DOMAIN_MAX 1 1 1\nDOMAIN_MAX 1 1 1\n" + GOOD,
        "x.cube, line 2: a second DOMAIN_MAX: 'DOMAIN_MAX 1 1 1'; expected one",
    ),
    "input range reversed": (
        "LUT_3D_INPUT_RANGE 1 0\n" + GOOD,
        "x.cube, line 1: LUT_3D_INPUT_RANGE runs from 1 to 0; expected low before high",
    ),
    "input range against domain": (
        "DOMAIN_MAX 2 2 2\nLUT_3D_INPUT_RANGE 0 1\n" + GOOD,
        "x.cube, line 2: LUT_3D_INPUT_RANGE contradicts the DOMAIN lines; expected one or the other",
    ),
    "domain of two tables": (
        "LUT_1D_SIZE 2\nDOMAIN_MAX 2 2 2\nLUT_3D_SIZE 2\n0 0 0\n1 1 1\n" + ROWS,
        "x.cube, line 2: DOMAIN lines beside a 1D and a 3D table do not say which they mean; "
        "expected LUT_1D_INPUT_RANGE and LUT_3D_INPUT_RANGE",
    ),
    "range of a table that is not there": (
        "LUT_1D_INPUT_RANGE -1 3\n" + GOOD,
        "x.cube, line 1: LUT_1D_INPUT_RANGE without a 1D table; expected LUT_1D_SIZE too",
    ),
    "two numbers": (GOOD.replace("0 1 0", "0 1"), "x.cube, line 4: 2 values: '0 1'; expected three numbers"),
    "four numbers": (
        GOOD.replace("0 1 0", "0 1 0 1"),
        "x.cube, line 4: 4 values: '0 1 0 1'; expected three numbers",
    ),
    "numbers that only add up": (
        # 24 numbers on 8 lines, but two and four on the first two.
        GOOD.replace("0 0 0\n1 0 0", "0 0\n0 1 0 0"),
        "x.cube, line 2: 2 values: '0 0'; expected three numbers",
    ),
    "decimal comma": (
        GOOD.replace("0 1 0", "0 0,5 0"),
        "x.cube, line 4: '0,5' in '0 0,5 0'; expected a decimal number",
    ),
    "underscore": (GOOD.replace("0 1 0", "0 1_0 0"), "x.cube, line 4: '1_0' in '0 1_0 0'; expected a decimal number"),
    "comment after data": (
        GOOD.replace("0 1 0", "0 1 0 # green"),
        "x.cube, line 4: a comment after the numbers: '0 1 0 # green'; expected comments on lines of their own",
    ),
    "keyword after data": (
        GOOD.replace("0 1 0", "DOMAIN_MAX 1 1 1\n0 1 0"),
        "x.cube, line 4: DOMAIN_MAX after the table began; expected it before the table",
    ),
    "word among data": (
        GOOD.replace("0 1 0", "green"),
        "x.cube, line 4: unknown keyword in 'green'; expected a keyword of the .cube format, '#' or numbers",
    ),
    "empty": ("", "x.cube: the file is empty; expected a .cube LUT"),
    "blank": (" \n\r\n\t", "x.cube: the file is empty; expected a .cube LUT"),
    "UTF-16": (
        GOOD.encode("utf-16"),
        "x.cube: UTF-16 text; expected ASCII or UTF-8 text; save it as plain text",
    ),
    "binary": (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "x.cube: this is not text; expected a .cube LUT"),
    "binary without zero bytes": (
        b"\x89\x1b[31mPNG\xff\xfe" * 9,
        "x.cube, line 1: no keyword and no number; expected a keyword of the .cube format, '#' or numbers",
    ),
    "endless line": (
        b"0 " * 100_000,
        "x.cube, line 1: the line is longer than 65536 bytes; expected a .cube LUT",
    ),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_message(fault):
    text, line = FAULTS[fault]
    with pytest.raises(LutFileError) as caught:
        parse_cube(text, "x.cube")
    assert str(caught.value) == line
    assert "\x1b" not in caught.value.line()


def test_message_far_down_a_large_table():
    lattice = Lattice(grid(33))
    lines = cube_text(lattice, "t").split("\n")
    lines[20_000] = "0.1 0.2"
    with pytest.raises(LutFileError, match=r"^cube text, line 20001: 2 values: '0\.1 0\.2'"):
        parse_cube("\n".join(lines))


TOLERATED = {
    "byte-order mark": (
        b"\xef\xbb\xbf" + GOOD.encode(),
        "line 1: begins with a byte-order mark; other readers refuse this file",
    ),
    "lower case": (GOOD.lower(), "line 1: lut_3d_size is not in capitals; other readers may refuse it"),
    "title without quotes": ("TITLE night\n" + GOOD, "line 1: the title is not in double quotes"),
    "title after the table": (
        GOOD + 'TITLE "night"\n',
        "line 10: the title comes after the table; others refuse that",
    ),
}


@pytest.mark.parametrize("case", TOLERATED)
def test_tolerated_with_a_warning(case):
    text, warning = TOLERATED[case]
    file = parse_cube(text)
    assert file.warnings == [warning]
    np.testing.assert_array_equal(file.lattice.table, grid(2))
    if "title" in case:
        assert file.title == "night" and file.lattice.title == "night"


@pytest.mark.parametrize(
    "text",
    [
        GOOD.replace("\n", "\r\n"),
        GOOD.replace("\n", "\r"),
        GOOD.removesuffix("\n"),
        "\n\n" + GOOD.replace("\n", "\n\n"),
        GOOD.replace("1 1 0", "+1.0e0\t1. -0"),
        "DOMAIN_MIN 0 0 0\nDOMAIN_MAX 1 1 1\nLUT_1D_INPUT_RANGE 0 5\n" + GOOD,
    ],
    ids=["CR LF", "CR", "no last line feed", "blank lines", "number forms", "harmless ranges"],
)
def test_tolerated_without_a_word(text):
    file = parse_cube(text)
    assert file.warnings == []
    np.testing.assert_array_equal(file.lattice.table, grid(2))
    assert file.lattice.unit_domain


def test_latin_comments_are_kept():
    assert parse_cube("# caf\xe9\n".encode("latin-1") + GOOD.encode()).comments == ["café"]
    assert parse_cube("# café\n" + GOOD).comments == ["café"]


def test_missing_file_folder_and_pipe(tmp_path):
    with pytest.raises(LutFileError, match=r"none\.cube: no such file$"):
        read_cube(tmp_path / "none.cube")
    with pytest.raises(LutFileError, match=r"this is a folder, not a \.cube file$"):
        read_cube(tmp_path)
    with pytest.raises(LutFileError, match="null"):
        read_cube(str(tmp_path) + "\0")
    os.mkfifo(tmp_path / "pipe.cube")
    with pytest.raises(LutFileError, match=r"this is a pipe or device, not a \.cube file$"):
        read_cube(tmp_path / "pipe.cube")


def test_unreadable_file(tmp_path, monkeypatch):
    """As the operating system refuses it; root, who may read everything, cannot try it for real."""

    def refuse(*_args):
        raise PermissionError(13, "Permission denied")

    (tmp_path / "shut.cube").write_text(GOOD)
    monkeypatch.setattr(os, "open", refuse)
    with pytest.raises(LutFileError, match=r"shut\.cube: no permission to read it$"):
        read_cube(tmp_path / "shut.cube")


def test_huge_file_is_refused_before_it_is_parsed(tmp_path):
    path = tmp_path / "huge.cube"
    with open(path, "wb") as file:
        file.truncate(200_000_001)  # sparse: takes no disk
    with pytest.raises(LutFileError, match=r"huge\.cube: too large for a \.cube file; expected at most 200 MB"):
        read_cube(path)


def test_writer_refuses_what_readers_would_misread(tmp_path):
    identity = Lattice(grid(2))
    with pytest.raises(LutFileError, match=r"look\.txt: the name does not end in \.cube"):
        write_cube(tmp_path / "look.txt", identity)
    with pytest.raises(LutFileError, match="comment 2 has a line break; expected one line each"):
        cube_text(identity, comments=["a", "b\nLUT_3D_SIZE 3"])
    with pytest.raises(LutFileError, match=r"a line of 302 bytes: '# xxx.*; expected at most 250"):
        cube_text(identity, comments=["x" * 300])
    with pytest.raises(LutFileError, match="a line of 308 bytes"):
        cube_text(identity, title="x" * 300)
    with pytest.raises(LutFileError, match=r"expected 0 to 1 in a \.cube file.*use CLF with a shaper"):
        cube_text(Lattice(grid(2), domain_max=(2, 2, 2)))
    with pytest.raises(LutFileError, match="13 digits; expected 1 to 12"):
        cube_text(identity, digits=13)
    with pytest.raises(OutputError, match="the folder does not exist"):
        write_cube(tmp_path / "none" / "look.cube", identity)
    assert list(tmp_path.iterdir()) == []


def test_lattice_refuses_bad_tables():
    bad = grid(3).copy()
    bad[1, 2, 0, 1] = np.nan
    with pytest.raises(LutFileError, match=r"point \(1, 2, 0\), channel G is nan; expected finite"):
        Lattice(bad)
    for shape in ((3, 3, 3), (3, 3, 2, 3), (3, 3, 3, 4)):
        with pytest.raises(LutFileError, match=r"expected \(N, N, N, 3\)"):
            Lattice(np.zeros(shape))
    for n in (1, 130):
        with pytest.raises(LutFileError, match=f"{n} points per axis; expected 2 to 129"):
            sample(lambda signal: signal, n)
    with pytest.raises(LutFileError, match="domain of B runs from 1 to 1"):
        Lattice(grid(2), (0, 0, 1), (1, 1, 1))
    with pytest.raises(LutFileError, match="N from 2 to 65536"):
        Curves(np.zeros((1, 3)))
    with pytest.raises(ValueError, match="read-only"):
        Lattice(grid(2)).table[0] = 0.0


def test_sampling_names_the_colour_that_is_not_finite():
    def look(signal):
        return np.where(signal[:, :1] > 0.9, np.inf, signal)

    with pytest.raises(LutFileError, match=r"^night: input 1\.0000 0\.0000 0\.0000 gives \[inf, inf, inf\]"):
        sample(look, 3, title="night")


def test_pictures_with_nan_and_of_integers_are_refused():
    applier = Applier(Lattice(grid(2)))
    picture = np.zeros((300, 400, 3), np.float32)
    picture[250, 7, 2] = picture[299, 0, 0] = np.nan
    with pytest.raises(PictureError, match="2 pixels are NaN, the first at row 250, column 7; expected numbers"):
        applier(picture)
    with pytest.raises(PictureError, match="uint16 pixels; expected floating point"):
        applier(np.zeros((4, 4, 3), np.uint16))
    with pytest.raises(PictureError, match=r"shape \(4, 4\); expected \(\.\.\., 3\)"):
        applier(np.zeros((4, 4)))
    with pytest.raises(PictureError, match="NaN among the input values"):
        lookup(Lattice(grid(2)), [0.0, np.nan, 0.0])


def test_infinities_and_out_of_range_are_clamped():
    lattice = sample(lambda signal: signal**2 + 0.1, 5)
    for interpolation in ("tetrahedral", "trilinear"):
        got = Applier(lattice, interpolation)([[np.inf, -np.inf, 3.0], [1e300, -7.0, 0.5]])
        np.testing.assert_allclose(got, [[1.1, 0.1, 1.1], [1.1, 0.1, 0.35]], rtol=0, atol=2e-7)


def test_picture_layouts_give_the_same_colours():
    lattice = sample(lambda signal: signal**1.5 @ np.array([[0.8, 0.1, 0.1], [0.0, 1.0, 0.0], [0.3, 0.0, 0.7]]), 9)
    applier = Applier(lattice, threads=2)
    rgba = np.random.default_rng(2).random((400, 501, 4)).astype(np.float32)
    rgba[3, 4, 3] = np.nan  # alpha may be anything
    original = rgba.copy()
    expected = lookup(lattice, rgba[..., :3])
    strided = applier(rgba[..., :3])
    np.testing.assert_allclose(strided, expected, rtol=0, atol=1e-6)
    assert strided.dtype == np.float32 and strided.flags.c_contiguous
    np.testing.assert_array_equal(applier(rgba[..., :3].astype(np.float64)), strided)
    np.testing.assert_array_equal(applier(rgba[..., :3].reshape(-1, 3)).reshape(strided.shape), strided)
    np.testing.assert_array_equal(applier(rgba[::2, ::-3, :3]), strided[::2, ::-3])
    np.testing.assert_array_equal(applier(rgba[7, 9, :3]), strided[7, 9])
    with_alpha = applier.rgba(rgba)
    np.testing.assert_array_equal(with_alpha[..., :3], strided)
    np.testing.assert_array_equal(with_alpha[..., 3], rgba[..., 3])
    np.testing.assert_array_equal(rgba, original)  # the input is not touched
    applier.apply_inplace_rgba(rgba)
    np.testing.assert_array_equal(rgba, with_alpha)
    assert applier(np.zeros((0, 5, 3))).shape == (0, 5, 3)
    with pytest.raises(PictureError, match="contiguous, writable float32"):
        applier.apply_inplace_rgba(original.astype(np.float64))
    again = np.zeros_like(original)
    assert applier.rgba(original, out=again) is again
    np.testing.assert_array_equal(again, with_alpha)
    np.testing.assert_array_equal(applier(original[..., :3], no_nan=True), strided)
    with pytest.raises(PictureError, match="contiguous, writable float32"):
        applier(original[..., :3], out=again)
