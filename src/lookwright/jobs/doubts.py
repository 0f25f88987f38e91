"""One doubt for every command that is given stills: do they look like what the look is fed?

The wrong signal spoils any look without a word. What the codes of a picture can tell stands in
assess/measure/plausible.py, what they cannot in assess/measure/which_log.py.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from lookwright.assess.measure.plausible import Finding, findings, sparse
from lookwright.assess.measure.which_log import alike, named_otherwise
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import LookwrightError
from lookwright.pictures.stills import CodedStill, Still, read_either

MOST = 8
"""Stills looked at, evenly over the list."""
PIXELS = 50_000
"""Pixels looked at of each."""


def doubts_about(still: Still | CodedStill, source: Signal) -> list[Finding]:
    """What in one still, or in its name, speaks against its being what the look is fed."""
    # Of codes no more is made signal than is looked at.
    pixels = still.signal(sparse(still.codes, PIXELS)) if isinstance(still, CodedStill) else still.pixels
    return [*findings(pixels, source, most=PIXELS), *by_name(still.path, source)]


def by_name(path: Path, source: Signal) -> list[Finding]:
    """A doubt where the file's name names another encoding."""
    other = named_otherwise(path.stem, source)
    if not other:
        return []
    same = [n for n in alike(source) if n == other]
    end = "; the picture itself cannot tell these two apart" if same else ""
    sentence = f"its name says {other}, and the look is fed {source.encoding.name}{end}"
    return [Finding(other, "possible", sentence, {})]


class Doubts:
    """Gathered over a few of many stills; called with each still as it is read, from several threads."""

    def __init__(self, paths: Iterable[Path], source: Signal) -> None:
        every = list(paths)
        self._chosen = every[:: max(1, -(-len(every) // MOST))]
        self._source = source
        self.sentences: dict[str, list[str]] = {}
        """By name of the still."""

    def __call__(self, still: Still | CodedStill) -> None:
        """Look at a still if it is one of those chosen."""
        if still.path in self._chosen:
            found = [f.sentence for f in doubts_about(still, self._source)]
            if found:
                self.sentences[still.path.name] = found

    def read(self) -> dict[str, list[str]]:
        """Read those chosen; one that cannot be read is another's fault to tell. Returns the sentences, sorted."""
        for path in self._chosen:
            try:
                self(read_either(path))
            except LookwrightError:
                continue
        return self.sorted()

    def sorted(self) -> dict[str, list[str]]:
        """Sentences by name of the still, in the order of the names."""
        return dict(sorted(self.sentences.items()))
