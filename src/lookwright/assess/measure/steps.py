"""Do codes stand on the even steps of a coarse integer file?

Light in so few even steps would band in the shadows (at 10 bits, six stops under grey leave 3 steps to the stop
above), so linear light is kept in floating point or 16 bits. Codes in 8 or 10 bits are therefore a sign of an encoding
made for the eye. Light *decoded* from such codes has as few values, but unevenly spaced, and does not pass.
"""

from __future__ import annotations

import numpy as np

from lookwright.arrays import Array

SCALES = (("8-bit", 255.0), ("10-bit", 1023.0), ("8-bit", 65535.0 / 256.0), ("10-bit", 65535.0 / 64.0))
"""(name, steps from 0 to 1): as they are, and in the upper bits of 16 with zeros below."""
OFF_STEP = 0.02
"""How far from a whole step a code may be, in steps. 10 bits repeated below themselves to fill 16 are at most 0.016
off; a value of any other origin passes by chance once in 25."""
FEWEST = 24
"""Different codes needed: values of another origin would all pass by chance once in 25^24."""


def even_steps(x: Array) -> str:
    """``"8-bit"`` or ``"10-bit"`` when every code is a whole step of that depth, else ``""``.

    Parameters
    ----------
    x
        Codes of any shape as stored, 1 = full code; float32 precision suffices.

    Notes
    -----
    A mark on the file, not on the picture: resizing, conversion from Y'CbCr or rendering in floating point removes it.
    """
    for name, scale in SCALES:
        scaled = x * scale
        steps = np.rint(scaled)
        if np.abs(scaled - steps).max() <= OFF_STEP and len(np.unique(steps)) >= FEWEST:
            return name
    return ""
