"""A look up to one of its steps, and plainly rendered from there: what a step is seen to do where it stands."""

from __future__ import annotations

from lookwright.look.steps.base import Step
from lookwright.look.steps.render import Render

from .model import Look


def so_far(look: Look, count: int) -> Look:
    """The look's first ``count`` steps as its strength has them; those that follow in the form of the plain rendering.

    ``so_far(look, 0)`` shows what ``look.plain()`` does, ``so_far(look, len(look.steps))`` what the look itself does;
    between them each step is added to the ones before it.
    """
    return _only(look, set(range(count)))


def alone(look: Look, index: int) -> Look:
    """The look's step at ``index`` as its strength has it, every other in the form of the plain rendering.

    Raises :class:`IndexError` for a place where no step is.
    """
    if not 0 <= index < len(look.steps):
        raise IndexError(index)
    return _only(look, {index})


def _only(look: Look, kept: set[int]) -> Look:
    steps: tuple[Step, ...] = ()
    for index, step in enumerate(look.steps):
        if index in kept:
            steps += (step if look.strength == 1.0 else step.scaled(look.strength),)
        else:
            steps += tuple(form.scaled(0.0) for form in step.plain_form())
    if look.output.signal().kind == "display" and all(s.domains()[1] != "display" for s in steps if s.on):
        steps = (*steps, Render())
    return look.model_copy(update={"strength": 1.0, "steps": steps})
