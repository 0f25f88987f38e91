"""No step on colour folds: the Jacobian determinant stays above 0 for every allowed value, at every colour.

Taken by central differences of the step as it runs, in (L, a/L, b/L). Where it is positive there it is positive in
light: the ways to ratios and back keep their orientation.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from recipe_strategies import context, steps

from lookwright.colour.spaces.oklab import GREY_LIGHTNESS
from lookwright.look.steps import registry
from lookwright.look.steps.base import Step

KINDS = ["saturation", "hues", "split", "tones"]

STEP = 1e-5
"""To either side, in saturation: differences err by its square times the third derivative, near 1e-5 at the steepest
bell and fade; rounding by 1e-16 / 1e-5."""


def colours() -> np.ndarray:
    """(n, 3): rings from a hair off neutral to beyond any real colour, at many levels, and greys."""
    rng = np.random.default_rng(11)
    hue = rng.uniform(0.0, 2.0 * np.pi, 4000)
    saturation = np.exp(rng.uniform(np.log(1e-3), np.log(1.2), 4000))
    lightness = GREY_LIGHTNESS * np.exp2(rng.uniform(-10.0, 7.0, 4000) / 3.0)
    saturation[:50] = 0.0
    return np.stack([lightness, saturation * np.cos(hue), saturation * np.sin(hue)], axis=-1)


COLOURS = colours()


def determinants(step: Step) -> np.ndarray:
    """(n,) at :data:`COLOURS`, with lightness as its logarithm, so that all levels count alike."""
    op = step.prepare(context())

    def run(log_x: np.ndarray) -> np.ndarray:
        out = op(np.concatenate([np.exp(log_x[..., :1]), log_x[..., 1:]], axis=-1))
        return np.concatenate([np.log(out[..., :1]), out[..., 1:]], axis=-1)

    x = np.concatenate([np.log(COLOURS[:, :1]), COLOURS[:, 1:]], axis=-1)
    moved = [(run(x + STEP * e) - run(x - STEP * e)) / (2.0 * STEP) for e in np.eye(3)]
    return np.asarray(np.linalg.det(np.stack(moved, axis=-1)))


HOSTILE: list[tuple[str, dict[str, Any]]] = [
    # A full tint beside a narrow full hold, at either pole and with every neutral kept out: -0.9 before.
    ("split", {"cool_shadows": 0.1, "warm_highlights": 0.1, "hold": {"hue": 45.0, "width": 5.0, "amount": 1.0}}),
    ("split", {"warm_highlights": 0.1, "neutral_hold": 1.0, "hold": {"hue": 150.0, "width": 5.0, "amount": 1.0}}),
    ("split", {"pull": 1.0, "cool_shadows": 0.1, "neutral_hold": 1.0, "spread": 0.0, "warm": 110.0, "cool": 290.0}),
    ("split", {"pull": 1.0, "warm_highlights": 0.1, "hold_skin": 1.0, "hold_sky": 1.0, "hold_leaves": 1.0}),
    # Eight bands on one spot, which no editor would write and the bounds allow.
    ("hues", {"band": [{"centre": 20.0, "width": 10.0, "saturation": 0.0, "turn": 40.0}] * 8}),
    ("hues", {"band": [{"centre": 20.0, "width": 10.0, "saturation": 2.0, "turn": 40.0}] * 8}),
    ("hues", {"band": [{"centre": 350.0, "width": 25.0, "saturation": 0.0, "light": -2.0}], "hold_skin": 1.0}),
    ("hues", {"band": [{"centre": c, "width": 10.0, "turn": 40.0 * (-1) ** (c // 20)} for c in range(0, 160, 20)]}),
    # Shadows over highlights by four stops within one and a half, and all tones at one place.
    ("tones", {"shadows": {"stops": 2.0}, "highlights": {"stops": -2.0}, "width": 1.5}),
    ("tones", {"shadows": {"stops": 2.0}, "middle": {"stops": -2.0}, "highlights": {"stops": -2.0}, "width": 1.5}),
    ("tones", {"shadows": {"stops": 2.0}, "highlights": {"stops": -2.0}, "shadows_below": 0, "highlights_above": 0}),
    ("saturation", {"amount": 2.0, "density": 1.0, "hold_skin": 1.0, "hold_sky": 1.0, "hold_leaves": 1.0}),
    ("saturation", {"amount": 0.05, "density": 1.0, "hold_skin": 1.0, "shadows": 1.0, "highlights": 0.9}),
]


LEAST = 1e-4
"""Well above rounding: a flow leaves e^-3 of the room of hues, easing a tenth of that, and a band at its least factor
on saturation, 0.17, the square of it of the plane: together 1.4e-4."""


def must_not_fold(step: Step) -> None:
    found = determinants(step)
    if step.kind == "saturation":
        # Colour taken out altogether is what was asked for: the determinant is 0 there, and never below.
        assert found.min() >= -1e-7
    else:
        assert found.min() > LEAST


@pytest.mark.parametrize(("kind", "values"), HOSTILE)
def test_what_used_to_fold(kind: str, values: dict[str, Any]) -> None:
    must_not_fold(registry()[kind](**values))


@pytest.mark.parametrize("kind", KINDS)
@given(data=st.data())
def test_no_step_folds(kind: str, data: st.DataObject) -> None:
    must_not_fold(data.draw(steps(kind)))


@pytest.mark.parametrize(
    "values",
    [
        {},
        {"hold_skin": 1.0, "hold_sky": 1.0, "hold_leaves": 1.0},
        {"pull": 0.6, "neutral_hold": 1.0},
        {"hold": {"width": 8.0, "amount": 1.0}},
    ],
)
def test_usual_tints_are_made_as_asked(values: dict[str, Any]) -> None:
    """At the end of their usual range, a narrow hold beside them: nothing is eased, and the sentence says nothing."""
    step = registry()["split"](cool_shadows=0.04, warm_highlights=0.04, **values)
    assert "eased" not in step.in_words()
    x = np.array([[GREY_LIGHTNESS * 2.0 ** (-4.5 / 3.0), 0.0, 0.0]])
    tint = np.hypot(*step.prepare(context())(x)[0, 1:])
    # Shadows 4.5 stops under grey: nearly the whole tint of the two, but for what neutral_hold keeps out.
    assert tint == pytest.approx(0.04 * (1.0 - step.neutral_hold), rel=0.05, abs=1e-12)


@pytest.mark.parametrize(
    ("kind", "values"),
    [("split", HOSTILE[0][1]), ("hues", {"band": [{"centre": 20.0, "saturation": 0.0}]})],
)
def test_what_is_eased_is_said(kind: str, values: dict[str, Any]) -> None:
    assert "eased to" in registry()[kind](**values).in_words()
