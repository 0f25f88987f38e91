"""The recipe as the page needs it: every parameter from its one declaration, every step in words."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from lookwright.colour.hue_words import HUE_WORDS
from lookwright.errors import LookwrightError
from lookwright.look.recipe.model import Look, SignalText
from lookwright.look.recipe.pipeline import stages
from lookwright.look.steps import registry
from lookwright.look.steps.base import DOMAIN_WORDS, Step
from lookwright.look.steps.numbers import CHANNELS, Number, locked, numbers

from .session import Moment, Session
from .shown import screen_for, shown_look
from .values import unnumbered


def parameter(number: Number, is_locked: bool) -> dict[str, Any]:
    """One slider: everything that its declaration says, and where it stands."""
    info = number.info
    label, group = _words(number)
    return {
        "path": list(number.path),
        "label": label,
        "group": group,
        "lock_name": number.lock_name,
        "locked": is_locked,
        "tunable": info.tunable,
        "value": number.value,
        "default": number.default,
        "neutral": info.neutral,
        "low": info.low,
        "high": info.high,
        "soft_low": info.soft_low,
        "soft_high": info.soft_high,
        "scale": info.scale,
        "unit": info.unit,
        "help": info.help,
        "source": info.source,
        "main": info.main,
        "paint": info.paint,
    }


def _words(number: Number) -> tuple[str, str]:
    """A label and the group it stands under: ``turn`` of ``band 1``, ``red`` of ``slope``."""
    path = number.path
    if len(path) == 1:
        return str(path[0]).replace("_", " "), ""
    if isinstance(path[-1], int):
        return CHANNELS[path[-1]], str(path[-2]).replace("_", " ")
    group = " ".join(str(p + 1) if isinstance(p, int) else str(p) for p in path[:-1])
    return str(path[-1]).replace("_", " "), group


def step(one: Step, number: int, moves: dict[str, str]) -> dict[str, Any]:
    """One card."""
    takes, gives = one.domains()
    plain = {n: str(getattr(one, n)) for n in ("file", "interpolation") if hasattr(one, n)}
    return {
        "id": number,
        "kind": one.kind,
        "summary": type(one).summary,
        "words": one.in_words(),
        "note": one.note,
        "on": one.on,
        "lock": one.lock if isinstance(one.lock, bool) else list(one.lock),
        "rendering": type(one).rendering,
        "takes": DOMAIN_WORDS[takes],
        "gives": DOMAIN_WORDS[gives],
        "moves": moves,
        "plain": plain,
        "bands": len(getattr(one, "band", ())) if "band" in type(one).model_fields else None,
        "parameters": [parameter(n, locked(one, n.path)) for n in numbers(one)],
    }


GAMMA = 2.4
"""Of BT.1886, which a screen set to sRGB decodes otherwise: the page can convert for it."""

Shape = tuple[SignalText, SignalText, tuple[tuple[str, bool, str, str], ...]]
"""What decides whether an order can be: signals at the ends, and each step's kind, whether it is on, and domains."""


def _shape(look: Look) -> Shape:
    source = look.source.signal()
    return (
        look.source,
        look.output,
        tuple((_FED if s.fed_by(source) else s.kind, s.on, *s.domains()) for s in look.steps),
    )


_FED = "lut fed by the source"
"""The kind, in a shape, of a step that could stand first because it takes the source's display light as it is."""


@lru_cache(maxsize=4096)
def order_problem(shape: Shape) -> str:
    """The compiler's own sentence on an order that cannot be; empty when it can."""
    source, output, steps = shape
    known = registry()
    light: list[Step] = []
    for kind, on, takes, gives in steps:
        if kind == _FED:  # as the first it has display light already, which a rendering would make
            kind = "gamut" if any(s.on for s in light) else "render"
        elif kind == "lut":  # needs a file; any step with the same domains stands for it
            kind = "exposure" if takes == gives == "scene" else "render" if takes == "scene" else "gamut"
        # A print at amount 0 is quick to prepare, and it stands where any print stands.
        light.append(known[kind](kind=kind, on=on, **({"amount": 0.0} if kind == "print" else {})))
    try:
        stages(Look(source=source, output=output).model_copy(update={"steps": tuple(light)}))
    except LookwrightError as exc:
        return unnumbered(exc.line())
    return ""


def _moves(look: Look) -> list[dict[str, str]]:
    """For each step what would be wrong with moving it one place up or down; nothing where it can be moved."""
    source, output, steps = _shape(look)
    found = []
    for i in range(len(steps)):
        problems = {}
        for name, to in (("up", i - 1), ("down", i + 1)):
            if not 0 <= to < len(steps):
                problems[name] = "It is the first step already." if to < 0 else "It is the last step already."
                continue
            order = list(steps)
            order.insert(to, order.pop(i))
            problem = order_problem((source, output, tuple(order)))
            if problem:
                problems[name] = problem
        found.append(problems)
    return found


def addable(look: Look) -> list[dict[str, Any]]:
    """Every kind of step with the last place where it can stand, or the sentence why there is none."""
    source, output, steps = _shape(look)
    found = []
    for kind, cls in registry().items():
        entry: dict[str, Any] = {"kind": kind, "summary": cls.summary, "at": None, "why": ""}
        found.append(entry)
        if any(name != "kind" and f.is_required() for name, f in cls.model_fields.items()):
            entry["why"] = "It needs a file and its signals; add it to the text by hand."
            continue
        new = (kind, True, cls.takes, cls.gives)
        for at in range(len(steps), -1, -1):
            problem = order_problem((source, output, (*steps[:at], new, *steps[at:])))
            if not problem:
                entry.update(at=at, why="")
                break
            entry["why"] = entry["why"] or problem
    return found


def state(session: Session, extra: dict[str, Any]) -> dict[str, Any]:
    """Everything that the page shows of the recipe."""
    look, moment, (revision, looks), undo, redo, dirty = session.snapshot()
    shown, note = shown_look(look)
    screen = screen_for(shown.output.signal())
    history, place = session.history()
    return {
        "revision": revision,
        "looks": looks,
        "file": session.path.name,
        "title": look.title,
        "about": look.about,
        "source": look.source.signal().describe(),
        "output": look.output.signal().describe(),
        "screen": {
            "space": screen.space,
            "note": " ".join(n for n in (note, screen.note) if n),
            "curve": GAMMA if screen.signal.encoding.name == "BT.1886" else 0.0,
        },
        "strength": look.strength,
        "hue_words": HUE_WORDS,
        "dirty": dirty,
        "saved_stamp": session.saves,
        "history": history,
        "place": place,
        "undo": undo,
        "redo": redo,
        **_cards(look, moment),
        **extra,
    }


def _cards(look: Look, moment: Moment) -> dict[str, Any]:
    cards = [step(s, n, m) for s, n, m in zip(look.steps, moment.ids, _moves(look), strict=True)]
    return {"steps": cards, "addable": addable(look)}
