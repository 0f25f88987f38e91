"""Clips of one sample scene whose exposure and balance are known: takes (see :mod:`takes`), encoded by FFmpeg.

R'G'B' to Y'CbCr is colour-science's, so that nothing of the code under test makes what it is tested on.
"""

from __future__ import annotations

import subprocess
from collections.abc import Sequence
from pathlib import Path

import imageio_ffmpeg
import numpy as np
from takes import Truth, take

from lookwright.colour.spaces.library import colour_library

TONE = "sine=frequency=440:sample_rate=48000"


def frames_of(still: str, truth: Truth, count: int = 12, every: int = 8, seed: int = 1) -> np.ndarray:
    """(count, h, w, 3) ACEScct codes: a take with other noise in every frame."""
    return np.stack([take(still, truth, seed + n, every) for n in range(count)])


def ffmpeg(*arguments: object, data: bytes | None = None) -> None:
    """Run FFmpeg; its own words where it fails."""
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-y", *map(str, arguments)]
    done = subprocess.run(command, input=data, capture_output=True, timeout=120)
    assert done.returncode == 0, done.stderr.decode()


def encode(
    path: Path,
    frames: np.ndarray,
    rate: float = 24.0,
    options: Sequence[object] = (),
    sound: bool = False,
    tags: str = "colorspace=bt709:range=tv",
    bits: int = 10,
) -> Path:
    """R'G'B' code values (n, h, w, 3) into an H.264 clip of legal range, BT.709 matrix, 4:2:0; odd edges left out."""
    height, width = frames.shape[1] // 2 * 2, frames.shape[2] // 2 * 2
    colour = colour_library()
    codes = colour.RGB_to_YCbCr(
        frames[:, :height, :width],
        K=colour.WEIGHTS_YCBCR["ITU-R BT.709"],
        in_legal=False,
        out_bits=10,
        out_legal=True,
        out_int=True,
    )
    planes = np.moveaxis(codes, 3, 1).astype("<u2")
    picture = ["-f", "rawvideo", "-pix_fmt", "yuv444p10le", "-s", f"{width}x{height}", "-r", rate, "-i", "-"]
    heard = ["-f", "lavfi", "-i", f"{TONE}:duration={len(frames) / rate}"] if sound else []
    format_ = "yuv420p10le" if bits == 10 else "yuv420p"
    coded = ["-vf", f"setparams={tags}", "-pix_fmt", format_, "-c:v", "libx264", "-crf", 6, "-preset", "veryfast"]
    track = ["-c:a", "pcm_s16le" if path.suffix == ".mov" else "aac"] if sound else []
    ffmpeg(*picture, *heard, *coded, *track, *options, path, data=planes.tobytes())
    return path
