"""The knee of the `gamut` step against the ACES 1.3 Reference Gamut Compression, whose curve it uses.

Academy RGC specification, equations 2 to 5: limits 1.147 1.264 1.312, thresholds 0.815 0.803 0.880, power 1.2;
distance d = (A - RGB) / |A| with A the largest channel. Expected colours: OpenColorIO's tests (from the Academy
CTL, 1e-6) or computed once from the definition in numpy.
"""

import numpy as np
import pytest

from lookwright.look.steps.gamut import knee

LIMITS, THRESHOLDS, POWER = (1.147, 1.264, 1.312), (0.815, 0.803, 0.880), 1.2


def _compress(rgb: tuple[float, float, float]) -> np.ndarray:
    """The published operator around our knee, in linear AP1."""
    x = np.array(rgb)
    largest = x.max()
    distance = (largest - x) / abs(largest)
    squeezed = [knee(np.array(d), t, m, POWER) for d, t, m in zip(distance, THRESHOLDS, LIMITS, strict=True)]
    return largest - np.array(squeezed) * abs(largest)


# Our knee stops at 1 where the published curve goes on rising slowly, so only colours whose distances stay within
# the limits are here.
ROWS = [
    ((1.0, -0.147, 0.5), (1.0, 0.021880278662, 0.5), 1e-11),
    ((1.0, 0.0, 0.0), (1.0, 0.066520452790, 0.045957242840), 1e-11),
    ((0.8, -0.1, 0.4), (0.8, 0.021650602938, 0.4), 1e-11),
    ((-0.147, 1.0, 0.5), (0.0, 1.0, 0.5), 1e-12),
    ((0.5, -0.264, 1.0), (0.5, 0.0, 1.0), 1e-12),
    ((0.5, 1.0, -0.312), (0.5, 1.0, 0.0), 1e-12),
    # Red, green and blue of a camera gamut, from the Academy CTL through OpenColorIO's tests; tolerance there 1e-6.
    ((0.96663409472, 0.04819045216, 0.00719300006), (0.96663409472, 0.08610087633, 0.04698687792), 1e-6),
    ((0.11554181576, 1.18493819237, -0.06659350544), (0.13048231602, 1.18493819237, 0.03576064110), 1e-6),
    ((-0.08217582852, -0.23312863708, 1.05940067768), (0.02295053005, 0.00768482685, 1.05940067768), 1e-6),
    # Dark and light skin of a colour chart: inside the zone of trust.
    ((0.13911968470, 0.08746965975, 0.05927771702), (0.13911968470, 0.08746965975, 0.05927771702), 1e-15),
    ((0.45410454273, 0.32112336159, 0.23821924627), (0.45410454273, 0.32112336159, 0.23821924627), 1e-15),
]


@pytest.mark.parametrize(("rgb", "expected", "tolerance"), ROWS)
def test_published_colours(rgb: tuple, expected: tuple, tolerance: float) -> None:
    np.testing.assert_allclose(_compress(rgb), expected, rtol=0, atol=tolerance)


def test_beyond_the_limit_ours_is_held_and_the_published_one_is_not() -> None:
    # The departure, stated: AP1 (-0.2 0.5 -0.1) has distances 1.4 and 1.2; red is past its limit of 1.147. The
    # published answer is -0.024348974814 0.5 0.004294230603.
    got = _compress((-0.2, 0.5, -0.1))
    np.testing.assert_allclose(got, (0.0, 0.5, 0.004294230603), rtol=0, atol=1e-11)


@pytest.mark.parametrize(("threshold", "limit"), [(0.75, 2.0), (0.3, 8.0), (0.98, 1.1)])
def test_the_knee_of_the_step_itself(threshold: float, limit: float) -> None:
    # From the definition: identity up to the threshold, 1 at the limit, rising, held at 1 beyond.
    ratio = np.linspace(0.0, 2.0 * limit, 4001)
    out = knee(ratio, threshold, limit)
    assert np.array_equal(out[ratio <= threshold], ratio[ratio <= threshold])
    np.testing.assert_allclose(knee(np.array(limit), threshold, limit), 1.0, rtol=0, atol=1e-12)
    within = (ratio > threshold) & (ratio < limit)
    assert (np.diff(out[within]) > 0).all()
    assert (out[ratio >= limit] >= 1.0 - 1e-12).all() and out.max() <= 1.0
