"""What every step must hold, read off the registry: a new step is tested by being there."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError
from recipe_strategies import FOLDER, KINDS, REQUIRED, context, nested, steps

from lookwright.colour.spaces import oklab
from lookwright.colour.spaces.encodings import CURATED
from lookwright.colour.spaces.signal import Signal
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.read import parse_look
from lookwright.look.recipe.write import look_text
from lookwright.look.steps import registry
from lookwright.look.steps.base import Step
from lookwright.look.steps.params import Declared, ParamInfo, info_of


def declarations(model: type[Declared], path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Any, ParamInfo]]:
    """(path, default, declaration) of each parameter of a group and of the groups in it."""
    for name, field in model.model_fields.items():
        declared = info_of(field)
        if declared is not None:
            yield (*path, name), field.default, declared
        group, _ = nested(field.annotation)
        if group is not None:
            yield from declarations(group, (*path, name))


ALL = [(kind, path, default, declared) for kind in KINDS for path, default, declared in declarations(registry()[kind])]
each_parameter = pytest.mark.parametrize(
    ("kind", "path", "default", "declared"), ALL, ids=[f"{k}.{'.'.join(p)}" for k, p, *_ in ALL]
)


@each_parameter
def test_declaration(kind: str, path: tuple[str, ...], default: Any, declared: ParamInfo) -> None:
    """Default and neutral inside the bounds, soft inside hard; help for a reader; a unit for every larger number."""
    values = default if isinstance(default, tuple) else (default,)
    assert declared.low <= declared.soft_low < declared.soft_high <= declared.high
    for value in values:
        assert declared.soft_low <= value <= declared.soft_high
    if declared.neutral is not None:
        assert declared.low <= declared.neutral <= declared.high
    assert len(declared.help) >= 8 and not declared.help.endswith(".")
    if max(abs(declared.low), abs(declared.high)) > 5.0:
        assert declared.unit, "a number beyond 5 needs its unit"
    if declared.scale == "log":
        assert declared.low > 0.0


@each_parameter
@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf, "low", "high", "0.5", True, None])
def test_values_that_are_refused(kind: str, path: tuple[str, ...], default: Any, declared: ParamInfo, bad: Any) -> None:
    """No NaN, no infinity, nothing out of bounds, no text or truth value in place of a number."""
    if bad == "low":
        bad = declared.low - 1e-6
    elif bad == "high":
        bad = declared.high + 1e-6
    value: Any = (bad, *default[1:]) if isinstance(default, tuple) else bad
    with pytest.raises(ValidationError) as caught:
        _with(kind, path, value)
    assert {path[0]} == {e["loc"][0] for e in caught.value.errors()}
    assert all(path[-1] in e["loc"] for e in caught.value.errors())


def _with(kind: str, path: tuple[str, ...], value: Any) -> Step:
    """The step with every creative parameter at neutral but the one at ``path``; all neutral for no path."""
    model = registry()[kind]
    values: dict[str, Any] = {
        name: (info.neutral,) * 3 if isinstance(field.default, tuple) else info.neutral
        for name, field, info in model.parameters()
        if info.neutral is not None
    }
    if len(path) == 1:
        values[path[0]] = value
    elif len(path) == 2:
        many = nested(model.model_fields[path[0]].annotation)[1]
        group = {path[1]: value}
        values[path[0]] = [group] if many else group
    return model(**REQUIRED.get(kind, {}), **values)


@pytest.mark.parametrize("kind", KINDS)
def test_step_describes_itself(kind: str) -> None:
    model = registry()[kind]
    assert model.summary and model.__doc__
    assert model.takes in ("scene", "log", "opponent", "display")
    for name, field in model.model_fields.items():
        if name != "kind":
            assert field.description, f"{kind}.{name} has no description"


@pytest.mark.parametrize("kind", KINDS)
@given(data=st.data())
def test_words(kind: str, data: st.DataObject) -> None:
    """`show` has a sentence for every step, whatever its values."""
    words = data.draw(steps(kind)).in_words()
    assert words and "\n" not in words and not words.endswith(".")


CREATIVE = [row for row in ALL if row[3].neutral is not None]


@pytest.mark.parametrize(
    ("kind", "path", "default", "declared"), CREATIVE, ids=[f"{k}.{'.'.join(p)}" for k, p, *_ in CREATIVE]
)
def test_words_tell_of_every_creative_parameter(
    kind: str, path: tuple[str, ...], default: Any, declared: ParamInfo
) -> None:
    """A parameter away from its neutral value changes the sentence: nothing works unseen."""
    moved = declared.soft_low if declared.neutral != declared.soft_low else declared.soft_high
    value = (default[0], moved, default[2]) if isinstance(default, tuple) else moved
    assert _with(kind, path, value).in_words() != _with(kind, (), None).in_words()


@pytest.mark.parametrize("kind", KINDS)
@given(data=st.data())
def test_toml_round_trip(kind: str, data: st.DataObject) -> None:
    """Written and read back, a look is equal, to the last bit of every number."""
    step = data.draw(steps(kind))
    output = "BT.1886" if step.domains()[1] == "display" else "ACEScct"
    look = Look(source={"encoding": "ACEScct"}, output={"encoding": output}, title='a "quoted" title')
    look = look.model_copy(update={"steps": (step, step)})
    again = parse_look(look_text(look))
    assert again == look


def _inputs(takes: str) -> np.ndarray:
    """Values a step may meet in its domain: from deep negatives to strong sources, colours and greys."""
    rng = np.random.default_rng(3)
    stops = rng.uniform(-14.0, 9.0, (600, 3))
    light = 0.18 * 2.0**stops * rng.choice([1.0, 1.0, 1.0, -0.02], (600, 3))
    greys = 0.18 * 2.0 ** np.linspace(-16.0, 9.0, 60)[:, None] * np.ones(3)
    light = np.concatenate([light, greys, -0.01 * greys[:20], np.zeros((1, 3))])
    if takes == "log":
        return Signal.named("ACEScct").from_scene(light)
    return oklab.scene_to_opponent(light) if takes == "opponent" else light


@pytest.mark.parametrize("kind", [k for k in KINDS if not registry()[k].rendering])
@given(data=st.data())
def test_neutral_is_the_identity(kind: str, data: st.DataObject) -> None:
    """With the creative parameters at neutral and the others anywhere: the same to 1e-9, its maths really run."""
    step = data.draw(steps(kind)).scaled(0.0)
    assert step.is_neutral()
    x = _inputs(step.takes)
    out = step.prepare(context())(x.copy())
    np.testing.assert_allclose(out, x, rtol=1e-9, atol=1e-9)


@pytest.mark.parametrize("kind", KINDS)
@given(data=st.data(), share=st.floats(0.0, 1.0))
def test_strength_moves_between_neutral_and_written(kind: str, data: st.DataObject, share: float) -> None:
    """Every number of the eased step lies between its neutral and its written value, and 1 changes nothing."""
    step = data.draw(steps(kind))

    def pairs(a: Any, b: Any) -> Iterator[tuple[ParamInfo, float, float]]:
        for name, field in type(a).model_fields.items():
            u, v = getattr(a, name), getattr(b, name)
            declared = info_of(field)
            if declared is not None:
                us, vs = (u, v) if isinstance(u, tuple) else ((u,), (v,))
                yield from ((declared, p, q) for p, q in zip(us, vs, strict=True))
            elif isinstance(u, Declared):
                yield from pairs(u, v)
            elif isinstance(u, tuple) and u and isinstance(u[0], Declared):
                for p, q in zip(u, v, strict=True):
                    yield from pairs(p, q)

    for declared, written, eased in pairs(step, step.scaled(share)):
        if declared.neutral is None:
            assert eased == written
        else:
            slack = 1e-12 * (1.0 + abs(written) + abs(declared.neutral))
            assert min(written, declared.neutral) - slack <= eased <= max(written, declared.neutral) + slack
    for _, written, kept in pairs(step, step.scaled(1.0)):
        np.testing.assert_allclose(kept, written, rtol=1e-14, atol=1e-15)
    for declared, _, none in pairs(step, step.scaled(0.0)):
        assert declared.neutral is None or none == declared.neutral


@pytest.mark.parametrize("kind", KINDS)
def test_input_is_not_changed_in_place(kind: str) -> None:
    """Operations may share arrays; none may write into what it was given."""
    step: Step = registry()[kind](**REQUIRED.get(kind, {}))
    x = np.abs(_inputs(step.takes)) * 0.1
    kept = x.copy()
    step.prepare(context())(x)
    assert np.array_equal(x, kept)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("output", ["BT.1886", "BT.2100 PQ"])
@given(data=st.data())
def test_shape_and_neighbours_do_not_matter(kind: str, output: str, data: st.DataObject) -> None:
    """A pixel's result hangs on that pixel alone, in an image, in a row or by itself."""
    step = data.draw(steps(kind))
    op = step.prepare(context("ACEScct", output))
    x = np.abs(_inputs(step.takes))[:40] * 0.2
    together = op(x)
    assert together.shape == x.shape
    # Matrix products may be summed in another order for other shapes: a few units of the last place.
    np.testing.assert_allclose(op(x.reshape(5, 8, 3)).reshape(-1, 3), together, rtol=1e-9, atol=1e-12)
    np.testing.assert_allclose(op(x[17]), together[17], rtol=1e-9, atol=1e-12)


def test_the_registry_finds_all_steps_of_the_plan() -> None:
    expected = "exposure balance cdl contrast saturation hues split print render gamut lut"
    assert set(expected.split()) <= set(KINDS)
    assert (FOLDER / "bend.cube").exists()
    assert len(CURATED) > 20
