"""Every command that writes: killed, ended, out of space, not permitted, twice at once.

The folders have names that are long and not ASCII, and are reached through symbolic links. After each of these every
file is a whole one, earlier or new, and none is missing.
"""

from __future__ import annotations

import contextlib
import errno
import importlib.util
import json
import os
import random
import re
import shutil
import signal
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from writers import NAME, WRITERS, Writer, write_inputs

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="forks, mounts and limits as Linux has them")

EARLIER = b"# earlier, by lookwright\n"  # of our own making, or it would not be replaced
HERE = [w for w in WRITERS if not w.extra or importlib.util.find_spec(w.extra)]

Files = dict[str, bytes]


class Place:
    """Inputs, a server of commands, and what each command writes when nothing disturbs it."""

    def __init__(self, root: Path, server: subprocess.Popen[str]) -> None:
        self.root, self.server = root, server
        self.given = root / "linked"
        self.known: dict[str, tuple[str, Files]] = {}

    def ask(self, writer: Writer, out: Path, **how: Any) -> list[dict[str, Any]]:
        assert self.server.stdin is not None and self.server.stdout is not None
        request = {"arguments": writer.arguments(self.given, out), "memo": str(self.root / f"{writer.name}.pickle")}
        self.server.stdin.write(json.dumps(request | how) + "\n")
        self.server.stdin.flush()
        answers: list[dict[str, Any]] = json.loads(self.server.stdout.readline())
        return answers

    @contextlib.contextmanager
    def folder(self, files: Files | None = None) -> Iterator[Path]:
        """A new folder behind a link, which holds an earlier version of each of ``files``."""
        with tempfile.TemporaryDirectory(dir=self.root) as name:
            (Path(name) / "real").mkdir()
            (Path(name) / NAME).symlink_to("real")
            out = Path(name) / NAME
            put_earlier(out, files or {})
            yield out

    def reference(self, writer: Writer) -> tuple[str, Files]:
        """Events and files of two undisturbed runs, which write the same files at the same time."""
        if writer.name not in self.known:
            with self.folder() as out:
                first, second = self.ask(writer, out, watched=str(out), twice=True)
                assert first["code"] == second["code"] and first["code"] in (0, 1), (first, second)
                assert not left_over(out)
                self.known[writer.name] = first["events"], visible(out)
        return self.known[writer.name]


def put_earlier(out: Path, files: Files) -> None:
    """An earlier version of each, by lookwright."""
    for name in files:
        (out / name).parent.mkdir(exist_ok=True)
        (out / name).write_bytes(EARLIER)


def visible(out: Path) -> Files:
    """Files in ``out``, in its folders too, but hidden ones."""
    found = {p.relative_to(out).as_posix(): p for p in out.rglob("*") if p.is_file()}
    return {name: p.read_bytes() for name, p in found.items() if "/." not in f"/{name}"}


def left_over(out: Path) -> list[str]:
    return [p.name for p in out.iterdir() if p.name.startswith(".writing-")]


def check_whole(out: Path, files: Files) -> None:
    """Each file is the earlier or the new one, none is missing, and nothing strange is there."""
    found = visible(out)
    assert found.keys() == files.keys()
    wrong = [name for name, data in found.items() if data not in (EARLIER, files[name])]
    assert not wrong, f"neither the earlier nor the new file: {wrong}"


def one_line(said: str) -> str:
    assert said.endswith("\n") and said.count("\n") == 1 and said[:-1].isprintable(), said
    assert said.startswith("lookwright: "), said
    return said


@pytest.fixture(scope="module")
def place() -> Iterator[Place]:
    # Not below pytest's folder, which only its owner may enter.
    with tempfile.TemporaryDirectory() as name:
        root = Path(name)
        root.chmod(0o755)
        write_inputs(root / NAME)
        (root / "linked").symlink_to(NAME)
        command = [sys.executable, str(Path(__file__).with_name("command_server.py"))]
        # A fork of a process with threads would wait for those it does not have.
        single = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "MPLCONFIGDIR": str(root)}
        with subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=os.environ | single
        ) as server:
            assert server.stdout is not None and server.stdout.readline() == "ready\n"
            yield Place(root, server)
            assert server.stdin is not None
            server.stdin.close()


@pytest.mark.parametrize("writer", HERE, ids=[w.name for w in HERE])
def test_every_writer(place: Place, writer: Writer) -> None:
    # In one test, because all of it needs the files of the first part.
    events, files = place.reference(writer)
    assert files and events.count("r") >= len(files), "the writing was not seen"
    chance = random.Random(writer.name)
    _killed(place, writer, chance, events, files)
    _ended(place, writer, some(chance, events, "wre"), files)
    _out_of_space(place, writer, files)
    _not_permitted(place, writer, files)


def _killed(place: Place, writer: Writer, chance: random.Random, events: str, files: Files) -> None:
    """Kill -9 at random moments: while a file is half-written, or anywhere, also in the middle of what C code does."""
    for anywhere in (True, False):
        at = some(chance, events, "wre" if anywhere else "wr")
        delay = chance.uniform(0.0001, 0.004) if anywhere else 0.0
        with place.folder(files) as out:
            (said,) = place.ask(writer, out, watched=str(out), signal=signal.SIGKILL, at=at, delay=delay)
            check_whole(out, files)
            if not anywhere:
                assert said["code"] == -signal.SIGKILL and left_over(out), "nothing was cut"


def some(chance: random.Random, events: str, kinds: str) -> tuple[str, int]:
    """One of the events of these kinds: which kind, and the how-manieth of it."""
    number = chance.choice([n for n, kind in enumerate(events) if kind in kinds])
    return events[number], events[: number + 1].count(events[number])


def _ended(place: Place, writer: Writer, at: tuple[str, int], files: Files) -> None:
    """SIGTERM: the same, and nothing is left over."""
    with place.folder(files) as out:
        (said,) = place.ask(writer, out, watched=str(out), signal=signal.SIGTERM, at=at, delay=0.0)
        assert said["code"] == 128 + signal.SIGTERM and one_line(said["said"]) == "lookwright: stopped\n", (at, said)
        check_whole(out, files)
        assert not left_over(out)


def _out_of_space(place: Place, writer: Writer, files: Files) -> None:
    """A full file system where one may be mounted, else a limit of no bytes on every file."""
    with place.folder() as out, full(out) as (limit, words):
        put_earlier(out, files)
        fill(out)
        (said,) = place.ask(writer, out, limit=limit)
        assert said["code"] == 2, said
        line = one_line(said["said"])
        assert re.search(words, line) and any(name in line for name in files), line
        assert visible(out) | {"ballast": b""} == dict.fromkeys(files, EARLIER) | {"ballast": b""}
        assert not left_over(out)


@contextlib.contextmanager
def full(out: Path) -> Iterator[tuple[int | None, str]]:
    mounting = ["mount", "-t", "tmpfs", "-o", "size=128k", "none", str(out.resolve())]
    if shutil.which("mount") is None or subprocess.run(mounting, capture_output=True, check=False).returncode:
        yield 0, r"too large|disk"
        return
    try:
        yield None, r"disk|No space left"
    finally:
        subprocess.run(["umount", str(out.resolve())], check=True)


def fill(out: Path) -> None:
    if not out.resolve().is_mount():
        return
    with open(out / "ballast", "wb", buffering=0) as ballast:
        try:
            while True:
                ballast.write(bytes(4096))
        except OSError as exc:
            assert exc.errno == errno.ENOSPC


def _not_permitted(place: Place, writer: Writer, files: Files) -> None:
    """A folder that this user may not write into; root, whom they do not bind, gives that up for it."""
    with place.folder(files) as out:
        out.parent.chmod(0o755)
        out.resolve().chmod(0o555)
        (said,) = place.ask(writer, out, bound=True)
        out.resolve().chmod(0o755)
        assert said["code"] == 2 and "no permission" in one_line(said["said"]), said
        assert visible(out) == dict.fromkeys(files, EARLIER) and not left_over(out)
