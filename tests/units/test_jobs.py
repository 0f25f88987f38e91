"""Jobs called as a library: what they tell, and that one who wants no more leaves nothing half-written."""

from __future__ import annotations

import importlib
import importlib.util
import shutil
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from lookwright.app.cli import COMMANDS
from lookwright.errors import LookwrightError, OutputError, WrongUse
from lookwright.jobs.bake import bake
from lookwright.jobs.check import check
from lookwright.jobs.clip import clip
from lookwright.jobs.deliver import deliver
from lookwright.jobs.demo import demo
from lookwright.jobs.explain import explain
from lookwright.jobs.frames import frames
from lookwright.jobs.given import SignalName
from lookwright.jobs.learn import learn
from lookwright.jobs.measure import measure
from lookwright.jobs.preview import preview
from lookwright.jobs.progress import Cancelled, Progress, Within, hundredths, part
from lookwright.jobs.recover import compare, take_out
from lookwright.jobs.series import series
from lookwright.jobs.series_material import Forms
from lookwright.jobs.tell import tell_look
from lookwright.jobs.tune import Goals, Parameters, teller, tune
from lookwright.jobs.undo import undo
from lookwright.look.recipe.read import parse_look
from lookwright.lut.formats.cube import read_cube, write_cube
from lookwright.lut.lattices.lattice import Lattice, grid
from lookwright.pictures.stills import read, write
from lookwright.present.delivery import build

SAMPLES = Path(__file__).parents[2] / "sample_images"

TWICE = [SignalName("S-Log3"), SignalName("slog3")]
SCREEN = [SignalName("BT.1886"), SignalName("S-Log3")]

LOOK = """\
format = 2
title = "Bench by the window"

[source]
encoding = "ACEScct"

[output]
encoding = "BT.1886"

[[step]]
kind = "exposure"
stops = 0.2

[[step]]
kind = "saturation"
amount = 0.9
lock = true

[[step]]
kind = "render"
lock = true
"""


@dataclass
class Recording:
    """Notes what a job tells; raises at the check of that number, counted from 1."""

    stop_at: int = 0
    checks: int = 0
    moves: int = 0
    parts: list[list[Any]] = field(default_factory=list)
    """What, pieces in all, pieces done."""
    told: list[tuple[str, float]] = field(default_factory=list)

    def start(self, what: str, total: int) -> None:
        self.parts.append([what, total, 0])

    def advance(self, count: int = 1) -> None:
        self.moves += 1
        self.parts[-1][2] += count

    def tell(self, what: str, distance: float = 0.0) -> None:
        self.told.append((what, distance))

    def check(self) -> None:
        self.checks += 1
        if self.checks == self.stop_at:
            raise Cancelled


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A look, ten small stills, a pair, marks and a short clip."""
    folder = tmp_path_factory.mktemp("jobs")
    (folder / "window.toml").write_text(LOOK, encoding="utf-8")
    crop = read(SAMPLES / "wide_acescct.png").pixels[300:390, 800:960]
    (folder / "stills").mkdir()
    for n in range(10):
        write(folder / f"stills/take{n}.png", np.ascontiguousarray(np.roll(crop, 7 * n, axis=1)))
    (folder / "marks.toml").write_text("[take0.wall]\nbox = [0.1, 0.1, 0.3, 0.3]\nlevel = 33\n", encoding="utf-8")
    preview(folder / "window.toml", [folder / "stills/take0.png"], folder / "graded", suffix="png", size=17)
    write_cube(folder / "theirs.cube", Lattice(grid(5) * 0.9 + 0.02))
    if importlib.util.find_spec("av") is not None:
        from lookwright.pictures.clips.write import tags_for

        write_short_clip(folder / "short.mp4", crop, tags_for("BT.1886", "BT.709"))
    return folder


def write_short_clip(path: Path, picture: np.ndarray, tags: Any) -> None:
    from fractions import Fraction

    from lookwright.pictures.clips.read import ClipFrame
    from lookwright.pictures.clips.write import write_clip

    every = [ClipFrame(np.roll(picture, n, axis=1), n / 24, n, Fraction(1, 24)) for n in range(6)]
    write_clip(path, every, Fraction(24), tags)


Job = Callable[[Path, Path, Progress], Any]

GRADED = "graded/take0-window.png"

WHOLE: dict[str, Job] = {
    # Whose results are there together or not at all.
    "bake": lambda p, out, pr: bake(p / "window.toml", out / "a.cube", size=9, progress=pr),
    "bake refined": lambda p, out, pr: bake(
        p / "window.toml", out / "a.cube", size=5, refined=True, stills=[p / "stills/take0.png"], progress=pr
    ),
    "check": lambda p, out, pr: check(
        p / "window.toml", stills=[p / "stills/take0.png", p / "stills/take1.png"], html=out / "a.html", progress=pr
    ),
    "tell": lambda p, out, pr: tell_look(p / "window.toml", [p / "stills/take0.png"], out / "a.html", progress=pr),
    "tune": lambda p, out, pr: tune(
        p / "window.toml",
        out / "a.toml",
        Goals([p / "stills/take0.png"], marks=p / "marks.toml", own_marks=["spot=0.5,0.5,0.2,0.2"], samples=100),
        date="once",
        progress=pr,
    ),
    "learn": lambda p, out, pr: learn(
        p / "window.toml", out / "a.toml", [(p / "stills/take0.png", p / GRADED)], date="once", progress=pr
    ),
    "explain": lambda p, out, pr: explain(
        p / "theirs.cube", SignalName("ACEScct"), SignalName("ACEScct"), out / "a.toml", progress=pr
    ),
    "series": lambda p, out, pr: series(
        p / "window.toml", [p / "stills"], p / "stills/take0.png", out / "series", progress=pr
    ),
    "deliver": lambda p, out, pr: deliver(
        p / "window.toml", [p / "stills/take0.png"], out / "delivery", refined=False, progress=pr
    ),
    "clip": lambda p, out, pr: clip(p / "window.toml", p / "short.mp4", out / "a.mp4", size=9, progress=pr),
}
ONE_BY_ONE: dict[str, Job] = {
    # Whose results are whole one by one, and stay.
    "preview": lambda p, out, pr: preview(p / "window.toml", [p / "stills"], out / "o", suffix="png", progress=pr),
    "sheet": lambda p, out, pr: preview(p / "window.toml", [p / "stills"], out / "o", layout="sheet", progress=pr),
    "variants": lambda p, out, pr: preview(
        p / "window.toml", [p / "stills/take0.png"], out / "o", layout="variants", size=5, progress=pr
    ),
    "turns": lambda p, out, pr: preview(
        p / "window.toml",
        [p / "stills/take0.png", p / "stills/take1.png"],
        out / "o",
        layout="turns",
        size=5,
        progress=pr,
    ),
    "measure": lambda p, out, pr: measure(
        [p / "stills/take0.png", p / "stills/take1.png"], signal=SignalName("ACEScct"), out=out / "o", progress=pr
    ),
    "series of clips": lambda p, out, pr: series(
        p / "window.toml",
        [p / "short.mp4", p / "stills/take0.png"],
        p / "short.mp4",
        out / "o",
        forms=Forms(config=True, clips="pair", size=5),
        progress=pr,
    ),
    "frames": lambda p, out, pr: frames(p / "short.mp4", out / "o", every=0.1, progress=pr),
    "undo": lambda p, out, pr: undo(p / "window.toml", out / "a.cube", [p / GRADED], out / "o", size=5, progress=pr),
    "demo": lambda p, out, pr: demo(p / "window.toml", [p / "stills/take0.png"], out / "o", pr),
}
JOBS = WHOLE | ONE_BY_ONE


def job_of(name: str) -> Job:
    if name in ("clip", "frames", "series of clips"):
        pytest.importorskip("av")
    return JOBS[name]


@pytest.fixture(autouse=True)
def smaller(monkeypatch: pytest.MonkeyPatch) -> None:
    """The large LUTs of a delivery at sizes that keep the tests short."""
    monkeypatch.setattr(build, "COARSE", 5)
    monkeypatch.setattr(build, "FINE", 9)
    monkeypatch.setattr(build, "HALD_LEVEL", 3)


def files(folder: Path) -> list[str]:
    return sorted(p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file())


@lru_cache
def whole_run(name: str, place: Path, scratch: Path) -> tuple[Recording, list[str]]:
    told = Recording()
    scratch.mkdir(exist_ok=True)
    JOBS[name](place, scratch, told)
    return told, files(scratch)


@pytest.fixture(scope="module")
def scratch(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("whole")


@pytest.mark.parametrize("name", JOBS)
def test_a_job_tells_what_it_does_and_prints_nothing(
    name: str, place: Path, scratch: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    job_of(name)
    told, made = whole_run(name, place, scratch / name)
    assert made and not [f for f in made if ".writing-" in f]
    assert told.parts or told.told
    assert told.checks >= max(1, told.moves + len(told.told)), "asked at every piece whether to go on"
    for what, total, done in told.parts:
        assert done == total, what
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("when", ["at once", "early", "in the middle", "at last"])
@pytest.mark.parametrize("name", JOBS)
def test_who_wants_no_more_finds_nothing_half_written(
    name: str, when: str, place: Path, scratch: Path, tmp_path: Path
) -> None:
    job = job_of(name)
    told, made = whole_run(name, place, scratch / name)
    n = told.checks
    stop_at = {"at once": 1, "early": 1 + n // 4, "in the middle": 1 + n // 2, "at last": n}[when]
    with pytest.raises(Cancelled):
        job(place, tmp_path, Recording(stop_at))
    left = files(tmp_path)
    if name in WHOLE:
        assert left == [] and list(tmp_path.iterdir()) == []
    else:
        assert set(left) <= set(made)
        for file in left:
            if file.endswith((".png", ".jpg")):
                read(tmp_path / file)
            if file.endswith(".cube"):
                read_cube(tmp_path / file)
        assert left or not list(tmp_path.iterdir())
        job(place, tmp_path, Recording())
        assert files(tmp_path) == made


@pytest.mark.parametrize("name", ["bake", "tune", "clip"])
def test_an_earlier_result_stays(name: str, place: Path, scratch: Path, tmp_path: Path) -> None:
    job = job_of(name)
    told, made = whole_run(name, place, scratch / name)
    earlier = (scratch / name / made[0]).read_bytes() + b"\n"
    (tmp_path / made[0]).write_bytes(earlier)
    with pytest.raises(Cancelled):
        job(place, tmp_path, Recording(told.checks))
    assert files(tmp_path) == made and (tmp_path / made[0]).read_bytes() == earlier


def test_an_earlier_delivery_stays(place: Path, scratch: Path, tmp_path: Path) -> None:
    told, made = whole_run("deliver", place, scratch / "deliver")
    shutil.copytree(scratch / "deliver", tmp_path, dirs_exist_ok=True)
    with pytest.raises(Cancelled):
        JOBS["deliver"](place, tmp_path, Recording(told.checks))
    assert files(tmp_path) == made
    assert all((tmp_path / f).read_bytes() == (scratch / "deliver" / f).read_bytes() for f in made)


def test_refining_hears_of_it_between_two_files(place: Path, tmp_path: Path) -> None:
    """A large LUT takes seconds; who waits for the next file would wait long."""

    class InTheFirst(Recording):
        def check(self) -> None:
            if self.parts and self.parts[0][2] == 1:  # counted when it is begun
                super().check()

    with pytest.raises(Cancelled):
        deliver(place / "window.toml", [place / "stills/take0.png"], tmp_path / "delivery", progress=InTheFirst(3))
    assert list(tmp_path.iterdir()) == []


def test_previews_go_on_where_they_were_stopped(place: Path, tmp_path: Path) -> None:
    with pytest.raises(Cancelled):
        preview(place / "window.toml", [place / "stills"], tmp_path, progress=Recording(5))
    there = {p.name for p in tmp_path.glob("*.jpg")}
    assert there
    made = preview(place / "window.toml", [place / "stills"], tmp_path)
    assert len(made.ready) + len(made.written) == 10
    assert {p.name for p in made.ready} <= there and made.ready


def test_results_are_typed(place: Path, tmp_path: Path) -> None:
    baked = bake(place / "window.toml", tmp_path / "a.cube", size=5)
    assert (baked.file, baked.size, baked.accuracy, baked.refined) == (tmp_path / "a.cube", 5, None, None)
    found = take_out(baked.file, tmp_path / "b.toml")
    assert (tmp_path / "b.toml").read_text(encoding="utf-8") == found.text == LOOK
    assert compare(found).matches
    with pytest.raises(OutputError, match="already exists"):
        take_out(baked.file, tmp_path / "b.toml")
    tuned = tune(
        place / "window.toml",
        tmp_path / "c.toml",
        Goals([place / "stills/take0.png"], own_marks=["spot=0.5,0.5,0.2,0.2"], levels={"spot": 30.0}, samples=100),
        parameters=Parameters(lock=["exposure"], free=["saturation.amount"]),
    )
    assert [c.name for c in tuned.outcome.changes] == ["saturation.amount"]
    assert parse_look((tmp_path / "c.toml").read_text(encoding="utf-8")).steps[0] == parse_look(LOOK).steps[0]
    assert tuned.text == (tmp_path / "c.toml").read_text(encoding="utf-8")


def test_a_tuning_tells_its_distance(place: Path, scratch: Path) -> None:
    told, _ = whole_run("tune", place, scratch / "tune")
    assert [what for what, _ in told.told[:2]] == ["reading the stills and looking for faces", "reading"]
    assert all(distance > 0.0 for what, distance in told.told if what == "solving")
    teller(told)("solving", 6.25)
    assert told.told[-1] == ("solving", 2.5), "the solver tells its square"


@pytest.mark.parametrize(
    ("work", "words"),
    [
        (lambda p: check(p / "window.toml", marks=p / "marks.toml"), "--marks belongs to --stills"),
        (lambda p: check(p / "a.cube", strength=0.5), "--strength is for looks"),
        (lambda p: check(p / "window.toml", output=SignalName("sRGB")), "--output is for LUT files"),
        (lambda p: measure([p / "stills"], signal=SignalName("sRGB"), source=SignalName("sRGB")), "give one"),
        (lambda p: deliver(p / "window.toml", [p / "stills"], p / "o", source=TWICE), "twice"),
        (lambda p: deliver(p / "window.toml", [p / "stills"], p / "o", source=SCREEN), "carries display light"),
        (lambda p: deliver(p / "a.cube", [p / "stills"], p / "o", source=TWICE, output=SCREEN[0]), "one --source"),
        (lambda p: measure([p / "stills"]), "say what the stills are"),
        (lambda p: measure([p / "stills"], signal=SignalName("sRGB"), look=p / "window.toml"), "not both"),
        (lambda p: frames(p / "short.mp4", p / "o"), "say which frames"),
        (lambda p: frames(p / "short.mp4", p / "o", every=float("nan")), "must be more than 0"),
        (lambda p: clip(p / "window.toml", p / "short.mp4", p / "o.mp4", first=2.0, last=1.0), "later than"),
    ],
)
def test_arguments_that_do_not_go_together(place: Path, work: Callable[[Path], Any], words: str) -> None:
    with pytest.raises(WrongUse, match=words) as fault:
        work(place)
    assert isinstance(fault.value, LookwrightError) and not str(fault.value).startswith(":")


def test_parts_within_parts() -> None:
    told = Recording(stop_at=3)
    step = hundredths(told, "baking")  # the first check
    step(1, 3)
    assert told.parts == [["baking", 100, 33]]
    with pytest.raises(Cancelled):
        part(Within(told), "checking", 2)
    assert told.parts == [["baking", 100, 33]]


def test_every_command_is_a_job() -> None:
    """'bench' serves a page, and calls jobs itself."""
    folder = Path(importlib.import_module("lookwright.jobs").__file__ or "").parent
    assert set(COMMANDS) - {"bench"} <= {p.stem for p in folder.glob("*.py")}
