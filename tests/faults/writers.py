"""Every command that writes, on the smallest inputs it takes, for the tests of kills, full disks and sealed folders."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

NAME = "Werkstätte 木工 ✂ e\u0301 " + "long" * 50
"""Inputs and outputs lie in a folder of this name: not ASCII, and near the 255 bytes that file systems allow."""

LOOK = """\
title = "Bench by the window"

[source]
encoding = "ACEScct"

[output]
encoding = "BT.1886"

[[step]]
kind = "exposure"
stops = 0.2

[[step]]
kind = "contrast"
slope = 1.05
lock = ["pivot", "toe", "shoulder", "luminance"]

[[step]]
kind = "render"
lock = true
"""


class Writer(NamedTuple):
    """A command line in which ``IN/`` and ``OUT/`` stand for the folders."""

    name: str
    words: str
    extra: str = ""
    """A library that is no requirement of the package, and without which the command is left out."""

    def arguments(self, given: Path, out: Path) -> list[str]:
        folders = {"IN": str(given), "OUT": str(out)}
        return [
            folders[head] + slash + tail if head in folders else word
            for word in self.words.split()
            for head, slash, tail in [word.partition("/")]
        ]


_STILLS = "--stills IN/stills"
_SMALL = f"preview IN/look.toml {_STILLS} --size 5 --out OUT"
_LEVEL = "--mark key=0.4,0.4,0.2,0.2 --level key=50 --samples 100 --date today"

WRITERS = [
    Writer("new", "new OUT/new.toml --force"),
    Writer("show curves", "show IN/look.toml --curves OUT/curves.svg"),
    Writer("bake", "bake IN/look.toml --size 9 --out OUT/look.cube"),
    Writer("preview jpg", _SMALL),
    Writer("preview webp", f"{_SMALL} --format webp"),
    Writer("preview pairs png", f"{_SMALL} --layout pair --format png"),
    Writer("preview sheet tif", f"{_SMALL} --layout sheet --format tif"),
    Writer("preview variants", f"{_SMALL} --layout variants"),
    Writer("preview turns", f"{_SMALL} --layout turns"),
    Writer("show html", "show IN/look.toml --stills IN/stills/a.png --html OUT/look.html"),
    Writer("preview many", "preview IN/look.toml --stills IN/many --size 5 --out OUT"),
    Writer("measure", "measure --stills IN/stills/a.png --encoding ACEScct --out OUT"),
    Writer("check html", f"check IN/look.toml {_STILLS} --html OUT/check.html"),
    Writer("series", f"series IN/look.toml {_STILLS} --anchor IN/stills/a.png --out OUT"),
    Writer("tune", f"tune IN/look.toml {_STILLS} {_LEVEL} --out OUT/tuned.toml"),
    Writer("learn", "learn IN/look.toml --pair IN/stills/a.png IN/graded.png --no-tune --date today --out OUT/l.toml"),
    Writer("recover", "recover IN/look.cube --out OUT/recovered.toml --force"),
    Writer("frames", "frames IN/clip.mp4 --at 0 --at 0.2 --out OUT", "av"),
    Writer("clip", "clip IN/look.toml IN/clip.mp4 --size 5 --out OUT/graded.mp4", "av"),
]
"""Not here: deliver, whose files appear together (tests/cli/test_deliver.py, tests/units/test_delivery_folder.py); demo
bakes and previews; the bench saves a recipe as new does."""


def write_inputs(folder: Path) -> None:
    """Look, stills, a graded frame, a LUT and (where it can be written) a clip."""
    import numpy as np

    from lookwright.look.baking.bake import baked
    from lookwright.look.recipe.pipeline import compile_look
    from lookwright.look.recipe.read import parse_look
    from lookwright.lut.formats.cube import write_cube
    from lookwright.pictures.stills import read, write

    (folder / "stills").mkdir(parents=True)
    (folder / "many").mkdir()
    (folder / "look.toml").write_text(LOOK, encoding="utf-8")
    sample = read(Path(__file__).parents[2] / "sample_images" / "wide_acescct.png").pixels[::20, ::20]
    for name, moved in {"a": 0.0, "b": 0.01}.items():
        write(folder / "stills" / f"{name}.png", sample + np.float32(moved))
    for number in range(9):  # from nine on a ledger is kept
        write(folder / "many" / f"s{number}.png", np.roll(sample, 3 * number, axis=1)[:27, :48])
    look = parse_look(LOOK)
    pipeline = compile_look(look)
    graded = pipeline(sample.astype(np.float64))
    # What no step says: a small push of one channel by the others.
    graded[..., 2] = np.clip(graded[..., 2] + 0.03 * np.sin(3.0 * graded[..., 0]) * graded[..., 1], 0.0, 1.0)
    write(folder / "graded.png", graded.astype(np.float32))
    write_cube(folder / "look.cube", baked(pipeline, LOOK, 5))
    try:
        import av  # noqa: F401
    except ImportError:
        return
    _write_clip(folder / "clip.mp4", graded)


def _write_clip(path: Path, picture: object) -> None:
    from fractions import Fraction

    import numpy as np

    from lookwright.pictures.clips.read import ClipFrame
    from lookwright.pictures.clips.write import tags_for, write_clip

    frames = (
        ClipFrame(np.roll(np.asarray(picture, np.float32)[:48, :64], n, axis=1), n / 12, n, Fraction(1, 12))
        for n in range(6)
    )
    write_clip(path, frames, Fraction(12), tags_for("BT.1886", "BT.709"))
