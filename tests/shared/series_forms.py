"""Corrections, timelines and readers for the tests and the table of what a series is handed on as."""

from __future__ import annotations

import subprocess
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from lookwright.lut.formats.cdl import Correction


def corrections(count: int, seed: int = 20) -> list[Correction]:
    """What shots of one episode may need: half a stop and some tens of mired either way, as a log signal has it."""
    rng = np.random.default_rng(seed)

    def triple(middle: float, spread: float) -> tuple[float, float, float]:
        a, b, c = np.round(middle + spread * rng.standard_normal(3), 6)
        return float(a), float(b), float(c)

    return [
        Correction(
            triple(1.0, 0.015),
            triple(0.03 * float(rng.standard_normal()), 0.008),
            triple(1.0, 0.03),
            float(np.round(1.0 + 0.03 * rng.standard_normal(), 6)),
            f"bench_{number:04d}",
        )
        for number in range(1, count + 1)
    ]


def edl(names: Sequence[str], frames: int = 48) -> str:
    """A list as editors write them: cuts, dissolves, black, sound, retimes, remarks of the editor's own, CR LF."""

    def code(frame: int) -> str:
        return f"{frame // 86400:02d}:{frame // 1440 % 60:02d}:{frame // 24 % 60:02d}:{frame % 24:02d}"

    lines = ["TITLE:   THE LUTHIER, EPISODE 1", "FCM: NON-DROP FRAME", ""]
    number, at = 0, 86400
    for place, name in enumerate(names):
        number += 1
        source, record, at = 864000 + 24 * place, at, at + frames
        ends = (code(source), code(source + frames), code(record), code(at))
        if place % 7 == 3:  # a dissolve from the shot before
            still = (code(source), code(source), code(record), code(record))
            lines.append(f"{number:03d}  {names[place - 1][:8]:8} V     C        {' '.join(still)} ")
            lines.append(f"{number:03d}  {name[:8]:8} V     D    012 {' '.join(ends)} ")
            lines += [f"* FROM CLIP NAME: {names[place - 1]}", f"* TO CLIP NAME: {name}"]
        else:
            lines.append(f"{number:03d}  {name[:8]:8} V     C        {' '.join(ends)} ")
            lines.append(f"* FROM CLIP NAME: {name}")
        if place % 5 == 2:
            lines.append("* COMMENT: warmer? (ask Ana)")
        if place % 10 == 9:
            number += 1
            lines.append(f"{number:03d}  BL       V     C        {code(0)} {code(24)} {code(at)} {code(at + 24)} ")
            at += 24
        lines.append("")
    return "\r\n".join(lines) + "\r\n"


def through_ffmpeg(cube: Path, signal: np.ndarray) -> np.ndarray:
    """(n, 3) signal through FFmpeg's lut3d, tetrahedral, in floats; ``n`` a multiple of 512.

    Rows of a width that 8 does not divide come out wrong at their beginning where FFmpeg 9.0.2 uses the processor's
    vector units (right with ``-cpuflags 0``, measured): rows are 64 here, each a multiple of 8 wide.
    """
    import imageio_ffmpeg

    assert len(signal) % 512 == 0
    planes = np.ascontiguousarray(signal.reshape(64, -1, 3)[..., [1, 2, 0]].transpose(2, 0, 1))  # G, B, R
    size = f"{planes.shape[2]}x64"
    raw = ["-f", "rawvideo", "-pix_fmt", "gbrpf32le"]
    filtered = ["-vf", f"lut3d=file={cube.name}:interp=tetrahedral"]
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-nostdin", *raw, "-s", size, "-i", "-", *filtered]
    done = subprocess.run(
        [*command, *raw, "-"], input=planes.astype("<f4").tobytes(), capture_output=True, cwd=cube.parent, timeout=60
    )
    assert done.returncode == 0, done.stderr.decode()
    found = np.frombuffer(done.stdout, "<f4").reshape(planes.shape)
    return found.transpose(1, 2, 0)[..., [2, 0, 1]].reshape(-1, 3).astype(np.float64)
