"""A look seen: forms of it on one sheet, in turns as a moving picture, and told step by step on a page."""

from __future__ import annotations

import base64
import io
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from lookwright.errors import LookwrightError
from lookwright.jobs.forms import over_the_range
from lookwright.look.baking.viewing import View
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.read import parse_look, read_look
from lookwright.look.recipe.so_far import so_far
from lookwright.look.steps.params import ParamInfo
from lookwright.pictures.stills import read, write
from lookwright.present.delivery.pictures import card_pairs, chosen
from lookwright.present.sheets.layouts import Frame
from lookwright.present.sheets.step_effects import Telling, difference_map
from lookwright.present.sheets.turns import FADE_MS, FRAME_MS, LEAST_HOLD_MS, in_turns, shares

Run = Callable[..., Any]
LOOKS = sorted((Path(__file__).parents[2] / "looks").glob("*.toml"))


def place_of(frame: np.ndarray, sheet: np.ndarray) -> tuple[int, int]:
    """Row and column at which a frame stands unscaled in a sheet, to one 8-bit code."""
    frame8, sheet8 = (np.rint(x * 255.0).astype(int) for x in (frame, sheet))
    height, width = frame8.shape[:2]
    found = [
        (y, x)
        for y in range(sheet8.shape[0] - height + 1)
        for x in range(sheet8.shape[1] - width + 1)
        if np.abs(sheet8[y, x : x + width] - frame8[0]).max() <= 1
        and np.abs(sheet8[y : y + height, x : x + width] - frame8).max() <= 1
    ]
    assert len(found) == 1, found
    return found[0]


# -- on one sheet -----------------------------------------------------------------------------------------------------


def test_a_sheet_shows_each_strength_in_its_order(look: Path, stills: Path, tmp_path: Path, lookwright: Run) -> None:
    still = stills / "bench.png"
    common = ["--stills", still, "--size", "9", "--format", "png"]
    said = lookwright("preview", look, *common, "--layout", "variants", "--strengths", "0.3,1", "--out", tmp_path / "v")
    assert said.code == 0 and said.err == ""
    sheet = read(tmp_path / "v" / "window-variants.png").pixels
    places = []
    for strength in ("0", "0.3", "1"):
        out = tmp_path / strength
        assert lookwright("preview", look, *common, "--strength", strength, "--out", out).code == 0
        places.append(place_of(read(out / "bench-window.png").pixels, sheet))
    assert places == sorted(places, key=lambda p: p[1]) and len({y for y, _ in places}) == 1


def test_a_number_is_varied_and_other_looks_stand_beside(
    look: Path, stills: Path, tmp_path: Path, lookwright: Run
) -> None:
    def sheet(out: str, *words: object) -> np.ndarray:
        run = [
            "preview",
            look,
            "--stills",
            stills / "bench.png",
            "--size",
            "9",
            "--format",
            "png",
            "--out",
            tmp_path / out,
        ]
        said = lookwright(*run, *words)
        assert said.code == 0, said.err
        (made,) = (tmp_path / out).iterdir()
        return read(made).pixels

    brighter = tmp_path / "brighter.toml"
    brighter.write_text(look.read_text(encoding="utf-8").replace("stops = 0.2", "stops = 1.5"), encoding="utf-8")
    at_dusk = sheet("own", "--layout", "graded")
    by_number = sheet("n", "--layout", "variants", "--vary", "1.stops=0.2,1.5")
    by_kind = sheet("k", "--layout", "variants", "--vary", "exposure.stops=0.2,1.5")
    beside = sheet("b", "--layout", "variants", "--with", brighter)
    assert np.array_equal(by_number, by_kind)
    run = ["preview", brighter, "--stills", stills / "bench.png", "--size", "9", "--format", "png"]
    assert lookwright(*run, "--out", tmp_path / "bright").code == 0
    in_sun = read(tmp_path / "bright" / "bench-brighter.png").pixels
    for found in (by_number, beside):
        assert place_of(at_dusk, found)[1] < place_of(in_sun, found)[1]


def test_the_usual_range_is_walked_on_its_own_scale() -> None:
    info = ParamInfo(0.1, 10.0, 1.0, "", "", 0.25, 4.0, "log", True, "")
    assert over_the_range(info, 1.5) == [0.25, 0.5, 1.0, 1.5, 2.0, 4.0]
    assert over_the_range(ParamInfo(-1.0, 1.0, 0.0, "", "", -0.5, 0.5, "linear", True, ""), 0.25) == [
        -0.5,
        -0.25,
        0.0,
        0.25,
        0.5,
    ]


WRONG = {
    "--vary 9.stops=1": "there is no step 9; the look has 5",
    "--vary 1.stop=1": "no number 'stop' here; did you mean 'stops'?",
    "--vary lamp.stops=1": "no step 'lamp' here; known: exposure, contrast",
    "--vary 1.stops=9": "9 is not within -8 to 8 stops",
    "--vary 1.stops=nan": "nan is not within",
    "--vary 1.stops=a": "numbers with commas between are wanted",
    "--vary stops": "name a step by its number, a dot, and what to vary",
    "--vary 1.stops --strengths 1": "do not go together",
    "--strengths 1 --strength 0.5": "name all of them in --strengths",
    "--with other.toml": "looks side by side must be fed and give the same",
    "--layout pair --vary 1.stops": "--vary is for --layout variants or turns",
    "--layout turns --format png": "webp or gif can",
    "--layout variants --format gif": "--format gif is for --layout turns",
    "--layout turns --hold 0.5": "--hold",
}


@pytest.mark.parametrize("words", WRONG)
def test_what_does_not_go_together_is_said(
    words: str, look: Path, stills: Path, tmp_path: Path, lookwright: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    text = look.read_text(encoding="utf-8").replace("BT.1886", "sRGB")
    Path("other.toml").write_text(text, encoding="utf-8")
    layout = [] if "--layout" in words else ["--layout", "variants"]
    said = lookwright("preview", look, "--stills", stills, "--out", "o", "--size", "5", *layout, *words.split())
    assert said.code == 2 and WRONG[words] in said.err and said.err.count("\n") == 1
    assert not Path("o").exists()


# -- in turns ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("suffix", ["webp", "gif"])
def test_turns_hold_both_and_fade_between(
    suffix: str, look: Path, stills: Path, tmp_path: Path, lookwright: Run
) -> None:
    out = tmp_path / "o"
    run = ["preview", look, "--stills", stills / "bench.png", "--size", "9", "--out", out, "--layout", "turns"]
    said = lookwright(*run, "--format", suffix, "--hold", "1.5", "--json")
    assert said.code == 0 and json.loads(said.out)["files"] == [str(out / f"bench-window-turns.{suffix}")]
    frames, ms = [], []
    with Image.open(out / f"bench-window-turns.{suffix}") as film:
        for i in range(getattr(film, "n_frames", 1)):
            film.seek(i)
            film.load()
            frames.append(np.asarray(film.convert("RGB")) / 255.0)
            ms.append(film.info["duration"])
        assert film.info["loop"] == 0, "without end"
    # Equal neighbours may be one frame; what counts is when each is seen.
    assert sum(ms) == 2 * (1500 + FADE_MS) and sorted(ms)[-2:] >= [1500, 1500]
    still = read(stills / "bench.png").pixels
    model = read_look(look)
    forms = [compile_look(form)(still) for form in (model.plain(), model)]
    height, width = still.shape[:2]
    held = [frame for frame, stays in zip(frames, ms, strict=True) if stays >= 1500]
    for shown, form in zip(held, forms, strict=True):
        # The loss of the formats, and a lattice of nine points.
        errors = [
            np.abs(shown[y : y + height, 6 : 6 + width] - form).mean() for y in range(shown.shape[0] - height + 1)
        ]
        assert min(errors) < 0.03
        assert min(errors) < min(
            np.abs(other[y : y + height, 6 : 6 + width] - form).mean()
            for other in held
            if other is not shown
            for y in range(shown.shape[0] - height + 1)
        )


def test_nothing_flashes() -> None:
    """WCAG 2.3.1: at most three flashes a second, a flash being a pair of opposing changes of relative luminance by a
    tenth or more of its range. The worst there is, black against white, four in turns and held as short as may be."""
    forms = [Frame(np.full((20, 40, 3), v, np.float32), "x") for v in (0.0, 1.0, 0.0, 1.0)]
    film = list(in_turns(forms, "", LEAST_HOLD_MS))
    time, light = 0, []
    for still in [*film, *film]:
        signal = np.asarray(still.image, float)[10, 20, 0] / 255.0
        linear = signal / 12.92 if signal <= 0.04045 else ((signal + 0.055) / 1.055) ** 2.4  # as WCAG defines it
        light.append((time, linear))
        time += still.ms
    assert time == 2 * 4 * (LEAST_HOLD_MS + FADE_MS)
    turns = extremes(light, 0.1)
    assert len(turns) == 8, "every change is seen"
    pairs_in_a_second = [sum(1 for t in turns if start <= t < start + 1000) / 2 for start in turns]
    assert max(pairs_in_a_second) <= 0.5
    # Nor is any single step of a fade a change of that size in signal.
    steps = np.diff([0.0, *shares(), 1.0])
    assert steps.min() > 0.0 and steps.max() < 0.1 and len(steps) - 1 == FADE_MS // FRAME_MS


def extremes(light: list[tuple[int, float]], least: float) -> list[int]:
    """When the light has changed by ``least`` or more, each time against the change before."""
    found, last, way = [], light[0][1], 0
    for time, now in light:
        if abs(now - last) >= least and np.sign(now - last) != way:
            way = int(np.sign(now - last))
            found.append(time)
        if way and np.sign(now - last) == way:
            last = now
    return found


# -- step by step -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", LOOKS, ids=lambda p: p.stem)
@pytest.mark.parametrize("strength", [0.6, 1.0])
def test_the_steps_lead_from_the_plain_rendering_to_the_look(path: Path, strength: float) -> None:
    look = read_look(path).with_strength(strength)
    codes = np.random.default_rng(18).uniform(0.1, 0.8, (400, 3))
    for form, whole in ((so_far(look, 0), look.plain()), (so_far(look, len(look.steps)), look)):
        assert np.abs(compile_look(form)(codes) - compile_look(whole)(codes)).max() < 1e-9


TWO = """\
title = "Two steps"
[source]
encoding = "ACEScct"
[output]
encoding = "BT.1886"
[[step]]
kind = "saturation"
amount = 0.0
[[step]]
kind = "contrast"
slope = 1.0
[[step]]
kind = "render"
"""


def test_the_map_is_light_where_the_step_acts() -> None:
    """Grey left, colour right: taking the colour away acts on the right alone, and a neutral step nowhere."""
    small = np.full((8, 16, 3), 0.42, np.float32)
    small[:, 8:] = (0.3, 0.4, 0.55)
    look = parse_look(TWO)
    grey, nothing, rendering = Telling(look, len(look.steps)).effects(small)
    where = difference_map(grey, 10.0)
    assert where[:, :8].max() == where.min() and where[:, 8:].min() > where[:, :8].max() + 40
    assert grey.chroma < -1.0 and grey.seen == 50.0 and abs(grey.lightness) < 3.0
    assert nothing.unseen and rendering.unseen and not grey.unseen


def test_a_page_tells_every_step(look: Path, stills: Path, tmp_path: Path, lookwright: Run) -> None:
    text = look.read_text(encoding="utf-8").replace("Bench by the window", "<b>Bench</b>")
    look.write_text(text.replace("stops = 0.2", 'stops = 0.2\nnote = "for <i>dusk</i>"'), encoding="utf-8")
    page = tmp_path / "look.html"
    said = lookwright("show", look, "--stills", stills, "--html", page, "--json")
    assert said.code == 0 and said.err == ""
    told = json.loads(said.out)
    assert told["html"] == str(page)
    assert {(m["step"], m["still"]) for m in told["moved"]} == {(n, s) for n in range(1, 6) for s in ("bench", "door")}
    by_kind = {m["kind"]: m for m in told["moved"] if m["still"] == "bench"}
    assert by_kind["exposure"]["lightness"] > 0.5 and by_kind["saturation"]["chroma"] < 0.0
    assert by_kind["gamut"]["mean"] == 0.0
    html = page.read_text(encoding="utf-8")
    assert "&lt;b&gt;Bench" in html and "for &lt;i&gt;dusk" in html and "<b>Bench" not in html
    addresses = re.findall(r'(?:src|href)="([^"]*)"', html)
    assert addresses and all(a.startswith(("data:", "#step-")) for a in addresses), "nothing is fetched"
    plain = html.replace("&#39;", "'")
    for step in told["steps"]:
        assert step["words"] in plain
    assert len(html) < 3_000_000


def test_a_page_needs_stills_and_not_too_many(look: Path, crop: np.ndarray, tmp_path: Path, lookwright: Run) -> None:
    said = lookwright("show", look, "--html", tmp_path / "a.html")
    assert said.code == 2 and "--html and --stills belong together" in said.err
    for n in range(7):
        write(tmp_path / f"many{n}.png", crop[:8, :8])
    said = lookwright("show", look, "--stills", tmp_path, "--html", tmp_path / "a.html")
    assert said.code == 2 and "7 stills are too many" in said.err and not (tmp_path / "a.html").exists()


def test_a_log_look_is_told_through_the_plain_rendering(
    log_look: Path, stills: Path, tmp_path: Path, lookwright: Run
) -> None:
    page = tmp_path / "log.html"
    said = lookwright("show", log_look, "--stills", stills / "bench.png", "--html", page, "--json")
    assert said.code == 0, said.err
    (moved,) = json.loads(said.out)["moved"]
    assert moved["kind"] == "exposure" and moved["lightness"] > 1.0
    assert "shown through the plain rendering" in page.read_text(encoding="utf-8")


# -- on the card ------------------------------------------------------------------------------------------------------


def test_the_pictures_of_a_card_are_plain_and_graded(look: Path, stills: Path) -> None:
    """To two hundredths: a lattice of nine points and a JPEG. Of many stills three are taken, the ends among them."""
    model = read_look(look)
    still = read(stills / "bench.png")
    (pair,) = card_pairs(View(model, 9), [still])
    for address, form in ((pair.before, model.plain()), (pair.after, model)):
        with Image.open(io.BytesIO(base64.b64decode(address.partition(",")[2]))) as shown:
            picture = np.asarray(shown) / 255.0
        assert np.abs(picture - compile_look(form)(still.pixels)).mean() < 0.02
    assert pair.name == "bench" and pair.before != pair.after
    assert [chosen(n) for n in (1, 3, 4, 9)] == [[0], [0, 1, 2], [0, 2, 3], [0, 4, 8]]


def test_a_wrong_suffix_is_refused(tmp_path: Path) -> None:
    from lookwright.pictures.stills.moving import write_moving

    with pytest.raises(LookwrightError, match="cannot hold a moving picture"):
        write_moving(tmp_path / "a.png", [])
