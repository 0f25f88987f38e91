"""ASC CDL v1.2, the form without clamps.

OpenColorIO, tests/cpu/ops/cdl/CDLOp_tests.cpp: rows "calculated via an independent ASC CDL implementation", six
decimals printed. CLF specification v3.0, example 12.
"""

import numpy as np
import pytest

from lookwright.colour.cdl import LUMA, apply_cdl
from lookwright.colour.spaces.signal import Signal
from lookwright.look.steps import registry
from lookwright.look.steps.base import Context

SET_1 = ((1.35, 1.1, 0.071), (0.05, -0.23, 0.11), (0.93, 0.81, 1.27), 1.23)
SET_2 = ((1.15, 1.10, 0.9), (0.05, 0.02, 0.07), (1.2, 0.95, 1.13), 0.87)

ROWS = [
    (SET_1, (0.25, 0.5, 0.75), (0.422056, 0.401466, 0.035820)),
    (SET_1, (0.3278, 0.01, 1.0), (0.645424, -0.260548, 0.149154)),
    (SET_1, (1.25, 1.5, 1.75), (1.753162, 1.331130, -0.108181)),
    (SET_1, (-0.2, 0.5, 1.4), (-0.327485, 0.431854, 0.111983)),
    (SET_1, (-0.25, -0.5, -0.75), (-0.211694, -0.817469, 0.174100)),
    (SET_1, (0.0, 0.8, 0.99), (-0.045094, 0.746748, 0.018691)),
    (SET_1, (0.0, 0.0, 0.0), (0.109661, -0.249088, 0.108368)),
    # Set 2 is printed with clamps, which do not act on these rows.
    (SET_2, (0.65, 0.55, 0.20), (0.745644, 0.639197, 0.264149)),
    (SET_2, (0.41, 0.81, 0.39), (0.499594, 0.897554, 0.428591)),
    (SET_2, (0.25, 0.50, 0.75), (0.305035, 0.578779, 0.692558)),
]


def _apply(cdl: tuple, rgb: tuple[float, float, float]) -> np.ndarray:
    slope, offset, power, saturation = cdl
    return apply_cdl(np.array(rgb), np.array(slope), np.array(offset), np.array(power), saturation)


@pytest.mark.parametrize(("cdl", "rgb", "expected"), ROWS)
def test_independent_implementation(cdl: tuple, rgb: tuple, expected: tuple) -> None:
    # The rows are float32 with six decimals: in float64 one of them (black of set 1, blue) comes out 1.3e-6 away.
    np.testing.assert_allclose(_apply(cdl, rgb), expected, rtol=0, atol=1.5e-6)


def test_example_of_the_common_lut_format() -> None:
    # CLF example 12: the values were computed from its parameters with numpy and OpenColorIO, nine decimals.
    cdl = ((1.0, 1.0, 0.9), (-0.03, -0.02, 0.0), (1.25, 1.0, 1.0), 1.7)
    np.testing.assert_allclose(_apply(cdl, (0.5, 0.4, 0.3)), (0.399760052, 0.384196988, 0.197196988), rtol=0, atol=1e-8)
    np.testing.assert_allclose(
        _apply(cdl, (0.9, 0.1, 0.05)), (1.261025118, -0.031368780, -0.090868780), rtol=0, atol=1e-8
    )


def test_luma_weights_are_those_of_the_specification() -> None:
    assert LUMA.tolist() == [0.2126, 0.7152, 0.0722]


def test_the_step_runs_that_function() -> None:
    slope, offset, power, saturation = SET_2
    step = registry()["cdl"](slope=slope, offset=offset, power=power, saturation=saturation)
    op = step.prepare(Context(Signal.named("ACEScct"), Signal.named("ACEScct")))
    for _, rgb, expected in ROWS[-3:]:
        np.testing.assert_allclose(op(np.array(rgb)), expected, rtol=0, atol=1e-6)
