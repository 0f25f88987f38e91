"""The README's pictures are what its command makes of the looks that ship."""

from __future__ import annotations

import runpy
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

ROOT = Path(__file__).parents[2]
GALLERY = ROOT / "sample_images" / "gallery"
MOST_BYTES = 700_000


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("gallery")
    runpy.run_path(str(GALLERY / "make.py"))["make"](folder)
    return folder


@pytest.mark.parametrize("name", ["top.jpg", "looks.jpg"])
def test_the_pictures_are_those_of_the_looks(made: Path, name: str) -> None:
    kept, now = (np.asarray(Image.open(f / name), np.float64) for f in (GALLERY, made))
    assert kept.shape == now.shape
    # JPEG encoders differ in their last digits; a look changed by one code of signal moves means by more.
    assert np.abs(kept - now).mean() < 0.3


def test_they_are_small_and_the_readme_shows_them() -> None:
    pictures = sorted(GALLERY.glob("*.jpg"))
    assert sum(p.stat().st_size for p in pictures) <= MOST_BYTES
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    assert all(f"sample_images/gallery/{p.name}" in text for p in pictures)
