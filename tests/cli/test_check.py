"""``lookwright check`` as a user meets it."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from planted_luts import PLANTED

from lookwright.look.baking.bake import baked
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.read import parse_look
from lookwright.lut.formats.cube import write_cube
from lookwright.lut.lattices.lattice import sample
from lookwright.pictures.stills import write

ROOT = Path(__file__).parents[2]
LOOKS = sorted((ROOT / "looks").glob("*.toml"))
Run = Callable[..., object]

GENTLE = """\
title = "Bench by the window"
[source]
encoding = "ACEScct"
[output]
encoding = "BT.1886"
[[step]]
kind = "contrast"
slope = 1.1
[[step]]
kind = "render"
[[step]]
kind = "gamut"
"""


@pytest.fixture
def gentle(tmp_path: Path) -> Path:
    path = tmp_path / "gentle.toml"
    path.write_text(GENTLE, encoding="utf-8")
    return path


@pytest.fixture
def bad(tmp_path: Path) -> Path:
    path = tmp_path / "lifted.cube"
    write_cube(path, sample(PLANTED["lifted shadows"], 17))
    return path


@pytest.fixture
def stills(tmp_path: Path) -> Path:
    """Two small stills with a skin mark, cut from colours of the sample scenes (ACEScct codes)."""
    folder = tmp_path / "stills"
    folder.mkdir()
    ramp = np.linspace(0.15, 0.6, 64)
    grey = np.repeat(ramp[None, :, None], 36, axis=0) * np.ones(3)
    for name, shift in (("bench", 0.0), ("window", 0.03)):
        picture = grey + shift
        picture[10:20, 10:20] = (0.4898, 0.4613, 0.4367)  # light skin, check table 5.1
        picture[10:20, 40:50] = (0.30, 0.34, 0.40)
        write(folder / f"{name}.png", picture.astype(np.float32), depth="16")
    (folder / "marks.toml").write_text('[bench."hand"]\nbox = [0.17, 0.3, 0.1, 0.2]\nrole = "skin"\n', encoding="utf-8")
    return folder


@pytest.mark.parametrize("look", LOOKS, ids=lambda p: p.stem)
def test_shipped_looks_pass(look: Path, lookwright: Run) -> None:
    said = lookwright("check", look, "--quiet")
    assert (said.code, said.out, said.err) == (0, "", "")


def test_the_verdict_comes_first(gentle: Path, lookwright: Run) -> None:
    said = lookwright("check", gentle)
    assert said.code == 0 and said.err == ""
    lines = said.out.splitlines()
    assert lines[0] == "gentle.toml: passes"
    for start in ("Faces: fine. ", "Skies, leaves, colours: fine. ", "Greys and shadows: fine. "):
        assert any(line.startswith(start) for line in lines)
    assert "on built-in colours colour moves by" in said.out and "Contrast 1.1" in " ".join(said.out.split())
    assert re.match(r"ok +\d+ measures$", lines[-1]) and "Jacobian" not in said.out
    assert max(map(len, lines)) <= 100


def test_detail_has_every_measure_with_its_source(gentle: Path, bad: Path, lookwright: Run) -> None:
    lines = lookwright("check", gentle, "--detail").out.splitlines()
    head = next(i for i, line in enumerate(lines) if re.match(r" +measure +value unit +watch +fail$", line))
    rows = [line for line in lines[head + 1 :] if line.startswith("ok ")]
    assert any(re.match(r"ok +skin hue +[\d.]+ deg +8 +12$", row) for row in rows)
    assert lines[-1].startswith("Fed with ACEScct, ACEScg primaries, full range; gives BT.1886")
    said = lookwright("check", bad, "--source", "BT.1886", "--output", "BT.1886", "--detail")
    assert "Why: " in said.out and "Source: " in said.out


def test_a_bad_lut_fails_and_is_told_why(bad: Path, lookwright: Run) -> None:
    said = lookwright("check", bad, "--source", "bt1886", "--output", "BT 1886")
    assert said.code == 1 and said.err == ""
    lines, text = said.out.splitlines(), " ".join(said.out.split())
    assert lines[0].startswith("lifted.cube: fails on ")
    assert "Greys and shadows: not usable as it is. Shadows become noisy, " in text
    assert "one 10-bit code of noise" in text and "no parameters to ease" not in text
    assert text.count("A LUT file cannot be eased in parts.") == 1
    assert any(line.startswith("fail") and "noise in shadows" in line for line in lines)


def test_a_still_of_another_signal_is_doubted(gentle: Path, stills: Path, tmp_path: Path, lookwright: Run) -> None:
    """Its name says one log and the look is fed another: no picture tells these two apart."""
    path = tmp_path / "logc3.toml"
    path.write_text(GENTLE.replace('"ACEScct"', '"LogC3"'), encoding="utf-8")
    named = stills / "bench_S-Log3.png"
    named.write_bytes((stills / "bench.png").read_bytes())
    said = lookwright("check", path, "--stills", named)
    assert "Doubt: bench_S-Log3.png: its name says S-Log3, and the look is fed LogC3; the picture itself" in " ".join(
        said.out.split()
    )
    data = json.loads(lookwright("check", gentle, "--stills", stills / "bench.png", "--json").out)
    assert data["doubts"] == {}


def test_json(bad: Path, lookwright: Run) -> None:
    said = lookwright("check", bad, "--source", "BT.1886", "--output", "BT.1886", "--json")
    assert said.code == 1
    data = json.loads(said.out)
    assert data["worst"] == "fail" and data["findings"][0]["measure"] == "shadow_noise"
    assert len(data["verdict"]) == 3 and data["closing"] and data["findings"][0]["source"]
    effect = data["effect"]
    assert effect["on"] == "built-in colours" and effect["mean"] > 0 and effect["sentence"] and effect["strength"]


def test_a_foreign_lut_must_be_declared(bad: Path, lookwright: Run) -> None:
    said = lookwright("check", bad)
    assert said.code == 2 and said.out == ""
    assert "--source and --output" in said.err and said.err.count("\n") == 1
    said = lookwright("check", bad, "--source", "BT.1886", "--output", "BT.1887")
    assert said.code == 2 and "did you mean 'BT.1886'" in said.err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--output", "BT.1886"], "a look says what it gives"),
        (["--marks", "m.toml"], "--marks belongs to --stills"),
        (["--source-primaries", "BT.709"], "need --source"),
        (["--stills", "nowhere"], "no such file or folder"),
        (["--html", "nowhere/report.html"], "nowhere"),
    ],
)
def test_wrong_use(arguments: list[str], words: str, gentle: Path, lookwright: Run) -> None:
    said = lookwright("check", gentle, *arguments)
    assert said.code == 2 and said.out == ""
    assert words in said.err and said.err.count("\n") == 1


def test_a_cube_of_our_own_needs_no_words(gentle: Path, tmp_path: Path, lookwright: Run) -> None:
    target = tmp_path / "own.cube"
    write_cube(target, baked(compile_look(parse_look(GENTLE)), GENTLE, 33))
    said = lookwright("check", target)
    assert said.code == 0 and said.out.startswith("own.cube: passes")
    said = lookwright("check", target, "--source", "sRGB")
    assert said.code == 2 and "its own recipe says ACEScct" in said.err
    said = lookwright("check", target, "--strength", "0.5")
    assert said.code == 2 and "--strength is for looks" in said.err


def test_a_recipe_changed_after_the_bake_is_refused(tmp_path: Path, lookwright: Run) -> None:
    target = tmp_path / "own.cube"
    write_cube(target, baked(compile_look(parse_look(GENTLE)), GENTLE, 2))
    target.write_text(target.read_text().replace("# | slope = 1.1", "# | slope = 1.2"))
    said = lookwright("check", target)
    assert said.code == 2 and "changed after the LUT was made" in said.err


def test_strength_dials_harm_back(tmp_path: Path, lookwright: Run) -> None:
    path = tmp_path / "harsh.toml"
    path.write_text(GENTLE.replace("slope = 1.1", "slope = 2.4"), encoding="utf-8")
    assert lookwright("check", path, "--quiet").code == 1
    assert lookwright("check", path, "--quiet", "--strength", "0.2").code == 0


def test_own_limits(tmp_path: Path, lookwright: Run) -> None:
    path = tmp_path / "own.toml"
    path.write_text(GENTLE + '[limits.contrast]\nvalue = 1.05\nreason = "soft on purpose"\n', encoding="utf-8")
    said = lookwright("check", path)
    assert said.code == 1
    assert "Limit: the look's own limit, 1.05 instead of 1.8: soft on purpose." in " ".join(said.out.split())
    assert "Ease contrast.slope: from 1.1 to " in " ".join(said.out.split())
    path.write_text(GENTLE + '[limits.contrats]\nvalue = 3.0\nreason = "typing"\n', encoding="utf-8")
    said = lookwright("check", path)
    assert said.code == 2 and "no measure 'contrats'; did you mean 'contrast'?" in said.err


def test_stills_marks_and_report(gentle: Path, stills: Path, tmp_path: Path, lookwright: Run) -> None:
    target = tmp_path / "report.html"
    said = lookwright("check", gentle, "--stills", stills, "--html", target, "--detail")
    assert said.code == 0, said.err
    assert "on 2 stills colour moves by" in " ".join(said.out.split())
    assert "skin marks: hue" in said.out and "separation of warm and cool, bench.png" in said.out
    assert said.out.splitlines()[-1] == f"report in {target}"
    page = target.read_text(encoding="utf-8")
    assert page.count("data:image/jpeg;base64,") == 4 and page.count("data:image/svg+xml;base64,") == 5
    outside = [u for u in re.findall(r"""(?:src|href)=["']?([^"'\s>]+)""", page) if not u.startswith("data:")]
    assert outside == [] and "http:" not in page and "https:" not in page
    first = target.read_bytes()
    assert lookwright("check", gentle, "--stills", stills, "--html", target, "--quiet").code == 0
    assert target.read_bytes() == first, "the same check gives the same bytes"


def test_an_unreadable_still_does_not_stop_the_rest(gentle: Path, stills: Path, lookwright: Run) -> None:
    (stills / "broken.png").write_bytes(b"no picture")
    said = lookwright("check", gentle, "--stills", stills)
    assert said.code == 1 and said.err.count("\n") == 1 and "broken.png" in said.err
    assert "on 2 stills colour moves by" in " ".join(said.out.split())
    said = lookwright("check", gentle, "--stills", stills / "broken.png")
    assert said.code == 2 and said.out == "" and "broken.png" in said.err


def test_names_cannot_break_the_report(stills: Path, tmp_path: Path, lookwright: Run) -> None:
    """A hostile title, file name or reason is text in the page, not markup."""
    path = tmp_path / "<img src=x onerror=alert(1)>.toml"
    path.write_text(
        GENTLE.replace("Bench by the window", "<script>alert(1)</script>")
        + '[limits.contrast]\nvalue = 1.01\nreason = "<b>bold</b> & more"\n',
        encoding="utf-8",
    )
    target = tmp_path / "report.html"
    assert lookwright("check", path, "--html", target, "--quiet").code == 1
    page = target.read_text(encoding="utf-8")
    assert "<img src=x" not in page and "<script>alert" not in page and "<b>bold" not in page
    assert "&lt;img src=x onerror=alert(1)&gt;.toml" in page and "&lt;b&gt;bold&lt;/b&gt; &amp; more" in page


def test_a_wide_output_is_shown_as_srgb(stills: Path, tmp_path: Path, lookwright: Run) -> None:
    path = tmp_path / "wide.toml"
    path.write_text(GENTLE.replace('encoding = "BT.1886"', 'encoding = "BT.2100 PQ"'), encoding="utf-8")
    target = tmp_path / "report.html"
    said = lookwright("check", path, "--stills", stills / "bench.png", "--html", target)
    assert said.code == 0, said.out + said.err
    assert "pictures are shown as sRGB" in target.read_text(encoding="utf-8")
