"""Parameters that do the same to the scale of greys: of those that share it one moves, the others are held.

Levels or a separation do not tell exposure from where the rendering puts grey, nor one slope from another. Left free,
one of such a pair goes up against the other going down. Whole frames do tell them apart, at their ends and where limits
press, so toward those nothing is held: with it the first and third frame of tests/benchmarks/tune_reference.py come to
6.65 and 7.33 of their reference, without to 5.27 and 5.61.
"""

from __future__ import annotations

from collections.abc import Sequence

from .free import Free, fits
from .wishes import Wishes


def only_separation(wishes: Wishes) -> bool:
    """Whether a separation is wanted and nothing that says how bright the picture should be."""
    return wishes.separation is not None and not (wishes.pairs or wishes.references or wishes.wants_levels)


def held_back(parameters: Sequence[Free], asked: Sequence[str], wishes: Wishes) -> dict[str, str]:
    """Names of the parameters to hold, each with the reason: ``for exposure.stops``, which does the same.

    The one that moves is in the first step that has one, where the recipe's reader looks for it; within a step it is
    the last declared (of a print, its own gamma: the negative is what it was shot on).

    Parameters
    ----------
    asked
        Names given to ``--free``: what they fit is never held.
    """
    if wishes.pairs or wishes.references:
        return {}
    held: dict[str, str] = {}
    for acts_on in ("level", "slope"):
        alike = [f for f in parameters if f.info.acts_on == acts_on]
        if not alike:
            continue
        mover = [f for f in alike if f.step == alike[0].step][-1]
        held |= {f.name: f"for {mover.name}" for f in alike if f is not mover}
        if acts_on == "level" and only_separation(wishes):
            held |= {f.name: "not for a separation" for f in alike}
    held = {f.name: held[f.name] for f in parameters if f.name in held and not _asked(f, asked)}
    return held if len(held) < len(parameters) else {}


def _asked(f: Free, asked: Sequence[str]) -> bool:
    return any(fits(name, f.step + 1, f.name) for name in asked)
