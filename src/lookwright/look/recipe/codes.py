"""Code values from outside: what is wrong with an array, in one sentence with what to do."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from lookwright.arrays import Array
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import LookwrightError

MOST_CODE = 4.0
"""Code value that no encoded signal reaches: the brightest light of the log encodings lies at 1 to 1.5. What is larger
was not divided by the largest integer of its bit depth (255, 1023, 65535)."""

WHERE = "code values"


def checked(signal: ArrayLike, source: Signal) -> Array:
    """``signal`` as float64 (..., 3), once it can be code values of ``source``.

    Raises :class:`LookwrightError`: not floating point, not three channels last, not finite, or, where the encoding is
    not linear light, not on a scale of 0..1.
    """
    given = np.asarray(signal)
    _check_dtype(given.dtype)
    _check_shape(given.shape)
    x = np.asarray(given, np.float64)
    if not np.isfinite(x).all():
        bad = int(np.count_nonzero(~np.isfinite(x)))
        raise LookwrightError(
            WHERE, f"{bad} of {x.size} are NaN or infinite", "finite numbers", "repair them, with numpy.nan_to_num say"
        )
    if x.size and not source.encoding.linear and x.max() > MOST_CODE:
        raise LookwrightError(
            WHERE,
            f"up to {x.max():g}",
            f"{source.encoding.name} on a scale of 0 to 1",
            "divide by the largest code of the bit depth, 2^n - 1 (255, 1023, 65535)",
        )
    return x


def _check_dtype(dtype: np.dtype[np.generic]) -> None:
    if dtype.kind in "ui":
        most = 2 ** (8 * dtype.itemsize) - 1
        raise LookwrightError(
            WHERE,
            f"integers ({dtype})",
            "floating point, 0 to 1",
            f"divide by 2^n - 1 for n bits: array / {most}.0" if dtype.kind == "u" else "divide by 2^n - 1 for n bits",
        )
    if dtype.kind != "f":
        raise LookwrightError(WHERE, f"an array of {dtype}", "floating point, 0 to 1", "convert it with astype(float)")


def _check_shape(shape: tuple[int, ...]) -> None:
    if shape and shape[-1] == 3:
        return
    hint = "put the three channels last"
    if shape and shape[-1] == 4:
        hint = "drop alpha: array[..., :3]"
    elif len(shape) >= 3 and shape[-3] == 3:
        hint = f"put the channels last: numpy.moveaxis(array, {len(shape) - 3}, -1)"
    elif len(shape) >= 2 and shape[-1] != 3:
        hint = "a single channel is repeated with numpy.repeat(array[..., None], 3, axis=-1)"
    raise LookwrightError(WHERE, f"shape {shape}", "red, green and blue last: (..., 3)", hint)
