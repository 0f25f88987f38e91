"""Other looks that the page may ask to see: up to a step, or one step alone over the plain rendering."""

from __future__ import annotations

from lookwright.errors import RecipeError
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.so_far import alone, so_far


def up_to(look: Look, index: int) -> Look:
    """The look up to and with a step."""
    return so_far(look, index + 1).with_folder(look.folder)


def without(look: Look, index: int) -> Look:
    """The look up to a step, itself left out: what it changes is the way from here to :func:`up_to`."""
    return so_far(look, index).with_folder(look.folder)


def only(look: Look, index: int) -> Look:
    """One step over the plain rendering.

    Raises :class:`RecipeError` for a step that cannot stand without the others.
    """
    if not look.steps[index].on:
        raise RecipeError(f"step {index + 1}", "is not in use", hint="take it into use to see what it does")
    return alone(look, index).with_folder(look.folder)
