"""The report of ``tune`` on a terminal: ten lines at most, whatever there is to say."""

from __future__ import annotations

import numpy as np
import pytest

from lookwright.colour.luma import luma_percent
from lookwright.colour.spaces.signal import Signal
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.read import parse_look
from lookwright.solve.tune.brief import LINES, WIDTH, in_lines
from lookwright.solve.tune.light import light_words, stops_of_light
from lookwright.solve.tune.outcome import Change, Outcome, Reached

LOOK = parse_look('[source]\nencoding = "ACEScct"\n[output]\nencoding = "BT.1886"\n[[step]]\nkind = "render"\n')


def outcome(count: int, stopped: bool = True) -> Outcome:
    """``count`` of everything that there may be many of."""
    moved = [
        Change(
            f"hues.band.{i}.turn",
            "deg",
            0.0,
            1.25,
            "bound",
            0.3,
            "highest of its usual range, 20; the hard bound is 60",
        )
        for i in range(count)
    ]
    still = [Change(f"split.cool.{i}", "deg", 250.0, 250.0, "open", None) for i in range(count)]
    return Outcome(
        LOOK,
        LOOK,
        [*moved, *still],
        {f"reference, part {i}": (6.0, 2.0) for i in range(count)},
        {},
        [Reached(f"wide: wall {i}", 45.0, 20.0, 30.0, light=0.84) for i in range(count)],
        [
            f"wall {i} was not brought to 45 even by itself within the bounds and restraint: 30.0 at best."
            for i in range(count)
        ],
        {},
        {"skin_hue": 1.2, "black_level": 1.3},
        stopped,
        10,
        1,
        0,
        held={f"print.grey_{i}": f"for exposure.{i}" for i in range(count)},
    )


def test_however_much_there_is_to_say() -> None:
    for count in range(1, 60, 7):
        lines = in_lines(outcome(count))
        assert len(lines) <= LINES and max(len(line) for line in lines) <= WIDTH, lines
        assert not any("\n" in line for line in lines)
        text = " ".join(lines)
        for word in (
            "Distances",
            "Levels met: 0 of",
            "wall 0",
            "To be lit rather than graded",
            "hues.band.0.turn went from 0 to 1.25",
            "On a bound",
            "Held (--free NAME releases): print.grey_0",
            "fails",
        ):
            assert word in text, (word, lines)


def test_light_is_told_by_zone() -> None:
    told = light_words(
        [
            Reached("wall", 45.0, 20.0, 30.0, light=0.84),
            Reached("apron", 15.0, 20.0, 20.0, most=True, light=-0.31),
            Reached("lamp", 100.0, 20.0, 30.0),
            Reached("bench", 45.0, 20.0, 44.0),
        ]
    )
    assert told == ["wall 0.8 stops more", "apron 0.3 stops less", "lamp not within 6 stops of light"]


def test_light_of_a_zone_is_what_the_plain_rendering_wants_of_it() -> None:
    """Of a grey g at stops s the plain look makes the level of the grey g 2^s: asked for that, the light is s."""
    acescct = Signal.named("ACEScct")
    grey = np.full((9, 3), 0.18)
    look = compile_look(LOOK)
    for s in (-2.0, 0.7, 3.0):
        wanted = float(luma_percent(look(acescct.from_scene(grey * 2.0**s)), LOOK.output.signal())[0])
        assert stops_of_light(LOOK, acescct.from_scene(grey), wanted) == pytest.approx(s, abs=0.01)
    assert stops_of_light(LOOK, acescct.from_scene(grey), 100.5) is None


def test_what_is_not_named_is_counted() -> None:
    text = " ".join(in_lines(outcome(20)))
    assert "16 more moved with less effect; 20 stay as set" in text and "--json" in text
    few = " ".join(in_lines(outcome(1, stopped=False)))
    assert "print.grey_0 for exposure.0." in few
    assert "more moved" not in few and "1 stays as set" in few and "it belongs" in few and "Stopped" not in few
