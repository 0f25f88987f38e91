"""Adding, taking out and moving steps in the text of a recipe, every other line as it was.

A step's text is its ``[[step]]`` header with all that belongs to it, and the remarks directly above it. Blocks of lines
are moved whole, so that remarks, blank lines and number formats stay; callers read the result and compare it with what
they meant (a header inside a multi-line string would mislead line by line).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

from lookwright.errors import RecipeError

_STEP = re.compile(r"^\s*\[\[\s*step\s*\]\]\s*(#.*)?$")
_OWN = re.compile(r"^\s*\[\[?\s*step\s*\.")
_BAND = re.compile(r"^\s*\[\[\s*step\s*\.\s*band\s*\]\]\s*(#.*)?$")
_HEADER = re.compile(r"^\s*\[")
_REMARK = re.compile(r"^\s*#")


@dataclass(frozen=True)
class Blocks:
    """The lines of a recipe: what is before the steps, one list a step, what is after them."""

    head: list[str]
    steps: list[list[str]]
    tail: list[str]

    def text(self) -> str:
        """The whole text; steps are kept a blank line apart."""
        parts = [self.head]
        for i, step in enumerate(self.steps):
            before = parts[-1]
            if before and before[-1].strip():
                parts.append([""])
            parts.append(step if i < len(self.steps) - 1 or self.tail else _trimmed(step))
        if self.tail and parts[-1] and parts[-1][-1].strip():
            parts.append([""])
        parts.append(self.tail)
        return "\n".join(line for part in parts for line in part).rstrip("\n") + "\n"


def _trimmed(lines: list[str]) -> list[str]:
    end = len(lines)
    while end and not lines[end - 1].strip():
        end -= 1
    return lines[:end]


def split(text: str) -> Blocks:
    """Cut a recipe into its steps.

    Raises :class:`RecipeError` where steps do not stand together as ``[[step]]`` tables.
    """
    lines = text.rstrip("\n").split("\n")
    starts = [i for i, line in enumerate(lines) if _STEP.match(line)]
    if not starts:
        if re.search(r"(?m)^\s*step\s*=", text):
            raise RecipeError("step", "the steps are written inline", "[[step]] tables", "edit the text by hand")
        first_table = len(lines)
        return Blocks(lines[:first_table], [], [])
    tops = []
    for start in starts:
        top = start
        while top > 0 and _REMARK.match(lines[top - 1]):
            top -= 1
        tops.append(top)
    end = len(lines)
    for i in range(starts[-1] + 1, len(lines)):
        if _HEADER.match(lines[i]) and not _OWN.match(lines[i]) and not _in_array(lines[i]):
            end = i
            while _REMARK.match(lines[end - 1]):
                end -= 1
            break
    for i in range(starts[0], starts[-1]):
        if _HEADER.match(lines[i]) and not (_STEP.match(lines[i]) or _OWN.match(lines[i]) or _in_array(lines[i])):
            raise RecipeError("step", "another table stands between the steps", hint="edit the text by hand")
    bounds = [*tops, end]
    steps = [lines[a:b] for a, b in pairwise(bounds)]
    return Blocks(lines[: tops[0]], steps, lines[end:])


def _in_array(line: str) -> bool:
    """A line of a multi-line array may begin with a bracket too; it is no header when nothing closes as one."""
    return re.match(r"^\s*\[\[?[^\[\]]+\]\]?\s*(#.*)?$", line) is None or "," in line.split("#")[0]


def moved(text: str, index: int, to: int) -> str:
    """The step at ``index`` taken out and put in as number ``to`` (both from 0)."""
    blocks = split(text)
    steps = [[*_trimmed(s), ""] for s in blocks.steps]
    step = steps.pop(index)
    steps.insert(to, step)
    return Blocks(blocks.head, steps, blocks.tail).text()


def removed(text: str, index: int) -> str:
    """The step at ``index`` and the remarks above it taken out."""
    blocks = split(text)
    steps = [s for i, s in enumerate(blocks.steps) if i != index]
    return Blocks(blocks.head, steps, blocks.tail).text()


def inserted(text: str, index: int, kind: str, values: Mapping[str, float]) -> str:
    """A new step of this kind as number ``index``, at its defaults but for ``values``."""
    blocks = split(text)
    steps = [[*_trimmed(s), ""] for s in blocks.steps]
    steps.insert(index, ["[[step]]", f'kind = "{kind}"', *(f"{n} = {v:.6g}" for n, v in values.items()), ""])
    return Blocks(blocks.head, steps, blocks.tail).text()


def band_added(text: str, index: int, centre: float) -> str:
    """A new hue band at the end of the step at ``index``."""
    blocks = split(text)
    steps = list(blocks.steps)
    steps[index] = [*_trimmed(steps[index]), "", "  [[step.band]]", f"  centre = {centre:.6g}", ""]
    return Blocks(blocks.head, steps, blocks.tail).text()


def band_removed(text: str, index: int, band: int) -> str:
    """The given hue band of the step at ``index`` taken out."""
    blocks = split(text)
    lines = blocks.steps[index]
    starts = [i for i, line in enumerate(lines) if _BAND.match(line)]
    if band >= len(starts):
        raise RecipeError("step, band", "the bands are written inline", "[[step.band]] tables", "edit by hand")
    first = starts[band]
    after = [i for i, line in enumerate(lines) if i > first and _OWN.match(line)]
    last = after[0] if after else len(lines)
    steps = list(blocks.steps)
    steps[index] = lines[:first] + lines[last:]
    return Blocks(blocks.head, steps, blocks.tail).text()
