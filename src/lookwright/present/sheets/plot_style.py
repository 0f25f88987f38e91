"""How all plots look: thin lines, plain sans, a neutral ground, no boxes."""

from __future__ import annotations

import io
import logging
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

from lookwright.errors import OutputError
from lookwright.files import replacing

from .canvas import SURROUND

GROUND = f"#{SURROUND:02x}{SURROUND:02x}{SURROUND:02x}"
INK = "#ececec"
FAINT = "#9a9a9a"
# Lines that stand for light of a colour get a muted form of it; all else is told apart by tone and dash.
RED, GREEN, BLUE = "#e08a80", "#93c493", "#8fb0e8"
CYAN, MAGENTA, YELLOW = "#86c7cc", "#d39ac6", "#d8cd86"
WARM, COOL = "#e0a878", "#83b7c4"

_RC: Any = {  # its keys are typed one by one
    "figure.facecolor": GROUND,
    "axes.facecolor": GROUND,
    "savefig.facecolor": GROUND,
    "text.color": INK,
    "axes.labelcolor": INK,
    "axes.edgecolor": FAINT,
    "xtick.color": INK,
    "ytick.color": INK,
    "axes.grid": True,
    "grid.color": "#6c6c6c",
    "grid.linewidth": 0.6,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.titlesize": 11,
    "axes.titlelocation": "left",
    "axes.labelsize": 9,
    "xtick.labelsize": 8,
    "ytick.labelsize": 8,
    "legend.fontsize": 8,
    "legend.frameon": False,
    "lines.linewidth": 1.6,
    "font.family": ["DejaVu Sans"],
    "svg.hashsalt": "lookwright",
}


MADE_BY = "lookwright"
"""In the notes of each drawing: it may be made again in its place, and a photograph may not be written over by one."""


@contextmanager
def quietly() -> Iterator[None]:
    """No remarks of matplotlib's on stderr: that a home cannot be written, or that it looks through the fonts."""
    logger = logging.getLogger("matplotlib")
    before = logger.level
    logger.setLevel(logging.ERROR)
    try:
        yield
    finally:
        logger.setLevel(before)


@contextmanager
def plotting() -> Iterator[Any]:
    """matplotlib's pyplot with our style and a file-only backend, restored afterwards."""
    with ExitStack() as stack:
        stack.enter_context(quietly())
        import matplotlib

        stack.enter_context(matplotlib.rc_context(_RC))
        matplotlib.use("Agg", force=False)
        import matplotlib.pyplot as plt

        yield plt
        plt.close("all")


def svg_text(figure: Any) -> str:
    """A figure as SVG text, the same each time."""
    stream = io.StringIO()
    figure.savefig(stream, format="svg", metadata={"Date": None, "Creator": None})
    return stream.getvalue()


def save_figure(figure: Any, path: Path, dpi: int = 110) -> None:
    """Write a figure as .png, .svg or .pdf, whole or not at all, the same bytes each time.

    Raises :class:`OutputError` for another ending or a target that cannot be written.
    """
    kind = path.suffix.lower().lstrip(".")
    if kind not in ("png", "svg", "pdf"):
        raise OutputError(str(path), "cannot draw into this kind of file", ".png, .svg or .pdf")
    notes: dict[str, dict[str, Any]] = {
        "png": {"Software": MADE_BY},
        "svg": {"Creator": MADE_BY, "Date": None},
        "pdf": {"Creator": MADE_BY, "CreationDate": None, "ModDate": None},
    }
    with replacing(path) as temporary:
        figure.savefig(temporary, format=kind, dpi=dpi, metadata=notes[kind])
