"""Pictures in turns as one moving picture: each held, and a soft crossfade to the next; back to the first at the end.

What moves may not flash: WCAG 2.3.1 (Level A) allows at most three flashes in any second, a flash being a pair of
opposing changes. A fade takes :data:`FADE_MS` and each picture stands for at least :data:`LEAST_HOLD_MS`, so a pair of
opposing changes takes four seconds, whatever the pictures are.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import cos, pi
from typing import TYPE_CHECKING

from .canvas import FAINT, INK, SURROUND, blank, fitted, font, shortened, to_image, write_line
from .layouts import Frame

if TYPE_CHECKING:
    from PIL.Image import Image

FADE_MS = 1000
FRAME_MS = 50
"""A step of the fade: 20 a second, which looks smooth at this pace; a GIF counts hundredths of a second."""
LEAST_HOLD_MS = 1000
MOST_HOLD_MS = 20_000


@dataclass(frozen=True)
class Still:
    """One picture of the film and how long it stands."""

    image: Image
    ms: int


def in_turns(frames: Sequence[Frame], heading: str, hold_ms: int, width: int = 960) -> Iterator[Still]:
    """The whole round, frame by frame: each of ``frames`` held, then faded into the next.

    Beneath stand all names, always at their places; the one that is seen is bright.
    """
    sheets = [_sheet(frames, heading, i, width) for i in range(len(frames))]
    for i, sheet in enumerate(sheets):
        yield Still(sheet, hold_ms)
        following = sheets[(i + 1) % len(sheets)]
        for share in shares():
            yield Still(_mixed(sheet, following, share), FRAME_MS)


def shares() -> list[float]:
    """How much of the next picture is seen in each step of a fade: half a cosine, so that it begins and ends softly."""
    steps = FADE_MS // FRAME_MS
    return [0.5 - 0.5 * cos(pi * i / (steps + 1)) for i in range(1, steps + 1)]


def _mixed(one: Image, other: Image, share: float) -> Image:
    from PIL import Image as Module

    return Module.blend(one, other, share)


def _sheet(frames: Sequence[Frame], heading: str, shown: int, width: int) -> Image:
    image = fitted(to_image(frames[shown].pixels), width)
    margin, letter = max(6, image.width // 80), max(12, image.width // 44)
    top = margin + (2 * letter if heading else 0)
    face = font(letter)
    places = _places([f.caption for f in frames], image.width, letter)
    lines = 1 + max(line for line, _, _ in places)
    beneath = top + image.height + letter // 2
    sheet = blank(image.width + 2 * margin, beneath + int(1.6 * letter) * lines + letter // 2)
    if heading:
        write_line(sheet, (margin, margin), heading, letter, image.width)
    sheet.paste(image, (margin, top))
    for i, (line, x, text) in enumerate(places):
        y = beneath + int(1.6 * letter) * line
        # A bar above the name as well as its brightness: told apart without seeing small differences of grey.
        if i == shown:
            sheet.paste((INK,) * 3, (margin + x, y, margin + x + int(face.getlength(text)), y + max(2, letter // 8)))
        write_line(sheet, (margin + x, y + letter // 4), text, letter, image.width, INK if i == shown else _QUIET)
    return sheet


_QUIET = (2 * FAINT + SURROUND) // 3
"""A name whose picture is not seen."""


def _places(names: Sequence[str], width: int, letter: int) -> list[tuple[int, int, str]]:
    """Line, distance from the left, and the text of each name, broken into lines as words are."""
    face, gap = font(letter), 2 * letter
    line = x = 0
    found = []
    for name in names:
        text = shortened(name, face, width)
        wide = int(face.getlength(text))
        if x and x + wide > width:
            line, x = line + 1, 0
        found.append((line, x, text))
        x += wide + gap
    return found
