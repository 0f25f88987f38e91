"""What holds for every table: writing and reading, order of axes, lookups."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from lookwright.errors import LutFileError
from lookwright.lut.formats.cube import LONGEST_LINE, cube_text, parse_cube
from lookwright.lut.lattices.apply import Applier
from lookwright.lut.lattices.interpolate import linear, lookup
from lookwright.lut.lattices.lattice import Curves, Lattice, grid, sample

VALUES = st.floats(-4.0, 4.0) | st.sampled_from([0.0, -0.0, 5e-7, -5e-7, -4.9e-7, 1e-300, -1e-300, 1.0])
TABLES = st.integers(2, 4).flatmap(lambda n: hnp.arrays(np.float64, (n, n, n, 3), elements=VALUES))
POINTS = hnp.arrays(np.float64, (7, 3), elements=st.floats(-0.5, 1.5))
INTERPOLATIONS = st.sampled_from(["tetrahedral", "trilinear"])


@given(TABLES, st.integers(3, 9))
def test_written_text_is_strict_and_comes_back(table, digits):
    text = cube_text(Lattice(table), title='the "night" café', comments=["x", ""], digits=digits)
    lines = text.split("\n")
    assert text.isascii() and "\r" not in text and lines.pop() == ""
    assert lines[:4] == ["TITLE \"the 'night' cafe\"", "# x", "#", f"LUT_3D_SIZE {len(table)}"]
    assert len(lines) == 4 + len(table) ** 3 and all(len(line) <= LONGEST_LINE for line in lines)
    numbers = " ".join(lines[4:]).split(" ")
    assert all(len(n.partition(".")[2]) == digits for n in numbers)
    assert not any(n.startswith("-") and float(n) == 0.0 for n in numbers)
    got = parse_cube(text)
    assert got.warnings == []
    # Half a unit of the last decimal, plus double rounding of values up to 4.
    np.testing.assert_allclose(got.lattice.table, table, rtol=0, atol=0.5 * 10.0**-digits + 1e-15)


@given(TABLES.filter(lambda t: np.abs(t).max() > 0))
def test_significant_digits_hold_32_bit_values(table):
    values = table.astype(np.float32)
    text = cube_text(Lattice(values), digits=9, significant=True)
    np.testing.assert_array_equal(parse_cube(text).lattice.table.astype(np.float32), values)
    assert not any(n in ("-0", "-0.0") for n in text.split())


@given(TABLES)
def test_reader_gives_the_same_however_the_text_is_laid_out(table):
    """Comments and blank lines between rows go by the slow way; both ways must read the same."""
    text = cube_text(Lattice(table), digits=9)
    loose = "# begin\n" + text.replace("\n", "\r\n# between\r\n\r\n").replace(" ", " \t ")
    np.testing.assert_array_equal(parse_cube(text).lattice.table, parse_cube(loose).lattice.table)


@given(st.binary(max_size=300) | st.text(alphabet='LUT_3DSIZETLO MNA\n#"0123.-einf\t\r', max_size=300))
def test_any_bytes_are_read_or_refused_with_one_line(data):
    try:
        parse_cube(data)
    except LutFileError as error:
        assert "\n" not in str(error) and len(str(error)) < 300


@given(TABLES, POINTS, INTERPOLATIONS)
def test_lookup_stays_within_the_values_of_the_table(table, points, interpolation):
    got = lookup(Lattice(table), points, interpolation)
    low, high = table.min(axis=(0, 1, 2)), table.max(axis=(0, 1, 2))
    assert (got >= low - 1e-14).all() and (got <= high + 1e-14).all()


@given(TABLES, INTERPOLATIONS)
def test_lattice_points_come_back(table, interpolation):
    lattice = Lattice(table)
    np.testing.assert_allclose(lookup(lattice, grid(lattice.size), interpolation), table, rtol=0, atol=1e-14)


@given(POINTS, INTERPOLATIONS, st.integers(2, 9))
def test_affine_functions_are_exact(points, interpolation, n):
    matrix, offset = np.array([[0.7, 0.2, 0.1], [-0.1, 1.0, 0.1], [0.3, 0.0, 0.6]]), np.array([0.1, -0.2, 0.0])
    lattice = sample(lambda signal: signal @ matrix.T + offset, n)
    expected = np.clip(points, 0, 1) @ matrix.T + offset
    np.testing.assert_allclose(lookup(lattice, points, interpolation), expected, rtol=0, atol=1e-14)


@settings(max_examples=30)
@given(TABLES, POINTS, INTERPOLATIONS)
def test_fast_path_follows_the_exact_one(table, points, interpolation):
    # Values up to 4 and neighbours that differ by 8: 32-bit rounding of the fractions counts 8 x 3 times.
    got = Applier(Lattice(table), interpolation)(points)
    np.testing.assert_allclose(got, lookup(Lattice(table), points, interpolation), rtol=0, atol=8e-6)


@settings(max_examples=30)
@given(hnp.arrays(np.float64, (5, 3), elements=VALUES), POINTS)
def test_fast_path_follows_the_exact_one_for_curves(table, points):
    curves = Curves(table, (-0.2, 0.0, 0.1), (1.0, 1.4, 0.9))
    # As above; the stretch of the input range adds to it.
    np.testing.assert_allclose(Applier(curves)(points), linear(curves, points), rtol=0, atol=2e-5)


@pytest.mark.parametrize("threads", [2, 3, 7])
def test_values_do_not_depend_on_the_number_of_threads(threads):
    def look(signal):
        return np.sqrt(np.abs(np.sin(signal @ np.array([[1.0, 2.0, 3.0], [0.5, 0.1, 0.2], [3.0, 1.0, 0.7]]))))

    calls: list[tuple[int, int]] = []
    one, many = (
        sample(look, 17, threads=1, chunk=500),
        sample(look, 17, threads=threads, chunk=500, progress=lambda done, total: calls.append((done, total))),
    )
    np.testing.assert_array_equal(one.table, many.table)
    assert calls[-1] == (17**3, 17**3) and calls == sorted(calls)
    picture = np.random.default_rng(0).random((301, 997, 3)).astype(np.float32)
    np.testing.assert_array_equal(Applier(one, threads=1)(picture), Applier(one, threads=threads)(picture))
