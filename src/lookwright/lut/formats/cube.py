"""The .cube text format: one strict writer and one tolerant reader.

Source: Cube LUT Specification 1.0, as readers in use apply it. The writer keeps to what OpenColorIO 2.6,
colour-science 0.4.7 and FFmpeg 5 and 9 all read alike (measured): upper-case keywords in the first column,
comments before the size line, no DOMAIN lines for 0..1, never a 1D and a 3D table together. The reader
takes more than it writes, names the line of every fault, and lists what it had to tolerate.
"""

from __future__ import annotations

import os
import unicodedata
from collections.abc import Sequence
from pathlib import Path

from lookwright.arrays import Array
from lookwright.errors import LutFileError
from lookwright.files import write_bytes
from lookwright.lut.lattices.lattice import Lattice
from lookwright.reading import read_bytes

from .cube_parser import CubeFile, parse_cube, quoted

__all__ = ["CubeFile", "ascii_text", "cube_text", "parse_cube", "read_cube", "write_cube"]

LONGEST_LINE = 250
"""Bytes a written line may have; FFmpeg reads into a buffer of 512 (measured)."""

LARGEST_FILE = 200_000_000
"""Bytes a file to be read may have: a 129-point lattice with nine digits is about 90 MB."""


def ascii_text(text: str) -> str:
    """``text`` on one line of printable ASCII: accents dropped, white space made blanks, the rest ``?``.

    Readers differ about anything but ASCII in a .cube header.
    """
    folded = unicodedata.normalize("NFKD", text)
    kept = (c for c in folded if not unicodedata.combining(c))
    return "".join(c if " " <= c <= "~" else " " if c.isspace() else "?" for c in kept)


def cube_text(
    lattice: Lattice,
    title: str | None = None,
    comments: Sequence[str] | None = None,
    digits: int = 6,
    significant: bool = False,
    allow_domain: bool = False,
) -> str:
    """The whole text of a .cube file.

    Parameters
    ----------
    lattice
        The 3D LUT; red varies fastest in the file.
    title
        The title (folded to ASCII); the lattice's own when None. No TITLE line when empty.
    comments
        Lines of at most 248 characters for the header, without ``#`` (folded to ASCII); the lattice's own
        when None.
    digits
        Decimals (1..12). Six err by at most 5e-7, enough for display or log output.
    significant
        Count ``digits`` as significant digits instead: ``digits=9, significant=True`` keeps every 32-bit
        value exactly, for linear light that goes far below 1e-6.
    allow_domain
        Permit an input range other than 0..1 (DOMAIN lines, which FFmpeg misreads); refused otherwise.

    Returns
    -------
    ASCII text with LF line ends; no ``-0``. The same for the same input, in every locale.

    Raises
    ------
    LutFileError
        For a comment that is too long or has a line break, or a domain other than 0..1.
    """
    # Readers differ about double quotes within the title.
    title = ascii_text(lattice.title if title is None else title).replace('"', "'")
    comments = lattice.comments if comments is None else comments
    head = [f'TITLE "{title}"'] if title else []
    for number, comment in enumerate(comments, 1):
        if "\n" in comment or "\r" in comment:
            raise LutFileError("cube header", f"comment {number} has a line break", "one line each")
        head.append("# " + ascii_text(comment) if comment else "#")
    head.append(f"LUT_3D_SIZE {lattice.size}")
    if not lattice.unit_domain:
        if not allow_domain:
            raise LutFileError(
                "cube header",
                f"the input range is {lattice.domain_min} to {lattice.domain_max}",
                "0 to 1 in a .cube file, because readers disagree about any other",
                "use CLF with a shaper",
            )
        # After the size line, where FFmpeg at least takes DOMAIN_MAX.
        head.append("DOMAIN_MIN {:.9g} {:.9g} {:.9g}".format(*lattice.domain_min))
        head.append("DOMAIN_MAX {:.9g} {:.9g} {:.9g}".format(*lattice.domain_max))
    for line in head:
        if len(line) > LONGEST_LINE:
            raise LutFileError("cube header", f"a line of {len(line)} bytes: {quoted(line)}", f"at most {LONGEST_LINE}")
    return "\n".join(head) + "\n" + _table_text(lattice.table, digits, significant)


def write_cube(
    path: str | os.PathLike[str],
    lattice: Lattice,
    title: str | None = None,
    comments: Sequence[str] | None = None,
    digits: int = 6,
    significant: bool = False,
    allow_domain: bool = False,
) -> None:
    """Write :func:`cube_text` to ``path``, whole or not at all.

    Raises
    ------
    LutFileError
        As :func:`cube_text`, and for a name that does not end in ``.cube`` (readers choose by the name).
    OutputError
        When the file cannot be written.
    """
    if Path(path).suffix.lower() != ".cube":
        raise LutFileError(str(path), "the name does not end in .cube", hint="readers go by the ending")
    text = cube_text(lattice, title, comments, digits, significant, allow_domain)
    write_bytes(path, text.encode("ascii"))


def _table_text(table: Array, digits: int, significant: bool) -> str:
    if not 1 <= digits <= 12:
        raise LutFileError("cube table", f"{digits} digits", "1 to 12")
    form = f"%.{digits}{'g' if significant else 'f'}"
    # Red fastest: blue is the slowest axis of the file. Adding 0.0 turns -0.0 into 0.0.
    rows = table.transpose(2, 1, 0, 3).reshape(len(table), -1) + 0.0
    # Python's % formats correctly rounded and without regard to the locale; one format for a whole slab
    # of the lattice is the fastest way to it.
    slab = f"{form} {form} {form}\n" * len(table) ** 2
    text = "".join([slab % tuple(row.tolist()) for row in rows])
    # Small negative values round to "-0.000000". With fixed decimals no longer number can begin so.
    return text if significant else text.replace(form % -0.0, form % 0.0)


def read_cube(path: str | os.PathLike[str]) -> CubeFile:
    """Read a .cube file of any origin.

    Taken with a warning: a UTF-8 byte-order mark, lower-case keywords, a title without quotes or after the
    table. Taken as they are: CR LF, blanks and tabs, comments on lines of their own anywhere,
    ``LUT_3D_INPUT_RANGE`` and ``LUT_1D_INPUT_RANGE``, a 1D and a 3D table in one file (curves, then cube).

    Parameters
    ----------
    path
        A regular file of at most 200 MB.

    Returns
    -------
    The tables as float64, exactly the numbers of the text.

    Raises
    ------
    LutFileError
        One line that names the file, the line number and its text.
    """
    where = str(path)
    data = read_bytes(path, LARGEST_FILE, "a .cube file", LutFileError)
    return parse_cube(data, where)
