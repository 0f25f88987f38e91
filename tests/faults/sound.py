"""Small whole files of every kind the product reads: the stock from which hostile ones are made."""

from __future__ import annotations

from pathlib import Path

import numpy as np

RECIPE = """\
title = "Bench by the window"

[source]
encoding = "ACEScct"

[output]
encoding = "BT.1886"

[[step]]
kind = "exposure"
stops = 0.2

[[step]]
kind = "contrast"
slope = 1.1
toe = 0.3

[[step]]
kind = "saturation"
amount = 0.9

[[step]]
kind = "balance"
mired = 5.0

[[step]]
kind = "render"
"""

MARKS = """\
[bench."wall"]
box = [0.1, 0.1, 0.2, 0.2]
role = "neutral"
level = 40.0

[bench."cheek"]
box = [0.5, 0.5, 0.1, 0.1]
"""

_CURVE = '<LUT1D inBitDepth="32f" outBitDepth="32f"><Array dim="3 1">0 0.4 1</Array></LUT1D>'
_RANGE = (
    '<Range inBitDepth="32f" outBitDepth="32f"><minInValue>0.1</minInValue><maxInValue>0.9</maxInValue>'
    "<minOutValue>0</minOutValue><maxOutValue>1</maxOutValue></Range>"
)
_CUBE = (
    '<LUT3D inBitDepth="32f" outBitDepth="32f" interpolation="tetrahedral"><Array dim="2 2 2 3">\n'
    "0 0 0\n0 0 1\n0 1 0\n0 1 1\n1 0 0\n1 0 1\n1 1 0\n1 1 1\n</Array></LUT3D>"
)
_LOG = '<Log inBitDepth="32f" outBitDepth="32f" style="log10"/>'
CLF_HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<ProcessList xmlns="urn:AMPAS:CLF:v3.0" id="urn:uuid:1" compCLFversion="3.0">\n'
)
CLF_TAIL = "\n</ProcessList>\n"
CLF = CLF_HEAD + "\n".join([_CURVE, _RANGE, _CUBE, _LOG]) + CLF_TAIL


def sound_files(folder: Path) -> dict[str, list[Path]]:
    """Write the whole files; reader name to its files, the first being the one most is made of."""
    from lookwright.lut.formats.cdl import Correction, write_cdl
    from lookwright.lut.formats.cube import write_cube
    from lookwright.lut.formats.hald import identity, write_hald
    from lookwright.lut.lattices.lattice import Lattice, grid
    from lookwright.pictures.stills import write

    files: dict[str, list[Path]] = {}

    def text(reader: str, name: str, content: str) -> None:
        (folder / name).write_text(content, encoding="utf-8")
        files.setdefault(reader, []).append(folder / name)

    text("recipe", "bench.toml", RECIPE)
    text("marks", "marks.toml", MARKS)
    write_cube(folder / "small.cube", Lattice(grid(3), title="Small", comments=("A remark",)))
    files["cube"] = [folder / "small.cube"]
    text(
        "cube",
        "curves.cube",
        'TITLE "Curves"\nLUT_1D_SIZE 3\nDOMAIN_MIN 0 0 0\nDOMAIN_MAX 2 2 2\n0 0 0\n0.4 0.5 0.6\n1 1 1\n',
    )
    text("clf", "small.clf", CLF)
    warm = Correction((1.1, 1.0, 0.9), (0.01, 0.0, -0.01), (1.0, 1.05, 1.1), 0.9, "warm", ("Warm",))
    cool = Correction((0.9, 1.0, 1.1), (0.0, 0.0, 0.0), (1.0, 1.0, 1.0), 1.0, "cool", ())
    for reader, corrections in (("cc", [warm]), ("ccc", [warm, cool]), ("cdl", [warm])):
        path = folder / f"small.{reader}"
        write_cdl(path, corrections)
        files[reader] = [path]
    y, x = np.mgrid[0:24, 0:32]
    pixels = np.stack([x / 31, y / 23, (x + y) / 54], axis=2).astype(np.float32)
    alpha = (x / 31).astype(np.float32)
    for suffix, depths in {
        "png": ("16", "8"),
        "tif": ("16", "8", "float", "half"),
        "exr": ("half", "float"),
        "dpx": ("10", "8", "16"),
        "jpg": ("8",),
        "webp": ("8",),
    }.items():
        for depth in depths:
            path = folder / f"still-{depth}.{suffix}"
            write(path, pixels, depth)
            files.setdefault(suffix, []).append(path)
    for suffix in ("png", "tif", "exr", "webp"):
        path = folder / f"covered.{suffix}"
        write(path, pixels, alpha=alpha)
        files[suffix].append(path)
    write_hald(folder / "hald.png", identity(2))
    files["hald"] = [folder / "hald.png"]
    files["mp4"] = [_clip(folder / "clip.mp4", pixels)]
    line = '{"output": "shot.jpg", "key": "k", "size": 7, "sha256": "a"}\n'
    text("ledger", "ledger.jsonl", line + line.replace("shot", "other"))
    return files


def _clip(path: Path, pixels: np.ndarray) -> Path:
    """Six frames of 64 by 48 in H.264, two of them key frames; an empty file where the extra for clips is missing."""
    from fractions import Fraction

    from lookwright.errors import LookwrightError
    from lookwright.pictures.clips.read import ClipFrame
    from lookwright.pictures.clips.write import tags_for, write_clip

    large = np.repeat(np.repeat(pixels, 2, axis=0), 2, axis=1)
    rate = Fraction(24)
    frames = (ClipFrame(np.roll(large, 5 * n, axis=1), n / 24, n, 1 / rate) for n in range(6))
    try:
        write_clip(path, frames, rate, tags_for("BT.1886", "BT.709"))
    except LookwrightError:
        path.write_bytes(b"")
    return path
