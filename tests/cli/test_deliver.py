"""``lookwright deliver``: everything in the folder is what the card and the manifest say, or nothing is there."""

from __future__ import annotations

import base64
import hashlib
import io
import json
import os
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from lookwright.app.cli import main
from lookwright.look.recipe.pipeline import compile_look
from lookwright.lut.formats.cube import read_cube
from lookwright.lut.formats.embed import extract
from lookwright.pictures.stills import read, write

# One look for all: its steps before the rendering are nearly a CDL.
LOOK = """\
# remark that stays
title = "Bench, by the window: 1"

[source]
encoding = "ACEScct"

[output]
encoding = "BT.1886"

[[step]]
kind = "exposure"
stops = 0.3

[[step]]
kind = "cdl"
slope = [1.02, 1.0, 0.97]

[[step]]
kind = "render"

[[step]]
kind = "gamut"
"""


def _run(*arguments: object) -> int:
    with pytest.raises(SystemExit) as stopped:
        main([str(a) for a in arguments])
    assert isinstance(stopped.value.code, int)
    return stopped.value.code


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A look and two small stills."""
    folder = tmp_path_factory.mktemp("deliver")
    crop = read(Path(__file__).parents[2] / "sample_images/wide_acescct.png").pixels[300:390, 800:960]
    (folder / "stills").mkdir()
    write(folder / "stills/bench.png", crop)
    write(folder / "stills/door.png", crop[::-1, ::-1])
    (folder / "window.toml").write_text(LOOK, encoding="utf-8")
    return folder


def _smaller(patch: pytest.MonkeyPatch) -> None:
    """The two large LUTs at a size that keeps the tests short; those with a killed run and a full disk use the real."""
    from lookwright.present.delivery import build

    patch.setattr(build, "FINE", 17)
    patch.setattr(build, "HALD_LEVEL", 4)


@pytest.fixture(scope="module")
def made(place: Path) -> Path:
    """The delivery folder, plainly sampled."""
    out = place / "out" / "window"
    with pytest.MonkeyPatch.context() as patch:
        _smaller(patch)
        code = _run("deliver", place / "window.toml", "--stills", place / "stills", "--out", out, "--plain-sampling")
    assert code == 0
    return out


def manifest(folder: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    return found


def tree(folder: Path) -> dict[str, str]:
    return {
        p.relative_to(folder).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest()
        for p in sorted(folder.rglob("*"))
        if p.is_file()
    }


def test_what_is_there(made: Path) -> None:
    assert set(tree(made)) == {
        "CARD.html",
        "CARD.md",
        "manifest.json",
        "restraint.html",
        "window.toml",
        "window-sheet.jpg",
        "window-33.cube",
        "window-17.cube",
        "window-log-33.cube",
        "window-monitor-33.cube",
        "window.clf",
        "window.cc",
        "window.cdl",
        "window-hald.png",
        "ocio/config.ocio",
        "ocio/luts/graded.clf",
        "ocio/luts/plain.clf",
        "ocio/luts/log.clf",
    }
    # Nothing is left beside it.
    assert [p.name for p in made.parent.iterdir()] == ["window"]


def test_the_manifest_is_true(made: Path) -> None:
    """Every file, with its size and hash; what each is fed and gives; how it was read back."""
    found, files = manifest(made), tree(made)
    listed = {f["file"]: f for f in found["files"]}
    assert set(listed) == set(files) - {"manifest.json"}
    for name, digest in files.items():
        if name != "manifest.json":
            assert listed[name]["sha256"] == digest and listed[name]["bytes"] == (made / name).stat().st_size
    assert found["recipe_sha256"] == hashlib.sha256(LOOK.encode()).hexdigest()
    assert listed["window-33.cube"]["feed"] == "ACEScct, ACEScg primaries, full range"
    assert listed["window-monitor-33.cube"]["gives"] == "BT.1886, BT.709 primaries, legal range"
    assert listed["window-log-33.cube"]["gives"] == "ACEScct, ACEScg primaries, full range"
    for name in ("window-33.cube", "window-17.cube", "window.clf", "window.cc", "ocio/config.ocio", "window-hald.png"):
        assert 0 <= listed[name]["largest_difference_on_reading_back"] <= 2e-5
    errors = {n: listed[n]["ciede2000"]["stills"]["tetrahedral"] for n in ("window-33.cube", "window-17.cube")}
    assert errors["window-33.cube"]["mean"] < errors["window-17.cube"]["mean"] < 2.0
    assert found["not_delivered"] == []


def test_the_look_comes_along_as_it_is(made: Path) -> None:
    assert (made / "window.toml").read_text(encoding="utf-8") == LOOK
    for name in ("window-33.cube", "window-17.cube"):
        assert extract(read_cube(made / name).comments) == LOOK


def test_every_cube_gives_back_the_look_it_was_baked_from(made: Path, lookwright: Any) -> None:
    """Also those for a monitor and log to log, which are looks of their own."""
    for name in ("window-33", "window-monitor-33", "window-log-33"):
        said = lookwright("recover", made / f"{name}.cube")
        assert said.code == 0 and "# remark that stays" in said.out, said.err


def test_the_cdl_is_the_steps_before_the_rendering(made: Path) -> None:
    """One exposure step is a gain on light: in the log part of ACEScct an offset of stops / 17.52 (S-2016-001), and
    the slope goes on from there. The toe below 0.0078 bends away, so the fit is near, not exact."""
    from lookwright.lut.formats.cdl import read_cdl

    (one,) = read_cdl(made / "window.cc")
    assert read_cdl(made / "window.cdl") == (one,)
    codes = np.full((1, 3), 0.45)
    expected = (0.45 + 0.3 / 17.52) * np.array([1.02, 1.0, 0.97])
    np.testing.assert_allclose(one(codes)[0], expected, atol=1.0 / 1023)
    words = next(f for f in manifest(made)["files"] if f["file"] == "window.cc")["note"]
    assert re.search(r"error of mean 0\.\d\d, 99th percentile [01]\.\d\d CIEDE2000", words)


def test_the_monitor_lut_is_the_look_in_legal_range(made: Path) -> None:
    """Legal codes (code - 64) / 876 are the full ones: the same colours come out, legal (BT.709-6 item 4.6)."""
    from lookwright.look.recipe.pipeline import compile_look
    from lookwright.look.recipe.read import parse_look
    from lookwright.lut.lattices.interpolate import lookup

    lattice = read_cube(made / "window-monitor-33.cube").lattice
    assert lattice is not None
    # Colours as pictures have them, within two stops between channels. 33 sampled points err by up to 0.02 among them
    # in full range too (measured); a mix-up of ranges would move every grey by about 0.03.
    rng = np.random.default_rng(3)
    full = rng.uniform(0.25, 0.65, (500, 1)) + rng.uniform(-0.05, 0.05, (500, 3))
    legal = (64 + 876 * full) / 1023
    wanted = (64 + 876 * compile_look(parse_look(LOOK))(full)) / 1023
    error = np.abs(lookup(lattice, legal) - wanted)
    assert error.max() < 0.03 and error.mean() < 0.003
    assert lattice.table.min() >= 64 / 1023 - 1e-6 and lattice.table.max() <= 940 / 1023 + 1e-6


def test_log_and_rendering_together_are_the_look(made: Path) -> None:
    from lookwright.look.recipe.pipeline import compile_look
    from lookwright.look.recipe.read import parse_look
    from lookwright.lut.lattices.interpolate import lookup

    lattice = read_cube(made / "window-log-33.cube").lattice
    assert lattice is not None and lattice.table.min() >= 0.0 and lattice.table.max() <= 1.0
    signal = np.random.default_rng(4).uniform(0.2, 0.6, (500, 3))
    head, tail = LOOK.split("[[step]]")[0], LOOK.split("[[step]]")[3:]
    rendering = compile_look(parse_look("[[step]]".join([head, *tail])))
    whole = compile_look(parse_look(LOOK))(signal)
    assert np.abs(rendering(lookup(lattice, signal)) - whole).max() < 0.01


def test_the_card_says_what_a_finishing_artist_needs(made: Path) -> None:
    for name in ("CARD.md", "CARD.html"):
        text = (made / name).read_text(encoding="utf-8")
        for item in manifest(made)["files"]:
            if "what" in item:
                assert item["file"] in text and item["where"] in text.replace("&#39;", "'")
        for words in ("tetrahedral", "without colour tags", "zscale=matrixin=709", "legal range 64 to 940"):
            assert words in text
        # 18 % grey is ACEScct 0.413588 (S-2016-001): 423 of 1023, and 64 + 876 x 0.4136 = 426 in legal range.
        assert "18 % grey: 423 in" in text and "18 % grey: 426 in" in text
    html = (made / "CARD.html").read_text(encoding="utf-8")
    assert "://" not in html and "<script" not in html and "@page" in html
    assert "](window-sheet.jpg)" in (made / "CARD.md").read_text(encoding="utf-8")


def test_the_card_shows_the_stills_before_and_after(made: Path, place: Path) -> None:
    """The pictures in it are the stills plainly rendered and graded; JPEG of quality 90 errs by a hundredth."""
    from lookwright.look.recipe.read import read_look

    html = (made / "CARD.html").read_text(encoding="utf-8")
    coded = re.findall(r'src="data:image/jpeg;base64,([^"]+)"', html)
    shown = [np.asarray(Image.open(io.BytesIO(base64.b64decode(c)))) / 255.0 for c in coded]
    assert len(shown) == 4 and len(html) < 200_000
    look = read_look(place / "window.toml")
    for i, name in enumerate(("bench", "door")):
        still = read(place / f"stills/{name}.png").pixels
        for picture, form in zip(shown[2 * i : 2 * i + 2], (look.plain(), look), strict=True):
            assert np.abs(picture - compile_look(form)(still)).mean() < 0.01
    assert np.abs(shown[0] - shown[1]).mean() > 0.01, "the look is to be seen"


def test_the_sheet_shows_every_still(made: Path) -> None:
    picture = read(made / "window-sheet.jpg")
    assert picture.pixels.shape[1] > 2 * 160 and picture.pixels.std() > 0.02


def test_the_same_again_gives_the_same_bytes(made: Path, place: Path, lookwright: Any, monkeypatch: Any) -> None:
    """Also with one thread. The second run replaces the files of the first where they lie, leaves what is not its own,
    and takes away what the first had and it lacks."""
    before = tree(made)
    out = place / "again"
    shutil.copytree(made, out)
    (out / "notes.txt").write_text("mine", encoding="utf-8")
    old = manifest(out)
    extra = {"file": "window-old.cube", "sha256": hashlib.sha256(b"old").hexdigest()}
    touched = {"file": "window-touched.cube", "sha256": hashlib.sha256(b"was").hexdigest()}
    (out / "window-old.cube").write_bytes(b"old")
    (out / "window-touched.cube").write_bytes(b"changed by hand")
    old["files"] += [extra, touched, {"file": "../window.toml", "sha256": hashlib.sha256(LOOK.encode()).hexdigest()}]
    (out / "manifest.json").write_text(json.dumps(old), encoding="utf-8")
    monkeypatch.setattr(os, "cpu_count", lambda: 1)
    _smaller(monkeypatch)
    said = lookwright(
        "deliver", place / "window.toml", "--stills", place / "stills", "--out", out, "--plain-sampling", "--json"
    )
    assert said.code == 0 and said.err == ""
    after = tree(out)
    assert after.pop("notes.txt") and after.pop("window-touched.cube")
    assert after == before
    assert json.loads(said.out) == manifest(out)
    assert (place / "window.toml").exists()  # a manifest cannot name files outside its folder


def test_a_look_that_is_all_rendering_says_what_is_not_there(place: Path, lookwright: Any) -> None:
    """And a log look: both in one, since each takes a while."""
    from lookwright.lut.lattices.samples import sample_stills

    text = LOOK.replace('kind = "exposure"\nstops = 0.3', 'kind = "exposure"\non = false').replace(
        "slope = [1.02, 1.0, 0.97]", "on = false"
    )
    builder = _builder(text, sample_stills([place / "stills/bench.png"], 500), place)
    builder.pipeline  # noqa: B018 - compiled
    builder._cdl()
    assert builder.missing == [("ASC CDL", "no step stands before the rendering")]
    from lookwright.look.recipe.variants import log_to_log

    found = log_to_log(builder.main.look, text)
    assert found.variant is None
    assert found.why_not == "no step stands before the rendering ('render'): the whole look is in it"


def _builder(text: str, samples: np.ndarray, folder: Path) -> Any:
    from lookwright.look.recipe.read import parse_look
    from lookwright.look.recipe.variants import Variant
    from lookwright.present.delivery.build import Builder

    return Builder(Variant(parse_look(text), text), "x", samples, folder, refined=False)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("missing.toml", "--stills", "stills"), "missing.toml: no such file"),
        (("window.toml", "--stills", "nowhere"), "nowhere: there is no such file or folder"),
        (("window.toml", "--stills", "stills", "--output", "BT.1886"), "--output is for LUT files"),
        (("window.toml", "--stills", "stills", "--source", "T-Log"), "'FilmLight E-Gamut' or 'FilmLight E-Gamut 2'"),
        (
            ("window.toml", "--stills", "stills", *3 * ("--source", "V-Log"), "--source-primaries", "usual"),
            "3 --source but 1 --source-primaries: one for each, in their order; 'usual' for those that need none",
        ),
        (("window.toml",), "Missing option '--stills'"),
    ],
)
def test_wrong_use(place: Path, lookwright: Any, monkeypatch: Any, arguments: tuple[str, ...], words: str) -> None:
    monkeypatch.chdir(place)
    said = lookwright("deliver", *arguments, "--out", "wrong/deep")
    assert said.code == 2 and words in said.err and said.err.count("\n") == 1
    assert not (place / "wrong").exists()


def test_a_file_in_the_way(place: Path, lookwright: Any) -> None:
    (place / "taken").write_text("mine", encoding="utf-8")
    said = lookwright("deliver", place / "window.toml", "--stills", place / "stills", "--out", place / "taken")
    assert said.code == 2 and said.err == f"lookwright: {place / 'taken'}: a file is in the way; choose another place\n"
    assert (place / "taken").read_text(encoding="utf-8") == "mine"


def test_kill_in_the_middle_leaves_the_earlier_delivery(made: Path, place: Path) -> None:
    """Kill -9 of the real command at two moments of its work: every earlier file is as it was."""
    out = place / "killed"
    shutil.copytree(made, out)
    before = tree(out)
    text = LOOK.replace("stops = 0.3", "stops = 0.4")
    (place / "other.toml").write_text(text, encoding="utf-8")
    command = [
        sys.executable,
        "-m",
        "lookwright",
        "deliver",
        str(place / "other.toml"),
        "--name",
        "window",
        "--stills",
        str(place / "stills"),
        "--out",
        str(out),
        "--plain-sampling",
        "--quiet",
    ]
    interrupted = 0
    for files in (1, 4):
        with subprocess.Popen(command) as working:
            _wait(place, files, working)
            working.kill()
        interrupted += working.returncode == -9
        assert tree(out) == before
        for left in place.glob(".writing-*"):
            shutil.rmtree(left)
    assert interrupted == 2


def _wait(place: Path, files: int, working: subprocess.Popen[bytes]) -> None:
    """Until the folder being built holds so many files."""
    end = time.monotonic() + 60
    while working.poll() is None and time.monotonic() < end:
        if sum(1 for f in place.glob(".writing-*/*") if f.suffix in (".cube", ".cc", ".clf")) >= files:
            return
        time.sleep(0.02)


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 3 MB; needs the right to mount one."""
    folder = tmp_path / "disk"
    folder.mkdir()
    done = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=3m", "none", str(folder)], capture_output=True)
    if done.returncode:
        pytest.skip("no file system can be mounted here")
    try:
        yield folder
    finally:
        subprocess.run(["umount", str(folder)], check=True)


def test_a_disk_that_fills_up(place: Path, small_disk: Path, lookwright: Any) -> None:
    """The 65-point LUT does not fit: one line that names it, and nothing stays."""
    out = small_disk / "window"
    said = lookwright("deliver", place / "window.toml", "--stills", place / "stills", "--out", out, "--plain-sampling")
    assert said.code == 2
    assert said.err == f"lookwright: {out}/window-65.cube: the disk is full; free some space, or write elsewhere\n"
    assert list(small_disk.iterdir()) == []


def test_a_folder_that_may_not_be_written(place: Path, lookwright: Any, monkeypatch: Any) -> None:
    import errno

    made = Path.mkdir

    def refused(self: Path, *given: Any, **named: Any) -> None:
        if self.parent.name == "readonly":
            raise OSError(errno.EROFS, "Read-only file system")
        made(self, *given, **named)

    monkeypatch.setattr(Path, "mkdir", refused)
    out = place / "readonly" / "window"
    said = lookwright("deliver", place / "window.toml", "--stills", place / "stills", "--out", out)
    assert said.code == 2 and "read-only" in said.err and said.err.count("\n") == 1
    assert not (place / "readonly").exists() or not list((place / "readonly").iterdir())
