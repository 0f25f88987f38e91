"""The rule of outputs in every command: nothing that it reads, nothing twice, nothing of another kind."""

from __future__ import annotations

import contextlib
import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from lookwright import installed, outputs
from lookwright.app.cli import COMMANDS
from lookwright.files import write_text
from lookwright.jobs.job import job, later
from lookwright.lut.formats.cube import write_cube
from lookwright.lut.lattices.lattice import Lattice, grid
from lookwright.outputs import Output
from lookwright.pictures.stills import read, write
from lookwright.present.delivery import build

Run = Callable[..., Any]


@pytest.fixture
def place(look: Path, stills: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to work in, with a look, stills, marks, a graded still and a short clip."""
    from lookwright.jobs.preview import preview

    monkeypatch.chdir(tmp_path)
    # As cameras and other programs write them: without our name in the file.
    for path in stills.iterdir():
        foreign(path, read(path).pixels)
    (stills / "marks.toml").write_text("[bench.wall]\nbox = [0.1, 0.1, 0.3, 0.3]\nlevel = 33\n", encoding="utf-8")
    preview(look, [stills / "bench.png"], tmp_path / "graded", suffix="png", size=17)
    return tmp_path


def foreign(path: Path, pixels: np.ndarray) -> None:
    from PIL import Image

    Image.fromarray(np.uint8(np.clip(pixels, 0.0, 1.0) * 255.0 + 0.5)).save(path)


@pytest.fixture
def take(place: Path, crop: np.ndarray) -> Path:
    pytest.importorskip("av")
    from fractions import Fraction

    from lookwright.pictures.clips.read import ClipFrame
    from lookwright.pictures.clips.write import tags_for, write_clip

    frames = [ClipFrame(crop, n / 24, n, Fraction(1, 24)) for n in range(4)]
    write_clip(place / "take.mp4", frames, Fraction(24), tags_for("BT.1886", "BT.709"))
    return place / "take.mp4"


def bytes_of(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


# -- every command declares what it writes --------------------------------------------------------------------------

STILLS = ["--stills", "stills"]
RUNS: dict[str, list[list[str]]] = {
    "new": [["new", "a.toml"]],
    "show": [
        ["show", "window.toml", "--curves", "a.svg"],
        ["show", "window.toml", "--curves", "a.png"],
        ["show", "window.toml", "--stills", "stills/bench.png", "--html", "a.html"],
    ],
    "bake": [["bake", "window.toml", "--size", "5"], ["bake", "window.toml", "--out", "b.cube", "--size", "5"]],
    "preview": [
        ["preview", "window.toml", *STILLS, "--out", "o", "--size", "9", "--layout", layout]
        for layout in ("graded", "pair", "wipe", "sheet", "variants", "turns")
    ]
    + [["preview", "window.toml", *STILLS, "--out", "o", "--size", "9", "--layout", "turns", "--format", "gif"]],
    "frames": [["frames", "take.mp4", "--out", "o", "--every", "0.05"]],
    "clip": [["clip", "window.toml", "take.mp4", "--out", "a.mp4", "--size", "9"]],
    "breakdown": [
        ["breakdown", "stills/bench.png", "--look", "window.toml", "--out", "o"],
        ["bake", "window.toml", "--exposure-map", "--size", "5", "--out", "map.cube"],
    ],
    "measure": [["measure", *STILLS, "--look", "window.toml", "--out", "o"]],
    "check": [["check", "window.toml", "--html", "a.html"]],
    "tune": [
        ["tune", "window.toml", *STILLS, "--marks", "stills/marks.toml", "--out", "a.toml", "--sheet", "a.png"],
    ],
    "learn": [
        ["learn", "window.toml", "--pair", "stills/bench.png", "graded/bench-window.png", "--out", "a.toml"],
        ["learn", "window.toml", "--pair", "stills/bench.png", "bent.png", "--no-tune", "--out", "b.toml"],
    ],
    "series": [
        ["series", "window.toml", *STILLS, "--anchor", "stills/bench.png", "--out", "o"],
        ["series", "window.toml", *STILLS, "--anchor", "stills/bench.png", "--out", "p", "--cubes", "--config"],
        ["series", "window.toml", "--shots", "take.mp4", "--anchor", "take", "--out", "q", "--clips", "pair"],
        ["series", "window.toml", "--timeline", "ep1.edl", "--anchor", "take", "--out", "r"],
    ],
    "deliver": [
        ["deliver", "window.toml", *STILLS, "--out", "o", "--plain-sampling"],
        ["deliver", "log.toml", *STILLS, "--out", "p", "--plain-sampling"],
        ["deliver", "lut.toml", *STILLS, "--out", "q", "--plain-sampling", "--name", "other"],
    ],
    "recover": [
        ["recover", "own.cube", "--out", "a.toml"],
        ["recover", "theirs.cube", "--source", "ACEScct", "--output", "ACEScct", "--out", "b.toml"],
    ],
    "undo": [["undo", "window.toml", "--out", "a.cube", "--graded", "graded", "--pictures", "o", "--size", "5"]],
    "encodings": [["encodings"]],
    "demo": [["demo", "--out", "o"]],
}
SILENT = {"encodings"}
"""Commands that write no file."""


def test_no_command_is_left_out() -> None:
    """'bench' serves a page; what it saves is declared in Given.of, and below."""
    assert set(RUNS) | {"bench"} == set(COMMANDS)


@contextlib.contextmanager
def watched(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[set[str]]:
    """Files in ``folder`` that come or change within the block, and were not declared before."""
    declared: set[Path] = set()
    asked = outputs.check_outputs

    def noted(inputs: Any, written: Any) -> None:
        written = list(written)
        asked(inputs, written)
        declared.update(Path(os.path.abspath(o.path)) for o in written)

    undeclared: set[str] = set()
    before = bytes_of(folder)
    with monkeypatch.context() as patch:
        patch.setattr(outputs, "check_outputs", noted)
        yield undeclared
    after = bytes_of(folder)
    changed = {name for name in before | after if before.get(name) != after.get(name)}
    undeclared |= {name for name in changed if folder / name not in declared}
    undeclared |= {"nothing was written"} if not changed else set()


@pytest.mark.parametrize("command", RUNS)
def test_every_command_declares_what_it_writes(
    command: str, place: Path, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch, lookwright: Run
) -> None:
    for size, name in ((5, "COARSE"), (9, "FINE"), (3, "HALD_LEVEL")):
        monkeypatch.setattr(build, name, size)
    if command in ("frames", "clip", "series"):
        request.getfixturevalue("take")
        line = "001  AX  V  C  00:00:00:00 00:00:00:03 01:00:00:00 01:00:00:03\n* FROM CLIP NAME: take\n"
        (place / "ep1.edl").write_text(line, encoding="utf-8")
    if command == "recover":
        lookwright("bake", "window.toml", "--out", "own.cube", "--size", "5")
        bent = grid(9) * 0.9 + 0.03 * np.sin(7.0 * grid(9)[..., ::-1])
        write_cube(place / "theirs.cube", Lattice(np.clip(bent, 0.0, 1.0)))
    if command == "deliver":
        more_looks(place)
    if command == "learn":
        graded = read(place / "graded/bench-window.png").pixels
        write(place / "bent.png", np.clip(graded + 0.04 * np.sin(6.0 * graded[..., ::-1]), 0.0, 1.0))
    if command == "demo":
        (place / "looks").mkdir()
        shutil.copy("window.toml", "looks/window.toml")
        given = installed.Samples(place / "looks", place / "stills")
        monkeypatch.setattr(installed, "samples", lambda: given)
    for arguments in RUNS[command]:
        with watched(place, monkeypatch) as undeclared:
            said = lookwright(*arguments)
        assert said.code in (0, 1), said.err
        assert undeclared == ({"nothing was written"} if command in SILENT else set()), arguments


def more_looks(place: Path) -> None:
    """One log to log, and one that sends its signal through a LUT beside it."""
    head = '[source]\nencoding = "ACEScct"\n[output]\nencoding = "ACEScct"\n[[step]]\nkind = "exposure"\nstops = 0.1\n'
    (place / "log.toml").write_text(head, encoding="utf-8")
    lut = '[[step]]\nkind = "lut"\nfile = "bend.cube"\n'
    sides = "".join(f'[step.{side}]\nencoding = "ACEScct"\n' for side in ("input", "output"))
    (place / "lut.toml").write_text(head + lut + sides, encoding="utf-8")
    shutil.copy(Path(__file__).parents[1] / "shared" / "bend.cube", place / "bend.cube")


def test_a_command_that_writes_without_declaring_is_found(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What the test above would say of one."""

    @job(out=later)
    def silent(out: Path) -> None:
        write_text(out, "a")

    @job(out="text")
    def honest(out: Path) -> None:
        write_text(out, "a")

    with watched(place, monkeypatch) as undeclared:
        silent(place / "one.txt")
    assert undeclared == {"one.txt"}
    with watched(place, monkeypatch) as undeclared:
        honest(place / "two.txt")
    assert undeclared == set()


def test_a_new_job_keeps_the_rule_without_asking(place: Path) -> None:
    """It says where things go; all other paths among its arguments are inputs."""

    @job(out="look")
    def fresh(look: Path, stills: list[Path], out: Path) -> None:
        raise AssertionError("before any work")

    for out in ("window.toml", "stills/bench.png", "stills/marks.toml"):
        with pytest.raises(outputs.OutputError, match="is also read by this command"):
            fresh(place / "window.toml", [place / "stills"], place / out)
    with pytest.raises(TypeError, match="no parameter where"):
        job(where="look")(fresh)


# -- what is refused ------------------------------------------------------------------------------------------------

REFUSED: dict[str, tuple[list[str], str]] = {
    "clip over its clip": (["clip", "window.toml", "take.mp4", "--out", "take.mp4"], "is also read"),
    "clip over its clip, by a link": (["clip", "window.toml", "take.mp4", "--out", "linked.mp4"], "which is also read"),
    "tune over a still": (["tune", "window.toml", *STILLS, "--separation", "90", "--out", "stills/bench.png"], "also"),
    "tune over a reference": (
        ["tune", "window.toml", *STILLS, "--reference", "still.png", "--out", "still.png"],
        "is also read",
    ),
    "tune over marks": (
        ["tune", "window.toml", *STILLS, "--marks", "stills/marks.toml", "--out", "stills/marks.toml"],
        "is also read",
    ),
    "sheet over a still": (
        ["tune", "window.toml", *STILLS, "--separation", "90", "--out", "n.toml", "--sheet", "stills/bench.png"],
        "is also read",
    ),
    "sheet over the look": (
        ["tune", "window.toml", *STILLS, "--separation", "90", "--out", "n.toml", "--sheet", "window.toml"],
        "is also read",
    ),
    "look and sheet of one name": (
        ["tune", "window.toml", *STILLS, "--separation", "90", "--out", "n.png", "--sheet", "n.png"],
        "is written twice",
    ),
    "names that differ only in case": (
        ["tune", "window.toml", *STILLS, "--separation", "90", "--out", "n.png", "--sheet", "N.PNG"],
        "is written twice",
    ),
    "report over the look": (["check", "window.toml", "--html", "window.toml"], "is also read"),
    "report over a still that it reads": (["check", "window.toml", *STILLS, "--html", "stills/door.png"], "also read"),
    "report over any picture": (
        ["check", "window.toml", "--html", "still.png"],
        "is a picture that lookwright did not",
    ),
    "curves over the look": (["show", "window.toml", "--curves", "window.toml"], "is also read"),
    "curves over a still": (["show", "window.toml", "--curves", "still.png"], "is a picture that lookwright did not"),
    "sheet over any picture": (
        ["tune", "window.toml", *STILLS, "--separation", "90", "--out", "n.toml", "--sheet", "still.png"],
        "is a picture that lookwright did not",
    ),
    "drawing over a picture": (["show", "window.toml", "--curves", "pictured.svg"], "is a picture that lookwright"),
    "bake over its look": (["bake", "l.cube"], "is also read"),
    "bake over the LUT that the look names": (["bake", "lut.toml", "--out", "bend.cube"], "is also read"),
    "bake over a picture": (["bake", "window.toml", "--out", "pictured.cube"], "is a picture that lookwright did not"),
    "recover over its LUT": (["recover", "own.cube", "--out", "own.cube", "--force"], "is also read"),
    "recover over a still": (["recover", "own.cube", "--out", "still.png", "--force"], "is a picture"),
    "new over a still": (["new", "still.png", "--force"], "is a picture that lookwright did not write"),
    "learn over its look": (
        ["learn", "window.toml", "--pair", "stills/bench.png", "still.png", "--out", "window.toml"],
        "is also read",
    ),
    "learn over a LUT beside": (
        ["learn", "lut.toml", "--pair", "stills/bench.png", "still.png", "--out", "bend.toml"],
        "bend.cube: is also read",
    ),
    "variants over a look": (
        ["preview", "window.toml", *STILLS, "--out", ".", "--layout", "variants", "--with", "window-variants.jpg"],
        "is also read",
    ),
    "page over a still": (["show", "window.toml", *STILLS, "--html", "stills/bench.png"], "is also read"),
    "preview over a still": (["preview", "window.toml", "--stills", "own", "--out", "own", "--format", "png"], "also"),
    "measure over a still": (["measure", "--stills", "own", "--encoding", "ACEScct", "--out", "own"], "is also read"),
    "series over a still": (
        ["series", "window.toml", "--stills", "own", "--anchor", "own/a.png", "--out", "own"],
        "before.jpg: is also read",
    ),
    "deliver over its look": (["deliver", "window.toml", *STILLS, "--strength", "0.5", "--out", "."], "is also read"),
    "deliver over a still": (["deliver", "a.toml", "--stills", "own", "--out", "own"], "a-hald.png: is also read"),
    "frames over a picture's folder": (
        ["frames", "take.mp4", "--at", "0", "--out", "o"],
        "take_00h00m00s000.png: is a look that lookwright did not write",
    ),
    "bench marks over the look": (
        ["bench", "window.toml", *STILLS, "--marks", "window.toml", "--no-open"],
        "is written twice",
    ),
}


@pytest.fixture
def more(place: Path, take: Path, crop: np.ndarray, lookwright: Run) -> Path:
    more_looks(place)
    assert lookwright("bake", "window.toml", "--out", "own.cube", "--size", "5").code == 0
    for name in ("still.png", "pictured.svg.png", "pictured.cube.png"):
        foreign(place / name, crop)
    for name in ("pictured.svg", "pictured.cube"):
        os.rename(place / f"{name}.png", place / name)
    shutil.copy("window.toml", "l.cube")
    shutil.copy("window.toml", "a.toml")
    shutil.copy("window.toml", "window-variants.jpg")
    (place / "linked.mp4").symlink_to("take.mp4")
    (place / "o").mkdir()
    # Neither remark nor title of ours: a look by another hand.
    (place / "o/take_00h00m00s000.png").write_text('[source]\nencoding = "ACEScct"\n', encoding="utf-8")
    (place / "own").mkdir()
    for name in ("a.png", "a-window.png", "a-measure.png", "a-hald.png", "before.jpg"):
        foreign(place / "own" / name, crop)
    return place


@pytest.mark.parametrize("case", REFUSED)
def test_refused_before_any_work(case: str, more: Path, lookwright: Run) -> None:
    arguments, words = REFUSED[case]
    before = bytes_of(more)
    said = lookwright(*arguments)
    assert said.code == 2 and words in said.err and said.err.count("\n") == 1, said
    assert said.err.startswith("lookwright: ") and said.out == ""
    assert bytes_of(more) == before


def test_what_is_meant_stays_possible(more: Path, lookwright: Run) -> None:
    """A look tuned in its place, and all results made again over the earlier ones."""
    tune = ["tune", "window.toml", *STILLS, "--separation", "40", "--samples", "100"]
    for arguments in (
        [*tune, "--out", "window.toml", "--sheet", "sheet.png"],
        [*tune, "--out", "window.toml", "--sheet", "sheet.png"],
        ["check", "window.toml", "--html", "a.html"],
        ["check", "window.toml", "--html", "a.html"],
        *[["show", "window.toml", "--curves", f"a.{suffix}"] for suffix in ("svg", "pdf", "png") for _ in range(2)],
        ["recover", "own.cube", "--out", "a.toml", "--force"],
        ["bake", "window.toml", "--out", "own.cube", "--size", "5"],
        ["measure", *STILLS, "--encoding", "ACEScct", "--out", "sheets"],
        ["measure", *STILLS, "--encoding", "ACEScct", "--out", "sheets"],
        ["frames", "take.mp4", "--at", "0.1", "--out", "o"],
        ["frames", "take.mp4", "--at", "0.1", "--out", "o"],
    ):
        said = lookwright(*arguments)
        assert said.code in (0, 1), (arguments, said.err)


# -- previews in the folder of the stills ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("layout", "suffix"),
    [(layout, suffix) for layout in ("graded", "pair", "sheet") for suffix in ("jpg", "webp", "png", "tif")]
    + [("variants", "jpg"), ("turns", "webp")],
)
def test_a_second_run_grades_no_grade(layout: str, suffix: str, place: Path, lookwright: Run) -> None:
    run = ["preview", "window.toml", *STILLS, "--out", "stills", "--layout", layout, "--format", suffix, "--size", "9"]
    stills = bytes_of(place / "stills")
    assert lookwright(*run).code == 0
    first = bytes_of(place / "stills")
    said = lookwright(*run)
    made = len(first) - len(stills)
    assert said.code == 0 and f"left out {made} picture(s) in stills that were graded already" in said.out
    assert bytes_of(place / "stills") == first and first.items() >= stills.items()
    # Nor does another look.
    shutil.copy("window.toml", "door.toml")
    assert lookwright(*(["preview", "door.toml", *run[2:]])).code == 0
    assert len(bytes_of(place / "stills")) == len(first) + made


def test_a_folder_of_grades_is_told(place: Path, lookwright: Run) -> None:
    said = lookwright("preview", "window.toml", "--stills", "graded", "--out", "graded")
    assert said.code == 2 and "holds only pictures that were graded already" in said.err
    assert lookwright("preview", "window.toml", "--stills", "graded", "--out", "o", "--size", "9").code == 0, (
        "elsewhere"
    )


def test_grades_are_known_in_large_files(tmp_path: Path) -> None:
    """Wherever a format keeps its notes."""
    from lookwright.jobs.pictures import GRADED

    noise = np.random.default_rng(1).random((900, 900, 3), np.float32)
    for suffix in ("jpg", "webp", "png", "tif"):
        path = write(tmp_path / f"a.{suffix}", noise, metadata={"software": GRADED})
        assert outputs.holds(path, GRADED.encode()), suffix
        path = write(tmp_path / f"b.{suffix}", noise)
        assert not outputs.holds(path, GRADED.encode()), suffix


def test_sheets_of_stills_that_share_a_name(place: Path, lookwright: Run) -> None:
    """One took the other's place."""
    shutil.copytree("stills", "later")
    said = lookwright("measure", *STILLS, "--stills", "later", "--encoding", "ACEScct", "--out", "o")
    assert said.code == 0, said.err
    names = {p.name for p in (place / "o").iterdir()}
    assert names == {"bench-measure.png", "bench-2-measure.png", "door-measure.png", "door-2-measure.png"}


def test_the_library_keeps_it_too(place: Path) -> None:
    import lookwright as lw
    from lookwright.jobs.tune import Goals

    for work in (
        lambda: lw.check("window.toml", html="window.toml"),
        lambda: lw.tune("window.toml", "stills/bench.png", Goals(stills=["stills"], separation=90.0)),  # type: ignore[list-item]
        lambda: lw.bake("window.toml", "window.toml"),
    ):
        with pytest.raises(outputs.OutputError, match="is also read"):
            work()
    assert Output(Path("a"), "look").instead_of is None
