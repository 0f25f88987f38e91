"""Scene light to look at: a candle, a neon sign, a sunset, a face beside blue LEDs, a red dress, a face in the sun; and
photographs from a folder, brought back to light."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from lookwright.colour.film.lamps import emitters
from lookwright.colour.film.skins import skins
from lookwright.colour.spaces import curves
from lookwright.colour.spaces.primaries import matrix

Array = NDArray[np.float64]
HEIGHT, WIDTH = 180, 300


def _glow(at: tuple[float, float, float], light: Array, stops: float) -> Array:
    """A source of a radius with a halo; ``at`` is x, y, radius."""
    yy, xx = np.mgrid[0:HEIGHT, 0:WIDTH]
    d = (np.hypot(xx - at[0], yy - at[1]) / at[2])[..., None]
    return 2.0**stops * light * (np.exp(-(d**2)) + 0.004 / (d**2 + 0.05))


def _ball() -> Array:
    """Shade of a ball in the middle, (H, W, 1)."""
    yy, xx = np.mgrid[0:HEIGHT, 0:WIDTH]
    return np.sqrt(np.clip(1.0 - ((xx - 150) / 70.0) ** 2 - ((yy - 90) / 80.0) ** 2, 0.0, 1.0))[..., None]


def scenes() -> dict[str, Array]:
    """Name to ACEScg (180, 300, 3)."""
    e, skin = emitters(), skins("D65")
    yy, xx = np.mgrid[0:HEIGHT, 0:WIDTH]
    dark = np.full((HEIGHT, WIDTH, 3), 0.004)
    out = {"candle": dark + _glow((150, 80, 14), e["1900 K"], 7.0) + _glow((60, 110, 10), e["2700 K"], 8.0)}
    neon = dark.copy()
    for i in range(30, 270, 2):
        neon += 0.12 * _glow((i, 60 + 25 * np.sin(i / 25), 5), e["neon sign"], 4.0)
        neon += 0.12 * _glow((i, 130, 4), e["LED 460"], 4.5)
    out["neon, blue LEDs"] = neon
    down = (yy / HEIGHT)[..., None]
    warm, cool = e["1900 K"] / e["1900 K"].max(), e["12000 K"] / e["12000 K"].max()
    out["sunset"] = 0.15 * cool * (1 - down) ** 2 + 0.9 * warm * down**2 + _glow((150, 150, 12), warm, 7.0)
    ball = _ball()
    across = np.clip((xx - 80) / 140.0, 0.0, 1.0)[..., None]
    face = np.where(xx[..., None] < 150, skin[3], skin[-2]) * ball
    out["faces, blue wash"] = dark + face * (2.5 * across + (1 - across) * 8 * e["LED 460"] / 0.18)
    out["red dress"] = dark + ball * np.array([0.42, 0.02, 0.015]) * 2 ** (across * 5 - 1)
    rows = skin[np.array([0, 4, 8, 12, 16])][np.minimum(xx // 60, 4)]
    shade = np.sqrt(np.clip(1.0 - (((xx % 60) - 30) / 28.0) ** 2 - ((yy - 90) / 80.0) ** 2, 0.0, 1.0))[..., None]
    out["faces in the sun"] = dark + rows * shade * 2 ** (3.5 * (1 - down) - 0.5)
    return out


def light_of(path: Path, step: int = 2) -> Array:
    """ACEScg (H, W, 3) of an sRGB picture, every ``step``-th pixel, diffuse white at .55.

    Light over .7 of white is where a camera's shoulder starts: it is stretched out to four times white.
    """
    from PIL import Image

    code = np.asarray(Image.open(path).convert("RGB"), np.float64)[::step, ::step] / 255.0
    light = curves.srgb_decode(code)
    most = light.max(axis=-1, keepdims=True)
    stretched = light * (1.0 + 3.0 * np.clip((most - 0.7) / 0.3, 0.0, 1.0) ** 3)
    return 0.55 * stretched @ matrix("BT.709", "ACEScg").T


def photographs(folder: Path | None) -> dict[str, Path]:
    """The PNG and JPEG pictures of a folder by name; none without a folder."""
    if folder is None:
        return {}
    found = [p for p in sorted(folder.iterdir()) if p.suffix.lower() in (".png", ".jpg", ".jpeg")]
    return {p.stem: p for p in found}
