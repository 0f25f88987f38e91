"""The Common LUT Format: one strict writer, and a reader that lets OpenColorIO do the processing.

Source: Academy/ASC S-2014-006, CLF 3.0 (SMPTE ST 2136-1). The writer keeps to the form that OpenColorIO 2.6 and
colour-clf-io 0.2 both load (measured): namespace ``urn:AMPAS:CLF:v3.0``, 32-bit float depths, interpolation stated.
Unlike a .cube, a CLF may hold a curve before the lattice (a shaper), and its table runs blue fastest.
"""

from __future__ import annotations

import os
import tempfile
import uuid
from collections.abc import Sequence
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np

from lookwright.arrays import Array
from lookwright.errors import LutFileError
from lookwright.files import write_bytes
from lookwright.lut.lattices.lattice import LARGEST, Curves, Lattice
from lookwright.lut.lattices.processor import lossless_processor, through_processor
from lookwright.reading import read_bytes
from lookwright.version import __version__

from .cube import ascii_text
from .embed import extract
from .safe_xml import escape, local, namespace, parse, quoteattr

XMLNS = "urn:AMPAS:CLF:v3.0"
_SMPTE = "http://www.smpte-ra.org/ns/2136-1/2024"

LONGEST_CURVE = 1 << 20
"""Entries of a LUT1D, as many as OpenColorIO takes; CLF itself sets no limit."""

LARGEST_FILE = 200_000_000
"""Bytes a file to be read may have; as for .cube."""

NODES = ("LUT1D", "LUT3D", "Matrix", "Range", "Log", "Exponent", "ASC_CDL")
"""The process nodes of CLF 3.0."""

_WITH_ARRAY = ("LUT1D", "LUT3D", "Matrix")
_WITHIN = {
    "LUT1D": ("Array",),
    "LUT3D": ("Array",),
    "Matrix": ("Array",),
    "Range": ("minInValue", "maxInValue", "minOutValue", "maxOutValue"),
    "Log": ("LogParams",),
    "Exponent": ("ExponentParams",),
    "ASC_CDL": ("SOPNode", "SatNode", "SATNode"),
}
"""What a node may hold beside its Description. OpenColorIO passes over the rest with a warning, and shows another
picture than the file's author meant."""

_TEXT = ("Id", "Description", "InputDescriptor", "OutputDescriptor", "Info")
_DEPTHS = ("8i", "10i", "12i", "16i", "16f", "32f")
_KIND = uuid.UUID("6ba7b812-9dad-11d1-80b4-00c04fd430c8")  # the OID name space of RFC 4122, appendix C


def identity_of(*parts: str) -> str:
    """A ``urn:uuid:`` that is always the same for the same words (RFC 4122 version 5)."""
    return f"urn:uuid:{uuid.uuid5(_KIND, chr(10).join(('lookwright', *parts)))}"


def clf_text(
    lattice: Lattice | None,
    shaper: Curves | None = None,
    *,
    identity: str,
    title: str | None = None,
    comments: Sequence[str] | None = None,
    feed: str = "",
    gives: str = "",
    interpolation: str = "tetrahedral",
) -> str:
    """The whole text of a CLF file.

    Parameters
    ----------
    lattice
        The 3D LUT over 0..1 (None for curves alone).
    shaper
        Curves over 0..1 that are applied before the lattice; their output is the lattice's input.
    identity
        The ``id`` attribute; see :func:`identity_of`.
    title, comments
        Name and, as text in ``Info``, the comment lines (a recipe from :func:`lookwright.lut.formats.embed.embed` among
        them); the lattice's own when None.
    feed, gives
        Input and output descriptor.
    interpolation
        ``tetrahedral`` or ``trilinear``; written into the file, where readers obey it.

    Returns
    -------
    XML text in ASCII with LF line ends. Numbers have up to nine significant digits, enough for every 32-bit float.

    Raises
    ------
    LutFileError
        For an input range other than 0..1, or with neither table.
    """
    parts = [p for p in (shaper, lattice) if p is not None]
    if not parts:
        raise LutFileError("CLF", "neither a lattice nor curves to write")
    for part in parts:
        if not part.unit_domain:
            raise LutFileError(
                "CLF", f"the input range is {part.domain_min} to {part.domain_max}", "0 to 1", "sample it over 0 to 1"
            )
    title = ascii_text(parts[-1].title if title is None else title)
    comments = parts[-1].comments if comments is None else comments
    name = f" name={quoteattr(title)}" if title else ""
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<ProcessList xmlns="{XMLNS}" id={quoteattr(identity)} compCLFversion="3.0"{name}>',
    ]
    if title:
        lines.append(f"  <Description>{escape(title)}</Description>")
    for tag, text in (("InputDescriptor", feed), ("OutputDescriptor", gives)):
        if text:
            lines.append(f"  <{tag}>{escape(ascii_text(text))}</{tag}>")
    lines.append("  <Info>")
    lines.append(f"    <AppRelease>lookwright {__version__}</AppRelease>")
    if comments:
        lines += ["    <Notes>", *(escape(ascii_text(c)) for c in comments), "    </Notes>"]
    lines.append("  </Info>")
    depths = 'inBitDepth="32f" outBitDepth="32f"'
    if shaper is not None:
        lines.append(f'  <LUT1D {depths} interpolation="linear">')
        lines += [f'    <Array dim="{shaper.size} 3">', _rows(shaper.table), "    </Array>", "  </LUT1D>"]
    if lattice is not None:
        n = lattice.size
        lines.append(f'  <LUT3D {depths} interpolation="{interpolation}">')
        # [r, g, b] with blue fastest is the order of the array as it lies in memory.
        lines += [f'    <Array dim="{n} {n} {n} 3">', _rows(lattice.table), "    </Array>", "  </LUT3D>"]
    lines.append("</ProcessList>")
    return "\n".join(lines) + "\n"


def _rows(table: Array) -> str:
    # Rounded to eight decimals first, so that the last digits of small numbers, where machines differ, fall away.
    rounded = np.round(table.reshape(-1, 3), 8) + 0.0
    # One % for all is the fastest way to text, and without regard to the locale.
    return "\n".join(["%.9g %.9g %.9g"] * len(rounded)) % tuple(rounded.ravel().tolist())


def write_clf(
    path: os.PathLike[str] | str, lattice: Lattice | None, shaper: Curves | None = None, **words: Any
) -> None:
    """:func:`clf_text` into a file, whole or not at all."""
    write_bytes(path, clf_text(lattice, shaper, **words).encode("ascii"))


class ClfFile:
    """A CLF that was checked here and compiled by OpenColorIO; call it with signal.

    ``file(signal, interpolation)`` takes (..., 3) and gives (..., 3) float64 from 32-bit arithmetic. An
    interpolation stated in the file is obeyed, else the argument (which CLF 3.0 would have as trilinear). Only
    LUTs and ranges clamp. NaN is refused.
    """

    def __init__(self, path: Path, root: ElementTree.Element, data: bytes) -> None:
        self.path = path
        self.identity = root.get("id") or root.get("Id") or ""
        self.title = root.get("name", "")
        self.nodes = [local(e) for e in root if local(e) in NODES]
        self.notes = [
            line
            for info in root
            if local(info) == "Info"
            for e in info
            if local(e) == "Notes"
            for line in (e.text or "").strip().split("\n")
        ]
        self.data = data
        # What OpenColorIO refuses is said now; the other interpolation is compiled when it is asked for.
        self._processors = {"tetrahedral": _compiled(path, data, "tetrahedral")}

    def recipe(self) -> str | None:
        """The recipe that a file of our own carries, or None."""
        return extract(self.notes)

    def __call__(self, signal: Array, interpolation: str = "tetrahedral") -> Array:
        return through_processor(self.processor(interpolation), signal)

    def processor(self, interpolation: str) -> Any:
        """OpenColorIO's CPU processor of the whole file."""
        if interpolation not in self._processors:
            self._processors[interpolation] = _compiled(self.path, self.data, interpolation)
        return self._processors[interpolation]


def read_clf(path: os.PathLike[str] | str) -> ClfFile:
    """Read a CLF safely.

    Raises
    ------
    LutFileError
        For anything that is not CLF 3 (or its SMPTE form), is unsafe, has a node CLF does not know, tables beyond
        the limits, bit depths that do not meet, or that OpenColorIO refuses.
    """
    path = Path(path)
    data = read_bytes(path, LARGEST_FILE, "a CLF file", LutFileError)
    root = parse(data, str(path))
    _check(root, str(path))
    return ClfFile(path, root, data)


def _check(root: ElementTree.Element, where: str) -> None:
    if local(root) != "ProcessList":
        raise LutFileError(where, f"its root is <{_short(local(root))}>", "<ProcessList>, as a CLF has")
    if namespace(root) not in ("", XMLNS, _SMPTE):
        raise LutFileError(where, f"namespace {_short(namespace(root))}", XMLNS)
    # ST 2136-1 tells its version by the namespace too.
    version = root.get("compCLFversion", "ST2136-1:2024" if namespace(root) == _SMPTE else "")
    if not version:
        raise LutFileError(where, "has no compCLFversion", '"3.0"')
    if not (version.split(".")[0] in ("1", "2", "3") or version == "ST2136-1:2024"):
        raise LutFileError(where, f"compCLFversion {_short(version)}", '"3.0"')
    if not root.get("id") and not any(local(e) == "Id" and (e.text or "").strip() for e in root):
        raise LutFileError(where, "ProcessList has no id", "one (CLF 3.0 requires it)")
    before = ""
    found = 0
    for element in root:
        kind = local(element)
        if kind in _TEXT:
            continue
        if kind not in NODES:
            raise LutFileError(where, f"an element <{_short(kind)}> in the list", "one of " + ", ".join(NODES))
        found += 1
        place = f"{where}, node {found} {kind}"
        takes, gives = element.get("inBitDepth", ""), element.get("outBitDepth", "")
        for word, depth in (("inBitDepth", takes), ("outBitDepth", gives)):
            if depth not in _DEPTHS:
                raise LutFileError(place, f"{word} {_short(depth)!r}", "one of " + ", ".join(_DEPTHS))
        if before and takes != before:
            raise LutFileError(place, f"takes {takes} after a node that gives {before}", "the same depth")
        before = gives
        _check_within(element, kind, version, place)
        arrays = [e for e in element if local(e) == "Array"]
        if len(arrays) != (kind in _WITH_ARRAY):
            raise LutFileError(place, f"{len(arrays)} arrays", "one" if kind in _WITH_ARRAY else "none")
        for array in arrays:
            _check_array(array, kind, place)
            if not _finite(array.text or "", kind == "LUT1D" and element.get("halfDomain") == "true", array.get("dim")):
                raise LutFileError(place, "the Array holds NaN or infinity", "finite numbers")
    if not found:
        raise LutFileError(where, "the list holds no process node", "at least one")


def _check_array(array: ElementTree.Element, kind: str, place: str) -> None:
    text = array.get("dim", "")
    try:
        dim = [int(d) for d in text.split()]
    except ValueError:
        dim = []
    good = {
        "LUT3D": len(dim) == 4 and dim[3:] == [3] and dim[0] == dim[1] == dim[2] and 2 <= dim[0] <= LARGEST,
        "LUT1D": len(dim) == 2 and dim[1] in (1, 3) and 2 <= dim[0] <= LONGEST_CURVE,
        "Matrix": len(dim) in (2, 3) and all(3 <= d <= 4 for d in dim),
    }
    if not good.get(kind, True):
        expected = {
            "LUT3D": f"n n n 3 with n from 2 to {LARGEST}",
            "LUT1D": f"n 1 or n 3 with n from 2 to {LONGEST_CURVE}",
            "Matrix": "3 3 or 3 4",
        }[kind]
        raise LutFileError(place, f"an Array of dim {_short(text)!r}", expected)


def _check_within(element: ElementTree.Element, kind: str, version: str, place: str) -> None:
    known = _WITHIN[kind]
    if version[0] in "12" and kind.startswith("LUT"):
        known = (*known, "IndexMap")  # what its range was told by until CLF 3
    for inner in element:
        name = local(inner)
        if name not in known and name != "Description":
            raise LutFileError(place, f"an element <{_short(name)}>", " or ".join(known))


def _finite(text: str, half_domain: bool, dim: str | None) -> bool:
    """Whether an array has only finite numbers, but at inputs that are not finite either, in a table of all halves."""
    folded = text.lower()
    if "nan" not in folded and "inf" not in folded:
        return True
    if not half_domain:
        return False
    columns = int((dim or "").split()[-1])
    found = (i // columns for i, token in enumerate(folded.split()) if "nan" in token or "inf" in token)
    return all(code & 0x7C00 == 0x7C00 for code in found)  # IEEE 754 binary16: all ones in the exponent


def _short(text: str) -> str:
    return text if len(text) <= 40 else text[:37] + "..."


def _compiled(path: Path, data: bytes, interpolation: str) -> Any:
    import PyOpenColorIO as ocio

    chosen = ocio.INTERP_TETRAHEDRAL if interpolation == "tetrahedral" else ocio.INTERP_LINEAR
    # OpenColorIO remembers files by path: a new folder each time makes it read what was checked above, and
    # nothing that was changed since.
    with tempfile.TemporaryDirectory(prefix="lookwright-") as folder:
        copy = Path(folder) / "checked.clf"
        copy.write_bytes(data)
        try:
            # It prints what it leaves aside; this is not its terminal.
            level = ocio.GetLoggingLevel()
            ocio.SetLoggingLevel(ocio.LOGGING_LEVEL_NONE)
            try:
                return lossless_processor(ocio.FileTransform(str(copy), interpolation=chosen))
            finally:
                ocio.SetLoggingLevel(level)
        except (ocio.Exception, UnicodeDecodeError) as exc:
            text = " ".join(str(exc).replace(str(copy), path.name).split())
            raise LutFileError(str(path), f"OpenColorIO refuses it: {_tail(text)}") from None


def _tail(text: str) -> str:
    """OpenColorIO lists what its readers said; keep what the one for CLF did."""
    text = text.rpartition("Common LUT Format' failed with: ")[2]
    return text.rstrip(" .") if len(text) <= 240 else text[:237] + "..."
