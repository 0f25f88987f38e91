"""Takes of one sample scene whose exposure, balance and flare are known, made without the code under test.

Balance is moved with colour-science: chromatic adaptation between whites whose correlated colour temperature it
computes (Ohno 2013). Each take is framed a few pixels differently, carries noise of one
10-bit code (four codes before the scaling to a quarter) and is rounded to 10-bit codes, as a camera would.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np

from lookwright.colour.spaces.library import colour_library
from lookwright.colour.spaces.signal import Signal
from lookwright.pictures.stills import Mark, read, read_marks, write

ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "sample_images"
LOG = Signal.named("ACEScct")
WHITE_XY = np.array([0.32168, 0.33767])  # ACES white, S-2014-004
EDGE = 6  # pixels by which framing may move


@dataclass(frozen=True)
class Truth:
    """What was done to a take; ``change`` names what no correction can undo."""

    name: str
    stops: float = 0.0
    mired: float = 0.0
    flare: float = 0.0
    move: tuple[int, int] = (0, 0)
    change: str = ""
    cat: str = "CAT16"


@cache
def scene(still: str, every: int = 4) -> np.ndarray:
    """Linear ACEScg of a sample still at 1/every of its size, each pixel the mean of a block of codes."""
    codes = read(SAMPLES / f"{still}_acescct.png").pixels
    h, w = codes.shape[0] // every, codes.shape[1] // every
    return LOG.to_scene(codes[: h * every, : w * every].reshape(h, every, w, every, 3).mean(axis=(1, 3)))


def _acescg_to_xyz() -> np.ndarray:
    return colour_library().RGB_COLOURSPACES["ACEScg"].matrix_RGB_to_XYZ


def _xyz(xy: np.ndarray) -> np.ndarray:
    return np.array([xy[0] / xy[1], 1.0, (1.0 - xy[0] - xy[1]) / xy[1]])


def mired_of(xyz: np.ndarray) -> float:
    """Mired of a white by Ohno 2013."""
    colour = colour_library()
    uv = colour.UCS_to_uv(colour.XYZ_to_UCS(xyz))
    return float(1e6 / colour.temperature.uv_to_CCT_Ohno2013(uv)[0])


@cache
def moved_white(mired: float) -> tuple[float, float, float]:
    """XYZ of the ACES white after a shift along the Planckian locus at its own Duv."""
    colour = colour_library()
    kelvin, duv = colour.temperature.uv_to_CCT_Ohno2013(colour.UCS_to_uv(colour.XYZ_to_UCS(_xyz(WHITE_XY))))
    uv = colour.temperature.CCT_to_uv_Ohno2013(np.array([1e6 / (1e6 / kelvin + mired), duv]))
    return tuple(_xyz(colour.UCS_uv_to_xy(uv)))


def balance(mired: float, cat: str = "CAT16") -> np.ndarray:
    """(3, 3) on linear ACEScg, by colour-science."""
    if mired == 0:
        return np.eye(3)
    adapted = colour_library().adaptation.matrix_chromatic_adaptation_VonKries(
        _xyz(WHITE_XY), np.array(moved_white(mired)), transform=cat
    )
    to_xyz = _acescg_to_xyz()
    return np.linalg.inv(to_xyz) @ adapted @ to_xyz


def lit_otherwise(light: np.ndarray, change: str) -> np.ndarray:
    """A change of the light itself, in part of the frame, with soft edges."""
    height, width = light.shape[:2]
    x = np.linspace(0.0, 1.0, width)[None, :, None]
    y = np.linspace(0.0, 1.0, height)[:, None, None]
    left = 1.0 / (1.0 + np.exp((x - 0.42) * 25.0))
    if change == "key down":
        return light * 2.0 ** (-1.5 * left)
    if change == "key up":
        return light * 2.0 ** (1.4 * left)
    if change == "key warmer":
        return light * (1.0 - left) + (light @ balance(110.0).T) * left
    if change == "window dark":
        return light * 2.0 ** (-2.0 / (1.0 + np.exp((y - 0.5) * 20.0)))
    if change == "lamp added":
        near = np.exp(-(((x - 0.75) / 0.18) ** 2 + ((y - 0.55) / 0.25) ** 2))
        return light + near * np.array([0.35, 0.16, 0.06])
    raise ValueError(change)


def take(still: str, truth: Truth, seed: int, every: int = 4) -> np.ndarray:
    """ACEScct codes, float32 (h, w, 3), of a sample scene as ``truth`` says."""
    light = scene(truth.change.removeprefix("set-up ") if truth.change.startswith("set-up") else still, every)
    if truth.change and not truth.change.startswith("set-up"):
        light = lit_otherwise(light, truth.change)
    light = light @ (balance(truth.mired, truth.cat) * 2.0**truth.stops).T + truth.flare
    height, width = light.shape[:2]
    dx, dy = truth.move
    light = light[EDGE + dy : height - EDGE + dy, EDGE + dx : width - EDGE + dx]
    noise = np.random.default_rng(seed).normal(0.0, 1.0 / 1023.0, light.shape)
    return (np.round((LOG.from_scene(light) + noise) * 1023.0).clip(0, 1023) / 1023.0).astype(np.float32)


def write_takes(folder: Path, still: str, truths: list[Truth], every: int = 4) -> list[Path]:
    """The takes as 16-bit PNG, in order."""
    folder.mkdir(exist_ok=True)
    return [
        write(folder / f"{truth.name}.png", take(still, truth, number, every)) for number, truth in enumerate(truths)
    ]


def random_truths(count: int, changes: list[str], seed: int, cat: str = "CAT16") -> list[Truth]:
    """``count`` takes, the first of them the untouched anchor, ``changes`` spread among the others."""
    rng = np.random.default_rng(seed)
    places = set(np.linspace(3, count - 2, len(changes)).astype(int)) if changes else set()
    assert len(places) == len(changes)
    rest = iter(changes)
    truths = [Truth("take-01")]
    for number in range(1, count):
        truths.append(
            Truth(
                f"take-{number + 1:02d}",
                float(rng.uniform(-1.0, 1.0)),
                float(rng.uniform(-80.0, 80.0)),
                float(rng.uniform(-0.0005, 0.004)),
                (int(rng.integers(-EDGE, EDGE + 1)), int(rng.integers(-EDGE, EDGE + 1))) if number % 2 else (0, 0),
                next(rest) if number in places else "",
                cat,
            )
        )
    return truths


def remaining(anchor: np.ndarray, corrected: np.ndarray, move: tuple[int, int]) -> tuple[float, float]:
    """(stops, mired) by which corrected codes still differ from the anchor's, pixel against pixel.

    Not the matcher's way: an affine map of linear light fitted over all mid-tone pixels; its action on grey gives
    the exposure, and on the ACES white the colour temperature (Ohno 2013).
    """
    dx, dy = move
    height, width = anchor.shape[:2]
    x0, x1, y0, y1 = max(dx, 0), width + min(dx, 0), max(dy, 0), height + min(dy, 0)
    first = LOG.to_scene(anchor[y0:y1, x0:x1]).reshape(-1, 3)
    second = LOG.to_scene(corrected[y0 - dy : y1 - dy, x0 - dx : x1 - dx]).reshape(-1, 3)
    grey = first.mean(axis=1)
    kept = (grey > 0.01) & (grey < 1.0) & (first.min(axis=1) > 0.003)
    first, second, weight = first[kept], second[kept], 1.0 / grey[kept, None]
    system = np.concatenate([first, np.ones((len(first), 1))], axis=1) * weight
    matrix = np.linalg.lstsq(system, second * weight, rcond=None)[0][:3].T
    to_xyz = _acescg_to_xyz()
    white = to_xyz @ matrix @ np.linalg.inv(to_xyz) @ _xyz(WHITE_XY)
    return float(np.log2(white[1])), mired_of(white) - mired_of(_xyz(WHITE_XY))


def marks_of(still: str, truth: Truth, every: int = 4) -> list[Mark]:
    """The sample still's marks where they lie on a take, as a person would have set them."""
    height, width = scene(still, every).shape[:2]
    dx, dy = truth.move
    w, h = width - 2 * EDGE, height - 2 * EDGE
    marks = []
    for mark in read_marks(SAMPLES / "marks.toml")[still]:
        x, y, wide, high = mark.box
        left, top = x * width - EDGE - dx, y * height - EDGE - dy
        if left >= 0 and top >= 0 and left + wide * width <= w and top + high * height <= h:
            marks.append(replace(mark, box=(left / w, top / h, wide * width / w, high * height / h)))
    return marks
