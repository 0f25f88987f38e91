"""Putting a picture through a LUT, fast: OpenColorIO's CPU processor over bands on threads.

Contiguous float32 through ``PackedImageDesc`` is its fastest way (measured with OpenColorIO 2.6: about
350 MP/s a core for RGBA, 225 for RGB, 40 through ``applyRGB``). The LUT goes in as data in memory, never
as a file: OpenColorIO remembers files by their path and would go on using the earlier content.
"""

from __future__ import annotations

import math
import os
import sys
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any, Protocol, runtime_checkable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lookwright.arrays import Pixels
from lookwright.errors import LookwrightError, PictureError
from lookwright.pictures.stills.quantise import VALUES, quantise

from .interpolate import check_interpolation
from .lattice import Curves, Lattice, Tables, Triple
from .processor import lossless_processor

BAND = 1 << 17
"""Pixels per band. From a half to eight times as many the time is the same within the noise (measured, two threads)."""

LINE = 512
"""Pixels per line as OpenColorIO is told, whatever the picture's width. For RGB it works in a buffer of one
line: 512 keep it in first-level cache (144 MP/s a core against 129 at 3840 and 30 at 65536, measured)."""


@runtime_checkable
class Compiled(Protocol):
    """What brings its own processor: a LUT file that was read."""

    def processor(self, interpolation: str) -> Any:
        """OpenColorIO's CPU processor, 32-bit float in and out."""

    def check(self, result: NDArray[Any]) -> None:
        """Raise for a result, (..., 3) float32, that no picture may have."""


_COUNTS = sys.implementation.name == "cpython" and getattr(sys, "_is_gil_enabled", lambda: True)()
"""Whether the number of references to an object can be known at once."""


def _alone() -> int:
    """References to an array that one name holds, as this release counts them."""
    kept = [np.empty(1, np.float32)]
    last = kept.pop()
    count = sys.getrefcount(last)
    return count


_ALONE = _alone()


class Applier:
    """A LUT made ready for pictures.

    Parameters
    ----------
    lut
        A lattice, curves, both (the curves come first), or a LUT file of any kind that was read.
    interpolation
        ``tetrahedral`` or ``trilinear``, between lattice points; curves are always linear.
    threads
        Worker threads; all cores when None. The result does not depend on it.

    Notes
    -----
    Input outside a table's domain, also infinities, is clamped to it. NaN is refused with a
    :class:`PictureError` that names the pixel (OpenColorIO would make it 0 without a word). Arithmetic is
    32-bit: within 1e-6 of :mod:`lookwright.lut.lattices.interpolate` for values up to 1.

    Examples
    --------
    >>> from lookwright.lut.lattices.lattice import sample
    >>> half = Applier(sample(lambda signal: signal / 2, 2))
    >>> half(np.full((1, 1, 3), 0.5)).tolist()
    [[[0.25, 0.25, 0.25]]]
    """

    def __init__(
        self,
        lut: Lattice | Curves | Tables | Compiled,
        interpolation: str = "tetrahedral",
        threads: int | None = None,
    ) -> None:
        check_interpolation(interpolation)
        self.threads = threads or os.cpu_count() or 1
        self.interpolation = interpolation
        # A formula, unlike a table, has no bound on what it gives.
        self._check = lut.check if isinstance(lut, Compiled) else None
        self.transform: Any = None
        """The same as OpenColorIO's transform; None where it is more than tables."""
        # What stands between points is a mean of them.
        self.within = isinstance(lut, Lattice) and bool(lut.table.min() >= 0.0 and lut.table.max() <= 1.0)
        """Nothing that it gives is outside 0..1; False where that is not known."""
        if isinstance(lut, Compiled):
            self._processor = lut.processor(interpolation)
        else:
            self.transform = ocio_transform(lut, interpolation)
            self._processor = cpu_processor(self.transform)
        self._last: list[Pixels] = []
        """The newest picture made, if any."""

    def __call__(self, pixels: ArrayLike, no_nan: bool = False, out: Pixels | None = None) -> Pixels:
        """A new picture, (..., 3) floating point in, (..., 3) float32 out.

        Parameters
        ----------
        pixels
            Signal; 0..1 is the usual range.
        no_nan
            The caller knows that there is no NaN, as in anything read from an integer file: saves the
            search, about a tenth of the time. NaN then comes out as a colour of the lattice.
        out
            A contiguous float32 array of the same shape to write to and return. Without it the memory of the
            newest picture is taken again once nobody holds that: fresh memory costs a third of the whole time.

        Raises
        ------
        PictureError
            For NaN, integer pixels (their scale is not known here) or a shape other than (..., 3).
        """
        return self._new(_checked(pixels, 3), no_nan, out)

    def rgba(self, pixels: ArrayLike, no_nan: bool = False, out: Pixels | None = None) -> Pixels:
        """As a call, for (..., 4) in and out; alpha is passed on. The faster form."""
        return self._new(_checked(pixels, 4), no_nan, out)

    def coded(
        self, codes: NDArray[np.uint8] | NDArray[np.uint16], out: NDArray[np.uint8] | None = None
    ) -> NDArray[Any]:
        """Codes of 8 or 16 bits in, codes of 8 bits out, both (..., 3): division, LUT and rounding band by band.

        The same codes as the float picture comes to when it is rounded to the nearest, ties up.

        Parameters
        ----------
        codes
            uint8 or uint16; full white is 255 or 65535.
        out
            A contiguous uint8 array of the same shape to write to and return; a new one when None.

        Raises
        ------
        PictureError
            For codes of another type or shape.
        """
        source = np.asarray(codes)
        if source.ndim == 0 or source.shape[-1] != 3 or source.dtype not in (np.uint8, np.uint16):
            raise PictureError("picture", f"{source.dtype} {source.shape}", "(..., 3) of uint8 or uint16")
        if out is None:
            out = np.empty(source.shape, np.uint8)
        elif out.dtype != np.uint8 or out.shape != source.shape or not out.flags.c_contiguous:
            raise PictureError("picture", "no contiguous uint8 array of the same shape", "one to write to")
        source, target = source.reshape(-1, 3), out.reshape(-1, 3)
        white = np.float32((1 << 8 * source.itemsize) - 1)
        step = VALUES // 3 // LINE * LINE
        mine = threading.local()

        def band(start: int) -> bool:
            count = min(step, len(source) - start)
            if not hasattr(mine, "held"):
                mine.held = np.empty((step, 3), source.dtype), *(np.empty((step, 3), np.float32) for _ in range(3))
            part, signal, *scratch = (held[:count] for held in mine.held)
            # A plain copy draws far memory near twice as fast as a division that reads from it.
            np.copyto(part, source[start : start + count])
            np.divide(part, white, out=signal, dtype=np.float32)
            self._through(signal, signal)
            quantise(signal, 8, target[start : start + count], cut=not self.within, scratch=scratch)
            return True

        self._work(band, range(0, len(source), step))
        return out

    def _new(self, source: NDArray[Any], no_nan: bool, out: Pixels | None) -> Pixels:
        kept = out is not None
        if out is None:
            out = self._dropped(source.shape)
        out = _target(out, source)
        self._bands(source, out, no_nan)
        if not kept:
            self._last[:] = [out]
        return out

    def _dropped(self, shape: tuple[int, ...]) -> Pixels | None:
        """The newest picture if it has this shape and nobody else holds it or a view of it."""
        try:
            last = self._last.pop()  # one thread alone gets it
        except IndexError:
            return None
        # A view holds the array it looks into, so it counts too.
        count = sys.getrefcount(last)
        return last if _COUNTS and last.shape == shape and count == _ALONE else None

    def apply_inplace_rgba(self, pixels: Pixels, no_nan: bool = False) -> None:
        """Change a contiguous, writable (..., 4) float32 picture where it lies; alpha stays.

        When NaN is found the error is raised after some bands have been changed.
        """
        source = _checked(pixels, 4)
        self._bands(source, _target(pixels, source), no_nan)

    def _bands(self, picture: NDArray[Any], out: Pixels, no_nan: bool) -> None:
        if picture.size == 0:
            return
        source = picture
        channels = source.shape[-1]
        # A strided picture (a crop, say) is made contiguous band by band, not as a whole.
        if source.ndim != 3 or source.flags.c_contiguous:
            source = source.reshape(-1, channels)
        out = out.reshape(source.shape)
        step = max(1, BAND // math.prod(source.shape[1:-1]))
        starts = range(0, len(source), step)

        def band(start: int) -> bool:
            return self._one(source[start : start + step], out[start : start + step], no_nan)

        if not self._work(band, starts):
            raise nan_fault(picture)

    def _work(self, band: Callable[[int], bool], starts: range) -> bool:
        """Do every band, on all threads; whether all were good."""
        todo = iter(starts)

        def work() -> bool:
            # Every thread takes the next band itself: one that hands them out would have to wake for each.
            return all(map(band, todo))

        helpers = min(self.threads, len(starts)) - 1
        if helpers < 1:
            return work()
        with ThreadPoolExecutor(helpers) as pool:
            others = [pool.submit(work) for _ in range(helpers)]
            good = work()
            return all([o.result() for o in others]) and good

    def _one(self, source: NDArray[Any], out: Pixels, no_nan: bool) -> bool:
        """Put one band through the LUT; False, and nothing done, when a colour in it is NaN."""
        with np.errstate(over="ignore", invalid="ignore"):
            part = np.ascontiguousarray(source, dtype=np.float32)
            # The minimum of an array with NaN is NaN: one pass, no temporary array. Alpha may be anything.
            if not no_nan and np.isnan(part.min()) and np.isnan(part[..., :3]).any():
                return False
        channels = part.shape[-1]
        self._through(part.reshape(-1, channels), out.reshape(-1, channels))
        return True

    def _through(self, part: NDArray[Any], out: NDArray[Any]) -> None:
        """Pixels of (N, channels), contiguous float32 without NaN, into ``out``, which may be the same."""
        import PyOpenColorIO as ocio

        channels = part.shape[-1]
        whole = len(part) // LINE * LINE
        for piece, width in ((slice(0, whole), LINE), (slice(whole, None), len(part) - whole)):
            if (count := len(part[piece])) == 0:
                continue
            target = ocio.PackedImageDesc(out[piece], width, count // width, channels)
            if part.ctypes.data == out.ctypes.data:
                self._processor.apply(target)
            else:
                read = ocio.PackedImageDesc(part[piece], width, count // width, channels)
                self._processor.apply(read, target)
        if self._check is not None:
            self._check(out[:, :3])


def _checked(pixels: ArrayLike, channels: int) -> NDArray[Any]:
    array = np.asarray(pixels)
    if array.ndim == 0 or array.shape[-1] != channels:
        raise PictureError("picture", f"shape {array.shape}", f"(..., {channels})")
    if array.dtype.kind != "f":
        raise PictureError("picture", f"{array.dtype} pixels", "floating point, 0 to 1", "divide by the maximum")
    return array


def _target(out: Pixels | None, source: NDArray[Any]) -> Pixels:
    """``out`` if a result can be written to it, a new array when None."""
    if out is None:
        return np.empty(source.shape, dtype=np.float32)
    good = isinstance(out, np.ndarray) and out.dtype == np.float32 and out.shape == source.shape
    if not good or not out.flags.c_contiguous or not out.flags.writeable:
        raise PictureError("picture", "no contiguous, writable float32 array of the same shape", "one to write to")
    return out


def nan_fault(picture: NDArray[Any]) -> PictureError:
    """The fault of a picture that has NaN: how many pixels, and where the first is."""
    bad = np.isnan(picture[..., :3]).any(axis=-1)
    first = tuple(int(i) for i in np.argwhere(bad)[0])
    place = f"row {first[0]}, column {first[1]}" if len(first) == 2 else f"index {first}"
    count = int(bad.sum())
    return PictureError(
        "picture",
        f"{count} pixel{'s are' if count > 1 else ' is'} NaN, the first at {place}",
        "numbers",
        "mend the picture first",
    )


def ocio_transform(lut: Lattice | Curves | Tables, interpolation: str = "tetrahedral") -> Any:
    """The LUT as an OpenColorIO ``GroupTransform`` held in memory, input range included."""
    import PyOpenColorIO as ocio

    parts = (lut.curves, lut.lattice) if isinstance(lut, Tables) else (lut,)
    group = ocio.GroupTransform()
    for part in parts:
        if part is None:
            continue
        if not part.unit_domain:
            group.appendTransform(_to_unit(part.domain_min, part.domain_max))
        flat = part.table.astype(np.float32).ravel()
        if isinstance(part, Lattice):
            cube = ocio.Lut3DTransform(gridSize=part.size)
            cube.setInterpolation(ocio.INTERP_TETRAHEDRAL if interpolation == "tetrahedral" else ocio.INTERP_LINEAR)
            # OpenColorIO's 3D data runs blue fastest: the order of an array indexed [r, g, b].
            cube.setData(flat)
            group.appendTransform(cube)
        else:
            curves = ocio.Lut1DTransform(part.size, False)
            curves.setInterpolation(ocio.INTERP_LINEAR)
            curves.setData(flat)
            group.appendTransform(curves)
    return group


def _to_unit(low: Triple, high: Triple) -> Any:
    """The matrix that brings a domain to 0..1; the LUT after it clamps."""
    import PyOpenColorIO as ocio

    matrix, offset = [0.0] * 16, [0.0] * 4
    for c, (a, b) in enumerate(zip(low, high, strict=True)):
        matrix[5 * c] = 1.0 / (b - a)
        offset[c] = -a / (b - a)
    matrix[15] = 1.0
    return ocio.MatrixTransform(matrix, offset)


def cpu_processor(transform: Any) -> Any:
    """The lossless processor of a transform held in memory; :class:`LookwrightError` where OpenColorIO refuses it."""
    import PyOpenColorIO as ocio

    try:
        return lossless_processor(transform)
    except ocio.Exception as exc:
        raise LookwrightError("LUT", f"OpenColorIO refuses it: {exc}") from None
