"""Content that a lattice is judged on: the sample stills, photographs of others, and sweeps of saturated colour.

The photographs are those that the wheels of scikit-image (``skimage/data``) and scikit-learn
(``sklearn/datasets/images``) carry; nothing of them is kept here. They are display pictures (sRGB), turned to scene
light by the inverse of the plain rendering, and none of them is ever fitted to.
"""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np

from lookwright.colour.plain import plain_scene
from lookwright.colour.spaces.oklab import GREY_LIGHTNESS, hue_and_saturation, opponent_to_scene, scene_to_opponent
from lookwright.colour.spaces.primaries import matrix
from lookwright.colour.spaces.signal import Signal
from lookwright.lut.lattices.samples import spread
from lookwright.pictures.stills import find_stills, read

ROOT = Path(__file__).parents[2]
PHOTOGRAPHS = (
    "astronaut.png",
    "chelsea.png",
    "china.jpg",
    "coffee.png",
    "flower.jpg",
    "motorcycle_left.png",
    "retina.jpg",
    "rocket.jpg",
)
EACH = 5_000
"""Pixels drawn from every picture."""
BRIGHTEST = 0.98
"""Display light that white of a photograph is held to: the inverse of a shoulder runs off at its peak."""


def photographs(folder: Path | None = None) -> dict[str, np.ndarray]:
    """Scene light (EACH, 3) of every photograph, from ``folder`` or from the installed packages."""
    roots = [folder] if folder else []
    for package, inside in (("skimage", "data"), ("sklearn", "datasets/images")):
        spec = importlib.util.find_spec(package)
        if spec is not None and spec.origin:
            roots.append(Path(spec.origin).parent / inside)
    found = {p.name: p for root in roots for p in root.rglob("*") if p.name in PHOTOGRAPHS}
    if missing := set(PHOTOGRAPHS) - set(found):
        raise SystemExit(f"not found: {', '.join(sorted(missing))}; install scikit-image and scikit-learn, or --images")
    display = Signal.named("sRGB")
    return {n: plain_scene(np.minimum(display.to_light(drawn(found[n])), BRIGHTEST)) for n in PHOTOGRAPHS}


def drawn(path: Path, count: int = EACH, seed: int = 11) -> np.ndarray:
    """(count, 3) code values of a picture, evenly over its area."""
    pixels = read(path).pixels
    place = spread(count, 2, seed)
    rows, columns = (place * pixels.shape[:2]).astype(np.intp).T
    return pixels[rows, columns].astype(np.float64)


def stills(seed: int = 11) -> dict[str, np.ndarray]:
    """Scene light of the sample stills: with seed 11 other pixels than those that are fitted to."""
    log = Signal.named("ACEScct")
    return {p.stem: log.to_scene(drawn(p, seed=seed)) for p in find_stills([ROOT / "sample_images"])}


def more_chroma(scene: np.ndarray, factor: float = 1.5) -> np.ndarray:
    """The same lightness and hue in Oklab with more chroma."""
    opponent = scene_to_opponent(scene)
    opponent[:, 1:] *= factor
    return opponent_to_scene(opponent)


def sweeps() -> np.ndarray:
    """Scene light: 72 hues from half way to the boundary of P3 primaries, -5 to +3 stops of their lightness."""
    hue = np.linspace(0.0, 6.0, 72, endpoint=False)
    # Once round the edges of the cube of saturated colours: red, yellow, green, cyan, blue, magenta.
    edge = np.clip(np.abs((hue[:, None] - [0.0, 2.0, 4.0] + 3.0) % 6.0 - 3.0) * -1.0 + 2.0, 0.0, 1.0)
    share = np.linspace(0.5, 1.0, 6)[:, None, None]
    light = (1.0 - share) * edge.mean(axis=1, keepdims=True) + share * edge
    opponent = scene_to_opponent(light.reshape(-1, 3) @ matrix("P3-D65", "ACEScg").T)
    stops = np.linspace(-5.0, 3.0, 33)
    out = np.repeat(opponent[None], len(stops), axis=0)
    ratio = GREY_LIGHTNESS * np.exp2(stops / 3.0)[:, None] / opponent[None, :, 0]
    out[..., 0] *= ratio
    return opponent_to_scene(out.reshape(-1, 3))


def ramps() -> np.ndarray:
    """(n, 385, 3) scene light in fine steps: greys, 12 hues in two saturations from -6 to +4 stops, and circles."""
    stops = np.linspace(-6.0, 4.0, 385)
    circle = np.radians(np.linspace(0.0, 360.0, 385))

    def colours(level: np.ndarray, saturation: float, hue: np.ndarray) -> np.ndarray:
        parts = np.broadcast_arrays(
            GREY_LIGHTNESS * np.exp2(level / 3.0), saturation * np.cos(hue), saturation * np.sin(hue)
        )
        return opponent_to_scene(np.stack(parts, axis=-1))

    rows = [colours(stops, 0.0, np.array(0.0))]
    for saturation in (0.06, 0.15):
        rows += [colours(stops, saturation, np.array(h)) for h in np.radians(np.arange(0.0, 360.0, 30.0))]
        rows += [colours(np.array(level), saturation, circle) for level in (-3.0, -1.0, 0.0, 1.5)]
    return np.array(rows)


def core(scene: np.ndarray) -> np.ndarray:
    """Which scene colours are such as pictures are full of: -6 to +4 stops, saturation up to 0.25."""
    opponent = scene_to_opponent(scene)
    stops = 3.0 * np.log2(np.maximum(opponent[:, 0], 1e-9) / GREY_LIGHTNESS)
    return (stops > -6.0) & (stops < 4.0) & (hue_and_saturation(opponent)[1] < 0.25)
