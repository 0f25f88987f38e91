"""Files on Windows in parts: what is open, a delivery over an earlier one, ledgers, the bench's files and process."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[1] / "faults"))

from other_system import WINDOWS, Patches, other_system
from parts import PARTS, of_processes
from writers import LOOK

from lookwright import files
from lookwright.app.bench.unsaved import Unsaved
from lookwright.errors import OutputError
from lookwright.files import note_unfinished, put_in_place, remove_unfinished, write_text
from lookwright.present.delivery.folder import building

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="handles are seen in /proc")

FILES = [b for b in WINDOWS if b != "cp1252"]


@pytest.fixture
def windows(tmp_path: Path) -> Iterator[Patches]:
    with other_system(*FILES, root=tmp_path) as patches:
        yield patches


def test_a_file_that_somebody_looks_at_is_waited_for(windows: Patches, tmp_path: Path) -> None:
    (tmp_path / "look.cube").write_text("earlier")
    viewer = open(tmp_path / "look.cube", "rb")  # noqa: SIM115
    windows.set(files.time, "sleep", lambda seconds: viewer.close())
    write_text(tmp_path / "look.cube", "new")
    assert (tmp_path / "look.cube").read_text() == "new"


def test_one_that_stays_open_is_told(windows: Patches, tmp_path: Path) -> None:
    (tmp_path / "look.cube").write_text("earlier")
    waited: list[float] = []
    windows.set(files.time, "sleep", waited.append)
    with open(tmp_path / "look.cube", "rb"), pytest.raises(OutputError, match=r"look\.cube: open in another program"):
        write_text(tmp_path / "look.cube", "new")
    assert 0.5 < sum(waited) < 2.0
    assert [p.name for p in tmp_path.iterdir()] == ["look.cube"] and (tmp_path / "look.cube").read_text() == "earlier"


def test_a_missing_target_is_no_file_in_use(windows: Patches, tmp_path: Path) -> None:
    (tmp_path / "new").write_text("new")
    windows.set(files.time, "sleep", lambda seconds: None)
    with open(tmp_path / "new", "rb"), pytest.raises(PermissionError):
        put_in_place(tmp_path / "new", tmp_path / "look.cube")


def test_elsewhere_nothing_is_waited_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(files.time, "sleep", lambda seconds: pytest.fail("waited"))
    with pytest.raises(FileNotFoundError):
        put_in_place(tmp_path / "none", tmp_path / "look.cube")


def test_a_path_that_is_too_long_is_told(windows: Patches, tmp_path: Path) -> None:
    # The system itself says of such a path only that it is not there.
    def open_(path: Any, *rest: Any, **more: Any) -> Any:
        raise FileNotFoundError(2, "No such file or directory", os.fspath(path))

    windows.set(files.tempfile, "mkstemp", lambda **how: open_(how["dir"]))
    deep = tmp_path / "/".join(["a" * 50] * 6)
    with pytest.raises(OutputError, match="259 characters of Windows; choose a shorter path"):
        write_text(deep / "look.cube", "")


def test_unfinished_files_that_are_still_open_are_waited_for(windows: Patches, tmp_path: Path) -> None:
    noted = note_unfinished(tmp_path)
    for name in ("a", "b"):
        (tmp_path / f"{noted[1]}{name}").write_text("half")
    writer = open(tmp_path / f"{noted[1]}a", "r+b")  # noqa: SIM115
    try:
        remove_unfinished()
        assert [p.name[-1] for p in tmp_path.iterdir()] == ["a"], "the closed one goes whatever the other does"
        windows.set(files.time, "sleep", lambda seconds: writer.close())
        remove_unfinished(2.0)
        assert not list(tmp_path.iterdir())
    finally:
        writer.close()
        files.forget_unfinished(noted)


def test_a_delivery_over_an_earlier_one(windows: Patches, tmp_path: Path) -> None:
    target = tmp_path / "Delivery"
    for words, more in (("one", ["Old.txt", "Card.md"]), ("two", ["card.MD"])):
        with building(target) as folder:
            for name in more:
                (folder / name).write_text(words)
            digests = [{"file": n, "sha256": _sha(folder / n)} for n in more]
            (folder / "manifest.json").write_text(json.dumps({"files": digests}))
    assert {p.name: p.read_text() for p in target.glob("[!m]*")} == {"Card.md": "two"}
    assert [p.name for p in tmp_path.iterdir()] == ["Delivery"]


def _sha(path: Path) -> str:
    import hashlib

    return hashlib.sha256(path.read_bytes()).hexdigest()


def test_a_delivery_is_for_everybody(tmp_path: Path) -> None:
    with building(tmp_path / "d") as folder:
        (folder / "a").write_text("a")
    mask = os.umask(0)
    os.umask(mask)
    assert (tmp_path / "d").stat().st_mode & 0o777 == 0o777 & ~mask


def test_a_recovery_file_that_cannot_be_written_stays_held(windows: Patches, tmp_path: Path) -> None:
    (tmp_path / "window.toml").write_text("saved")
    text = ["one"]
    bench = Unsaved(tmp_path / "window.toml", "saved", lambda: text[0])
    bench.keep()
    text[0] = "two"
    windows.set(files.tempfile, "mkstemp", lambda **how: (_ for _ in ()).throw(PermissionError(13, "no")))
    bench.keep()
    assert "no permission" in bench.fault
    assert Unsaved(tmp_path / "window.toml", "saved", lambda: None).offered is None


@pytest.mark.parametrize("part", PARTS)
def test_parts(part: str, tmp_path: Path) -> None:
    PARTS[part](tmp_path, tuple(FILES))


def test_a_process_of_its_own(tmp_path: Path) -> None:
    (tmp_path / "Look.toml").write_text(LOOK, encoding="utf-8")
    environment = of_processes(tmp_path, FILES)

    def lookwright(*words: str) -> tuple[int, str, str]:
        command = [sys.executable, "-c", "from lookwright.app.cli import main; main()", *words]
        done = subprocess.run(command, capture_output=True, cwd=tmp_path, env=environment, timeout=120)
        return done.returncode, *(io.TextIOWrapper(io.BytesIO(b), "cp1252").read() for b in (done.stdout, done.stderr))

    code, out, err = lookwright("bake", "LOOK.TOML", "--size", "5", "--out", "Look.cube")
    assert (code, err) == (0, "") and out.startswith("wrote Look.cube"), err
    code, out, err = lookwright("bake", "Look.toml", "--size", "5", "--out", "LOOK.toml")
    assert code == 2 and "also read" in err
    assert sorted(p.name for p in tmp_path.iterdir()) == ["Look.cube", "Look.toml"]
