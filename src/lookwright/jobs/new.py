"""A look to start from."""

from __future__ import annotations

import os
from pathlib import Path

from lookwright.colour.spaces.encodings import encoding
from lookwright.errors import OutputError
from lookwright.files import write_text
from lookwright.look.recipe.formats import FORMAT
from lookwright.look.recipe.read import parse_look

from .job import job

STARTER = """\
# A look: a short list of steps from the camera's signal to the display's.
# 'lookwright show --step all' lists every step with its parameters, bounds and units.
format = {format}
title = "{title}"

[source]               # what the LUT must be fed with; 'lookwright encodings' lists the names
encoding = "{source}"

[output]               # what it gives
encoding = "{output}"

[[step]]
kind = "exposure"      # stops of light, before anything else
stops = 0.0

[[step]]
kind = "contrast"      # steeper about middle grey, eased off at both ends
slope = 1.08
toe = 0.3
shoulder = 0.3
luminance = 0.4        # colours gain only part of the contrast

[[step]]
kind = "split"         # hues gather at a warm and a cool pole; skin is held
warm = 60.0
cool = 225.0
pull = 0.2
cool_shadows = 0.01
warm_highlights = 0.006

[[step]]
kind = "saturation"    # a little less colour, denser where it is strong
amount = 0.96
highlights = 0.2
density = 0.15
{render}"""

RENDER = """
[[step]]
kind = "render"        # scene light to display light; use 'print' for a film print
grey = 38.3
"""


@job(file="look")
def new(
    file: Path, *, source: str = "ACEScct", output: str = "BT.1886", title: str | None = None, force: bool = False
) -> str:
    """Write a look to start from into ``file``, with a remark on every line, and return its text.

    An output that carries scene light gives a log-to-log look without a rendering.

    Raises
    ------
    OutputError
        When ``file`` is there already, unless ``force``, or cannot be written.
    NameLookupError
        For an encoding that is not known.
    """
    if os.path.lexists(file) and not force:
        raise OutputError(str(file), "already exists", hint="choose another name, or give --force")
    given, gives = encoding(source), encoding(output)
    name = (title or file.stem.replace("-", " ").replace("_", " ").capitalize()).replace("\\", "/").replace('"', "'")
    name = "".join(c for c in name if c.isprintable())[:120]  # the longest title a look may have
    rendering = RENDER if gives.kind == "display" else ""
    text = STARTER.format(format=FORMAT, title=name, source=given.name, output=gives.name, render=rendering)
    parse_look(text, str(file))
    write_text(file, text)
    return text
