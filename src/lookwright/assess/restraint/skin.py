"""What happens to skin: measured reflectances from very dark to very light, under several lights, from -4 to +3 stops.

Three kinds of question: does a face keep its hue, its colour and its level; does it in mixed light; and are dark and
light faces treated alike.
"""

from __future__ import annotations

from functools import lru_cache, partial

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.assess.measure.poles import signal_percent

from .colours import greys, stops_range
from .scene import LIGHTS_ON_SKIN, MIXED, scene_colours
from .subject import Subject
from .values import Measured, Places, both_ways, chroma, saturation_factor, seen_turn, stops_words

STOPS = stops_range(-4.0, 3.0, 1.0)
"""Exposures against a face lit as the grey card is: from deep in shadow to hot in the sun or a lamp."""
KEY = int(np.flatnonzero(STOPS == 0.0)[0])

LEAST_CHROMA = 0.025
"""Oklab chroma of the plain rendering below which a hue turn is not read: under half of skin's own at key level, and
less than that of dark skin in balanced light two stops under (0.029, plainly rendered). Skin in light that is much
cooler than the balance comes near neutral, where hue means nothing."""

LEAST_LEVEL = 5.0
"""Percent of signal below which the graded skin is as good as black and has no hue to judge; that it went there is the
tone scale's doing, and is judged there."""

IN_LIGHT = {
    "daylight": "in daylight",
    "sun": "in the sun",
    "tungsten": "in lamp light",
    "mixed, warm side": "on the warm side of mixed light",
    "mixed, cool side": "on the cool side of mixed light",
}

DARK, LIGHT = slice(0, 5), slice(12, 17)
"""The five people of lowest and of highest reflectance: those who are compared."""
COMPARED = (STOPS >= -2.0) & (STOPS <= 0.0)
"""Exposures at which faces are lit as faces are: colour is judged there. In hot highlights and in the dark every print
loses it; hue is judged everywhere."""


@lru_cache(maxsize=1)
def _scene() -> tuple[list[str], list[list[str]], Array]:
    """Lights; the people under each; scene light (light, exposure, person, 3), NaN where a light lacks a sample."""
    groups = [scene_colours()[f"skin {light}"] for light in LIGHTS_ON_SKIN]
    most = max(len(g.names) for g in groups)
    scene = np.full((len(groups), len(STOPS), most, 3), np.nan)
    for i, group in enumerate(groups):
        scene[i, :, : len(group.names)] = np.exp2(STOPS)[:, None, None] * group.scene
    return list(LIGHTS_ON_SKIN), [list(g.names) for g in groups], scene


class _Seen:
    """All skins, plainly and graded; the deviations of each (light, exposure, person)."""

    def __init__(self, subject: Subject) -> None:
        self.lights, self.people, scene = _scene()
        self.scene = scene
        there = np.isfinite(scene[..., 0])
        code = subject.feed(scene[there])
        plain, graded = subject.plain(code), subject.graded(code)
        before, after = subject.oklab(plain), subject.oklab(graded)
        shown = signal_percent(subject.light(graded))
        was = signal_percent(subject.light(plain))
        # A channel that the source holds at its end has no hue to keep.
        held = (code >= 1.0).any(axis=-1)
        turn, factor, judged = against(before, after, shown)
        judged &= ~held
        self.before, self.after = (_spread(there, v) for v in (before, after))
        self.turn = _spread(there, np.where(judged, turn, np.nan))
        self.factor = _spread(there, np.where(judged, factor, np.nan))
        self.factor[:, ~COMPARED] = np.nan
        self.level, self.was = _spread(there, shown - was), _spread(there, was)
        self.mixed = np.array([light in MIXED for light in self.lights])

    def words(self, lit: NDArray[np.bool_], index: int) -> str:
        """The person, light and exposure at place ``index`` of those under the lights ``lit``."""
        light, exposure, person = np.unravel_index(index, self.turn[lit].shape)
        at = int(np.flatnonzero(lit)[light])
        who = _who(self.people[at], int(person))
        return f"{who} {IN_LIGHT[self.lights[at]]} {_exposure(STOPS[exposure])}"


def _spread(there: NDArray[np.bool_], values: Array) -> Array:
    out = np.full(there.shape + values.shape[1:], np.nan)
    out[there] = values
    return out


def _who(people: list[str], person: int) -> str:
    """``dark skin``, ``light skin`` or ``skin``, with the sample's name."""
    name = people[min(person, len(people) - 1)]
    if not name.startswith("person"):
        return name
    depth = "very dark" if person < 3 else "dark" if person < 6 else "light" if person > 10 else "medium"
    return f"{depth} skin ({name})"


def skin(subject: Subject) -> Measured:
    """Hue turn, change of saturation and change of level, against the plain rendering.

    Balanced light (daylight, sun, tungsten) and mixed light are separate measures: a look that parts warm from cool
    will move skin in mixed light, which has no one right colour there.
    """
    seen = _Seen(subject)
    places = []
    for suffix, lit in (("", ~seen.mixed), ("_mixed", seen.mixed)):
        turn, factor = seen.turn[lit].ravel(), seen.factor[lit].ravel()
        at = seen.scene[lit].reshape(-1, 3)
        places.append(Places(f"skin_hue{suffix}", both_ways(turn), partial(_hue_words, seen, lit), at))
        more = np.maximum(factor, 1e-3)
        away = 100.0 * np.concatenate([more - 1.0, 1.0 / more - 1.0])
        places.append(Places(f"skin_colour{suffix}", away, partial(_colour_words, seen, lit), at))
    # Level in balanced light at the key: what one would meter on a face.
    key = seen.level[~seen.mixed][:, KEY]
    at = seen.scene[~seen.mixed][:, KEY].reshape(-1, 3)
    places.append(Places("skin_level", both_ways(key.ravel()), partial(_level_words, seen, key.shape), at))
    places += _even(subject, seen)
    shown = slice(17, 21)  # the four chart samples, as ever: more arrows could not be told apart
    lights = [i for i, names in enumerate(seen.people) if len(names) > 17]
    plots = {
        "lights": [seen.lights[i] for i in lights],
        "samples": seen.people[0][shown],
        "before": seen.before[lights, KEY, shown],
        "after": seen.after[lights, KEY, shown],
    }
    return Measured(places, {"skin": plots})


def _hue_words(seen: _Seen, lit: NDArray[np.bool_], index: int) -> str:
    way, index = divmod(index, seen.turn[lit].size)
    return f"turns {seen.words(lit, index)} toward {('yellow', 'red')[way]}"


def _colour_words(seen: _Seen, lit: NDArray[np.bool_], index: int) -> str:
    way, index = divmod(index, seen.factor[lit].size)
    return f"makes {seen.words(lit, index)} {('more', 'less')[way]} colourful"


def _level_words(seen: _Seen, shape: tuple[int, ...], index: int) -> str:
    way, index = divmod(index, int(np.prod(shape)))
    light, person = np.unravel_index(index, shape)
    at = int(np.ravel_multi_index((light, KEY, person), seen.level[~seen.mixed].shape))
    return f"makes {seen.words(~seen.mixed, at)} {('brighter', 'darker')[way]}"


def _even(subject: Subject, seen: _Seen) -> list[Places]:
    """How differently dark and light faces are treated, lit alike, in balanced light: means of five people each."""
    lit = ~seen.mixed
    shape = seen.turn[lit][:, COMPARED].shape[:2]
    turn = _apart(seen.turn[lit][:, COMPARED])
    ratio = np.exp(np.abs(_apart(np.log(np.maximum(seen.factor[lit][:, COMPARED], 1e-3)))))
    # What a grey of the same level undergoes is contrast, which all share; the rest is done to skin.
    beyond = seen.level - _greys_level(subject, seen.was)
    level = _apart(beyond[lit][:, COMPARED])

    def where(index: int) -> str:
        light, exposure = np.unravel_index(index % int(np.prod(shape)), shape)
        name = [s for s, m in zip(seen.lights, lit, strict=True) if m][light]
        return f"{IN_LIGHT[name]} {_exposure(STOPS[COMPARED][exposure])}"

    return [
        Places("skin_even_hue", both_ways(turn.ravel()), lambda i: f"most {where(i)}"),
        Places("skin_even_colour", ratio.ravel(), lambda i: f"most {where(i)}"),
        Places("skin_even_level", both_ways(level.ravel()), lambda i: f"most {where(i)}"),
    ]


def _apart(values: Array) -> Array:
    """(light, exposure) of (light, exposure, person): mean of the dark less that of the light."""
    sides = []
    for group in (DARK, LIGHT):
        some = values[..., group]
        enough = np.isfinite(some).sum(axis=-1) >= 3
        filled = np.where(enough[..., None], some, 0.0)
        sides.append(
            np.where(enough, np.nansum(filled, axis=-1) / np.maximum(np.isfinite(some).sum(axis=-1), 1), np.nan)
        )
    return sides[0] - sides[1]


def _greys_level(subject: Subject, was: Array) -> Array:
    """Change of level, in percent of signal, of greys that are plainly at the levels ``was``."""
    code = subject.feed(greys(stops_range(-10.0, 8.0, 0.25)))
    plain, graded = (signal_percent(subject.light(f(code))) for f in (subject.plain, subject.graded))
    order = np.argsort(plain)
    change = np.interp(np.nan_to_num(was), plain[order], (graded - plain)[order])
    return np.where(np.isfinite(was), change, np.nan)


def against(before: Array, after: Array, level: Array) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Hue turn in degrees and factor of saturation (chroma over lightness, so that darker or lighter is not read as
    more or less colour) of (..., 3) Oklab, and where, by chroma and graded level, there is a hue to judge."""
    judged = (chroma(before) >= LEAST_CHROMA) & (level >= LEAST_LEVEL)
    return seen_turn(before, after), saturation_factor(before, after), judged


def _exposure(stops: float) -> str:
    return "at key level" if stops == 0 else f"{stops_words(stops).removesuffix(' grey')} key"
