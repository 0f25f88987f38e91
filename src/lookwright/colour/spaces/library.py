"""The one door to colour-science, whose import is slow and announces optional packages."""

from __future__ import annotations

import warnings
from functools import lru_cache
from types import ModuleType


@lru_cache(maxsize=1)
def colour_library() -> ModuleType:
    """Import colour-science once, without its notices about packages we do not use."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    return colour
