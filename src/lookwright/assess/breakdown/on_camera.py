"""What a zone must read on a camera, and on a monitor that shows it through the look."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.luma import luma_percent
from lookwright.colour.plain import plain_light
from lookwright.colour.spaces.signal import Signal

from .breakdown import Zone

CODES = 1023
"""Code values are told at 10 bits, as waveforms and cameras tell them."""


@dataclass(frozen=True)
class OnCamera:
    """One zone."""

    code: int
    """Luma of the camera signal at 10 bits, in its own range."""
    log: float
    """The same in percent of its nominal range."""
    monitor: float
    """Percent of the picture's signal, through the look or the plain rendering."""


def on_camera(zone: Zone, camera: Signal, graded: Callable[[Array], Array] | None, shown: Signal) -> OnCamera:
    """``graded`` takes camera signal (1, 1, 3) to the signal ``shown``; None: the plain rendering."""
    signal = np.clip(camera.from_scene(np.asarray(zone.scene)), 0.0, 1.0)[None, None]
    if graded is None:
        picture = shown.from_light(np.clip(plain_light(camera.to_scene(signal), shown), 0.0, None))
    else:
        picture = graded(signal)
    log = float(luma_percent(signal, camera)[0, 0])
    code = float(luma_percent(signal, Signal(camera.encoding, camera.primaries))[0, 0]) / 100.0 * CODES
    return OnCamera(round(code), log, float(luma_percent(picture, shown)[0, 0]))
