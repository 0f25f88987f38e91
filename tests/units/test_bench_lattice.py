"""Lattices while a slider moves: what is left out is never looked at, what is remembered is never stale."""

from __future__ import annotations

import random
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from lookwright.app.bench.bake_queue import DRAG_SIZES, Baked, BakeQueue, Seen
from lookwright.app.bench.codes import workers
from lookwright.app.bench.pictures import Pictures, Region, corners
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.read import parse_look
from lookwright.look.recipe.staged import Superseded
from lookwright.look.steps.numbers import numbers
from lookwright.lut.lattices.apply import Applier
from lookwright.lut.lattices.lattice import Lattice, grid
from lookwright.pictures.stills import write
from lookwright.solve.tune.free import with_value

TEXT = """\
source = { encoding = "ACEScct" }
output = { encoding = "BT.1886" }
[[step]]
kind = "exposure"
stops = 0.2
[[step]]
kind = "split"
pull = 0.3
cool_shadows = 0.01
[[step]]
kind = "print"
[[step]]
kind = "gamut"
"""

CODE = 1.0 / 65535.0


@pytest.fixture(scope="module")
def pool() -> Iterator[ThreadPoolExecutor]:
    found = workers()
    yield found
    found.shutdown()


@pytest.fixture
def queue(pool: ThreadPoolExecutor) -> Iterator[BakeQueue]:
    found = BakeQueue(pool)
    yield found
    found.close()


def whole(baked: Baked) -> np.ndarray:
    """The table as the page fills it; points that were left out are far off."""
    table = np.full((baked.size**3, 3), 9.0)
    table[slice(None) if baked.places is None else baked.places] = baked.codes * CODE
    return table.reshape((baked.size,) * 3 + (3,))


@pytest.mark.parametrize("size", [2, 17, 25, 33])
@pytest.mark.parametrize("interpolation", ["tetrahedral", "trilinear"])
def test_a_lookup_reads_nothing_but_the_corners_told(size: int, interpolation: str) -> None:
    rng = np.random.default_rng(size)
    picture = rng.integers(0, 65536, (40, 3)).astype(np.uint16)
    picture[:6] = [[0, 0, 0], [65535, 65535, 65535], [0, 65535, 0], [21845, 43690, 0], [1, 2, 3], [65534, 0, 32768]]
    places = corners(picture, size)
    known = rng.random((size**3, 3))
    wild = np.full((size**3, 3), 1e4)
    wild[places] = known[places]
    pixels = (picture / 65535.0).astype(np.float32)[None]
    shape = (size, size, size, 3)
    a, b = (Applier(Lattice(t.reshape(shape)), interpolation)(pixels) for t in (known, wild))  # type: ignore[arg-type]
    # A colour on a face of its cell may weigh the far side with a rounding error of float32: 1e4 times 1e-7 at most.
    assert np.abs(a - b).max() < 5e-3
    assert len(places) <= 8 * len(picture)


def test_a_view_s_lattice_is_the_look_s_own_at_those_points(
    queue: BakeQueue, pool: ThreadPoolExecutor, tmp_path: Path
) -> None:
    rng = np.random.default_rng(5)
    write(tmp_path / "a.png", rng.uniform(0.2, 0.7, (30, 50, 3)).astype(np.float32) ** 1.2)
    pictures = Pictures([tmp_path / "a.png"], pool)
    region = Region(0, 0, 50, 30, 50, 30)
    look = parse_look(TEXT)
    baked = queue.bake("w", look, 33, "now", pictures.seen(0, region)).result(20)
    assert baked.places is not None and 0 < len(baked.places) < 33**3
    exact = compile_look(look)(grid(33).reshape(-1, 3)[baked.places])
    assert np.abs(baked.codes * CODE - exact).max() <= 0.5 * CODE + 1e-9
    # The picture through it is the picture through the whole lattice.
    full = queue.bake("w", look, 33).result(20)
    assert full.places is None
    view = pictures.view(0, region)
    sparse, dense = (Applier(Lattice(whole(b)))(view) for b in (baked, full))
    assert np.abs(sparse - dense).max() <= 2e-6


def test_whatever_is_changed_in_whatever_order_nothing_remembered_is_stale(queue: BakeQueue) -> None:
    rng = random.Random(11)
    look = parse_look(TEXT)
    some = np.sort(np.random.default_rng(1).choice(17**3, 60, replace=False))
    seen = Seen("some", lambda size: some)
    points = grid(17).reshape(-1, 3)
    for turn in range(24):
        i = rng.randrange(len(look.steps))
        number = rng.choice(
            [n for n in numbers(look.steps[i]) if n.info.tunable or n.info.neutral is not None]
            or list(numbers(look.steps[i]))
        )
        steps = list(look.steps)
        steps[i] = with_value(steps[i], number.path, rng.uniform(number.info.soft_low, number.info.soft_high))
        look = look.model_copy(update={"steps": tuple(steps)}).with_folder(look.folder)
        if turn % 5 == 4:
            look = look.with_strength(rng.random())
        exact = compile_look(look)(points)
        baked = queue.bake("w", look, 17, "now", seen if turn % 3 else None).result(20)
        wanted = exact if baked.places is None else exact[some]
        assert np.abs(baked.codes * CODE - np.clip(wanted, 0.0, 1.0)).max() <= 0.5 * CODE + 1e-7, (turn, number.path)


def varied(count: int) -> list[Look]:
    look = parse_look(TEXT)
    first = look.steps[0]
    firsts = [with_value(first, ("stops",), i / count) for i in range(count)]
    return [look.model_copy(update={"steps": (f, *look.steps[1:])}) for f in firsts]


def test_of_200_fast_wishes_the_newest_is_answered_and_another_window_is_not_disturbed(queue: BakeQueue) -> None:
    looks = varied(200)
    asked = [queue.bake("one", look, 17) for look in looks]
    other = queue.bake("two", looks[7], 9)
    newest = asked[-1].result(30)
    assert np.array_equal(newest.codes, _alone(looks[-1], 17))
    assert np.array_equal(other.result(30).codes, _alone(looks[7], 9))
    fates = [type(f.exception(30)) for f in asked]
    assert set(fates) <= {Superseded, type(None)}
    assert fates.count(Superseded) > 150  # nothing piles up


def _alone(look: Look, size: int) -> np.ndarray:
    exact = compile_look(look)(grid(size).reshape(-1, 3))
    return np.rint(np.clip(exact, 0, 1) * 65535).astype(np.uint16)


def test_from_many_threads_every_window_gets_its_own_newest(queue: BakeQueue) -> None:
    looks = varied(24)
    got: dict[int, np.ndarray] = {}

    def window(n: int) -> None:
        futures = [queue.bake(f"w{n}", look, 9) for look in looks[n * 6 : n * 6 + 6]]
        got[n] = futures[-1].result(30).codes

    threads = [threading.Thread(target=window, args=(n,)) for n in range(4)]
    for t in threads:
        t.start()
    for t in threads:
        t.join(60)
    for n in range(4):
        assert np.array_equal(got[n], _alone(looks[n * 6 + 5], 9))


def test_a_fault_is_handed_to_who_asked_and_the_next_wish_is_answered(queue: BakeQueue) -> None:
    def broken(size: int) -> np.ndarray:
        raise ValueError("no such view")

    with pytest.raises(ValueError, match="no such view"):
        queue.bake("w", parse_look(TEXT), 9, "now", Seen("x", broken)).result(20)
    assert queue.bake("w", parse_look(TEXT), 9).result(20).size == 9


def test_a_newer_wish_stops_the_one_at_work(queue: BakeQueue) -> None:
    looks = varied(2)
    newer: list[Any] = []

    def places(size: int) -> np.ndarray:  # called when the work on this wish has begun
        newer.append(queue.bake("w", looks[1], 9))
        return np.arange(size**3)

    old = queue.bake("w", looks[0], 33, "now", Seen("slow", places))
    assert isinstance(old.exception(20), Superseded)
    assert np.array_equal(newer[0].result(20).codes, _alone(looks[1], 9))


def test_wishes_that_nobody_waits_for_any_more_do_no_harm(queue: BakeQueue) -> None:
    asked = [queue.bake(f"w{i}", look, 9) for i, look in enumerate(varied(8))]
    for future in asked[1::2]:
        future.cancel()
    late = queue.bake("w3", varied(8)[5], 9)
    assert np.array_equal(late.result(20).codes, _alone(varied(8)[5], 9))
    for future in asked[0::2]:
        assert future.result(20).size == 9


def test_the_size_of_a_moving_lattice_is_one_of_the_told_and_closing_ends_all(pool: ThreadPoolExecutor) -> None:
    queue = BakeQueue(pool)
    assert queue.bake("w", parse_look(TEXT), None).result(30).size in DRAG_SIZES
    waiting = [queue.bake("w", look, 33) for look in varied(3)]
    queue.close()
    for future in [*waiting, queue.bake("w", parse_look(TEXT), 9)]:
        assert isinstance(future.exception(10), (Superseded, type(None)))
    assert isinstance(queue.bake("w", parse_look(TEXT), 9).exception(10), Superseded)
