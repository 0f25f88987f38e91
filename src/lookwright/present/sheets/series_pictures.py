"""The pictures of a series, small: graded as shot and matched, for its contact sheets and its page."""

from __future__ import annotations

import io
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Pixels
from lookwright.colour.spaces.signal import Signal
from lookwright.pictures.stills import profile_for

from .canvas import fitted, to_image
from .layouts import Frame
from .report_html import as_srgb, data_address

WIDTH = 480
"""Pixels of a picture: a row of the page is some 200 high, and twice as many on fine screens."""
QUALITY = 85


@dataclass(frozen=True)
class Seen:
    """One shot as 8-bit pictures (H, W, 3), and as addresses that hold them."""

    shot: str
    before: NDArray[np.uint8]
    after: NDArray[np.uint8]
    before_address: str
    after_address: str

    @property
    def height(self) -> int:
        """In pixels."""
        return self.before.shape[0]

    @property
    def width(self) -> int:
        """In pixels."""
        return self.before.shape[1]


class SeriesPictures:
    """Kept as they come, in the order of the shots."""

    def __init__(self, output: Signal) -> None:
        self._output = output
        self._icc = profile_for(output.encoding.name, output.primaries.name) if output.range == "full" else None
        self.seen: dict[str, Seen] = {}

    def add(self, shot: str, before: Pixels, after: Pixels) -> None:
        """Take output signal (H, W, 3) of one shot, graded as shot, and matched, then graded."""
        one, other = _small(before), _small(after)
        self.seen[shot] = Seen(shot, one, other, self._address(before), self._address(after))

    def _address(self, pixels: Pixels) -> str:
        shown = pixels if self._icc is not None else as_srgb(pixels, self._output)
        stream = io.BytesIO()
        fitted(to_image(shown), WIDTH).save(stream, "JPEG", quality=QUALITY, icc_profile=self._icc)
        return data_address("jpeg", stream.getvalue())

    def frames(self, matched: bool, captions: dict[str, str]) -> list[Frame]:
        """For a contact sheet."""
        found = []
        for s in self.seen.values():
            picture = s.after if matched else s.before
            found.append(Frame(picture.astype(np.float32) / np.float32(255.0), captions.get(s.shot, s.shot)))
        return found


def _small(pixels: Pixels) -> NDArray[np.uint8]:
    return np.asarray(fitted(to_image(pixels), WIDTH))
