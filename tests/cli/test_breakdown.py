"""``lookwright breakdown`` and ``bake --exposure-map`` as commands: what they print, write and refuse."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
import pytest

from lookwright.app.cli import main
from lookwright.pictures.stills import read, read_marks, write

ROOT = Path(__file__).parents[2]
SMALL = ROOT / "sample_images" / "small"
LOOK = ROOT / "looks" / "night-workshop.toml"


def run(*arguments: str | Path) -> int:
    with pytest.raises(SystemExit) as ended:
        main([str(a) for a in arguments])
    return int(ended.value.code or 0)


def test_card_marks_and_comparison(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    reference, mine = SMALL / "close_acescct.png", SMALL / "close_ep2_acescct.png"
    out = tmp_path / "card"
    assert run("breakdown", reference, "--look", LOOK, "--mine", mine, "--out", out, "--json") == 0
    one = json.loads(capsys.readouterr().out)[0]
    names = {z["name"]: z for z in one["zones"]}
    assert {"ambience", "lamp"} <= set(names)
    assert 2 <= len(one["zones"]) <= 60 and abs(sum(z["share"] for z in one["zones"]) - 1.0) < 1e-6
    assert "electricity" in one["against"]["caution"]
    # What the camera must read for a zone, through the look, is what the frame shows there: the same still.
    assert abs(names["ambience"]["on_camera"]["monitor"] - names["ambience"]["level"]) < 3.0
    assert (out / "close_acescct-card.pdf").read_bytes().startswith(b"%PDF-")
    card = read(out / "close_acescct-card.png").pixels
    assert card.shape[0] / card.shape[1] == pytest.approx(297 / 210, rel=0.01)  # A4, ISO 216
    marks = {m.name: m for m in read_marks(out / "marks.toml")["close_acescct"]}
    assert marks["ambience"].role == "ambient"
    assert marks["ambience"].level == pytest.approx(names["ambience"]["level"], abs=0.06)
    # The marks are those of a marks file: measure reads them.
    assert run("measure", "--stills", reference, "--look", LOOK, "--marks", out / "marks.toml", "--json") == 0
    measured = json.loads(capsys.readouterr().out)[0]["marks"]
    assert abs(measured["ambience"]["shown"]["luma"]["median"] - marks["ambience"].level) < 4.0


def test_words_for_a_person(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("breakdown", SMALL / "wide_acescct.png", "--encoding", "ACEScct", "--no-faces") == 0
    said = capsys.readouterr().out
    assert "silhouette" in said and "stops under the ground on both sides" in said
    assert "in light" in said and "spoken of as" in said
    assert "light is decoded from the log signal" in said


def test_what_the_grade_hides_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    picture = np.full((100, 160, 3), 0.4, np.float32)
    picture[:, 80:] = 0.6
    write(tmp_path / "reference.png", picture)
    assert run("breakdown", tmp_path / "reference.png", "--no-faces") == 0
    said = capsys.readouterr().out
    assert "holds light and grade together" in said


@pytest.mark.parametrize(
    ("options", "fault"),
    [
        (["--steps", "stops", "--bounds", "1,0"], "must be numbers that rise"),
        (["--bounds", "a"], "no list of numbers"),
        (["--off", "99"], "steps are numbered 1 to 11"),
        (["--camera", "BT.1886"], "carries display light"),
        (["--encoding", "sRGB", "--look", str(LOOK)], "the look gives BT.1886"),
    ],
)
def test_wrong_use_is_one_line(options: list[str], fault: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("breakdown", SMALL / "day_acescct.png", "--no-faces", *options) in (1, 2)
    said = capsys.readouterr().err
    assert fault in said and said.count("\n") == 1


def test_a_tiny_frame_is_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write(tmp_path / "tiny.png", np.full((16, 16, 3), 0.5, np.float32))
    assert run("breakdown", tmp_path / "tiny.png") != 0
    assert "too small or too narrow" in capsys.readouterr().err


def test_exposure_map_says_where_its_borders_lie(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    look = shutil.copy(LOOK, tmp_path / "night.toml")
    assert run("bake", look, "--exposure-map", "--size", "17", "--bounds", "-2,-1,0,1", "--off", "1,5") == 0
    assert "borders lie within" in capsys.readouterr().out
    text = (tmp_path / "night-map.cube").read_text()
    assert "off, picture in grey" in text and "Feed it: ACEScct" in text and "LUT_3D_SIZE 17" in text
    table = np.array([line.split() for line in text.splitlines() if line[:1].isdigit()], float)
    assert np.ptp(table[0]) < 1e-6 and np.ptp(table[-1]) < 1e-6  # both ends are off: greys
    assert run("bake", look, "--exposure-map", "--refine") == 2
    assert run("bake", look, "--over", "picture") == 2
