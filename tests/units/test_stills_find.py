"""What files, folders and patterns become."""

import glob
import time
from pathlib import Path

import pytest

from lookwright.errors import PictureError
from lookwright.pictures.stills import find_stills


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name in ("shot 10.png", "shot 9.PNG", "Shot 1.exr", ".hidden.png", ".writing-x.png", "notes.txt", "a.dpx"):
        (tmp_path / name).write_bytes(b"x")
    (tmp_path / "inner").mkdir()
    (tmp_path / "inner" / "deep.png").write_bytes(b"x")
    (tmp_path / "folder.png").mkdir()
    return tmp_path


def test_folder_in_natural_order_without_hidden_or_deeper(folder: Path) -> None:
    assert [p.name for p in find_stills(folder)] == ["a.dpx", "Shot 1.exr", "shot 9.PNG", "shot 10.png"]


def test_pattern(folder: Path) -> None:
    assert [p.name for p in find_stills(f"{folder}/*.png")] == ["shot 10.png"]
    assert [p.name for p in find_stills([f"{folder}/shot*"])] == ["shot 9.PNG", "shot 10.png"]


def test_a_pattern_that_goes_deeper(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As the standard library's glob finds them where there are no links."""
    (folder / ".cache").mkdir()
    (folder / ".cache" / "hidden.png").write_bytes(b"x")
    (folder / "inner" / "in[1]").mkdir()
    (folder / "inner" / "in[1]" / "last.png").write_bytes(b"x")
    monkeypatch.chdir(folder)
    for pattern in ("**/*.png", f"{folder}/**/*.png", "inner/**", "**/in*/**/*.png", "i*/**/*.png", "**"):
        known = {str(Path(p)) for p in glob.glob(pattern, recursive=True) if Path(p).is_file() and "png" in p.lower()}
        assert {str(p) for p in find_stills(pattern) if p.suffix.lower() == ".png"} == known, pattern


def test_links_back_up_are_gone_through_once(folder: Path) -> None:
    """Two links to the folder above: 2^40 ways down to the same pictures."""
    for name in ("one", "two"):
        (folder / "inner" / name).symlink_to("..")
    (folder.parent / "elsewhere").mkdir(exist_ok=True)
    (folder.parent / "elsewhere" / "linked.png").write_bytes(b"x")
    (folder / "other").symlink_to(folder.parent / "elsewhere")
    started = time.process_time()
    found = [p.name for p in find_stills(f"{folder}/**/*.png")]
    assert sorted(found) == ["deep.png", "linked.png", "shot 10.png"]
    assert time.process_time() - started < 5


def test_named_files_are_kept_whatever_their_suffix_and_only_once(folder: Path) -> None:
    named = [folder / "notes.txt", folder / "inner" / ".." / "notes.txt", str(folder / "a.dpx"), folder]
    assert [p.name for p in find_stills(named)].count("notes.txt") == 1
    assert [p.name for p in find_stills(named)].count("a.dpx") == 1


def test_a_real_name_with_brackets_is_not_a_pattern(tmp_path: Path) -> None:
    path = tmp_path / "take[1].png"
    path.write_bytes(b"x")
    assert find_stills(path) == [path]


def test_clear_errors(folder: Path) -> None:
    (folder / "empty").mkdir()
    with pytest.raises(PictureError, match="no such file or folder"):
        find_stills(folder / "none.png")
    with pytest.raises(PictureError, match=r"holds no stills.*\.png"):
        find_stills(folder / "empty")
    with pytest.raises(PictureError, match="no still matches"):
        find_stills(f"{folder}/*.tif")
    with pytest.raises(PictureError, match="none were named"):
        find_stills([])
    with pytest.raises(PictureError):
        find_stills("a\0b.png")
