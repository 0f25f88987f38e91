"""Which parameters tuning may move, and that their coordinates say what they mean."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from lookwright.errors import RecipeError
from lookwright.look.recipe.read import parse_look, read_text
from lookwright.look.steps import registry
from lookwright.solve.tune.free import free_parameters, with_values
from lookwright.solve.tune.recipe import tuned_text

LOOKS = sorted((Path(__file__).parents[2] / "looks").glob("*.toml"))

LOOK = """\
format = 2
[source]
encoding = "ACEScct"
[output]
encoding = "BT.1886"
[[step]]
kind = "cdl"
[[step]]
kind = "hues"
lock = ["band.turn"]
  [[step.band]]
  centre = 245.0     # the ambience
  [[step.band]]
  centre = 135.0
[[step]]
kind = "split"
lock = ["pull"]
[[step]]
kind = "cdl"
on = false
[[step]]
kind = "render"
lock = true
[[step]]
kind = "gamut"
"""


def names(**options: object) -> list[str]:
    return [f.name for f in free_parameters(parse_look(LOOK), **options)]  # type: ignore[arg-type]


def test_locks_of_the_recipe_hold() -> None:
    found = names()
    assert "split.cool" in found and "split.pull" not in found
    assert "hues.band.1.light" in found and "hues.band.1.turn" not in found
    assert not any(n.startswith("render") for n in found)
    assert not any(n.startswith("cdl[4]") for n in found), "a step that is off has nothing to tune"


def test_what_is_declared_as_not_tunable_stays() -> None:
    assert not any(".hold." in n or n.endswith("spread") or "centre" in n for n in names())


@pytest.mark.parametrize(
    ("lock", "gone", "kept"),
    [
        ("split.cool", ["split.cool"], ["split.warm"]),
        ("3.cool", ["split.cool"], ["split.warm"]),
        ("split", ["split.cool", "split.warm"], ["cdl[1].saturation"]),
        ("hues.band.2", ["hues.band.2.light"], ["hues.band.1.light"]),
        ("cdl.slope", ["cdl[1].slope.red", "cdl[1].slope.blue"], ["cdl[1].power.red"]),
        ("cdl[1].slope.green", ["cdl[1].slope.green"], ["cdl[1].slope.red"]),
    ],
)
def test_locks_by_option(lock: str, gone: list[str], kept: list[str]) -> None:
    found = names(lock=[lock])
    assert not set(gone) & set(found)
    assert set(kept) <= set(found)


def test_free_is_stronger_than_the_recipe_and_lock_than_free() -> None:
    assert "render.slope" in names(free=["render.slope"])
    assert "split.hold.hue" in names(free=["split.hold.hue"])
    assert "render.slope" not in names(free=["render"], lock=["render.slope"])


def test_a_wrong_name_gets_the_nearest() -> None:
    with pytest.raises(RecipeError, match=r"--lock split\.pul: no such parameter.*did you mean 'split\.pull'"):
        names(lock=["split.pul"])


def test_all_locked_is_one_clear_line() -> None:
    with pytest.raises(RecipeError, match="every parameter is locked") as caught:
        names(lock=["cdl", "hues", "split"])
    assert "\n" not in str(caught.value)


def test_every_kind_of_step_can_be_asked() -> None:
    """No step breaks the walk over parameters, and z runs from bound to bound and back."""
    for kind, step in registry().items():
        needed = {"file": "a.cube", "input": {"encoding": "sRGB"}, "output": {"encoding": "sRGB"}}
        named = {"lut": needed, "signal": {"signal": {"encoding": "sRGB"}}}
        made = step(kind=kind, **named.get(kind, {}))
        look = parse_look(LOOK).model_copy(update={"steps": (made,)})
        if kind == "gamut":
            with pytest.raises(RecipeError, match="locked"):
                free_parameters(look)
            continue
        for f in free_parameters(look, wide=True) if kind != "hues" else []:
            low, high = f.bounds_z()
            assert low <= 0.0 <= high and low < high
            assert f.low == f.info.low and f.high == f.info.high
            assert f.value(low) == pytest.approx(f.low) and f.value(high) == pytest.approx(f.high)
            assert f.value(f.z(f.start)) == pytest.approx(f.start)
            middle = 0.5 * (low + high)
            assert f.z(f.value(middle)) == pytest.approx(middle)


def test_bounds_are_the_usual_range_and_contain_the_start() -> None:
    look = parse_look(LOOK.replace('kind = "split"\nlock = ["pull"]', 'kind = "split"\npull = 0.9'))
    pull = next(f for f in free_parameters(look) if f.name == "split.pull")
    assert (pull.low, pull.high) == (0.0, 0.9)  # usual 0..0.6, widened to the start


def test_uncertainty_is_in_the_parameters_own_unit() -> None:
    found = {f.name: f for f in free_parameters(parse_look(LOOK))}
    cool = found["split.cool"]
    assert cool.uncertainty(0.3, 0.1) == pytest.approx(0.1 * (cool.info.soft_high - cool.info.soft_low))
    slope = found["cdl[1].slope.red"]  # counted in factors: half the width between z - d and z + d
    assert slope.uncertainty(0.3, 0.1) == pytest.approx(0.5 * (slope.value(0.4) - slope.value(0.2)))


@pytest.mark.parametrize("path", LOOKS, ids=lambda p: p.stem)
def test_text_carries_every_value_and_keeps_remarks(path: Path) -> None:
    text = read_text(path)
    look = parse_look(text)
    free = free_parameters(look)
    rng = np.random.default_rng(3)
    tuned = with_values(look, free, np.array([rng.uniform(*f.bounds_z()) for f in free]))
    new = tuned_text(text, look, tuned, free, ["2026-11-25: a note"])
    for line in text.splitlines():
        if "#" in line:
            assert line.split("#", 1)[1] in new
    again = {f.name: f.start for f in free_parameters(parse_look(new))}
    for f in free_parameters(tuned):
        assert again[f.name] == pytest.approx(f.start, rel=1e-5)
    assert new.rstrip().endswith("# 2026-11-25: a note")


def test_new_keys_go_ahead_of_sub_tables() -> None:
    text = LOOK.replace('lock = ["pull"]', "  [step.hold]     # skin\n  amount = 0.5")
    look = parse_look(text)
    free = free_parameters(look, free=["split.hold.hue"])
    tuned = with_values(look, free, np.array([0.5 * f.bounds_z()[1] for f in free]))
    new = parse_look(tuned_text(text, look, tuned, free, ["x"]))
    split = next(s for s in new.steps if s.kind == "split")
    wanted = next(s for s in tuned.steps if s.kind == "split")
    assert split.pull == pytest.approx(wanted.pull) and split.hold.amount == 0.5  # type: ignore[attr-defined]
    assert split.hold.hue == pytest.approx(wanted.hold.hue)  # type: ignore[attr-defined]


def test_nothing_moved_changes_nothing_but_the_note() -> None:
    look = parse_look(LOOK)
    assert tuned_text(LOOK, look, look, free_parameters(look), ["x"]) == LOOK + "\n# x\n"
