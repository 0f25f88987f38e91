"""How this copy of the program came to the machine: a checkout of the project, or an installed wheel.

Hints and the demo ask here, so that what they say is right for both. Imports nothing heavy.
"""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

from .system import quoted

_PACKAGE = Path(__file__).parent


class Samples(NamedTuple):
    """Folders of what comes with the program."""

    looks: Path
    """Looks, ``*.toml``."""
    stills: Path
    """Stills in ACEScct, and their ``marks.toml``."""


def checkout() -> Path | None:
    """The project's folder when the program runs from its source, else None.

    Told by the place of the package: only in a checkout does it lie in ``src`` beside ``pyproject.toml``.
    """
    root = _PACKAGE.parents[1]
    return root if _PACKAGE.parent.name == "src" and (root / "pyproject.toml").is_file() else None


def samples() -> Samples:
    """Where the looks and the sample stills are: a checkout has the full stills, a wheel the same at half the size."""
    root = checkout()
    if root is not None:
        return Samples(root / "looks", root / "sample_images")
    return Samples(_PACKAGE / "samples" / "looks", _PACKAGE / "samples" / "stills")


def how_to_get(extra: str) -> str:
    """A hint: how the optional part ``extra`` of pyproject.toml is added to this copy of the program."""
    if checkout() is not None:
        return f"install it in lookwright's folder: pip install -e {quoted(f'.[{extra}]')}"
    return f"install it: pip install {quoted(f'lookwright[{extra}]')}"
