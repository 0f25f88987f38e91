"""Programs that are told to stop, and readers that leave: nothing half-written, nothing said that helps nobody."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from lookwright.app import cli
from lookwright.errors import LookwrightError

LOOK = Path(__file__).parents[2] / "looks" / "night-workshop.toml"

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals and pipes of POSIX systems")


def start(*arguments: object, **how: object) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "lookwright", *map(str, arguments)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, **how)  # type: ignore[call-overload,no-any-return]


def written(folder: Path) -> Path | None:
    """The unfinished file, once bytes of it are there."""
    for path in folder.glob(".writing-*"):
        with contextlib.suppress(FileNotFoundError):
            if path.stat().st_size:
                return path
    return None


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
def test_ended_in_mid_write(tmp_path: Path, number: int) -> None:
    """The real command, a LUT of 7 MB: the signal comes when part of it is on the disk."""
    (tmp_path / "look.cube").write_text("# earlier, by lookwright", encoding="utf-8")
    for _ in range(5):  # on a busy machine the moment may be missed
        with start("bake", LOOK, "--size", 65, "--out", tmp_path / "look.cube") as running:
            while written(tmp_path) is None and running.poll() is None:
                time.sleep(0.0005)
            running.send_signal(number)
            _, said = running.communicate(timeout=60)
        if running.returncode:
            break
        (tmp_path / "look.cube").write_text("# earlier, by lookwright", encoding="utf-8")
    assert running.returncode == 128 + number
    assert said == "lookwright: stopped\n"
    assert os.listdir(tmp_path) == ["look.cube"]
    assert (tmp_path / "look.cube").read_text(encoding="utf-8") == "# earlier, by lookwright"


def test_what_was_to_be_ignored_is_ignored(tmp_path: Path) -> None:
    """nohup ignores SIGHUP for its command, which must not take it up again."""
    with start(
        "bake",
        LOOK,
        "--size",
        33,
        "--out",
        tmp_path / "look.cube",
        preexec_fn=lambda: signal.signal(signal.SIGHUP, signal.SIG_IGN),
    ) as running:
        time.sleep(0.5)  # by now it has looked at its signals, or has ended
        running.send_signal(signal.SIGHUP)
        _, said = running.communicate(timeout=60)
    assert (running.returncode, said) == (0, "")


def test_handlers_are_given_back() -> None:
    before = {n: signal.getsignal(n) for n in (signal.SIGTERM, signal.SIGHUP)}
    with pytest.raises(SystemExit):
        cli.main(["encodings", "nosuch"])
    assert {n: signal.getsignal(n) for n in before} == before


@pytest.mark.parametrize("arguments", [["--help"], ["--version"], ["show", "--help"], ["show", LOOK]])
def test_a_reader_that_left(arguments: list[object]) -> None:
    """As shells tell of it, 141; not 1, which is a check that failed."""
    with start(*arguments) as running:
        assert running.stdout is not None and running.stderr is not None
        running.stdout.close()
        assert running.stderr.read() == ""
    assert running.returncode == 128 + signal.SIGPIPE


def test_open_work_ends_before_its_fault_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """A batch that fails is left in the middle, its threads still writing: a random one of them would have closed it,
    which cannot be done from there, and said so in nine lines."""
    order: list[str] = []

    def work() -> Iterator[int]:
        try:
            yield 1
        finally:
            order.append("ended")

    def fails(*arguments: object) -> None:
        batch = work()
        next(batch)
        raise LookwrightError("here", "a fault")

    monkeypatch.setattr("lookwright.jobs.looks.read_text", fails)
    monkeypatch.setattr(cli, "say", order.append)
    with pytest.raises(SystemExit) as stopped:
        cli.main(["show", str(LOOK)])
    assert stopped.value.code == 2
    assert order == ["ended", "here: a fault"]
