"""The one family of errors a user sees: what, where, what to do, on one line.

The core raises these and never prints; the command line prints the line and
exits with ``exit_code``. This module imports nothing, so that ``--help`` may.
"""

from __future__ import annotations

from collections.abc import Iterable


class LookwrightError(Exception):
    """A fault the user can mend.

    Parameters
    ----------
    where
        The place: a file (with line), a recipe key such as ``step 3 'split', pull``, an option.
    got
        What was found there.
    expected
        What would have been right (bounds and unit where there are any); may be empty.
    hint
        What to do next; may be empty.
    """

    exit_code = 2

    def __init__(self, where: str, got: str, expected: str = "", hint: str = "") -> None:
        self.where, self.got, self.expected, self.hint = where, got, expected, hint
        super().__init__(self.line())

    def line(self) -> str:
        """The whole message on one line, safe for a terminal."""
        text = f"{self.where}: {self.got}" if self.where else self.got
        if self.expected:
            text += f"; expected {self.expected}"
        if self.hint:
            text += f"; {self.hint}"
        return printable(text)


def printable(text: str) -> str:
    """One line that a terminal shows as it is: the way of every text from a file, or of a file's name, to it.

    Control characters, which move the cursor or colour the screen, those that turn the direction of writing, other
    invisible ones, and bytes that are no text are replaced by a space.
    """
    return "".join(c if c.isprintable() else " " for c in text)


class RecipeError(LookwrightError):
    """A look file that cannot be used; several faults are reported together."""


class RecipeErrors(RecipeError):
    """All faults of one recipe at once; ``str()`` is one line per fault."""

    def __init__(self, faults: Iterable[LookwrightError]) -> None:
        self.faults = list(faults)
        first = self.faults[0]
        super().__init__(first.where, first.got, first.expected, first.hint)
        self.args = ("\n".join(f.line() for f in self.faults),)


class WrongUse(LookwrightError):
    """Arguments that do not go together; told in one sentence."""

    def __init__(self, sentence: str) -> None:
        super().__init__("", sentence)


class NameLookupError(LookwrightError):
    """A name (encoding, primaries, step, parameter) that is not known."""


class PictureError(LookwrightError):
    """A picture that cannot be read or written as asked."""


class LutFileError(LookwrightError):
    """A LUT file that cannot be read or written as asked."""


class OutputError(LookwrightError):
    """A target that cannot be written (folder, permission, full disk)."""


class TimelineError(LookwrightError):
    """A timeline that cannot be read or written as asked, or media that it names and nobody has."""


class MarksError(LookwrightError):
    """A marks file or a ``--mark`` option that cannot be used."""


CLEARLY = 0.2
"""How much less alike than the nearest a name may be, of 1, and still be offered beside it (our choice)."""


def nearest(name: str, known: Iterable[str], most: int = 3) -> list[str]:
    """Names of ``known`` closest to ``name``, best first, ignoring case, spaces and punctuation."""
    import difflib

    def fold(s: str) -> str:
        return "".join(c for c in s.casefold() if c.isalnum())

    folded: dict[str, str] = {}
    for k in known:
        folded.setdefault(fold(k), k)
    wanted = fold(name)
    close = difflib.get_close_matches(wanted, list(folded), n=most, cutoff=0.5)
    # One that is much nearer than the rest is what was meant.
    likeness = {c: difflib.SequenceMatcher(None, c, wanted).ratio() for c in close}
    return [folded[c] for c in close if likeness[c] > max(likeness.values()) - CLEARLY]


def did_you_mean(name: str, known: Iterable[str]) -> str:
    """A hint such as ``did you mean 'pivot'?``, or the whole short list when nothing is close."""
    known = list(known)
    close = nearest(name, known)
    if close:
        return "did you mean " + " or ".join(repr(c) for c in close) + "?"
    return "known: " + ", ".join(known) if len(known) <= 24 else ""
