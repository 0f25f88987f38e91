"""Before and after: side by side, as a wipe, and many frames on one contact sheet; all as 8-bit codes, (H, W, 3)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Pixels

from .canvas import FAINT, blank, codes_of, fitted, to_image, write_line

if TYPE_CHECKING:
    from PIL.Image import Image

Codes = NDArray[np.uint8]


@dataclass(frozen=True)
class Frame:
    """A picture with its caption."""

    pixels: Pixels | Image
    """Signal 0..1, or what :func:`~lookwright.present.sheets.canvas.to_image` made of it."""
    caption: str


def _measures(width: int) -> tuple[int, int]:
    """Margin and letter height for a frame of this width."""
    return max(8, width // 80), max(12, width // 64)


PAIR_WIDTH = 1280
"""Pixels that each picture of a pair is wide at most."""


def pair(before: Frame, after: Frame, heading: str = "", width: int = PAIR_WIDTH) -> Codes:
    """Two frames side by side, each at most ``width`` pixels wide, captions beneath."""
    left, right = (fitted(to_image(f.pixels), width) for f in (before, after))
    margin, letter = _measures(left.width)
    top = margin + (letter + margin if heading else 0)
    sheet = blank(left.width + right.width + 3 * margin, top + max(left.height, right.height) + letter + 2 * margin)
    if heading:
        write_line(sheet, (margin, margin), heading, letter, sheet.width - 2 * margin)
    x = margin
    for image, frame in ((left, before), (right, after)):
        sheet.paste(image, (x, top))
        write_line(sheet, (x, top + image.height + margin // 2), frame.caption, letter, image.width, FAINT)
        x += image.width + margin
    return codes_of(sheet)


def wipe(before: Frame, after: Frame, heading: str = "", at: float = 0.5, width: int = 1920) -> Codes:
    """One frame, ``before`` left of the line at ``at`` (0..1 of the width), ``after`` right of it."""
    image = fitted(_joined(to_image(before.pixels), to_image(after.pixels), at), width)
    margin, letter = _measures(image.width)
    top = margin + (letter + margin if heading else 0)
    sheet = blank(image.width + 2 * margin, top + image.height + letter + 2 * margin)
    if heading:
        write_line(sheet, (margin, margin), heading, letter, image.width)
    sheet.paste(image, (margin, top))
    x = margin + round(image.width * at)
    below = top + image.height
    # A tick outside the frame marks the line; nothing is drawn over the picture.
    tick = blank(max(1, letter // 8), letter)
    tick.paste((FAINT,) * 3, (0, 0, *tick.size))
    sheet.paste(tick, (x, below + margin // 4))
    room = max(1, int(image.width * at) - margin)
    write_line(sheet, (margin, below + margin // 2), before.caption, letter, room, FAINT)
    write_line(sheet, (x + margin, below + margin // 2), after.caption, letter, image.width - room - margin, FAINT)
    return codes_of(sheet)


def _joined(before: Image, after: Image, at: float) -> Image:
    """``before`` left of ``at`` (0..1 of the width), ``after`` right of it."""
    cut = round(before.width * at)
    whole = after.copy()
    whole.paste(before.crop((0, 0, cut, before.height)), (0, 0))
    return whole


TALLEST = 4.0 / 3.0
"""Of the usual height on a contact sheet, what a picture may have: an upright one among many that lie is made smaller,
or it would have a row of its own in which the rest is empty."""


def contact(frames: Sequence[Frame], heading: str = "", columns: int = 3, width: int = 640) -> Codes:
    """Frames in rows as high as their pictures, each at most ``width`` wide, captions beneath, heading on top."""
    images = _levelled([fitted(to_image(f.pixels), width) for f in frames])
    columns = max(1, min(columns, len(images)))
    cell = max(i.width for i in images)
    margin, letter = max(8, cell // 40), max(13, cell // 40)
    rows = [images[i : i + columns] for i in range(0, len(images), columns)]
    heights = [max(i.height for i in row) + letter + 2 * margin for row in rows]
    top = margin + (int(letter * 1.4) + margin if heading else 0)
    sheet = blank(columns * (cell + margin) + margin, top + sum(heights))
    if heading:
        write_line(sheet, (margin, margin), heading, int(letter * 1.4), sheet.width - 2 * margin)
    rest = iter(frames)
    for n, row in enumerate(rows):
        y = top + sum(heights[:n])
        below = y + max(i.height for i in row) + margin // 3
        for column, image in enumerate(row):
            x = margin + column * (cell + margin)
            sheet.paste(image, (x, below - margin // 3 - image.height))
            write_line(sheet, (x, below), next(rest).caption, letter, cell, FAINT)
    return codes_of(sheet)


def _levelled(images: list[Image]) -> list[Image]:
    """None much higher than is usual among them."""
    most = round(TALLEST * sorted(i.height for i in images)[len(images) // 2])
    return [i if i.height <= most else fitted(i, max(1, round(i.width * most / i.height))) for i in images]


def beside(rows: Sequence[Sequence[Frame]], heading: str = "", width: int = 640) -> Codes:
    """The same frames in several forms: a row for each of ``rows``, broken where it is long; captions beneath.

    Letters are larger than on a contact sheet, since the captions are what is read here.
    """
    shown = [[(fitted(to_image(f.pixels), width), f.caption) for f in row] for row in rows]
    columns = columns_for(max(len(row) for row in shown))
    cell = max(image.width for row in shown for image, _ in row)
    tall = max(image.height for row in shown for image, _ in row)
    margin, letter = max(6, cell // 40), max(13, cell // 24)
    step = tall + 2 * letter + margin // 2
    lines = [row[i : i + columns] for row in shown for i in range(0, len(row), columns)]
    # A still's rows stay together: the gap above the next still is wider.
    starts = {sum(ceil(len(row) / columns) for row in shown[:i]) for i in range(1, len(shown))}
    top = margin + (2 * letter if heading else 0)
    sheet = blank(columns * (cell + margin) + margin, top + len(lines) * step + len(starts) * 2 * margin)
    if heading:
        write_line(sheet, (margin, margin), heading, letter, sheet.width - 2 * margin)
    y = top
    for i, line in enumerate(lines):
        y += 2 * margin if i in starts else 0
        for column, (image, caption) in enumerate(line):
            x = margin + column * (cell + margin)
            sheet.paste(image, (x, y))
            write_line(sheet, (x, y + image.height + letter // 4), caption, letter, cell)
        y += step
    return codes_of(sheet)


def columns_for(count: int) -> int:
    """Columns that fill the lines best: all up to four, then 3 + 2, 3 + 3, 4 + 3, 4 + 4, 3 + 3 + 3."""
    return count if count <= 4 else 3 if count in (5, 6, 9) else 4
