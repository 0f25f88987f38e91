"""Work shared with a copy of the process: the same answers, whoever gave them, and none lost."""

from __future__ import annotations

import os
import signal
import sys
import threading

import numpy as np
import pytest

from lookwright import beside

forks = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="a copy of a process is made on Linux alone")


@pytest.fixture
def copies(monkeypatch: pytest.MonkeyPatch) -> None:
    """As if there were a second core and no other thread, whatever runs the tests."""
    monkeypatch.setattr(beside, "can_copy", lambda: True)


@pytest.mark.parametrize("count", [0, 1, 2, 7])
def test_answers_come_in_order(count: int) -> None:
    assert beside.each(lambda i: i * i, range(count)) == [i * i for i in range(count)]


@forks
@pytest.mark.usefixtures("copies")
def test_every_other_one_is_the_work_of_a_copy_and_the_same_to_the_bit() -> None:
    numbers = np.random.default_rng(0).normal(size=(9, 500))
    found = beside.each(lambda row: (os.getpid(), np.exp(row) @ row), numbers)
    assert {pid == os.getpid() for pid, _ in found[::2]} == {True}
    assert {pid == os.getpid() for pid, _ in found[1::2]} == {False}
    np.testing.assert_array_equal([x for _, x in found], [np.exp(row) @ row for row in numbers])


@forks
@pytest.mark.usefixtures("copies")
def test_a_copy_that_is_killed_leaves_nothing_out() -> None:
    here = os.getpid()

    def work(i: int) -> int:
        if os.getpid() != here:
            os.kill(os.getpid(), signal.SIGKILL)
        return -i

    assert beside.each(work, range(5)) == [0, -1, -2, -3, -4]


@forks
@pytest.mark.usefixtures("copies")
@pytest.mark.parametrize("bad", [2, 3])
def test_what_the_work_raises_is_raised_and_no_copy_stays(bad: int) -> None:
    def work(i: int) -> int:
        if i == bad:
            raise KeyboardInterrupt
        return i

    with pytest.raises(KeyboardInterrupt):
        beside.each(work, range(6))
    with pytest.raises(ChildProcessError):
        os.waitpid(-1, os.WNOHANG)


def test_no_copy_is_made_beside_another_thread() -> None:
    done = threading.Event()
    other = threading.Thread(target=done.wait)
    other.start()
    try:
        assert not beside.can_copy()
        assert beside.each(lambda i: os.getpid(), range(3)) == [os.getpid()] * 3
    finally:
        done.set()
        other.join()
