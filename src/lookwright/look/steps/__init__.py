"""The transforms a look is made of: one file each, found by themselves.

Adding a step is adding one file here with a :class:`~lookwright.look.steps.base.Step`
subclass; nothing else needs to be told.
"""

from __future__ import annotations

import importlib
import pkgutil
import re
from functools import lru_cache
from pathlib import Path

from .base import REGISTRY, Step

_KIND = re.compile(r'^    kind: Literal\["([^"]+)"\]', re.MULTILINE)
"""How every step declares its kind."""


@lru_cache(maxsize=1)
def registry() -> dict[str, type[Step]]:
    """Every step by its kind, in alphabetical order."""
    for module in pkgutil.iter_modules(__path__):
        importlib.import_module(f"{__name__}.{module.name}")
    return dict(sorted(REGISTRY.items()))


@lru_cache(maxsize=1)
def _files() -> dict[str, str]:
    """The file that declares each kind. Read, not imported: the physics of film is not needed to know what is there."""
    files = (file for folder in __path__ for file in Path(folder).glob("*.py"))
    return {found[1]: file.stem for file in files if (found := _KIND.search(file.read_text(encoding="utf-8")))}


def kinds() -> list[str]:
    """The kinds of :func:`registry`, in its order, without loading the steps."""
    return sorted({*REGISTRY, *_files()}) if _files() else list(registry())  # installed without source text


def step_of_kind(kind: str) -> type[Step] | None:
    """The step of that kind, which alone is loaded, or None."""
    if kind not in REGISTRY and kind in kinds():
        importlib.import_module(f"{__name__}.{_files()[kind]}")
    return REGISTRY.get(kind)
