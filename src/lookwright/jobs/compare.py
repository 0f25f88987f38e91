"""Forms of a look beside one another: on one sheet, or in turns as a moving picture."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from lookwright.arrays import Pixels
from lookwright.errors import PictureError, WrongUse
from lookwright.files import new_folder
from lookwright.look.baking.viewing import View
from lookwright.names import Names
from lookwright.outputs import Output
from lookwright.pictures.stills import Still, profile_for, read
from lookwright.pictures.stills.moving import write_moving
from lookwright.present.sheets.layouts import Frame, beside
from lookwright.present.sheets.report_html import as_srgb, reduced
from lookwright.present.sheets.turns import in_turns

from .forms import Form
from .grading import Layout, Suffix
from .job import declare
from .pictures import GRADED, described, save, thumbnail
from .progress import Progress, part

SHEET_WIDTH, TURNS_WIDTH = 640, 960
"""Widths of a picture: on a sheet three or four stand in a row; a moving one has to go into a message."""
GIF_WIDTH = 640
"""Of a GIF: two pictures of this width take 4 MB, where a WebP of the larger one takes .3."""

FRAMES = 36
"""Pictures on one sheet; more make further sheets."""


Shown = tuple[Path, list[tuple[str, Pixels]]]
"""A still, and each of its forms under its label."""


def suffix_for(layout: Layout, suffix: Suffix | None) -> Suffix:
    """The one asked for, or the layout's own; raises :class:`WrongUse` for one that it cannot have."""
    if layout != "turns":
        if suffix == "gif":
            raise WrongUse("--format gif is for --layout turns")
        return suffix or "jpg"
    if suffix not in (None, "webp", "gif"):
        raise WrongUse(f"--format {suffix} cannot hold a moving picture; webp or gif can")
    return suffix or "webp"


@dataclass
class Compared:
    """What came of it."""

    written: list[Path] = field(default_factory=list)
    faults: list[PictureError] = field(default_factory=list)


@dataclass(frozen=True)
class Comparison:
    """What stands beside one another, and where it goes."""

    name: str
    """First part of the files' names."""
    heading: str
    forms: Sequence[Form]
    layout: Literal["variants", "turns"]
    suffix: Suffix
    out: Path
    hold: float
    """Seconds."""
    notice: Callable[[Still], None]

    @property
    def width(self) -> int:
        """Of a picture."""
        if self.layout == "variants":
            return SHEET_WIDTH
        return GIF_WIDTH if self.suffix == "gif" else TURNS_WIDTH

    @property
    def first(self) -> View:
        """The view whose plain rendering stands before all."""
        return self.forms[0].view

    def write(self, inputs: Sequence[Any], paths: Sequence[Path], names: Names, progress: Progress) -> Compared:
        """Everything; ``inputs`` are what is read, which is not written over.

        A still that cannot be read is a fault, and the rest are done; raises it where none can.
        """
        files = self._turns(paths, names) if self.layout == "turns" else self._sheets(paths)
        declare(inputs, [Output(target, "picture") for target in files])
        made = Compared()
        advance = part(progress, "grading", len(paths))
        with new_folder(self.out):
            for target, page in files.items():
                shown = list(self._shown(page, made, advance))
                if shown:
                    (self._write_turns if self.layout == "turns" else self._write_sheet)(target, shown)
                    made.written.append(target)
            if made.faults and not made.written:
                raise made.faults[0]
        return made

    def _sheets(self, paths: Sequence[Path]) -> dict[Path, Sequence[Path]]:
        """Each sheet with its stills, a row or more for each."""
        rows = max(1, FRAMES // (len(self.forms) + 1))
        pages = [paths[i : i + rows] for i in range(0, len(paths), rows)]
        numbered = [f"-{n}" for n in range(1, len(pages) + 1)] if len(pages) > 1 else [""]
        files = [self.out / f"{self.name}-variants{n}.{self.suffix}" for n in numbered]
        return dict(zip(files, pages, strict=True))

    def _turns(self, paths: Sequence[Path], names: Names) -> dict[Path, Sequence[Path]]:
        """Each moving picture with its one still."""
        return {self.out / names.of(p.stem, f"-{self.name}-turns.{self.suffix}"): [p] for p in paths}

    def _write_sheet(self, target: Path, shown: Sequence[Shown]) -> None:
        rows = [
            [Frame(pixels, label if i else f"{path.stem}: {label}") for i, (label, pixels) in enumerate(forms)]
            for path, forms in shown
        ]
        output = self.first.output.describe()
        save(target, beside(rows, f"{self.heading}: {output}" if self.heading else output, self.width), self.first)

    def _write_turns(self, target: Path, shown: Sequence[Shown]) -> None:
        ((path, forms),) = shown
        output = self.first.output
        icc, text = described(self.first)
        heading = f"{path.stem}: {output.encoding.name}"
        if icc is None or output.range != "full":  # it goes to people, who look at it in a browser
            forms = [(label, as_srgb(pixels, output)) for label, pixels in forms]
            icc = profile_for("sRGB")
            heading += ", shown as sRGB, cut at reference white"
        frames = [Frame(pixels, label) for label, pixels in forms]
        film = in_turns(frames, heading, round(1000 * self.hold), self.width)
        write_moving(target, ((f.image, f.ms) for f in film), icc=icc, description=text, software=GRADED)

    def _shown(self, paths: Sequence[Path], made: Compared, advance: Callable[[int], None]) -> Iterator[Shown]:
        """Each still plain and in every form, small."""
        for path in paths:
            try:
                still = read(path)
            except PictureError as fault:
                made.faults.append(fault)
                advance(1)
                continue
            self.notice(still)
            small = reduced(still.pixels, self.width)
            shown = [("plain rendering", self.first.plain(small, no_nan=True))]
            shown += [(form.label, form.view.graded(small, no_nan=True)) for form in self.forms]
            advance(1)
            yield path, [(label, thumbnail(pixels, self.width)) for label, pixels in shown]
