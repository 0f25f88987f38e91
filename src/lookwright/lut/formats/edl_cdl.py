"""ASC CDL values put into a user's own edit decision list: its text stays as it is, but for these lines.

``* ASC_SOP (s s s)(o o o)(p p p)`` and ``* ASC_SAT s`` are the remarks by which CDL values travel in a CMX 3600 list
(ASC CDL 1.2, section on EDLs, from memory; read so by OpenTimelineIO's adapter, tests/oracle).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from lookwright.pictures.timelines.edl import Block, blocks, split_lines

from .cdl import Correction

_OWN = re.compile(r"\s*\*\s*ASC_(SOP|SAT)\b", re.IGNORECASE)


@dataclass(frozen=True)
class Marked:
    """The list with its values."""

    text: str
    replaced: int
    """Events that had values of their own, whose place was taken."""


def remarks(correction: Correction) -> tuple[str, str]:
    """The two lines, without their ends. Six decimals, as the CDL of a series has; no exponents, which readers drop."""

    def triple(values: tuple[float, float, float]) -> str:
        return "(" + " ".join(f"{v + 0.0:.6f}" for v in values) + ")"

    sop = "".join(triple(v) for v in (correction.slope, correction.offset, correction.power))
    return f"* ASC_SOP {sop}", f"* ASC_SAT {correction.saturation:.6f}"


def with_corrections(text: str, corrections: Mapping[int, Correction]) -> Marked:
    """The text of a list with the values of its picture events.

    Parameters
    ----------
    text
        As :func:`lookwright.pictures.timelines.edl.split_lines` takes it; ends of lines are kept as they are.
    corrections
        By the place of the event among the picture events, from 0. Events without one keep what they have.
    """
    lines = split_lines(text)
    shown = [block for block in blocks(lines) if block.shown]
    replaced = 0
    for place in sorted(corrections, reverse=True):  # from the end, so that places before it stay
        replaced += _put(lines, shown[place], corrections[place])
    return Marked("".join(lines), replaced)


def _put(lines: list[str], block: Block, correction: Correction) -> bool:
    """Values into one event, where earlier ones stood or else behind its last remark; whether there were any."""
    own = [at for at in range(block.first, block.end) if _OWN.match(lines[at])]
    at = own[0] if own else block.end
    end = _end_of(lines[at - 1])
    if not end:  # the text ends here, in the middle of a line
        end = next(filter(None, map(_end_of, lines)), "\n")
        new = [end + line for line in remarks(correction)]
    else:
        new = [line + end for line in remarks(correction)]
        if own and own[-1] == len(lines) - 1 and not lines[-1].endswith(("\n", "\r")):
            new[-1] = new[-1].removesuffix(end)
    for gone in reversed(own):
        del lines[gone]
    lines[at:at] = new
    return bool(own)


def _end_of(line: str) -> str:
    """What ends a line; empty where the text ends in it."""
    return next((e for e in ("\r\n", "\n", "\r") if line.endswith(e)), "")
