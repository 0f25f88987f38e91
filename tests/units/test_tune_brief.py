"""The report of ``tune`` on a terminal: ten lines at most, whatever there is to say."""

from __future__ import annotations

from lookwright.look.recipe.read import parse_look
from lookwright.solve.tune.brief import LINES, WIDTH, in_lines
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
        [Reached(f"wide: wall {i}", 45.0, 20.0, 30.0) for i in range(count)],
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
            "hues.band.0.turn went from 0 to 1.25",
            "On a bound",
            "fails",
        ):
            assert word in text, (word, lines)


def test_what_is_not_named_is_counted() -> None:
    text = " ".join(in_lines(outcome(20)))
    assert "16 more moved with less effect; 20 stay as set" in text and "--json" in text
    few = " ".join(in_lines(outcome(1, stopped=False)))
    assert "more" not in few and "1 stays as set" in few and "it belongs" in few and "Stopped" not in few
