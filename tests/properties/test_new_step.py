"""A step that nobody has heard of, made in one file: everything knows it from that file, and only from it.

The file is put where the registry looks for steps, as a developer would, and taken away again. Nothing else in the
project is told. What follows must come from its declarations: bounds, help, the JSON schema, the bench's sliders, the
tuner's free parameters, ``strength``, and advice.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

import lookwright.look.steps as steps_room
from lookwright.app.bench import describe
from lookwright.app.cli import cli
from lookwright.assess.restraint.check import check
from lookwright.assess.restraint.report import Finding
from lookwright.assess.restraint.subject import subject_of_look
from lookwright.assess.restraint.trials import trials
from lookwright.errors import RecipeError
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.read import parse_look
from lookwright.look.recipe.schema import look_schema
from lookwright.look.steps import registry
from lookwright.look.steps.base import REGISTRY
from lookwright.look.steps.numbers import numbers
from lookwright.solve.tune.free import free_parameters, with_values

BLEACH = '''
"""Silver left in the picture: steeper, and less of the dyes' colour."""

from __future__ import annotations

from typing import ClassVar, Literal

import numpy as np

from lookwright.colour.spaces.primaries import primaries

from .base import Context, Domain, Op, Step
from .params import Param, Triple


class Bleach(Step):
    takes: ClassVar[Domain] = "scene"
    gives: ClassVar[Domain] = "scene"
    summary: ClassVar[str] = "silver left in: steeper, with less colour"

    kind: Literal["bleach"] = "bleach"
    silver: float = Param(
        0.0, low=0.0, high=1.0, neutral=0.0, soft=(0.0, 0.6), help="how much silver stays", source="made up here"
    )
    pivot: float = Param(
        0.18, low=0.02, high=1.0, neutral=None, unit="reflectance", soft=(0.09, 0.36), scale="log", help="kept level"
    )
    layers: Triple = Param((1.0, 1.0, 1.0), low=0.5, high=2.0, neutral=1.0, help="gain of each layer")

    def prepare(self, context: Context) -> Op:
        weights = primaries("ACEScg").luminance

        def apply(x):
            light = np.sqrt((x @ weights) ** 2 + 1e-8)[..., None]
            steeper = (light / self.pivot) ** (1.3 * self.silver)
            return (x + 0.5 * self.silver * (light - x)) * steeper * np.array(self.layers)

        return Op("bleach", apply)

    def in_words(self) -> str:
        return f"leaves {self.silver * 100:.0f} % of the silver in"
'''

RECIPE = """\
[source]
encoding = "ACEScct"
[output]
encoding = "BT.1886"
[[step]]
kind = "exposure"
[[step]]
kind = "bleach"
{values}
[[step]]
kind = "render"
[[step]]
kind = "gamut"
"""

NAMES = ["bleach.silver", "bleach.pivot", "bleach.layers.red", "bleach.layers.green", "bleach.layers.blue"]


@pytest.fixture
def bleach(tmp_path: Path) -> Iterator[type]:
    """The step, registered as all are: its file lies in a folder where the registry looks."""
    (tmp_path / "bleach.py").write_text(BLEACH, encoding="utf-8")
    steps_room.__path__.append(str(tmp_path))
    registry.cache_clear()
    try:
        yield registry()["bleach"]
    finally:
        steps_room.__path__.remove(str(tmp_path))
        REGISTRY.pop("bleach", None)
        sys.modules.pop("lookwright.look.steps.bleach", None)
        vars(steps_room).pop("bleach", None)
        registry.cache_clear()
        describe.order_problem.cache_clear()


def look(values: str = "") -> Look:
    return parse_look(RECIPE.format(values=values))


def run(*arguments: str) -> str:
    said = CliRunner().invoke(cli, list(arguments))
    assert said.exit_code == 0, said.output
    return said.output


def test_bounds(bleach: type) -> None:
    assert look("silver = 1.0").steps[1].silver == 1.0
    with pytest.raises(RecipeError, match=r"'bleach', silver: 1\.5 is out of bounds; expected 0 to 1"):
        look("silver = 1.5")
    with pytest.raises(RecipeError, match=r"pivot: 2.*expected 0\.02 to 1 reflectance"):
        look("pivot = 2.0")
    with pytest.raises(RecipeError, match=r"did you mean 'silver'"):
        look("sliver = 0.5")


def test_help_and_listing(bleach: type) -> None:
    for text in (run("show", "--step", "bleach"), run("show", "--step", "all")):
        assert "bleach: silver left in: steeper, with less colour" in text
        assert "how much silver stays" in text and "default 0.18, 0.02 to 1 reflectance" in text
    rows = json.loads(run("show", "--step", "bleach", "--json"))["bleach"]["parameters"]
    assert [r["name"] for r in rows] == ["silver", "pivot", "layers"]
    assert rows[0]["bounds"] == "0 to 1, neutral 0" and rows[0]["source"] == "made up here"


def test_schema(bleach: type) -> None:
    schema = look_schema()
    assert {"$ref": "#/$defs/step-bleach"} in schema["properties"]["step"]["items"]["oneOf"]
    silver = schema["$defs"]["step-bleach"]["properties"]["silver"]
    assert (silver["minimum"], silver["maximum"], silver["x-neutral"]) == (0.0, 1.0, 0.0)
    assert silver["description"] == "how much silver stays"


def test_sliders(bleach: type) -> None:
    card = describe.step(look("silver = 0.25").steps[1], 7, {})
    assert card["words"] == "leaves 25 % of the silver in"
    sliders = {tuple(p["path"]): p for p in card["parameters"]}
    assert list(sliders) == [("silver",), ("pivot",), ("layers", 0), ("layers", 1), ("layers", 2)]
    silver = sliders["silver",]
    assert (silver["value"], silver["low"], silver["high"], silver["soft_high"]) == (0.25, 0.0, 1.0, 0.6)
    assert sliders["pivot",]["scale"] == "log" and sliders["pivot",]["unit"] == "reflectance"
    entry = next(e for e in describe.addable(look()) if e["kind"] == "bleach")
    assert entry["at"] == 2 and not entry["why"]  # behind the other one, before light is made


def test_tuner(bleach: type) -> None:
    start = look("silver = 0.3")
    free = [f for f in free_parameters(start) if f.name.startswith("bleach.")]
    assert [f.name for f in free] == NAMES
    assert (free[0].low, free[0].high, free[0].start) == (0.0, 0.6, 0.3)
    moved = with_values(start, free[:1], np.array([0.25])).steps[1]
    assert moved.silver == pytest.approx(0.3 + 0.25 * 0.6)
    kept = [f.name for f in free_parameters(look('lock = ["silver"]'))]
    assert "bleach.silver" not in kept and "bleach.pivot" in kept


def test_strength(bleach: type) -> None:
    full = look("silver = 0.8\nlayers = [1.2, 1.0, 1.0]")
    half = full.with_strength(0.5).effective_steps()[1]
    assert (half.silver, half.layers, half.pivot) == (0.4, (1.1, 1.0, 1.0), 0.18)
    codes = np.random.default_rng(0).uniform(0.1, 0.7, (50, 3))
    without = parse_look(RECIPE.format(values="").replace('[[step]]\nkind = "bleach"\n', ""))
    np.testing.assert_allclose(compile_look(full.plain())(codes), compile_look(without)(codes), atol=1e-12)


def found(of: Look, measure: str) -> Finding:
    return next(f for f in check(subject_of_look(of)).findings if f.measure == measure)


def test_advice(bleach: type) -> None:
    """The step alone makes the check fail; the advice names its parameter, and does what it says."""
    guilty = look("silver = 1.0")
    finding = found(guilty, "contrast")
    assert finding.state == "fail"
    assert finding.advice.startswith("Ease bleach.silver: from 1 to 0.7 it would be ")
    promised = float(finding.advice.split("would be ")[1].split()[0])
    assert found(look("silver = 0.7"), "contrast").value == pytest.approx(promised, rel=5e-3)
    # A parameter without a neutral value is named too, where it is the one that helps.
    level = found(look("silver = 0.7\npivot = 0.6"), "grey_level")
    assert level.state == "fail"
    assert level.advice.startswith(("Ease bleach.silver", "Change bleach.pivot: from 0.6 to "))


def test_advice_on_each_of_its_parameters(bleach: type) -> None:
    """Every number that the step declares is tried, inside its bounds: toward neutral, or both ways."""
    values = "silver = 0.5\npivot = 0.2\nlayers = [1.5, 1.2, 1.0]"
    tried = [t for t in trials(look(values)) if t.label.startswith("bleach.")]
    assert [(t.label, t.before, t.after, t.back) for t in tried] == [
        ("bleach.silver", "0.5", "0.35", True),
        ("bleach.pivot", "0.2", "0.157", False),  # 0.2 (0.09 / 0.2)^0.3: it is declared as a factor
        ("bleach.pivot", "0.2", "0.239", False),
        ("bleach.layers.red", "1.5", "1.35", True),
        ("bleach.layers.green", "1.2", "1.14", True),
        ("bleach.layers", "1.5, 1.2, 1", "1.35, 1.14, 1", True),
    ]
    for trial in tried:
        for n in numbers(trial.look.steps[1]):
            assert n.info.low <= n.value <= n.info.high


def test_gone_again() -> None:
    assert "bleach" not in registry() and "bleach" not in run("show", "--step", "all")

    with pytest.raises(RecipeError, match="unknown step 'bleach'"):
        look()
