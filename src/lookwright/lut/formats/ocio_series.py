"""A configuration for an episode read again by OpenColorIO, shot by shot."""

from __future__ import annotations

import copy
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from lookwright.arrays import Array
from lookwright.errors import LutFileError
from lookwright.lut.lattices.processor import through_processor

from .cdl import Correction
from .ocio_config import Names, read_back, view_transform
from .ocio_shots import VARIABLE
from .verify import probes


def processor_of(config: Any, names: Names, shot: str) -> Any:
    """From the source space to the view under one shot's correction, as a host with that context asks for it."""
    import PyOpenColorIO as ocio

    context = copy.deepcopy(config.getCurrentContext())
    context.setStringVar(VARIABLE, shot)
    return config.getProcessor(context, view_transform(names), ocio.TRANSFORM_DIR_FORWARD)


def verify_series_config(
    folder: Path, names: Names, expected: Callable[[Correction, Array], Array], corrections: Sequence[Correction]
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
