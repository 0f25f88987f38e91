"""The other system refuses what it should: else a row would hold because nothing was asked of it."""

from __future__ import annotations

import errno
import mmap
import os
import signal
import sys
import tempfile
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from other_system import Streams, as_windows, msvcrt, other_system

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="handles are seen in /proc")


def test_fsync_wants_a_handle_for_writing(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"a")
    with other_system("handles", root=tmp_path):
        with open(tmp_path / "a", "rb") as file, pytest.raises(OSError) as fault:
            os.fsync(file.fileno())
        with open(tmp_path / "a", "r+b") as file:
            os.fsync(file.fileno())
            os.fsync(file)
    assert fault.value.errno == errno.EBADF


def test_what_is_open_stays_where_it_is(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"a")
    (tmp_path / "b").write_bytes(b"b")
    (tmp_path / "folder").mkdir()
    (tmp_path / "folder" / "c").write_bytes(b"c")
    with other_system("handles", root=tmp_path):
        for held in ("a", "b"):
            with open(tmp_path / held, "rb"):
                with pytest.raises(PermissionError):
                    os.replace(tmp_path / "a", tmp_path / "b")
                with pytest.raises(PermissionError):
                    (tmp_path / held).unlink()
        with open(tmp_path / "a", "rb") as file:
            mapped = mmap.mmap(file.fileno(), 0, prot=mmap.PROT_READ)
        with pytest.raises(PermissionError):
            (tmp_path / "a").unlink()
        mapped.close()
        with open(tmp_path / "folder" / "c", "rb"), pytest.raises(PermissionError):
            os.rename(tmp_path / "folder", tmp_path / "moved")
        with pytest.raises(FileExistsError):
            os.rename(tmp_path / "a", tmp_path / "b")
        os.replace(tmp_path / "a", tmp_path / "b")
        os.rename(tmp_path / "folder", tmp_path / "moved")
        (tmp_path / "b").unlink()
    assert [p.name for p in tmp_path.iterdir()] == ["moved"]


def test_what_windows_lacks_is_not_there(tmp_path: Path) -> None:
    import lookwright.system as system

    with other_system("bare", root=tmp_path):
        assert not any(hasattr(os, n) for n in ("nice", "fork", "O_CLOEXEC", "O_NOFOLLOW", "O_NONBLOCK"))
        assert not hasattr(signal, "SIGHUP") and system.WINDOWS and not system.REPLACES_OPEN_FILES
        with pytest.raises(ImportError):
            import fcntl  # noqa: F401
    assert hasattr(os, "fork") and hasattr(signal, "SIGHUP") and not system.WINDOWS


def test_names_that_differ_in_case_are_one(tmp_path: Path) -> None:
    with other_system("case", root=tmp_path):
        (tmp_path / "Caf\u00e9.txt").write_text("one")
        for other in ("CAF\u00c9.TXT", "cafe\u0301.txt"):
            assert (tmp_path / other).read_text() == "one" and os.path.exists(tmp_path / other)
        (tmp_path / "new").write_text("two")
        os.replace(tmp_path / "new", tmp_path / "caf\u00e9.txt")  # the name that was there is kept
        assert os.listdir(tmp_path) == ["Caf\u00e9.txt"] and (tmp_path / "Caf\u00e9.txt").read_text() == "two"
        os.rename(tmp_path / "Caf\u00e9.txt", tmp_path / "CAF\u00c9.txt")  # asked for outright, the case changes
        assert os.listdir(tmp_path) == ["CAF\u00c9.txt"]


@pytest.mark.parametrize(
    "name", ["con", "Aux.png", "nul.tar.gz", "COM1", "lpt\u00b9.cube", "a:b", "a?b", "a|b", "a\\b"]
)
def test_names_that_are_refused(tmp_path: Path, name: str) -> None:
    with other_system("names", root=tmp_path):
        assert not os.path.exists(tmp_path / name)
        with pytest.raises(OSError):
            (tmp_path / name).write_text("x")
        with pytest.raises(OSError):
            tempfile.mkstemp(dir=tmp_path, suffix="\\" + name)
    assert not list(tmp_path.iterdir())


def test_dots_and_spaces_at_the_end_are_lost(tmp_path: Path) -> None:
    with other_system("names", root=tmp_path):
        (tmp_path / "look. .").write_text("x")
    assert os.listdir(tmp_path) == ["look"]


def test_streams_are_strict_and_end_lines_as_there() -> None:
    with Streams("cp437") as said:
        print("°")
        with pytest.raises(UnicodeEncodeError):
            print("\u2212")
    assert said.out.startswith(b"\xf8\r\n")


def test_the_lock_that_windows_has(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "msvcrt", msvcrt())
    windows = as_windows("lookwright.system")
    (tmp_path / "a").write_bytes(b"text")
    one, two = (os.open(tmp_path / "a", os.O_RDONLY) for _ in range(2))
    assert windows.take_lock(one) and not windows.take_lock(two)
    assert os.read(one, 9) == b"text", "the place in the file was moved"
    os.close(one)
    assert windows.take_lock(two)
    with pytest.raises(AssertionError, match="a part of the file"):
        msvcrt().locking(os.open(tmp_path / "a", os.O_RDONLY), 2, 1)  # type: ignore[attr-defined]
    os.close(two)
