"""Signal to codes: the nearest, ties up, as exact arithmetic gives it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

VALUES = 3 << 15
"""Numbers to be quantised at once: what stands between then stays in the cache (measured, 2^15 to 2^18 alike)."""


def quantise(
    values: NDArray[Any],
    bits: int,
    out: NDArray[Any],
    cut: bool = True,
    scratch: Sequence[NDArray[np.float32]] | None = None,
) -> None:
    """Write the nearest code of 0 to 2^bits - 1 for each of ``values`` into ``out``, of the same shape.

    ``values`` are finite signal, 0 to 1, cut where they are beyond; without ``cut`` none is by more than a thousandth
    of a code. Code k begins at (k - 0.5) / (2^bits - 1). Best given in bands of some :data:`VALUES`. ``scratch``, two
    arrays of the shape of ``values`` to be written over, saves fresh memory.
    """
    most = (1 << bits) - 1
    if bits == 8 and values.dtype == np.float32:
        # In float32 the product is rounded, and the sum. Both are monotonic and keep what float32 can hold, k - 0.5 and
        # k among it: a number on the wrong side has been rounded up to k itself. Only those are looked at again.
        codes, whole = (np.empty(values.shape, np.float32) for _ in range(2)) if scratch is None else scratch
        np.multiply(values, np.float32(most), out=codes)
        np.add(codes, np.float32(0.5), out=codes)
        if cut:
            np.clip(codes, 0, most + 0.5, out=codes)
        np.copyto(out, codes, casting="unsafe")
        np.rint(codes, out=whole)  # compared in half the time that the codes take, which would be turned to float32
        doubtful = np.flatnonzero(codes == whole)  # some 15 in a million, or whole areas of one colour
        if len(doubtful) > 8:
            out.flat[doubtful] = _exact(values.flat[doubtful], most, cut).astype(np.uint8)
        else:  # the same, in a quarter of the time
            for place in doubtful.tolist():
                out.flat[place] = int(min(max(values.item(place) * most + 0.5, 0.0), most + 0.5))
        return
    np.copyto(out, _exact(values, most, cut), casting="unsafe")


def _exact(values: NDArray[Any], most: int, cut: bool) -> NDArray[np.float64]:
    """Codes to be cut to whole numbers. The product of a float32 and a 16-bit number is exact in float64."""
    codes = np.multiply(values, most, dtype=np.float64)
    codes += 0.5
    if cut:
        np.clip(codes, 0, most + 0.5, out=codes)
    return codes
