"""Baking a look into a .cube, plainly or refined, with its error where there is something to judge it by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from lookwright.arrays import Array
from lookwright.errors import LutFileError
from lookwright.files import check_target
from lookwright.look.baking import bake as baking
from lookwright.look.recipe.pipeline import Pipeline, compile_look
from lookwright.lut.fit.fidelity import Report, certificate
from lookwright.lut.fit.refine import Refined, refine, report
from lookwright.lut.formats.cube import write_cube
from lookwright.lut.lattices.lattice import Lattice
from lookwright.lut.lattices.samples import sample_stills
from lookwright.outputs import Output
from lookwright.pictures.stills import find_stills

from .given import SignalName
from .job import job
from .looks import load_look, signal_of
from .names import camera_name
from .progress import SILENT, Progress, hundredths, part


@dataclass(frozen=True)
class Baked:
    """The file that was written."""

    file: Path
    size: int
    feed: str
    """The signal it must be fed, in words."""
    gives: str
    recipe_sha256: str
    accuracy: Report | None
    """How far lookups in it are from the exact look; None where that was not asked for."""
    refined: Refined | None
    """None for a lattice that was sampled plainly."""

    @property
    def usual_size(self) -> bool:
        """Whether every reader takes a LUT of this size."""
        return self.size in baking.SIZES


USUAL_SIZES = baking.SIZES
"""The sizes that every reader takes."""


@job(out=lambda given: _written(given["look"], given["out"], given["source"]))
def bake(
    look: Path,
    out: Path | None = None,
    *,
    size: int = 33,
    strength: float | None = None,
    source: SignalName | None = None,
    refined: bool = False,
    stills: Sequence[Path] = (),
    progress: Progress = SILENT,
) -> Baked:
    """Bake a look into a .cube file that says what to feed it and carries its own recipe.

    Parameters
    ----------
    out
        Ending in ``.cube``; None: the look's name, beside it, with that of the ``source`` where one is given.
    size
        Points on each side of the lattice, 2 to 129.
    strength
        0 to 1; None: as the look says.
    source
        In place of the look's own.
    refined
        Choose the values so that lookups between the points err less, most of all on ``stills``.
    stills
        Pictures, or folders of them, in the look's source signal; with them the error is measured too.

    Raises
    ------
    LookwrightError
        Before any long work, where the look or the target cannot be used.
    Cancelled
        Through ``progress``; ``out`` is as it was.
    """
    model, text = load_look(look, strength, source)
    target = _target(look, out, source)
    pipeline = baking.for_lut(compile_look(model))
    # Before the work, not after it.
    if target.suffix.lower() != ".cube":
        raise LutFileError(str(target), "the name does not end in .cube", hint="readers go by the ending")
    check_target(target)
    samples = read_samples(stills, progress) if stills else None
    lattice, accuracy, better = _lattice(pipeline, size, refined, samples, progress)
    made_by = better.made_by if better is not None else ""
    progress.check()
    write_cube(target, lattice, comments=baking.header(pipeline, text, made_by, certificate(accuracy or {})))
    return Baked(
        target,
        size,
        pipeline.source.describe(),
        pipeline.output.describe(),
        baking.recipe_hash(text),
        accuracy,
        better,
    )


def _written(look: Path, out: Path | None, source: SignalName | None) -> list[Output]:
    return [Output(_target(look, out, source), "cube")] if look.name else []


def _target(look: Path, out: Path | None, source: SignalName | None) -> Path:
    if out is not None:
        return out
    # A LUT for another camera does not take the place of the look's own.
    signal = signal_of(source)
    return look.with_name(f"{look.stem}{'' if signal is None else '-' + camera_name(signal)}.cube")


def read_samples(stills: Sequence[Path], progress: Progress = SILENT) -> Array:
    """(N, 3) pixels of the stills, evenly chosen."""
    paths = find_stills(stills)
    advance = part(progress, "reading stills", len(paths))
    return sample_stills(paths, progress=lambda done, total: advance(1))


def _lattice(
    pipeline: Pipeline, size: int, refined: bool, samples: Array | None, progress: Progress
) -> tuple[Lattice, Report | None, Refined | None]:
    """The lattice, its errors where they are known, and how it was refined."""
    step = hundredths(progress, "refining" if refined else "baking")
    if refined:
        better = refine(pipeline, size, samples, progress=step)
        return better.lattice, better.report, better
    lattice = baking.bake(pipeline, size, step)
    return lattice, None if samples is None else report(pipeline, lattice, samples), None
