"""Which log curves a picture's codes can tell apart, and what its file's name says.

A log picture shows one thing of its curve: where black lies. The published curves fall into three families by that
(code of black): ACEScct (0.07); most camera logs (0.088 to 0.093); V-Log, N-Log, Mi-Log and Apple Log (0.12 to 0.15).
Families are told apart where the picture has black in it. Within one, nothing in the codes speaks for one curve or the
other: their greys lie within a stop of each other, which is a change of exposure. Then only the file's name can.
"""

from __future__ import annotations

from typing import Any

from numpy.typing import NDArray

from lookwright.colour.spaces.encodings import CURATED
from lookwright.colour.spaces.names import fold
from lookwright.colour.spaces.signal import Signal

BLACK = {
    "ACEScct": 0.0729,
    "S-Log3": 0.0929,
    "S-Log2": 0.0883,
    "LogC3": 0.0928,
    "LogC4": 0.0929,
    "Log3G10": 0.0916,
    "F-Log": 0.0929,
    "F-Log2": 0.0929,
    "D-Log": 0.0929,
    "L-Log": 0.09,
    "V-Log": 0.125,
    "N-Log": 0.1244,
    "Mi-Log": 0.1474,
    "Apple Log": 0.1505,
}
"""Code of black of the published curves, computed from them (tests/units): kept here, since asking them loads a library
for most of a second. ACEScc is left out: it has no black."""

FAMILY = 0.01
"""Codes of black nearer than this are not told apart: noise carries black by 15 codes of 1023 either way."""
PILE = 0.01
"""Share of pixels at a code of black for it to look like black."""
SPIKE = 1.5
"""Times the share of the codes just above: black gathers, a ramp that ends there by chance does not."""
BELOW = 2e-4
"""Share of pixels that may lie under it."""


def alike(signal: Signal) -> list[str]:
    """Other curves whose black lies where that of this one does: no picture tells them apart."""
    own = BLACK.get(signal.encoding.name)
    if own is None:
        return []
    return [name for name, code in BLACK.items() if name != signal.encoding.name and abs(code - own) <= FAMILY]


def higher_black(below: NDArray[Any], signal: Signal) -> tuple[list[str], float, float] | None:
    """Curves whose higher black the picture has instead of its own: names, code, share of pixels there.

    ``below`` (n,) is the smallest channel of each pixel. None where the picture has none of those blacks.
    """
    own = BLACK.get(signal.encoding.name)
    if own is None or signal.range != "full":
        return None
    for code in sorted({c for c in BLACK.values() if c > own + 2 * FAMILY}):
        pile = float(((below > code - 0.004) & (below < code + 0.006)).mean())
        above = float(((below > code + 0.006) & (below < code + 0.016)).mean())
        if pile > PILE and pile > SPIKE * above and float((below < code - 0.006).mean()) < BELOW:
            return [n for n, c in BLACK.items() if abs(c - code) <= FAMILY], code, pile
    return None


def named_otherwise(name: str, signal: Signal) -> str:
    """The encoding that a file's name names, where that is not the declared one; empty where it names none."""
    own, text = fold(signal.encoding.name), fold(name)
    if own in text:
        return ""
    # The longest name first: 'F-Log2' is not 'F-Log'. Names of four letters or fewer are words by chance.
    for candidate in sorted(CURATED, key=lambda n: -len(fold(n))):
        if len(fold(candidate)) > 3 and fold(candidate) in text:
            return candidate
    return ""
