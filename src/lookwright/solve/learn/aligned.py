"""Whether the two frames of a pair show the same thing at the same place, and if not, how far they are shifted."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lookwright.errors import PictureError

_CLEARLY = 1.25
"""Factor by which edges must agree better when shifted, before a shift is told."""
_WIDEST = 2048
"""Columns at which frames are compared; of wider ones blocks of pixels are."""
_AGREE = 0.3
"""Least correlation of edges at the shift: under it nothing is known of one."""


def shift_between(one: NDArray[np.float32], two: NDArray[np.float32]) -> tuple[int, int, float, float]:
    """Where two pictures (H, W, 3) of one size agree best.

    Edges are compared, the size of the gradient of the ranked luma: a grade leaves them where they are. Correlated over
    all shifts by Fourier transforms with room round the picture, so that nothing wraps.

    Returns
    -------
    Columns and rows by which ``two`` lies to the right of and below ``one``; the correlation of edges there, -1..1; and
    the one where they lie.
    """
    from scipy import fft

    block = -(-one.shape[1] // _WIDEST)
    edges = [_edges(_thinned(p, block)) for p in (one, two)]
    shape = tuple(fft.next_fast_len(2 * n, real=True) for n in edges[0].shape)
    a, b = (fft.rfft2(e, shape) for e in edges)
    size = float(np.sqrt((edges[0] ** 2).sum() * (edges[1] ** 2).sum()))
    if size == 0.0:  # flat
        return 0, 0, 1.0, 1.0
    # To 1e-5, more than 32-bit transforms err: between two shifts that are alike no last digit decides.
    agree = np.round(fft.irfft2(np.conj(a) * b, shape) / size, 5)
    row, column = np.unravel_index(int(agree.argmax()), shape)
    rows, columns = (int(v) - n if v > n // 2 else int(v) for v, n in zip((row, column), shape, strict=True))
    return columns * block, rows * block, float(agree[row, column]), float(agree[0, 0])


def _thinned(pixels: NDArray[np.float32], block: int) -> NDArray[np.float32]:
    """(H, W) mean of the channels, over square blocks of pixels."""
    luma = pixels.mean(axis=-1, dtype=np.float32)
    h, w = (n // block * block for n in luma.shape)
    return luma[:h, :w].reshape(h // block, block, w // block, block).mean(axis=(1, 3), dtype=np.float32)


def _edges(luma: NDArray[np.float32]) -> NDArray[np.float32]:
    """(H, W) gradients of the rank of luma, without their mean."""
    ranks = np.searchsorted(np.quantile(luma[::3, ::3], np.linspace(0.0, 1.0, 65)), luma).astype(np.float32)
    down, across = np.gradient(ranks)
    edge = np.minimum(np.hypot(down, across), 8.0)
    return np.asarray(edge - edge.mean(), np.float32)


def check_aligned(where: str, one: NDArray[np.float32], two: NDArray[np.float32]) -> None:
    """Raises :class:`PictureError` with the shift for two frames of one size that do not line up."""
    columns, rows, best, here = shift_between(one, two)
    if (columns, rows) == (0, 0) or best < _AGREE or best < _CLEARLY * here:
        return
    parts = [
        f"{abs(n)} pixels {word[n > 0]}"
        for n, word in ((columns, ("to the left", "to the right")), (rows, ("up", "down")))
        if n
    ]
    raise PictureError(
        where,
        f"the frames do not line up: the graded one lies {' and '.join(parts)}",
        "the same frame twice, pixel on pixel",
        "export both without a reframe or stabiliser",
    )
