"""What happens to skin: measured reflectances, under several lights, from key level down to fill."""

from __future__ import annotations

from functools import lru_cache, partial

import numpy as np

from lookwright.arrays import Array
from lookwright.assess.measure.poles import signal_percent
from lookwright.assess.measure.skin import SKIN_SAMPLES, skin_scene

from .subject import Subject
from .values import Measured, Places, both_ways, chroma, stops_words, turn_degrees

STOPS = (0.0, -1.0, -2.0)
"""Exposures against a face lit as the grey card is: key level, and the darker side of it."""
KEY = STOPS.index(0.0)

LEAST_CHROMA = 0.025
"""Oklab chroma of the plain rendering below which a hue turn is not read: under half of skin's own at key level, and
less than that of dark skin in balanced light two stops under (0.029, plainly rendered). Skin in light that is much
cooler than the balance comes near neutral, where hue means nothing."""

LEAST_LEVEL = 5.0
"""Percent of signal below which the graded skin is as good as black and has no hue to judge; that it went there is the
tone scale's doing, and is judged there."""

MIXED = ("mixed, warm side", "mixed, cool side")


@lru_cache(maxsize=1)
def _scene() -> tuple[list[str], Array]:
    """Names of lights, and scene light (light, exposure, sample, 3)."""
    scenes = skin_scene()
    gains = np.exp2(np.array(STOPS))[:, None, None]
    return list(scenes), np.array([scene * gains for scene in scenes.values()])


def skin(subject: Subject) -> Measured:
    """Hue turn, change of saturation and change of level, against the plain rendering.

    Balanced light (daylight, tungsten) and mixed light are separate measures: a look that parts warm from cool will
    move skin in mixed light, which has no one right colour there.
    """
    lights, scene = _scene()
    code = subject.feed(scene)
    plain, graded = subject.plain(code), subject.graded(code)
    before, after = subject.oklab(plain), subject.oklab(graded)
    shown = signal_percent(subject.light(graded))
    turn, factor = against(before, after, shown)
    level = shown - signal_percent(subject.light(plain))
    mixed = np.array([light in MIXED for light in lights])

    def words(lit: Array, index: int) -> str:
        """Place ``index`` of those under the lights ``lit``."""
        light, exposure, sample = np.unravel_index(index, turn[lit].shape)
        return f"{SKIN_SAMPLES[sample]} in {lights[np.flatnonzero(lit)[light]]} {_exposure(STOPS[exposure])}"

    def hue_words(lit: Array, index: int) -> str:
        way, index = divmod(index, turn[lit].size)
        return f"turns {words(lit, index)} toward {('yellow', 'red')[way]}"

    def colour_words(lit: Array, index: int) -> str:
        way, index = divmod(index, turn[lit].size)
        return f"makes {words(lit, index)} {('more', 'less')[way]} saturated"

    def level_words(index: int) -> str:
        way, index = divmod(index, level[~mixed][:, KEY].size)
        light, sample = np.unravel_index(index, level[~mixed][:, KEY].shape)
        at = np.ravel_multi_index((light, KEY, sample), level[~mixed].shape)
        return f"makes {words(~mixed, int(at))} {('brighter', 'darker')[way]}"

    places = []
    for suffix, lit in (("", ~mixed), ("_mixed", mixed)):
        places.append(Places(f"skin_hue{suffix}", both_ways(turn[lit].ravel()), partial(hue_words, lit)))
        more = np.maximum(factor[lit].ravel(), 1e-3)
        away = 100.0 * np.concatenate([more - 1.0, 1.0 / more - 1.0])
        places.append(Places(f"skin_colour{suffix}", away, partial(colour_words, lit)))
    # Level in balanced light at the key: what one would meter on a face.
    places.append(Places("skin_level", both_ways(level[~mixed][:, KEY].ravel()), level_words))
    plots = {"lights": lights, "samples": list(SKIN_SAMPLES), "before": before[:, 0], "after": after[:, 0]}
    return Measured(places, {"skin": plots})


def against(before: Array, after: Array, level: Array) -> tuple[Array, Array]:
    """Hue turn in degrees and factor of saturation (chroma over lightness, so that darker or lighter is not read as
    more or less colour) of (..., 3) Oklab; 0 and 1 where, by chroma or graded level, there is no hue to judge."""
    c0, c1 = chroma(before), chroma(after)
    judged = (c0 >= LEAST_CHROMA) & (level >= LEAST_LEVEL)
    factor = (c1 / np.maximum(after[..., 0], 1e-3)) / np.maximum(c0 / np.maximum(before[..., 0], 1e-3), 1e-6)
    return np.where(judged, turn_degrees(before, after), 0.0), np.where(judged, factor, 1.0)


def _exposure(stops: float) -> str:
    return "at key level" if stops == 0 else f"{stops_words(stops).removesuffix(' grey')} key"
