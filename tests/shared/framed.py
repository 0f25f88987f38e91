"""Pairs of one scene in two framings, with known differences, for the match across framings: made without the code
under test.

From a picture of scene light, two cameras each see a part of it: another place, focal length and slant, a lens with a
vignette of its own, somebody who stands before the second, noise, 10-bit codes. Exposure, balance (colour-science) and
flare of the second are known.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.ndimage import gaussian_filter, map_coordinates
from takes import LOG, WHITE_XY, _acescg_to_xyz, _xyz

from lookwright.colour.spaces.library import colour_library

SIZE = (480, 270)


@dataclass(frozen=True)
class Put:
    """What the second frame differs by: stops, mired, Duv, flare."""

    stops: float = 0.0
    mired: float = 0.0
    tint: float = 0.0
    flare: float = 0.0


def drawn(rng: np.random.Generator) -> Put:
    """Within what takes of one scene differ by: .8 stop, -35 to 45 mired, Duv .004, flare to .004."""
    return Put(rng.uniform(-0.8, 0.8), rng.uniform(-35, 45), rng.uniform(-0.004, 0.004), rng.uniform(0, 0.004))


@cache
def balance(mired: float, tint: float) -> np.ndarray:
    """(3, 3) on linear ACEScg, by colour-science: CAT16 from the ACES white to the moved one."""
    colour = colour_library()
    kelvin, duv = colour.temperature.uv_to_CCT_Ohno2013(colour.UCS_to_uv(colour.XYZ_to_UCS(_xyz(WHITE_XY))))
    uv = colour.temperature.CCT_to_uv_Ohno2013(np.array([1e6 / (1e6 / kelvin + mired), duv + tint]))
    cat = colour.adaptation.matrix_chromatic_adaptation_VonKries(
        _xyz(WHITE_XY), _xyz(colour.UCS_uv_to_xy(uv)), transform="CAT16"
    )
    to_xyz = _acescg_to_xyz()
    return np.linalg.inv(to_xyz) @ cat @ to_xyz


def decoded(picture: np.ndarray) -> np.ndarray:
    """A photograph's sRGB codes (H, W, 3), uint8, as linear ACEScg: near enough to scene light for a match."""
    colour = colour_library()
    code = picture[..., :3] / 255.0
    linear = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    to = colour.matrix_RGB_to_RGB(colour.RGB_COLOURSPACES["sRGB"], colour.RGB_COLOURSPACES["ACEScg"])
    return np.maximum(linear @ np.asarray(to).T * 0.9 + 0.0015, 0.0)


def seen(light: np.ndarray, rng: np.random.Generator, zoom: float, spread: float = 0.14) -> np.ndarray:
    """(270, 480, 3): a camera's view of a flat scene; ``zoom`` 1 shows some two thirds of its width."""
    high, wide = light.shape[:2]
    width, height = SIZE
    scale = 0.66 * min(wide / width, high / height * 1.0) / zoom
    y, x = np.mgrid[:height, :width]
    u, v = (x - width / 2) * scale, (y - height / 2) * scale
    turn = rng.uniform(-0.06, 0.06)
    u, v = u * np.cos(turn) - v * np.sin(turn), u * np.sin(turn) + v * np.cos(turn)
    slant = rng.uniform(-0.18, 0.18, 2) / np.array([wide, high])
    w = 1.0 + slant[0] * u + slant[1] * v
    room = np.maximum(np.array([wide, high]) / 2 - np.array([width, height]) * scale / 2, 0.0)
    middle = np.array([wide, high]) / 2 + np.clip(rng.uniform(-spread, spread, 2) * [wide, high], -room, room)
    at = [middle[1] + v / w, middle[0] + u / w]
    soft = gaussian_filter(light, (max(0.0, 0.4 * (scale - 1.0)),) * 2 + (0,)) if scale > 1.2 else light
    return np.stack([map_coordinates(soft[..., c], at, order=1, mode="reflect") for c in range(3)], axis=-1)


def entered(frame: np.ndarray, cloth: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Somebody who covers some tenth to quarter of the frame, dressed in another picture."""
    height, width = frame.shape[:2]
    y, x = np.mgrid[:height, :width]
    at, half, top = rng.uniform(0.1, 0.9) * width, rng.uniform(0.06, 0.14) * width, rng.uniform(0.15, 0.45) * height
    body = ((np.abs(x - at) < half) & (y > top)) | ((x - at) ** 2 + (y - top) ** 2 < (0.6 * half) ** 2)
    soft = gaussian_filter(body.astype(np.float64), 1.0)[..., None]
    pattern = cloth[np.ix_(np.arange(height) % cloth.shape[0], np.arange(width) % cloth.shape[1])]
    return frame * (1.0 - soft) + 0.5 * pattern * soft


def through(frame: np.ndarray, vignette: float, put: Put, rng: np.random.Generator) -> np.ndarray:
    """The camera: lens, exposure, balance, flare, noise and 10-bit ACEScct codes, float32."""
    height, width = frame.shape[:2]
    y, x = np.mgrid[:height, :width]
    radius = ((x - width / 2) ** 2 + (y - height / 2) ** 2) / (width / 2) ** 2
    light = frame / (1.0 + vignette * radius[..., None]) ** 2
    light = light @ (balance(put.mired, put.tint) * 2.0**put.stops).T + put.flare
    light = light + rng.normal(0.0, 1.0, light.shape) * 0.004 * np.sqrt(np.maximum(light, 0.0) * 0.18 + 2e-4)
    codes = LOG.from_scene(light) + rng.normal(0.0, 0.7 / 1023.0, light.shape)
    return (np.round(codes * 1023.0).clip(0, 1023) / 1023.0).astype(np.float32)


def pair(light: np.ndarray, cloth: np.ndarray, seed: int, lit=None) -> tuple[np.ndarray, np.ndarray, Put]:
    """Codes of two framings of one scene, the second by ``put``; ``lit`` changes the light of the second's scene."""
    rng = np.random.default_rng(seed)
    put = drawn(rng)
    first = seen(light, rng, rng.uniform(0.85, 1.1))
    second = seen(light if lit is None else lit(light), rng, rng.uniform(0.8, 1.5))
    if seed % 2:
        second = entered(second, cloth, rng)
    a = through(first, rng.uniform(0.0, 0.2), Put(), rng)
    return a, through(second, rng.uniform(0.0, 0.2), put, rng), put


def lamp(rng: np.random.Generator):
    """A change of light in part of a scene: half of it a third to one and a half stops up or down, or a warm lamp."""
    kind, side = rng.integers(3), rng.integers(4)
    amount = rng.uniform(0.4, 1.5) * rng.choice([-1.0, 1.0])
    at = rng.uniform(0.3, 0.7, 2)

    def lit(light: np.ndarray) -> np.ndarray:
        high, wide = light.shape[:2]
        y, x = np.mgrid[:high, :wide] / np.array([high, wide])[:, None, None]
        along = (x, 1.0 - x, y, 1.0 - y)[side]
        half = 1.0 / (1.0 + np.exp((along - 0.5) * 14.0))[..., None]
        if kind == 0:
            return light * 2.0 ** (amount * half)
        if kind == 1:
            return light * (1.0 - half) + light @ balance(70.0 * np.sign(amount), 0.0).T * 2.0 ** (0.4 * amount) * half
        near = np.exp(-(((x - at[0]) / 0.22) ** 2 + ((y - at[1]) / 0.3) ** 2))[..., None]
        return light * (1.0 + abs(amount) * 1.5 * near * np.array([1.25, 0.95, 0.6]))

    return lit
