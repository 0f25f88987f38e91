"""The commands in normal use: what they print, what they write, and that it is what was asked for."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from lookwright.installed import Samples
from lookwright.jobs.demo import Befores, demo
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.read import parse_look
from lookwright.lut.formats.cube import read_cube
from lookwright.lut.formats.embed import extract
from lookwright.lut.lattices.lattice import grid
from lookwright.pictures.stills import profile_for, read, write

HALF_OF_LAST_DECIMAL = 5.0e-7
"""A .cube is written with six decimals."""

CODE16 = 1.0 / 65535.0

PLAIN = """\
[source]
encoding = "ACEScct"
[output]
encoding = "BT.1886"
[[step]]
kind = "render"
[[step]]
kind = "gamut"
"""

LOOKS = sorted((Path(__file__).parents[2] / "looks").glob("*.toml"))


def table(path: Path) -> np.ndarray:
    """The lattice of a written .cube, (N, N, N, 3) indexed [r, g, b]."""
    lattice = read_cube(path).lattice
    assert lattice is not None
    return lattice.table


def codes8(pixels: np.ndarray) -> np.ndarray:
    """The nearest 8-bit codes."""
    return np.rint(np.clip(pixels, 0.0, 1.0) * 255.0).astype(int)


def find_frame(sheet: np.ndarray, frame: np.ndarray) -> list[tuple[int, int]]:
    """Every (row, column) at which ``frame`` stands in ``sheet``, unscaled, to one 8-bit code."""
    sheet8, frame8 = codes8(sheet), codes8(frame)
    height, width = frame8.shape[:2]
    found = []
    for y in range(sheet8.shape[0] - height + 1):
        for x in range(sheet8.shape[1] - width + 1):
            if np.abs(sheet8[y, x : x + width : 7] - frame8[0, ::7]).max() <= 1 and (
                np.abs(sheet8[y : y + height, x : x + width] - frame8).max() <= 1
            ):
                found.append((y, x))
    return found


# ---------------------------------------------------------------- new


def test_new_writes_a_look_that_bakes(lookwright: Any, real: Any, tmp_path: Path) -> None:
    made = real("new", "my-first_look.toml", cwd=tmp_path)
    assert (made.code, made.err) == (0, "")
    assert made.out.startswith("wrote my-first_look.toml: ")
    text = (tmp_path / "my-first_look.toml").read_text(encoding="utf-8")
    look = parse_look(text)
    assert look.title == "My first look"
    assert [s.kind for s in look.steps] == ["exposure", "contrast", "split", "saturation", "render"]
    assert text.count("#") >= 10
    assert lookwright("bake", tmp_path / "my-first_look.toml", "--size", 5).code == 0
    assert np.isfinite(table(tmp_path / "my-first_look.cube")).all()


def test_new_takes_names_as_people_write_them(lookwright: Any, tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    title = 'The "long" \\ evening'
    said = lookwright("new", path, "--source", "slog3", "--output", "srgb", "--title", title, "--quiet")
    assert (said.code, said.out, said.err) == (0, "", "")
    look = parse_look(path.read_text(encoding="utf-8"))
    assert (look.source.encoding, look.output.encoding) == ("S-Log3", "sRGB")
    assert look.title == "The 'long' / evening"


def test_new_with_a_log_output_has_no_rendering(lookwright: Any, tmp_path: Path) -> None:
    assert lookwright("new", tmp_path / "a.toml", "--output", "ACEScct").code == 0
    look = parse_look((tmp_path / "a.toml").read_text(encoding="utf-8"))
    assert not any(s.rendering for s in look.steps)
    compile_look(look)


def test_new_replaces_only_when_told(lookwright: Any, tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    mine = 'format = 2\ntitle = "Mine"\n[source]\nencoding = "ACEScct"\n'
    path.write_text(mine, encoding="utf-8")
    said = lookwright("new", path)
    assert said.code == 2 and "already exists" in said.err and "--force" in said.err
    assert path.read_text(encoding="utf-8") == mine
    assert lookwright("new", path, "--force").code == 0
    assert parse_look(path.read_text(encoding="utf-8")).title == "A"


def test_new_cuts_a_title_that_is_too_long(lookwright: Any, tmp_path: Path) -> None:
    path = tmp_path / f"{'w' * 200}.toml"
    assert lookwright("new", path).code == 0
    assert len(parse_look(path.read_text(encoding="utf-8")).title) == 120


# ---------------------------------------------------------------- show


def test_show_says_every_step_in_words(lookwright: Any, look: Path) -> None:
    said = lookwright("show", look)
    assert (said.code, said.err) == (0, "")
    assert "Bench by the window" in said.out
    assert "fed with   ACEScct" in said.out and "gives      BT.1886" in said.out
    for kind in ("exposure", "contrast", "saturation", "render", "gamut"):
        assert f"{kind:<11}" in said.out
    assert "0.2" in said.out and "1.1" in said.out


def test_show_plan_lists_the_inserted_conversions(lookwright: Any, look: Path) -> None:
    plain, full = lookwright("show", look), lookwright("show", look, "--plan")
    assert "compiled path" not in plain.out
    after = full.out.split("compiled path:\n")[1].splitlines()
    assert after[0].strip() == "log to light"
    assert after[-1].strip() == "encode BT.1886"


def test_show_json_is_for_programs(lookwright: Any, look: Path) -> None:
    data = json.loads(lookwright("show", look, "--json", "--strength", "0.5").out)
    assert data["title"] == "Bench by the window"
    assert data["strength"] == 0.5
    assert [s["kind"] for s in data["steps"]] == ["exposure", "contrast", "saturation", "render", "gamut"]
    assert data["source"].startswith("ACEScct") and data["output"].startswith("BT.1886")
    assert isinstance(data["plan"], list) and data["plan"]


def test_show_strength_is_seen_in_the_words(lookwright: Any, look: Path) -> None:
    said = lookwright("show", look, "--strength", "0.5")
    assert "at 50 % of its strength" in said.out
    assert "0.1" in next(line for line in said.out.splitlines() if "exposure" in line)


def test_show_a_step_states_default_bounds_and_unit(lookwright: Any) -> None:
    said = lookwright("show", "--step", "Exposure")
    assert "stops" in said.out and "-8 to 8 stops" in said.out and "neutral 0" in said.out
    data = json.loads(lookwright("show", "--step", "all", "--json").out)
    assert {"exposure", "balance", "cdl", "contrast", "saturation", "hues", "split", "render", "gamut"} <= set(data)
    for kind, step in data.items():
        assert step["summary"]
        for row in step["parameters"]:
            assert row["help"], f"{kind} {row['name']}"


def test_show_schema_is_json_that_names_every_step(lookwright: Any) -> None:
    from lookwright.look.steps import registry

    text = lookwright("show", "--schema").out
    assert json.loads(text)["type"] == "object"
    for kind in registry():
        assert f'"{kind}"' in text


@pytest.mark.parametrize(("suffix", "begins"), [("png", b"\x89PNG"), ("svg", b"<?xml")])
def test_show_draws_curves(lookwright: Any, look: Path, tmp_path: Path, suffix: str, begins: bytes) -> None:
    target = tmp_path / f"curves.{suffix}"
    said = lookwright("show", look, "--curves", target)
    assert (said.code, said.err) == (0, "")
    assert str(target) in said.out
    data = target.read_bytes()
    assert data.startswith(begins) and len(data) > 5000


# ---------------------------------------------------------------- bake


def test_bake_as_a_user_does_it(real: Any, look: Path) -> None:
    """Beside the look, 33 points, a header that says what it is, the recipe inside byte for byte."""
    said = real("bake", look.name, cwd=look.parent)
    assert (said.code, said.err) == (0, "")
    assert said.out.startswith("wrote window.cube (33 points): feed it ACEScct")
    file = read_cube(look.with_suffix(".cube"))
    assert file.warnings == []
    assert file.lattice is not None and file.lattice.size == 33
    assert file.title == "Bench by the window"
    assert extract(file.comments) == look.read_text(encoding="utf-8")
    text = look.with_suffix(".cube").read_text(encoding="ascii")
    assert "# Feed it: ACEScct" in text and "# It gives: BT.1886" in text and "tetrahedral" in text
    assert max(map(len, text.splitlines())) <= 250


@pytest.mark.parametrize("path", LOOKS, ids=lambda p: p.stem)
def test_what_is_baked_is_the_look(lookwright: Any, path: Path, tmp_path: Path) -> None:
    """Every look of the project: the file's numbers are the compiled look at the lattice points."""
    target = tmp_path / "a.cube"
    assert lookwright("bake", path, "--out", target, "--size", 9).code == 0
    exact = compile_look(parse_look(path.read_text(encoding="utf-8")))(grid(9))
    assert np.abs(table(target) - exact).max() <= HALF_OF_LAST_DECIMAL * 1.001


def test_bake_tells_programs(lookwright: Any, look: Path, tmp_path: Path) -> None:
    import hashlib

    said = lookwright("bake", look, "--out", tmp_path / "x.cube", "--size", 17, "--json")
    data = json.loads(said.out)
    assert data["file"] == str(tmp_path / "x.cube")
    assert data["size"] == 17
    assert data["feed"].startswith("ACEScct") and data["gives"].startswith("BT.1886")
    assert data["recipe_sha256"] == hashlib.sha256(look.read_bytes()).hexdigest()


def test_quiet_says_nothing(lookwright: Any, look: Path, stills: Path, tmp_path: Path) -> None:
    for arguments in (
        ("bake", look, "--size", 3, "--quiet"),
        ("preview", look, "--stills", stills, "--out", tmp_path / "o", "--quiet"),
        ("new", tmp_path / "n.toml", "--quiet"),
    ):
        said = lookwright(*arguments)
        assert (said.code, said.out, said.err) == (0, "", "")
    assert (tmp_path / "window.cube").exists() and (tmp_path / "n.toml").exists()
    assert len(list((tmp_path / "o").iterdir())) == 2


def test_bake_is_the_same_to_the_byte(lookwright: Any, real: Any, look: Path, tmp_path: Path) -> None:
    assert lookwright("bake", look, "--out", tmp_path / "a.cube", "--size", 17).code == 0
    assert real("bake", look, "--out", tmp_path / "b.cube", "--size", 17).code == 0
    assert (tmp_path / "a.cube").read_bytes() == (tmp_path / "b.cube").read_bytes()


def test_bake_warns_of_a_size_that_some_readers_refuse(lookwright: Any, look: Path) -> None:
    assert "17, 33, 65" in lookwright("bake", look, "--size", 12).out
    assert "17, 33, 65" not in lookwright("bake", look, "--size", 17).out


@pytest.mark.parametrize("path", LOOKS, ids=lambda p: p.stem)
def test_strength_nought_is_the_plain_rendering(lookwright: Any, path: Path, tmp_path: Path) -> None:
    """Against a recipe of 'render' and 'gamut' alone, which knows nothing of the look or of strength."""
    (tmp_path / "plain.toml").write_text(PLAIN, encoding="utf-8")
    for arguments in ((tmp_path / "plain.toml",), (path, "--strength", 0, "--out", tmp_path / "nought.cube")):
        assert lookwright("bake", *arguments, "--size", 9).code == 0
    assert np.abs(table(tmp_path / "nought.cube") - table(tmp_path / "plain.cube")).max() <= 1.0e-6
    assert lookwright("bake", path, "--out", tmp_path / "whole.cube", "--size", 9).code == 0
    assert np.abs(table(tmp_path / "whole.cube") - table(tmp_path / "plain.cube")).max() > 0.01


def test_strength_of_the_option_overrides_the_recipe(lookwright: Any, look: Path, tmp_path: Path) -> None:
    halved = tmp_path / "halved.toml"
    halved.write_text("strength = 0.5\n" + look.read_text(encoding="utf-8"), encoding="utf-8")
    assert lookwright("bake", halved, "--size", 5, "--out", tmp_path / "a.cube").code == 0
    assert lookwright("bake", look, "--strength", 0.5, "--size", 5, "--out", tmp_path / "b.cube").code == 0
    assert lookwright("bake", halved, "--strength", 1, "--size", 5, "--out", tmp_path / "c.cube").code == 0
    assert lookwright("bake", look, "--size", 5, "--out", tmp_path / "d.cube").code == 0
    a, b, c, d = (table(tmp_path / f"{n}.cube") for n in "abcd")
    assert np.array_equal(a, b) and np.array_equal(c, d) and not np.array_equal(a, c)
    assert "Strength: 0.5" in read_cube(tmp_path / "b.cube").comments


# ---------------------------------------------------------------- preview


def test_preview_as_a_user_does_it(real: Any, look: Path, stills: Path, tmp_path: Path) -> None:
    said = real("preview", look, "--stills", stills, "--out", "previews/first", cwd=tmp_path)
    assert (said.code, said.err) == (0, "")
    assert said.out.startswith("wrote 2 picture(s) to previews/first: BT.1886")
    names = sorted(p.name for p in (tmp_path / "previews/first").iterdir())
    assert names == ["bench-window.jpg", "door-window.jpg"]
    picture = read(tmp_path / "previews/first/bench-window.jpg")
    assert (picture.width, picture.height, picture.depth) == (160, 90, "8")


@pytest.mark.parametrize("suffix", ["png", "tif"])
def test_graded_still_is_the_look_in_sixteen_bits(
    lookwright: Any, look: Path, stills: Path, crop: np.ndarray, tmp_path: Path, suffix: str
) -> None:
    """Against the exact look, not the lattice: 65 points leave it within 2e-3 of this smooth look, which is far
    below what a wrong step, order or encoding would do; tests/oracle compares with other readers to 1e-4."""
    lookwright("preview", look, "--stills", stills, "--out", tmp_path / "o", "--format", suffix, "--size", 65)
    picture = read(tmp_path / f"o/bench-window.{suffix}")
    assert picture.depth == "16"
    exact = compile_look(parse_look(look.read_text(encoding="utf-8")))(crop.astype(np.float64))
    assert np.abs(picture.pixels - exact).max() <= 2.0e-3
    # Sixteen bits are really used: neighbouring 8-bit codes have many values between them.
    assert len(np.unique(picture.pixels)) > 4 * 256


@pytest.mark.parametrize("suffix", ["jpg", "webp", "png", "tif"])
@pytest.mark.parametrize("layout", ["graded", "sheet"])
def test_previews_carry_the_profile_of_the_output(
    lookwright: Any, look: Path, stills: Path, tmp_path: Path, suffix: str, layout: str
) -> None:
    from PIL import ImageCms

    data = json.loads(
        lookwright(
            "preview", look, "--stills", stills, "--out", tmp_path, "--format", suffix, "--layout", layout, "--json"
        ).out
    )
    for name in data["files"]:
        icc = read(name).icc
        assert icc is not None and icc == profile_for("BT.1886", "BT.709")
        # Little CMS, an independent reader, accepts it and reads the description.
        profile = ImageCms.ImageCmsProfile(io.BytesIO(icc))
        assert "BT.709" in ImageCms.getProfileDescription(profile)


def graded_and_plain(lookwright: Any, look: Path, stills: Path, folder: Path) -> tuple[np.ndarray, np.ndarray]:
    """The first still graded, and at strength 0, as the 'graded' layout writes them in 16 bits."""
    for name, strength in (("full", 1), ("none", 0)):
        arguments = ("--stills", stills / "bench.png", "--format", "png", "--strength", strength)
        assert lookwright("preview", look, "--out", folder / name, *arguments).code == 0
    return read(folder / "full/bench-window.png").pixels, read(folder / "none/bench-window.png").pixels


def test_pair_shows_plain_then_graded(lookwright: Any, look: Path, stills: Path, tmp_path: Path) -> None:
    graded, plain = graded_and_plain(lookwright, look, stills, tmp_path)
    arguments = ("--stills", stills / "bench.png", "--format", "png", "--layout", "pair")
    assert lookwright("preview", look, "--out", tmp_path / "o", *arguments).code == 0
    sheet = read(tmp_path / "o/bench-window-pair.png").pixels
    ((top, left),) = find_frame(sheet, plain)
    ((top2, left2),) = find_frame(sheet, graded)
    assert top == top2 and left2 >= left + 160
    assert sheet.shape[1] >= 320 and sheet.shape[0] >= 90


@pytest.mark.parametrize("at", [0.25, 0.5, 1.0])
def test_wipe_is_cut_where_asked(lookwright: Any, look: Path, stills: Path, tmp_path: Path, at: float) -> None:
    graded, plain = graded_and_plain(lookwright, look, stills, tmp_path)
    arguments = ("--stills", stills / "bench.png", "--format", "png", "--layout", "wipe", "--at", at)
    assert lookwright("preview", look, "--out", tmp_path / "o", *arguments).code == 0
    cut = int(160 * at)
    wanted = np.concatenate([plain[:, :cut], graded[:, cut:]], axis=1)
    assert len(find_frame(read(tmp_path / "o/bench-window-wipe.png").pixels, wanted)) == 1


def test_sheet_holds_every_still_once(lookwright: Any, look: Path, stills: Path, tmp_path: Path) -> None:
    shared = ("--stills", stills, "--format", "png")
    assert lookwright("preview", look, "--out", tmp_path / "single", *shared).code == 0
    said = lookwright("preview", look, "--out", tmp_path / "o", *shared, "--layout", "sheet", "--json")
    assert json.loads(said.out)["files"] == [str(tmp_path / "o/window-sheet.png")]
    sheet = read(tmp_path / "o/window-sheet.png").pixels
    places = [find_frame(sheet, read(tmp_path / f"single/{n}-window.png").pixels) for n in ("bench", "door")]
    assert [len(p) for p in places] == [1, 1]
    assert places[0][0][0] == places[1][0][0] and places[0][0][1] < places[1][0][1]


def test_frames_stay_apart_from_captions(lookwright: Any, look: Path, tmp_path: Path) -> None:
    """A black still: whatever letters there are stand outside the frame, which stays one colour."""
    write(tmp_path / "dark.png", np.full((90, 160, 3), 0.08, np.float32))
    for layout in ("pair", "wipe", "sheet"):
        arguments = ("--stills", tmp_path / "dark.png", "--format", "png", "--layout", layout)
        assert lookwright("preview", look, "--out", tmp_path / layout, *arguments).code == 0
        (path,) = (tmp_path / layout).iterdir()
        sheet = codes8(read(path).pixels)
        dark = (sheet.max(axis=2) < 30).any(axis=1)
        rows = np.flatnonzero(dark)
        assert len(rows) == 90 and rows[-1] - rows[0] == 89, layout


def test_stills_of_one_name_do_not_overwrite_each_other(
    lookwright: Any, look: Path, stills: Path, tmp_path: Path
) -> None:
    write(tmp_path / "bench.tif", read(stills / "door.png").pixels)
    arguments = ("--stills", stills, "--stills", tmp_path / "bench.tif", "--format", "png", "--json")
    files = json.loads(lookwright("preview", look, "--out", tmp_path / "o", *arguments).out)["files"]
    assert len(files) == len(set(files)) == 3
    assert {Path(f).name for f in files} == {"bench-window.png", "bench-2-window.png", "door-window.png"}


def test_a_log_look_is_shown_through_the_plain_rendering(
    lookwright: Any, log_look: Path, stills: Path, crop: np.ndarray, tmp_path: Path
) -> None:
    arguments = ("--stills", stills / "bench.png", "--out", tmp_path / "o", "--format", "png", "--size", 65)
    data = json.loads(lookwright("preview", log_look, *arguments, "--json").out)
    assert "shown through the plain rendering" in data["note"]
    assert data["output"].startswith("BT.1886")
    assert "shown through the plain rendering" in lookwright("preview", log_look, *arguments).out
    first = '[[step]]\nkind = "render"'
    text = PLAIN.replace(first, '[[step]]\nkind = "exposure"\nstops = 0.5\n' + first)
    exact = compile_look(parse_look(text))(crop.astype(np.float64))
    assert np.abs(read(tmp_path / "o/bench-loggish.png").pixels - exact).max() <= 2.0e-3
    # What is baked stays log: half a stop at 18 % is 0.5 / 17.52 of ACEScct (S-2016-001).
    assert lookwright("bake", log_look, "--size", 33).code == 0
    near = table(log_look.with_suffix(".cube"))[13, 13, 13]
    assert near == pytest.approx(13 / 32 + 0.5 / 17.52, abs=1e-6)


@pytest.mark.parametrize("suffix", ["png", "tif"])
def test_alpha_is_carried_through(lookwright: Any, look: Path, crop: np.ndarray, tmp_path: Path, suffix: str) -> None:
    alpha = np.linspace(0, 1, 90 * 160, dtype=np.float32).reshape(90, 160)
    write(tmp_path / "cut.png", crop, alpha=alpha)
    arguments = ("--stills", tmp_path / "cut.png", "--out", tmp_path / "o", "--format", suffix)
    assert lookwright("preview", look, *arguments).code == 0
    kept = read(tmp_path / f"o/cut-window.{suffix}").alpha
    assert kept is not None
    assert np.abs(kept - alpha).max() <= 0.51 * CODE16


# ---------------------------------------------------------------- encodings

# 10-bit full-range codes of 0, 18 and 90 % reflectance as their makers print them.
PRINTED = {
    "S-Log3": (95, 420, 598),  # Technical Summary for S-Gamut3.Cine/S-Log3, V1.00
    "S-Log2": (90, 347, 582),  # S-Log2 Technical Paper, 2012
    "V-Log": (128, 433, 602),  # V-Log/V-Gamut Reference Manual, 2014, fig. 2.2
    "F-Log": (95, 470, 705),  # F-Log Data Sheet 1.1
    "F-Log2": (95, 400, 570),  # F-Log2 Data Sheet 1.0
}


def test_encodings_print_what_their_makers_print(lookwright: Any) -> None:
    rows = {r["name"]: r for r in json.loads(lookwright("encodings", "--json").out)}
    for name, codes in PRINTED.items():
        assert tuple(round(c * 1023) for c in rows[name]["codes"]) == codes, name
    # S-2016-001 equations 1 and 3; IEC 61966-2-1.
    assert rows["ACEScct"]["codes"] == pytest.approx([0.072905534, 0.413588402, 0.546118545], abs=1e-6)
    assert rows["sRGB"]["codes"][1] == pytest.approx(0.461356130, abs=1e-6)
    # BT.1886 annex 1 without black: a pure power of 2.4.
    assert rows["BT.1886"]["codes"][1] == pytest.approx(0.18 ** (1 / 2.4), abs=1e-6)
    for row in rows.values():
        assert row["document"] and row["primaries"]
        assert row["carries"] in ("scene light", "display light")


def test_encodings_in_words(lookwright: Any) -> None:
    said = lookwright("encodings")
    line = next(x for x in said.out.splitlines() if x.startswith("S-Log3"))
    assert "95 420 598" in line and "0.4106" in line
    one = lookwright("encodings", "slog 3")
    assert [x.split()[0] for x in one.out.splitlines()] == ["name", "S-Log3"]
    assert (said.err, one.err) == ("", "")


# ---------------------------------------------------------------- demo and the group


def test_demo_does_the_whole_job(
    lookwright: Any, look: Path, stills: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From an empty folder, with one look and two stills for those that come with the program."""
    (tmp_path / "looks").mkdir()
    look.rename(tmp_path / "looks/window.toml")
    monkeypatch.setattr("lookwright.installed.samples", lambda: Samples(tmp_path / "looks", stills))
    (tmp_path / "empty").mkdir()
    monkeypatch.chdir(tmp_path / "empty")
    said = lookwright("demo", "--out", "result")
    assert (said.code, said.err) == (0, "")
    names = sorted(p.name for p in Path("result").iterdir())
    assert names == ["bench-window-pair.jpg", "door-window-pair.jpg", "window-sheet.jpg", "window.cube"]
    assert read_cube(Path("result/window.cube")).lattice is not None
    assert said.out.splitlines()[-1] == f"the looks are in {tmp_path / 'looks'}, the stills in {stills}"
    # Each still is graded once for sheet and pair: the pictures are those that preview makes of them one by one.
    for layout in ("pair", "sheet"):
        lookwright("preview", tmp_path / "looks/window.toml", "--stills", stills, "--layout", layout, "--out", "alone")
    for alone in Path("alone").iterdir():
        assert alone.read_bytes() == (Path("result") / alone.name).read_bytes(), alone.name
    assert len(list(Path("alone").iterdir())) == 3


def test_the_demo_of_several_looks_renders_plainly_once(stills: Path, look: Path, tmp_path: Path) -> None:
    """What serves several looks is made anew where another rendering begins."""
    other = tmp_path / "other.toml"
    text = look.read_text(encoding="utf-8")
    other.write_text(text.replace('encoding = "BT.1886"', 'encoding = "sRGB"'), encoding="utf-8")
    assert other.read_text(encoding="utf-8") != text
    befores = Befores()
    for path in (look, other, look):
        demo(path, [stills], tmp_path / "together", befores=befores)
        demo(path, [stills], tmp_path / "alone")
    names = sorted(p.name for p in (tmp_path / "alone").iterdir())
    assert len(names) == 8
    for name in names:
        assert (tmp_path / "together" / name).read_bytes() == (tmp_path / "alone" / name).read_bytes(), name


def test_demo_without_its_samples_says_so(lookwright: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("lookwright.installed.samples", lambda: Samples(tmp_path / "looks", tmp_path / "stills"))
    said = lookwright("demo", "--out", tmp_path / "result")
    assert (said.code, said.out) == (2, "")
    assert said.err == f"lookwright: demo: the looks and stills are not in {tmp_path}; install lookwright again\n"
    assert not (tmp_path / "result").exists()


def test_version_and_bare_call(real: Any) -> None:
    from lookwright import __version__

    assert real("--version").out == f"lookwright, version {__version__}\n"
    bare = real()
    assert bare.code == 2 and bare.out == ""
    assert bare.err.startswith("Usage: lookwright") and "\n  bake " in bare.err


def test_a_reader_that_leaves_early_is_no_fault(look: Path) -> None:
    import subprocess
    import sys

    command = [sys.executable, "-m", "lookwright", "show", "--step", "all"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as running:
        assert running.stdout is not None and running.stderr is not None
        running.stdout.close()
        assert running.stderr.read() == b""


@pytest.mark.parametrize("layout", ["graded", "sheet"])
def test_preview_tells_a_doubt_about_the_signal(lookwright: Any, look: Path, tmp_path: Path, layout: str) -> None:
    """A graded picture, with black near 0 and colour in its codes, is not what a look for log is fed."""
    still = Path(__file__).parents[2] / "sample_images" / "wide_acescct.png"
    fine = lookwright("preview", look, "--stills", still, "--out", tmp_path / "fine", "--format", "png")
    assert fine.code == 0 and fine.err == ""
    finished = tmp_path / "fine" / "wide_acescct-window.png"
    arguments = ("preview", look, "--stills", finished, "--layout", layout, "--out", tmp_path / "wrong")
    wrong = lookwright(*arguments)
    assert wrong.code == 0
    assert wrong.err.startswith("lookwright: doubt: wide_acescct-window.png: ") and "display" in wrong.err
    assert json.loads(lookwright(*arguments, "--json").out)["doubts"].keys() == {finished.name}
    assert lookwright(*arguments, "--quiet").err == ""
