"""Stills with their marks, decoded a few ahead."""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from lookwright.colour.spaces.signal import Signal
from lookwright.errors import PictureError
from lookwright.pictures.stills import CodedStill, Mark, Still, marks_for, read, read_either, read_marks

from .found import found_marks
from .given import MARKS

AHEAD = 3
"""Stills decoded ahead: of 4K some 100 MB each."""

Table = dict[str, list[Mark]]


class Marks:
    """The marks of stills, each file read once: the one named, or the one beside each still, where there is one."""

    def __init__(self, file: Path | None) -> None:
        self._file = file
        self._tables: dict[Path, Table] = {}

    def table(self, path: Path) -> Table:
        """All marks of the file that tells of this still; raises :class:`MarksError` for one that cannot be used."""
        file = self._file if self._file is not None else path.parent / MARKS
        if file not in self._tables:
            self._tables[file] = read_marks(file) if self._file is not None or file.is_file() else {}
        return self._tables[file]

    def of(self, path: Path) -> list[Mark]:
        """The marks of one still."""
        return marks_for(self.table(path), path)


def marked_stills(
    paths: Sequence[Path],
    marks: Path | None,
    faults: list[PictureError] | None = None,
    signal: Signal | None = None,
    coded: bool = False,
) -> Iterator[tuple[Still | CodedStill, list[Mark]]]:
    """Each still with its marks, in order; decoding begins at once, a few ahead.

    With ``faults`` one that cannot be read is put there and the rest are done; without, it is raised. With ``signal``,
    what the stills are, one without marks gets those found on faces. ``coded`` leaves the codes of those that have such
    as they are: for whoever looks at a few pixels of each.
    """
    # Decoding begins now, beside whatever is done before the first still is asked for.
    return _Marked(paths, Marks(marks), faults, signal, read_either if coded else read)


Reading = Callable[[Path], Still | CodedStill]


class Coming:
    """Stills being decoded side by side, a few ahead of the one in use; never more than these are held."""

    def __init__(self, paths: Sequence[Path], reading: Reading) -> None:
        self._reading = reading
        ahead = min(os.cpu_count() or 1, AHEAD)
        self._pool = ThreadPoolExecutor(ahead)
        self._left = deque(paths)
        self._begun = deque(self._pool.submit(reading, self._left.popleft()) for _ in range(min(ahead, len(paths))))

    def next(self) -> Still | CodedStill:
        """The next in order; raises what reading it raised."""
        first = self._begun.popleft()
        if self._left:
            self._begun.append(self._pool.submit(self._reading, self._left.popleft()))
        return first.result()

    def close(self) -> None:
        """Decode no more."""
        self._pool.shutdown(cancel_futures=True)


class _Marked(Iterator[tuple[Still | CodedStill, list[Mark]]]):
    """The stills that can be read, each with its marks. Not a generator: one that was never begun closes nothing."""

    def __init__(
        self,
        paths: Sequence[Path],
        known: Marks,
        faults: list[PictureError] | None,
        signal: Signal | None,
        reading: Reading,
    ) -> None:
        self._coming, self._left, self._known = Coming(paths, reading), deque(paths), known
        self._faults, self._signal = faults, signal

    def __next__(self) -> tuple[Still | CodedStill, list[Mark]]:
        while self._left:
            path = self._left.popleft()
            try:
                still = self._coming.next()
            except PictureError as fault:
                if self._faults is None:
                    raise
                self._faults.append(fault)
                continue
            drawn = self._known.of(path)
            return still, drawn or ([] if self._signal is None else found_marks(still, self._signal))
        self.close()
        raise StopIteration

    def close(self) -> None:
        """Decode no more."""
        self._coming.close()
