"""A look for another camera: ``--source`` wherever a look is taken, ``new --from``, and a delivery for several."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

import click
import numpy as np
import pytest

from lookwright.app.cli import COMMANDS, cli
from lookwright.colour.difference import ciede2000
from lookwright.colour.spaces.signal import Signal
from lookwright.look.recipe.read import parse_look, read_look
from lookwright.lut.fit.appearance import lab_of
from lookwright.lut.formats.cube import read_cube
from lookwright.lut.formats.embed import extract
from lookwright.lut.lattices.interpolate import lookup
from lookwright.pictures.stills import read, write
from lookwright.present.delivery.cameras import recoded, shared_colours

ACES, SLOG = Signal.named("ACEScct"), Signal.named("S-Log3", "S-Gamut3")
CAMERA = ("--source", "SLog3", "--source-primaries", "S-Gamut3")


@pytest.fixture
def other_stills(tmp_path: Path, stills: Path) -> Path:
    """The scene of ``stills`` as the other camera would have coded it."""
    folder = tmp_path / "other"
    folder.mkdir()
    for path in stills.glob("*.png"):
        write(folder / path.name, recoded(read(path).pixels, ACES, SLOG))
    return folder


def _command(name: str) -> click.Command:
    found = cli.get_command(click.Context(cli), name)
    assert found is not None
    return found


def test_every_command_that_takes_a_look_takes_a_source() -> None:
    without = {"encodings", "demo", "frames", "breakdown"}  # names, looks that ship, no look; a grade taken off
    for name in COMMANDS:
        options = {o for p in _command(name).params for o in p.opts}
        has = {"--source", "--source-primaries", "--source-range"} <= options
        assert has == (name not in without), name


def test_the_same_scene_gives_the_same_picture(
    lookwright: Any, look: Path, stills: Path, other_stills: Path, tmp_path: Path
) -> None:
    """What a look does is a matter of the scene, not of the camera: within what two lattices err."""
    out = tmp_path / "a", tmp_path / "b"
    plain = ("--format", "png", "--quiet")
    assert lookwright("preview", look, "--stills", stills, "--out", out[0], *plain).code == 0
    said = lookwright("preview", look, "--stills", other_stills, *CAMERA, "--out", out[1], *plain)
    assert (said.code, said.err) == (0, ""), said.err
    for path in out[0].glob("*.png"):
        off = np.abs(read(path).pixels - read(out[1] / path.name).pixels)
        assert off.mean() < 0.002 and np.percentile(off, 99) < 0.01
        # Not so where the camera is not named: the check above would see it.
    wrong = tmp_path / "wrong"
    assert lookwright("preview", look, "--stills", other_stills, "--out", wrong, *plain).code == 0
    name = next(out[0].glob("*.png")).name
    assert np.abs(read(out[0] / name).pixels - read(wrong / name).pixels).mean() > 0.02


def test_bake_for_another_camera(lookwright: Any, look: Path) -> None:
    """Beside the look's own LUT, not in its place; header and recipe say what to feed it; recover agrees."""
    said = lookwright("bake", look, *CAMERA, "--size", 17)
    target = look.with_name("window-S-Log3-S-Gamut3.cube")
    assert said.code == 0 and said.out.startswith(f"wrote {target} (17 points): feed it S-Log3, S-Gamut3 primaries")
    text = extract(read_cube(target).comments)
    assert text is not None and parse_look(text).source.signal() == SLOG
    assert not look.with_suffix(".cube").exists()
    assert lookwright("recover", target, "--quiet").code == 0


def test_what_each_command_says_it_is_fed(lookwright: Any, look: Path, other_stills: Path, tmp_path: Path) -> None:
    stills = ("--stills", other_stills)
    assert "fed with   S-Log3, S-Gamut3 primaries" in lookwright("show", look, *CAMERA).out
    assert "S-Gamut3" in json.loads(lookwright("check", look, *stills, *CAMERA, "--json").out)["source"]
    measured = json.loads(lookwright("measure", "--look", look, *stills, *CAMERA, "--json").out)
    assert {m["encoding"] for m in measured} == {"S-Log3, S-Gamut3 primaries, full range"}
    assert json.loads(lookwright("measure", *stills, *CAMERA, "--json").out)[0]["encoding"] == measured[0]["encoding"]
    tuned = tmp_path / "tuned.toml"
    goal = ("--mark", "wall=0.4,0.4,0.2,0.2", "--level", "wall=40", "--samples", 100)
    assert lookwright("tune", look, *stills, *CAMERA, *goal, "--out", tuned).code in (0, 1)
    assert read_look(tuned).source.signal() == SLOG


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--source-primaries", "S-Gamut3"), "--source-primaries and --source-range need --source"),
        (("--source", "S-Lgo3"), "unknown encoding 'S-Lgo3'; did you mean"),
        (("--source", "T-Log"), "expected 'FilmLight E-Gamut' or 'FilmLight E-Gamut 2'"),
        (("--source", "Cineon"), "none are published with 'Cineon'"),
    ],
)
def test_one_clear_line(lookwright: Any, look: Path, arguments: tuple[str, ...], words: str) -> None:
    for command in ("bake", "show"):
        said = lookwright(command, look, *arguments)
        assert said.code == 2 and words in said.err and said.err.count("\n") == 1
    assert list(look.parent.glob("*.cube")) == []


MORE = {
    "tune": ("--stills", "stills", "--out", "o.toml", "--separation", "90"),
    "learn": ("--pair", "stills/bench.png", "stills/door.png", "--out", "o.toml"),
    "series": ("--stills", "stills", "--anchor", "stills/bench.png", "--out", "o"),
    "clip": ("none.mp4", "--out", "o.mp4"),
    "bench": ("--stills", "stills", "--no-open"),
    "preview": ("--stills", "stills", "--out", "o"),
    "deliver": ("--stills", "stills", "--out", "o"),
    "check": (),
}


@pytest.mark.parametrize("command", MORE)
def test_the_name_arrives_where_the_look_is_read(
    lookwright: Any, look: Path, stills: Path, monkeypatch: pytest.MonkeyPatch, command: str
) -> None:
    """A name that is none is refused by all, before any work: none of them drops the option on the way."""
    monkeypatch.chdir(look.parent)
    said = lookwright(command, look.name, *MORE[command], "--source", "S-Lgo3")
    assert said.code == 2 and "unknown encoding 'S-Lgo3'" in said.err and said.err.count("\n") == 1
    assert {p.name for p in look.parent.iterdir()} == {"window.toml", "stills"}


# ---------------------------------------------------------------- new --from


def test_new_from_a_look(lookwright: Any, look: Path, tmp_path: Path) -> None:
    look.write_text("# remark at the top\n" + look.read_text(encoding="utf-8"), encoding="utf-8")
    new = tmp_path / "second.toml"
    said = lookwright("new", new, "--from", look, *CAMERA, "--output", "BT.2100 PQ", "--title", "Second")
    assert (said.code, said.err) == (0, "")
    was, now = read_look(look), read_look(new)
    assert new.read_text(encoding="utf-8").startswith("# remark at the top\n")
    assert (now.source.signal(), now.output.encoding, now.title) == (SLOG, "BT.2100 PQ", "Second")
    assert now.steps == was.steps
    said = lookwright("new", new, "--from", look)
    assert said.code == 2 and "already exists" in said.err
    assert lookwright("new", tmp_path / "copy.toml", "--from", look).code == 0
    assert (tmp_path / "copy.toml").read_bytes() == look.read_bytes()


def test_new_from_a_look_whose_steps_do_not_lead_there(lookwright: Any, look: Path, tmp_path: Path) -> None:
    said = lookwright("new", tmp_path / "log.toml", "--from", look, "--output", "ACEScct")
    assert said.code == 2 and "'ACEScct' carries scene light" in said.err and said.err.count("\n") == 1
    assert not (tmp_path / "log.toml").exists()


def test_new_from_a_look_finds_its_luts_again(lookwright: Any, look: Path, tmp_path: Path) -> None:
    assert lookwright("bake", look, "--size", 5, "--out", tmp_path / "film.cube").code == 0
    step = '[[step]]\nkind = "lut"\nfile = "film.cube"\n'
    signals = 'input = {encoding = "ACEScct"}\noutput = {encoding = "BT.1886"}\n'
    head = '[source]\nencoding = "ACEScct"\n[output]\nencoding = "BT.1886"\n'
    (tmp_path / "lut.toml").write_text(head + step + signals, encoding="utf-8")
    new = tmp_path / "deep/er/new.toml"
    new.parent.mkdir(parents=True)
    assert lookwright("new", new, "--from", tmp_path / "lut.toml", "--title", "Untitled before").code == 0
    assert 'file = "../../film.cube"' in new.read_text(encoding="utf-8")
    assert lookwright("bake", new, "--size", 5).code == 0 and read_look(new).title == "Untitled before"


def test_new_for_a_camera(lookwright: Any, tmp_path: Path) -> None:
    said = lookwright("new", tmp_path / "n.toml", "--source", "C-Log3", "--source-range", "legal")
    assert said.code == 0
    assert (
        read_look(tmp_path / "n.toml").source.signal().describe() == "Canon Log 3, Cinema Gamut primaries, legal range"
    )


def test_encodings_tells_what_must_be_named(lookwright: Any) -> None:
    assert "Cinema Gamut" in lookwright("encodings", "C-Log2").out
    assert "to be named: FilmLight E-Gamut or FilmLight E-Gamut 2" in lookwright("encodings", "T-Log").out
    (row,) = json.loads(lookwright("encodings", "T-Log", "--json").out)
    assert row["usual_primaries"] is None and len(row["primaries"]) == 2


# ---------------------------------------------------------------- deliver for several


def test_deliver_for_two_cameras(
    lookwright: Any, monkeypatch: pytest.MonkeyPatch, look: Path, stills: Path, tmp_path: Path
) -> None:
    """A folder for each; the agreement told is that of the files, worked out here from the files."""
    from lookwright.present.delivery import build

    monkeypatch.setattr(build, "FINE", 17)
    monkeypatch.setattr(build, "HALD_LEVEL", 4)
    out = tmp_path / "out"
    cameras = (
        "--source",
        "ACEScct",
        "--source",
        "S-Log3",
        "--source-primaries",
        "usual",
        "--source-primaries",
        "S-Gamut3",
    )
    arguments = ("deliver", look, "--stills", stills, "--out", out, "--plain-sampling")
    said = lookwright(*arguments, *cameras, "--json")
    assert (said.code, said.err) == (0, ""), said.err
    told = json.loads(said.out)
    assert told == json.loads((out / "manifest.json").read_text(encoding="utf-8"))
    folders = [c["folder"] for c in told["cameras"]]
    assert folders == ["ACEScct", "S-Log3-S-Gamut3"]
    listed = {f["file"]: f["sha256"] for f in told["files"]} | {"manifest.json": ""}
    there = {p.relative_to(out).as_posix(): p for p in out.rglob("*") if p.is_file()}
    assert set(listed) == set(there)
    assert all(h in ("", hashlib.sha256(there[n].read_bytes()).hexdigest()) for n, h in listed.items())

    scene = shared_colours(ACES, SLOG)
    to_lab = lab_of(Signal.named("BT.1886"))
    shown = []
    for folder, signal in zip(folders, (ACES, SLOG), strict=True):
        recipe = read_look(out / folder / "window.toml")
        assert recipe.source.signal() == signal
        lattice = read_cube(out / folder / "window-33.cube").lattice
        assert lattice is not None
        shown.append(to_lab(lookup(lattice, np.clip(signal.from_scene(scene), 0.0, 1.0))))
    off = ciede2000(*shown)
    (agreed,) = told["agreement"]
    assert agreed["cameras"] == folders and agreed["colours"] == len(off)
    # The files have seven decimals.
    assert agreed["ciede2000"] == pytest.approx(
        {"mean": off.mean(), "p99": np.percentile(off, 99), "worst": off.max()}, abs=2e-3
    )
    assert 0.01 < agreed["ciede2000"]["mean"] < 0.5, "two plain lattices: near, not equal"
    figures = f"CIEDE2000 {off.mean():.2f} on average"
    for card in (out / "CARD.md", *(out / f / "CARD.md" for f in folders), *(out / f / "CARD.html" for f in folders)):
        assert figures in card.read_text(encoding="utf-8"), card
    # Both sheets show the same scene.
    first, second = (read(out / f / "window-sheet.jpg").pixels for f in folders)
    assert np.abs(first - second).mean() < 0.01

    # One camera into the same folder: what the others had goes.
    assert lookwright(*arguments, "--source", "ACEScc", "--quiet").code == 0
    assert not (out / "S-Log3-S-Gamut3/window-33.cube").exists() and (out / "window-33.cube").exists()
    assert read_look(out / "window.toml").source.encoding == "ACEScc"
    assert "agreement" not in json.loads((out / "manifest.json").read_text(encoding="utf-8"))
