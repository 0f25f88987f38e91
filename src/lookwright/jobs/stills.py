"""Stills with their marks, read one after the other."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from lookwright.colour.spaces.signal import Signal
from lookwright.errors import PictureError
from lookwright.pictures.stills import Mark, Still, marks_for, read, read_marks

from .found import found_marks
from .given import MARKS

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
) -> Iterator[tuple[Still, list[Mark]]]:
    """Each still with its marks, read when its turn comes.

    With ``faults`` one that cannot be read is put there and the rest are done; without, it is raised. With ``signal``,
    what the stills are, one without marks gets those found on faces.
    """
    known = Marks(marks)
    # One still is decoded while the one before it is used; never more than two are held.
    with ThreadPoolExecutor(1) as pool:
        coming = [pool.submit(read, path) for path in paths[:1]]
        for i, path in enumerate(paths):
            reading = coming.pop()
            coming = [pool.submit(read, following) for following in paths[i + 1 : i + 2]]
            try:
                still = reading.result()
            except PictureError as fault:
                if faults is None:
                    raise
                faults.append(fault)
                continue
            drawn = known.of(path)
            yield still, drawn or ([] if signal is None else found_marks(still, signal))
