"""A frame made small and read in every way that breaking it down needs."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from lookwright.arrays import Array, Pixels
from lookwright.assess.measure.levels import display_light
from lookwright.colour.difference import xyz_to_lab
from lookwright.colour.luma import luma_percent
from lookwright.colour.spaces.primaries import primaries
from lookwright.colour.spaces.signal import DISPLAY_PRIMARIES, SCENE_PRIMARIES, Signal
from lookwright.errors import PictureError

WIDTH = 960
"""Pixels of the longer side that zones are sought on: finer ones would be no place for a light meter, and the time
grows with the area."""
SMALLEST = 48
"""Pixels of the shorter side below which there is nothing to break down: a zone of a fiftieth of it is then a pixel."""


@dataclass(frozen=True)
class Frame:
    """Arrays of one size, (h, w) or (h, w, 3)."""

    picture: Pixels
    """What is seen: code values of ``shown``."""
    shown: Signal
    luma: Array
    """Percent of the shown signal."""
    lab: Array
    """CIELAB of the shown light, white as of its own peak white."""
    scene: Array
    """Scene light, linear ACEScg."""
    estimated: bool
    """Whether that light was found by undoing a rendering."""

    @cached_property
    def light(self) -> Array:
        """Luminance of the scene, 0.18 = middle grey, above zero."""
        return np.maximum(self.scene @ primaries(SCENE_PRIMARIES).luminance, 1e-7)

    @cached_property
    def stops(self) -> Array:
        """Stops of that light from middle grey."""
        return np.log2(self.light / 0.18)


def smaller(pixels: Pixels, most: int = WIDTH) -> Pixels:
    """Means over the area of each new pixel, the longer side at most ``most``; never enlarged.

    Raises :class:`PictureError` for a picture too small or too narrow to be broken down.
    """
    from PIL import Image

    height, width = pixels.shape[:2]
    scale = min(1.0, most / max(height, width))
    new = (round(width * scale), round(height * scale))
    if min(new) < SMALLEST:
        raise PictureError(f"{width}x{height} pixels", "too small or too narrow to break down", f"{SMALLEST} or more")
    if scale == 1.0:
        return np.asarray(pixels, np.float32)

    def one(channel: Pixels) -> Pixels:
        whole = Image.fromarray(np.ascontiguousarray(channel, np.float32))
        return np.asarray(whole.resize(new, Image.Resampling.BOX, reducing_gap=2.0), np.float32)

    return np.stack([one(pixels[..., c]) for c in range(3)], axis=-1)


def frame_of(picture: Pixels, shown: Signal, scene: Array, estimated: bool) -> Frame:
    """A :class:`Frame` of a small picture (h, w, 3) as shown, a display signal, and the scene light behind it."""
    light = display_light(picture, shown)
    xyz = light @ primaries(DISPLAY_PRIMARIES).to_xyz.T
    white = primaries(DISPLAY_PRIMARIES).to_xyz.sum(axis=1)
    return Frame(picture, shown, luma_percent(picture, shown), xyz_to_lab(xyz, white), scene, estimated)
