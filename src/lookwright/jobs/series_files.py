"""What a matched series is handed on as: CDLs, LUTs, the timeline, and an OpenColorIO configuration."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from lookwright.arrays import Array
from lookwright.files import make_folder, write_bytes, write_text
from lookwright.look.baking.bake import bake, for_lut
from lookwright.look.baking.shot_lut import shot_lut
from lookwright.look.baking.viewing import View
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.pipeline import compile_look
from lookwright.lut.formats.cdl import Correction, write_cdl
from lookwright.lut.formats.cube import write_cube
from lookwright.lut.formats.edl_cdl import with_corrections
from lookwright.lut.formats.ocio_config import Part, write_config
from lookwright.lut.formats.ocio_series import verify_series_config
from lookwright.lut.formats.ocio_shots import COLLECTION, VARIABLE
from lookwright.lut.formats.otio_cdl import EventPart, mark, with_metadata
from lookwright.lut.formats.verify import verify_correction, verify_file
from lookwright.lut.lattices.interpolate import lookup
from lookwright.outputs import Output
from lookwright.pictures.timelines.edl import as_text, misread
from lookwright.pictures.timelines.library import timeline_library
from lookwright.pictures.timelines.read import timeline_text

from .progress import SILENT, Progress, part

CDLS, CUBES, CONFIG = "cdl", "cube", "ocio"
"""Folders within the result."""

CHECKED = 8
"""Shots of a configuration that are compared with what was meant; all of them are loaded."""


@dataclass(frozen=True)
class Handed:
    """Which forms are wanted besides the collection and one ``.cdl`` a shot."""

    cubes: bool = False
    config: bool = False
    size: int = 33


@dataclass
class HandedOn:
    """What was written."""

    files: list[Path] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    """What is to be known of them, a sentence each."""
    cubes: dict[str, Path] = field(default_factory=dict)
    """By name of a shot."""


def shot_files(out: Path, names: Iterable[str], handed: Handed) -> list[Output]:
    """What :func:`write_shots` will write."""
    names = list(names)
    written = [Output(out / CDLS / f"{name}.cdl", "cdl") for name in names]
    if handed.cubes:
        written += [Output(out / CUBES / f"{name}.cube", "cube") for name in names]
    if handed.config:
        luts = out / CONFIG / "luts"
        written += [Output(luts / f, "clf") for f in ("graded.clf", "plain.clf", "source-to-light.clf")]
        written += [Output(luts / COLLECTION, "cdl"), Output(out / CONFIG / "config.ocio", "text")]
    return written


def timeline_files(out: Path, timeline: Path | None) -> list[Output]:
    """What :func:`write_timeline` will write."""
    if timeline is None:
        return []
    own = Output(out / timeline.name, "text" if timeline.suffix.lower() == ".edl" else "json")
    return [own] if own.kind == "json" else [own, Output((out / timeline.name).with_suffix(".otio"), "json")]


def write_shots(
    out: Path,
    look: Look,
    recipe: str,
    view: View,
    corrections: Sequence[Correction],
    handed: Handed,
    progress: Progress = SILENT,
) -> HandedOn:
    """One ``.cdl`` a shot, and where wanted one ``.cube`` a shot and a configuration; each read again by OpenColorIO.

    Parameters
    ----------
    recipe
        The exact text of ``look``.
    corrections
        One a shot, its id a name that files can have.
    """
    done = HandedOn()
    pipeline = for_lut(compile_look(look))
    make_folder(out / CDLS)
    if handed.cubes:
        make_folder(out / CUBES)
    # Without LUTs it is a moment's work, and belongs to the report that was just written: together or not at all.
    advance = part(progress if handed.cubes else SILENT, "writing shots", len(corrections))
    for correction in corrections:
        path = out / CDLS / f"{correction.id}.cdl"
        write_cdl(path, [correction])
        verify_correction(path, correction)
        done.files.append(path)
        if handed.cubes:
            lattice = shot_lut(pipeline, correction, recipe, handed.size)
            path = out / CUBES / f"{correction.id}.cube"
            write_cube(path, lattice)
            verify_file(path, lambda x, lattice=lattice: lookup(lattice, x))  # type: ignore[misc]
            done.files.append(path)
            done.cubes[correction.id] = path
        advance(1)
    if handed.config and corrections:
        _config(done, out / CONFIG, view, corrections, handed.size)
    return done


def _config(done: HandedOn, folder: Path, view: View, corrections: Sequence[Correction], size: int) -> None:
    pipeline = view.pipeline
    lattice, plain = bake(pipeline, size), bake(compile_look(view.look.plain()), size)
    title = view.look.title or "Look"
    names = write_config(
        folder, pipeline.source, pipeline.output, Part(lattice), Part(plain), title=title, corrections=corrections
    )

    def expected(correction: Correction, signal: Array) -> Array:
        return lookup(lattice, np.asarray(correction(signal)))

    chosen = corrections[:: max(1, len(corrections) // CHECKED)]
    worst = verify_series_config(folder, names, expected, chosen)
    done.files += sorted(p for p in folder.rglob("*") if p.is_file())
    done.notes.append(
        f"{folder.name}/config.ocio: pictures are '{names.source}', the display is '{names.display}', "
        f"the view '{names.view}'; the context variable {VARIABLE} names the shot, such as {corrections[0].id} "
        f"(read again by OpenColorIO, largest difference {worst:.1g})"
    )


def write_timeline(
    out: Path,
    timeline: Path,
    corrections: Mapping[int, Correction],
    parts: Mapping[int, Sequence[EventPart]] | None = None,
) -> HandedOn:
    """The user's timeline with the CDLs of its events.

    An EDL keeps its text, but for the CDL lines, and is read again by OpenTimelineIO, which also makes an ``.otio`` of
    it; a note says where that reader finds something else.

    Parameters
    ----------
    corrections
        By the place of the event among the picture events, from 0.
    parts
        By the same place, the parts of events whose light changes on the way. An event has room for one CDL: it has
        that of ``corrections``. Where the others begin an .otio gets markers, and a note tells it.
    """
    done = HandedOn()
    parts = parts or {}
    text = timeline_text(timeline)
    target = out / timeline.name
    if timeline.suffix.lower() != ".edl":
        write_text(target, with_metadata(text, str(timeline), corrections, parts))
        done.files.append(target)
        done.notes += _cut_events(
            timeline.name, corrections, parts, "markers stand there, with the CDLs of their parts"
        )
        return done
    marked = with_corrections(text, corrections)
    write_bytes(target, marked.text.encode("latin-1"))
    done.files.append(target)
    if marked.replaced:
        done.notes.append(f"{timeline.name}: {marked.replaced} events had CDL values of their own, which were replaced")
    done.notes += _cut_events(timeline.name, corrections, parts, "cut the event there for those of its other parts")
    _as_otio(done, target, marked.text, corrections, parts)
    return done


def _cut_events(
    name: str, corrections: Mapping[int, Correction], parts: Mapping[int, Sequence[EventPart]], what: str
) -> Iterator[str]:
    """For each event whose light changes, what its one CDL is, and what to do."""
    for place, own in parts.items():
        one = f"has the CDL of {corrections[place].id}, its longest part" if place in corrections else "has none"
        at = " and ".join(f"{p.seconds:.2f} s in ({p.name})" for p in own[1:])
        yield f"{name}: picture event {place + 1} {one}, since it has room for one; its light changes {at}: {what}"


def _as_otio(
    done: HandedOn,
    edl: Path,
    text: str,
    corrections: Mapping[int, Correction],
    parts: Mapping[int, Sequence[EventPart]],
) -> None:
    """The same as OpenTimelineIO reads it, where it reads it as it is."""
    otio = timeline_library()
    reason = misread(text)
    try:
        found = None if reason else otio.adapters.read_from_string(as_text(text), "cmx_3600")
        clips = [c for c in found.find_clips() if "cdl" in c.metadata] if found is not None else []
    except Exception as exc:  # the adapter raises what comes
        found, reason = None, " ".join(str(exc).split())[:160]
    if found is not None and not _same([c.metadata["cdl"] for c in clips], corrections):
        found, reason = None, "it finds other values"
    if found is None:
        done.notes.append(f"{edl.name}: no .otio was made of it, since its EDL reader would get it wrong: {reason}")
        return
    for place, clip in zip(sorted(corrections), clips, strict=True):
        mark(clip, parts.get(place, ()))
    written = otio.adapters.write_to_string(found, "otio_json")
    target = edl.with_suffix(".otio")
    write_text(target, written + "\n")
    done.files.append(target)


def _same(read: Sequence[Mapping[str, object]], corrections: Mapping[int, Correction]) -> bool:
    """Whether the values of a list, in its order, are those that were written."""
    wanted = [corrections[place] for place in sorted(corrections)]
    if len(read) != len(wanted):
        return False
    for values, correction in zip(read, wanted, strict=True):
        sop = values["asc_sop"]
        assert hasattr(sop, "__getitem__")
        numbers = [*sop["slope"], *sop["offset"], *sop["power"], values["asc_sat"]]
        own = [*correction.slope, *correction.offset, *correction.power, correction.saturation]
        if not np.allclose(np.array(numbers, float), own, rtol=0, atol=1e-6):
            return False
    return True
