"""Versions, proposals and marks on the bench: what is kept stays kept, what is taken is what was shown."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, cast

import pytest

pytest.importorskip("starlette")

from lookwright.app.bench.mark_table import MarkTable
from lookwright.app.bench.proposal import Proposal
from lookwright.app.bench.session import Change, Session
from lookwright.app.bench.shelf import Shelf
from lookwright.app.bench.values import unnumbered
from lookwright.app.bench.versions import MOST, Versions
from lookwright.errors import LookwrightError
from lookwright.look.steps import registry
from lookwright.look.steps.numbers import numbers
from lookwright.pictures.stills import Mark, read_marks

LOOK = """\
format = 2
source = { encoding = "ACEScct" }
output = { encoding = "BT.1886" }
[[step]]
kind = "exposure"
stops = 0.2
[[step]]
kind = "saturation"
amount = 1.1
[[step]]
kind = "render"
"""


@pytest.fixture
def look(tmp_path: Path) -> Path:
    path = tmp_path / "evening.toml"
    path.write_text(LOOK, encoding="utf-8")
    return path


# -- versions ----------------------------------------------------------------------------------------------------------


def test_versions_outlive_the_bench_and_two_benches_add_to_each_other(look: Path) -> None:
    one, other = Versions(look), Versions(look)
    first = one.keep("first", LOOK)
    second = other.keep("  second \u00e9", LOOK.replace("0.2", "0.3"))
    assert one.get(first.id).text == LOOK
    third = one.keep("", LOOK)
    assert third.name == third.when
    again = Versions(look)
    assert {v.name for v in again.list} == {"first", "second \u00e9", third.name}
    assert again.get(second.id).text == LOOK.replace("0.2", "0.3")
    again.rename(first.id, "called otherwise")
    again.drop(second.id)
    with pytest.raises(LookwrightError, match="no longer there"):
        again.get(second.id)
    assert [v.name for v in Versions(look).list] == ["called otherwise", third.name]


@pytest.mark.parametrize("text", ["", "{", "[]", '{"versions": [{"id": 1}]}', "[" * 99_999, "# a note of mine\n"])
def test_a_file_that_holds_no_versions_is_left_alone(look: Path, text: str) -> None:
    path = look.with_name("evening.toml.versions")
    path.write_text(text)
    versions = Versions(look)
    assert "holds no versions" in versions.fault and versions.list == ()
    with pytest.raises(LookwrightError):
        versions.keep("one", LOOK)
    assert path.read_text() == text


def test_there_is_an_end_to_versions(look: Path) -> None:
    versions = Versions(look)
    for_each = {"name": "n", "when": "2026-01-01T00:00:00+00:00", "text": LOOK}
    told = {"format": 1, "versions": [{"id": f"{i:x}", **for_each} for i in range(MOST)]}
    versions.path.write_text(json.dumps(told))
    with pytest.raises(LookwrightError, match="take some out"):
        versions.keep("one more", LOOK)


# -- the proposal ------------------------------------------------------------------------------------------------------


def proposed(session: Session) -> Proposal:
    ids = session.snapshot()[1].ids
    told = [
        {"index": 0, "path": ["stops"], "before": 0.2, "after": -0.4, "name": "exposure stops"},
        {"index": 1, "path": ["amount"], "before": 1.1, "after": 1.25, "name": "saturation amount"},
    ]
    return Proposal.of(session, ids, told)


def values(session: Session) -> dict[str, float]:
    return {f"{s.kind}.{n.lock_name}": n.value for s in session.look.steps for n in numbers(s)}


def test_what_is_shown_of_a_proposal_is_what_is_taken(look: Path) -> None:
    session = Session(look)
    proposal = proposed(session)
    shown = proposal.look()
    proposal.take()
    assert session.look.steps == shown.steps
    assert session.history() == (["", "tuned"], 1)


def test_a_proposal_is_taken_in_part_and_upon_what_was_edited_meanwhile(look: Path) -> None:
    session = Session(look)
    proposal = proposed(session)
    ids = session.snapshot()[1].ids
    session.set([Change(ids[1], ("amount",), 1.3), Change(ids[1], ("density",), 0.2)])
    session.add("contrast", 1)
    assert proposal.standing() == ["", "edited"]
    proposal.wanted = (0,)
    proposal.take()
    found = values(session)
    assert found["exposure.stops"] == -0.4 and found["saturation.amount"] == 1.3 and found["saturation.density"] == 0.2
    session.undo()
    assert values(session)["exposure.stops"] == 0.2
    session.remove(ids[0])
    assert proposal.standing() == ["gone", "edited"]
    proposal.wanted = (0, 1)
    proposal.take()
    assert values(session)["saturation.amount"] == 1.25


# -- history -----------------------------------------------------------------------------------------------------------


def test_marks_are_in_the_history_of_the_recipe(look: Path) -> None:
    put: list[tuple[int, list[Mark]]] = []
    session = Session(look, put_back=lambda still, marks: put.append((still, list(marks))))
    wall, lamp = Mark("wall", (0.1, 0.1, 0.2, 0.2)), Mark("lamp", (0.5, 0.5, 0.1, 0.1))
    ids = session.snapshot()[1].ids
    session.set([Change(ids[0], ("stops",), 0.5)])
    session.marked(3, [], [wall], "mark wall drawn")
    session.marked(3, [wall], [wall, lamp], "mark lamp drawn")
    assert session.dirty  # by the recipe alone
    session.undo()
    session.undo()
    assert put == [(3, [wall]), (3, [])] and values(session)["exposure.stops"] == 0.5
    session.redo()
    assert put[-1] == (3, [wall])
    session.go(0)
    assert put[-1] == (3, []) and values(session)["exposure.stops"] == 0.2 and not session.dirty
    session.go(99)
    assert put[-1] == (3, [wall, lamp]) and session.history()[1] == 3


def test_marks_that_several_stills_share_are_changed_where_they_stand(tmp_path: Path) -> None:
    """One set for all takes of a set-up: a changed level makes no second set, and loses no remark of the first."""
    path = tmp_path / "marks.toml"
    before = '# key of the face\n[close."face"]\nbox = [0.1, 0.1, 0.2, 0.2]\nlevel = 60  # by meter\n\n'
    before += '# never moved\n[close."wall"]\nbox = [0.5, 0.5, 0.2, 0.2]\n'
    path.write_text(before)
    marks = MarkTable(path, [tmp_path / f"{s}.png" for s in ("close_1", "close_2", "wide_1")], cast(Any, None))
    face, wall = marks.of(0)
    marks.put(0, [Mark("face", face.box, 55.0, face.role), wall])
    assert marks.sharing(0) == [0, 1] and marks.of(1) == marks.of(0) and marks.of(2) == []
    marks.save()
    text = path.read_text()
    assert list(read_marks(path)) == ["close"] and read_marks(path)["close"][0].level == 55
    assert all(r in text for r in ("# key of the face", "# by meter", "# never moved")) and text.count("[close.") == 2
    marks.put(0, [face, wall])
    assert marks.dirty
    marks.put(0, [Mark("face", face.box, 55.0, face.role), wall])
    assert not marks.dirty  # undone by hand is undone


# -- what is compared with ---------------------------------------------------------------------------------------------


def test_a_look_opened_in_the_page_reaches_no_file(look: Path) -> None:
    shelf = Shelf(look, (), "")
    id = shelf.welcome("other.toml", LOOK.replace("1.1", "0.9"))
    assert shelf.guest(id).steps[1].amount == 0.9  # type: ignore[attr-defined]
    assert shelf.welcome("other.toml", LOOK) == id and shelf.guest(id).steps[1].amount == 1.1  # type: ignore[attr-defined]
    lut = LOOK.replace(
        'kind = "saturation"\namount = 1.1', 'kind = "lut"\nfile = "/etc/passwd"\ninput = "ACEScct"\noutput = "ACEScct"'
    )
    for text in (lut, "no look", ""):
        with pytest.raises(LookwrightError):
            shelf.welcome("bad.toml", text)


def test_save_as_writes_nothing_over_and_nowhere_else(look: Path) -> None:
    shelf = Shelf(look, (), "")
    assert shelf.save_as("evening 2", LOOK) == "evening 2.toml"
    for name in ("evening", "evening.toml", "evening 2", "", "  ", ".toml"):
        with pytest.raises(LookwrightError):
            shelf.save_as(name, LOOK)
    for name in ("../up", "/tmp/x", "a/b", "..", "con", "a\x00b"):
        try:
            file = shelf.save_as(name, LOOK)
        except LookwrightError:
            continue
        assert (look.parent / file).is_file() and Path(file).name == file
    assert look.read_text() == LOOK and sorted(p.parent for p in look.parent.rglob("*.toml")) == sorted(
        look.parent for _ in look.parent.glob("*.toml")
    )


# -- declarations ------------------------------------------------------------------------------------------------------


def test_a_hand_finds_three_to_five_rulers_of_a_step_first() -> None:
    """Fewer only where a step has no more; a band of hues counts by itself."""
    for kind, cls in registry().items():
        needed = [name for name, f in cls.model_fields.items() if name != "kind" and f.is_required()]
        if needed:
            continue
        step = cls(kind=kind, **({"band": ({},)} if "band" in cls.model_fields else {}))
        every = list(numbers(step))
        main = [n for n in every if n.info.main]
        assert len(main) <= 5 and len(main) >= min(3, len(every), 2 if kind in ("balance", "gamut") else 3), kind


def test_refusals_of_an_order_name_no_numbers() -> None:
    text = "step 6 'saturation': needs light, but step 5 'print' made it; move it before 'print'"
    assert unnumbered(text) == "saturation: needs light, but print made it; move it before 'print'"
