"""A look told in pictures: one HTML file that needs nothing else, in the dress of the check's report."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from lookwright.arrays import Pixels
from lookwright.assess.restraint.subject import subject_of_look
from lookwright.files import write_text
from lookwright.look.baking.viewing import View
from lookwright.look.recipe.model import Look
from lookwright.pictures.stills import CodedStill, Still

from .canvas import fitted, from_image, to_image
from .look_curves import look_curves_svg
from .report_html import Pictures, data_address, page_environment, reduced
from .step_curves import step_curves
from .step_effects import Effect, Telling, difference_map, scale_for

WIDTH = 480
"""Of a picture of one step: three stand in a row."""
MOST_STILLS = 6
"""On one page: each step shows every still three times."""


@dataclass(frozen=True)
class Row:
    """One step on one still, as data addresses."""

    still: str
    before: str
    after: str
    where: str
    words: str
    plain: bool
    """Nothing changes on this still: one picture is enough."""


@dataclass(frozen=True)
class Part:
    """One step as the page tells it."""

    number: int
    kind: str
    words: str
    note: str
    on: bool
    rows: Sequence[Row]
    plots: Sequence[tuple[str, str]]


class LookPage(Pictures):
    """Takes stills one after the other, then is written."""

    def __init__(self, look: Look) -> None:
        """Raises :class:`RecipeError` for a look that cannot be compiled."""
        super().__init__(subject_of_look(look))
        self.look = look
        self.shown = View(look).look
        """With a rendering behind it where the look itself gives log."""
        self.telling = Telling(self.shown, len(look.steps))
        self.effects: list[tuple[str, list[Effect]]] = []

    def add(self, still: Still | CodedStill) -> None:
        """Grade one still, whole and step by step."""
        super().add(still)
        self.effects.append((still.path.stem, self.telling.effects(reduced(still.pixels, WIDTH))))

    @property
    def scale(self) -> float:
        """The difference that is white in every map."""
        return scale_for([e for _, effects in self.effects for e in effects])

    def html(self, check: Callable[[], None] = lambda: None) -> str:
        """The whole text of the file; ``check`` is asked between its parts whether to go on."""
        parts, scale = [], self.scale
        for index in range(len(self.look.steps)):
            check()
            parts.append(self._part(index, scale))
        return (
            page_environment()
            .get_template("look.html.jinja")
            .render(
                look=self.look,
                subject=self.subject,
                parts=parts,
                pairs=self.pairs,
                note=self.note,
                scale=scale,
                curves=_svg(look_curves_svg(self.shown)),
            )
        )

    def write(self, path: Path, check: Callable[[], None] = lambda: None) -> None:
        """Write the page, whole or not at all; raises :class:`OutputError` for a target that cannot be written."""
        write_text(path, self.html(check))

    def _part(self, index: int, scale: float) -> Part:
        step = self.look.steps[index]
        if not step.on:
            return Part(index + 1, step.kind, "is switched off", step.note, False, (), ())
        place = self.telling.places.index(index)
        rows = [self._row(name, effects[place], scale) for name, effects in self.effects]
        plots = [
            (_svg(plot.svg), plot.caption)
            for plot in step_curves(self.telling.paths[place], self.telling.paths[place + 1])
        ]
        words = (step if self.look.strength == 1.0 else step.scaled(self.look.strength)).in_words()
        return Part(index + 1, step.kind, words, step.note, True, rows, plots)

    def _row(self, still: str, effect: Effect, scale: float) -> Row:
        where = difference_map(effect, scale)
        words, plain = effect.sentence(), effect.unseen
        before, after = (self._address(from_image(fitted(to_image(p), WIDTH))) for p in (effect.before, effect.after))
        return Row(still, before, after, _grey(where), words, plain)


def _grey(codes: Pixels) -> str:
    """A map of greys as a data address: without a profile, since it is no picture of anything."""
    from PIL import Image

    stream = io.BytesIO()
    fitted(Image.fromarray(codes), WIDTH).save(stream, "JPEG", quality=88)
    return data_address("jpeg", stream.getvalue())


def _svg(text: str) -> str:
    return data_address("svg+xml", text.encode())
