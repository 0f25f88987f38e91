"""A look on fixed points in steps: what is remembered is never stale, and nothing is worked out twice."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from lookwright.errors import RecipeError
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.read import parse_look
from lookwright.look.recipe.staged import Part, Staged, StagedPoints, Superseded, through, through_pieces
from lookwright.look.steps.base import Op
from lookwright.look.steps.split import Split

TEXT = """\
source = { encoding = "ACEScct" }
output = { encoding = "BT.1886" }
[[step]]
kind = "exposure"
stops = 0.2
[[step]]
kind = "split"
pull = 0.3
cool_shadows = 0.01
[[step]]
kind = "render"
[[step]]
kind = "gamut"
"""

POINTS = np.random.default_rng(3).uniform(0.05, 0.8, (500, 3))

ROUNDING = 1e-6
"""As in test_tune_model.py: 1e-15 of light beside black."""


def changed(look: Look, place: int, **values: object) -> Look:
    steps = list(look.steps)
    steps[place] = steps[place].model_copy(update=values)
    return look.model_copy(update={"steps": tuple(steps)}).with_folder(look.folder)


def counted(parts: list[Part], calls: list[int]) -> list[Part]:
    """The parts, each noting its place when it is run."""

    def noting(k: int) -> Op:
        def note(x: np.ndarray) -> np.ndarray:
            calls.append(k)
            return x

        return Op("note", note)

    return [replace(part, ops=(*part.ops, noting(k))) for k, part in enumerate(parts)]


def test_only_what_stands_behind_a_change_is_run_again() -> None:
    """Parts: decoding, exposure, split, render, encoding (the gamut step has nothing left to do behind render)."""
    staged, points, look = Staged(), StagedPoints(POINTS), parse_look(TEXT)
    calls: list[int] = []
    points.run(counted(staged.parts(look), calls))
    assert calls == [0, 1, 2, 3, 4]
    calls.clear()
    points.run(counted(staged.parts(look), calls))
    assert calls == []
    other = changed(look, 2, slope=1.1)
    points.varied(counted(staged.parts(other), calls))
    assert calls == [3, 4]
    calls.clear()
    points.run(counted(staged.parts(look), calls))  # trying kept what was remembered
    assert calls == []
    points.run(counted(staged.parts(changed(look, 1, note="warmer?", lock=True)), calls))  # neither changes the picture
    assert calls == []
    points.run(counted(staged.parts(other), calls))
    points.run(counted(staged.parts(look), calls))  # only the last look is remembered
    assert calls == [3, 4, 3, 4]


@pytest.mark.parametrize("strength", [1.0, 0.6])
def test_one_piece_and_pieces_on_threads_are_the_look_compiled(strength: float) -> None:
    look = parse_look(TEXT).with_strength(strength)
    staged = Staged()
    with ThreadPoolExecutor(3) as pool:
        alone, shared = StagedPoints(POINTS), StagedPoints(POINTS, pool)
        for other in (look, changed(look, 0, stops=-0.4), changed(look, 1, pull=0.0), changed(look, 1, on=False), look):
            parts, wanted = staged.parts(other), compile_look(other)(POINTS)
            np.testing.assert_allclose(alone.run(parts), wanted, rtol=0, atol=ROUNDING)
            # To rounding, not to the bit: numpy 2.0 rounds a product of matrices by how many rows it is given.
            whole, pieces = through(parts, POINTS), through_pieces(parts, POINTS, pool)
            for same in (shared.run(parts), alone.varied(parts), whole, pieces):
                np.testing.assert_allclose(same, alone.run(parts), rtol=0, atol=1e-12)


def test_newer_work_stops_it_and_nothing_half_done_is_remembered() -> None:
    look, staged = parse_look(TEXT), Staged()
    with ThreadPoolExecutor(1) as pool:
        points = StagedPoints(POINTS, pool)
        answers = iter([False, True])  # the first piece is done, the second not
        with pytest.raises(Superseded):
            points.run(staged.parts(look), lambda: next(answers))
        other = changed(look, 0, stops=0.5)
        np.testing.assert_allclose(points.run(staged.parts(other)), compile_look(other)(POINTS), rtol=0, atol=ROUNDING)
        with pytest.raises(Superseded):
            through_pieces(staged.parts(look), POINTS, pool, lambda: True)


def test_a_lut_that_was_replaced_on_disk_is_read_again(tmp_path: Path) -> None:
    def write(values: str, when: int) -> None:
        (tmp_path / "a.cube").write_text("LUT_3D_SIZE 2\n" + values)
        os.utime(tmp_path / "a.cube", ns=(when, when))

    text = TEXT.replace(
        'kind = "split"\npull = 0.3\ncool_shadows = 0.01',
        'kind = "lut"\nfile = "a.cube"\ninput = { encoding = "ACEScct" }\noutput = { encoding = "ACEScct" }',
    )
    look, staged, points = parse_look(text).with_folder(tmp_path), Staged(), StagedPoints(POINTS)
    corners = [(r, g, b) for b in (0, 1) for g in (0, 1) for r in (0, 1)]
    write("".join(f"{r} {g} {b}\n" for r, g, b in corners), 10**18)
    first = points.run(staged.parts(look))
    write("".join(f"{0.5 * r} {0.5 * g} {0.5 * b}\n" for r, g, b in corners), 10**18 + 10**9)
    second = points.run(staged.parts(look))
    np.testing.assert_allclose(second, compile_look(look)(POINTS), rtol=0, atol=ROUNDING)
    assert np.abs(second - first).max() > 0.1
    (tmp_path / "a.cube").unlink()
    with pytest.raises(RecipeError, match="step 2 'lut'"):
        staged.parts(look)


def test_the_hue_map_is_kept_by_what_enters_it() -> None:
    one = Split(kind="split", pull=0.3)
    assert one.hue_map() is one.model_copy(update={"cool_shadows": 0.02, "balance": 1.0}).hue_map()
    hold = one.hold.model_copy(update={"amount": 0.2})
    for other in ({"pull": 0.31}, {"warm": 61.0}, {"cool": 226.0}, {"spread": 16.0}, {"hold": hold}):
        assert one.model_copy(update=other).hue_map() is not one.hue_map()
