"""Fifty LUTs by other means than our steps: OpenColorIO's transforms and colour-science's spaces, from one seed."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import colour
import numpy as np
import PyOpenColorIO as ocio

from lookwright.arrays import Array
from lookwright.colour.spaces.signal import Signal

SEED = 20
Function = Callable[[Array], Array]


@dataclass(frozen=True)
class Foreign:
    """One LUT: what it does to code values (n, 3), and what they are."""

    name: str
    table: Function
    source: str
    output: str


def through(*transforms: ocio.Transform) -> Function:
    """OpenColorIO's processor for transforms in a row."""
    group = ocio.GroupTransform(list(transforms))
    processor = ocio.Config.CreateRaw().getProcessor(group).getOptimizedCPUProcessor(ocio.OPTIMIZATION_LOSSLESS)

    def apply(code: Array) -> Array:
        pixels = np.ascontiguousarray(code, np.float32).reshape(-1, 3)
        processor.applyRGB(pixels)
        return pixels.astype(np.float64).reshape(np.shape(code))

    return apply


def cdls(rng: np.random.Generator) -> Iterator[Foreign]:
    """ASC CDLs, unclamped, on log and on display code values."""
    for k, signal in enumerate(["ACEScct"] * 4 + ["S-Log3"] * 3 + ["ARRI LogC3"] * 2 + ["BT.1886"] * 3 + ["sRGB"] * 2):
        cdl = ocio.CDLTransform()
        cdl.setStyle(ocio.CDL_NO_CLAMP)
        cdl.setSlope(list(rng.uniform(0.85, 1.2, 3)))
        cdl.setOffset(list(rng.uniform(-0.04, 0.04, 3)))
        cdl.setPower(list(rng.uniform(0.85, 1.2, 3)))
        cdl.setSat(float(rng.uniform(0.7, 1.3)))
        yield Foreign(f"CDL {k + 1}", through(cdl), signal, signal)


def curves(rng: np.random.Generator) -> Iterator[Foreign]:
    """OpenColorIO's grading curves: the same on all channels, or another on each."""
    for k, signal in enumerate(("ACEScct", "ACEScct", "S-Log3", "BT.1886", "BT.1886", "sRGB")):
        low, high = rng.uniform(-0.07, 0.05), rng.uniform(-0.05, 0.07)
        points = [0.0, 0.0, 0.25, 0.25 + low, 0.5, 0.5 + rng.uniform(-0.04, 0.04), 0.75, 0.75 + high, 1.0, 1.0]
        curve = ocio.GradingBSplineCurve(points)
        same = ocio.GradingBSplineCurve([0.0, 0.0, 1.0, 1.0])
        rgb = ocio.GradingRGBCurve(ocio.GRADING_LOG)
        rgb.red = rgb.green = rgb.blue = same
        rgb.master = curve
        if k in (1, 4):
            rgb.red = ocio.GradingBSplineCurve([0.0, 0.0, 0.5, 0.5 + rng.uniform(-0.03, 0.03), 1.0, 1.0])
        transform = ocio.GradingRGBCurveTransform(rgb)
        yield Foreign(f"curve {k + 1}", through(transform), signal, signal)


def primaries(rng: np.random.Generator) -> Iterator[Foreign]:
    """OpenColorIO's primary grade: lift, gamma and gain on video, brightness, contrast and gamma on log."""
    for k in range(3):
        grade = ocio.GradingPrimary(ocio.GRADING_VIDEO)
        grade.lift = ocio.GradingRGBM(*rng.uniform(-0.02, 0.02, 3), 0.0)
        grade.gamma = ocio.GradingRGBM(*rng.uniform(0.9, 1.1, 3), 1.0)
        grade.gain = ocio.GradingRGBM(*rng.uniform(0.92, 1.05, 3), 1.0)
        grade.saturation = float(rng.uniform(0.8, 1.2))
        yield Foreign(
            f"lift, gamma, gain {k + 1}",
            through(ocio.GradingPrimaryTransform(grade, ocio.GRADING_VIDEO, True)),
            "BT.1886",
            "BT.1886",
        )
    for k in range(3):
        grade = ocio.GradingPrimary(ocio.GRADING_LOG)
        grade.brightness = ocio.GradingRGBM(*rng.uniform(-0.04, 0.04, 3), 0.0)
        grade.contrast = ocio.GradingRGBM(*rng.uniform(0.9, 1.15, 3), 1.0)
        grade.saturation = float(rng.uniform(0.8, 1.2))
        yield Foreign(
            f"brightness, contrast {k + 1}",
            through(ocio.GradingPrimaryTransform(grade, ocio.GRADING_LOG, True)),
            "ACEScct",
            "ACEScct",
        )


def in_light(change: Function, signal: str) -> Function:
    """A change of linear light in the signal's own primaries, between decoding and encoding it."""
    s = Signal.named(signal)
    return lambda code: np.clip(s.encode(change(s.decode(np.clip(code, 0.0, 1.0)))), 0.0, 1.0)


def matrices(rng: np.random.Generator) -> Iterator[Foreign]:
    """Channels mixed in light: at random, a turn round grey, saturation by luminance; and white balances."""
    for k, signal in enumerate(("ACEScct", "S-Log3", "ARRI LogC3", "sRGB")):
        mix = rng.normal(0.0, 0.06, (3, 3))
        mix += np.eye(3) - np.diag(mix.sum(axis=1))
        yield Foreign(f"matrix {k + 1}", in_light(lambda x, m=mix: x @ m.T, signal), signal, signal)
    for k, signal in enumerate(("ACEScct", "BT.1886")):
        axis, angle = np.ones(3) / np.sqrt(3.0), np.radians(rng.uniform(6.0, 14.0))
        cross = np.cross(np.eye(3), axis)
        turn = np.eye(3) * np.cos(angle) + np.outer(axis, axis) * (1 - np.cos(angle)) + cross * np.sin(angle)
        yield Foreign(f"turn of light {k + 1}", in_light(lambda x, m=turn: x @ m.T, signal), signal, signal)
    for k, signal in enumerate(("ACEScct", "S-Log3", "sRGB")):
        luma = np.outer(np.ones(3), Signal.named(signal).primaries.luminance)
        amount = rng.uniform(0.6, 1.3)
        mix = luma + amount * (np.eye(3) - luma)
        yield Foreign(f"saturation of light {k + 1}", in_light(lambda x, m=mix: x @ m.T, signal), signal, signal)
    xyz = colour.RGB_COLOURSPACES["ACEScg"]
    for k, (kelvin, signal) in enumerate(
        ((4300.0, "ACEScct"), (5200.0, "ACEScct"), (7800.0, "S-Log3"), (9000.0, "BT.1886"))
    ):
        space = (
            xyz
            if signal == "ACEScct"
            else colour.RGB_COLOURSPACES["S-Gamut3.Cine" if signal == "S-Log3" else "ITU-R BT.709"]
        )
        white = colour.xy_to_XYZ(colour.temperature.CCT_to_xy_CIE_D(max(kelvin, 4000.0)))
        adapt = colour.adaptation.matrix_chromatic_adaptation_VonKries(
            colour.xy_to_XYZ(space.whitepoint), white, transform="CAT16"
        )
        mix = space.matrix_XYZ_to_RGB @ adapt @ space.matrix_RGB_to_XYZ
        yield Foreign(f"white balance {k + 1}", in_light(lambda x, m=mix: x @ m.T, signal), signal, signal)


def appearance(rng: np.random.Generator) -> Iterator[Foreign]:
    """Hue and colourfulness changed in the spaces of colour-science: CIELAB, Oklab, IPT, HSV-like luma differences."""
    video = Signal.named("BT.1886")
    space = colour.RGB_COLOURSPACES["ITU-R BT.709"]

    def between(forward: Function, back: Function, change: Function) -> Function:
        def apply(code: Array) -> Array:
            x = video.decode(np.clip(code, 0.0, 1.0)) @ space.matrix_RGB_to_XYZ.T
            light = back(change(forward(x))) @ space.matrix_XYZ_to_RGB.T
            return np.clip(video.encode(np.clip(light, 0.0, 1.0)), 0.0, 1.0)

        return apply

    def chroma(gain: float, turn: float) -> Function:
        c, s = gain * np.cos(np.radians(turn)), gain * np.sin(np.radians(turn))
        mix = np.array([[1.0, 0.0, 0.0], [0.0, c, -s], [0.0, s, c]])
        return lambda lab: lab @ mix.T

    ways = {
        "CIELAB": (colour.XYZ_to_Lab, colour.Lab_to_XYZ),
        "Oklab": (colour.XYZ_to_Oklab, colour.Oklab_to_XYZ),
        "IPT": (colour.XYZ_to_IPT, colour.IPT_to_XYZ),
    }
    for name, (forward, back) in ways.items():
        for turn in (0.0, float(rng.uniform(4.0, 9.0))):
            change = chroma(float(rng.uniform(0.7, 1.15)), turn)
            yield Foreign(f"{name} chroma, turn {turn:.0f}", between(forward, back, change), "BT.1886", "BT.1886")


def renderings() -> Iterator[Foreign]:
    """Log to a display: ACES through OpenColorIO's built-in transforms, a conversion, and plain curves."""
    to_ap0 = ocio.BuiltinTransform("ACEScct_to_ACES2065-1")
    end = ocio.BuiltinTransform("DISPLAY - CIE-XYZ-D65_to_REC.1886-REC.709")
    for name, style in (
        ("ACES 1.0 SDR", "ACES-OUTPUT - ACES2065-1_to_CIE-XYZ-D65 - SDR-VIDEO_1.0"),
        ("ACES 2.0 SDR", "ACES-OUTPUT - ACES2065-1_to_CIE-XYZ-D65 - SDR-100nit-REC709_2.0"),
    ):
        yield Foreign(name, through(to_ap0, ocio.BuiltinTransform(style), end), "ACEScct", "BT.1886")
    convert = through(
        ocio.BuiltinTransform("SONY_SLOG3-SGAMUT3.CINE_to_ACES2065-1"),
        ocio.BuiltinTransform("ACEScct_to_ACES2065-1", ocio.TRANSFORM_DIR_INVERSE),
    )
    yield Foreign("S-Log3 to ACEScct", convert, "S-Log3", "ACEScct")


def fifty() -> list[Foreign]:
    """All of them, in order."""
    rng = np.random.default_rng(SEED)
    made = [*cdls(rng), *curves(rng), *primaries(rng), *matrices(rng), *appearance(rng), *renderings()]
    stops = ((0.6, "ACEScct"), (-0.8, "S-Log3"))
    for k, (by, signal) in enumerate(stops):
        made.append(Foreign(f"exposure {k + 1}", in_light(lambda x, g=2.0**by: x * g, signal), signal, signal))
    return made
