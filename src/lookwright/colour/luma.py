"""Luma: the weighted sum of code values that a waveform shows."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.colour.spaces.ranges import to_full
from lookwright.colour.spaces.signal import Signal

# The weights as the standards print them; other sets derive theirs from the primaries.
_PRINTED_LUMA = {
    "BT.709": (0.2126, 0.7152, 0.0722),  # BT.709-6 item 3.2
    "BT.2020": (0.2627, 0.6780, 0.0593),  # BT.2020-2 table 4
}


def luma_weights(signal: Signal) -> tuple[Array, str]:
    """(3,) weights of R'G'B' in luma', and their name.

    Those of the signal's primaries: the printed ones of BT.709-6 and BT.2020-2 for these sets, the middle row
    of the derived RGB to XYZ matrix (RP 177-1993) for others. Camera gamuts with an imaginary blue primary would
    give blue a negative weight; they get BT.709's, which is what a monitoring output of such a camera uses (common
    practice, no source).
    """
    name = signal.primaries.name
    if name in _PRINTED_LUMA:
        return np.array(_PRINTED_LUMA[name]), f"{name} luma"
    derived = signal.primaries.luminance
    if (derived < 0.0).any():
        return np.array(_PRINTED_LUMA["BT.709"]), "BT.709 luma"
    return derived, f"luma of {name} primaries"


def nominal(pixels: NDArray[Any], signal: Signal) -> Array:
    """Code values (..., 3) to nominal signal: 0 black, 1 white in either range; float64, open at both ends."""
    return to_full(np.asarray(pixels, np.float64), signal.range)


def luma_percent(pixels: NDArray[Any], signal: Signal) -> Array:
    """Luma' in percent, (...,) float64."""
    weights, _ = luma_weights(signal)
    return nominal(pixels, signal) @ (100.0 * weights)
