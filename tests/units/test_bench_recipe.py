"""Edits of a recipe on the bench: what was meant is what the text then says, and every other line stays."""

from __future__ import annotations

import math
import random
from pathlib import Path

import pytest

from lookwright.app.bench.session import Change, ChangedOnDisk, Gone, Session
from lookwright.errors import LookwrightError, RecipeError
from lookwright.look.recipe.read import parse_look, read_look
from lookwright.look.steps.numbers import numbers

TEXT = """\
# Series two, the workshop at night.
format = 2
title = "Night"

[source]
encoding = "ACEScct"

[output]
encoding = "BT.1886"

# The lens first.
[[step]]
kind = "exposure"      # in stops
stops = 0.25

[[step]]
kind = "hues"

  [[step.band]]        # walls
  centre = 245.0
  width = 40.0
  light = -0.4

  [[step.band]]        # lamps
  centre = 70
  turn = 2

# Warm against cool.
[[step]]
kind = "split"
pull = 0.3             # a third

  [step.hold]          # skin
  amount = 0.6

[[step]]
kind = "cdl"
slope = [1.0, 1.02, 0.98]   # per channel
lock = ["slope"]

[[step]]
kind = "print"

[[step]]
kind = "gamut"

[limits.skin_hue]
value = 9.0
reason = "stage make-up"
"""


@pytest.fixture
def session(tmp_path: Path) -> Session:
    path = tmp_path / "night.toml"
    path.write_text(TEXT, encoding="utf-8", newline="")
    return Session(path)


def ids(session: Session) -> dict[str, int]:
    return {s.kind: n for s, n in zip(session.look.steps, session.snapshot()[1].ids, strict=True)}


def remarks(text: str) -> list[str]:
    return sorted(line.split("#", 1)[1] for line in text.splitlines() if "#" in line)


def test_any_number_can_be_set_and_the_text_then_says_it(session: Session) -> None:
    rng = random.Random(7)
    for _ in range(60):
        steps = ids(session)
        kind, step = rng.choice(list(steps.items()))
        own = next(s for s in session.look.steps if s.kind == kind)
        choices = list(numbers(own))
        if not choices:
            continue
        number = rng.choice(choices)
        value = rng.uniform(number.info.low, number.info.high)
        session.set([Change(step, number.path, value)])
        look = parse_look(session.text)
        new = next(n for s in look.steps if s.kind == kind for n in numbers(s) if n.path == number.path)
        assert new.value == pytest.approx(value, rel=1e-5, abs=1e-9)
        assert look.steps == session.look.steps
    assert remarks(session.text) == remarks(TEXT)
    while session.snapshot()[3]:
        session.undo()
    assert session.text == TEXT


def test_one_changed_number_changes_one_line(session: Session) -> None:
    session.set([Change(ids(session)["split"], ("pull",), 0.45)])
    assert session.text == TEXT.replace("pull = 0.3  ", "pull = 0.45  ")
    session.undo()
    session.set([Change(ids(session)["cdl"], ("slope", 2), 0.9)])
    assert session.text == TEXT.replace("0.98]", "0.9]")
    session.undo()
    session.set([Change(ids(session)["hues"], ("band", 1, "turn"), -3.0)])
    assert session.text == TEXT.replace("turn = 2", "turn = -3.0")


def test_order_on_off_locks_and_bands(session: Session) -> None:
    start = session.look
    session.move(ids(session)["split"], 0)
    assert [s.kind for s in parse_look(session.text).steps] == ["split", "exposure", "hues", "cdl", "print", "gamut"]
    assert '# Warm against cool.\n[[step]]\nkind = "split"' in session.text
    session.move(ids(session)["split"], 2)
    assert parse_look(session.text).steps == start.steps
    session.switch(ids(session)["split"], False)
    assert not next(s for s in parse_look(session.text).steps if s.kind == "split").on
    session.lock(ids(session)["split"], ["pull", "hold.amount"])
    assert next(s for s in parse_look(session.text).steps if s.kind == "split").lock == ("pull", "hold.amount")
    session.add_band(ids(session)["hues"], 150.0)
    session.remove_band(ids(session)["hues"], 0)
    bands = next(s for s in parse_look(session.text).steps if s.kind == "hues").band  # type: ignore[attr-defined]
    assert [b.centre for b in bands] == [70.0, 150.0]
    session.add("saturation", 4)
    session.remove(ids(session)["exposure"])
    look = parse_look(session.text)
    assert [s.kind for s in look.steps] == ["hues", "split", "cdl", "saturation", "print", "gamut"]
    assert look.limits["skin_hue"].reason == "stage make-up"
    assert "# lamps" in session.text and "# Series two, the workshop at night." in session.text


def test_an_order_that_cannot_be_is_refused_and_nothing_changes(session: Session) -> None:
    with pytest.raises(RecipeError, match="needs display light"):
        session.move(ids(session)["gamut"], 0)
    with pytest.raises(RecipeError, match="already made display light"):
        session.add("exposure", 6)
    with pytest.raises(RecipeError, match="no step makes any"):
        Session.remove(session, ids(session)["gamut"])
        session.remove(ids(session)["print"])
    session.undo()
    assert session.text == TEXT


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, 9.0, -0.001])
def test_values_beyond_the_declared_bounds_are_refused(session: Session, value: float) -> None:
    change = Change(ids(session)["split"], ("pull",), value)
    for act in (session.set, session.trial):
        with pytest.raises(LookwrightError):
            act([change])
    with pytest.raises(LookwrightError):
        session.set([Change(None, (), value)])
    assert session.text == TEXT


def test_a_step_that_another_window_took_out_is_gone(session: Session) -> None:
    step = ids(session)["hues"]
    session.remove(step)
    with pytest.raises(Gone):
        session.set([Change(step, ("band", 0, "turn"), 1.0)])
    with pytest.raises(RecipeError, match="no parameter"):
        session.set([Change(ids(session)["split"], ("kind",), 1.0)])


def test_steps_written_inline_are_changed_but_not_moved(tmp_path: Path) -> None:
    path = tmp_path / "inline.toml"
    path.write_text(
        'source = { encoding = "ACEScct" }\noutput = { encoding = "BT.1886" }\n'
        'step = [ { kind = "exposure", stops = 0.5 }, { kind = "saturation" }, { kind = "render" } ]\n'
    )
    session = Session(path)
    session.set([Change(ids(session)["exposure"], ("stops",), 1.0)])
    assert parse_look(session.text).steps[0].stops == 1.0  # type: ignore[attr-defined]
    with pytest.raises(RecipeError):
        session.move(ids(session)["exposure"], 1)
    assert [s.kind for s in session.look.steps] == ["exposure", "saturation", "render"]


def test_a_header_inside_a_long_text_is_not_taken_for_a_step(tmp_path: Path) -> None:
    path = tmp_path / "trap.toml"
    text = TEXT.replace('title = "Night"', 'title = "Night"\nabout = """\n[[step]]\nkind = "gamut"\n"""')
    path.write_text(text)
    session = Session(path)
    with pytest.raises(RecipeError, match="by hand"):
        session.move(ids(session)["exposure"], 1)
    assert session.text == text


def test_save_reload_and_a_file_that_something_else_wrote(session: Session) -> None:
    step = ids(session)["exposure"]
    session.set([Change(step, ("stops",), 1.0)])
    assert session.dirty
    session.save()
    assert not session.dirty and read_look(session.path).steps[0].stops == 1.0  # type: ignore[attr-defined]
    other = TEXT.replace("0.25", "-2.0")
    session.path.write_text(other, newline="")
    session.set([Change(step, ("stops",), 0.5)])
    with pytest.raises(ChangedOnDisk):
        session.save()
    assert session.path.read_text() == other
    session.reload()
    assert session.text == other
    session.undo()
    assert "stops = 0.5" in session.text
    session.path.unlink()
    with pytest.raises(ChangedOnDisk):
        session.save()
    session.save(overwrite=True)
    assert "stops = 0.5" in session.path.read_text()


def test_line_ends_of_the_file_are_kept(tmp_path: Path) -> None:
    path = tmp_path / "ends.toml"
    path.write_bytes(TEXT.replace("\n", "\r\n").encode())
    session = Session(path)
    session.set([Change(ids(session)["exposure"], ("stops",), 1.5)])
    session.save()
    assert path.read_bytes() == TEXT.replace("0.25", "1.5").replace("\n", "\r\n").encode()
