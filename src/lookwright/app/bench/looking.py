"""What the page asks of pixels: their way through the steps, where a step acts, what warns, what a finding means."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.assess.restraint.report import Where
from lookwright.assess.restraint.subject import Subject, subject_of_look
from lookwright.errors import LookwrightError
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.staged import Superseded, never
from lookwright.present.sheets.masks import near

from . import acting, variants, warned
from .pictures import Bytes, Pictures, Region
from .session import Session
from .shown import shown_look
from .spoken_way import spoken_way

PIECE = 16384
"""Pixels in one piece of work."""
AT_STILLS = {"still_clipped": warned.CLIPPED, "still_crushed": warned.CRUSHED}
"""Findings that are about pixels of stills, and the warning that shows the same."""


class Looking:
    """Questions about pixels of the stills, answered by the library on the look as it stands."""

    def __init__(self, session: Session, pictures: Pictures, pool: ThreadPoolExecutor) -> None:
        self._session, self._pictures, self._pool = session, pictures, pool
        self._lock = threading.Lock()
        self._known: tuple[int, Subject, warned.Warned] | None = None
        self._where: dict[str, Where] = {}

    # -- looks beside the look ----------------------------------------------------------------------------------------

    def variant(self, kind: str, step: int) -> Look:
        """The look ``upto`` a step, ``without`` it (up to there), or that step ``alone``."""
        look, index = self._session.placed(step)
        made = {"upto": variants.up_to, "without": variants.without, "alone": variants.only}
        return made[kind](look, index)

    # -- one pixel ----------------------------------------------------------------------------------------------------

    def way(self, still: int, x: float, y: float) -> dict[str, Any]:
        """The way of the pixel at a fraction of the still through the steps, in words and numbers."""
        picture = self._pictures.still(still)
        column = min(picture.width - 1, int(x * picture.width))
        row = min(picture.height - 1, int(y * picture.height))
        code = np.clip(picture.pixels[row, column].astype(np.float64), 0.0, 1.0)
        return {"x": column, "y": row, **spoken_way(self._session.look, code)}

    # -- masks --------------------------------------------------------------------------------------------------------

    def warnings(self, still: int, region: Region, superseded: Callable[[], bool] = never) -> Bytes:
        """(height, width) bits of :mod:`.warned`."""
        return self._masked(still, region, self._judged()[1], superseded)

    def change(self, still: int, region: Region, step: int, superseded: Callable[[], bool] = never) -> Bytes:
        """(height, width) 0 to 4: how far a step moves each pixel where it stands."""
        now, old = (self.variant(kind, step) for kind in ("upto", "without"))
        after, before = (shown_look(v)[0] for v in (now, old))
        signal = after.output.signal()

        def work(code: Array) -> NDArray[np.uint8]:
            light = [signal.to_light(self._pictures.signal(look, code)) for look in (before, after)]
            return acting.stepped(acting.moved(*light)).astype(np.uint8)

        return self._masked(still, region, work, superseded)

    def held(self, still: int, region: Region, step: int, what: str, superseded: Callable[[], bool] = never) -> Bytes:
        """(height, width) 0 to 255: how much of a band's effect, or of a hold, each pixel feels."""
        look, index = self._session.placed(step)

        def work(code: Array) -> NDArray[np.uint8]:
            return np.rint(255.0 * acting.held_by(look, index, what, code)).astype(np.uint8)

        return self._masked(still, region, work, superseded)

    # -- findings -----------------------------------------------------------------------------------------------------

    def keep_places(self, where: dict[str, dict[str, Any]]) -> None:
        """What a check said of where its findings lie in colour."""
        found = {n: Where(np.array(w["scene"], np.float64), np.array(w["harmful"], bool)) for n, w in where.items()}
        with self._lock:
            self._where = found

    def finding(self, still: int, region: Region, measure: str, superseded: Callable[[], bool] = never) -> Bytes:
        """(height, width) 1 where a pixel is meant by a finding.

        Raises :class:`LookwrightError` for one that has no place in the picture.
        """
        subject, warn = self._judged()
        if measure in AT_STILLS:
            bit = AT_STILLS[measure]
            bits = self._masked(still, region, warn, superseded)
            return ((bits & bit) > 0).astype(np.uint8)
        with self._lock:
            where = self._where.get(measure)
        if where is None:
            raise LookwrightError("finding", "it is about tones or noise as such, not about colours of the picture")

        def work(code: Array) -> NDArray[np.uint8]:
            lab = subject.oklab(subject.plain(code))
            return near(lab[None], where, subject)[0].astype(np.uint8)

        return self._masked(still, region, work, superseded)

    # -- inside -------------------------------------------------------------------------------------------------------

    def _judged(self) -> tuple[Subject, warned.Warned]:
        """The look as it stands, to be judged; remembered until it is another."""
        look, _, (_, looks), *_ = self._session.snapshot()
        with self._lock:
            if self._known is None or self._known[0] != looks:
                subject = subject_of_look(look)
                self._known = looks, subject, warned.Warned(subject, shown_look(look)[0])
            return self._known[1], self._known[2]

    def _masked(
        self, still: int, region: Region, work: Callable[[Array], NDArray[np.uint8]], superseded: Callable[[], bool]
    ) -> Bytes:
        view = self._pictures.view(still, region)
        flat = view.reshape(-1, 3).astype(np.float64)

        def piece(code: Array) -> NDArray[np.uint8]:
            if superseded():
                raise Superseded
            return work(code)

        pieces = np.array_split(flat, max(1, -(-len(flat) // PIECE)))
        return np.concatenate(list(self._pool.map(piece, pieces))).reshape(view.shape[:2])
