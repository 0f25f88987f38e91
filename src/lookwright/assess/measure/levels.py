"""The level of a region or a frame: what a waveform shows, and the light behind it.

A *level* is luma' of the signal in percent of its nominal range (0 = black, 100 = nominal white): a
weighted sum of code values, not of light. The light is found by decoding every pixel first and taking
statistics afterwards, because the decode of a mean signal is not the mean of the light.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.colour.luma import luma_weights, nominal
from lookwright.colour.plain import plain_curve, plain_light, plain_scene
from lookwright.colour.spaces.primaries import matrix, primaries
from lookwright.colour.spaces.signal import SCENE_PRIMARIES, Signal
from lookwright.errors import PictureError
from lookwright.pictures.stills.marks import Mark, region

MIDDLE_GREY = 0.18
"""Reflectance of the grey card that photography meters for; stops are counted from it."""

FLOOR_STOPS = -16.0
"""Light at or below zero, and anything darker than this, is reported as this many stops; never minus infinity."""


@dataclass(frozen=True)
class Spread:
    """Mean, median, and the 5th and 95th percentiles (linear interpolation) of some quantity."""

    mean: float
    median: float
    p5: float
    p95: float

    @classmethod
    def of(cls, values: NDArray[Any]) -> Spread:
        """The spread of all values of an array of any shape; the array must not be empty or hold NaN."""
        flat = np.array(values).ravel()  # a copy: it is reordered
        places = [share * (flat.size - 1) for share in (0.05, 0.5, 0.95)]
        around = sorted({index for p in places for index in (int(p), min(int(p) + 1, flat.size - 1))})
        mean = float(np.mean(flat, dtype=np.float64))
        flat.partition(around)  # in the numbers' own size: half the memory of float64 for a picture's

        def at(place: float) -> float:
            below, above = float(flat[int(place)]), float(flat[min(int(place) + 1, flat.size - 1)])
            return below + (above - below) * (place - int(place))

        low, middle, high = map(at, places)
        return cls(mean, middle, low, high)

    def mapped(self, rising: Callable[[float], float]) -> Spread:
        """The spread of the values after a straight line that rises."""
        return Spread(rising(self.mean), rising(self.median), rising(self.p5), rising(self.p95))


@dataclass(frozen=True)
class SceneLight:
    """Luminance of the scene relative to a perfect white in the exposure: 0.18 = middle grey.

    ``estimated`` is true when it was found from a display picture by undoing the *plain rendering*. How the
    picture was really rendered is not known, so such figures are an estimate, best within a few stops of grey.
    """

    reflectance: Spread
    stops: float
    """Stops of the median from middle grey."""
    stops_of_mean: float
    estimated: bool


@dataclass(frozen=True)
class DisplayLight:
    """Luminance of the display relative to its reference white."""

    relative: Spread
    stops: float
    """Stops of the median from the light that the plain rendering gives an 18 % grey: 10 cd/m2 of 100, 14.5 of 1000."""


@dataclass(frozen=True)
class SignalLevel:
    """The signal of one region: what a waveform shows."""

    name: str
    pixels: int
    luma: Spread
    """Percent of the nominal range."""
    red: Spread
    green: Spread
    blue: Spread
    weights: str
    """Which luma weights were used, in words."""


@dataclass(frozen=True)
class Level(SignalLevel):
    """One region measured: signal first, then light."""

    scene: SceneLight
    display: DisplayLight | None
    """Only for display signals."""

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers and text, ready for JSON."""
        return asdict(self)

    def in_words(self) -> str:
        """One line: level, then the light and its stops from middle grey."""
        light = "light about" if self.scene.estimated else "reflectance"
        return (
            f"{self.name}: {self.luma.median:.1f} % (5 to 95 %: {self.luma.p5:.1f} to {self.luma.p95:.1f}), "
            f"{light} {self.scene.reflectance.median:.3g}, {self.scene.stops:+.1f} stops from middle grey"
            + (", estimated through the plain rendering" if self.scene.estimated else "")
        )


def stops_from(light: Array | float, grey: float = MIDDLE_GREY) -> Array:
    """log2(light / grey), held at :data:`FLOOR_STOPS` for black and negative light."""
    return np.log2(np.maximum(np.asarray(light, np.float64) / grey, 2.0**FLOOR_STOPS))


def display_light(pixels: NDArray[Any], signal: Signal) -> Array:
    """Display light (..., 3), linear BT.2020, 1 = reference white.

    A display signal is decoded. A scene signal goes through the plain rendering (``render`` at its default
    values): what the picture would look like with no look at all, on a BT.1886 display.
    """
    x = np.asarray(pixels, np.float64)
    if signal.kind == "display":
        return signal.to_light(x)
    return np.clip(plain_light(signal.to_scene(x)), 0.0, 1.0)


def scene_light(pixels: NDArray[Any], signal: Signal) -> tuple[Array, bool]:
    """Scene light (..., 3), linear ACEScg, and whether it is an estimate.

    Scene signals are decoded. Display signals are decoded to display light and put through the inverse of the
    plain rendering at that display's own peak. Light near the peak is a guess: there a little light on the screen is
    much light of the scene.
    """
    x = np.asarray(pixels, np.float64)
    if signal.kind == "scene":
        return signal.to_scene(x), False
    return plain_scene(signal.to_light(x), signal), True


def scene_luminance(pixels: NDArray[Any], signal: Signal) -> tuple[Array, bool]:
    """Scene luminance (...,), 0.18 = middle grey, and whether it is an estimate."""
    if signal.kind == "scene":
        # One product with the folded weights instead of a matrix and then weights: a frame has 6 million numbers.
        to_y = matrix(signal.primaries.name, SCENE_PRIMARIES).T @ primaries(SCENE_PRIMARIES).luminance
        return signal.decode(np.asarray(pixels, np.float64)) @ to_y, False
    light, estimated = scene_light(pixels, signal)
    return light @ primaries(SCENE_PRIMARIES).luminance, estimated


def checked(pixels: NDArray[Any], where: str) -> NDArray[Any]:
    """The pixels as given, once it is sure that they are (..., 3), not empty and finite.

    Raises :class:`PictureError` otherwise.
    """
    pixels = np.asarray(pixels)
    if pixels.ndim < 1 or pixels.shape[-1] != 3:
        raise PictureError(where, f"an array of shape {pixels.shape}", "(..., 3)")
    if pixels.size == 0:
        raise PictureError(where, "no pixels")
    if not np.isfinite(pixels).all():
        raise PictureError(where, "a value is NaN or infinite", "finite numbers")
    return pixels


BAND = 1 << 14
"""Pixels worked on at once: what stands between code and luminance stays in the processor's cache. Over a whole 4K
frame it takes five times as long, most of it for fresh memory (measured)."""


def in_bands(work: Callable[[NDArray[Any]], Array], pixels: NDArray[Any]) -> Array:
    """(n,) float64 that ``work`` makes of (n, 3), band by band."""
    out = np.empty(len(pixels))
    for start in range(0, len(pixels), BAND):
        part = slice(start, start + BAND)
        out[part] = work(pixels[part])
    return out


def signal_level(pixels: NDArray[Any], signal: Signal, name: str = "frame") -> SignalLevel:
    """What a waveform shows of a region or frame; parameters and faults as for :func:`level`."""
    x = checked(pixels, name).reshape(-1, 3)
    weights, words = luma_weights(signal)
    luma = Spread.of(in_bands(lambda part: 100.0 * nominal(part, signal) @ weights, x))

    def percent(code: float) -> float:
        return 100.0 * float(nominal(np.array(code), signal))

    red, green, blue = (Spread.of(x[:, i]).mapped(percent) for i in range(3))
    return SignalLevel(name, len(x), luma, red, green, blue, words)


def level(pixels: NDArray[Any], signal: Signal, name: str = "frame") -> Level:
    """Measure all pixels of a region or frame.

    Parameters
    ----------
    pixels
        (..., 3) code values / (2^n - 1) in the declared signal, any float type. Negatives and values above one
        are measured as they are.
    signal
        Encoding, primaries and range of these code values.
    name
        What the region is called in sentences.

    Raises
    ------
    PictureError
        No pixels, not three channels, NaN or infinity.
    """
    seen = signal_level(pixels, signal, name)
    x = np.asarray(pixels).reshape(-1, 3)
    reflectance = Spread.of(in_bands(lambda part: scene_luminance(part, signal)[0], x))
    scene = SceneLight(
        reflectance,
        float(stops_from(reflectance.median)),
        float(stops_from(reflectance.mean)),
        signal.kind == "display",
    )
    shown = None
    if signal.kind == "display":
        weights = signal.primaries.luminance
        relative = Spread.of(in_bands(lambda part: signal.decode(np.asarray(part, np.float64)) @ weights, x))
        shown = DisplayLight(
            relative,
            float(stops_from(relative.median, float(plain_curve(signal.encoding.name)(np.array(MIDDLE_GREY))))),
        )
    return Level(**vars(seen), scene=scene, display=shown)


def levels(picture: NDArray[Any], signal: Signal, marks: list[Mark]) -> dict[str, Level]:
    """The level of each mark of a picture (H, W, 3), by name, in the order of the marks."""
    return {mark.name: level(region(picture, mark), signal, mark.name) for mark in marks}
