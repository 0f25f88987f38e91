"""A check as one HTML file that needs nothing else: no request leaves it, with or without scripts."""

from __future__ import annotations

import base64
import io
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from lookwright.arrays import Pixels
from lookwright.assess.restraint.ease import shown
from lookwright.assess.restraint.report import Report
from lookwright.assess.restraint.subject import Subject
from lookwright.colour.spaces.curves import srgb_encode
from lookwright.colour.spaces.primaries import matrix
from lookwright.colour.spaces.signal import DISPLAY_PRIMARIES, Signal
from lookwright.files import write_text
from lookwright.pictures.stills import CodedStill, Still, profile_for

from .canvas import fitted, to_image
from .check_plots import check_plots
from .masks import masks, pointed

if TYPE_CHECKING:
    from jinja2 import Environment

WIDTH = 960
"""Width of a picture in the report; a report on six stills is then about 1.5 MB."""
QUALITY = 90
POINTED = 320
"""Width of the pictures that point to findings: three stand in a row."""


@dataclass(frozen=True)
class Pair:
    """One still before and after, as data addresses."""

    name: str
    before: str
    after: str
    width: int
    height: int
    code: Pixels
    """Its code values at the size of the pictures that point, (H, W, 3)."""


@dataclass(frozen=True)
class Pointer:
    """A picture that points to one finding."""

    title: str
    share: float
    """Percent of the picture."""
    picture: str


class Pictures:
    """Before and after of each still, kept as small JPEG pictures while a check runs."""

    def __init__(self, subject: Subject) -> None:
        self.subject = subject
        self.pairs: list[Pair] = []
        output = subject.output
        self._icc = profile_for(output.encoding.name, output.primaries.name) if output.range == "full" else None
        self.note = "" if self._icc else f"{output.encoding.name} pictures are shown as sRGB, cut at reference white."

    def add(self, still: Still | CodedStill) -> None:
        """Grade one still, small."""
        small = reduced(still.pixels)
        before, after = self.subject.plain_picture(small), self.subject.graded_picture(small)
        height, width = small.shape[:2]
        scale = min(1.0, WIDTH / width)
        size = (max(1, round(width * scale)), max(1, round(height * scale)))
        n = max(1, round(width / POINTED))
        code = np.ascontiguousarray(small[n // 2 :: n, n // 2 :: n])
        self.pairs.append(Pair(still.path.stem, self._address(before), self._address(after), *size, code))

    def pointers(self, report: Report) -> list[list[Pointer]]:
        """For each still, the pictures that point to what was found."""
        found = []
        for pair in self.pairs:
            graded = np.asarray(self.subject.graded_picture(pair.code), np.float32)
            shown = masks(report, self.subject, pair.code)
            found.append([Pointer(m.title, 100.0 * m.share, self._address(pointed(graded, m.pixels))) for m in shown])
        return found

    def _address(self, pixels: Pixels) -> str:
        if self._icc is None:
            pixels = as_srgb(pixels, self.subject.output)
        stream = io.BytesIO()
        fitted(to_image(pixels), WIDTH).save(stream, "JPEG", quality=QUALITY, subsampling=0, icc_profile=self._icc)
        return data_address("jpeg", stream.getvalue())


def data_address(kind: str, data: bytes) -> str:
    """A picture as an address that holds it; ``kind`` is ``jpeg``, ``svg+xml`` and so on."""
    return f"data:image/{kind};base64," + base64.b64encode(data).decode("ascii")


def as_srgb(codes: Pixels, output: Signal) -> Pixels:
    """Output code values (H, W, 3) as sRGB, cut at reference white: for what cannot be described to a browser."""
    light = output.to_light(np.asarray(codes, np.float64)) @ matrix(DISPLAY_PRIMARIES, "BT.709").T
    return np.asarray(srgb_encode(np.clip(light, 0.0, 1.0)), np.float32)


def reduced(pixels: Pixels, to: int = WIDTH) -> Pixels:
    """Means over whole blocks of pixels, so that a large still is not graded at a size that is not shown.

    The width is then at least ``to`` and under twice that.
    """
    n = max(1, pixels.shape[1] // to)
    height, width = pixels.shape[0] // n * n, pixels.shape[1] // n * n
    if n == 1 or not height:
        return pixels
    # Planes added one after another, channel by channel and a band at a time: far faster than a mean over axes of
    # length n, or sums whose innermost axis is the three channels.
    total = np.zeros((3, height // n, width // n), np.float32)
    for top in range(0, height // n, _BAND):
        out, band = total[:, top : top + _BAND], pixels[n * top : min(height, n * (top + _BAND)), :width]
        for i in range(n):
            for j in range(n):
                for c in range(3):
                    out[c] += band[i::n, j::n, c]
    total /= np.float32(n * n)
    return np.ascontiguousarray(total.transpose(1, 2, 0))


_BAND = 8
"""Rows of means worked on at once: the pixels that they are of then stay in the cache."""


def page_environment() -> Environment:
    """The templates of this room, as its pages need them: what is written into one is escaped."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("lookwright.present.sheets"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["shown"] = shown
    environment.filters["upper_first"] = lambda text: text[:1].upper() + text[1:]
    return environment


def report_html(report: Report, pictures: Pictures) -> str:
    """The whole text of the file."""
    environment = page_environment()
    plots = [(data_address("svg+xml", p.svg.encode()), p.caption) for p in check_plots(report)]
    by_name = {s.name.rsplit(".", 1)[0]: s for s in report.stills}
    return environment.get_template("check.html.jinja").render(
        report=report,
        pairs=[
            (pair, by_name.get(pair.name), pointers)
            for pair, pointers in zip(pictures.pairs, pictures.pointers(report), strict=True)
        ],
        plots=plots,
        note=pictures.note if pictures.pairs else "",
    )


def write_report(path: Path, report: Report, pictures: Pictures) -> None:
    """Write the report, whole or not at all.

    Raises :class:`OutputError` for a target that cannot be written.
    """
    write_text(path, report_html(report, pictures))
