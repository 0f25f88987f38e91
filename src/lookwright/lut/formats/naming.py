"""How one correction of an ASC CDL collection is named beside its file: ``FILE:ID``. Imports nothing heavy."""

from __future__ import annotations

import re

_ONE_OF = re.compile(r"(.*?\.(?:cc|ccc|cdl)):(.*)", re.IGNORECASE | re.DOTALL)


def split_name(name: str) -> tuple[str, str | None]:
    """The file and the correction in ``FILE:ID``; None where none is named.

    The colon counts only behind ``.cc``, ``.ccc`` or ``.cdl``; an id may hold further ones.

    Examples
    --------
    >>> split_name("grades/day-2.ccc:shot:14")
    ('grades/day-2.ccc', 'shot:14')
    >>> split_name("C:/luts/print.cube")
    ('C:/luts/print.cube', None)
    """
    found = _ONE_OF.fullmatch(name)
    return (name, None) if found is None else (found[1], found[2])


def joined_name(file: str, correction: str | None) -> str:
    """The reverse of :func:`split_name`."""
    return file if correction is None else f"{file}:{correction}"
