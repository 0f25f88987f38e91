"""An array that a look cannot take is refused in one sentence that says what to do."""

from __future__ import annotations

import numpy as np
import pytest

from lookwright.errors import LookwrightError
from lookwright.look.recipe.pipeline import Pipeline, compile_look
from lookwright.look.recipe.read import parse_look

TEXT = """\
source = { encoding = "SOURCE" }
output = { encoding = "BT.1886" }
[[step]]
kind = "render"
"""


@pytest.fixture(scope="module")
def pipeline() -> Pipeline:
    return compile_look(parse_look(TEXT.replace("SOURCE", "ACEScct")))


GREY = np.full((4, 5, 3), 0.4)
HOLED = GREY.copy()
HOLED[1, 2, 0], HOLED[0, 0, 1] = np.nan, np.inf


@pytest.mark.parametrize(
    ("array", "words"),
    [
        ((GREY * 255).astype(np.uint8), ["integers (uint8)", "array / 255.0"]),
        ((GREY * 65535).astype(np.uint16), ["integers (uint16)", "array / 65535.0"]),
        ((GREY * 1023).astype(np.int32), ["integers (int32)", "2^n - 1"]),
        (GREY > 0, ["bool", "astype(float)"]),
        (GREY.astype(complex), ["complex128", "astype(float)"]),
        (np.array([["0.1", "0.2", "0.3"]]), ["floating point"]),
        (np.ones((4, 5, 4)), ["shape (4, 5, 4)", "drop alpha: array[..., :3]"]),
        (np.ones((3, 4, 5)), ["shape (3, 4, 5)", "numpy.moveaxis(array, 0, -1)"]),
        (np.ones((4, 5)), ["shape (4, 5)", "numpy.repeat(array[..., None], 3, axis=-1)"]),
        (np.float64(0.4), ["shape ()", "channels last"]),
        (HOLED, ["2 of 60 are NaN or infinite", "numpy.nan_to_num"]),
        (GREY * 255.0, ["up to 102", "0 to 1", "2^n - 1"]),
    ],
)
def test_wrong_arrays_are_refused_with_what_to_do(pipeline: Pipeline, array: np.ndarray, words: list[str]) -> None:
    with pytest.raises(LookwrightError) as caught:
        pipeline(array)
    line = caught.value.line()
    assert line.startswith("code values: ") and "\n" not in line
    for word in words:
        assert word in line


def test_what_is_right_goes_through_as_without_looking(pipeline: Pipeline) -> None:
    for x in (GREY, GREY.astype(np.float32), GREY.astype(np.float16), GREY[::2, :, ::-1], np.zeros((0, 3)), GREY[0, 0]):
        assert np.array_equal(pipeline(x), pipeline.run(x))
    assert np.array_equal(pipeline([0.4, 0.4, 0.4]), pipeline.run(GREY[0, 0]))


def test_scene_light_has_no_upper_end() -> None:
    light = compile_look(parse_look(TEXT.replace("SOURCE", "ACEScg")))
    assert np.isfinite(light(np.full((1, 3), 60000.0))).all()
