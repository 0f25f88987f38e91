"""``lookwright tune``: recipes out, words, figures, bad goals in one line, and Ctrl-C."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from lookwright.jobs.tune import Goals
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.read import parse_look, read_look
from lookwright.pictures.stills import read, write
from lookwright.solve.tune.gather import check_goals

RECIPE = """\
# the bench by the window
title = "Bench by the window"

[source]
encoding = "ACEScct"

[output]
encoding = "BT.1886"

[[step]]
kind = "exposure"      # metered at the bench
stops = 0.0

[[step]]
kind = "saturation"
lock = ["shadows", "highlights"]

[[step]]
kind = "render"
lock = true            # not for tuning

[[step]]
kind = "gamut"
# last remark
"""

MARKS = """\
[bench."wall"]
box = [0.05, 0.05, 0.3, 0.3]
role = "ambient"
level = 60

[bench."apron"]
box = [0.3, 0.5, 0.2, 0.3]
role = "silhouette"
level = 15
"""


@pytest.fixture
def work(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, crop: np.ndarray) -> Path:
    """A folder to work in: a recipe, a still, the still graded, marks."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "look.toml").write_text(RECIPE, encoding="utf-8")
    (tmp_path / "marks.toml").write_text(MARKS, encoding="utf-8")
    write(tmp_path / "bench.png", crop, depth="16")
    graded(tmp_path / "bench.png", tmp_path / "graded.png", "stops = 0.5", "amount = 0.8")
    return tmp_path


def graded(still: Path, target: Path, stops: str, amount: str) -> None:
    """The still through the recipe with other values."""
    truth = RECIPE.replace("stops = 0.0", stops).replace('kind = "saturation"', f'kind = "saturation"\n{amount}')
    pixels = compile_look(parse_look(truth))(read(still).pixels.astype(float))
    write(target, pixels.astype(np.float32), depth="16")


def values(path: Path) -> dict[str, Any]:
    """stops and amount of a recipe."""
    exposure, saturation = read_look(path).steps[:2]
    return {"stops": exposure.stops, "amount": saturation.amount}  # type: ignore[attr-defined]


def test_a_pair_leads_back_to_what_made_it(lookwright: Any, work: Path) -> None:
    said = lookwright(
        "tune", "look.toml", "--pair", "bench.png", "graded.png", "--out", "new.toml", "--date", "2026-11-25"
    )
    assert said.code == 0, said.err
    found = values(work / "new.toml")
    assert found["stops"] == pytest.approx(0.5, abs=0.03) and found["amount"] == pytest.approx(0.8, abs=0.03)
    text = (work / "new.toml").read_text(encoding="utf-8")
    for remark in ("# the bench by the window", "# metered at the bench", "# not for tuning", "# last remark"):
        assert remark in text
    assert "# 2026-11-25: tuned to pairs bench.png and graded.png." in text and "distances: pairs" in text
    assert "exposure.stops went from 0 to 0." in said.out and "wrote new.toml" in said.out
    assert 4 <= len(said.out.splitlines()) <= 10
    assert (work / "look.toml").read_text(encoding="utf-8") == RECIPE


def test_json_says_what_each_parameter_is(lookwright: Any, work: Path) -> None:
    said = lookwright(
        "tune", "look.toml", "--pair", "bench.png", "graded.png", "--out", "new.toml", "--json", "--sheet", "sheet.png"
    )
    assert said.code == 0 and said.err == ""
    data = json.loads(said.out)
    by_name = {p["name"]: p for p in data["parameters"]}
    stops = by_name["exposure.stops"]
    assert stops["status"] == "determined" and abs(stops["after"] - 0.5) <= stops["uncertainty"]
    assert set(by_name) == {"exposure.stops", "saturation.amount", "saturation.density"}  # the rest is locked
    assert data["goals"]["pairs"]["after"] < 0.3 < data["goals"]["pairs"]["before"]
    assert data["restraint"]["passes"] and not data["stopped"] and data["words"]
    assert read(work / "sheet.png").pixels.std() > 0.05


def test_the_same_seed_gives_the_same_bytes(lookwright: Any, work: Path) -> None:
    texts = []
    for name in ("one.toml", "two.toml"):
        lookwright(
            "tune",
            "look.toml",
            "--stills",
            "bench.png",
            "--reference",
            "graded.png",
            "--out",
            name,
            "--date",
            "x",
            "--seed",
            "3",
            "--quiet",
        )
        texts.append((work / name).read_bytes())
    assert texts[0] == texts[1]
    assert values(work / "one.toml")["stops"] > 0.3


def test_lock_and_free(lookwright: Any, work: Path) -> None:
    said = lookwright(
        "tune",
        "look.toml",
        "--pair",
        "bench.png",
        "graded.png",
        "--out",
        "new.toml",
        "--json",
        "--lock",
        "exposure",
        "--free",
        "saturation.shadows",
    )
    names = {p["name"] for p in json.loads(said.out)["parameters"]}
    assert names == {"saturation.amount", "saturation.density", "saturation.shadows"}
    assert values(work / "new.toml")["stops"] == 0.0


def test_levels_are_met_or_said_to_be_out_of_reach(lookwright: Any, work: Path) -> None:
    from lookwright.colour.luma import luma_percent

    said = lookwright(
        "tune", "look.toml", "--stills", "bench.png", "--marks", "marks.toml", "--out", "new.toml", "--json"
    )
    data = json.loads(said.out)
    look = compile_look(read_look(work / "new.toml"))
    pixels = read(work / "bench.png").pixels
    h, w = pixels.shape[:2]
    wall = pixels[round(0.05 * h) : round(0.35 * h), round(0.05 * w) : round(0.35 * w)].astype(float)
    level = float(np.median(luma_percent(look(wall), look.output)))
    told = next(t for t in data["targets"] if t["mark"] == "wall")
    assert told["after"] == pytest.approx(level, abs=0.7)  # of every pixel, not of a sample
    assert told["met"] == (abs(told["after"] - 60.0) <= 2.0)
    assert said.code == (0 if all(t["met"] for t in data["targets"]) else 1)
    said = lookwright(
        "tune",
        "look.toml",
        "--stills",
        "bench.png",
        "--marks",
        "marks.toml",
        "--level",
        "wall=99",
        "--out",
        "far.toml",
        "--json",
    )
    data = json.loads(said.out)
    assert said.code == 1 and data["restraint"]["passes"]
    assert any("wall was not brought to 99" in c for c in data["conflicts"])
    assert "To be lit rather than graded: " in data["words"]
    for told in data["targets"]:
        assert (told["light_stops"] is None) or not told["met"]
    assert "NOT met" in (work / "far.toml").read_text(encoding="utf-8")


def test_marks_beside_the_stills_are_taken(work: Path) -> None:
    """Without --marks; levels of a file that nobody named are goals where no other goal is asked for."""
    still = work / "bench.png"
    found = Goals(stills=[still]).wishes(False)
    assert found == Goals(stills=[still], marks=work / "marks.toml").wishes(False)
    assert [m.level for m in found.marks["bench"]] == [60.0, 15.0]
    check_goals(found)
    for goals in (
        Goals(stills=[still], levels={"wall": 50.0}),
        Goals(stills=[still], separation=140.0),
        Goals(stills=[still], references=[work / "graded.png"]),
    ):
        asked = goals.wishes(False)
        assert [m.box for m in asked.marks["bench"]] == [m.box for m in found.marks["bench"]]
        assert not any(m.level for m in asked.marks["bench"]) and not asked.marks.get("graded")


def test_a_reference_is_compared_by_parts_where_its_own_marks_share_a_role(work: Path) -> None:
    goals = Goals(stills=[work / "bench.png"], references=[work / "graded.png"])
    other = '[graded."{0}"]\nbox = [0.1, 0.1, 0.2, 0.2]\nrole = "{0}"\n'
    (work / "marks.toml").write_text(MARKS + other.format("skin"), encoding="utf-8")
    assert not goals.wishes(False).marks["graded"]
    (work / "marks.toml").write_text(MARKS + other.format("ambient"), encoding="utf-8")
    assert [m.role for m in goals.wishes(False).marks["graded"]] == ["ambient"]


def test_a_separation_is_not_met_by_exposure(lookwright: Any, work: Path) -> None:
    """Held by default; released, it is kept by the picture's lightness, which nothing else asks to change."""
    recipe = RECIPE.replace('[[step]]\nkind = "render"', '[[step]]\nkind = "print"').replace(
        "lock = true ", "lock = false "
    )
    (work / "look.toml").write_text(recipe.replace('[[step]]\nkind = "gamut"\n', ""), encoding="utf-8")
    found = {}
    for free in ([], ["--free", "exposure"]):
        said = lookwright(
            "tune", "look.toml", "--stills", "bench.png", "--separation", "165", "--out", "new.toml", "--json", *free
        )
        data = json.loads(said.out)
        found[bool(free)] = data
        assert data["goals"]["light kept"]["after"] < 0.5
        assert data["goals"]["separation"]["before"] > data["goals"]["separation"]["after"] + 1.0
    assert {"name": "exposure.stops", "why": "not for a separation"} in found[False]["held"]
    assert "exposure.stops" not in [h["name"] for h in found[True]["held"]]
    assert abs(values(work / "new.toml")["stops"]) < 0.05


def test_a_bound_is_never_silent(lookwright: Any, work: Path) -> None:
    graded(work / "bench.png", work / "loud.png", "stops = 0.0", "amount = 1.9")
    said = lookwright(
        "tune",
        "look.toml",
        "--pair",
        "bench.png",
        "loud.png",
        "--out",
        "new.toml",
        "--json",
        "--lock",
        "exposure",
        "--weight",
        "restraint=0",
    )
    data = json.loads(said.out)
    at_bound = [p for p in data["parameters"] if p["status"] == "bound"]
    assert [p["name"] for p in at_bound if "amount" in p["name"]] == ["saturation.amount"]
    assert "the hard bound is 2" in at_bound[0]["bound"]
    assert "On a bound: " in data["words"] and "on a bound: " in (work / "new.toml").read_text(encoding="utf-8")


BAD = {
    "no goal": (["--stills", "bare/bench.png"], "no goal"),
    "reference without stills": (["--reference", "graded.png"], "needs stills"),
    "all locked": (["--pair", "bench.png", "graded.png", "--lock", "exposure", "--lock", "saturation"], "locked"),
    "unknown parameter": (["--pair", "bench.png", "graded.png", "--lock", "exposure.stop"], "did you mean"),
    "mark outside": (["--stills", "bench.png", "--mark", "wall=0.9,0.9,0.5,0.5", "--level", "wall=40"], "wall"),
    "unknown mark": (["--stills", "bare/bench.png", "--level", "wall=40"], "no mark 'wall'"),
    "one name twice": (["--stills", "bench.png", "--stills", "other/bench.png"], "another still is called 'bench'"),
    "no level": (["--stills", "bench.png", "--level", "wall=bright"], "cannot be read"),
    "two sizes": (["--pair", "bench.png", "small.png"], "one size"),
    "two frames": (["--pair", "bench.png", "other.png"], "not one frame"),
    "no overlap": (
        ["--stills", "bench.png", "--reference", "graded.png", "--marks", "apart.toml"],
        "no part in common",
    ),
    "scene reference": (
        ["--stills", "bench.png", "--reference", "graded.png", "--reference-encoding", "ACEScct"],
        "scene light",
    ),
    "unknown goal weight": (["--pair", "bench.png", "graded.png", "--weight", "likeness=2"], "no goal 'likeness'"),
    "no such file": (["--pair", "bench.png", "gone.png"], "gone.png"),
    "separation not a number": (["--stills", "bench.png", "--separation", "nan"], "--separation"),
}


@pytest.mark.parametrize("case", BAD, ids=lambda c: c.replace(" ", "-"))
def test_bad_goals_are_one_clear_line(lookwright: Any, work: Path, crop: np.ndarray, case: str) -> None:
    write(work / "small.png", crop[:45], depth="16")
    write(work / "other.png", np.ascontiguousarray(crop[::-1, ::-1]), depth="16")
    for folder in ("bare", "other"):
        (work / folder).mkdir()
        write(work / folder / "bench.png", crop, depth="16")
    (work / "other" / "marks.toml").write_text(MARKS.replace("level = 60", "level = 50"), encoding="utf-8")
    (work / "apart.toml").write_text(
        '[bench."wall"]\nbox = [0.1, 0.1, 0.2, 0.2]\nrole = "ambient"\n'
        '[graded."face"]\nbox = [0.1, 0.1, 0.2, 0.2]\nrole = "skin"\n',
        encoding="utf-8",
    )
    arguments, word = BAD[case]
    said = lookwright("tune", "look.toml", *arguments, "--out", "new.toml")
    assert said.code == 2 and said.out == "", said
    assert word in said.err and "Traceback" not in said.err
    assert said.err.count("\n") == 1
    assert not (work / "new.toml").exists()


INTERRUPTING = """\
import os, signal
import lookwright.app.cli.tune
from lookwright.app.cli import main

class Interrupting(lookwright.app.cli.tune.TerminalProgress):
    seen = []
    def tell(self, what, distance=0.0):
        self.seen.append(what)
        if what == "{what}" and self.seen.count("{what}") == {time}:
            os.kill(os.getpid(), signal.SIGINT)

lookwright.app.cli.tune.TerminalProgress = Interrupting
main({arguments!r})
"""
"""A real process that sends itself a real Ctrl-C at a known place of its work."""


@pytest.mark.parametrize(
    ("what", "time", "levels"),
    [("solving", 2, []), ("finding out which targets cannot be met together", 1, ["wall=99"])],
)
def test_ctrl_c_leaves_the_best_so_far(work: Path, what: str, time: int, levels: list[str]) -> None:
    goal = ["--marks", "marks.toml"] if levels else ["--reference", "graded.png"]
    arguments = ["tune", "look.toml", "--stills", "bench.png", *goal, "--out", "new.toml"]
    for level in levels:
        arguments += ["--level", level]
    script = INTERRUPTING.format(what=what, time=time, arguments=arguments)
    done = subprocess.run([sys.executable, "-c", script], cwd=work, capture_output=True, text=True, timeout=120)
    assert done.returncode == 130, done
    assert "Traceback" not in done.stderr and "wrote new.toml" in done.stdout
    assert "Stopped before the end: this is the best found so far." in done.stdout
    new = (work / "new.toml").read_text(encoding="utf-8")
    assert "stopped before the end" in new and "# metered at the bench" in new
    compile_look(parse_look(new))
    if what == "solving":  # the levels asked for pull against each other
        assert values(work / "new.toml") != values(work / "look.toml")
