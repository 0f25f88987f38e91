"""Random steps and looks within their declared bounds, for the property tests.

Everything is read from the declarations, so a new step or parameter is covered without a change here; only a
step with a required field that is not a parameter needs an entry in ``REQUIRED``.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, get_args

import numpy as np
from hypothesis import strategies as st

from lookwright.colour.spaces.encodings import CURATED
from lookwright.colour.spaces.signal import Signal
from lookwright.look.recipe.model import Look
from lookwright.look.steps import registry
from lookwright.look.steps.base import Context, Step
from lookwright.look.steps.params import Declared, ParamInfo, info_of

FOLDER = Path(__file__).parent
REQUIRED: dict[str, dict[str, Any]] = {
    "lut": {"file": "bend.cube", "input": {"encoding": "ACEScct"}, "output": {"encoding": "ACEScct"}},
    "signal": {"signal": {"encoding": "ACEScct"}},
}
KINDS = list(registry())
SOURCES = list(CURATED)
DISPLAYS = [name for name, e in CURATED.items() if e.kind == "display"]

_AXIS = np.linspace(-0.1, 1.2, 7)
# Every corner and middle of the signals a LUT may be fed with, exact black, greys, and one level per channel.
SIGNALS = np.concatenate(
    [
        np.stack(np.meshgrid(_AXIS, _AXIS, _AXIS, indexing="ij"), axis=-1).reshape(-1, 3),
        np.repeat(np.linspace(-0.1, 1.2, 66)[:, None], 3, axis=1),
        np.zeros((1, 3)),
        np.eye(3),
        1e-9 * np.eye(3),
    ]
)


def context(source: str = "ACEScct", output: str = "BT.1886") -> Context:
    """What a step is told of its look."""
    return Context(Signal.named(source), Signal.named(output), FOLDER)


def numbers(declared: ParamInfo, soft: bool = False) -> st.SearchStrategy[float]:
    """A parameter within its hard (or soft) bounds, their ends and its neutral value more often than chance."""
    ends = [declared.soft_low, declared.soft_high] if soft else [declared.low, declared.high]
    if declared.neutral is not None:
        ends.append(declared.neutral)
    return st.one_of(st.floats(ends[0], ends[1], allow_subnormal=False), st.sampled_from(ends))


def nested(annotation: Any) -> tuple[type[Declared] | None, bool]:
    """The group of parameters an annotation names, and whether it is a sequence of them."""
    if isinstance(annotation, type) and issubclass(annotation, Declared):
        return annotation, False
    for part in get_args(annotation):
        if isinstance(part, type) and issubclass(part, Declared):
            return part, True
    return None, False


@st.composite
def parameters(draw: st.DrawFn, model: type[Declared], soft: bool = False) -> dict[str, Any]:
    """All parameters of a group, and of the groups inside it, at random."""
    out: dict[str, Any] = {}
    for name, field in model.model_fields.items():
        declared = info_of(field)
        if declared is not None:
            size = len(field.default) if isinstance(field.default, tuple) else 0
            one = numbers(declared, soft)
            out[name] = draw(st.tuples(*[one] * size)) if size else draw(one)
            continue
        group, many = nested(field.annotation)
        if group is None or not any(info_of(f) for f in group.model_fields.values()):
            continue
        most = next((m.max_length for m in field.metadata if hasattr(m, "max_length")), 4)
        out[name] = draw(st.lists(parameters(group, soft), max_size=most) if many else parameters(group, soft))
    return out


def steps(kind: str, soft: bool = False) -> st.SearchStrategy[Step]:
    """A step of this kind with random parameters."""
    model = registry()[kind]
    return parameters(model, soft).map(lambda p: model(**REQUIRED.get(kind, {}), **p))


def neutral(kind: str) -> Step:
    """A step of this kind with every parameter that has a neutral value at it."""
    return registry()[kind](**REQUIRED.get(kind, {})).scaled(0.0)


@st.composite
def looks(draw: st.DrawFn, source: str, output: str, soft: bool = False) -> Look:
    """A look with up to five steps in any order that can be, rendered where the output is a display."""
    before = [k for k in KINDS if not registry()[k].rendering]
    kinds = draw(st.lists(st.sampled_from(before), max_size=5))
    if CURATED[output].kind == "display":
        kinds.append(draw(st.sampled_from(["render", "print"])))
        if draw(st.booleans()):
            kinds.append("gamut")
    look = Look(
        source={"encoding": source, "range": draw(st.sampled_from(["full", "legal"]))},
        output={"encoding": output, "range": draw(st.sampled_from(["full", "legal"]))},
        strength=draw(st.sampled_from([1.0, 1.0, 0.5, 0.0])),
    )
    chosen = tuple(draw(steps(k, soft)) for k in kinds)
    if look.strength < 1.0:  # a LUT that takes and gives other signals cannot be applied in part; ours can
        assert all(s.kind != "lut" or s.input == s.output for s in chosen)
    return look.model_copy(update={"steps": chosen}).with_folder(FOLDER)
