"""What a look does and how far it holds back, each as one figure, on scenes given as pixels and marked boxes.

All comparisons are with the plain rendering of the same source for the same output.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from lookwright.assess.measure.poles import signal_percent
from lookwright.assess.measure.separation import separation
from lookwright.assess.restraint.effect import difference
from lookwright.assess.restraint.jacobian import HALF_CODE, gain, jacobian
from lookwright.assess.restraint.noise import FLOOR as NOISE_FLOOR
from lookwright.assess.restraint.noise import SHADOWS, _scene
from lookwright.assess.restraint.subject import Subject, subject_of_look
from lookwright.assess.restraint.values import chroma, turn_degrees
from lookwright.colour.difference import light_to_lab
from lookwright.colour.film.skins import skins
from lookwright.colour.spaces.oklab import light_to_oklab
from lookwright.colour.spaces.primaries import matrix, primaries
from lookwright.colour.spaces.signal import DISPLAY_PRIMARIES, SCENE_PRIMARIES
from lookwright.look.recipe.model import Look
from lookwright.lut.lattices.interpolate import lookup
from lookwright.lut.lattices.lattice import sample

Array = NDArray[np.float64]

LIT_PERCENT = (10.0, 98.0)
"""Signal of the plain rendering between which a pixel counts as lit: neither black ground nor clipped lamp."""
LUMINANCE = np.asarray(primaries(DISPLAY_PRIMARIES).luminance)
GREYS = 0.18 * 2.0 ** np.arange(-8.0, 6.01, 0.25)
RED = matrix("BT.709", SCENE_PRIMARIES) @ np.array([0.55, 0.03, 0.03])
"""A red dress: nearly as saturated as a red surface gets."""
LEAST_CHROMA = 0.02
"""Oklab chroma under which a mark's hue is not read."""


@dataclass(frozen=True)
class Scene:
    """Pixels (n, 3) of one frame, linear ACEScg, and the mean light of marked boxes by role."""

    pixels: Array
    marks: Mapping[str, list[Array]] = field(default_factory=dict)


def both(subject: Subject, scene: Array) -> tuple[Array, Array]:
    """Display light of scene light, plainly rendered and graded."""
    code = subject.feed(scene)
    return subject.light(subject.plain(code)), subject.light(subject.graded(code))


def on_frame(subject: Subject, scene: Scene) -> dict[str, float]:
    """Difference, separation gained at held membership and chroma, on the lit pixels of one frame."""
    before, after = both(subject, scene.pixels)
    level = signal_percent(before)
    lit = (level >= LIT_PERCENT[0]) & (level <= LIT_PERCENT[1])
    before, after = before[lit], after[lit]
    moved = difference(before, after)
    out = {
        "difference": float(moved.mean()),
        "difference 95 %": float(np.quantile(moved, 0.95)),
        "chroma": float(chroma(light_to_oklab(after)).mean() / chroma(light_to_oklab(before)).mean()),
    }
    if (parted := separation(before, after)) is not None:
        out["separation"] = parted.gained
    for role, boxes in scene.marks.items():
        plain, graded = both(subject, np.array(boxes))
        lab = light_to_oklab(plain)
        turned = np.where(chroma(lab) >= LEAST_CHROMA, np.abs(turn_degrees(lab, light_to_oklab(graded))), 0.0)
        out[f"{role} turn"] = float(turned.max())
        out[f"{role} difference"] = float(difference(plain, graded).max())
    return out


def of_itself(subject: Subject) -> dict[str, float]:
    """Contrast, tints, noise, texture of a red and black: without a picture."""
    step = 2.0**0.05
    pair = 0.18 * np.array([[1 / step], [step]]) * np.ones(3)
    slopes = [float(np.diff(np.log(x @ LUMINANCE))[0]) for x in both(subject, pair)]
    tint = chroma(light_to_lab(both(subject, GREYS[:, None] * np.ones(3))[1]))
    stops, _, _, scene = _scene()
    code = np.clip(subject.feed(scene), HALF_CODE, 1.0 - HALF_CODE)
    noise = gain(jacobian(subject.graded, code)) / np.maximum(gain(jacobian(subject.plain, code)), NOISE_FLOOR)
    ramp = RED * 2.0 ** np.arange(-2.0, 1.01, 0.25)[:, None]
    texture = [np.linalg.norm(np.diff(light_to_lab(x), axis=0), axis=1) for x in both(subject, ramp)]
    faces = skins("D65")[:, None, :] * 2.0 ** np.array([-2.0, 0.0, 1.0])[None, :, None]
    plain, graded = (light_to_oklab(x) for x in both(subject, faces))
    kept = chroma(graded) / chroma(plain)
    return {
        "contrast": slopes[1] / slopes[0],
        "grey card": float(tint[np.argmin(np.abs(GREYS - 0.18))]),
        "scale": float(tint.max()),
        "noise": float(noise[stops > SHADOWS].max()),
        "shadow noise": float(noise[stops <= SHADOWS].max()),
        "red texture": float((texture[1] / texture[0]).min()),
        "black": float(signal_percent(both(subject, np.zeros((1, 3)))[1])[0]),
        "skins turn": float(np.abs(turn_degrees(plain, graded)).max()),
        "dark over light skin": float((kept[0] / kept[-1]).min()),
    }


def of_lattice(subject: Subject, pixels: Array, size: int = 33) -> float:
    """Mean CIEDE2000 of tetrahedral lookups in the plainly sampled lattice."""
    codes = subject.feed(pixels)
    found = lookup(sample(subject.graded, size, threads=1), codes, "tetrahedral")  # type: ignore[arg-type]
    return float(difference(subject.light(subject.graded(codes)), subject.light(found)).mean())


def of_look(look: Look, scenes: Mapping[str, Scene]) -> dict[str, dict[str, float]]:
    """By scene, and under ``look`` what needs none."""
    subject = subject_of_look(look)
    return {"look": of_itself(subject), **{name: on_frame(subject, s) for name, s in scenes.items()}}
