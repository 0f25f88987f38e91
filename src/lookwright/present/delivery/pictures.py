"""The pictures on a card: a few stills before and after, small, as the delivered LUT shows them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from lookwright.arrays import Pixels
from lookwright.assess.restraint.subject import subject_of_look
from lookwright.look.baking.viewing import View
from lookwright.pictures.stills import Still
from lookwright.present.sheets.canvas import fitted, from_image, to_image
from lookwright.present.sheets.report_html import Pictures, reduced

MOST = 3
"""Stills on a card; all of them are on the sheet beside it."""
WIDTH = 320
"""Of a picture: six of them are about 100 kB, and stand in one row across a printed card."""


@dataclass(frozen=True)
class CardPair:
    """One still plainly rendered and graded, as data addresses."""

    name: str
    before: str
    after: str


class _Small(Pictures):
    def pair(self, still: Still) -> CardPair:
        small = reduced(still.pixels, WIDTH)
        before, after = self.subject.plain_picture(small), self.subject.graded_picture(small)
        return CardPair(still.path.stem, self._at_width(before), self._at_width(after))

    def _at_width(self, pixels: Pixels) -> str:
        return self._address(from_image(fitted(to_image(pixels), WIDTH)))


def card_pairs(view: View, stills: Iterable[Still]) -> Sequence[CardPair]:
    """Before and after of each still; ``view`` looks through the delivered lattice."""
    small = _Small(replace(subject_of_look(view.look), graded_picture=view.graded, plain_picture=view.plain))
    return [small.pair(still) for still in stills]


def chosen(count: int) -> list[int]:
    """Places of at most :data:`MOST` of ``count`` stills, evenly over them: neighbours are often the same shot."""
    if count <= MOST:
        return list(range(count))
    return [round(i * (count - 1) / (MOST - 1)) for i in range(MOST)]
