"""Inputs that vanish in mid-run, folders that may not be written, files that may not be read, links in the way."""

from __future__ import annotations

import builtins
import importlib
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from lookwright.app.cli import main
from lookwright.errors import LookwrightError, OutputError
from lookwright.files import check_target, write_text
from lookwright.look.recipe.read import read_look
from lookwright.lut.formats.cube import write_cube
from lookwright.lut.formats.read import read_lut
from lookwright.lut.lattices.lattice import Lattice, grid
from lookwright.pictures.clips.find import find_shots
from lookwright.pictures.stills import read, write
from lookwright.pictures.stills.find import find_stills
from lookwright.pictures.stills.marks import read_marks

LOOK = Path(__file__).parents[2] / "looks" / "night-workshop.toml"
LISTING = ("bake", "check", "deliver", "measure", "preview", "tune")
"""Jobs that list stills."""
PIXELS = np.full((24, 32, 3), 0.4, np.float32)


@pytest.fixture
def stills(tmp_path: Path) -> Path:
    folder = tmp_path / "stills"
    folder.mkdir()
    for name in ("a", "b", "c"):
        write(folder / f"{name}.png", PIXELS)
    return folder


@pytest.fixture
def sealed(tmp_path: Path) -> Iterator[Path]:
    """A folder that cannot be written: by its permissions, or for root, whom they do not bind, by a read-only mount."""
    folder = tmp_path / "sealed"
    folder.mkdir()
    (folder / "look.cube").write_text("# earlier, by lookwright", encoding="utf-8")
    if os.name == "posix" and os.geteuid() == 0:
        inside = ["mount", "--bind", str(folder), str(folder)]
        if subprocess.run(inside, capture_output=True, check=False).returncode:
            pytest.skip("root, and mounting is not allowed here")
        try:
            subprocess.run(["mount", "-o", "remount,ro,bind", str(folder)], check=True, capture_output=True)
            yield folder
        finally:
            subprocess.run(["umount", str(folder)], check=True)
    else:
        folder.chmod(0o500)
        yield folder
        folder.chmod(0o700)


def said(capfd: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, list[str]]:
    """Exit code and lines of standard error."""
    capfd.readouterr()
    with pytest.raises(SystemExit) as stopped:
        main([str(a) for a in arguments])
    assert isinstance(stopped.value.code, int)
    return stopped.value.code, capfd.readouterr().err.splitlines()


def one_vanishes_when_listed(stills: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Take b.png away right after a command has listed the stills."""

    def listed(paths: object) -> list[Path]:
        found = find_stills(paths)  # type: ignore[arg-type]
        (stills / "b.png").unlink(missing_ok=True)
        return found

    def shots(paths: object) -> list[Path]:
        found = find_shots(paths)  # type: ignore[arg-type]
        (stills / "b.png").unlink(missing_ok=True)
        return found

    for job in LISTING:
        monkeypatch.setattr(f"lookwright.jobs.{job}.find_stills", listed)
    monkeypatch.setattr("lookwright.jobs.series_shots.find_shots", shots)


def test_stills_that_vanish_between_listing_and_reading(
    stills: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    one_vanishes_when_listed(stills, monkeypatch)
    out = tmp_path / "out"
    code, lines = said(capfd, "preview", LOOK, "--stills", stills, "--size", 9, "--quiet", "--out", out)
    assert code == 1  # as for any bad still among good ones
    about = [line for line in lines if "b.png" in line]
    assert len(about) == 1 and "no such file" in about[0] and not [x for x in lines if "Traceback" in x]
    # The others are still made, whole, and nothing for the one that went.
    made = sorted(p.name for p in out.iterdir() if p.suffix in (".png", ".jpg"))
    assert len(made) == 2 and not [n for n in made if n.startswith("b")]
    for name in made:
        read(out / name)


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        (["measure", "--look", LOOK, "--stills", "STILLS"], 2),
        (["check", LOOK, "--stills", "STILLS"], 1),  # the rest is checked
        (["tune", LOOK, "--stills", "STILLS", "--mark", "m=0,0,1,1", "--level", "m=40", "--out", "OUT/new.toml"], 2),
        (["deliver", LOOK, "--stills", "STILLS", "--out", "OUT/delivery"], 2),
        (["series", LOOK, "--stills", "STILLS", "--anchor", "STILLS/a.png", "--out", "OUT"], 1),  # the rest is done
    ],
    ids=lambda x: x[0] if isinstance(x, list) else "",
)
def test_a_still_that_vanishes_stops_the_others_in_one_line(
    stills: Path,
    tmp_path: Path,
    capfd: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    arguments: list[object],
    expected: int,
) -> None:
    one_vanishes_when_listed(stills, monkeypatch)
    (tmp_path / "out").mkdir()
    places = {"STILLS": str(stills), "OUT": str(tmp_path / "out")}
    words = [str(a).replace("STILLS", places["STILLS"]).replace("OUT", places["OUT"]) for a in arguments]
    code, lines = said(capfd, *words)
    assert code == expected, lines
    assert len(lines) == 1 and "b.png" in lines[0] and "no such file" in lines[0], lines
    left = sorted(p.name for p in (tmp_path / "out").iterdir())
    assert (left == []) == (arguments[0] != "series") and not [n for n in left if n.startswith(".")], left


@pytest.mark.parametrize("reader", [read_look, read_lut, read_marks, read])
def test_files_that_go_between_looking_and_opening(
    tmp_path: Path, reader: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever was asked about the file before, opening it finds it gone."""
    suffixes = {"read_look": ".toml", "read_lut": ".cc", "read_marks": ".toml", "read": ".png"}
    suffix = suffixes[reader.__name__]  # type: ignore[attr-defined]
    path = tmp_path / f"gone{suffix}"
    path.write_bytes(b"x")
    opened = builtins.open

    def open_late(file: object, *arguments: object, **more: object) -> object:
        if file == path:
            path.unlink(missing_ok=True)
        return opened(file, *arguments, **more)  # type: ignore[call-overload]

    low = os.open

    def open_low(file: object, *arguments: object, **more: object) -> int:
        if file == path:
            path.unlink(missing_ok=True)
        return low(file, *arguments, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(builtins, "open", open_late)
    monkeypatch.setattr(os, "open", open_low)
    with pytest.raises(LookwrightError, match="no such file"):
        reader(path)  # type: ignore[operator]
    assert not path.exists(), "the test did not take the file away"


def test_a_picture_that_vanishes_once_it_was_recognised(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    module = importlib.import_module("lookwright.pictures.stills.read")
    for name in ("gone.png", "gone.exr", "gone.tif"):
        path = write(tmp_path / name, PIXELS)
        recognise = module._recognise

        def then_gone(p: Path, recognise: object = recognise) -> object:
            kind = recognise(p)  # type: ignore[operator]
            p.unlink()
            return kind

        with monkeypatch.context() as patched:
            patched.setattr(module, "_recognise", then_gone)
            with pytest.raises(LookwrightError, match=name):
                read(path)


def test_a_folder_that_cannot_be_written(sealed: Path, stills: Path, capfd: pytest.CaptureFixture[str]) -> None:
    before = sorted(os.listdir(sealed))
    with pytest.raises(OutputError, match=r"read-only|no permission"):
        write_cube(sealed / "look.cube", Lattice(grid(2)))
    with pytest.raises(OutputError, match=r"read-only|no permission"):
        check_target(sealed / "new.cube")
    with pytest.raises(OutputError, match=r"read-only|no permission"):
        write(sealed / "still.png", PIXELS)
    for arguments in (
        ("bake", LOOK, "--size", 9, "--out", sealed / "look.cube"),
        ("bake", LOOK, "--size", 9, "--out", sealed / "new" / "look.cube"),
        ("preview", LOOK, "--stills", stills, "--size", 9, "--out", sealed),
        ("new", sealed / "mine.toml"),
        ("deliver", LOOK, "--stills", stills, "--out", sealed / "delivery"),
    ):
        code, lines = said(capfd, *arguments)
        assert code == 2, arguments
        assert len(lines) == 1 and any(w in lines[0] for w in ("read-only", "permission", "not exist")), lines
    assert sorted(os.listdir(sealed)) == before
    assert (sealed / "look.cube").read_text(encoding="utf-8") == "# earlier, by lookwright"


READ_WITHOUT_PERMISSION = """
import os, sys
from pathlib import Path
from lookwright.errors import LookwrightError
from lookwright.look.recipe.read import read_look
from lookwright.lut.formats.read import read_lut
from lookwright.pictures.stills import read
from lookwright.pictures.stills.marks import read_marks
import PyOpenColorIO, OpenImageIO, lookwright.lut.formats.clf, lookwright.lut.formats.cdl
import lookwright.pictures.stills.read
folder = Path(sys.argv[1])
if os.geteuid() == 0:
    os.setgid(65534)
    os.setuid(65534)  # permissions do not bind root
for name, reader in {"a.toml": read_look, "b.toml": read_marks, "a.cube": read_lut, "a.clf": read_lut, "a.cc": read_lut,
                     "a.png": read, "a.exr": read, "inside/a.png": read, "inside/a.cube": read_lut}.items():
    try:
        reader(folder / name)
    except LookwrightError as exc:
        print(name, exc)
"""


@pytest.mark.skipif(os.name != "posix", reason="permissions of POSIX systems")
def test_files_that_may_not_be_read(tmp_path: Path) -> None:
    # Not below pytest's folder, which only its owner may enter.
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "inside").mkdir()
        names = ["a.toml", "b.toml", "a.cube", "a.clf", "a.cc", "a.png", "a.exr", "inside/a.png", "inside/a.cube"]
        for file in names:
            (folder / file).write_bytes(b"x")
            (folder / file).chmod(0)
        (folder / "inside").chmod(0)
        folder.chmod(0o755)
        done = subprocess.run(
            [sys.executable, "-c", READ_WITHOUT_PERMISSION, name], capture_output=True, text=True, check=False
        )
        (folder / "inside").chmod(0o700)
    if "PermissionError" in done.stderr and "lookwright" not in done.stderr.splitlines()[-1]:
        pytest.skip("the package itself may not be read by another user here")
    assert done.returncode == 0 and done.stderr == "", done.stderr
    lines = done.stdout.splitlines()
    assert [line.split()[0] for line in lines] == names
    for line in lines:
        assert "permission" in line.lower(), line


def test_links_as_targets(tmp_path: Path) -> None:
    """A link to a file is replaced by the result, a link to a folder is refused; nothing else changes."""
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "kept.cube").write_text("# earlier, by lookwright", encoding="utf-8")
    lattice = Lattice(grid(2))
    for name, target in {"file": "kept.cube", "nowhere": "nothing.cube", "loop": "loop.cube"}.items():
        link = tmp_path / f"{name}.cube"
        link.symlink_to(target)
        try:
            write_cube(link, lattice)
        except OutputError as exc:
            assert str(exc).isprintable()
        else:
            assert read_lut(link) is not None
    assert (tmp_path / "kept.cube").read_text(encoding="utf-8") == "# earlier, by lookwright"
    assert not (tmp_path / "nothing.cube").exists()
    (tmp_path / "folder.cube").symlink_to("elsewhere")
    with pytest.raises(OutputError, match="folder"):
        write_cube(tmp_path / "folder.cube", lattice)
    assert os.listdir(tmp_path / "elsewhere") == []
    assert not [p for p in os.listdir(tmp_path) if p.startswith(".writing-")]


def test_links_as_inputs(tmp_path: Path, stills: Path) -> None:
    (tmp_path / "linked.png").symlink_to(stills / "a.png")
    assert np.array_equal(read(tmp_path / "linked.png").pixels, read(stills / "a.png").pixels)
    (stills / "lost.png").symlink_to("nowhere.png")
    (stills / "loop.png").symlink_to("loop.png")
    (stills / "deeper.png").symlink_to(".")
    # In a folder only what leads to a file counts.
    assert [p.name for p in find_stills(stills)] == ["a.png", "b.png", "c.png"]
    write_text(tmp_path / "plain.txt", "x")
