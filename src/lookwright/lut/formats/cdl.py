"""ASC CDL files: .cc (one correction), .ccc (a collection) and .cdl (a decision list), written and read.

Source: ASC Color Decision List 1.2 with its XML schema (``urn:ASC:CDL:v1.01``), as OpenColorIO 2.6 reads it.
"""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.cdl import apply_cdl
from lookwright.errors import LutFileError, nearest
from lookwright.files import write_bytes
from lookwright.lut.lattices.lattice import Triple
from lookwright.reading import read_bytes

from .safe_xml import escape, local, parse, quoteattr

XMLNS = "urn:ASC:CDL:v1.01"
SUFFIXES = (".cc", ".ccc", ".cdl")
LARGEST_FILE = 20_000_000


@dataclass(frozen=True)
class Correction:
    """One ASC CDL: out = (in x slope + offset)^power, then saturation about BT.709 luma.

    Slope >= 0, power > 0, saturation >= 0, all finite; ``words`` say what it is for and what it must be fed.

    Raises :class:`LutFileError` for values outside those bounds.
    """

    slope: Triple = (1.0, 1.0, 1.0)
    offset: Triple = (0.0, 0.0, 0.0)
    power: Triple = (1.0, 1.0, 1.0)
    saturation: float = 1.0
    id: str = ""
    words: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        where = f"CDL {self.id!r}" if self.id else "CDL"
        for name, values, good, expected in (
            ("slope", self.slope, lambda v: v >= 0, "0 or more"),
            ("offset", self.offset, lambda v: True, "a finite number"),
            ("power", self.power, lambda v: v > 0, "above 0"),
            ("saturation", (self.saturation,), lambda v: v >= 0, "0 or more"),
        ):
            for v in values:
                if not (math.isfinite(v) and good(v)):
                    raise LutFileError(where, f"{name} {v:g}", expected)

    def __call__(self, signal: Array, clamp: bool = False) -> Array:
        """Correct (..., 3) signal; ``clamp`` as ASC CDL 1.2 does, before the power and at the end."""
        x = np.asarray(signal, np.float64)
        slope, offset, power = np.array(self.slope), np.array(self.offset), np.array(self.power)
        if not clamp:
            return apply_cdl(x, slope, offset, power, self.saturation)
        base = np.clip(x * slope + offset, 0.0, 1.0)
        return np.clip(apply_cdl(base, np.ones(3), np.zeros(3), power, self.saturation), 0.0, 1.0)


def cdl_text(corrections: Sequence[Correction], kind: str, words: Sequence[str] = ()) -> str:
    """The text of a CDL file.

    Parameters
    ----------
    corrections
        One for ``.cc``, at least one else; every ``id`` is needed and must be unique.
    kind
        ``.cc``, ``.ccc`` or ``.cdl``.
    words
        Descriptions of the whole file (``.ccc`` and ``.cdl``).

    Raises
    ------
    LutFileError
        For another kind, no correction, more than one in a ``.cc``, or missing or repeated ids.
    """
    if kind not in SUFFIXES:
        raise LutFileError("CDL", f"a file ending in {kind or 'nothing'!r}", " or ".join(SUFFIXES))
    if not corrections or (kind == ".cc" and len(corrections) > 1):
        expected = "one" if kind == ".cc" else "one or more"
        raise LutFileError("CDL", f"{len(corrections)} corrections for a {kind}", expected)
    seen: set[str] = set()
    for c in corrections:
        if not c.id or c.id in seen:
            raise LutFileError("CDL", f"the id {c.id!r} is {'empty' if not c.id else 'used twice'}", "one id each")
        seen.add(c.id)
    head = ['<?xml version="1.0" encoding="UTF-8"?>']
    if kind == ".cc":
        return "\n".join([*head, *_correction(corrections[0], "", f' xmlns="{XMLNS}"')]) + "\n"
    root = "ColorCorrectionCollection" if kind == ".ccc" else "ColorDecisionList"
    lines = [*head, f'<{root} xmlns="{XMLNS}">', *(f"  <Description>{_plain(w)}</Description>" for w in words)]
    for c in corrections:
        if kind == ".ccc":
            lines += _correction(c, "  ")
        else:
            lines += ["  <ColorDecision>", *_correction(c, "    "), "  </ColorDecision>"]
    return "\n".join([*lines, f"</{root}>"]) + "\n"


def write_cdl(path: os.PathLike[str] | str, corrections: Sequence[Correction], words: Sequence[str] = ()) -> None:
    """:func:`cdl_text` into a file, its kind chosen by the ending; whole or not at all."""
    write_bytes(path, cdl_text(corrections, Path(path).suffix.lower(), words).encode("utf-8"))


def _plain(text: str) -> str:
    """Text XML can hold: control characters have no place in XML 1.0."""
    return escape("".join(c if c.isprintable() else " " for c in text))


def _numbers(values: Sequence[float]) -> str:
    return " ".join(f"{v + 0.0:.9g}" for v in values)


def _correction(c: Correction, indent: str, attributes: str = "") -> list[str]:
    identity = "".join(ch if ch.isprintable() else " " for ch in c.id)
    return [
        f"{indent}<ColorCorrection{attributes} id={quoteattr(identity)}>",
        *(f"{indent}  <Description>{_plain(w)}</Description>" for w in c.words),
        f"{indent}  <SOPNode>",
        f"{indent}    <Slope>{_numbers(c.slope)}</Slope>",
        f"{indent}    <Offset>{_numbers(c.offset)}</Offset>",
        f"{indent}    <Power>{_numbers(c.power)}</Power>",
        f"{indent}  </SOPNode>",
        f"{indent}  <SatNode>",
        f"{indent}    <Saturation>{_numbers([c.saturation])}</Saturation>",
        f"{indent}  </SatNode>",
        f"{indent}</ColorCorrection>",
    ]


def ocio_correction(correction: Correction) -> Any:
    """The correction as OpenColorIO's own transform, not clamped: what it makes of a CDL file by itself."""
    import PyOpenColorIO as ocio

    transform = ocio.CDLTransform(
        list(correction.slope), list(correction.offset), list(correction.power), correction.saturation
    )
    transform.setStyle(ocio.CDL_NO_CLAMP)
    return transform


MOST_LISTED = 24
"""Ids told in one line; of more, the first ones and how many there are."""


def pick(corrections: Sequence[Correction], wanted: str | None, where: str) -> Correction:
    """One correction of a file: the only one, the one with this id, or ``#2`` for the second.

    An id wins over a place, so ``#2`` may be an id. OpenColorIO takes a bare number for a place from 0 when no id is
    that number; here it is an id or a fault.

    Raises :class:`LutFileError` when there are several and none is named, or none or several have the id; ids are
    listed.
    """
    if wanted is None:
        if len(corrections) == 1:
            return corrections[0]
        got = f"holds {len(corrections)} corrections"
        hint = f"name one with --correction ID, or as FILE:ID in a look: {_listed(corrections)}"
        raise LutFileError(where, got, "one", hint)
    same = [i for i, c in enumerate(corrections) if c.id == wanted and wanted]
    if not same and wanted[:1] == "#" and wanted[1:].isdecimal():
        same = [i for i in range(len(corrections)) if str(i + 1) == wanted[1:].lstrip("0")]
    if len(same) == 1:
        return corrections[same[0]]
    if same:
        places = " or ".join(f"#{i + 1}" for i in same)
        raise LutFileError(where, f"holds the id {wanted!r} {len(same)} times", "one", f"name its place: {places}")
    close = nearest(wanted, [c.id for c in corrections if c.id])
    hint = "did you mean " + " or ".join(map(repr, close)) + "? " if close else ""
    raise LutFileError(where, f"holds no correction {wanted[:60]!r}", hint=f"{hint}it holds {_listed(corrections)}")


def _listed(corrections: Sequence[Correction]) -> str:
    """Ids in order; the place where there is no id, or it is used again."""
    ids = [c.id for c in corrections]
    names = [i[:60] if i and ids.count(i) == 1 else f"#{n}" for n, i in enumerate(ids[:MOST_LISTED], start=1)]
    more = len(ids) - len(names)
    return ", ".join(names) + (f" and {more} more" if more else "")


_ROOTS = ("ColorCorrection", "ColorCorrectionCollection", "ColorDecisionList")


def read_cdl(path: os.PathLike[str] | str) -> tuple[Correction, ...]:
    """The corrections of a .cc, .ccc or .cdl, in order.

    Tolerant of the namespace, of a missing SOPNode or SatNode (neutral, as the schema allows) and of ids missing or
    repeated; strict about numbers and structure. References to other files (``ColorCorrectionRef``) are refused.

    Raises
    ------
    LutFileError
        Naming the file and the correction.
    """
    where = str(path)
    root = parse(read_bytes(path, LARGEST_FILE, "a CDL file", LutFileError), where)
    if local(root) not in _ROOTS:
        raise LutFileError(where, f"its root is <{local(root)[:40]}>", " or ".join(f"<{r}>" for r in _ROOTS))
    found: list[ElementTree.Element] = []
    if local(root) == "ColorCorrection":
        found.append(root)
    elif local(root) == "ColorCorrectionCollection":
        found += [e for e in root if local(e) == "ColorCorrection"]
    else:
        if any(local(e) == "ColorCorrection" for e in root):
            raise LutFileError(where, "a ColorCorrection straight in the list", "one within <ColorDecision>")
        for decision in (e for e in root if local(e) == "ColorDecision"):
            if any(local(e) == "ColorCorrectionRef" for e in decision):
                raise LutFileError(where, "refers to a correction in another file", "corrections in the file itself")
            found += [e for e in decision if local(e) == "ColorCorrection"]
    if not found:
        raise LutFileError(where, "holds no ColorCorrection", "at least one")
    return tuple(_read_correction(e, f"{where}, correction {i}") for i, e in enumerate(found, start=1))


_NUMBERS = ("Slope", "Offset", "Power", "Saturation")


def _read_correction(element: ElementTree.Element, where: str) -> Correction:
    values: dict[str, tuple[float, ...]] = {}
    words: list[str] = []
    for e in element:
        kind = local(e)
        if kind == "Description":
            words.append((e.text or "").strip())
        elif kind in ("SOPNode", "SatNode", "SATNode"):
            names = ("Slope", "Offset", "Power") if kind == "SOPNode" else ("Saturation",)
            for inner in e:
                name = local(inner)
                if name == "Description":
                    continue
                if name not in names or name in values:
                    raise LutFileError(where, f"<{name[:40]}> in {kind}", "one each of " + ", ".join(names))
                values[name] = _read_numbers(inner, where, 1 if name == "Saturation" else 3)
            for name in names:
                if name not in values:
                    raise LutFileError(where, f"{kind} without <{name}>", "all of " + ", ".join(names))
        elif any(local(inner) in _NUMBERS for inner in e):
            # OpenColorIO passes over it with a warning, and so leaves half of the correction out.
            raise LutFileError(where, f"numbers in <{kind[:40]}>", "them in SOPNode and SatNode")
    slope, offset, power = (values.get(n) for n in ("Slope", "Offset", "Power"))
    try:
        return Correction(
            _triple(slope, 1.0),
            _triple(offset, 0.0),
            _triple(power, 1.0),
            values.get("Saturation", (1.0,))[0],
            element.get("id", ""),
            tuple(words),
        )
    except LutFileError as exc:
        raise LutFileError(where, exc.got, exc.expected) from None


def _triple(values: tuple[float, ...] | None, default: float) -> Triple:
    return (values[0], values[1], values[2]) if values else (default, default, default)


def _read_numbers(element: ElementTree.Element, where: str, count: int) -> tuple[float, ...]:
    text = (element.text or "").strip()
    try:
        values = tuple(float(t) for t in text.split())
    except ValueError:
        values = ()
    if len(values) != count or "_" in text or not all(math.isfinite(v) for v in values):
        raise LutFileError(where, f"{local(element)} {text[:40]!r}", f"{count} finite number{'s' if count > 1 else ''}")
    return values
