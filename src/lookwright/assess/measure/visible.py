"""Whether a step of light or colour is seen: published thresholds under a stated viewing condition.

**Light**: contrast sensitivity of the eye by Barten (P. G. J. Barten, "Contrast sensitivity of the human eye and its
effects on image quality", SPIE 1999; the constants of ITU-R BT.2246, as colour-science 0.4.7 has them too), at the
spatial frequency where it is greatest, for a field of 40 degrees. BT.2246 turns sensitivity into the smallest step of
an edge that is seen: 2 / (1.27 S).

**Colour**: the colour part of Delta-E ITP (ITU-R BT.2124), which is scaled so that 1 is just noticed under the most
critical adaptation.

The viewing condition of both: the eye adapted to the level of the step, no noise in the picture to hide it, a screen
seen from close enough that it fills the field (about 1.5 times the height of the picture). It is a severe one.
"""

from __future__ import annotations

import numpy as np

from lookwright.arrays import Array

FIELD_DEG = 40.0
"""Angular size of the field, as in the derivation of PQ (BT.2246 annex on Barten's model)."""
FREQUENCIES = np.geomspace(0.5, 16.0, 24)
"""Cycles per degree among which the greatest sensitivity is looked for."""
LEAST_LIGHT = 0.005
"""cd/m2 from which light is told apart at all: darker steps are judged as at this level."""


def contrast_sensitivity(frequency: Array, luminance: Array, field: float = FIELD_DEG) -> Array:
    """Barten's contrast sensitivity, 1 / modulation at threshold.

    Parameters
    ----------
    frequency
        Cycles per degree; broadcasts with ``luminance`` in cd/m2, both > 0.
    field
        Angular size of the (square) field in degrees.
    """
    u, light = np.broadcast_arrays(np.asarray(frequency, np.float64), np.asarray(luminance, np.float64))
    pupil = 5.0 - 3.0 * np.tanh(0.4 * np.log10(light * field**2 / 40.0**2))  # mm
    sigma = np.sqrt((0.5 / 60.0) ** 2 + (0.08 / 60.0 * pupil) ** 2)  # degrees
    optics = np.exp(-2.0 * np.pi**2 * sigma**2 * u**2)
    # Retinal illuminance in troland, with the Stiles-Crawford correction.
    troland = np.pi * pupil**2 / 4.0 * light * (1.0 - (pupil / 9.7) ** 2 + (pupil / 12.4) ** 4)
    photons = 1.0 / (0.03 * 1.2274e6 * troland)
    inhibition = 3e-8 / (1.0 - np.exp(-((u / 7.0) ** 2)))
    space = 1.0 / field**2 + 1.0 / 12.0**2 + u**2 / 15.0**2
    return np.asarray(optics / 3.0 / np.sqrt(2.0 / 0.1 * space * (photons + inhibition)))


_LEVELS = np.geomspace(LEAST_LIGHT, 1e4, 60)
_LEAST_STEP = 2.0 / 1.27 / contrast_sensitivity(FREQUENCIES[:, None], _LEVELS).max(axis=0)


def least_step(luminance: Array) -> Array:
    """Smallest relative step of luminance, dL / L, that is seen at a level in cd/m2."""
    return np.asarray(np.interp(np.log(np.maximum(luminance, LEAST_LIGHT)), np.log(_LEVELS), _LEAST_STEP))


def pq(nits: Array) -> Array:
    """SMPTE ST 2084: cd/m2 to signal 0..1; negatives count as 0."""
    y = (np.maximum(np.asarray(nits, np.float64), 0.0) / 1e4) ** (2610.0 / 16384.0)
    return ((3424.0 / 4096.0 + 2413.0 / 128.0 * y) / (1.0 + 2392.0 / 128.0 * y)) ** (2523.0 / 32.0)


_BT2020_TO_LMS = np.array([[1688.0, 2146.0, 262.0], [683.0, 2951.0, 462.0], [99.0, 309.0, 3688.0]]) / 4096.0
_LMS_TO_ICTCP = np.array([[2048.0, 2048.0, 0.0], [6610.0, -13613.0, 7003.0], [17933.0, -17390.0, -543.0]]) / 4096.0


def itp(nits: Array) -> Array:
    """Linear BT.2020 light (..., 3) in cd/m2 to I, T, P of BT.2124: BT.2100's ICtCp with Ct halved, times 720."""
    ictcp = pq(np.asarray(nits) @ _BT2020_TO_LMS.T) @ _LMS_TO_ICTCP.T
    return 720.0 * ictcp * np.array([1.0, 0.5, 1.0])


LUMINANCE = np.array([0.2627, 0.6780, 0.0593])
"""Weights of BT.2020 light, as its recommendation prints them."""


def steps_seen(before: Array, after: Array) -> Array:
    """How many times what is just seen lies between (..., 3) and (..., 3), linear BT.2020 light in cd/m2.

    The greater of the step of light against Barten's threshold and the step of colour in Delta-E ITP.
    """
    low, high = np.maximum(before @ LUMINANCE, 0.0), np.maximum(after @ LUMINANCE, 0.0)
    mean = np.maximum(0.5 * (low + high), LEAST_LIGHT)
    light = np.abs(high - low) / mean / least_step(mean)
    colour = np.linalg.norm((itp(after) - itp(before))[..., 1:], axis=-1)
    return np.maximum(light, colour)
