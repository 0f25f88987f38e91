"""The processes beside the bench: what they are asked they do, and stopped they leave nothing half-written."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from lookwright.app.bench.bench import Bench
from lookwright.app.bench.child import GRACE
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


class _Checked(Bench):
    """A bench of which only what it does with a check's answer is there."""

    def __init__(self) -> None:
        self._owed = True
        self.asked: list[float] = []
        self.looking = SimpleNamespace(keep_places=lambda where: None)  # type: ignore[assignment]
        self.hub = SimpleNamespace(tell=lambda *told: None)  # type: ignore[assignment]

    def check_soon(self, seconds: float = 0.35) -> None:
        self.asked.append(seconds)


def test_a_check_whose_place_a_slider_took_is_asked_for_again() -> None:
    bench = _Checked()
    bench._checked({"done": {"revision": "moving"}})
    assert len(bench.asked) == 1
    bench._checked({"done": {"revision": 7}})
    bench._checked({"done": {"revision": "moving"}})
    assert len(bench.asked) == 1, "nothing is owed any more"


LONG = 120.0
"""Seconds in which a busy machine has done anything asked here."""


def until(condition: Callable[[], Any], what: str) -> Any:
    limit = time.monotonic() + LONG
    while not (found := condition()):
        assert time.monotonic() < limit, what
        time.sleep(0.02)
    return found


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
