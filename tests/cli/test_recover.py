"""``lookwright recover``: the look comes back byte for byte, and its table is told from a changed one."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

AWKWARD = """\
# café, "quotes", a back\\\\slash and a tab\there; a line long enough to be broken in the header: {long}
format = 2
title = "Bänk"
[source]
encoding = "ACEScct"
[output]
encoding = "BT.1886"
[[step]]
kind = "contrast"
slope = 1.1
[[step]]
kind = "render"
[[step]]
kind = "gamut"
""".format(long="x" * 400)


@pytest.fixture
def baked(tmp_path: Path, lookwright: Any) -> Path:
    (tmp_path / "bench.toml").write_text(AWKWARD, encoding="utf-8")
    assert lookwright("bake", tmp_path / "bench.toml", "--size", 9, "--quiet").code == 0
    return tmp_path / "bench.cube"


@pytest.mark.parametrize("ending", ["\n", "", "\n\n\n", "  \n"])
def test_byte_for_byte(tmp_path: Path, lookwright: Any, ending: str) -> None:
    """Whatever the text ends with."""
    text = AWKWARD.rstrip("\n") + ending
    (tmp_path / "a.toml").write_bytes(text.encode("utf-8"))
    assert lookwright("bake", tmp_path / "a.toml", "--size", 5, "--quiet").code == 0
    said = lookwright("recover", tmp_path / "a.cube", "--out", tmp_path / "back.toml")
    assert said.code == 0
    assert (tmp_path / "back.toml").read_bytes() == text.encode("utf-8")
    assert "the table is the look's, to the last digit" in said.err


def test_on_stdout_the_look_alone(baked: Path, lookwright: Any) -> None:
    """So that it can be sent on; what was found goes to stderr."""
    said = lookwright("recover", baked)
    assert said.code == 0 and said.out == AWKWARD
    assert said.err == f"{baked}: the table is the look's, to the last digit\n"


def test_as_json(baked: Path, lookwright: Any) -> None:
    said = lookwright("recover", baked, "--json")
    data = json.loads(said.out)
    assert said.code == 0 and data["look"] == AWKWARD and data["matches"] is True
    assert data["largest_difference"] < 1e-9


def _changed(path: Path, row: int, by: float) -> Path:
    lines = path.read_text(encoding="ascii").splitlines()
    at = next(i for i, x in enumerate(lines) if x.startswith("LUT_3D_SIZE")) + 1 + row
    r, g, b = map(float, lines[at].split())
    lines[at] = f"{r:.6f} {g + by:.6f} {b:.6f}"
    other = path.with_name("changed.cube")
    other.write_text("\n".join(lines) + "\n", encoding="ascii")
    return other


def test_a_changed_table_is_told(baked: Path, lookwright: Any) -> None:
    said = lookwright("recover", _changed(baked, 364, 0.0005), "--out", baked.with_name("back.toml"))
    assert said.code == 1
    assert "the table is not what the recipe gives: 1 of 729 points differ, by up to 0.000500" in said.err
    # The look itself is still given.
    assert baked.with_name("back.toml").read_text(encoding="utf-8") == AWKWARD


def test_a_last_digit_rounded_the_other_way_is_no_change(baked: Path, lookwright: Any) -> None:
    said = lookwright("recover", _changed(baked, 364, 1e-6), "--quiet")
    assert said.code == 0 and said.err == "" and said.out == ""


def test_a_changed_recipe_is_told(baked: Path, lookwright: Any) -> None:
    text = baked.read_text(encoding="ascii").replace("slope = 1.1", "slope = 1.2")
    baked.write_text(text, encoding="ascii")
    said = lookwright("recover", baked)
    assert said.code == 2 and said.out == ""
    assert "its hash does not match: it was changed after the LUT was made" in said.err and said.err.count("\n") == 1


def test_strength_is_remembered(tmp_path: Path, lookwright: Any) -> None:
    (tmp_path / "a.toml").write_text(AWKWARD, encoding="utf-8")
    assert lookwright("bake", tmp_path / "a.toml", "--size", 9, "--strength", 0.4, "--quiet").code == 0
    said = lookwright("recover", tmp_path / "a.cube")
    assert said.code == 0 and said.out == AWKWARD


def test_a_log_look(log_look: Path, lookwright: Any) -> None:
    assert lookwright("bake", log_look, "--size", 9, "--quiet").code == 0
    assert lookwright("recover", log_look.with_suffix(".cube"), "--quiet").code == 0


def test_a_refined_table(baked: Path, stills: Path, lookwright: Any) -> None:
    """Without its stills within the bound; with them to the last digit; with other stills, that is said."""
    look, cube = baked.with_suffix(".toml"), baked.with_name("fine.cube")
    assert lookwright("bake", look, "--size", 9, "--refine", "--stills", stills, "--out", cube, "--quiet").code == 0
    said = lookwright("recover", cube)
    assert said.code == 0 and "a refined form of the look: greys exact" in said.err
    said = lookwright("recover", cube, "--stills", stills)
    assert said.code == 0 and "the table is the look's, to the last digit" in said.err
    said = lookwright("recover", cube, "--stills", stills / "door.png")
    assert said.code == 1 and "these are not the stills it was refined on" in said.err
    cube.write_bytes(cube.read_bytes().replace(b", seed 1, ", b", seed 0, "))
    said = lookwright("recover", cube, "--stills", stills)
    assert said.code == 1 and "its header names seed 0, which no refinement has" in said.err
    # A grey point may not move at all, another not by more than the bound.
    moved = ((364, 0.0005, "greys differ by up to 0.000500"), (370, 0.2, "1 of 729 points differ too much"))
    for row, by, words in moved:
        said = lookwright("recover", _changed(cube, row, by))
        assert said.code == 1 and words in said.err


def test_a_lut_of_others(tmp_path: Path, lookwright: Any) -> None:
    from lookwright.lut.formats.cube import write_cube
    from lookwright.lut.lattices.lattice import Lattice, grid

    write_cube(tmp_path / "theirs.cube", Lattice(grid(3)))
    said = lookwright("recover", tmp_path / "theirs.cube")
    assert said.code == 2 and "carries no recipe; expected a .cube written by lookwright" in said.err


def test_wrong_use(baked: Path, lookwright: Any) -> None:
    for arguments, words in (
        ((baked.with_suffix(".toml"),), "the name does not end in .cube"),
        ((baked.with_name("none.cube"),), "none.cube"),
        ((baked, "--out", baked.with_suffix(".toml")), "already exists; choose another name, or give --force"),
        ((baked, "--out", baked.with_name("no") / "a.toml"), "the folder does not exist"),
    ):
        said = lookwright("recover", *arguments)
        assert said.code == 2 and words in said.err and said.err.count("\n") == 1 and said.out == ""
    assert lookwright("recover", baked, "--out", baked.with_suffix(".toml"), "--force").code == 0


def test_a_foreign_lut_that_the_look_needs_is_gone(tmp_path: Path, lookwright: Any) -> None:
    """The look is given all the same; that its table cannot be checked is said, with exit 1."""
    from lookwright.lut.formats.cube import write_cube
    from lookwright.lut.lattices.lattice import Lattice, grid

    write_cube(tmp_path / "theirs.cube", Lattice(grid(3)))
    signal = '{ encoding = "ACEScct" }'
    text = AWKWARD.replace(
        'kind = "contrast"\nslope = 1.1', f'kind = "lut"\nfile = "theirs.cube"\ninput = {signal}\noutput = {signal}'
    )
    (tmp_path / "a.toml").write_text(text, encoding="utf-8")
    assert lookwright("bake", tmp_path / "a.toml", "--size", 5, "--quiet").code == 0
    assert lookwright("recover", tmp_path / "a.cube", "--quiet").code == 0
    (tmp_path / "theirs.cube").unlink()
    said = lookwright("recover", tmp_path / "a.cube")
    assert said.code == 1 and said.out == text
    assert "the recipe cannot be baked again here" in said.err and "theirs.cube" in said.err


OLD_LUT = Path(__file__).parents[1] / "shared" / "format-1.cube"
"""Written by this program (edcf320) when look files had no format number and ``hues`` said ``colourfulness``. A log
look, so that no rendering has a part in its table."""


def test_a_recipe_of_an_earlier_format(tmp_path: Path, lookwright: Any) -> None:
    """It still reads, its table is still the look's, and the text comes back in the present format with its remarks."""
    assert b"colourfulness = 0.85  # quieter" in OLD_LUT.read_bytes() and b"format =" not in OLD_LUT.read_bytes()
    said = lookwright("recover", OLD_LUT, "--out", tmp_path / "back.toml")
    assert said.code == 0 and "the table is the look's, to the last digit" in said.err
    text = (tmp_path / "back.toml").read_text(encoding="utf-8")
    assert text.startswith("# leaves round the workshop\nformat = 2\n")
    assert "  saturation = 0.85  # quieter\n" in text and "colourfulness" not in text
    assert lookwright("bake", tmp_path / "back.toml", "--size", 5, "--quiet").code == 0


def test_a_recipe_of_a_newer_format(baked: Path, lookwright: Any) -> None:
    """The text is given as it is; that this version cannot bake it again is said."""
    from lookwright.lut.formats.cube import read_cube, write_cube
    from lookwright.lut.formats.embed import embed

    text = AWKWARD.replace("format = 2", "format = 7")
    lattice = read_cube(baked).lattice
    assert lattice is not None
    write_cube(baked, lattice, comments=embed(text))
    said = lookwright("recover", baked)
    assert said.code == 1 and said.out == text
    assert "made by a newer lookwright (format 7)" in said.err


def test_the_lut_of_others_is_explained(tmp_path: Path, lookwright: Any) -> None:
    """A recipe in words, what it leaves as a LUT behind it, and the look that was written does what the LUT does."""
    import numpy as np

    from lookwright.look.recipe.pipeline import compile_look
    from lookwright.look.recipe.read import read_look
    from lookwright.lut.formats.cube import write_cube
    from lookwright.lut.lattices.interpolate import lookup
    from lookwright.lut.lattices.lattice import Lattice, grid

    x = grid(17)
    near = np.exp(-((x - 0.45) ** 2).sum(axis=-1, keepdims=True) / 0.02)
    table = Lattice(np.clip(x * [1.05, 1.0, 0.93] + [0.0, 0.01, 0.02] + near * [0.03, -0.01, 0.0], 0.0, 1.0))
    write_cube(tmp_path / "theirs.cube", table)
    signals = ("--source", "ACEScct", "--output", "ACEScct")
    out = tmp_path / "found.toml"
    said = lookwright("recover", tmp_path / "theirs.cube", *signals, "--out", out)
    assert said.code in (0, 1), said.err
    assert "corrects the code values of ACEScct" in said.err and "found-rest.cube" in said.out + said.err
    colours = np.random.default_rng(1).uniform(0.3, 0.6, (3000, 3))
    off = np.abs(compile_look(read_look(out))(colours) - lookup(table, colours, "tetrahedral"))
    assert off.mean() < 0.002
    again = lookwright("recover", tmp_path / "theirs.cube", *signals, "--out", out)
    assert again.code == 2 and "already exists" in again.err


def test_explaining_wants_to_know_the_signals(baked: Path, tmp_path: Path, lookwright: Any) -> None:
    from lookwright.lut.formats.cube import write_cube
    from lookwright.lut.lattices.lattice import Lattice, grid

    write_cube(tmp_path / "theirs.cube", Lattice(grid(3)))
    for arguments, words in (
        ((tmp_path / "theirs.cube",), "say with --source and --output"),
        ((tmp_path / "theirs.cube", "--source", "ACEScct"), "say so with --output"),
        ((tmp_path / "theirs.cube", "--source", "ACEScctt", "--output", "ACEScct"), "ACEScct"),
        ((baked, "--source", "ACEScct", "--output", "BT.1886"), "carries its own recipe"),
        ((tmp_path / "theirs.cube", "--source", "ACEScct", "--output", "ACEScct", "--out", "a.cube"), ".toml"),
    ):
        said = lookwright("recover", *arguments)
        assert said.code == 2 and words in said.err and said.err.count("\n") == 1, said
