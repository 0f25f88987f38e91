"""Does a frame of a clip look like what it is said to be? As for stills, with an eye on its range."""

from __future__ import annotations

import numpy as np

from lookwright.colour.spaces.signal import Signal
from lookwright.pictures.clips.colour import WEIGHTS
from lookwright.pictures.clips.read import Clip
from lookwright.pictures.stills.picture import Float32

from .plausible import Finding, findings


def clip_findings(kept: Float32, clip: Clip, signal: Signal) -> list[Finding]:
    """What speaks against a declared encoding or range.

    Parameters
    ----------
    kept
        (H, W, 3) R'G'B' of a frame with levels ``keep``: codes / (2^n - 1) as they stand in the clip.
    clip
        The clip, for its matrix.
    signal
        What it is said to carry, in the range in which ``kept`` is to be read.

    Notes
    -----
    Range is judged on luma too: chroma of half size swings beyond black and white at hard edges, which would look
    like codes in use there, while luma of legal range stays within its ends.
    """
    found = findings(kept, signal)
    ranges = ("legal range", "full range")
    if not clip.rgb and not any(f.reads_like in ranges for f in found):
        red, blue = WEIGHTS[clip.matrix]
        luma = np.asarray(kept, np.float64) @ np.array([red, 1.0 - red - blue, blue])
        found += [f for f in findings(np.repeat(luma[..., None], 3, axis=2), signal) if f.reads_like in ranges]
    return found
