"""``lookwright series`` as a user meets it."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from takes import Truth, take, write_takes

from lookwright.lut.formats.cdl import read_cdl
from lookwright.pictures.stills import read, write
from lookwright.solve.series.memory import read_memory

Run = Callable[..., object]

TRUTHS = [
    Truth("shot 01"),
    Truth("shot 02", 0.5, 30.0, 0.001),
    Truth("shot 03", -0.4, -25.0),
    Truth("shot 04", 0.1, 0.0, 0.002),
]
REPORT = ["series.ccc", "drift.json", "drift.png", "before.jpg", "after.jpg", "series.html"]
FILES = [*REPORT, *(f"cdl/{t.name}.cdl" for t in TRUTHS)]


@pytest.fixture
def takes(tmp_path: Path) -> Path:
    folder = tmp_path / "takes"
    write_takes(folder, "close", TRUTHS, every=8)
    return folder


def mark_file(folder: Path, names: list[str]) -> Path:
    """Marks of the close still, taken as lying at the same place in each take (nothing moved)."""
    path = folder / "marks.toml"
    boxes = {
        "face key": (0.385, 0.33, 0.075, 0.07, "key"),
        "wall": (0.62, 0.50, 0.18, 0.12, "ambient"),
        "fill side": (0.313, 0.54, 0.037, 0.06, "fill"),
        "brow": (0.395, 0.36, 0.06, 0.04, "skin"),
    }
    lines = []
    for name in names:
        for mark, (x, y, w, h, role) in boxes.items():
            lines.append(f'["{name}"."{mark}"]\nbox = [{x}, {y}, {w}, {h}]\nrole = "{role}"\n')
    path.write_text("\n".join(lines), encoding="utf-8")
    return path


def test_with_marks(look: Path, takes: Path, tmp_path: Path, lookwright: Run) -> None:
    mark_file(takes, [t.name for t in TRUTHS])
    out = tmp_path / "out"
    said = lookwright("series", look, "--stills", takes, "--anchor", takes / "shot 01.png", "--out", out)
    assert said.code == 0 and said.err == "", said.out + said.err
    lines = said.out.splitlines()
    assert lines[0] == "shot 01: the anchor"
    assert re.match(r"shot 02: was 0\.5\d? stops over, (2[7-9]|3[0-3]) mired warmer.*; by its marks, conf", lines[1])
    assert lines[-1] == f"4 of 4 within 0.1 stop and 5 mired; report in {out}"
    assert sorted(p.relative_to(out).as_posix() for p in out.rglob("*") if p.is_file()) == sorted(FILES)
    corrections = read_cdl(out / "series.ccc")
    assert [c.id for c in corrections] == ["shot 01", "shot 02", "shot 03", "shot 04"]
    assert corrections[0].slope == (1.0, 1.0, 1.0) and corrections[0].offset == (0.0, 0.0, 0.0)
    assert "Feed it ACEScct" in corrections[1].words[0]
    drift = json.loads((out / "drift.json").read_text())
    assert drift[1]["match"]["by"] == "marks" and abs(drift[1]["match"]["difference"]["stops"] - 0.5) < 0.05
    assert abs(drift[1]["after"]["stops"]) < 0.05 and drift[1]["after_colour"]["skin_hue_deg"] is not None
    before = [d["before_colour"]["skin_level"] for d in drift]
    after = [d["after_colour"]["skin_level"] for d in drift]
    assert np.ptp(after) < 0.15 * np.ptp(before), "the skin's level is the same in every shot afterwards"
    page = (out / "series.html").read_text(encoding="utf-8")
    assert page.count("data:image/") == 1 + 2 * 4 and "http" not in page.split("</head>")[1], (
        "the plot, and each shot twice"
    )
    assert "All 4 shots are within" in page and page.count("<tr><td>") == 4


def test_the_same_run_gives_the_same_files(look: Path, takes: Path, tmp_path: Path, lookwright: Run) -> None:
    def run(out: Path) -> dict[str, bytes]:
        lookwright("series", look, "--stills", takes, "--anchor", takes / "shot 01.png", "--out", out, "--quiet")
        return {name: (out / name).read_bytes() for name in FILES}

    assert run(tmp_path / "a") == run(tmp_path / "b")


def test_no_marks_and_json(look: Path, takes: Path, tmp_path: Path, lookwright: Run) -> None:
    mark_file(takes, [t.name for t in TRUTHS])
    said = lookwright(
        "series",
        look,
        "--stills",
        takes,
        "--anchor",
        takes / "shot 01.png",
        "--no-marks",
        "--json",
        "--out",
        tmp_path / "out",
        "--tolerance-stops",
        "0.15",
        "--tolerance-mired",
        "10",
    )
    assert said.code == 0 and said.err == "", said.err
    data = json.loads(said.out)
    assert [s["match"]["by"] for s in data["shots"]] == ["anchor", "frame", "frame", "frame"]
    assert data["faults"] == [] and [Path(f).relative_to(tmp_path / "out").as_posix() for f in data["files"]] == FILES


def test_quiet(look: Path, takes: Path, tmp_path: Path, lookwright: Run) -> None:
    said = lookwright(
        "series", look, "--stills", takes, "--anchor", takes / "shot 01.png", "--out", tmp_path / "out", "--quiet"
    )
    assert (said.code, said.out, said.err) == (0, "", "")


def test_a_change_of_light_is_named_and_fails(look: Path, takes: Path, tmp_path: Path, lookwright: Run) -> None:
    write(takes / "shot 05.png", take("close", Truth("x", 0.2, 10.0, change="key down"), 9, every=8))
    out = tmp_path / "out"
    said = lookwright("series", look, "--stills", takes, "--anchor", takes / "shot 01.png", "--out", out)
    assert said.code == 1
    assert "shot 05: changed, not matched; same key, changed here" in said.out and "4 of 5 within" in said.out
    assert "the light is another: same key, changed here" in (out / "series.html").read_text(encoding="utf-8")
    assert read_cdl(out / "series.ccc")[4].offset == (0.0, 0.0, 0.0), "it is not corrected"
    assert "was not matched" in (out / "cdl/shot 05.cdl").read_text() != (out / "cdl/shot 02.cdl").read_text()


def test_a_tolerance_too_tight_fails(look: Path, takes: Path, tmp_path: Path, lookwright: Run) -> None:
    said = lookwright(
        "series",
        look,
        "--stills",
        takes,
        "--anchor",
        takes / "shot 01.png",
        "--out",
        tmp_path / "out",
        "--tolerance-mired",
        "0.001",
    )
    assert said.code == 1 and "still outside the tolerance" in said.out


def test_a_bad_still_is_reported_and_the_rest_done(look: Path, takes: Path, tmp_path: Path, lookwright: Run) -> None:
    whole = (takes / "shot 03.png").read_bytes()
    (takes / "shot 03.png").write_bytes(whole[: len(whole) // 2])
    out = tmp_path / "out"
    said = lookwright("series", look, "--stills", takes, "--anchor", takes / "shot 01.png", "--out", out)
    assert said.code == 1 and said.err.count("\n") == 1
    assert "shot 03.png: the PNG is damaged or cut short" in said.err and "3 of 4 within" in said.out
    assert [c.id for c in read_cdl(out / "series.ccc")] == ["shot 01", "shot 02", "shot 04"]


def test_names_that_are_alike_get_ids_of_their_own(look: Path, takes: Path, tmp_path: Path, lookwright: Run) -> None:
    other = tmp_path / "reel 2"
    other.mkdir()
    write(other / "shot 02.png", read(takes / "shot 02.png").pixels)
    out = tmp_path / "out"
    said = lookwright(
        "series", look, "--stills", takes, "--stills", other, "--anchor", takes / "shot 01.png", "--out", out
    )
    assert said.code == 0, said.err
    ids = [c.id for c in read_cdl(out / "series.ccc")]
    assert len(ids) == len(set(ids)) == 5


@pytest.mark.parametrize("case", ["no anchor file", "anchor no picture", "no pictures", "bad marks", "display source"])
def test_wrong_use(case: str, look: Path, takes: Path, tmp_path: Path, lookwright: Run) -> None:
    anchor, stills, words = takes / "shot 01.png", takes, ""
    more: list[object] = []
    if case == "no anchor file":
        anchor, words = takes / "none.png", "none.png: no such file"
    elif case == "anchor no picture":
        anchor, words = look, "window.toml: this is not a picture"
    elif case == "no pictures":
        stills, words = tmp_path / "texts", "the folder holds no clips or stills"
        stills.mkdir()
        (stills / "notes.txt").write_text("no picture")
    elif case == "bad marks":
        (tmp_path / "m.toml").write_text('["shot 01".wall]\nbox = [0.9, 0.9, 0.5, 0.5]\n')
        more, words = ["--marks", tmp_path / "m.toml"], "m.toml"
    else:
        look.write_text(look.read_text().replace('"ACEScct"', '"sRGB"'))
        words = "carries display light; expected a scene or log encoding"
    out = tmp_path / "out"
    said = lookwright("series", look, "--stills", stills, "--anchor", anchor, "--out", out, *more)
    assert said.code == 2 and said.out == "" and words in said.err and said.err.count("\n") == 1, said.err
    assert not out.exists(), "nothing is left behind"


def test_a_series_is_kept_from_episode_to_episode(look: Path, takes: Path, tmp_path: Path, lookwright: Run) -> None:
    """Episode 2 is compared with episode 1's anchor without naming it, and another look is measured on episode 1."""
    kept, second = tmp_path / "series.toml", tmp_path / "second"
    anchor = takes / "shot 01.png"
    said = lookwright(
        *("series", look, "--shots", takes, "--anchor", anchor, "--out", tmp_path / "1", "--memory", kept),
        *("--episode", "one", "--tolerance-stops", "0.2"),
    )
    assert said.code == 0 and "episode one: 3 of 4 matched" in said.out and f"kept in {kept}" in said.out
    second.mkdir()
    (takes / "shot 03.png").rename(second / "shot 03.png")
    again = lookwright("series", look, "--shots", second, "--out", tmp_path / "2", "--memory", kept, "--episode", "two")
    assert again.code == 0 and "0.2 stop" in again.out, "the tolerance is kept too"
    assert "episode two: 1 of 1 matched" in again.out and "alters" not in again.out
    other = look.with_name("other.toml")
    other.write_text(look.read_text().replace("[[step]]", '[[step]]\nkind = "exposure"\nstops = 0.5\n\n[[step]]', 1))
    third = lookwright(
        *("series", other, "--shots", second, "--out", tmp_path / "3", "--memory", kept, "--episode", "three", "--json")
    )
    assert third.out, third.err
    told = json.loads(third.out)["memory"]
    by_shot = {(a["episode"], a["shot"]): a for a in told["altered"]}
    assert (
        by_shot["one", "shot 01"]["mean"] > 0.3
        and by_shot["one", "shot 01"]["p95"] >= by_shot["one", "shot 01"]["mean"]
    )
    assert by_shot["one", "shot 03"]["mean"] is None and "shot 03.png" in by_shot["one", "shot 03"]["why"], (
        "it moved away"
    )
    assert told["trend"] is not None and [e["episode"] for e in told["episodes"]] == ["one", "two", "three"]
    wrong = lookwright(
        *("series", look, "--shots", second, "--anchor", second / "shot 03.png", "--out", tmp_path / "4"),
        *("--memory", kept, "--episode", "four"),
    )
    assert wrong.code == 2 and "keeps the anchor" in wrong.err and "Traceback" not in wrong.err
    assert "four" not in kept.read_text()
    assert not (tmp_path / "4").exists(), "it is told before any work"


def test_a_foreign_memory_is_refused_before_any_work(look: Path, takes: Path, tmp_path: Path, lookwright: Run) -> None:
    said = lookwright("series", look, "--shots", takes, "--out", tmp_path / "1", "--memory", look)
    assert said.code == 2 and "is no series file" in said.err and not (tmp_path / "1").exists()
    none = lookwright("series", look, "--shots", takes, "--out", tmp_path / "1")
    assert none.code == 2 and "--anchor" in none.err
    nowhere = tmp_path / "nowhere" / "series.toml"
    lost = lookwright(
        *("series", look, "--shots", takes, "--anchor", takes / "shot 01.png", "--out", tmp_path / "1"),
        *("--memory", nowhere),
    )
    assert lost.code == 2 and lost.err.count("\n") == 1 and str(nowhere) in lost.err and not (tmp_path / "1").exists()


@pytest.mark.parametrize("name", ["new.mp4", "new.png", "series"])
def test_a_memory_under_the_name_of_something_else_is_refused(
    name: str, look: Path, takes: Path, tmp_path: Path, lookwright: Run
) -> None:
    run = ("series", look, "--shots", takes, "--anchor", takes / "shot 01.png", "--out", tmp_path / "1")
    said = lookwright(*run, "--memory", tmp_path / name)
    assert said.code == 2 and said.err.count("\n") == 1 and f"{name}: the name does not end in .toml" in said.err
    assert not (tmp_path / "1").exists() and not (tmp_path / name).exists()


def test_an_anchor_that_is_a_shot_is_kept_as_its_file(look: Path, takes: Path, tmp_path: Path, lookwright: Run) -> None:
    for name in ("shot 02.png", "shot 04.png"):
        (takes / name).unlink()
    kept = tmp_path / "series.toml"
    more = ("--tolerance-stops", "0.2", "--shots", takes, "--memory", kept, "--episode")
    first = lookwright("series", look, *more, "one", "--anchor", "shot 01", "--out", tmp_path / "1")
    again = lookwright("series", look, *more, "two", "--out", tmp_path / "2")
    assert first.code == again.code == 0, first.err + again.err
    assert read_memory(kept).anchor.file == "takes/shot 01.png"
