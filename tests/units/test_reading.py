"""One rule for everything read: regular files only, opened without waiting, of bounded size."""

from __future__ import annotations

import os
import socket
from pathlib import Path

import pytest

from lookwright.errors import LutFileError, MarksError
from lookwright.reading import NotAFile, open_regular, read_bytes


def refused(path: Path | str) -> str:
    with pytest.raises(LutFileError) as caught:
        read_bytes(path, 1_000_000, "a LUT file", LutFileError, missing="make one", folder="name one")
    return str(caught.value).partition(": ")[2]


def test_what_is_no_regular_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    os.mkfifo("pipe")
    os.symlink("pipe", "link")
    os.symlink("/dev/zero", "zero")
    os.symlink("/dev/tty", "terminal")
    os.symlink("loop", "loop")
    with socket.socket(socket.AF_UNIX) as made:
        made.bind("socket")
        for name in ("pipe", "link", "zero", "terminal", "socket"):
            assert refused(name) == "this is a pipe or device, not a LUT file"
    assert refused(tmp_path) == "this is a folder, not a LUT file; name one"
    assert refused("none") == "no such file; make one"
    assert refused("loop") == "its links point in a circle"
    assert refused("a\0b") == "the name holds a null character"
    assert refused("n" * 300) == "the name is too long for this file system"
    with pytest.raises(NotAFile):
        open_regular("pipe")


def test_a_link_to_a_file_is_that_file(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"text")
    os.symlink("a", tmp_path / "b")
    assert read_bytes(tmp_path / "b", 4, "a LUT file", LutFileError) == b"text"


def test_size_is_bounded(tmp_path: Path) -> None:
    with open(tmp_path / "hole", "wb") as file:
        file.truncate(1 << 40)
    with pytest.raises(MarksError, match=r"hole: too large for a marks file; expected at most 2 MB$"):
        read_bytes(tmp_path / "hole", 2_000_000, "a marks file", MarksError)


def test_no_handle_is_left_open(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    before = len(os.listdir("/proc/self/fd")) if os.path.isdir("/proc/self/fd") else 0
    for _ in range(20):
        with pytest.raises(OSError, match="pipe or device"):
            open_regular(tmp_path / "pipe")
    assert not before or len(os.listdir("/proc/self/fd")) == before
