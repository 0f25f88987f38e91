"""Learning what no recipe explains from a frame ungraded and graded: a tuned recipe, a small lattice behind it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from lookwright.look.recipe.formats import current_text
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.pipeline import compile_look
from lookwright.pictures.stills import read
from lookwright.solve.tune.gather import Wishes, check_pair
from lookwright.solve.tune.run import Outcome, Progress, tune
from lookwright.solve.tune.samples import sampled, shared

from .residual import Residual, learn_residual

SAMPLES = 12_000
"""Pixels learnt from, over all pairs."""

NOTHING = 0.004
"""Root mean square difference of signal under which the recipe alone is enough: a code of 8 bits."""


@dataclass(frozen=True)
class Learnt:
    """The tuned recipe and what a lattice adds."""

    outcome: Outcome | None
    """None when the recipe was taken as it is."""
    look: Look
    """The recipe without the lattice."""
    residual: Residual | None
    """None when the recipe alone is enough."""
    left: float
    """Root mean square difference of signal that the recipe leaves."""


def learn(
    look: Look,
    pairs: Sequence[tuple[Path, Path]],
    tuned: bool = True,
    lock: Sequence[str] = (),
    free: Sequence[str] = (),
    seed: int = 0,
    told: Progress = lambda what, cost: None,
    advance: Callable[[int], None] = lambda n: None,
) -> Learnt:
    """Tune the look to the pairs (unless ``tuned`` is False), then fit a lattice to what is left.

    Graded frames are in the look's output encoding.

    Raises
    ------
    LookwrightError
        As :func:`run.tune` and :func:`residual.learn_residual`.
    """
    outcome = None
    if tuned:
        wishes = Wishes(pairs=tuple(pairs), seed=seed, starts=1)
        outcome = tune(look, wishes, lock, free, told=told, advance=advance)
        look = outcome.look
    told("learning what is left", 0.0)
    pipeline = compile_look(look)
    made, wanted = [], []
    for (before, after), count in zip(pairs, shared(SAMPLES, len(pairs)), strict=True):
        one, two = read(before), read(after)
        check_pair(one, two)
        # Another seed than tuning's: pixels the recipe was not tuned on.
        made.append(pipeline(sampled(one.pixels, count, seed + 1)))
        wanted.append(sampled(two.pixels, count, seed + 1))
    here, there = np.clip(np.concatenate(made), 0.0, 1.0), np.concatenate(wanted)
    left = float(np.sqrt(np.mean(np.sum((there - here) ** 2, axis=1))))
    residual = None if left < NOTHING else learn_residual(here, there, "what the recipe leaves")
    return Learnt(outcome, look, residual, left)


def with_lattice(text: str, look: Look, cube: str) -> str:
    """The recipe's text with a last step that sends the finished signal through the lattice."""
    signal = look.output
    lines = [f'encoding = "{signal.encoding}"']
    if signal.primaries is not None:
        lines.append(f'primaries = "{signal.primaries}"')
    if signal.range != "full":
        lines.append(f'range = "{signal.range}"')
    step = [
        "",
        "[[step]]",
        'kind = "lut"         # what the steps above leave of the pairs it was learnt from',
        f'file = "{cube}"',
        "",
        "[step.input]",
        *lines,
        "",
        "[step.output]",
        *lines,
        "",
    ]
    return current_text(text).rstrip("\n") + "\n" + "\n".join(step)
