"""Other looks made from a look's own text: another camera, for a monitor, log to log. Remarks in the text are kept.

They are texts, not only models, so that a LUT baked from one carries a recipe that is exactly what it is.

tomlkit is slow to import and needed only where a text is changed, so each function that does imports it.
"""

from __future__ import annotations

import contextlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from lookwright.colour.spaces.signal import Signal
from lookwright.errors import LookwrightError
from lookwright.look.steps.base import Step
from lookwright.look.steps.render import Render

from .model import Look, SignalText
from .read import parse_look
from .write import look_text, with_changes

_DISPLAY = {"encoding": "BT.1886"}
_RENDERING = '\n[[step]]\nkind = "render"\n'


@dataclass(frozen=True)
class Variant:
    """A look with the text it was read from."""

    look: Look
    text: str


@dataclass(frozen=True)
class LogVariant:
    """The log to log form of a look, or why there is none."""

    variant: Variant | None
    why_not: str = ""
    left_out: tuple[str, ...] = ()
    """Kinds of the steps that belong to the rendering, which is left to what comes after the LUT."""


def as_variant(text: str, folder: Path, where: str = "look") -> Variant:
    """Read ``text`` again; relative file names in it start at ``folder``."""
    return Variant(parse_look(text, where).with_folder(folder), text)


def at_strength(look: Look, text: str, strength: float) -> Variant:
    """The same look with the strength written into its text."""
    if strength == look.strength:
        return Variant(look, text)
    import tomlkit

    if "strength" in tomlkit.parse(text):
        return as_variant(with_changes(text, {("strength",): strength}), look.folder)
    return as_variant(f"strength = {strength:.6g}\n{text}", look.folder)


def with_signal(look: Look, text: str, side: Literal["source", "output"], signal: Signal) -> Variant:
    """The same look with another source or output, written into its text; the steps stay as they are."""
    import tomlkit

    words = _words(signal)
    if getattr(look, side).signal() == signal:
        return Variant(look, text)
    wanted = look.model_copy(update={side: SignalText.model_validate(words)})
    changed = with_changes(text, {(side, key): value for key, value in words.items()})
    document = tomlkit.parse(changed)
    table: Any = document[side]
    for key in ("primaries", "range"):
        if key not in words and key in table:
            del table[key]
    return _agreed(tomlkit.dumps(document), wanted)


def _words(signal: Signal) -> dict[str, str]:
    """The table of a signal, with what goes without saying left out."""
    words = {"encoding": signal.encoding.name}
    if signal.primaries.name != signal.encoding.primaries:
        words["primaries"] = signal.primaries.name
    return words | ({"range": signal.range} if signal.range != "full" else {})


def for_display(look: Look, text: str) -> Variant:
    """A look that gives display light: itself, or a log look with the plain rendering to BT.1886 after it."""
    if look.output.signal().kind == "display":
        return Variant(look, text)
    import tomlkit

    document = tomlkit.parse(text)
    document["output"] = _DISPLAY
    wanted = _changed(look, (*look.steps, Render()), _DISPLAY)
    return _agreed(tomlkit.dumps(document).rstrip("\n") + "\n" + _RENDERING, wanted)


def for_monitor(look: Look, text: str) -> Variant:
    """The display form of the look with legal range in and out."""
    shown = for_display(look, text)
    ranges: dict[tuple[str | int, ...], str] = {(key, "range"): "legal" for key in ("source", "output")}
    return as_variant(with_changes(shown.text, ranges), look.folder)


def log_to_log(look: Look, text: str) -> LogVariant:
    """The steps before the rendering, from the source signal back to the same signal."""
    import tomlkit
    from tomlkit.items import AoT

    source = look.source.signal()
    if source.kind != "scene":
        return LogVariant(None, f"the look is fed {source.encoding.name}, which carries display light, not scene light")
    if look.output.signal().kind == "scene":
        return LogVariant(None, "the look itself is log to log")
    cut = rendering_at(look)
    after = tuple(s.kind for s in look.steps[cut:] if s.on)
    if all(not s.on or s.is_neutral() for s in look.steps[:cut]):
        rendering = after[0] if after else "the output"
        return LogVariant(None, f"no step stands before the rendering ('{rendering}'): the whole look is in it", after)
    output = look.source.model_dump(exclude_none=True, exclude_defaults=True)
    document = tomlkit.parse(text)
    document["output"] = output
    if isinstance(document["step"], AoT):
        del document["step"][cut:]
    return LogVariant(_agreed(tomlkit.dumps(document), _changed(look, look.steps[:cut], output)), left_out=after)


def rendering_at(look: Look) -> int:
    """Index of the first step that makes display light; the number of steps where none does."""
    return next((i for i, s in enumerate(look.steps) if s.on and s.domains()[1] == "display"), len(look.steps))


def _changed(look: Look, steps: tuple[Step, ...], output: dict[str, str]) -> Look:
    return look.model_copy(update={"steps": steps, "output": SignalText.model_validate(output)})


def _agreed(text: str, wanted: Look) -> Variant:
    """``text`` where it says what is wanted; else a new text, without the remarks (steps may be written as a list
    on one line, or in several places)."""
    with contextlib.suppress(LookwrightError):
        found = as_variant(text, wanted.folder)
        if found.look == wanted:
            return found
    return as_variant(look_text(wanted), wanted.folder)
