"""Learning what no recipe explains from a frame ungraded and graded: a tuned recipe, a small lattice behind it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.errors import LookwrightError
from lookwright.look.recipe.formats import current_text
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.pipeline import compile_look
from lookwright.pictures.stills import read, read_either
from lookwright.solve.tune.gather import Wishes, check_pair
from lookwright.solve.tune.run import Outcome, Progress, tune
from lookwright.solve.tune.samples import sampled_still, shared

from .aligned import check_aligned
from .residual import Residual, learn_residual

SAMPLES = 120_000
"""Pixels learnt from, over all pairs: enough that noise of the frames is averaged away."""

NOTHING = 0.004
"""Root mean square difference of signal under which the recipe alone is enough: a code of 8 bits."""


PLAINER = 0.85
"""Factor by which a lattice behind the look as it was must predict better than one behind the tuned look: tuning
toward a grade that the steps do not have can bend the look out of shape."""


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
    kept: bool = False
    """Whether the recipe was tuned and then taken as it was, because the lattice predicts better behind it."""


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
        As :func:`run.tune`, :func:`aligned.check_aligned` and :func:`residual.learn_residual`.
    """
    told("seeing whether the frames line up", 0.0)
    for pair in pairs:
        _check(*pair)
        advance(1)
    outcome, given = None, look
    if tuned:
        wishes = Wishes(pairs=tuple(pairs), seed=seed, starts=1)
        outcome = tune(look, wishes, lock, free, told=told, advance=advance)
        look = outcome.look
    told("learning what is left", 0.0)
    codes, wanted, still = _samples(pairs, seed)
    left, residual = _behind(look, codes, wanted, still)
    if outcome is not None and residual is not None:
        told("learning behind the look as it was", 0.0)
        with suppress(LookwrightError):  # behind the tuned one it can be learnt
            plain, other = _behind(given, codes, wanted, still)
            if other is not None and other.how.error < PLAINER * residual.how.error:
                return Learnt(None, given, other, plain, kept=True)
    return Learnt(outcome, look, residual, left)


def _samples(pairs: Sequence[tuple[Path, Path]], seed: int) -> tuple[Array, Array, NDArray[np.intp]]:
    """Code values (n, 3) before and after, and (n,) from which pair each is."""
    codes, wanted = [], []
    counts = shared(SAMPLES, len(pairs))
    for (before, after), count in zip(pairs, counts, strict=True):
        # Another seed than tuning's: pixels the recipe was not tuned on.
        codes.append(sampled_still(read_either(before), count, seed + 1))
        wanted.append(sampled_still(read_either(after), count, seed + 1))
    return np.concatenate(codes), np.concatenate(wanted), np.repeat(np.arange(len(pairs)), counts)


def _behind(look: Look, codes: Array, wanted: Array, still: NDArray[np.intp]) -> tuple[float, Residual | None]:
    """What a recipe leaves, root mean square of signal, and the lattice that carries it; None for next to nothing."""
    made = np.clip(compile_look(look)(codes), 0.0, 1.0)
    left = float(np.sqrt(np.mean(np.sum((wanted - made) ** 2, axis=1))))
    return left, None if left < NOTHING else learn_residual(made, wanted, still, "what the recipe leaves")


def _check(before: Path, after: Path) -> None:
    """Refuse a pair of different sizes, or one whose frames do not line up: before anything is tuned to it."""
    one, two = read(before), read(after)
    check_pair(one, two)
    check_aligned(f"--pair {before} {after}", one.pixels, two.pixels)


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
