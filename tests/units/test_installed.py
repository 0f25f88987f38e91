"""What comes with the program, and how hints speak to those who have a checkout and those who have a wheel."""

from __future__ import annotations

import importlib.util
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from lookwright import installed
from lookwright.pictures.stills import find_stills, read, read_marks

ROOT = Path(__file__).parents[2]
PYPROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))


def _place(monkeypatch: pytest.MonkeyPatch, package: Path) -> None:
    package.mkdir(parents=True)
    monkeypatch.setattr(installed, "_PACKAGE", package)


def test_a_checkout(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    _place(monkeypatch, tmp_path / "src/lookwright")
    (tmp_path / "pyproject.toml").touch()
    assert installed.checkout() == tmp_path
    assert installed.samples() == (tmp_path / "looks", tmp_path / "sample_images")
    assert installed.how_to_get("clips") == "install it in lookwright's folder: pip install -e '.[clips]'"


@pytest.mark.parametrize("place", ["lib/site-packages/lookwright", "src/lookwright"])
def test_a_wheel(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, place: str) -> None:
    """Also one that was unpacked into a folder named src, with no project about it."""
    _place(monkeypatch, tmp_path / place)
    assert installed.checkout() is None
    assert installed.samples().looks == tmp_path / place / "samples/looks"
    assert installed.samples().stills == tmp_path / place / "samples/stills"
    assert installed.how_to_get("bench") == "install it: pip install 'lookwright[bench]'"


def test_the_samples_are_there_and_can_be_read() -> None:
    given = installed.samples()
    assert sorted(p.name for p in given.looks.glob("*.toml")) == sorted(p.name for p in (ROOT / "looks").glob("*.toml"))
    stills = find_stills([given.stills])
    assert len(stills) == 6
    assert {read(p).depth for p in stills} == {"16"}
    assert read_marks(given.stills / "marks.toml")


def test_every_extra_that_a_hint_names_exists() -> None:
    """Hints are calls of how_to_get with the name of an extra; no text of its own says pip."""
    extras = PYPROJECT["project"]["optional-dependencies"]
    named: set[str] = set()
    for path in Path(installed.__file__).parent.rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        assert path.name == "installed.py" or "pip install" not in text, path
        named |= {part.split('"')[1] for part in text.split("how_to_get(")[1:] if part.startswith('"')}
    assert {"bench", "clips", "cluster"} <= named <= set(extras)


@pytest.fixture(scope="module")
def small() -> Any:
    """The script that makes the small stills; it is not part of the package."""
    spec = importlib.util.spec_from_file_location("small", ROOT / "sample_images/scene/small.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_small_stills_are_the_large_ones_at_half_the_size(small: Any) -> None:
    names = sorted(p.name for p in (ROOT / "sample_images").glob("*.png"))
    assert names == sorted(p.name for p in (ROOT / "sample_images/small").glob("*.png"))
    for name in names:
        large = small.read_codes(ROOT / "sample_images" / name)
        assert large.max() <= 1023 and large.shape == (1080, 1920, 3)
        assert np.array_equal(small.read_codes(ROOT / "sample_images/small" / name), small.halved(large)), name


def test_halving_rounds_to_the_nearest_code(small: Any) -> None:
    codes = np.array([[[1, 0, 1023]] * 2, [[2, 1, 1022]] * 2], np.uint16)  # means 1.5, 0.5, 1022.5: ties go up
    assert small.halved(codes).tolist() == [[[2, 1, 1023]]]
