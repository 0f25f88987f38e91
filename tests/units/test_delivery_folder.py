"""A folder appears whole or not at all; into one that exists every file goes whole."""

from __future__ import annotations

import hashlib
import json
import os
import random
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

from lookwright.errors import LutFileError, OutputError
from lookwright.files import remove_unfinished
from lookwright.present.delivery.folder import MANIFEST, building

WRITER = """
import json, sys
from pathlib import Path
from lookwright.present.delivery.folder import MANIFEST, building, sha256_of
target = Path(sys.argv[1])
def once(word):
    with building(target) as folder:
        (folder / "inner").mkdir()
        for i in range(30):
            (folder / ("inner" if i % 2 else ".") / f"{i}.cube").write_text(word * 2000)
        files = sorted(p for p in folder.rglob("*.cube"))
        listed = [{"file": p.relative_to(folder).as_posix(), "sha256": sha256_of(p)} for p in files]
        (folder / MANIFEST).write_text(json.dumps({"files": listed}))
once("one")
print("ready", flush=True)
while True:
    once("two")
    once("one")
"""


def test_kill_at_any_moment(tmp_path: Path) -> None:
    """Files are replaced one by one, so a kill may leave some of each; but each is whole, none is missing, and where
    the manifest agrees with them the delivery is of one piece."""
    rng = random.Random(4)
    target = tmp_path / "out"
    wholes = {hashlib.sha256((w * 2000).encode()).hexdigest() for w in ("one", "two")}
    mixed = building_left = 0
    for _ in range(6):
        with subprocess.Popen([sys.executable, "-c", WRITER, str(target)], stdout=subprocess.PIPE) as writer:
            assert writer.stdout is not None and writer.stdout.readline() == b"ready\n"
            time.sleep(rng.uniform(0.0, 0.05))
            writer.kill()
        files = sorted(target.rglob("*.cube"))
        assert len(files) == 30
        digests = {p.relative_to(target).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest() for p in files}
        assert set(digests.values()) <= wholes
        listed = {f["file"]: f["sha256"] for f in json.loads((target / MANIFEST).read_text())["files"]}
        if len(set(digests.values())) == 2:
            mixed += 1
            assert listed != digests  # an interruption can be told
        for left in tmp_path.glob(".writing-*"):
            building_left += 1
            shutil.rmtree(left)
    # Kills fell into the work, or this shows nothing.
    assert building_left > 0


def _fill(folder: Path, word: str) -> None:
    (folder / "a.cube").write_text(word)
    (folder / "sub").mkdir()
    (folder / "sub" / "b.clf").write_text(word)


def test_a_new_folder_comes_at_once_with_its_parents(tmp_path: Path) -> None:
    with building(tmp_path / "x" / "y" / "out") as folder:
        _fill(folder, "one")
        assert not (tmp_path / "x/y/out").exists()
    assert (tmp_path / "x/y/out/sub/b.clf").read_text() == "one"
    assert [p.name for p in (tmp_path / "x/y").iterdir()] == ["out"]
    # Readable by whom a plain mkdir() would have let read it.
    plain = tmp_path / "plain"
    plain.mkdir()
    assert (tmp_path / "x/y/out").stat().st_mode == plain.stat().st_mode


def test_an_empty_folder_is_taken(tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    with building(tmp_path / "out") as folder:
        _fill(folder, "one")
    assert (tmp_path / "out/a.cube").read_text() == "one"


def test_a_fault_leaves_everything_as_it_was(tmp_path: Path) -> None:
    target = tmp_path / "out"
    target.mkdir()
    (target / "a.cube").write_text("earlier")
    with pytest.raises(LutFileError) as caught, building(target) as folder:
        _fill(folder, "one")
        raise LutFileError(str(folder / "a.cube"), "wrong")
    assert caught.value.line() == f"{target / 'a.cube'}: wrong"
    with pytest.raises(ZeroDivisionError), building(tmp_path / "deep" / "new") as folder:
        _fill(folder, "one")
        _ = 1 / 0
    assert sorted(p.name for p in tmp_path.rglob("*")) == ["a.cube", "out"]
    assert (target / "a.cube").read_text() == "earlier"


def test_an_error_of_the_system_is_one_line_with_the_real_name(tmp_path: Path) -> None:
    import errno

    target = tmp_path / "out"
    with pytest.raises(OutputError) as caught, building(target) as folder:
        raise OSError(errno.ENOSPC, "No space left on device", str(folder / "look.cube"))
    assert caught.value.line().startswith(f"{target / 'look.cube'}: the disk is full")
    assert list(tmp_path.iterdir()) == []


def test_a_folder_where_a_file_should_go(tmp_path: Path) -> None:
    """The fault comes before any file of the same delivery that sorts after it is touched; all stay whole."""
    target = tmp_path / "out"
    (target / "a.cube").mkdir(parents=True)
    (target / "z.cube").write_text("earlier")
    with pytest.raises(OutputError) as caught, building(target) as folder:
        (folder / "a.cube").write_text("one")
        (folder / "z.cube").write_text("one")
    assert "a.cube" in caught.value.line() and "\n" not in caught.value.line()
    assert (target / "z.cube").read_text() == "earlier"


@pytest.mark.parametrize("text", ["", "[]", '{"files": 3}', '{"files": [{"file": "a.cube"}]}', "\x00"])
def test_an_earlier_manifest_of_any_kind_is_survived(tmp_path: Path, text: str) -> None:
    target = tmp_path / "out"
    target.mkdir()
    (target / MANIFEST).write_text(text)
    (target / "mine.txt").write_text("mine")
    with building(target) as folder:
        _fill(folder, "one")
        (folder / MANIFEST).write_text("{}")
    assert (target / "mine.txt").read_text() == "mine" and (target / "a.cube").read_text() == "one"


def test_who_ends_at_once_removes_the_hidden_folder(tmp_path: Path) -> None:
    """As for files (``files.remove_unfinished``): a process whose work does not hear that it is to stop."""
    with building(tmp_path / "out") as folder:
        (folder / "inner").mkdir()
        (folder / "inner/a.cube").write_text("half", encoding="utf-8")
        remove_unfinished()
        assert not folder.exists() and not list(tmp_path.iterdir())
        folder.mkdir()  # so that leaving the block is as ever
    remove_unfinished()
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


@pytest.mark.parametrize("kind", ["pipe", "device", "brackets"])
def test_a_manifest_that_is_none_is_not_waited_for(kind: str, tmp_path: Path) -> None:
    target = tmp_path / "out"
    target.mkdir()
    if kind == "pipe":
        os.mkfifo(target / MANIFEST)
    elif kind == "device":
        (target / MANIFEST).symlink_to("/dev/zero")
    else:
        (target / MANIFEST).write_text("[" * 200_000)
    (target / "other.txt").write_text("the user's")
    with building(target) as folder:
        (folder / MANIFEST).write_text('{"files": []}')
    assert (target / MANIFEST).read_text() == '{"files": []}' and (target / "other.txt").exists()
