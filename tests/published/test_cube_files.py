"""Reading .cube files made by others.

Sources: the test resources in colour-science's wheel (``colour/io/luts/tests/resources``), with the answer
that OpenColorIO 2.6.0 gave to 0.18 0.5 0.75 (tetrahedral, tolerance 1e-6); the examples and rules of Cube
LUT Specification 1.0 as that library carries them. Files are skipped, not passed, when the installed wheel
has no test resources.
"""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pytest

from lookwright.errors import LutFileError
from lookwright.lut.formats.cube import parse_cube, read_cube
from lookwright.lut.lattices.apply import Applier
from lookwright.lut.lattices.interpolate import linear, lookup

POINT = (0.18, 0.5, 0.75)
# name, size, answer
SHIPPED_3D = [
    ("Unit.cube", 4, (0.18, 0.5, 0.75)),
    ("RGB_1_0.5_0.25.cube", 4, (0.18, 0.25, 0.1875)),
    ("Three_Dimensional_Table.cube", 2, (0.18, 0.5625, 0.75)),
    ("Colour_Correct.cube", 4, (0.177597, 0.458684, 0.700183)),
    ("eotf_sRGB_3D.cube", 8, (0.035235, 0.225957, 0.544124)),
]
SHIPPED_1D = [
    ("Demo.cube", 3, (0.18, 0.5, 0.75)),
    ("ACES_Proxy_10_to_ACES.cube", 32, (0.006427, 0.601800, 20.757500)),
]


def shipped(name: str) -> Path:
    """The file in the folder of .cube resources that has no shaper files, if the wheel has it."""
    spec = importlib.util.find_spec("colour")
    assert spec is not None and spec.submodule_search_locations
    root = Path(spec.submodule_search_locations[0]) / "io" / "luts" / "tests" / "resources"
    found = sorted(root.glob(f"*/{name}"))
    if not found:
        pytest.skip("this wheel of colour-science has no test resources")
    return found[0]


@pytest.mark.parametrize(("name", "size", "answer"), SHIPPED_3D)
def test_shipped_3d_files(name, size, answer):
    file = read_cube(shipped(name))
    assert file.curves is None and file.lattice is not None and file.warnings == []
    assert file.lattice.size == size
    # The answers are printed to six decimals.
    np.testing.assert_allclose(lookup(file.lattice, POINT), answer, rtol=0, atol=1e-6)
    np.testing.assert_allclose(Applier(file)(POINT), answer, rtol=0, atol=1e-6)


@pytest.mark.parametrize(("name", "size", "answer"), SHIPPED_1D)
def test_shipped_1d_files(name, size, answer):
    file = read_cube(shipped(name))
    assert file.lattice is None and file.curves is not None
    assert file.curves.size == size
    # Six decimals; the third value of the second file is 20.7575, where 32-bit adds 2e-6.
    np.testing.assert_allclose(linear(file.curves, POINT), answer, rtol=2e-7, atol=1e-6)
    np.testing.assert_allclose(Applier(file)(POINT), answer, rtol=2e-7, atol=1e-6)


def test_shipped_shaper_and_cube_in_one_file():
    """colour-science reads the same numbers, as a 1D table before a 3D one."""
    import colour

    path = shipped("Three_Dimensional_Table_With_Shaper.cube")
    file, theirs = read_cube(path), colour.read_LUT(str(path))
    assert file.curves is not None and file.lattice is not None
    np.testing.assert_array_equal(file.curves.table, theirs[0].table)
    np.testing.assert_array_equal(file.lattice.table, theirs[1].table)
    np.testing.assert_array_equal([file.lattice.domain_min, file.lattice.domain_max], theirs[1].domain)


def test_shipped_domain_is_read():
    lattice = read_cube(shipped("eotf_sRGB_3D.cube")).lattice
    assert lattice.domain_min == (-0.1, -0.15, -0.2) and lattice.domain_max == (1.5, 2.0, 3.0)


# Cube LUT Specification 1.0, the 1D example (a comment between rows), as colour-science carries it.
DEMO = """TITLE "Demo"
LUT_1D_SIZE 3
DOMAIN_MIN 0 0 0
DOMAIN_MAX 1 2 3
0 0 0
# Comments can go anywhere
0.5 1 1.5
1 1 1
"""


def test_specification_example_1d():
    file = parse_cube(DEMO)
    assert file.title == "Demo" and file.comments == ["Comments can go anywhere"]
    np.testing.assert_array_equal(file.curves.table, [[0, 0, 0], [0.5, 1, 1.5], [1, 1, 1]])
    assert file.curves.domain_max == (1.0, 2.0, 3.0)


# Cube LUT Specification 1.0, the 3D example: red fastest, blue slowest.
EXAMPLE = "LUT_3D_SIZE 2\n0 0 0\n1 0 0\n0 .75 0\n1 .75 0\n0 .25 1\n1 .25 1\n0 1 1\n1 1 1\n"


def test_specification_example_3d_runs_red_fastest():
    table = parse_cube(EXAMPLE).lattice.table
    np.testing.assert_array_equal(table[1, 0, 0], [1, 0, 0])
    np.testing.assert_array_equal(table[0, 1, 0], [0, 0.75, 0])
    np.testing.assert_array_equal(table[0, 0, 1], [0, 0.25, 1])


def test_range_keyword_as_opencolorio_and_colour_science_honour_it():
    """Measured in both: range 0 2 turns an identity of size 2 into a halving."""
    head, _, rows = EXAMPLE.partition("\n")
    identity = rows.replace(".75", "1").replace(".25", "0")
    file = parse_cube(f"{head}\nLUT_3D_INPUT_RANGE 0 2\n{identity}")
    np.testing.assert_allclose(lookup(file.lattice, (0.2, 0.5, 0.8)), (0.1, 0.25, 0.4), rtol=0, atol=1e-15)


def test_blanks_and_tabs_round_keywords_and_data():
    """OpenColorIO's unit tests for its .cube reader hold a text like this, which must load."""
    spaced = EXAMPLE.replace("LUT_3D_SIZE 2", "  \tLUT_3D_SIZE \t 2 \t").replace("1 .75 0", "\t1  \t.75 0  ")
    np.testing.assert_array_equal(parse_cube(spaced).lattice.table, parse_cube(EXAMPLE).lattice.table)


MALFORMED = {
    "two sizes": EXAMPLE.replace("SIZE 2", "SIZE 2 2"),
    "two-number minimum": EXAMPLE.replace("SIZE 2", "SIZE 2\nDOMAIN_MIN 0.0 0.0"),
    "four-number maximum": EXAMPLE.replace("SIZE 2", "SIZE 2\nDOMAIN_MAX 1.0 1.0 1.0 1.0"),
    "unknown keyword": EXAMPLE.replace("SIZE 2", "SIZE 2\nWRONG_TAG"),
    "ten rows": EXAMPLE + "1 1 1\n1 1 1\n",
}


@pytest.mark.parametrize("text", MALFORMED.values(), ids=MALFORMED)
def test_malformed_texts_of_opencolorios_unit_tests_are_refused(text):
    """The five kinds of malformed text in OpenColorIO's unit tests for its .cube reader."""
    with pytest.raises(LutFileError):
        parse_cube(text)
