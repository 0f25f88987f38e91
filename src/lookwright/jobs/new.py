"""A look to start from."""

from __future__ import annotations

import os
from pathlib import Path

from lookwright.files import check_new, write_text
from lookwright.look.recipe.formats import FORMAT
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.variants import Variant, as_variant, with_signal
from lookwright.look.recipe.write import with_changes

from .given import SignalName
from .job import job
from .looks import load_look, signal_of

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


_SOURCE, _OUTPUT = SignalName("ACEScct"), SignalName("BT.1886")
"""Of a new look for which nothing is said."""


@job(file="look")
def new(
    file: Path,
    *,
    model: Path | None = None,
    source: SignalName | None = None,
    output: SignalName | None = None,
    title: str | None = None,
    force: bool = False,
) -> str:
    """Write a look to start from into ``file``, with a remark on every line, and return its text.

    Parameters
    ----------
    model
        A look that the new one takes everything from, remarks too, but what is said here.
    source, output
        None: those of ``model``, else ACEScct and BT.1886. An output that carries scene light gives a log-to-log look
        without a rendering.

    Raises
    ------
    OutputError
        When ``file`` is there already, unless ``force``, or cannot be written.
    NameLookupError
        For a signal that is not known.
    RecipeError
        For a ``model`` whose steps do not lead from that source to that output.
    """
    check_new(file, force)
    made = _starter(file, source, output, title) if model is None else _from(model, file, source, output, title)
    write_text(file, made.text)
    return made.text


def _starter(file: Path, source: SignalName | None, output: SignalName | None, title: str | None) -> Variant:
    given, gives = signal_of(source or _SOURCE), signal_of(output or _OUTPUT)
    assert given is not None and gives is not None
    name = _title(title or file.stem.replace("-", " ").replace("_", " ").capitalize())
    # Encodings with primaries of their own first: the signals with all that was said of them come after.
    text = STARTER.format(
        format=FORMAT,
        title=name,
        source=_SOURCE.encoding,
        output=(_OUTPUT if gives.kind == "display" else _SOURCE).encoding,
        render=RENDER if gives.kind == "display" else "",
    )
    made = as_variant(text, file.parent, str(file))
    made = with_signal(made.look, made.text, "source", given)
    return with_signal(made.look, made.text, "output", gives)


def _from(model: Path, file: Path, source: SignalName | None, output: SignalName | None, title: str | None) -> Variant:
    made = Variant(*load_look(model, source=source))
    if (gives := signal_of(output)) is not None:
        made = with_signal(made.look, made.text, "output", gives)
    compile_look(made.look)  # whether its steps lead to that output
    changes: dict[tuple[str | int, ...], str] = {}
    if title is not None:
        changes["title",] = _title(title)
        if not made.look.title:  # a new key at the top comes before every table
            made = Variant(made.look, f'title = ""\n{made.text}')
    if file.parent.resolve() != model.parent.resolve():  # LUTs are named from where the look lies
        for i, step in enumerate(made.look.steps):
            if name := getattr(step, "file", ""):
                changes["step", i, "file"] = Path(os.path.relpath(model.parent / name, file.parent)).as_posix()
    return as_variant(with_changes(made.text, changes), file.parent, str(file)) if changes else made


def _title(text: str) -> str:
    """One that TOML takes between quotes, and a look as its title."""
    name = text.replace("\\", "/").replace('"', "'")
    return "".join(c for c in name if c.isprintable())[:120]  # the longest title a look may have
