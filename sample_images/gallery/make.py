"""The README's pictures: one look plainly and graded, and all looks on the same four frames.

    python sample_images/gallery/make.py [FOLDER]

Writes top.jpg and looks.jpg beside this file, or into FOLDER, through the same work as `lookwright preview`.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from PIL import Image

from lookwright.jobs.preview import preview

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent
LOOKS = (
    "quiet-bench",
    "everyday-daylight",
    "night-workshop",
    "overcast",
    "lamplit-faces",
    "late-sun",
    "blue-hour",
    "first-frame",
)
FRAMES = ("more/bluehour", "more/sunny", "more/warm", "small/close")
WIDTH, QUALITY = 1140, 80
"""All together stay under 700 KB."""


def shrunk(picture: Path, target: Path) -> None:
    """A smaller copy; no metadata, so that the same pixels give the same file."""
    image = Image.open(picture).convert("RGB")
    size = (WIDTH, round(image.height * WIDTH / image.width))
    image.resize(size, Image.Resampling.LANCZOS).save(target, quality=QUALITY, optimize=True)


def make(folder: Path) -> None:
    """Both pictures into ``folder``."""
    stills = [ROOT / f"sample_images/{name}_acescct.png" for name in FRAMES]
    paths = [ROOT / f"looks/{name}.toml" for name in LOOKS]
    with tempfile.TemporaryDirectory() as made:
        one = preview(paths[2], stills[:1], Path(made) / "one", layout="pair")
        every = preview(paths[0], stills, Path(made) / "every", layout="variants", others=paths[1:])
        shrunk(one.written[0], folder / "top.jpg")
        shrunk(every.written[0], folder / "looks.jpg")


if __name__ == "__main__":
    make(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE)
