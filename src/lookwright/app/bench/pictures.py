"""The stills on the light table: read when looked at, cut and made smaller to what the page shows, exact at rest."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.assess.measure.levels import scene_luminance, stops_from
from lookwright.assess.measure.stepped import steps_of
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import PictureError
from lookwright.look.baking.viewing import View
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.staged import Staged, never, through, through_pieces
from lookwright.pictures.stills import Still, read

from .bake_queue import Places, Seen
from .codes import Codes, codes
from .shown import on_screen

KEPT = 3
"""Stills held in memory: the one looked at and its neighbours."""
VIEW_BYTES = 128_000_000
"""Of views held in memory: nine small pictures at once with what they are compared with, or one of the largest."""
MOST_SIDE = 4096
MOST_PIXELS = 3840 * 2400
"""Largest view; a page on a larger screen is shown one pixel for several."""
MAP_STOPS = 8.0
"""Ends of the exposure map, as on measure sheets: silhouettes of night scenes lie 6 to 8 stops under grey."""

Bytes = NDArray[np.uint8]


@dataclass(frozen=True)
class Region:
    """A part of a still in its own pixels, and the size at which the page shows it (never larger than it is)."""

    x: int
    y: int
    w: int
    h: int
    width: int
    height: int


class Pictures:
    """The given stills by number; nothing else can be asked for."""

    def __init__(self, paths: Sequence[Path], pool: ThreadPoolExecutor) -> None:
        self.paths = list(paths)
        self._pool = pool
        self._lock = threading.Lock()
        self._stills: OrderedDict[int, Still] = OrderedDict()
        self._views: OrderedDict[tuple[int, Region], NDArray[np.float32]] = OrderedDict()
        self._places: OrderedDict[tuple[int, Region, int], Places] = OrderedDict()
        self._staged = Staged()
        self._luts: dict[int, tuple[Look, View]] = {}

    def add(self, path: Path) -> int:
        """One more still; its number."""
        self.paths.append(path)
        return len(self.paths) - 1

    def path(self, index: int) -> Path:
        """Where a still lies; raises :class:`PictureError` for a number there is none of."""
        if not 0 <= index < len(self.paths):
            raise PictureError("still", f"number {index + 1}", f"1 to {len(self.paths)}")
        return self.paths[index]

    def held(self, index: int) -> Still | None:
        """A still that is in memory already."""
        with self._lock:
            return self._stills.get(index)

    def still(self, index: int) -> Still:
        """One still; raises :class:`PictureError` for a number there is none of, or a file that cannot be read."""
        path = self.path(index)
        with self._lock:
            if index in self._stills:
                self._stills.move_to_end(index)
                return self._stills[index]
        found = read(path)
        with self._lock:
            self._stills[index] = found
            while len(self._stills) > KEPT:
                self._stills.popitem(last=False)
        return found

    def view(self, index: int, region: Region) -> NDArray[np.float32]:
        """(height, width, 3) source signal 0..1 of a region, averaged down to the size shown.

        Codes are averaged, not light: the picture is then graded as it is seen, one colour a pixel of the screen. A
        LUT holds its input in 0..1, and so does this.
        """
        with self._lock:
            if (index, region) in self._views:
                self._views.move_to_end((index, region))
                return self._views[index, region]
        still = self.still(index)
        _check(region, still)
        part = still.pixels[region.y : region.y + region.h, region.x : region.x + region.w]
        part = smaller(part, region.width, region.height)
        view = np.clip(np.ascontiguousarray(part, np.float32), 0.0, 1.0)
        with self._lock:
            self._views[index, region] = view
            while len(self._views) > 1 and sum(v.nbytes for v in self._views.values()) > VIEW_BYTES:
                self._views.popitem(last=False)
        return view

    def source(self, index: int, region: Region) -> Codes:
        """The same as 16-bit codes, for the page's own lookup."""
        return codes(self.view(index, region))

    def seen(self, index: int, region: Region) -> Seen:
        """What this view reads of lattices, worked out when first asked for."""
        return Seen((index, region), lambda size: self._places_of(index, region, size))

    def _places_of(self, index: int, region: Region, size: int) -> Places:
        key = (index, region, size)
        with self._lock:
            if key in self._places:
                self._places.move_to_end(key)
                return self._places[key]
        found = corners(self.source(index, region), size)
        with self._lock:
            self._places[key] = found
            while len(self._places) > 4 * KEPT:
                self._places.popitem(last=False)
        return found

    def exact(self, index: int, region: Region, look: Look, superseded: Callable[[], bool] = never) -> Bytes:
        """(height, width, 3) of the region through the exact path (no lattice), as the page shows it, 8 bits.

        Raises :class:`~lookwright.look.recipe.staged.Superseded` when ``superseded()`` turns true.
        """
        view = self.view(index, region)
        out = self.graded(view.reshape(-1, 3).astype(np.float64), look, superseded)
        return np.rint(np.clip(out, 0.0, 1.0) * 255.0).astype(np.uint8).reshape(view.shape)

    def delivered(self, index: int, region: Region, look: Look, size: int) -> Bytes:
        """The same through a lattice of ``size`` points, as ``preview`` shows it and a plainly sampled LUT does."""
        view = self.view(index, region)
        _, screen = on_screen(look)
        out = np.asarray(self._lut(look, size).graded(view, no_nan=True), np.float64).reshape(-1, 3)
        for op in screen.after:
            out = op(out)
        return np.rint(np.clip(out, 0.0, 1.0) * 255.0).astype(np.uint8).reshape(view.shape)

    def _lut(self, look: Look, size: int) -> View:
        with self._lock:
            if self._luts.get(size, (None, None))[0] != look:
                self._luts[size] = look, View(look, size)
            return self._luts[size][1]

    def graded(self, pixels: Array, look: Look, superseded: Callable[[], bool] = never) -> Array:
        """Any source pixels (n, 3) through the exact path to the signal that the page shows."""
        shown, screen = on_screen(look)
        parts = self._staged.parts(shown, screen.after, screen.note)
        return through_pieces(parts, pixels, self._pool, superseded)

    def signal_shown(self, look: Look, pixels: Array) -> Array:
        """A few source pixels (n, 3) as the page shows them, here and now."""
        shown, screen = on_screen(look)
        return through(self._staged.parts(shown, screen.after, screen.note), pixels)

    def signal(self, look: Look, pixels: Array) -> Array:
        """Source pixels (n, 3) through a look that is shown, to its own output signal; steps prepared once a value."""
        return through(self._staged.parts(look), pixels)

    def exposure(self, index: int, region: Region, source: Signal) -> Bytes:
        """(height, width) of the light in the still: 0 at -8 stops from middle grey, 255 at +8."""
        view = self.view(index, region)
        y, _ = scene_luminance(view, source)
        share = (stops_from(y) + MAP_STOPS) / (2.0 * MAP_STOPS)
        return np.rint(np.clip(share, 0.0, 1.0) * 255.0).astype(np.uint8)


def corners(picture: Codes, size: int) -> Places:
    """Sorted places (blue fastest) of the corners of every lattice cell that holds a colour of ``picture`` (..., 3).

    No lookup of these colours, trilinear or tetrahedral, reads any other point.
    """
    cell = np.minimum(np.arange(65536, dtype=np.int64) * (size - 1) // 65535, size - 2).astype(np.int32)
    r, g, b = (picture[..., c].ravel() for c in range(3))
    held = np.zeros(size**3, bool)
    held[(cell * size**2)[r] + (cell * size)[g] + cell[b]] = True
    cells = held.reshape(size, size, size)[:-1, :-1, :-1]
    read = np.zeros((size, size, size), bool)
    n = size - 1
    for i, j, k in np.ndindex(2, 2, 2):
        read[i : i + n, j : j + n, k : k + n] |= cells
    return np.flatnonzero(read)


def map_colours() -> list[list[int]]:
    """The exposure map's 256 colours: the same steps of a stop as on measure sheets."""
    steps = steps_of("stops")
    stops = np.arange(256) * (2.0 * MAP_STOPS / 255.0) - MAP_STOPS
    table = steps.colours[steps.of(stops)]
    return [[int(v) for v in row] for row in np.rint(table * 255.0)]


def _check(r: Region, still: Still) -> None:
    inside = min(r.x, r.y) >= 0 and min(r.w, r.h) > 0
    if not (inside and r.x + r.w <= still.width and r.y + r.h <= still.height):
        raise PictureError(still.path.name, "a region outside the picture", f"within {still.width} x {still.height}")
    fits = 0 < r.width <= min(r.w, MOST_SIDE) and 0 < r.height <= min(r.h, MOST_SIDE)
    if not fits or r.width * r.height > MOST_PIXELS:
        raise PictureError(still.path.name, f"a view of {r.width} x {r.height}", "at most its own pixels")


def narrower(width: int, height: int, most: int) -> tuple[int, int]:
    """A size at most so many pixels wide, of the same shape; never enlarged."""
    wide = min(most, width)
    return wide, max(1, min(height, round(wide * height / width)))


def smaller(part: NDArray[np.float32], width: int, height: int) -> NDArray[np.float32]:
    """Means over the area of each new pixel; of its own size, the part itself."""
    if part.shape[:2] == (height, width):
        return part
    from PIL import Image

    def one(channel: NDArray[np.float32]) -> NDArray[np.float32]:
        whole = Image.fromarray(np.ascontiguousarray(channel))
        return np.asarray(whole.resize((width, height), Image.Resampling.BOX), np.float32)

    return np.stack([one(part[..., c]) for c in range(3)], axis=-1)
