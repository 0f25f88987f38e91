"""The text of a .cube file, parsed tolerantly and with the line of every fault.

A parser of our own, because a library's may try other formats when its own fails and load a broken file,
let NaN through, or not say where the fault is (OpenColorIO 2.6, colour-science 0.4.7; measured).
"""

from __future__ import annotations

import io
import math
import re
from dataclasses import dataclass, field

import numpy as np

from lookwright.arrays import Array
from lookwright.errors import LutFileError, nearest
from lookwright.lut.lattices.lattice import FLOAT32_MAX, LARGEST, LONGEST, SMALLEST, Curves, Lattice, Tables, Triple

LONGEST_LINE_READ = 65536
"""Bytes a line to be read may have, so that a file of one endless line is not split into memory."""

ZERO: Triple = (0.0, 0.0, 0.0)
ONE: Triple = (1.0, 1.0, 1.0)


@dataclass(frozen=True, eq=False)
class CubeFile(Tables):
    """What a .cube file holds."""

    title: str = ""
    comments: list[str] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)


def parse_cube(text: str | bytes, where: str = "cube text") -> CubeFile:
    """The text of a .cube file; see :func:`lookwright.lut.formats.cube.read_cube`. ``where`` begins every message."""
    data = text.encode("utf-8", "surrogatepass") if isinstance(text, str) else text
    return _Parser(data, where).file()


def quoted(line: str | bytes) -> str:
    """A line of a file for a message: in quotes, at most 60 characters."""
    text = line.decode("utf-8", "replace") if isinstance(line, bytes) else line
    text = text.strip()
    return repr(text) if len(text) <= 60 else repr(text[:57]) + "..."


_KEYWORDS = {
    "TITLE": -1,
    "LUT_1D_SIZE": 1,
    "LUT_3D_SIZE": 1,
    "DOMAIN_MIN": 3,
    "DOMAIN_MAX": 3,
    "LUT_1D_INPUT_RANGE": 2,
    "LUT_3D_INPUT_RANGE": 2,
}
"""Keyword to the number of values that follow it."""

_NUMBER_START = frozenset(bytes([c]) for c in b"+-.0123456789")
_NOT_FINITE = re.compile(rb"[+-]?(nan|inf(inity)?)", re.IGNORECASE)


class _Parser:
    """One pass over the bytes: header lines, then the table."""

    def __init__(self, data: bytes, where: str) -> None:
        self.where = where
        self.title = ""
        self.comments: list[str] = []
        self.warnings: list[str] = []
        self.sizes: dict[int, int] = {}  # dimensions to points
        self.ranges: dict[str, tuple[int, list[float]]] = {}  # keyword to line and values
        self.data = self._clean(data)

    def fail(self, line: int, got: str, expected: str = "", hint: str = "") -> LutFileError:
        return LutFileError(f"{self.where}, line {line}", got, expected, hint)

    def _clean(self, data: bytes) -> bytes:
        if data.startswith((b"\xff\xfe", b"\xfe\xff")):
            raise LutFileError(self.where, "UTF-16 text", "ASCII or UTF-8 text", "save it as plain text")
        if data.startswith(b"\xef\xbb\xbf"):
            self.warnings.append("line 1: begins with a byte-order mark; other readers refuse this file")
            data = data[3:]
        if not data.strip():
            raise LutFileError(self.where, "the file is empty", "a .cube LUT")
        if b"\0" in data:
            raise LutFileError(self.where, "this is not text", "a .cube LUT")
        if b"\r" in data:
            data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        return data

    def file(self) -> CubeFile:
        start, number = self._header()
        rows = self._rows()
        if rows == 0:
            raise LutFileError(self.where, "there is no LUT_3D_SIZE or LUT_1D_SIZE line and no table", "a .cube LUT")
        table = _fast_table(self.data[start:], rows)
        if table is None:
            table = self._slow_table(start, number, rows)
        n1, n3 = self.sizes.get(1, 0), self.sizes.get(3, 0)
        domains = self._domains()
        curves = lattice = None
        common = {"title": self.title, "comments": tuple(self.comments)}
        if n1:
            curves = Curves(table[:n1], *domains[1], **common)  # type: ignore[arg-type]
        if n3:
            # The file runs blue, green, red from slow to fast; the lattice is indexed [r, g, b].
            values = table[n1:].reshape(n3, n3, n3, 3).transpose(2, 1, 0, 3)
            lattice = Lattice(values, *domains[3], **common)  # type: ignore[arg-type]
        return CubeFile(lattice, curves, self.title, self.comments, self.warnings)

    def _rows(self) -> int:
        return self.sizes.get(1, 0) + self.sizes.get(3, 0) ** 3

    # -- header

    def _header(self) -> tuple[int, int]:
        """Offset and line number of the first table row (or of the end)."""
        start, number = 0, 1
        while start < len(self.data):
            end = self.data.find(b"\n", start)
            end = len(self.data) if end < 0 else end
            raw = self.data[start : min(end, start + LONGEST_LINE_READ + 1)]
            line = self._checked(raw, number)
            if line.startswith(b"#"):
                self._comment(raw)
            elif line:
                if line[:1] in _NUMBER_START or _NOT_FINITE.fullmatch(line.split()[0]):
                    if not self._rows():
                        raise self.fail(
                            number,
                            "a table row before any size",
                            "LUT_3D_SIZE or LUT_1D_SIZE first",
                        )
                    return start, number
                self._keyword(line, number)
            start, number = end + 1, number + 1
        return len(self.data), number

    def _checked(self, raw: bytes, number: int) -> bytes:
        if len(raw) > LONGEST_LINE_READ:
            raise self.fail(number, f"the line is longer than {LONGEST_LINE_READ} bytes", "a .cube LUT")
        return raw.strip()

    def _comment(self, raw: bytes) -> None:
        body = raw.lstrip()[1:].removesuffix(b"\n")
        self.comments.append(_decoded(body.removeprefix(b" ")))

    def _keyword(self, line: bytes, number: int, after_table: bool = False) -> None:
        tokens = line.split()
        found = _decoded(tokens[0])
        keyword = found.upper()
        if keyword not in _KEYWORDS:
            # A file of another kind, which a look from elsewhere may name, is not quoted: it may be private.
            known = self._rows() or nearest(found[:40], _KEYWORDS)
            got = f"unknown keyword in {quoted(line)}" if known else "no keyword and no number"
            raise self.fail(number, got, "a keyword of the .cube format, '#' or numbers")
        if after_table and keyword != "TITLE":
            raise self.fail(number, f"{keyword} after the table began", "it before the table")
        if found != keyword:
            self.warnings.append(f"line {number}: {found} is not in capitals; other readers may refuse it")
        if keyword == "TITLE":
            self._title(_decoded(line[len(found) :].strip()), number)
            return
        count = _KEYWORDS[keyword]
        if len(tokens) - 1 != count:
            raise self.fail(
                number,
                f"{keyword} with {len(tokens) - 1} values: {quoted(line)}",
                f"{count} value{'s' if count > 1 else ''}",
            )
        if keyword.endswith("SIZE"):
            self._size(keyword, tokens[1], number)
            return
        if keyword in self.ranges:
            raise self.fail(number, f"a second {keyword}: {quoted(line)}", "one")
        self.ranges[keyword] = (number, [self._number(t, line, number) for t in tokens[1:]])

    def _title(self, text: str, number: int) -> None:
        if len(text) >= 2 and text[0] == text[-1] == '"':
            text = text[1:-1]
        else:
            self.warnings.append(f"line {number}: the title is not in double quotes")
        self.title = text

    def _size(self, keyword: str, token: bytes, number: int) -> None:
        dimensions = 3 if "3D" in keyword else 1
        most = LARGEST if dimensions == 3 else LONGEST
        text = _decoded(token)
        if dimensions in self.sizes:
            raise self.fail(number, f"a second {keyword}: {text[:20]!r}", "one")
        if not re.fullmatch("[0-9]{1,9}", text) or not SMALLEST <= int(text) <= most:
            raise self.fail(number, f"{keyword} {text[:20]}", f"a whole number from {SMALLEST} to {most}")
        self.sizes[dimensions] = int(text)

    def _number(self, token: bytes, line: bytes, number: int) -> float:
        try:
            value = float(token)
        except ValueError:
            value = None
        if value is None or b"_" in token:
            raise self.fail(number, f"{quoted(token)} in {quoted(line)}", "a decimal number")
        if not abs(value) <= FLOAT32_MAX:
            raise self.fail(number, f"{quoted(token)} in {quoted(line)}", "finite numbers (within 32-bit float)")
        return value

    # -- input ranges

    def _domains(self) -> dict[int, tuple[Triple, Triple]]:
        """Input range of the 1D and of the 3D table."""
        out: dict[int, tuple[Triple, Triple]] = {}
        stated = self._domain_lines()
        for dimensions in (1, 3):
            keyword = f"LUT_{dimensions}D_INPUT_RANGE"
            out[dimensions] = stated or (ZERO, ONE)
            if keyword not in self.ranges:
                continue
            number, (low, high) = self.ranges[keyword]
            if dimensions not in self.sizes and stated is None and (low, high) != (0.0, 1.0):
                # Which table it means cannot be known, and passing over it would show another picture.
                raise self.fail(number, f"{keyword} without a {dimensions}D table", f"LUT_{dimensions}D_SIZE too")
            if not low < high:
                raise self.fail(number, f"{keyword} runs from {low:g} to {high:g}", "low before high")
            pair = ((low, low, low), (high, high, high))
            if stated and stated != pair and dimensions in self.sizes:
                raise self.fail(number, f"{keyword} contradicts the DOMAIN lines", "one or the other")
            out[dimensions] = pair
        return out

    def _domain_lines(self) -> tuple[Triple, Triple] | None:
        if "DOMAIN_MIN" not in self.ranges and "DOMAIN_MAX" not in self.ranges:
            return None
        first, low = self.ranges.get("DOMAIN_MIN", (0, list(ZERO)))
        second, high = self.ranges.get("DOMAIN_MAX", (0, list(ONE)))
        number = max(first, second)
        for channel, a, b in zip("RGB", low, high, strict=True):
            if not a < b:
                raise self.fail(
                    number,
                    f"the domain of {channel} runs from {a:g} to {b:g}",
                    "DOMAIN_MIN below DOMAIN_MAX in every channel",
                )
        stated: tuple[Triple, Triple] = ((low[0], low[1], low[2]), (high[0], high[1], high[2]))
        if len(self.sizes) == 2 and stated != (ZERO, ONE):
            raise self.fail(
                number,
                "DOMAIN lines beside a 1D and a 3D table do not say which they mean",
                "LUT_1D_INPUT_RANGE and LUT_3D_INPUT_RANGE",
            )
        return stated

    # -- table

    def _slow_table(self, start: int, number: int, rows: int) -> Array:
        """The table line by line: for comments between rows, and to name the line of a fault."""
        values: list[tuple[float, float, float]] = []
        lines = io.BytesIO(self.data)
        lines.seek(start)
        number -= 1
        while raw := lines.readline(LONGEST_LINE_READ + 2):
            number += 1
            line = self._checked(raw.removesuffix(b"\n"), number)
            if not line:
                continue
            if line.startswith(b"#"):
                self._comment(raw)
                continue
            if line[:1] not in _NUMBER_START and not _NOT_FINITE.fullmatch(line.split()[0]):
                self._late_keyword(line, number)
                continue
            values.append(self._row(line, number))
            if len(values) > rows:
                raise self.fail(number, f"row {len(values)}: {quoted(line)}", f"{rows} for {self._stated()}")
        if len(values) < rows:
            raise self.fail(number, f"the table ends after row {len(values)}", f"{rows} for {self._stated()}")
        return np.array(values, dtype=np.float64)

    def _late_keyword(self, line: bytes, number: int) -> None:
        self._keyword(line, number, after_table=True)
        self.warnings.append(f"line {number}: the title comes after the table; others refuse that")

    def _stated(self) -> str:
        return " and ".join(f"LUT_{d}D_SIZE {n}" for d, n in sorted(self.sizes.items()))

    def _row(self, line: bytes, number: int) -> tuple[float, float, float]:
        if b"#" in line:
            raise self.fail(number, f"a comment after the numbers: {quoted(line)}", "comments on lines of their own")
        tokens = line.split()
        if len(tokens) != 3:
            raise self.fail(number, f"{len(tokens)} value{'s'[: len(tokens) > 1]}: {quoted(line)}", "three numbers")
        try:
            r, g, b = map(float, tokens)
        except ValueError:
            r = g = b = math.nan
        if b"_" in line or not (abs(r) <= FLOAT32_MAX and abs(g) <= FLOAT32_MAX and abs(b) <= FLOAT32_MAX):
            r, g, b = (self._number(t, line, number) for t in tokens)
        return r, g, b


def _decoded(text: bytes) -> str:
    try:
        return text.decode("utf-8")
    except UnicodeDecodeError:
        return text.decode("latin-1")


def _fast_table(data: bytes, rows: int) -> Array | None:
    """A table of nothing but ``rows`` lines of three numbers, or None when there is anything else.

    Counts before it converts, so that a wrong file costs no memory; every doubt goes to the slow way.
    """
    if data.translate(None, b"0123456789+-.eE \t\n"):
        return None
    codes = np.frombuffer(data, dtype=np.uint8)
    blank = codes <= 32
    starts = np.flatnonzero(~blank & np.concatenate(([True], blank[:-1])))
    ends = np.append(np.flatnonzero(codes == 10), len(codes))
    counts = np.diff(np.searchsorted(starts, ends), prepend=0)
    if len(starts) != 3 * rows or not np.isin(counts, (0, 3)).all():
        return None
    try:
        values = np.array(list(map(float, data.split())))
    except ValueError:
        return None
    return values.reshape(-1, 3) if (np.abs(values) <= FLOAT32_MAX).all() else None
