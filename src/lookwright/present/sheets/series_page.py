"""The drift report of a series as one self-contained page."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from lookwright.files import write_text

if TYPE_CHECKING:
    from lookwright.solve.series.shots import Shot, Tolerance


def write_series_page(
    path: Path, title: str, shots: Sequence[Shot], tolerance: Tolerance, plot: Path, before: Path, after: Path
) -> None:
    """Write the page with its pictures inside it; nothing is fetched from anywhere when it is read.

    ``plot`` is a PNG, ``before`` and ``after`` JPEGs, all written already.
    """
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("lookwright.present.sheets"), autoescape=True, undefined=StrictUndefined, trim_blocks=True
    )

    def inside(file: Path, kind: str) -> str:
        return f"data:image/{kind};base64,{base64.b64encode(file.read_bytes()).decode('ascii')}"

    html = environment.get_template("series.html.jinja").render(
        title=title,
        shots=shots,
        tolerance=tolerance,
        outside=[s for s in shots if not s.inside],
        plot=inside(plot, "png"),
        before=inside(before, "jpeg"),
        after=inside(after, "jpeg"),
    )
    write_text(path, html)
