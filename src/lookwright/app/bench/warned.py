"""Warnings on the picture: which pixels are newly clipped, newly black, outside the output, or skin gone astray.

The borders are those of ``check``; what is compared is always the look with its own plain rendering.
"""

from __future__ import annotations

from functools import cached_property, lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.assess.measure.poles import signal_percent
from lookwright.assess.restraint.clipping import clipped
from lookwright.assess.restraint.limits import BY_NAME
from lookwright.assess.restraint.scene import LIGHTS_ON_SKIN, MIXED, scene_colours
from lookwright.assess.restraint.skin import LEAST_CHROMA, STOPS, against
from lookwright.assess.restraint.stills import BLACK, PLAIN_TONE
from lookwright.assess.restraint.subject import Subject
from lookwright.assess.restraint.values import chroma
from lookwright.colour.spaces.oklab import light_to_oklab
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.way import beyond, ends
from lookwright.present.sheets.masks import LIGHTNESS, REACH

CLIPPED, CRUSHED, OUTSIDE, SKIN = 1, 2, 4, 8
"""Bits of one byte a pixel."""


class Warned:
    """The warnings of one look.

    Parameters
    ----------
    subject
        The look with its plain rendering; its exact functions are used.
    look
        The same look, as it is shown.
    """

    def __init__(self, subject: Subject, look: Look) -> None:
        self._subject, self._look = subject, look

    def __call__(self, code: Array) -> NDArray[np.uint8]:
        """(n,) bits for source code values (n, 3)."""
        subject = self._subject
        plain = subject.plain(code)
        light, graded = ends(self._look, code)
        before, after = subject.light(plain), subject.light(graded)
        bits = np.zeros(len(code), np.uint8)
        bits[clipped(subject, graded) & ~clipped(subject, plain)] |= CLIPPED
        dark = (signal_percent(after) < BLACK) & (signal_percent(before) >= PLAIN_TONE)
        bits[dark] |= CRUSHED
        bits[beyond(light, self._look)] |= OUTSIDE
        bits[self._astray(light_to_oklab(before), after)] |= SKIN
        return bits

    def _astray(self, lab: Array, after: Array) -> NDArray[np.bool_]:
        """(n,) colours, plainly rendered Oklab (n, 3), that are skin, and whose own hue or saturation the look moves
        past the limit that fails skin in ``check``; ``after`` is their graded light."""
        astray = np.zeros(len(lab), bool)
        near = self._like_skin(lab)
        if near.any():
            light = after[near]
            turn, factor, judged = against(lab[near], light_to_oklab(light), signal_percent(light))
            away = 100.0 * (np.maximum(factor, 1.0 / np.maximum(factor, 1e-3)) - 1.0)
            beyond_window = (np.abs(turn) > BY_NAME["skin_hue"].fail) | (away > BY_NAME["skin_colour"].fail)
            astray[near] = judged & beyond_window
        return astray

    def _like_skin(self, lab: Array) -> NDArray[np.bool_]:
        """(n,) colours within reach of measured skin, plainly rendered, in balanced light from -4 to +3 stops."""
        low, high = self._skins[:, 1:].min(axis=0) - REACH, self._skins[:, 1:].max(axis=0) + REACH
        maybe = ((lab[:, 1:] > low) & (lab[:, 1:] < high)).all(axis=1) & (chroma(lab) >= LEAST_CHROMA)
        out = np.zeros(len(lab), bool)
        if maybe.any():
            distance, _ = self._tree.query(lab[maybe] * LIGHTNESS, distance_upper_bound=REACH)
            out[maybe] = np.isfinite(distance)
        return out

    @cached_property
    def _skins(self) -> Array:
        return self._subject.oklab(self._subject.plain(self._subject.feed(skins())))

    @cached_property
    def _tree(self) -> Any:
        from scipy.spatial import cKDTree  # a fifth of a second, and only where warnings are asked for

        return cKDTree(self._skins * LIGHTNESS)


@lru_cache(maxsize=1)
def skins() -> Array:
    """(m, 3) scene light of every measured skin in balanced light, at every exposure that ``check`` judges."""
    groups = [scene_colours()[f"skin {light}"].scene for light in LIGHTS_ON_SKIN if light not in MIXED]
    at_key = np.concatenate(groups)
    return (np.exp2(STOPS)[:, None, None] * at_key).reshape(-1, 3)
