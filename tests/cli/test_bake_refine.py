"""``lookwright bake --refine`` and the accuracy it reports."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np


def test_refined_file_says_so_and_is_the_same_every_time(lookwright: Any, real: Any, look: Path, stills: Path) -> None:
    from lookwright.lut.formats.cube import read_cube
    from lookwright.lut.formats.embed import extract

    one, two = look.with_name("one.cube"), look.with_name("two.cube")
    said = lookwright("bake", look, "--refine", "--stills", stills, "--size", 9, "--out", one)
    assert said.code == 0, said.err
    assert real("bake", look, "--refine", "--stills", stills, "--size", 9, "--out", two).code == 0
    assert one.read_bytes() == two.read_bytes()
    file = read_cube(one)
    comments = file.lattice.comments
    assert any(c.startswith("Refined by least squares, bound 1.5 CIEDE2000, seed 1, 120000 pixels") for c in comments)
    assert extract(comments) == look.read_text(encoding="utf-8")
    assert any(c.startswith("Error on natural colours, drawn independently: trilinear ") for c in comments)
    for word in (
        "natural, trilinear",
        "stills, trilinear",
        "stills, tetrahedral",
        "cube, trilinear",
        "cube, tetrahedral",
        "plain mean",
    ):
        assert word in said.out


def test_refined_file_errs_less_and_json_says_how_much(lookwright: Any, look: Path, stills: Path) -> None:
    plain, better = look.with_name("plain.cube"), look.with_name("better.cube")
    first = lookwright("bake", look, "--stills", stills, "--size", 17, "--out", plain, "--json")
    second = lookwright("bake", look, "--refine", "--stills", stills, "--size", 17, "--out", better, "--json")
    before, after = json.loads(first.out), json.loads(second.out)
    assert "refined" not in before and after["refined"]["worst"] <= after["refined"]["bound"]
    for lookup in ("trilinear", "tetrahedral"):
        assert set(after["accuracy"]["stills"][lookup]) == {"mean", "p95", "p99", "max", "mean_3sd"}
        assert after["accuracy"]["stills"][lookup]["mean"] < 0.6 * before["accuracy"]["stills"][lookup]["mean"]
        assert after["accuracy"]["cube"][lookup]["mean"] < before["accuracy"]["cube"][lookup]["mean"]


def test_without_stills_and_for_a_log_look(lookwright: Any, log_look: Path) -> None:
    from lookwright.lut.formats.cube import read_cube

    target = log_look.with_name("log.cube")
    said = lookwright("bake", log_look, "--refine", "--size", 9, "--out", target)
    assert said.code == 0, said.err
    assert "stills, " not in said.out and "cube, trilinear" in said.out
    table = read_cube(target).lattice.table
    assert any("no stills" in c for c in read_cube(target).lattice.comments)
    # Half a stop up in log: values above 1 are not clipped, since the output is scene light.
    assert table.max() > 1.0 and np.isfinite(table).all()


def test_stills_that_are_not_there_are_one_line(lookwright: Any, look: Path) -> None:
    said = lookwright("bake", look, "--refine", "--stills", look.with_name("nowhere"))
    assert said.code == 2 and len(said.err.splitlines()) == 1 and "nowhere" in said.err
    assert not look.with_suffix(".cube").exists()
