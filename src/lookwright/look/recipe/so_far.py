"""A look up to one of its steps, and plainly rendered from there: what a step is seen to do where it stands."""

from __future__ import annotations

from lookwright.look.steps.render import Render

from .model import Look


def so_far(look: Look, count: int) -> Look:
    """The look's first ``count`` steps as its strength has them; those that follow in the form of the plain rendering.

    ``so_far(look, 0)`` shows what ``look.plain()`` does, ``so_far(look, len(look.steps))`` what the look itself does;
    between them each step is added to the ones before it.
    """
    done = [step if look.strength == 1.0 else step.scaled(look.strength) for step in look.steps[:count]]
    rest = [form.scaled(0.0) for step in look.steps[count:] for form in step.plain_form()]
    steps = (*done, *rest)
    if look.output.signal().kind == "display" and all(s.domains()[1] != "display" for s in steps if s.on):
        steps = (*steps, Render())
    return look.model_copy(update={"strength": 1.0, "steps": steps})
