"""An OpenColorIO configuration for an episode: one look, and a context variable that picks the shot's ASC CDL under it.

All corrections stand in one ``.ccc``: a thousand load in hundredths of a second, as a thousand ``.cc`` files they take
more than one (measured with OpenColorIO 2.6).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import LutFileError
from lookwright.files import write_text
from lookwright.lut.lattices.processor import through_processor

from .cdl import Correction, write_cdl
from .ocio_config import Names, Part, read_back, view_transform, write_config
from .verify import probes

VARIABLE = "SHOT"
"""The context variable; its value is the id of a shot."""
MATCH = "Shot match"
"""What the look is called that applies a shot's correction."""
COLLECTION = "series.ccc"


@dataclass(frozen=True)
class SeriesNames:
    """What the parts of a written configuration are called."""

    config: Names
    as_shot: str
    """The view of the look without a shot's correction."""


def write_series_config(
    folder: Path,
    source: Signal,
    output: Signal,
    graded: Part,
    plain: Part,
    corrections: Sequence[Correction],
    title: str = "",
) -> SeriesNames:
    """Write ``config.ocio``, its ``luts`` and ``luts/series.ccc`` into ``folder``.

    Parameters
    ----------
    source, output, graded, plain, title
        As :func:`lookwright.lut.formats.ocio_config.write_config`.
    corrections
        In ``source``, each with a shot's name as its id. The first is what a host that sets no shot gets.

    Raises
    ------
    LutFileError
        When OpenColorIO does not accept the configuration.
    OutputError
        When a file cannot be written.
    """
    import PyOpenColorIO as ocio

    names = write_config(folder, source, output, graded, plain, title=title)
    write_cdl(folder / "luts" / COLLECTION, corrections)
    found = SeriesNames(names, f"{names.view} as shot")
    try:
        config = read_back(folder)
        config.addEnvironmentVar(VARIABLE, corrections[0].id)
        config.setEnvironmentMode(ocio.ENV_ENVIRONMENT_LOAD_PREDEFINED)
        transform = ocio.FileTransform(COLLECTION, cccId=f"${VARIABLE}")
        transform.setCDLStyle(ocio.CDL_NO_CLAMP)
        words = f"The ASC CDL of the shot that {VARIABLE} names, in {source.describe()}, not clamped"
        config.addLook(ocio.Look(name=MATCH, processSpace=names.source, transform=transform, description=words))
        _add_views(config, found)
        config.validate()
        write_text(folder / "config.ocio", config.serialize())
        read_back(folder)
    except ocio.Exception as exc:
        raise LutFileError(str(folder), f"OpenColorIO does not accept the configuration: {exc}") from None
    return found


def _add_views(config: Any, names: SeriesNames) -> None:
    """The views that match the shot first; beside them the look as it is without."""
    display = names.config.display
    for view in (names.config.view, names.config.plain_view):
        space = config.getDisplayViewColorSpaceName(display, view)
        config.addDisplayView(display, view, space, looks=MATCH)
    config.addDisplayView(display, names.as_shot, config.getDisplayViewColorSpaceName(display, names.config.view))


def processor_of(config: Any, names: SeriesNames, shot: str) -> Any:
    """From the source space to the view under one shot's correction, as a host with that context asks for it."""
    import copy

    import PyOpenColorIO as ocio

    context = copy.deepcopy(config.getCurrentContext())
    context.setStringVar(VARIABLE, shot)
    return config.getProcessor(context, view_transform(names.config), ocio.TRANSFORM_DIR_FORWARD)


def verify_series_config(
    folder: Path, names: SeriesNames, expected: Callable[[Correction, Array], Array], corrections: Sequence[Correction]
) -> float:
    """Load a configuration, compare its view under some shots' corrections with ``expected``; the largest difference.

    Where the look's source carries more than 0..1, colours beyond are not compared: a lattice ends there.

    Raises :class:`LutFileError` when OpenColorIO does not load it, or differs by more than 1e-4.
    """
    import PyOpenColorIO as ocio

    points = probes()
    worst = 0.0
    try:
        config = read_back(folder)
        for correction in corrections:
            processor = processor_of(config, names, correction.id).getOptimizedCPUProcessor(
                ocio.BIT_DEPTH_F32, ocio.BIT_DEPTH_F32, ocio.OPTIMIZATION_LOSSLESS
            )
            found = through_processor(processor, points)
            worst = max(worst, float(np.abs(found - expected(correction, points)).max()))
    except ocio.Exception as exc:
        raise LutFileError(str(folder), f"OpenColorIO does not load it: {exc}") from None
    if not worst <= MOST:
        raise LutFileError(str(folder), f"OpenColorIO reads it with an error of {worst:.2g}", f"at most {MOST:g}")
    return worst


MOST = 1e-4
"""Largest difference of signal: between the correction and the look lie a decoding and its inverse in 32 bits."""
