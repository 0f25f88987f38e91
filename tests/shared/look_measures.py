"""What a look does and how far it holds back, each as one figure, on scenes given as pixels and marked boxes.

All comparisons are with the plain rendering of the same source for the same output.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from lookwright.assess.measure.poles import NEUTRAL_CHROMA, WARM_AXIS_DEG
from lookwright.assess.restraint.jacobian import HALF_CODE, gain, jacobian
from lookwright.assess.restraint.noise import FLOOR as NOISE_FLOOR
from lookwright.assess.restraint.noise import SHADOWS, _scene
from lookwright.colour.difference import ciede2000, xyz_to_lab
from lookwright.colour.spaces.oklab import light_to_oklab
from lookwright.colour.spaces.primaries import matrix, primaries
from lookwright.colour.spaces.signal import DISPLAY_PRIMARIES, SCENE_PRIMARIES, Signal
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.pipeline import compile_look
from lookwright.lut.lattices.interpolate import lookup
from lookwright.lut.lattices.lattice import sample

Array = NDArray[np.float64]

LIT_PERCENT = (10.0, 98.0)
"""Signal of the plain rendering between which a pixel counts as lit: neither black ground nor clipped lamp."""
TO_XYZ = np.asarray(primaries(DISPLAY_PRIMARIES).to_xyz)
LUMINANCE = np.asarray(primaries(DISPLAY_PRIMARIES).luminance)
GREYS = 0.18 * 2.0 ** np.arange(-8.0, 6.01, 0.25)
RED = matrix("BT.709", SCENE_PRIMARIES) @ np.array([0.55, 0.03, 0.03])
"""A red dress: nearly as saturated as a red surface gets."""


@dataclass(frozen=True)
class Scene:
    """Pixels (n, 3) of one frame, linear ACEScg, and the mean light of marked boxes by role."""

    pixels: Array
    marks: Mapping[str, list[Array]] = field(default_factory=dict)


def luminance(light: Array) -> Array:
    return np.maximum(light @ LUMINANCE, 0.0)


def percent(light: Array) -> Array:
    return 100.0 * luminance(light) ** (1 / 2.4)


def cielab(light: Array) -> Array:
    return xyz_to_lab(np.maximum(light, 0.0) @ TO_XYZ.T)


def _turn(a: Array, b: Array) -> Array:
    """Degrees by which Oklab hue turns from a to b."""
    return np.degrees(
        (np.arctan2(b[..., 2], b[..., 1]) - np.arctan2(a[..., 2], a[..., 1]) + np.pi) % (2 * np.pi) - np.pi
    )


class Judged:
    """A look and the plain rendering as functions of scene light to display light."""

    def __init__(self, look: Look) -> None:
        self.graded_code = compile_look(look)
        self.plain_code = compile_look(look.plain())
        self.source, self.output = self.graded_code.source, self.graded_code.output

    def light(self, codes: Callable[[Array], Array], scene: Array) -> Array:
        """Display light, linear BT.2020."""
        return self.output.to_light(codes(np.clip(self.source.from_scene(scene), 0.0, 1.0)))

    def both(self, scene: Array) -> tuple[Array, Array]:
        return self.light(self.plain_code, scene), self.light(self.graded_code, scene)


def on_frame(judged: Judged, scene: Scene) -> dict[str, float]:
    """Difference, separation gained at held membership and chroma, on the lit pixels of one frame."""
    before, after = judged.both(scene.pixels)
    level = percent(before)
    lit = (level >= LIT_PERCENT[0]) & (level <= LIT_PERCENT[1])
    before, after = before[lit], after[lit]
    de = ciede2000(cielab(before), cielab(after))
    a, b = light_to_oklab(before), light_to_oklab(after)
    chroma = np.hypot(a[:, 1], a[:, 2])
    out = {
        "difference": float(de.mean()),
        "difference 95 %": float(np.quantile(de, 0.95)),
        "chroma": float(np.hypot(b[:, 1], b[:, 2]).mean() / chroma.mean()),
    }
    axis = np.radians(WARM_AXIS_DEG)
    warm = a[:, 1] * np.cos(axis) + a[:, 2] * np.sin(axis) >= 0.0
    coloured = chroma >= NEUTRAL_CHROMA
    sides = [coloured & warm, coloured & ~warm]
    if all(s.mean() > 0.02 for s in sides):
        apart = []
        for lab in (a, b):
            # Whose pixels are warm and cool, and how much each counts, stays as plainly rendered.
            w, c = (np.average(lab[s, 1:], axis=0, weights=chroma[s]) for s in sides)
            apart.append(float(np.hypot(*(w - c))))
        out["separation"] = 100.0 * (apart[1] / apart[0] - 1.0)
    for role, boxes in scene.marks.items():
        p, q = judged.both(np.array(boxes))
        lp, lq = light_to_oklab(p), light_to_oklab(q)
        turned = np.where(np.hypot(lp[:, 1], lp[:, 2]) >= 0.02, np.abs(_turn(lp, lq)), 0.0)
        out[f"{role} turn"] = float(turned.max())
        out[f"{role} difference"] = float(ciede2000(cielab(p), cielab(q)).max())
    return out


def of_itself(judged: Judged) -> dict[str, float]:
    """Contrast, tints, noise, texture of a red and black: without a picture."""
    step = 2.0**0.05
    pair = 0.18 * np.array([[1 / step], [step]]) * np.ones(3)
    slopes = [float(np.diff(np.log(luminance(x)))[0]) for x in judged.both(pair)]
    _, greys = judged.both(GREYS[:, None] * np.ones(3))
    lab = cielab(greys)
    tint = np.hypot(lab[:, 1], lab[:, 2])
    stops, _, _, scene = _scene()
    code = np.clip(judged.source.from_scene(scene), HALF_CODE, 1.0 - HALF_CODE)
    noise = gain(jacobian(judged.graded_code, code)) / np.maximum(gain(jacobian(judged.plain_code, code)), NOISE_FLOOR)
    ramp = RED * 2.0 ** np.arange(-2.0, 1.01, 0.25)[:, None]
    texture = [np.linalg.norm(np.diff(cielab(x), axis=0), axis=1) for x in judged.both(ramp)]
    black = judged.light(judged.graded_code, np.zeros((1, 3)))
    skins = _skins()
    p, q = (light_to_oklab(x) for x in judged.both(skins.reshape(-1, 3)))
    kept = (np.hypot(q[:, 1], q[:, 2]) / np.hypot(p[:, 1], p[:, 2])).reshape(skins.shape[:2])
    return {
        "contrast": slopes[1] / slopes[0],
        "grey card": float(tint[np.argmin(np.abs(GREYS - 0.18))]),
        "scale": float(tint.max()),
        "noise": float(noise[stops > SHADOWS].max()),
        "shadow noise": float(noise[stops <= SHADOWS].max()),
        "red texture": float((texture[1] / texture[0]).min()),
        "black": float(percent(black)[0]),
        "skins turn": float(np.abs(_turn(p, q)).max()),
        "dark over light skin": float((kept[0] / kept[-1]).min()),
    }


def _skins() -> Array:
    """Measured skins by darkness, at three exposures."""
    from lookwright.colour.film.skins import skins

    return skins("D65")[:, None, :] * 2.0 ** np.array([-2.0, 0.0, 1.0])[None, :, None]


def of_lattice(judged: Judged, pixels: Array, size: int = 33) -> float:
    """Mean CIEDE2000 of tetrahedral lookups in the plainly sampled lattice."""
    lattice = sample(judged.graded_code, size, threads=1)
    codes = np.clip(judged.source.from_scene(pixels), 0.0, 1.0)
    exact, found = judged.graded_code(codes), lookup(lattice, codes, "tetrahedral")
    lab = (cielab(judged.output.to_light(c)) for c in (exact, found))
    return float(ciede2000(*lab).mean())


def of_look(look: Look, scenes: Mapping[str, Scene]) -> dict[str, dict[str, float]]:
    """By scene, and under ``look`` what needs none."""
    judged = Judged(look)
    return {"look": of_itself(judged), **{name: on_frame(judged, s) for name, s in scenes.items()}}


def acescct(codes: Array) -> Array:
    return Signal.named("ACEScct").to_scene(codes)
