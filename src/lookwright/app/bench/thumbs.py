"""Small copies of the stills for the strip: each still is read once, several at a time, and let go again."""

from __future__ import annotations

import threading
from collections import OrderedDict

import numpy as np

from lookwright.pictures.stills import read

from .codes import Codes, codes
from .pictures import Pictures, narrower, smaller

WIDTH = 240
"""Pixels across: the strip on a screen of two pixels for one."""
KEPT = 400
"""Copies held in memory, some 80 MB."""
AT_ONCE = 2
"""Stills read at a time: a large one takes ten times its file in memory while it is decoded."""


class Thumbs:
    """Small source signals by number of the still. Reading one does not push the large stills out of memory."""

    def __init__(self, pictures: Pictures) -> None:
        self._pictures = pictures
        self._kept: OrderedDict[int, Codes] = OrderedDict()
        self._lock, self._turn = threading.Lock(), threading.Semaphore(AT_ONCE)

    def of(self, index: int) -> Codes:
        """(height, width, 3) 16-bit codes; raises :class:`PictureError` for a still that cannot be read."""
        with self._lock:
            if index in self._kept:
                self._kept.move_to_end(index)
                return self._kept[index]
        with self._turn:
            there = self._pictures.held(index)
            still = there if there is not None else read(self._pictures.path(index))
            part = smaller(still.pixels, *narrower(still.width, still.height, WIDTH))
            found = codes(np.clip(part, 0.0, 1.0))
        with self._lock:
            self._kept[index] = found
            while len(self._kept) > KEPT:
                self._kept.popitem(last=False)
        return found
