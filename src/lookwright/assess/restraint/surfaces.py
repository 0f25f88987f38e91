"""Colours out to the limit of real surfaces, and saturated lights: their hue, their colour, their lightness."""

from __future__ import annotations

from functools import lru_cache, partial

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.colour.hue_words import hue_word
from lookwright.colour.spaces.oklab import hue_and_saturation, scene_to_opponent

from .colours import hues
from .scene import scene_colours, surfaces
from .shades import Shades, grey_curve
from .subject import Subject
from .values import Measured, Places, both_ways, chroma, hue_words, stops_words

STOPS = (-2.0, -1.0, 0.0, 1.0)
"""Exposures of surfaces: in the light that the grey card is in, in shade, and in a stop more."""
POINTER = 5
"""Every so many of Pointer's colours (lightness in fives, hue in tens) is taken: 115, all hues at all lightnesses."""
LIGHT_STOPS = (-2.0, 0.0, 2.0, 4.0, 6.0)
"""Exposures of lights: from a lamp's glow on a wall to the lamp itself."""
LEAST_STEP = 0.004
"""Oklab chroma, plainly, under which a step of a line is at the limit of the output and not judged."""
USUAL = 0.8
"""Share of the plain step at the pale end of a line that a later one counts as at least."""
COMMON = 0.12
"""Least Oklab chroma over lightness of the surfaces whose share of colour is compared: strong paint and cloth; paler
ones are grey within a tint."""


@lru_cache(maxsize=2)
def _scene(kind: str) -> tuple[Array, Array, Array]:
    """Stops and Oklab hue (n,) of the colours of a kind, ``surfaces`` or ``lights``, and their light (n, 3)."""
    if kind == "lights":
        base, stops = scene_colours()["lights"].scene, np.array(LIGHT_STOPS)
    else:
        found = surfaces()
        base, stops = np.concatenate([found["chart"], found["samples"], found["pointer"][::POINTER]]), np.array(STOPS)
    scene = (np.exp2(stops)[:, None, None] * base).reshape(-1, 3)
    hue, _ = hue_and_saturation(scene_to_opponent(scene))
    return np.repeat(stops, len(base)), np.degrees(hue), scene


@lru_cache(maxsize=1)
def _common() -> NDArray[np.bool_]:
    """Which surfaces are coloured enough to compare."""
    _, saturation = hue_and_saturation(scene_to_opponent(_scene("surfaces")[2]))
    return np.asarray(saturation >= COMMON)


def _what(kind: str, index: int) -> str:
    stops, hue, _ = _scene(kind)
    if kind == "lights":
        name = scene_colours()["lights"].names[index % (len(stops) // len(LIGHT_STOPS))]
        return f"a light ({name}) {stops_words(stops[index])}"
    return f"a surface of {hue_words(hue[index])} {stops_words(stops[index])}"


def colours(subject: Subject) -> Measured:
    """Hue against the plain rendering and against the scene itself, colour and lightness, of surfaces and of lights."""
    curve = grey_curve(subject)
    painted, lamps = (Shades(subject, _scene(kind)[2], curve) for kind in ("surfaces", "lights"))
    own = np.concatenate([painted.from_scene, lamps.from_scene])
    at = np.concatenate([_scene("surfaces")[2], _scene("lights")[2]])
    both = Places("hue_scene", both_ways(own), partial(_off_scene, len(painted.turn), len(own)), at)
    hue, light, *shares = _of_surfaces(painted)
    hue_lights, light_lights = _of_lights(lamps)
    return Measured(
        [hue, hue_lights, both, light, light_lights, *shares, _pace(subject)],
        alone={
            **dict.fromkeys(("hue_surfaces", "light_surfaces", *(p.measure for p in shares)), _surfaces),
            **dict.fromkeys(("hue_lights", "light_lights"), _lights),
            "colour_step": _paces,
        },
    )


def _of_surfaces(painted: Shades) -> list[Places]:
    """Hue, lightness and share of colour of surfaces."""
    at, count = _scene("surfaces")[2], len(painted.turn)
    return [
        Places("hue_surfaces", both_ways(painted.turn), partial(_turned, "surfaces", count), at),
        Places("light_surfaces", both_ways(painted.lighter), partial(_lighter, "surfaces", count), at),
        *_shares(painted.factor),
    ]


def _of_lights(lamps: Shades) -> list[Places]:
    """Hue and lightness of lights."""
    at = _scene("lights")[2]
    return [
        Places("hue_lights", both_ways(lamps.turn), partial(_turned, "lights", len(lamps.turn)), at),
        Places("light_lights", -lamps.lighter, lambda i: f"makes {_what('lights', i)} darker than a grey would be", at),
    ]


def _surfaces(subject: Subject) -> Measured:
    return Measured(_of_surfaces(Shades(subject, _scene("surfaces")[2], grey_curve(subject))))


def _lights(subject: Subject) -> Measured:
    return Measured(_of_lights(Shades(subject, _scene("lights")[2], grey_curve(subject))))


def _paces(subject: Subject) -> Measured:
    return Measured([_pace(subject)])


def _turned(kind: str, count: int, index: int) -> str:
    way, index = divmod(index, count)
    hue = _scene(kind)[1][index] + (40.0, -40.0)[way]
    return f"turns {_what(kind, index)} toward {hue_word(hue)}"


def _off_scene(surfaces_count: int, count: int, index: int) -> str:
    _, index = divmod(index, count)
    kind = "surfaces" if index < surfaces_count else "lights"
    return f"shows {_what(kind, index - (0 if kind == 'surfaces' else surfaces_count))} in another hue than it has"


def _lighter(kind: str, count: int, index: int) -> str:
    way, index = divmod(index, count)
    return f"makes {_what(kind, index)} {('lighter', 'darker')[way]} than contrast accounts for"


RAMP = np.arange(0.04, 0.321, 0.02)
"""Oklab chroma over lightness along a line from grey to strong paint."""
RAMP_STOPS = (-1.0, 0.0, 1.0)
RAMP_HUES = np.arange(0.0, 360.0, 20.0)


@lru_cache(maxsize=1)
def _lines() -> tuple[Array, Array, Array]:
    """Stops and hue (stops, hue, ramp) of lines of growing colour, and their light (..., 3)."""
    stops, hue, saturation = np.meshgrid(RAMP_STOPS, RAMP_HUES, RAMP, indexing="ij")
    return stops, hue, hues(stops, saturation, hue)


def _pace(subject: Subject) -> Places:
    """How fast colour grows where it grows plainly, against its mean pace along the same line."""
    stops, hue, scene = _lines()
    code = subject.feed(scene)
    before, after = (chroma(subject.oklab(f(code))) for f in (subject.plain, subject.graded))
    plain, graded = np.diff(before, axis=-1), np.diff(after, axis=-1)
    growing = plain > LEAST_STEP
    mean = np.maximum(
        np.abs(after[..., -1:] - after[..., :1]) / np.maximum(before[..., -1:] - before[..., :1], 1e-3), 0.5
    )
    # Where the plain rendering brings colours in, its own steps are short: a look that takes colour away need not
    # follow it there. The pace of the pale end is what counts.
    usual = np.maximum(plain, USUAL * plain[..., :1])
    pace = np.where(growing, graded / np.where(growing, usual, 1.0) / mean, np.nan)

    def words(i: int) -> str:
        at = np.unravel_index(i, pace.shape)
        return f"tears pale from strong colour about {hue_words(hue[at])} {stops_words(stops[at])}"

    return Places("colour_step", pace.ravel(), words, scene[:, :, :-1].reshape(-1, 3))


def _median(values: Array) -> float:
    """Of (n,) finite values. numpy's own imports masked arrays, which takes as long as all these measures."""
    ordered = np.sort(values)
    return float(0.5 * (ordered[(len(ordered) - 1) // 2] + ordered[len(ordered) // 2]))


def _shares(factor: Array) -> list[Places]:
    """Share of colour kept, of all strong colours together, and of single ones beside it."""
    some = np.where(_common(), factor, np.nan)
    judged = some[np.isfinite(some)]
    all_of = _median(judged) if len(judged) else np.nan
    single = some / max(all_of, 0.05) if len(judged) else some
    at = _scene("surfaces")[2]
    return [
        Places("colour_gain", np.array([all_of]), lambda i: f"strong colours have {all_of:.2f} times their colour"),
        Places(
            "colour_pushed",
            single,
            lambda i: f"gives {_what('surfaces', i)} {single[i]:.2f} times the colour that others get",
            at,
        ),
        Places(
            "colour_lost",
            single,
            lambda i: f"leaves {_what('surfaces', i)} {100 * single[i]:.0f} % of what others keep",
            at,
        ),
    ]
