"""OpenColorIO's transforms from a source signal to linear light, and back."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.spaces import curves
from lookwright.colour.spaces.camera_curves import LogCurve
from lookwright.colour.spaces.encodings import Encoding
from lookwright.colour.spaces.primaries import matrix
from lookwright.colour.spaces.signal import DISPLAY_PRIMARIES, SCENE_PRIMARIES, Signal
from lookwright.lut.lattices.lattice import Curves

from .clf import identity_of, write_clf

_DECODE_POINTS = 16385
"""Points of a sampled decoding curve. Between them a log curve of 17.5 stops errs by at most
(17.5 ln 2 / 16384)^2 / 8 = 7e-8 of the light."""

_SEAM = 2e-6
"""Code values by which a camera's straight line may miss its logarithm where they meet: OpenColorIO's never does."""


def decoding(source: Signal, luts: Path) -> list[Any]:
    """Transforms from the source signal to the reference light; a table that they need is written into ``luts``."""
    import PyOpenColorIO as ocio

    steps: list[Any] = []
    if source.range == "full" and source.encoding.decode is curves.acescct_decode:
        # S-2016-001 equation 3.
        steps.append(
            ocio.LogCameraTransform(
                base=2.0,
                linSideBreak=[curves.ACESCCT_BREAK] * 3,
                logSideSlope=[1.0 / curves.ACESCCT_SLOPE] * 3,
                logSideOffset=[curves.ACESCCT_OFFSET / curves.ACESCCT_SLOPE] * 3,
                direction=ocio.TRANSFORM_DIR_INVERSE,
            )
        )
    elif source.range == "full" and (camera := _camera(source.encoding)) is not None:
        steps.append(camera)
    elif source.range == "full" and (power := _power(source.encoding)) is not None:
        # A table of a bare power is flat at black, and cannot be undone there.
        steps.append(ocio.ExponentTransform(value=[power, power, power, 1.0]))
    elif source.range != "full" or not source.encoding.linear:
        points = np.repeat(np.linspace(0.0, 1.0, _DECODE_POINTS)[:, None], 3, axis=1)
        curve = Curves(source.decode(points), title=f"{source.describe()} to light")
        write_clf(luts / "source-to-light.clf", None, curve, identity=identity_of("decode", source.describe()))
        steps.append(file_transform("source-to-light.clf"))
    to_light = matrix(source.primaries.name, SCENE_PRIMARIES if source.kind == "scene" else DISPLAY_PRIMARIES)
    if not np.allclose(to_light, np.eye(3), rtol=0, atol=1e-12):
        steps.append(matrix_transform(to_light))
    return steps


def _camera(encoding: Encoding) -> Any | None:
    """A camera's curve of a logarithm and a straight line, exact and without a table; None for any other."""
    import PyOpenColorIO as ocio

    curve = getattr(encoding.decode, "__self__", None)
    if not isinstance(curve, LogCurve):
        return None
    log = curve.c * np.log10(curve.a * curve.cut + curve.b) + curve.d
    if max(abs(log - (curve.e * curve.cut + curve.f)), abs(log - curve.cut_code)) > _SEAM:
        return None
    return ocio.LogCameraTransform(
        base=10.0,
        linSideBreak=[curve.cut] * 3,
        logSideSlope=[curve.c] * 3,
        logSideOffset=[curve.d] * 3,
        linSideSlope=[curve.a] * 3,
        linSideOffset=[curve.b] * 3,
        linearSlope=[curve.e] * 3,
        direction=ocio.TRANSFORM_DIR_INVERSE,
    )


def _power(encoding: Encoding) -> float | None:
    """The exponent of a curve that is a power and nothing else (BT.1886, cinema); None for any other."""
    x = np.repeat(np.linspace(0.0, 1.0, 65)[:, None], 3, axis=1)
    light = encoding.decode(x)
    middle = float(light[32, 0])
    if encoding.linear or not 0.0 < middle < 1.0:
        return None
    power = float(np.log(middle) / np.log(0.5))
    return round(power, 12) if np.allclose(light, x**power, rtol=0, atol=1e-12) else None


def inverted(steps: list[Any]) -> list[Any]:
    """The way back through transforms."""
    import PyOpenColorIO as ocio

    out = []
    for step in reversed(steps):
        turned = copy.deepcopy(step)
        forward = step.getDirection() == ocio.TRANSFORM_DIR_FORWARD
        turned.setDirection(ocio.TRANSFORM_DIR_INVERSE if forward else ocio.TRANSFORM_DIR_FORWARD)
        out.append(turned)
    return out


def matrix_transform(rows: Array) -> Any:
    """Of (3, 3)."""
    import PyOpenColorIO as ocio

    whole = np.eye(4)
    whole[:3, :3] = rows
    return ocio.MatrixTransform(matrix=whole.ravel().tolist())


def file_transform(name: str) -> Any:
    """A LUT of the folder, looked up tetrahedrally."""
    import PyOpenColorIO as ocio

    return ocio.FileTransform(src=name, interpolation=ocio.INTERP_TETRAHEDRAL)


def group(steps: list[Any]) -> Any:
    """One after the other."""
    import PyOpenColorIO as ocio

    return ocio.GroupTransform(transforms=steps)
