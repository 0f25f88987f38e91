"""Paths given as text: a job called from a program takes ``"looks/night.toml"`` where it declares a ``Path``."""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable
from pathlib import Path
from typing import Any, ParamSpec, TypeVar

P = ParamSpec("P")
R = TypeVar("R")


def paths_as_text(job: Callable[P, R]) -> Callable[P, R]:
    """``job``, taking text for every parameter declared as ``Path``, and one path where several are declared."""
    signature = inspect.signature(job)
    one = {name for name, p in signature.parameters.items() if p.annotation in ("Path", "Path | None")}
    several = {name for name, p in signature.parameters.items() if p.annotation == "Sequence[Path]"}

    @functools.wraps(job)
    def called(*args: P.args, **kwargs: P.kwargs) -> R:
        bound = signature.bind(*args, **kwargs)
        for name, value in bound.arguments.items():
            if name in one and isinstance(value, str):
                bound.arguments[name] = Path(value)
            elif name in several:
                bound.arguments[name] = _paths(value)
        return job(*bound.args, **bound.kwargs)

    return called


def _paths(value: Any) -> list[Path]:
    return [Path(value)] if isinstance(value, str | Path) else [Path(p) for p in value]
