"""What happens to skin: measured reflectances, under several lights, from key level down to fill."""

from __future__ import annotations

import numpy as np

from lookwright.arrays import Array
from lookwright.assess.measure.poles import signal_percent
from lookwright.assess.measure.skin import SKIN_SAMPLES, skin_scene

from .subject import Subject
from .values import Measured, Value, chroma, stops_words, turn_degrees

STOPS = (0.0, -1.0, -2.0)
"""Exposures against a face lit as the grey card is: key level, and the darker side of it."""

LEAST_CHROMA = 0.03
"""Oklab chroma of the plain rendering below which a hue turn is not read: about a third of skin's own. Skin in light
that is much cooler than the balance comes near neutral, where hue means nothing."""

LEAST_LEVEL = 5.0
"""Percent of signal below which the graded skin is as good as black and has no hue to judge; that it went there is the
tone scale's doing, and is judged there."""

MIXED = ("mixed, warm side", "mixed, cool side")


def skin(subject: Subject) -> Measured:
    """Hue turn, change of saturation and change of level, against the plain rendering.

    Balanced light (daylight, tungsten) and mixed light are separate measures: a look that parts warm from cool will
    move skin in mixed light, which has no one right colour there.
    """
    scenes = skin_scene()
    lights = list(scenes)
    gains = np.exp2(np.array(STOPS))[:, None, None]
    # (light, exposure, sample, 3)
    scene = np.array([scenes[light] * gains for light in lights])
    code = subject.feed(scene)
    plain, graded = subject.plain(code), subject.graded(code)
    before, after = subject.oklab(plain), subject.oklab(graded)
    shown = signal_percent(subject.light(graded))
    turn, factor = against(before, after, shown)
    level = shown - signal_percent(subject.light(plain))
    mixed = np.array([light in MIXED for light in lights])

    def words(index: tuple[int, ...]) -> str:
        return f"{SKIN_SAMPLES[index[2]]} in {lights[index[0]]} {_exposure(STOPS[index[1]])}"

    values = []
    for suffix, chosen in (("", ~mixed), ("_mixed", mixed)):
        where = _worst(turn, chosen)
        side = "yellow" if turn[where] > 0 else "red"
        values.append(Value(f"skin_hue{suffix}", abs(float(turn[where])), f"turns {words(where)} toward {side}"))
        where = _worst(np.abs(np.log(np.maximum(factor, 1e-3))), chosen)
        gained = float(factor[where])
        away = 100.0 * (max(gained, 1.0 / max(gained, 1e-3)) - 1.0)
        more = "more" if gained > 1.0 else "less"
        values.append(Value(f"skin_colour{suffix}", away, f"makes {words(where)} {more} saturated"))
    # Level in balanced light at the key: what one would meter on a face.
    key = np.where((np.array(STOPS) == 0.0)[None, :, None], level, 0.0)
    where = _worst(key, ~mixed)
    way = "brighter" if level[where] > 0 else "darker"
    values.append(Value("skin_level", abs(float(level[where])), f"makes {words(where)} {way}"))
    plots = {"lights": lights, "samples": list(SKIN_SAMPLES), "before": before[:, 0], "after": after[:, 0]}
    return Measured(values, {"skin": plots})


def against(before: Array, after: Array, level: Array) -> tuple[Array, Array]:
    """Hue turn in degrees and factor of saturation (chroma over lightness, so that darker or lighter is not read as
    more or less colour) of (..., 3) Oklab; 0 and 1 where, by chroma or graded level, there is no hue to judge."""
    c0, c1 = chroma(before), chroma(after)
    judged = (c0 >= LEAST_CHROMA) & (level >= LEAST_LEVEL)
    factor = (c1 / np.maximum(after[..., 0], 1e-3)) / np.maximum(c0 / np.maximum(before[..., 0], 1e-3), 1e-6)
    return np.where(judged, turn_degrees(before, after), 0.0), np.where(judged, factor, 1.0)


def _exposure(stops: float) -> str:
    return "at key level" if stops == 0 else f"{stops_words(stops).removesuffix(' grey')} key"


def _worst(values: Array, lights: Array) -> tuple[int, ...]:
    """Index of the largest size among the chosen lights."""
    size = np.where(lights.reshape(-1, 1, 1), np.abs(values), -1.0)
    return tuple(int(i) for i in np.unravel_index(int(np.argmax(size)), size.shape))
