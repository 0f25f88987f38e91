"""A frame taken apart: levels of common practice read back, roles only where the frame supports them."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import colour
import numpy as np
import pytest
from scipy import ndimage

from lookwright.assess.breakdown.against import against
from lookwright.assess.breakdown.breakdown import Breakdown, break_down
from lookwright.assess.breakdown.face_parts import sides_of
from lookwright.assess.breakdown.faces import Face, can_find_faces, find_faces
from lookwright.assess.breakdown.frame import Frame, smaller
from lookwright.assess.breakdown.merging import merged
from lookwright.assess.breakdown.spoken import spoken
from lookwright.assess.breakdown.warmth import nearest_filter, warmth_of
from lookwright.assess.measure.skin import skin_doubt
from lookwright.colour.spaces.planckian import uv_to_xy
from lookwright.colour.spaces.primaries import primaries, xy_to_xyz
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import PictureError
from lookwright.jobs.small_frames import seen
from lookwright.look.baking.viewing import View
from lookwright.look.recipe.read import read_look
from lookwright.pictures.stills import read

ROOT = Path(__file__).parents[2]
SCREEN = Signal.named("BT.1886")
LOG = Signal.named("ACEScct")
FACE = Face((0.40, 0.28, 0.16, 0.44), ((0.43, 0.45), (0.53, 0.45), (0.48, 0.54), (0.44, 0.62), (0.52, 0.62)), 0.9)


@lru_cache
def practice() -> tuple[np.ndarray, dict[float, float]]:
    """A frame made to the levels of common practice (no source): ambience 45, silhouette 12, a face 60 and 15, a lamp
    of 85 whose wall falls from 70 to 50; and that fall-off by distance in % of the width."""
    height, width = 540, 960
    y, x = np.mgrid[:height, :width].astype(float)
    level = np.full((height, width), 45.0)
    away = np.maximum(np.hypot(x - 780.0, y - 190.0) - 22.0, 0.0) / width * 100.0
    level = np.maximum(level, 50.0 + 20.0 * np.exp(-away / 2.0) - 0.55 * np.maximum(away - 8.0, 0.0))
    level[away <= 0.0] = 85.0
    level[430:] = 20.0
    # A figure: head on shoulders, cut off by the lower ground.
    level[np.hypot((x - 200.0) / 34.0, (y - 210.0) / 44.0) < 1.0] = 12.0
    level[(np.hypot((x - 200.0) / 80.0, (y - 430.0) / 180.0) < 1.0) & (y < 430.0)] = 12.0
    # A face: lit on the right, shaded on the left.
    face = np.hypot((x - 460.8) / 84.0, (y - 270.0) / 124.0) < 1.0
    level[face & (x >= 452.0)] = 60.0
    level[face & (x < 452.0)] = 15.0
    level = ndimage.gaussian_filter(level, 0.8)
    noise = np.random.default_rng(5).normal(0.0, 0.3, (height, width))
    code = np.repeat(((level + noise) / 100.0)[..., None], 3, axis=-1)
    code[face] *= (1.08, 0.99, 0.86)
    fall = {d: float(50.0 + 20.0 * np.exp(-d / 2.0)) for d in (0.8, 1.3, 2.0, 3.0, 4.5)}
    return code.astype(np.float32), fall


@lru_cache
def taken() -> Breakdown:
    return break_down(seen(practice()[0], SCREEN, None).frame, [FACE])


@pytest.mark.parametrize(
    ("name", "level"),
    [("face, lit side", 60.0), ("face, shaded side", 15.0), ("ambience", 45.0), ("silhouette", 12.0), ("lamp", 85.0)],
)
def test_levels_of_common_practice_are_read_back(name: str, level: float) -> None:
    zone = next((z for z in taken().zones if z.name == name), None)
    assert zone is not None and zone.sure is not None and zone.reason
    assert abs(zone.level - level) < 2.0
    assert len(taken().zones) <= 60
    assert set(np.unique(taken().labels)) == {z.number for z in taken().zones}


def test_fall_off_is_read_back() -> None:
    (name, curve), known = taken().lamps[0], practice()[1]
    assert name == "lamp"
    for distance, level in known.items():
        assert abs(curve.levels[curve.distances.index(distance)] - level) < 3.0


def test_ratio_both_ways_of_speaking_and_as_light() -> None:
    """60 over 15 is spoken of as 4:1; a gamma of 2.4 makes more than four stops of it."""
    first = taken().ratios[0]
    assert (first.first, first.second) == ("face, lit side", "face, shaded side")
    said = first.ratio.in_words()
    assert "spoken of as 4:1" in said and "key + fill : fill" in said and "lamp to lamp" in said
    assert 3.5 < first.ratio.stops < 5.5
    three = spoken(60.0, 15.0, 0.9, 0.3, True)  # handbook: a contrast of 3:1 is key over fill of 2:1
    assert three.lamps == pytest.approx(2.0) and three.stops == pytest.approx(np.log2(3.0))
    assert spoken(60.0, 15.0, 0.9, 0.3).lamps is None


@pytest.mark.parametrize("level", [0.0, 0.5, 1.0])
def test_nothing_is_named_in_an_empty_frame(level: float) -> None:
    """Black, one grey, white: at most an ambience, never a lamp, a figure or a sky."""
    frame = seen(np.full((90, 160, 3), level, np.float32), SCREEN, None).frame
    roles = {z.role for z in break_down(frame, []).zones}
    assert roles <= {None, "ambient"} and len(break_down(frame, []).zones) == 1


def test_noise_makes_no_lamps_and_small_frames_are_refused() -> None:
    rng = np.random.default_rng(1)
    frame = seen(rng.uniform(0.0, 1.0, (120, 68, 3)).astype(np.float32), SCREEN, None).frame
    assert not {"lamp", "silhouette", "sky"} & {z.role for z in break_down(frame, []).zones}
    with pytest.raises(PictureError):
        smaller(np.zeros((16, 16, 3), np.float32))


def test_merging_parts_two_plains_at_their_border() -> None:
    values = np.zeros((20, 40, 1))
    values[:, 25:] = 10.0
    first = np.arange(800).reshape(20, 40).astype(np.int32)
    assert (merged(first, values, 100.0, 60) == (np.arange(40) >= 25)[None]).all()
    assert merged(first, values, 1e6, 60).max() == 0  # a border dearer than any error
    assert merged(first, values, 0.0, 1).max() == 0


@pytest.mark.parametrize("kelvin", [2800.0, 4300.0, 6504.0, 9000.0])
@pytest.mark.parametrize("duv", [-0.01, 0.0, 0.01])
def test_warmth_agrees_with_a_library(kelvin: float, duv: float) -> None:
    """colour-science, Ohno 2013: mired within 1, Duv within .0003, of a light against the ACES white."""
    uv = colour.temperature.CCT_to_uv_Ohno2013([kelvin, duv])
    xy = np.asarray(uv_to_xy(uv))
    scene = np.linalg.inv(primaries("ACEScg").to_xyz) @ xy_to_xyz((float(xy[0]), float(xy[1])))
    read_ = warmth_of(scene)
    assert read_ is not None
    assert abs(read_.mired - (1e6 / kelvin - 1e6 / 6000.0)) < 1.0
    assert abs(read_.duv - (duv - 0.003)) < 0.0006  # the white itself lies at +.003


def test_filters_by_their_published_shifts() -> None:
    assert nearest_filter(131.0) == "three-quarter warming (+120 mired)"
    assert nearest_filter(-140.0).startswith("full cooling") and nearest_filter(4.0) == ""


def test_a_dark_face_or_a_flat_one_has_one_side() -> None:
    picture = np.full((540, 960, 3), 0.4, np.float32)
    sides = sides_of(FACE, seen(picture, SCREEN, None).frame, "face")
    assert [p.name for p in sides.parts] == ["face"] and len(sides.places) == 3


def test_the_grade_is_taken_off_first() -> None:
    """A still through a look, given as a finished frame with that look, has the light of the log still again."""
    view = View(read_look(ROOT / "looks" / "night-workshop.toml"))
    pixels = read(ROOT / "sample_images" / "small" / "close_acescct.png").pixels
    log = seen(pixels, LOG, view).frame
    finished = seen(view.graded(smaller(pixels)), view.output, view)
    inside = (log.luma > 5.0) & (log.luma < 90.0)
    apart = np.abs(finished.frame.stops - log.stops)[inside]
    assert np.median(apart) < 0.02 and np.percentile(apart, 95) < 0.15
    assert "taken off" in finished.notes[0]
    plain = seen(view.graded(smaller(pixels)), view.output, None).frame
    assert np.median(np.abs(plain.stops - log.stops)[inside]) > 0.1  # without it the light is another


def _changed(everything: float, shaded: float) -> Breakdown:
    """The practice frame brighter by so many stops, the shaded side of its face by others."""
    base = seen(practice()[0], SCREEN, None).frame
    y, x = np.mgrid[:540, :960].astype(float)
    side = (np.hypot((x - 460.8) / 84.0, (y - 270.0) / 124.0) < 1.0) & (x < 452.0)
    scene = base.scene * 2.0 ** np.where(side, shaded, everything)[..., None]
    return break_down(Frame(base.picture, SCREEN, base.luma, base.lab, scene, False), [FACE])


def test_a_lamp_that_is_off_is_named_first_and_exposure_apart() -> None:
    same = against(taken(), taken())
    assert same.common_stops == 0.0 and all(g.mended_by == "nothing" for g in same.gaps)
    mine = _changed(1.0, 2.5)
    gaps = against(taken(), mine)
    assert abs(gaps.common_stops - 1.0) < 0.1
    assert gaps.gaps[0].name == "face, shaded side" and gaps.gaps[0].mended_by == "light"
    assert abs(gaps.gaps[0].stops - 1.5) < 0.15 and "down by 1.5 stops" in gaps.gaps[0].sentence
    assert "electricity" in gaps.caution


def test_skin_that_is_none_is_doubted() -> None:
    wall = np.full((4, 4, 3), (0.35, 0.4, 0.47), np.float32)
    leaves = np.full((4, 4, 3), (0.25, 0.4, 0.15), np.float32)
    assert "does not look like it" in skin_doubt(wall, SCREEN, "x") and skin_doubt(leaves, SCREEN, "x")
    # light and dark skin of the 24-patch chart, sRGB 8-bit codes as published with it
    for patch in ((115, 82, 68), (194, 150, 130)):
        assert skin_doubt(np.full((4, 4, 3), np.array(patch) / 255.0), Signal.named("sRGB"), "x") == ""


@pytest.mark.skipif(not can_find_faces(), reason="the extra 'faces' is not installed")
@pytest.mark.parametrize("stops", [-4, 0, 2])
def test_the_sample_head_is_found(stops: int) -> None:
    scene = LOG.to_scene(read(ROOT / "sample_images" / "small" / "close_acescct.png").pixels)
    code = np.clip(LOG.from_scene(scene * 2.0**stops), 0.0, 1.0).astype(np.float32)
    faces = find_faces(seen(code, LOG, None).frame.picture)
    assert len(faces) == 1
    x, y, w, h = faces[0].box
    assert x < 0.39 < x + w and y < 0.5 < y + h
    day = seen(read(ROOT / "sample_images" / "small" / "day_acescct.png").pixels, LOG, None)
    assert find_faces(day.frame.picture) == []
