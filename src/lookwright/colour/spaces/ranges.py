"""Full and legal (narrow) range of a signal."""

from __future__ import annotations

from typing import Literal

import numpy as np

from lookwright.arrays import Array

Range = Literal["full", "legal"]

# 10-bit narrow range of R'G'B' and Y': BT.709-6 item 4.6, BT.2100-3 table 9. A LUT does not know the
# bit depth of its consumer; at 8 bits black would be 16/255, 0.0002 of full scale higher.
_BLACK = 64.0 / 1023.0
_SPAN = (940.0 - 64.0) / 1023.0


def to_full(signal: Array, kind: Range) -> Array:
    """Code value / (2^n - 1) in the declared range to nominal signal (0 black, 1 white); linear, open."""
    return signal if kind == "full" else (np.asarray(signal) - _BLACK) / _SPAN


def from_full(signal: Array, kind: Range) -> Array:
    """The inverse of :func:`to_full`."""
    return signal if kind == "full" else np.asarray(signal) * _SPAN + _BLACK
