"""A still made small, as it is seen and as the light it stands for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lookwright.arrays import Pixels
from lookwright.assess.breakdown.frame import Frame, frame_of, smaller
from lookwright.assess.measure.levels import display_light, scene_light
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import WrongUse
from lookwright.look.baking.ungrade import ungraded
from lookwright.look.baking.viewing import View

ESTIMATED = (
    "A finished frame holds light and grade together. Levels are as they stand; light is estimated by undoing the "
    "plain rendering, so check it with a meter, or name the look with --look."
)
GRADE_OFF = "The grade was taken off first: light is what the look must have been fed."


@dataclass(frozen=True)
class Seen:
    """The small frame, and what its figures stand for."""

    frame: Frame
    notes: tuple[str, ...]


def seen(pixels: Pixels, signal: Signal, view: View | None) -> Seen:
    """A still of ``signal``, through ``view`` where it is the look's source, with the look taken off where it is its
    output.

    Raises :class:`WrongUse` where it is neither, :class:`PictureError` for one too small.
    """
    small = smaller(pixels)
    if signal.kind == "scene":
        scene, _ = scene_light(small, signal)
        if view is not None:
            return Seen(frame_of(view.graded(small), view.output, scene, False), ())
        shown = Signal.named("BT.1886")
        picture = np.asarray(shown.from_light(display_light(small, signal)), np.float32)
        note = "Levels are those of the plain rendering; light is decoded from the log signal."
        return Seen(frame_of(picture, shown, scene, False), (note,))
    if view is None:
        scene, _ = scene_light(small, signal)
        return Seen(frame_of(small, signal, scene, True), (ESTIMATED,))
    if view.output.describe() != signal.describe():
        raise WrongUse(f"the look gives {view.output.describe()}, and the frames are {signal.describe()}")
    source, lost = ungraded(small, view)
    notes = [GRADE_OFF]
    if lost > 0.02:
        notes.append(f"{100 * lost:.0f} % of the frame are colours that this look does not give.")
    return Seen(frame_of(small, signal, view.pipeline.source.to_scene(source), True), tuple(notes))
