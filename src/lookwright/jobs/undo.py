"""Taking graded pictures back to what they were shot in: the inverse of a look or a LUT, where there is one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from lookwright.colour.spaces.signal import Signal
from lookwright.errors import LookwrightError, OutputError, WrongUse
from lookwright.files import check_target
from lookwright.look.baking.bake import for_lut
from lookwright.look.recipe.pipeline import compile_look
from lookwright.lut.fit.threads import on_threads
from lookwright.lut.formats.cube import write_cube
from lookwright.lut.lattices.lattice import check_size
from lookwright.outputs import Output
from lookwright.pictures.stills import find_stills, read, write
from lookwright.solve.undo.fitted import lattice_of
from lookwright.solve.undo.inverse import EXACT, STEEPEST, Inverse
from lookwright.solve.undo.volume import Volume, volume_of

from .given import SignalName
from .job import job
from .luts import load_look_or_lut
from .progress import SILENT, Progress


@dataclass(frozen=True)
class UndoneStill:
    """A picture taken back."""

    file: Path
    mask: Path | None
    """White where the picture could be taken back, black where not; None where all of it could."""
    share: float
    """Of its pixels that could be taken back."""


@dataclass(frozen=True)
class Undone:
    """What was written, and which colours can be undone."""

    file: Path
    source: Signal
    output: Signal
    volume: Volume
    stills: tuple[UndoneStill, ...]

    def words(self) -> list[str]:
        """What can be undone and what not, line by line."""
        v = self.volume

        def share(x: float) -> str:
            return f"{100 * x:.1f} %"

        said = [
            f"{share(v.natural)} of natural colours can be undone, and {share(v.cube)} of the whole cube of "
            f"{self.source.encoding.name}."
        ]
        lost = [
            f"{share(x)} {why}"
            for x, why in (
                (v.clipped, "are clipped at black or peak"),
                (v.pressed, f"are pressed together (a code for more than {STEEPEST:g}) or were not found"),
                (v.double, "share their output with another colour"),
            )
            if x >= 0.0005
        ]
        if lost:
            said.append("Of natural colours " + ", ".join(lost) + ".")
        said.append(
            f"The LUT errs by {v.lattice_mean:.1f} 10-bit codes in the mean, 99 % under {v.lattice_p99:.1f}, on those "
            f"that can be undone (graded again: {v.again_mean:.1f} and {v.again_p99:.1f} codes off); {share(v.nodes)} "
            f"of its points are exact to {EXACT:g}, and the others, which no colour or more than one gives, are fitted."
        )
        for still in self.stills:
            where = f"; {still.mask.name} is black where not" if still.mask else ""
            said.append(f"{still.file.name}: {share(still.share)} of the pixels taken back, exact to {EXACT:g}{where}.")
        return said

    def to_dict(self) -> dict[str, Any]:
        """All figures, ready for JSON."""
        stills = [
            {"file": str(s.file), "mask": None if s.mask is None else str(s.mask), "share": s.share}
            for s in self.stills
        ]
        return {"file": str(self.file), **asdict(self.volume), "stills": stills, "words": " ".join(self.words())}


def _pictures(given: Any) -> list[Output]:
    folder = given["pictures"]
    if folder is None:
        return []
    try:
        stills = find_stills(list(given["graded"]))
    except LookwrightError:  # said when they are read
        return []
    return [Output(p, "picture") for still in stills for p in _names(folder, still)]


def _names(folder: Path, still: Path) -> tuple[Path, Path]:
    return folder / f"{still.stem}-undone.png", folder / f"{still.stem}-undone-mask.png"


@job(out="cube", pictures=_pictures)
def undo(
    look: Path,
    out: Path,
    graded: Sequence[Path] = (),
    pictures: Path | None = None,
    *,
    source: SignalName | None = None,
    output: SignalName | None = None,
    size: int = 33,
    progress: Progress = SILENT,
) -> Undone:
    """Write the LUT that undoes a look or a LUT, and take graded stills back pixel by pixel.

    Parameters
    ----------
    look
        A look, or any LUT file; for that of others ``source`` and ``output`` say what it is fed and gives.
    out
        The .cube to write: from the look's output to its source.
    graded, pictures
        Graded pictures in the look's output encoding, and the folder that they are written to in its source encoding,
        16 bits deep, each with a mask where parts of it cannot be undone.
    size
        Points on each side of the LUT.

    Raises
    ------
    WrongUse
        For stills without a folder, or a folder without stills.
    LookwrightError
        For files that cannot be read or written.
    Cancelled
        Through ``progress``.
    """
    if bool(graded) != (pictures is not None):
        raise WrongUse("--graded and --pictures belong together: graded stills, and the folder they are taken back to")
    if out.suffix.lower() != ".cube":
        raise OutputError(str(out), "the name does not end in .cube", hint="the LUT that undoes the look")
    check_size(size, "--size")
    check_target(out)
    model, _ = load_look_or_lut(look, source, output)
    pipeline = for_lut(compile_look(model))
    found = find_stills(list(graded)) if graded else []
    progress.start("undoing", 2 + len(found))
    inverse = Inverse(pipeline.run)
    with on_threads(None) as run:
        lattice, nodes = lattice_of(pipeline.run, inverse, pipeline.source, size, run)
    progress.advance()
    progress.check()
    volume = volume_of(pipeline.run, inverse, pipeline.source, lattice, nodes)
    progress.advance()
    progress.check()
    comments = [
        f"Undoes {look.name}: from its output back to its source",
        f"Feed it: {pipeline.output.describe()}",
        f"It gives: {pipeline.source.describe()}",
        f"Can be undone: {100 * volume.natural:.1f} % of natural colours, {100 * volume.cube:.1f} % of the cube",
        f"Exact to {EXACT:g} at {100 * nodes:.1f} % of its points; the others, given by none or by many, are fitted",
    ]
    done = []
    for still in found:
        assert pictures is not None
        done.append(_still(inverse, still, pictures, progress))
        progress.advance()
        progress.check()
    write_cube(out, lattice, title=f"{model.title or look.stem}: undone"[:120], comments=comments)
    return Undone(out, pipeline.source, pipeline.output, volume, tuple(done))


def _still(inverse: Inverse, still: Path, folder: Path, progress: Progress) -> UndoneStill:
    pixels = read(still).pixels
    # A picture has far fewer colours than pixels; 16 bits are finer than any graded picture is exact.
    codes = np.round(np.clip(pixels.reshape(-1, 3), 0.0, 1.0) * 65535.0).astype(np.int64)
    key, place = np.unique((codes[:, 0] << 32) | (codes[:, 1] << 16) | codes[:, 2], return_inverse=True)
    wanted = np.stack([key >> 32, (key >> 16) & 65535, key & 65535], axis=1) / 65535.0
    back = inverse(wanted, progress.check)
    file, mask = _names(folder, still)
    folder.mkdir(parents=True, exist_ok=True)
    place = place.reshape(-1)
    write(file, back.source[place].reshape(pixels.shape).astype(np.float32), depth="16")
    known = back.known[place].reshape(pixels.shape[:2])
    if known.all():
        return UndoneStill(file, None, 1.0)
    write(mask, np.repeat(known[..., None].astype(np.float32), 3, axis=2), depth="8")
    return UndoneStill(file, mask, float(known.mean()))
