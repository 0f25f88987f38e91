"""XML from strangers: bounded in nesting, without DOCTYPE, every fault on one line.

A DOCTYPE can make a parser fetch files or multiply text; nesting 20,000 deep cost OpenColorIO 11 s (measured).
So nothing is handed to any other parser before it went through here.
"""

from __future__ import annotations

from xml.etree import ElementTree
from xml.parsers import expat

from lookwright.errors import LutFileError

DEEPEST = 16
"""Levels of nesting; CLF and CDL files use six."""

MOST_ELEMENTS = 100_000
"""Elements of one file: a collection of corrections for some ten thousand shots."""


def escape(text: str) -> str:
    """Text for between tags."""
    # That module brings all of http with it: a tenth of a second for what never writes XML.
    from xml.sax import saxutils

    return saxutils.escape(text)


def quoteattr(text: str) -> str:
    """Text for an attribute, quotes round it."""
    from xml.sax import saxutils

    return saxutils.quoteattr(text)


def parse(data: bytes, where: str) -> ElementTree.Element:
    """The root element of safe XML.

    Parameters
    ----------
    data
        A whole document in UTF-8, UTF-16, Latin-1 or ASCII.
    where
        Begins every message.

    Raises
    ------
    LutFileError
        For text that is not well-formed, has a DOCTYPE, or is nested or divided beyond the bounds.
    """
    if not data.strip():
        raise LutFileError(where, "the file is empty", "an XML document")
    depth = elements = 0
    checker = expat.ParserCreate()

    def line() -> str:
        return f"{where}, line {checker.CurrentLineNumber}"

    def doctype(*_: object) -> None:
        raise LutFileError(line(), "has a DOCTYPE", "plain XML without one")

    def start(*_: object) -> None:
        nonlocal depth, elements
        depth, elements = depth + 1, elements + 1
        if depth > DEEPEST:
            raise LutFileError(line(), f"is nested more than {DEEPEST} levels deep", "a CLF or CDL file")
        if elements > MOST_ELEMENTS:
            raise LutFileError(line(), f"has more than {MOST_ELEMENTS} elements", "a CLF or CDL file")

    def end(_: str) -> None:
        nonlocal depth
        depth -= 1

    checker.StartDoctypeDeclHandler = doctype
    checker.StartElementHandler = start
    checker.EndElementHandler = end
    try:
        checker.Parse(data, True)
        return ElementTree.fromstring(data)
    except expat.ExpatError as exc:
        raise LutFileError(
            f"{where}, line {exc.lineno}", f"is not well-formed XML: {expat.ErrorString(exc.code)}"
        ) from None
    except (ElementTree.ParseError, ValueError, LookupError) as exc:
        raise LutFileError(where, f"is not readable XML: {exc}") from None


def local(element: ElementTree.Element) -> str:
    """The element's name without its namespace."""
    return str(element.tag).rpartition("}")[2]


def namespace(element: ElementTree.Element) -> str:
    """The element's namespace, or an empty text."""
    return str(element.tag).rpartition("}")[0].lstrip("{")
