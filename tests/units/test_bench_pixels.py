"""What the bench says of pixels is what the library gives: their way through the steps, masks, bands, greys, levels."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
import pytest

pytest.importorskip("starlette")

from lookwright.app.bench import picked, warned
from lookwright.app.bench.acting import held_by, stepped
from lookwright.app.bench.checking import run as check
from lookwright.app.bench.looking import Looking
from lookwright.app.bench.mark_table import thinned
from lookwright.app.bench.pictures import Pictures, Region
from lookwright.app.bench.session import Change, Session
from lookwright.app.bench.spoken_way import spoken_way
from lookwright.assess.measure.levels import level
from lookwright.assess.restraint.clipping import clipped
from lookwright.assess.restraint.remember import exact_pictures
from lookwright.assess.restraint.stills import shares_lost
from lookwright.assess.restraint.subject import subject_of_look
from lookwright.colour.difference import ciede2000, light_to_lab
from lookwright.colour.spaces.oklab import SCENE_TO_LMS, light_to_oklab
from lookwright.errors import LookwrightError
from lookwright.jobs.progress import SILENT
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.read import parse_look
from lookwright.look.recipe.so_far import alone, so_far
from lookwright.look.recipe.way import beyond, ends, way
from lookwright.pictures.stills import Mark, read, region, write

SAMPLES = Path(__file__).parents[2] / "sample_images"
HARSH = """\
format = 2
[source]
encoding = "ACEScct"
[output]
encoding = "BT.1886"
[[step]]
kind = "exposure"
stops = 0.4
[[step]]
kind = "balance"
mired = 20
[[step]]
kind = "contrast"
slope = 1.5
[[step]]
kind = "hues"
hold_sky = 0.5
  [[step.band]]
  centre = 45
  width = 30
  turn = 30
  saturation = 1.6
[[step]]
kind = "render"
"""

STRONG = {"stops = 0.4": "stops = 0", "mired = 20": "mired = 0", "slope = 1.5": "slope = 1"}
TURNED = {"turn = 30": "turn = 0", "saturation = 1.6": "saturation = 1"}


def eased(text: str, words: dict[str, str]) -> str:
    """The text with some values at neutral."""
    for old, new in words.items():
        assert old in text
        text = text.replace(old, new)
    return text


@pytest.fixture
def place(tmp_path: Path) -> Path:
    (tmp_path / "look.toml").write_text(HARSH, encoding="utf-8")
    pixels = np.ascontiguousarray(read(SAMPLES / "close_acescct.png").pixels[100:480:3, 300:1100:5])
    write(tmp_path / "bench.png", pixels)
    return tmp_path


@pytest.fixture
def session(place: Path) -> Session:
    return Session(place / "look.toml")


@pytest.fixture
def pool() -> Iterator[ThreadPoolExecutor]:
    with ThreadPoolExecutor(2) as found:
        yield found


@pytest.fixture
def pictures(place: Path, pool: ThreadPoolExecutor) -> Pictures:
    return Pictures([place / "bench.png"], pool)


@pytest.fixture
def looking(session: Session, pictures: Pictures, pool: ThreadPoolExecutor) -> Looking:
    return Looking(session, pictures, pool)


def whole(pictures: Pictures) -> Region:
    still = pictures.still(0)
    return Region(0, 0, still.width, still.height, still.width, still.height)


def codes(pictures: Pictures) -> np.ndarray:
    return pictures.still(0).pixels.reshape(-1, 3).astype(np.float64)


def step(session: Session, kind: str) -> int:
    look, moment, *_ = session.snapshot()
    return moment.ids[[s.kind for s in look.steps].index(kind)]


# -- the way of a pixel -----------------------------------------------------------------------------------------------


def test_the_way_of_a_pixel_is_that_of_the_library(session: Session, pictures: Pictures) -> None:
    look = session.look
    code = codes(pictures)[[700, 4321]]
    stations = way(look, code)
    assert [s.step for s in stations] == [None, 0, 1, 2, 3, 4]
    for station in stations:
        count = 0 if station.step is None else station.step + 1
        # The path is folded otherwise where steps are kept apart: rounding, no more.
        np.testing.assert_allclose(station.shown, compile_look(so_far(look, count))(code), rtol=0, atol=1e-12)
    np.testing.assert_allclose(stations[-1].shown, compile_look(look)(code), rtol=0, atol=1e-12)
    # The light itself, without so_far: decoded, then twice 2^0.4; behind the rendering the output's own light.
    scene = look.source.signal().to_scene(code)
    np.testing.assert_allclose(stations[0].light, scene, rtol=1e-12)
    np.testing.assert_allclose(stations[1].light, scene * 2.0**0.4, rtol=1e-12)
    signal = look.output.signal()
    np.testing.assert_allclose(np.clip(stations[-1].light, 0, 1), signal.to_light(stations[-1].shown), atol=2e-6)


def test_its_words_say_what_its_numbers_say(session: Session, pictures: Pictures) -> None:
    code = codes(pictures)[4321]
    said = spoken_way(session.look, code)["stations"]
    wanted = level(compile_look(session.look)(code[None]), session.look.output.signal()).luma.median
    assert said[-1]["level"] == pytest.approx(wanted, abs=1e-9)
    assert said[1]["stops"] - said[0]["stops"] == pytest.approx(0.4, abs=1e-9)
    assert "brighter" in said[1]["words"] and said[0]["words"] == ""
    assert [s["kind"] for s in said] == ["source", "exposure", "balance", "contrast", "hues", "render"]


def test_a_pixel_by_its_place(looking: Looking, pictures: Pictures) -> None:
    found = looking.way(0, 0.5, 0.25)
    still = pictures.still(0)
    assert (found["x"], found["y"]) == (still.width // 2, still.height // 4)
    np.testing.assert_allclose(found["code"], still.pixels[found["y"], found["x"]], rtol=0, atol=0)


# -- where a step acts ------------------------------------------------------------------------------------------------


def test_up_to_a_step_and_one_alone(looking: Looking, session: Session, pictures: Pictures) -> None:
    code = codes(pictures)[::97]
    look = session.look
    number = step(session, "contrast")
    for kind, wanted in (("upto", so_far(look, 3)), ("without", so_far(look, 2)), ("alone", alone(look, 2))):
        np.testing.assert_array_equal(compile_look(looking.variant(kind, number))(code), compile_look(wanted)(code))
    # Alone is the plain rendering with that step's own numbers, nothing else.
    text = eased(HARSH, {k: v for k, v in (STRONG | TURNED).items() if "slope" not in k})
    np.testing.assert_allclose(
        compile_look(alone(look, 2))(code), compile_look(parse_look(text))(code), rtol=0, atol=1e-12
    )
    with pytest.raises(LookwrightError, match="no longer in the recipe"):
        looking.variant("upto", 99)


def test_the_map_of_what_a_step_changed_is_ciede2000(looking: Looking, session: Session, pictures: Pictures) -> None:
    seen = looking.change(0, whole(pictures), step(session, "hues"))
    signal = session.look.output.signal()
    lab = [light_to_lab(signal.to_light(compile_look(so_far(session.look, n))(codes(pictures)))) for n in (3, 4)]
    np.testing.assert_array_equal(seen.ravel(), stepped(ciede2000(*lab)))
    assert {1, 2, 3} <= set(seen.ravel().tolist())  # a strong step: the map has something to show


def test_what_a_band_and_a_hold_take_is_what_the_step_does(
    looking: Looking, session: Session, pictures: Pictures
) -> None:
    """The step itself with one band that only lights: the stops that it adds are the share that is shown."""
    region_, code = whole(pictures), codes(pictures)
    seen = looking.held(0, region_, step(session, "hues"), "band.1").ravel() / 255.0
    one = (
        HARSH.replace("turn = 30", "light = 1")
        .replace("saturation = 1.6", "saturation = 1")
        .replace("hold_sky = 0.5\n", "")
    )
    stations = way(parse_look(one), code)
    before, after = (light_to_oklab(s.light, SCENE_TO_LMS)[:, 0] for s in stations[3:5])
    lit = 3.0 * np.log2(after / before)  # light is a cube of Oklab lightness
    bright = before > 0.05
    np.testing.assert_allclose(seen[bright], lit[bright], rtol=0, atol=0.5 / 255.0 + 1e-6)
    assert seen.max() > 0.5 and seen.min() < 0.1
    sky = held_by(session.look, 3, "sky", code)
    assert sky.min() >= 0.0 and sky.max() <= 1.0
    for wrong in ("band.2", "band.0", "leather", ""):
        with pytest.raises(LookwrightError):
            looking.held(0, region_, step(session, "hues"), wrong)
    with pytest.raises(LookwrightError):
        looking.held(0, region_, step(session, "exposure"), "skin")


# -- warnings and findings --------------------------------------------------------------------------------------------


def test_warnings_are_the_measures_of_the_library(looking: Looking, session: Session, pictures: Pictures) -> None:
    bits = looking.warnings(0, whole(pictures))
    subject = exact_pictures(subject_of_look(session.look))
    values = {v.measure: v.value for v in shares_lost(subject, pictures.still(0).pixels, "bench.png").values}
    assert 100.0 * ((bits & warned.CLIPPED) > 0).mean() == pytest.approx(values["still_clipped"], abs=1e-9)
    assert 100.0 * ((bits & warned.CRUSHED) > 0).mean() == pytest.approx(values["still_crushed"], abs=1e-9)
    assert values["still_clipped"] > 0.1 or values["still_crushed"] > 0.1  # a harsh look: there is something to see
    # The brightest and the blackest that there is end plainly too: nothing of it is new.
    ends_of_it = np.array([[1.0, 1.0, 1.0], [0.0, 0.0, 0.0]])
    assert clipped(subject, subject.graded(ends_of_it)).all()
    assert not warned.Warned(subject, session.look)(ends_of_it).any()
    session.replace(eased(HARSH, STRONG | TURNED), "plain")
    assert not looking.warnings(0, whole(pictures)).any()


def test_skin_is_warned_of_where_its_own_hue_leaves_its_window() -> None:
    """Measured skin (NIST, by the table of scene colours) under the turn of 30 degrees that the look above gives it,
    and under one of 3 degrees."""
    from lookwright.assess.restraint.scene import scene_colours

    skins = scene_colours()["skin daylight"].scene
    for turn in (30, 12, 3):
        look = parse_look(eased(HARSH, STRONG | {"turn = 30": f"turn = {turn}", "saturation = 1.6": "saturation = 1"}))
        subject = subject_of_look(look)
        code = subject.feed(skins)
        warn = warned.Warned(subject, look)
        seen = (warn(code) & warned.SKIN) > 0
        before, after = (subject.oklab(f(code)) for f in (subject.plain, subject.graded))
        hues = [np.degrees(np.arctan2(lab[:, 2], lab[:, 1])) for lab in (before, after)]
        turned = np.abs((hues[1] - hues[0] + 180.0) % 360.0 - 180.0)
        np.testing.assert_array_equal(seen, turned > 12.0)  # where check fails skin
        assert seen.any() == (turn == 30)
        grey = np.full((5, 3), 0.4)
        assert not (warn(grey) & warned.SKIN).any()


def test_outside_the_output_is_light_that_the_output_cuts(tmp_path: Path) -> None:
    """A wide picture through a LUT that does nothing, into a narrower output: cut are the colours that BT.709 lacks,
    by the matrix between them (ITU-R BT.2087-0, table 1, the printed digits)."""
    from lookwright.lut.formats.cube import write_cube
    from lookwright.lut.lattices.lattice import Lattice, grid

    write_cube(tmp_path / "same.cube", Lattice(grid(2).reshape(2, 2, 2, 3)))
    signal = '{ encoding = "BT.1886", primaries = "BT.2020" }'
    text = f"""format = 2
source = {signal}
output = {{ encoding = "BT.1886" }}
[[step]]
kind = "lut"
file = "same.cube"
input = {signal}
output = {signal}
"""
    look = parse_look(text).with_folder(tmp_path)
    code = np.random.default_rng(3).uniform(0.05, 0.95, (2000, 3))
    printed = np.array([[1.6605, -0.5876, -0.0728], [-0.1246, 1.1329, -0.0083], [-0.0182, -0.1006, 1.1187]])
    linear = code**2.4 @ printed.T
    edge = 2e-3  # nearer to the border than this the printed digits do not say which side
    clear = (np.abs(linear) > edge).all(axis=1) & (np.abs(linear - 1.0) > edge).all(axis=1)
    wanted = ((linear < 0.0) | (linear > 1.0)).any(axis=1)
    light, signal_out = ends(look, code)
    seen = beyond(light, look)
    np.testing.assert_array_equal(seen[clear], wanted[clear])
    assert 0.1 < wanted.mean() < 0.9 and clear.mean() > 0.9
    np.testing.assert_allclose(light, linear, rtol=0, atol=2e-4)
    np.testing.assert_allclose(signal_out, compile_look(look)(code), rtol=0, atol=1e-12)
    assert not beyond(ends(parse_look(HARSH), code)[0], parse_look(HARSH)).any()  # the rendering brings all colours in


def test_a_finding_points_at_the_pixels_of_the_report(
    looking: Looking, session: Session, pictures: Pictures, place: Path
) -> None:
    from lookwright.assess.restraint.check import check as restraint
    from lookwright.present.sheets.masks import near

    asked: dict[str, Any] = {
        "revision": 3,
        "text": HARSH,
        "folder": str(place),
        "stills": [str(place / "bench.png")],
        "marks": {},
    }
    told = check(asked, SILENT)
    assert {"measure", "placed"} <= set(told["findings"][0])
    looking.keep_places(told["where"])
    subject = subject_of_look(session.look)
    where = restraint(subject).where["skin_hue"]
    pixels = pictures.still(0).pixels
    lab = subject.oklab(subject.plain(pixels.astype(np.float64)))
    seen = looking.finding(0, whole(pictures), "skin_hue").astype(bool)
    # Six digits are kept of the colours that were judged: a pixel midway between two may fall to the other.
    assert (seen != near(lab, where, subject)).mean() < 1e-3 and seen.any()
    with pytest.raises(LookwrightError, match="tones or noise"):
        looking.finding(0, whole(pictures), "black_level")


# -- taken up on the picture ------------------------------------------------------------------------------------------


def test_a_colour_finds_its_band_or_where_one_could_be(session: Session, pictures: Pictures) -> None:
    still = pictures.still(0)
    found = [picked.band_of(session, still, x, y) for x in (0.1, 0.5, 0.9) for y in (0.2, 0.6)]
    for one in found:
        near = abs((one["hue"] - 45.0 + 180.0) % 360.0 - 180.0)
        assert (one["band"] == 0) == (near <= 30.0 + 0.1), one
        assert one["step"] == (step(session, "hues") if one["band"] == 0 else None)
    assert any(one["band"] == 0 for one in found)
    session.remove(step(session, "hues"))
    bare = picked.band_of(session, still, 0.5, 0.6)
    assert bare["step"] is None and bare["into"] is None
    session.make("hues", picked.makeable(session.look, "hues"), {}, bare["hue"])
    assert [s.kind for s in session.look.steps] == ["exposure", "balance", "contrast", "hues", "render"]
    assert picked.band_of(session, still, 0.5, 0.6)["band"] == 0
    session.undo()  # one edit
    assert [s.kind for s in session.look.steps] == ["exposure", "balance", "contrast", "render"]


def test_a_picked_grey_is_grey_behind_the_balance(session: Session, pictures: Pictures) -> None:
    still = pictures.still(0)
    box = (0.4, 0.4, 0.1, 0.1)
    found = picked.balanced(session, still, box)
    assert found["make"] is None and len(found["changes"]) == 2
    session.set([Change(c["step"], tuple(c["path"]), c["value"]) for c in found["changes"]])
    code = np.median(region(still, Mark("grey", box)).reshape(-1, 3).astype(np.float64), axis=0)[None]
    lab = light_to_oklab(way(session.look, code)[2].light, SCENE_TO_LMS)[0]
    assert np.hypot(*lab[1:]) / lab[0] == pytest.approx(found["left"], abs=1e-6)
    assert found["bounded"] or found["left"] < 1e-3


@pytest.mark.parametrize("planted", [(35.0, 0.004), (-50.0, -0.006), (0.0, 0.0)])
def test_a_planted_cast_is_found_again(planted: tuple[float, float]) -> None:
    from lookwright.colour.balance import balance_matrix

    mired, tint, left, bounded = picked.solve_balance(np.linalg.inv(balance_matrix(*planted)) @ np.full(3, 0.18))
    assert (mired, tint) == (pytest.approx(planted[0], abs=0.02), pytest.approx(planted[1], abs=2e-5))
    assert left < 2e-4 and not bounded


@pytest.mark.parametrize("wanted", [20.0, 45.0, 70.0])
def test_a_box_is_brought_to_its_level(session: Session, pictures: Pictures, wanted: float) -> None:
    movers = picked.movers(session)
    assert movers[0]["name"] == "1. exposure stops"
    first = movers[0]
    box = (0.3, 0.3, 0.2, 0.2)
    change = Change(first["step"], tuple(first["path"]), 0.4)
    found = picked.toward_level(session, pictures, 0, box, wanted, change)
    assert found["met"]
    session.set([Change(c["step"], tuple(c["path"]), c["value"]) for c in found["changes"]])
    part = thinned(region(pictures.still(0), Mark("m", box)))
    got = level(compile_look(session.look)(part), session.look.output.signal()).luma.median
    assert got == pytest.approx(wanted, abs=0.15)  # what the table of marks says: the same pixels
    value = found["changes"][0]["value"]
    assert value == round(value, 3)  # no digits that nobody sees
    with pytest.raises(LookwrightError):
        wrong = Change(step(session, "contrast"), ("slope",), 1.0)
        picked.toward_level(session, pictures, 0, box, wanted, wrong)


def test_a_level_out_of_reach_is_told() -> None:
    from lookwright.look.steps.exposure import Exposure

    info = {n: i for n, _, i in Exposure.parameters()}["stops"]
    value, reached = picked.solve_level(lambda v: 50.0 + v, 90.0, 0.0, info)
    assert value == info.high and reached == 50.0 + info.high
