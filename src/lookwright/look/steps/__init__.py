"""The transforms a look is made of: one file each, found by themselves.

Adding a step is adding one file here with a :class:`~lookwright.look.steps.base.Step`
subclass; nothing else needs to be told.
"""

from __future__ import annotations

import importlib
import pkgutil
from functools import lru_cache

from .base import REGISTRY, Step


@lru_cache(maxsize=1)
def registry() -> dict[str, type[Step]]:
    """Every step by its kind, in alphabetical order."""
    for module in pkgutil.iter_modules(__path__):
        importlib.import_module(f"{__name__}.{module.name}")
    return dict(sorted(REGISTRY.items()))


def step_of_kind(kind: str) -> type[Step] | None:
    """The step of that kind, or None. Steps are called after their files: of these, that one alone is loaded."""
    if kind not in REGISTRY and kind in {module.name for module in pkgutil.iter_modules(__path__)}:
        importlib.import_module(f"{__name__}.{kind}")
    return REGISTRY.get(kind) or registry().get(kind)
