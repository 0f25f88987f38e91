"""The shots of an episode in an OpenColorIO configuration: a context variable picks the ASC CDL of one.

All corrections stand in one ``.ccc``: a thousand load in hundredths of a second, as a thousand ``.cc`` files they take
more than one (measured with OpenColorIO 2.6).
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from .cdl import Correction, write_cdl

VARIABLE = "SHOT"
"""The context variable; its value is the id of a shot."""
MATCH = "Shot match"
"""What the look is called that applies a shot's correction."""
COLLECTION = "series.ccc"


def add_shots(config: Any, luts: Path, space: str, signal: str, corrections: Sequence[Correction]) -> None:
    """Write the collection into ``luts``, and give the configuration the look that applies one of it in ``space``.

    ``signal`` says in words what that is.
    """
    import PyOpenColorIO as ocio

    write_cdl(luts / COLLECTION, corrections)
    config.addEnvironmentVar(VARIABLE, corrections[0].id)
    config.setEnvironmentMode(ocio.ENV_ENVIRONMENT_LOAD_PREDEFINED)
    transform = ocio.FileTransform(COLLECTION, cccId=f"${VARIABLE}")
    transform.setCDLStyle(ocio.CDL_NO_CLAMP)
    words = f"The ASC CDL of the shot that {VARIABLE} names, in {signal}, not clamped"
    config.addLook(ocio.Look(name=MATCH, processSpace=space, transform=transform, description=words))
