"""TOML from strangers: no key that would cost minutes.

Python's parser needs time and memory that grow with the square of a dotted key's parts: 20,000 of them cost 4 s and
1.5 GB (measured).
"""

from __future__ import annotations

import re
import tomllib
from typing import Any

# Possessive, so that a long text is walked through once.
_LONG_KEY = re.compile(
    r"""(?<![\w-])(?:(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+\.[ \t]*+){64}""",
)


def loads(text: str) -> dict[str, Any]:
    """``tomllib.loads``, which also raises ``ValueError`` (too many digits) and ``RecursionError``."""
    if _LONG_KEY.search(text):
        raise RecursionError
    return tomllib.loads(text)
