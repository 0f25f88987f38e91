"""Marks files, ``--mark`` and the pixels a mark selects."""

from pathlib import Path

import numpy as np
import pytest

from lookwright.errors import MarksError
from lookwright.pictures.stills import Mark, Still, marks_for, parse_mark, read_marks, region

SAMPLES = Path(__file__).parents[2] / "sample_images"


def _file(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "marks.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_reads_every_field(tmp_path: Path) -> None:
    path = _file(
        tmp_path,
        '[close."face key"]\nbox = [0.385, 0.33, 0.075, 0.07]\nrole = "key"\nlevel = 60\n'
        "[close.wall]\nbox = [0, 0, 1, 1]\n[wide.sky]\nbox = [0.5, 0.5, 0.5, 0.5]\n",
    )
    assert read_marks(path) == {
        "close": [Mark("face key", (0.385, 0.33, 0.075, 0.07), 60.0, "key"), Mark("wall", (0.0, 0.0, 1.0, 1.0))],
        "wide": [Mark("sky", (0.5, 0.5, 0.5, 0.5))],
    }


def test_byte_order_mark_and_windows_line_ends(tmp_path: Path) -> None:
    path = tmp_path / "marks.toml"
    path.write_bytes(b"\xef\xbb\xbf[close.wall]\r\nbox = [0, 0, 1, 1]\r\n")
    assert [m.name for m in read_marks(path)["close"]] == ["wall"]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[a.b]\nbox = [0.5, 0.5, 0.6, 0.1]\n", ["a, mark 'b', box", "inside the frame", "1.1"]),
        ("[a.b]\nbox = [-0.1, 0.5, 0.2, 0.1]\n", ["box", "inside the frame"]),
        ("[a.b]\nbox = [0.1, 0.5, 0.0, 0.1]\n", ["width 0", "above 0"]),
        ("[a.b]\nbox = [0.1, 0.5, 0.1, -0.1]\n", ["height -0.1", "above 0"]),
        ("[a.b]\nbox = [0.1, 0.5, 0.1]\n", ["3 numbers", "four"]),
        ("[a.b]\nbox = [0.1, 0.5, 0.1, nan]\n", ["NaN"]),
        ("[a.b]\nbox = [0.1, 0.5, 0.1, true]\n", ["four numbers"]),
        ('[a.b]\nbox = "all"\n', ["four numbers"]),
        ("[a.b]\nlevel = 60\n", ["no box"]),
        ("[a.b]\nbox = [0, 0, 1, 1]\nlevl = 60\n", ["unknown key 'levl'", "did you mean 'level'"]),
        ("[a.b]\nbox = [0, 0, 1, 1]\nlevel = 160\n", ["160", "0 to 100 percent"]),
        ('[a.b]\nbox = [0, 0, 1, 1]\nlevel = "60"\n', ["level", "a number"]),
        ("[a.b]\nbox = [0, 0, 1, 1]\nlevel = nan\n", ["level", "0 to 100"]),
        ("[a.b]\nbox = [0, 0, 1, 1]\nrole = 3\n", ["role", "a word"]),
        ("[a.b]\nbox = [0, 0, 1, 1]\n[a.b]\nbox = [0, 0, 1, 1]\n", ["line 3", "twice"]),
        ("a = 3\n", ["a", "table of marks"]),
        ("[a]\nb = 3\n", ["mark 'b'", "not a table"]),
        ("[a.b\n", ["not valid TOML", "line 1"]),
        ("", ["no marks"]),
        ("# nothing yet\n", ["no marks"]),
        ('[a." "]\nbox = [0, 0, 1, 1]\n', ["name is empty"]),
    ],
)
def test_faults_are_one_line_with_file_and_key(tmp_path: Path, text: str, words: list[str]) -> None:
    path = _file(tmp_path, text)
    with pytest.raises(MarksError) as caught:
        read_marks(path)
    line = str(caught.value)
    assert "\n" not in line
    for word in [str(path), *words]:
        assert word in line


def test_unreadable_marks_files(tmp_path: Path) -> None:
    with pytest.raises(MarksError, match="no such file"):
        read_marks(tmp_path / "none.toml")
    with pytest.raises(MarksError, match="this is a folder, not a marks file"):
        read_marks(tmp_path)
    (tmp_path / "latin.toml").write_bytes(b'[a."caf\xe9"]\n')
    with pytest.raises(MarksError, match="not UTF-8 text"):
        read_marks(tmp_path / "latin.toml")


def test_a_still_whose_marks_were_all_taken_out(tmp_path: Path) -> None:
    path = tmp_path / "marks.toml"
    path.write_text('[a]\n\n[b."wall"]\nbox = [0, 0, 1, 1]\n')
    assert read_marks(path) == {"a": [], "b": [Mark("wall", (0.0, 0.0, 1.0, 1.0))]}
    path.write_text("[a]\n")
    assert read_marks(path) == {"a": []}


def test_parse_mark() -> None:
    assert parse_mark("face key=0.1, 0.2,0.3,0.4") == Mark("face key", (0.1, 0.2, 0.3, 0.4))
    assert parse_mark("a=b=0,0,1,1").name == "a=b"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("0,0,1,1", "no '='"),
        ("=0,0,1,1", "no name"),
        ("a=0,0,1", "3 numbers"),
        ("a=0,0,1,x", "not numbers"),
        ("a=0,0,1,1.5", "inside the frame"),
        ("a=0,0,0,1", "above 0"),
        ("a=0,0,nan,1", "NaN"),
    ],
)
def test_parse_mark_faults(text: str, words: str) -> None:
    with pytest.raises(MarksError) as caught:
        parse_mark(text)
    assert words in str(caught.value)
    assert "--mark" in str(caught.value)


def test_region_is_a_view_of_the_right_pixels() -> None:
    pixels = np.zeros((100, 200, 3), np.float32)
    box = region(pixels, Mark("a", (0.25, 0.5, 0.1, 0.2)))
    assert box.shape == (20, 20, 3)
    box[:] = 1
    assert pixels[50:70, 50:70].min() == 1
    assert pixels.sum() == box.size
    still = Still(pixels, None, "8", Path("a.png"))
    assert np.shares_memory(region(still, Mark("a", (0, 0, 1, 1))), pixels)
    assert region(still, Mark("a", (0, 0, 1, 1))).shape == pixels.shape


@pytest.mark.parametrize("corner", [0.0, 0.3, 0.5, 1 - 1e-6])
def test_region_never_empty(corner: float) -> None:
    small = Mark("a", (corner, corner, 1e-7, 1e-7))
    assert region(np.zeros((7, 5, 3)), small).shape == (1, 1, 3)


def test_neighbouring_boxes_share_no_pixel_and_leave_none_out() -> None:
    pixels = np.zeros((10, 97, 3))
    for i in range(10):
        region(pixels, Mark("a", (i / 10, 0, 0.1, 1)))[:] += 1
    assert (pixels == 1).all()


def test_marks_for_takes_the_stem_or_its_longest_beginning() -> None:
    one, two = [Mark("a", (0, 0, 1, 1))], [Mark("b", (0, 0, 1, 1))]
    marks = {"close": one, "close_ep2": two}
    assert marks_for(marks, "x/close_acescct.png") is one
    assert marks_for(marks, "close.tif") is one
    assert marks_for(marks, "close_ep2_acescct.png") is two
    assert marks_for(marks, "closer.png") == []


def test_the_marks_of_the_sample_stills() -> None:
    marks = read_marks(SAMPLES / "marks.toml")
    stills = sorted(SAMPLES.glob("*_acescct.png"))
    assert len(stills) == 6
    for still in stills:
        assert marks_for(marks, still) is marks[still.stem.removesuffix("_acescct")]
    assert next(m.level for m in marks["close"] if m.role == "key") == 60
    # Boxes converted from corners: one by hand from scene/regions.json, [0.385, 0.33, 0.46, 0.40].
    assert np.allclose(marks["close"][0].box, (0.385, 0.33, 0.46 - 0.385, 0.40 - 0.33), rtol=0, atol=1e-12)
