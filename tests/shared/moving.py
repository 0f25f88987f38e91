"""Clips with a known course of light, cut from a sample still: the camera shakes and pans, somebody walks through."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import map_coordinates
from takes import LOG, balance, scene

SIZE = (160, 90)


@dataclass(frozen=True)
class Course:
    """What the light of a clip does, frame by frame: ``stops`` and ``mired`` (n,); a lamp from a frame on."""

    stops: np.ndarray
    mired: np.ndarray
    lamp: tuple[int, str, float] | None = None
    pan: float = 0.0


def course(count: int, drift: float = 0.0, mired: float = 0.0, flicker: float = 0.0, **rest) -> Course:
    """A slow swing of ``drift`` stops and a run of ``mired``, with a beat of that rms at 6 Hz of 25, zero at first."""
    along = np.arange(count) / count
    stops = drift * np.sin(np.pi * along) + flicker * np.sqrt(2.0) * np.sin(2.0 * np.pi * 0.237 * np.arange(count))
    return Course(stops - stops[0], mired * along, **rest)


def clip(
    still: str,
    what: Course,
    seed: int = 0,
    walker: bool = True,
    body: float = 0.08,
    way: tuple[float, float] = (0.2, 0.7),
) -> list[np.ndarray]:
    """Scene light (90, 160, 3) a frame, through 10-bit codes with noise of two of them.

    A walker of half the width ``body`` goes along ``way``, shares of the width from the first frame to the last.
    """
    rng = np.random.default_rng(seed)
    light = scene(still, 8)
    high, wide = light.shape[:2]
    width, height = SIZE
    step = min(wide / (1.3 * width), high / (1.3 * height))
    y, x = np.mgrid[:height, :width]
    frames = []
    for n, (stops, mired) in enumerate(zip(what.stops, what.mired, strict=True)):
        shake = rng.normal(0.0, 0.3, 2)
        rows = high / 2 + (y - height / 2 + shake[0]) * step
        columns = wide / 2 + (x - width / 2 + shake[1] + what.pan * (n - len(what.stops) / 2)) * step
        frame = np.stack(
            [map_coordinates(light[..., c], [rows, columns], order=1, mode="nearest") for c in range(3)], -1
        )
        if walker:
            at = width * (way[0] + (way[1] - way[0]) * n / len(what.stops))
            shape = np.exp(-(((x - at) / (body * width)) ** 4 + ((y - 0.65 * height) / (0.35 * height)) ** 4))[
                ..., None
            ]
            cloth = np.array([0.12, 0.07, 0.05]) * (1.0 + 0.5 * np.sin((x - at) / 4.0 + y / 5.0))[..., None]
            frame = frame * (1.0 - shape) + cloth * shape
        if what.lamp is not None and n >= what.lamp[0]:
            frame = frame * 2.0 ** (what.lamp[2] * _lit(what.lamp[1], x / width, y / height))[..., None]
        frame = frame @ (balance(float(mired)) * 2.0**stops).T
        codes = LOG.from_scene(frame) + rng.normal(0.0, 2.0 / 1023.0, frame.shape)
        frames.append(LOG.to_scene(np.round(codes * 1023.0) / 1023.0))
    return frames


def _lit(where: str, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    if where == "left":
        return 1.0 / (1.0 + np.exp((x - 0.4) * 15.0))
    return np.exp(-(((x - 0.8) / 0.15) ** 2 + ((y - 0.3) / 0.25) ** 2))
