"""The processes beside the bench: what they are asked they do, and stopped they leave nothing half-written."""

from __future__ import annotations

import asyncio
import json
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from pathlib import Path
from queue import SimpleQueue
from typing import Any

import numpy as np
import pytest

from lookwright.app.bench.bench import Bench, Given
from lookwright.app.bench.child import GRACE
from lookwright.app.bench.session import Change
from lookwright.app.bench.workers import Helper
from lookwright.pictures.stills import read, write

SAMPLES = Path(__file__).parents[2] / "sample_images"
LOOK = """\
format = 2
[source]
encoding = "ACEScct"
[output]
encoding = "BT.1886"
[[step]]
kind = "exposure"
stops = 0.2
[[step]]
kind = "render"
"""


LONG = 120.0
"""Seconds in which a busy machine has done anything asked here."""


def until(condition: Callable[[], Any], what: str) -> Any:
    limit = time.monotonic() + LONG
    while not (found := condition()):
        assert time.monotonic() < limit, what
        time.sleep(0.02)
    return found


class _Child:
    """A process that does nothing but what it is told to say, when it is told."""

    def __init__(self, *command: Any, **how: Any) -> None:
        self.stdin, self.stdout = self, self
        self.asked: list[dict[str, Any]] = []
        self._lines: SimpleQueue[str | None] = SimpleQueue()
        self.heard = 0

    def write(self, line: str) -> None:
        self.asked.append(json.loads(line))

    def __iter__(self) -> Iterator[str]:
        while (line := self._lines.get()) is not None:
            yield line
            self.heard += 1  # asked for the next: the last was dealt with

    def say(self, what: dict[str, Any]) -> None:
        """Of the present work; returns when the bench has dealt with it."""
        count = self.heard
        self._lines.put(json.dumps({"number": self.asked[-1]["number"], **what}))
        until(lambda: self.heard > count, "it was heard")

    def done(self) -> Any:
        """The present work is done; of which revision it was."""
        revision = self.asked[-1]["revision"]
        self.say({"done": {"revision": revision, "summary": f"of {revision}", "findings": [], "where": {}}})
        return revision

    def flush(self) -> None: ...

    def poll(self) -> None: ...

    def wait(self, timeout: float) -> None: ...

    def close(self) -> None:
        self._lines.put(None)

    kill = close


@pytest.fixture
def child(monkeypatch: pytest.MonkeyPatch) -> list[_Child]:
    """The children that are started from here on, none of them real."""
    started: list[_Child] = []

    def start(*command: Any, **how: Any) -> _Child:
        started.append(_Child())
        return started[-1]

    monkeypatch.setattr("lookwright.app.bench.workers.subprocess.Popen", start)
    return started


@pytest.fixture
def bench(place: Path, child: list[_Child], monkeypatch: pytest.MonkeyPatch) -> Iterator[Bench]:
    """A bench that checks when it is told to, not by its clock."""
    monkeypatch.setattr(Bench, "check_soon", lambda self, seconds=0.35: None)
    one = Bench(Given.of(place / "look.toml", [place / "stills"]))
    yield one
    one.close()


def edited(bench: Bench, stops: float) -> str:
    """An edit, and the check that it is due; its text."""
    bench.session.set([Change(bench.session.snapshot()[1].ids[0], ("stops",), stops)])
    bench._check()
    return bench.session.text


def newest(bench: Bench) -> dict[str, Any]:
    """What a page is told that has heard of nothing yet."""
    return asyncio.run(bench.hub.since(0, 0.0))


def test_a_look_under_the_hand_never_takes_the_place_of_the_recipe_however_late_it_comes(
    bench: Bench, child: list[_Child]
) -> None:
    bench._check()
    first = child[0].asked[-1]["revision"]
    text = edited(bench, 0.3)
    second = bench.session.snapshot()[2][0]
    bench.check_trial(text, 0, bench.trials.hand)  # a preview that came behind its own edit
    assert child[0].done() == first
    for _ in range(2):
        if len(child[0].asked) > 1 and child[0].asked[-1]["revision"] != second:
            child[0].done()
    assert [a["revision"] for a in child[0].asked] == [first, second], "the check of the recipe was never made"
    child[0].done()
    assert newest(bench)["restraint"]["revision"] == second


def test_the_verdict_on_the_recipe_stays_in_the_news_behind_one_under_the_hand(
    bench: Bench, child: list[_Child]
) -> None:
    bench._check()
    bench.check_trial(bench.session.text, 0, bench.trials.hand)
    revision = child[0].done()
    assert child[0].done() == "moving"
    # A page that asks only now: opened anew, or slow.
    found = newest(bench)
    assert found["restraint"]["revision"] == revision and found["verdict"]["revision"] == "moving"
    bench.check_trial(bench.session.text, 0, bench.trials.hand)
    bench.hub.tell("verdict", None)
    bench.let_go()
    child[0].done()
    assert newest(bench)["verdict"] is None, "nobody holds that look any more"


def test_what_waits_is_done_although_the_process_was_lost(bench: Bench, child: list[_Child]) -> None:
    bench._check()
    edited(bench, 0.3)
    child[0].kill()
    until(lambda: len(child) == 2 and child[1].asked, "another process")
    revision = child[1].done()
    assert newest(bench)["restraint"]["revision"] == revision == bench.session.snapshot()[2][0]


@pytest.fixture
def said() -> list[dict[str, Any]]:
    return []


@pytest.fixture
def helper(said: list[dict[str, Any]]) -> Iterator[Helper]:
    one = Helper(said.append)
    yield one
    one.close()


@pytest.fixture
def place(tmp_path: Path) -> Path:
    crop = read(SAMPLES / "wide_acescct.png").pixels[300:390, 800:960]
    (tmp_path / "stills").mkdir()
    write(tmp_path / "stills/bench.png", np.ascontiguousarray(crop))
    (tmp_path / "look.toml").write_text(LOOK, encoding="utf-8")
    return tmp_path


def delivery(place: Path) -> dict[str, Any]:
    return {
        "work": "deliver",
        "plain_sampling": False,
        "look": str(place / "look.toml"),
        "out": str(place / "out/delivery"),
        "stills": [str(place / "stills/bench.png")],
        "marks": None,
    }


def checking(place: Path) -> dict[str, Any]:
    still = str(place / "stills/bench.png")
    return {"work": "check", "revision": 7, "text": LOOK, "folder": str(place), "stills": [still], "marks": {}}


def test_a_delivery_that_is_stopped_leaves_nothing(place: Path, helper: Helper, said: list[dict[str, Any]]) -> None:
    helper.ask(delivery(place))
    until(lambda: list(place.glob("out/.writing-*/*.cube")), "the first file of the delivery")
    assert {"progress": "making the delivery folder"}.items() <= said[0].items()
    before = time.monotonic()
    assert helper.stop() and not helper.busy
    assert time.monotonic() - before < 1.0, "the page need not wait for it"
    until(lambda: not list(place.glob("out/.*")), "what it had begun to go")
    assert not (place / "out/delivery").exists()
    assert not [m for m in said if "done" in m or "fault" in m]
    helper.ask(checking(place))  # another process does what is asked next
    assert until(lambda: [m for m in said if "done" in m], "the check")[0]["done"]["revision"] == 7


def test_closing_waits_until_it_is_tidy(place: Path, helper: Helper) -> None:
    helper.ask(delivery(place))
    until(lambda: list(place.glob("out/.writing-*/*.cube")), "the first file of the delivery")
    process = helper._process
    assert process is not None
    helper.close()
    assert process.poll() == 0, f"it took longer than {GRACE:g} s and was killed"
    # Work that did not hear of it in time, on a busy machine, is cut off; then only the empty parent may be left.
    assert not list(place.glob("out/*")) and not list(place.glob("out/.*"))


def test_an_idle_one_ends_at_once(place: Path, helper: Helper, said: list[dict[str, Any]]) -> None:
    helper.ask({"work": "nothing that there is"})
    until(lambda: said, "an answer")
    assert "no work" in said[0]["fault"]
    process = helper._process
    assert process is not None
    assert not helper.stop()
    assert process.wait(timeout=LONG) == 0


def test_of_several_asked_only_the_newest_is_done(place: Path, helper: Helper, said: list[dict[str, Any]]) -> None:
    for revision in (1, 2, 3):
        helper.ask({**checking(place), "revision": revision})
    until(lambda: len([m for m in said if "done" in m]) == 2, "two answers")
    assert [m["done"]["revision"] for m in said if "done" in m] == [1, 3]


def test_an_answer_that_nobody_waits_for_any_more_is_dropped_without_a_word(
    bench: Bench, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    baking: Future[Any] = Future()
    monkeypatch.setattr(bench.trials._bakes, "bake", lambda *_: baking)
    change = Change(bench.session.snapshot()[1].ids[0], ("stops",), 0.4)
    answer = bench.trials.ask("page", [change], None, [], None)
    assert answer.cancel()  # the page went
    baking.set_exception(RuntimeError("came too late"))
    assert not caplog.records
