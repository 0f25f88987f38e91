"""The plain rendering: scene light to display light at constant hue, and back."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.rendering.fit import Volume, cubed, knee, unknee, weight
from lookwright.colour.rendering.floor import LEAST, lowered, raised
from lookwright.colour.rendering.hue import Turns, direction, roots_of
from lookwright.colour.spaces.oklab import LMS_TO_LAB, LMS_TO_SCENE, SCENE_TO_LMS
from lookwright.colour.tone import GREY, ToneCurve

CHUNK = 16384
"""Colours worked on at a time: few enough for the processor's cache, enough that the few to be fitted pay a call."""

GAIN = 1.075
"""Saturation on the screen of a mid-grey colour, of the scene's."""
PATH_POWER, PATH_FLOOR = 0.8, 0.07
"""Saturation follows the slope left of the curve to this power; the floor keeps bright yellows reachable."""
DEEP = 0.95
"""Saturation given back where the toe takes all light, to the fourth power of the share it takes."""
FADE = 0.0062
"""Brightness cubed at which half the colour is gone: 5 stops under grey."""
LIMITS = (1.05, 12.0)
THRESHOLD = 0.75


def in_chunks(work: Callable[[Array], Array], colours: Array) -> Array:
    """``work``, on (3, n), over colours (..., 3)."""
    flat = np.asarray(colours, np.float64).reshape(-1, 3)
    out = np.empty_like(flat)
    for start in range(0, len(flat), CHUNK):
        part = slice(start, start + CHUNK)
        out[part] = work(flat[part].T).T
    return out.reshape(np.shape(colours))


class PlainRendering:
    """Scene light to display light that the output can show, and back.

    Parameters
    ----------
    curve
        Brightness of the screen for brightness of the scene.
    volume
        What the output can show.
    skew
        Degrees by which bright warm lights turn toward yellow.
    threshold
        Share of the room for colour from where on it is compressed.
    """

    def __init__(self, curve: ToneCurve, volume: Volume, skew: float = 0.0, threshold: float = THRESHOLD) -> None:
        self.curve, self.volume, self.threshold = curve, volume, threshold
        self.turns = Turns(skew)
        self._at_grey = float(curve.with_shares(np.array(GREY))[1]) + PATH_FLOOR

    def __call__(self, scene: Array) -> Array:
        """Display light (..., 3), linear BT.2020, of scene light (..., 3), linear ACEScg. Finite for finite light."""
        return in_chunks(self.forward, scene)

    def inverse(self, light: Array) -> Array:
        """Scene light (..., 3), linear ACEScg, that is rendered as display light (..., 3), linear BT.2020.

        Where no scene light is, the purest of the same hue and brightness.
        """
        return in_chunks(self._back, light)

    def _gain(self, bright: Array, share: Array, deep: Array) -> Array:
        """What the rendering makes of saturation.

        The slope left of the curve is the path to white. Where the toe takes lightness, and chroma with it, some is
        given back: dark skin must not pale more than light skin does. In black all colour fades.
        """
        square, fourth = bright * bright, deep * deep
        fourth *= fourth
        path = ((share + PATH_FLOOR) * (1.0 / self._at_grey)) ** PATH_POWER
        return GAIN * path * (1.0 + DEEP * fourth) * (square / (square + FADE * FADE))

    def _limit(self, q: Array, gain: Array, room: Array) -> Array:
        """How far beyond the room the purest light of the scene lies."""
        reach = (1.0 - LEAST) / (LEAST * q.max(axis=0) - q.min(axis=0))
        return np.clip(reach * gain / room, *LIMITS)

    def forward(self, scene: Array) -> Array:
        """The same on (3, n)."""
        lab = LMS_TO_LAB @ np.cbrt(raised(SCENE_TO_LMS @ scene))
        chroma, unit = direction(lab)
        s = chroma / lab[0]
        bright = cubed(lab[0] * weight(s))
        shown, share, deep = self.curve.with_shares(bright)
        gain = self._gain(bright, share, deep)
        toned = s * gain
        q = roots_of(self.turns(unit, s, toned, share))
        todo, ratio = self.volume.crowded(q, toned, shown, self.threshold)
        if len(todo):
            some = q[:, todo]
            room = self.volume.room(some, ratio)
            toned[todo] = room * knee(toned[todo] / room, self.threshold, self._limit(some, gain[todo], room))
        return self.volume.light(q, toned, shown)

    def _back(self, light: Array) -> Array:
        lab = LMS_TO_LAB @ np.cbrt(self.volume.to_lms @ light)
        chroma, unit = direction(lab)
        q = roots_of(unit)
        toned = chroma / np.maximum(lab[0], 1e-9)
        shown = np.maximum(cubed(lab[0] * weight(toned)), 0.0)
        bright = self.curve.inverse(shown)
        _, share, deep = self.curve.with_shares(bright)
        gain = self._gain(bright, share, deep)
        todo, ratio = self.volume.crowded(q, toned, shown, self.threshold)
        if len(todo):
            some = q[:, todo]
            room = self.volume.room(some, ratio)
            toned[todo] = room * unknee(toned[todo] / room, self.threshold, self._limit(some, gain[todo], room))
        s = toned / np.maximum(gain, 1e-30)
        q = roots_of(self.turns.undone(unit, s, toned, share))
        # Beyond this a root cone signal would fall below the least that light can have; no scene light is there.
        s = np.minimum(s, -0.999 / np.minimum(q.min(axis=0), -1e-9))
        root = (1.0 + q * s) * (np.cbrt(bright) / weight(s))
        return LMS_TO_SCENE @ lowered(cubed(root))
