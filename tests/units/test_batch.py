"""Batches: faults kept apart, memory bounded, and a start where a kill left off."""

from __future__ import annotations

import json
import os
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from lookwright.errors import LookwrightError, PictureError
from lookwright.names import unique
from lookwright.pictures.batch import LEDGER, Ledger, key_of, run_cluster, run_local
from lookwright.solve.series.shots import shot_ids


def test_faults_end_their_own_task_only() -> None:
    def work(n: int) -> None:
        if n % 3 == 0:
            raise PictureError(f"still {n}", "damaged")

    outcomes = list(run_local(range(10), work, workers=2))
    assert sorted(o.task for o in outcomes) == list(range(10))
    assert sorted(o.task for o in outcomes if o.fault) == [0, 3, 6, 9]
    assert {str(o.fault) for o in outcomes if o.task == 6} == {"still 6: damaged"}


def test_a_fault_of_the_program_ends_the_run() -> None:
    with pytest.raises(ZeroDivisionError):
        list(run_local([1, 0, 2], lambda n: 1 // n, workers=1))


def test_few_tasks_are_taken_ahead() -> None:
    """However many there are: their pictures would fill the memory."""
    taken = done = worst = 0
    lock = threading.Lock()

    def tasks() -> Iterator[int]:
        nonlocal taken, worst
        for n in range(200):
            with lock:
                taken += 1
                worst = max(worst, taken - done)
            yield n

    def work(n: int) -> None:
        nonlocal done
        with lock:
            done += 1

    assert len(list(run_local(tasks(), work, workers=3))) == 200
    assert worst <= 2 * 3 + 1


def test_the_work_runs_on_several_threads_at_once() -> None:
    meet = threading.Barrier(2, timeout=20)
    assert len(list(run_local(range(4), lambda n: meet.wait(), workers=2))) == 4


def output(folder: Path, name: str, text: str = "picture") -> Path:
    path = folder / name
    path.write_text(text)
    return path


def test_ledger_knows_what_is_done(tmp_path: Path) -> None:
    ledger = Ledger(tmp_path)
    one, two = output(tmp_path, "one.jpg"), output(tmp_path, "two.jpg")
    ledger.add(one, "key-1")
    again = Ledger(tmp_path)
    assert again.has(one, "key-1") and not again.has(one, "key-2") and not again.has(two, "key-1")
    one.write_text("longer than it was")
    assert not Ledger(tmp_path).has(one, "key-1"), "somebody else wrote it"
    one.unlink()
    assert not Ledger(tmp_path).has(one, "key-1"), "it is gone"


def test_the_later_line_counts(tmp_path: Path) -> None:
    ledger = Ledger(tmp_path)
    path = output(tmp_path, "one.jpg")
    ledger.add(path, "old")
    ledger.add(path, "new")
    assert Ledger(tmp_path).has(path, "new") and not Ledger(tmp_path).has(path, "old")


@pytest.mark.parametrize(
    "left",
    [
        b"",
        b"{",
        b'{"output": "one.jpg", "key": "k", "si',
        b"\xff\xfe\x00",
        b"[]\n3\nnull\n",
        b'{"output": 1}\n',
        b'{"output": "one.jpg", "key": "k", "size": 1e999, "sha256": "a"}\n',
        b"[" * 200_000,
        b"[" * 200_000 + b"\n",
    ],
)
def test_a_ledger_cut_or_spoiled_costs_only_work(left: bytes, tmp_path: Path) -> None:
    path = output(tmp_path, "one.jpg")
    (tmp_path / LEDGER).write_bytes(left)
    ledger = Ledger(tmp_path)
    assert not ledger.has(path, "k")
    ledger.add(path, "k")
    assert Ledger(tmp_path).has(path, "k"), "a line after a cut one must not be lost with it"


def test_a_ledger_that_cannot_be_written_is_no_fault(tmp_path: Path) -> None:
    (tmp_path / LEDGER).mkdir()
    ledger = Ledger(tmp_path)
    path = output(tmp_path, "one.jpg")
    ledger.add(path, "k")
    assert ledger.has(path, "k") and not Ledger(tmp_path).has(path, "k")


def test_a_file_of_the_right_size_but_other_bytes_is_not_done(tmp_path: Path) -> None:
    """A disk that was full, or a machine that lost power, leaves zeros."""
    path = output(tmp_path, "one.jpg")
    Ledger(tmp_path).add(path, "k")
    assert Ledger(tmp_path).has(path, "k")
    path.write_bytes(bytes(7))
    assert not Ledger(tmp_path).has(path, "k")


@pytest.mark.parametrize("kind", ["link to a file", "link to a device", "pipe", "second name"])
def test_what_stands_in_the_ledgers_place_is_left_alone(kind: str, tmp_path: Path) -> None:
    other = tmp_path / "diary.txt"
    other.write_text("mine\n")
    folder = tmp_path / "out"
    folder.mkdir()
    if kind == "pipe":
        os.mkfifo(folder / LEDGER)
    elif kind == "second name":
        os.link(other, folder / LEDGER)
    else:
        (folder / LEDGER).symlink_to(other if kind == "link to a file" else "/dev/full")
    ledger = Ledger(folder)
    ledger.tidy(".jpg")
    path = output(folder, "one.jpg")
    ledger.add(path, "k")
    assert ledger.has(path, "k") and not Ledger(folder).has(path, "k")
    assert other.read_text() == "mine\n"


def test_names_that_other_systems_take_for_one() -> None:
    taken: set[str] = set()
    names = ["shot", "Shot", "shot", "caf\u00e9", "cafe\u0301", "SHOT-2"]
    assert [unique(n, taken) for n in names] == ["shot", "Shot-2", "shot-3", "caf\u00e9", "cafe\u0301-2", "SHOT-2-2"]


def test_lines_are_plain_json(tmp_path: Path) -> None:
    Ledger(tmp_path).add(output(tmp_path, "one.jpg"), "k")
    digest = "2cea274d0bedc39ec4ab6ba9e59ec889e3ed6fb56a1cf088a64d9b383378dc97"
    line = json.loads((tmp_path / LEDGER).read_text())
    assert line == {"output": "one.jpg", "key": "k", "size": 7, "sha256": digest}


def test_a_key_follows_the_bytes_and_all_else(tmp_path: Path) -> None:
    path = output(tmp_path, "still.png", "a")
    first = key_of(path, "look", 33)
    assert first == key_of(path, "look", 33) and len(first) == 64
    assert first != key_of(path, "look", 65)
    assert key_of(path, "ab", "c") != key_of(path, "a", "bc"), "parts must not run into each other"
    path.write_text("b")
    assert first != key_of(path, "look", 33)
    with pytest.raises(FileNotFoundError):
        key_of(tmp_path / "none.png")


def test_ids_are_unique() -> None:
    paths = [Path(p) for p in ("a/one.png", "b/one.png", "c/one-2.png", "d/one.png", "two.tif")]
    ids = shot_ids(paths)
    assert len(set(ids)) == 5 and ids[0] == "one" and ids[4] == "two"


def test_no_scheduler_answers() -> None:
    pytest.importorskip("distributed")
    with pytest.raises(LookwrightError, match=r"--scheduler tcp://127\.0\.0\.1:1: does not answer"):
        list(run_cluster([1], str, "tcp://127.0.0.1:1"))


def test_half_written_files_go_unless_someone_is_writing(tmp_path: Path) -> None:
    left, other = output(tmp_path, ".writing-abc.jpg"), output(tmp_path, ".writing-abc.cube")
    Ledger(tmp_path).tidy(".jpg")
    assert not left.exists() and other.exists(), "only what this kind of run leaves"
    at_work = Ledger(tmp_path)
    at_work.tidy(".jpg")
    left.write_text("half")
    Ledger(tmp_path).tidy(".jpg")
    assert left.exists()
    del at_work
    Ledger(tmp_path).tidy(".jpg")
    assert not left.exists()
