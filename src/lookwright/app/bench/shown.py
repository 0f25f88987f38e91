"""What the browser can show of a look: its output signal, or the nearest thing a screen takes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from lookwright.colour.spaces.signal import Signal
from lookwright.look.recipe.model import Look, SignalText
from lookwright.look.steps import registry
from lookwright.look.steps.base import Op


@dataclass(frozen=True)
class Screen:
    """How a look is brought to the page."""

    signal: Signal
    """What the page shows and the scopes read."""
    space: str
    """Colour space of the canvas: ``srgb`` or ``display-p3``."""
    after: tuple[Op, ...]
    """From the look's output to that signal; empty when they are the same."""
    note: str
    """What was changed for the screen, in words; empty when nothing was."""


def shown_look(look: Look) -> tuple[Look, str]:
    """A look that ends in scene light, with the plain rendering behind it (as previews show it); others unchanged."""
    if look.output.signal().kind != "scene":
        return look, ""
    known = registry()
    steps = (*look.steps, known["render"](kind="render"))
    shown = look.model_copy(update={"steps": steps, "output": SignalText(encoding="BT.1886")})
    return shown.with_folder(look.folder), "Log look, shown through the plain rendering."


def on_screen(look: Look) -> tuple[Look, Screen]:
    """A look as it is shown, and its way to the screen."""
    shown, _ = shown_look(look)
    return shown, screen_for(shown.output.signal())


@lru_cache(maxsize=16)
def screen_for(output: Signal) -> Screen:
    """The way to the screen for a display output signal."""
    if output.range == "full" and (space := _canvas(output)):
        return Screen(output, space, (), "")
    target = Signal.named("BT.1886" if output.primaries.name == "BT.709" else "Display P3")

    def convert(x: np.ndarray) -> np.ndarray:
        return target.from_light(np.clip(output.to_light(x), 0.0, None))

    def held(x: np.ndarray) -> np.ndarray:
        return np.clip(x, 0.0, 1.0)

    words = f"{output.describe()}, converted to {target.encoding.name} for this screen"
    if output.encoding.peak > 1.0:
        words += "; light over reference white is cut here, not in the look"
    after = (Op(f"to {target.encoding.name} for the screen", convert), Op("hold in 0..1", held))
    return Screen(target, _canvas(target), after, words + ".")


def _canvas(signal: Signal) -> str:
    """The canvas that shows the code values of a full-range display signal as they are; empty for none."""
    facts = signal.encoding.display
    return facts.canvas if facts is not None and signal.primaries.name == signal.encoding.primaries else ""
