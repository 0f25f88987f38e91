"""Each measure on functions whose effect is known."""

from __future__ import annotations

from dataclasses import replace

import colour
import numpy as np
import pytest
from planted_luts import VIDEO, on_hues

from lookwright.assess.restraint.banding import HALF, banding, smoothed
from lookwright.assess.restraint.clipping import clipped, clipping
from lookwright.assess.restraint.colours import greys, hues
from lookwright.assess.restraint.folds import folds, hue_order
from lookwright.assess.restraint.jacobian import HALF_CODE
from lookwright.assess.restraint.memory import memory
from lookwright.assess.restraint.neutrals import neutrals, sign_changes
from lookwright.assess.restraint.noise import noise
from lookwright.assess.restraint.scene import scene_colours, surfaces
from lookwright.assess.restraint.skin import against, skin
from lookwright.assess.restraint.stills import thinned
from lookwright.assess.restraint.subject import Subject, foreign
from lookwright.assess.restraint.surfaces import colours
from lookwright.assess.restraint.tone import STEP, STOPS, falls, tone
from lookwright.assess.restraint.values import Measured, Places
from lookwright.colour.difference import xyz_to_lab
from lookwright.colour.spaces.primaries import primaries
from lookwright.colour.spaces.signal import Signal
from lookwright.look.steps.render import Render


def video(function, name: str = "planted") -> Subject:
    return foreign(name, VIDEO, VIDEO, function)


def values(measured: Measured) -> dict[str, float]:
    return {v.measure: v.value for v in measured.values}


def test_skin_turned_by_a_known_angle() -> None:
    """All hues turned by 10 degrees and colour made 1.2 times: nothing else may be read."""
    got = values(skin(video(on_hues(lambda light, c, h: (light, 1.2 * c, h + 10.0), clip=False))))
    assert got["skin_hue"] == pytest.approx(10.0, abs=1e-6)
    assert got["skin_hue_mixed"] == pytest.approx(10.0, abs=1e-6)
    assert got["skin_colour"] == pytest.approx(20.0, abs=1e-6)


@pytest.mark.parametrize(("turn", "side"), [(10.0, "yellow"), (-10.0, "red")])
def test_places_have_a_sign_and_the_words_follow_it(turn: float, side: str) -> None:
    """Half of the places see a turn of 10 degrees as so far on the harmful side, half as so far on the better one."""
    measured = skin(video(on_hues(lambda light, c, h: (light, c, h + turn), clip=False)))
    hue = next(p for p in measured.places if p.measure == "skin_hue")
    both = np.split(hue.values, 2)
    # All but what is as good as black, where there is no hue to judge, or where so small a turn is not seen.
    judged = np.isfinite(both[0])
    assert judged.mean() > 0.6 and (np.abs(both[0][judged] - turn) < 1e-6).mean() > 0.6
    np.testing.assert_allclose(both[1], -both[0], atol=1e-9)
    assert hue.at is not None and len(hue.at) == len(both[0])
    assert hue.worst().value == pytest.approx(10.0) and hue.worst().found.endswith(f"toward {side}")


@pytest.mark.parametrize(("factor", "word"), [(1.2, "more"), (1 / 1.2, "less")])
def test_words_of_saturation_follow_its_side(factor: float, word: str) -> None:
    measured = skin(video(on_hues(lambda light, c, h: (light, factor * c, h), clip=False)))
    colour_of_skin = next(v for v in measured.values if v.measure == "skin_colour")
    assert colour_of_skin.found.endswith(f"{word} colourful")


def test_nothing_to_judge_is_the_ideal() -> None:
    worst = Places("fold", np.array([np.nan, np.nan]), lambda i: "never").worst()
    assert worst.value == 1.0 and worst.found == "nothing here that could be judged"
    some = Places("fold", np.array([np.nan, 1.3, 1.2]), lambda i: f"place {i}").worst()
    assert some.value == 1.2 and some.found == "place 2"


def test_less_colour_counts_as_much_as_more() -> None:
    got = values(skin(video(on_hues(lambda light, c, h: (light, c / 1.2, h), clip=False))))
    assert got["skin_colour"] == pytest.approx(20.0, abs=1e-6)
    assert got["skin_hue"] == pytest.approx(0.0, abs=1e-6)


def test_skin_level_is_read_at_key_level() -> None:
    """A gain on signal of 1.1 raises light skin (57 % or so) by a tenth of its level."""
    measured = skin(video(lambda x: 1.1 * x))
    level = values(measured)["skin_level"]
    assert 4.5 < level < 6.5
    assert "brighter" in next(v.found for v in measured.values if v.measure == "skin_level")


def test_tint_of_the_grey_card_agrees_with_the_library() -> None:
    """A constant shift of b* by 3 on greys, in CIEDE2000 as colour-science computes it."""
    to_xyz = primaries("BT.2020").to_xyz

    def tinted(signal: np.ndarray) -> np.ndarray:
        lab = xyz_to_lab(VIDEO.to_light(signal) @ to_xyz.T)
        lab[..., 2] += 3.0
        xyz = np.asarray(colour.Lab_to_XYZ(lab, np.array([0.3127, 0.3290])))
        return VIDEO.from_light(xyz @ np.linalg.inv(to_xyz).T)

    got = values(neutrals(video(tinted)))
    wanted = float(colour.delta_E(np.array([50.0, 0.0, 0.0]), np.array([50.0, 0.0, 3.0]), method="CIE 2000"))
    # The same tint reads a little stronger or weaker with lightness only through the hue term: not at all on greys.
    assert got["grey_card_tint"] == pytest.approx(wanted, abs=1e-3)
    assert got["grey_crossings"] == 0
    assert got["grey_swing"] == pytest.approx(0.0, abs=1e-4)


@pytest.mark.parametrize(
    ("curve", "count"),
    [([1, 1, -1, -1], 1), ([1, 0.1, -0.1, 1], 0), ([1, -1, 1], 2), ([0.1, -0.1], 0), ([], 0), ([0, 0, 1, 0, -1], 1)],
)
def test_sign_changes(curve: list[float], count: int) -> None:
    assert sign_changes(np.array(curve)) == count


def test_clip_points_of_a_known_scale() -> None:
    """Straight from black at 20 % to white at 80 % of signal: the ends lie where the plain curve gives 1 % inside."""
    got = values(tone(video(lambda x: np.clip((x - 0.2) / 0.6, 0.0, 1.0))))
    curve = Render().curve()
    for name, level in (("black_point", 0.2 + 0.6 * 0.01), ("white_point", 0.2 + 0.6 * 0.99)):
        scene = float(curve.inverse(np.array(level**2.4)))
        assert got[name] == pytest.approx(np.log2(scene / 0.18), abs=STEP + 1e-9), name


def test_levels_of_a_known_scale() -> None:
    got = values(tone(video(lambda x: 0.08 + 0.8 * x)))
    grey = 100.0 * float(Render().curve()(np.array(0.18))) ** (1 / 2.4)
    assert got["black_level"] == pytest.approx(8.0, abs=0.2)  # the plain rendering is not quite black 12 stops down
    assert got["white_level"] == pytest.approx(88.0, abs=1e-6)  # what is looked at reaches white
    assert got["grey_level"] == pytest.approx(abs(8.0 + 0.8 * grey - grey), abs=1e-3)


@pytest.mark.parametrize("power", [1.3, 1 / 1.3])
def test_contrast_of_a_power(power: float) -> None:
    """A power on signal multiplies the log slope by itself, and flatter counts as steeper does."""
    assert values(tone(video(lambda x: x**power)))["contrast"] == pytest.approx(1.3, abs=1e-9)


def test_a_scale_that_turns_back() -> None:
    level = np.concatenate([np.linspace(0, 50, 100), np.linspace(50, 44, 20), np.linspace(44, 90, 30)])
    found = falls(level)
    assert found.max() == pytest.approx(6.0, abs=1e-9) and level[1 + found.argmax()] == pytest.approx(44.0)
    # Where the scale rises by 50 / 99 a tone and has never fallen, it is so far on the better side.
    np.testing.assert_allclose(found[:99], -50.0 / 99.0, atol=1e-12)
    back = values(tone(video(lambda x: x - 0.06 * np.exp(-(((x - 0.5) / 0.02) ** 2)))))
    assert back["tone_fall"] > 20.0
    assert values(tone(video(lambda x: x)))["tone_fall"] == 0.0


@pytest.mark.parametrize("power", [1 / 1.2, 1.2])
def test_noise_of_a_power_at_known_points(power: float) -> None:
    """Plainly nothing, graded x^p: the ratio of greys is p x^(p-1), to 1e-6 from 3 stops under grey up."""
    subject = video(lambda x: x**power)
    plot = noise(subject).plots["noise"]
    at = subject.feed(greys(plot["stops"]))[:, 0]
    wanted = power * at ** (power - 1.0)
    bright = plot["stops"] >= -3.0
    np.testing.assert_allclose(plot["greys"][bright], wanted[bright], rtol=0, atol=1e-6)
    # Near black, where the plain rendering is darker than it was, differences err by step^2 / 6 times the third
    # derivative of x^p; a quarter for the terms that follow.
    third = np.abs(power * (power - 1.0) * (power - 2.0)) * at ** (power - 3.0)
    assert (np.abs(plot["greys"] - wanted) <= 1.25 * HALF_CODE**2 / 6.0 * third + 1e-6).all()


def test_shadow_noise_is_read_apart() -> None:
    """Slope 2.2 up to 5 % of signal, then 0.4 to 15 %, then none: shadows show it, mid tones do not."""
    got = values(noise(video(lambda x: np.interp(x, [0.0, 0.05, 0.15, 1.0], [0.0, 0.11, 0.15, 1.0]))))
    assert got["shadow_noise"] == pytest.approx(2.2, abs=1e-9)
    assert got["noise"] == pytest.approx(1.0, abs=1e-9)


def test_fold_of_a_chroma_scaling() -> None:
    """Chroma times 0.5 halves two of three directions of Oklab: 0.25 everywhere, and hues keep step."""
    subject = video(on_hues(lambda light, c, h: (light, 0.5 * c, h), clip=False))
    assert values(folds(subject))["fold"] == pytest.approx(0.25, abs=1e-6)
    order = values(hue_order(subject))
    assert order["hue_order"] == pytest.approx(1.0, abs=1e-6) and order["hue_stretch"] == pytest.approx(1.0, abs=1e-6)


def test_a_mirror_folds() -> None:
    subject = video(on_hues(lambda light, c, h: (light, c, -h), clip=False))
    assert values(folds(subject))["fold"] == pytest.approx(-1.0, abs=1e-6)
    assert values(hue_order(subject))["hue_order"] == pytest.approx(-1.0, abs=1e-6)


def test_clipped_knows_the_range() -> None:
    legal = Signal.named("BT.1886", range="legal")
    subject = foreign("legal", legal, legal, lambda x: x)
    codes = np.array([[64.0, 500, 500], [65, 500, 939], [500, 500, 940], [0, 500, 500]]) / 1023.0
    assert clipped(subject, codes).tolist() == [True, False, True, True]
    assert clipped(video(lambda x: x), codes).tolist() == [False, False, False, True]


def test_only_what_newly_goes_flat_is_counted() -> None:
    assert values(clipping(video(lambda x: x))) == {"flat_colours": 0.0, "flat_gamut": 0.0}
    # Everything brighter than the level of a stop over grey becomes one white.
    flat = values(clipping(video(lambda x: np.clip(x / 0.45, 0.0, 1.0))))
    scene = np.concatenate([surfaces()["chart"], surfaces()["samples"]])
    code = video(lambda x: x).feed(scene)
    assert flat["flat_colours"] >= 100.0 * (code.min(axis=1) > 0.5).mean() > 2.0


def test_a_cubic_is_as_smooth_as_it_is() -> None:
    """The smooth curve through a cubic is that cubic; through a step it is not."""
    t = np.linspace(-1.0, 1.0, 200)[:, None] * np.ones(3)
    cubic = (0.3 + 0.2 * t - 0.1 * t**2 + 0.2 * t**3)[None]
    np.testing.assert_allclose(smoothed(cubic), cubic[:, HALF:-HALF], atol=1e-12)
    step = (t > 0)[None].astype(float)
    assert np.abs(smoothed(step) - step[:, HALF:-HALF]).max() > 0.3


def test_banding_finds_steps() -> None:
    still = values(banding(video(lambda x: x)))
    assert max(still.values()) <= 1.0 + 1e-9
    stepped = values(banding(video(lambda x: np.round(x * 32) / 32)))  # 5 bits: about 3 of L* a step
    assert stepped["banding_8"] > 5.0 and stepped["banding_10"] > 15.0


def test_dark_and_light_skin_are_compared() -> None:
    """A turn that ends above the lightness of dark skin parts the two; the same for all does not."""
    alike = values(skin(video(on_hues(lambda light, c, h: (light, c, h + 9.0), clip=False))))
    assert alike["skin_even_hue"] == pytest.approx(0.0, abs=2.0)  # pale faces in the dark
    assert alike["skin_even_colour"] == pytest.approx(1.0)
    apart = values(
        skin(video(on_hues(lambda light, c, h: (light, c * np.where(light < 0.52, 0.5, 1.0), h), clip=False)))
    )
    assert 1.6 < apart["skin_even_colour"] <= 2.0 + 1e-6  # some of the dark five are light enough in the key

    def darkened(where) -> float:
        return values(
            skin(video(on_hues(lambda light, c, h: (light * np.where(where(light, c), 0.8, 1.0), c, h), clip=False)))
        )["skin_even_level"]

    # Greys are left alone; a tenth of the level of a bright face is more percent of signal than of a dark one.
    alike_darker, only_dark = darkened(lambda light, c: c > 0.02), darkened(lambda light, c: (c > 0.02) & (light < 0.5))
    assert alike_darker < 4.7 < only_dark


def test_a_turn_that_is_not_seen_counts_as_far_as_it_is() -> None:
    pale = np.array([[0.5, 0.0251, 0.0]])
    strong = np.array([[0.5, 0.12, 0.0]])
    for lab, whole in ((pale, False), (strong, True)):
        angle = np.radians(8.0)
        turned = np.stack([lab[:, 0], lab[:, 1] * np.cos(angle), lab[:, 1] * np.sin(angle)], axis=-1)
        turn, factor, judged = against(lab, turned, np.array([40.0]))
        assert judged.all() and factor == pytest.approx(1.0)
        assert (turn[0] == pytest.approx(8.0)) == whole and 0.0 < turn[0] <= 8.0 + 1e-9


@pytest.mark.parametrize(("turn", "sky", "leaves"), [(15.0, "violet", "blue-green"), (-15.0, "cyan", "mustard")])
def test_skies_and_leaves_turn_as_they_are_turned(turn: float, sky: str, leaves: str) -> None:
    measured = memory(video(on_hues(lambda light, c, h: (light, 0.8 * c, h + turn), clip=False)))
    got = {v.measure: v for v in measured.values}
    assert got["sky_hue"].value == pytest.approx(15.0, abs=1e-6) and got["sky_hue"].found.endswith(f"toward {sky}")
    assert got["leaves_hue"].value == pytest.approx(15.0, abs=1e-6)
    assert got["leaves_hue"].found.endswith(f"toward {leaves}")
    assert got["sky_colour"].value == pytest.approx(0.8, abs=1e-6) == got["leaves_colour"].value
    assert got["sky_level"].value < 2.0


def test_contrast_is_not_counted_as_lightness() -> None:
    """One gain for greys and colours alike: no surface is darker than a grey of its level; a darkened hue is."""
    alike = values(colours(video(lambda x: x**1.2)))
    assert alike["light_surfaces"] < 8.0
    dark = on_hues(
        lambda light, c, h: (light * np.where((c > 0.05) & (np.abs(h - 25.0) < 40.0), 0.5, 1.0), c, h), clip=False
    )
    assert values(colours(video(dark)))["light_surfaces"] > 20.0


def test_a_rendering_s_own_fault_is_seen_against_the_scene() -> None:
    """The plain rendering itself turns a hue: held against itself nothing moves, held against the scene it does."""
    log = Signal.named("ACEScct")
    bent = on_hues(lambda light, c, h: (light, c, h + 50.0 * np.exp(-(((h + 95.0) / 30.0) ** 2))), clip=False)
    honest = foreign("honest", log, VIDEO, lambda x: x)
    plain = honest.plain
    subject = replace(honest, plain=lambda x: bent(plain(x)), graded=lambda x: bent(plain(x)))
    got = values(colours(subject))
    assert got["hue_surfaces"] == pytest.approx(0.0, abs=1e-9) and got["hue_lights"] == pytest.approx(0.0, abs=1e-9)
    assert got["hue_scene"] > 40.0
    assert values(colours(replace(honest, graded=plain)))["hue_scene"] < 20.0


def test_colour_that_grows_at_once_is_told_from_more_colour() -> None:
    more = values(colours(video(on_hues(lambda light, c, h: (light, 1.3 * c, h), clip=False))))
    assert more["colour_step"] == pytest.approx(1.0, abs=0.05) and more["colour_gain"] == pytest.approx(1.3, abs=0.02)
    assert more["colour_pushed"] == pytest.approx(1.0, abs=0.02) == more["colour_lost"]
    torn = on_hues(
        lambda light, c, h: (light, c * np.where(c / np.maximum(light, 1e-3) > 0.17, 1.6, 1.0), h), clip=False
    )
    assert values(colours(video(torn)))["colour_step"] > 2.5


def test_every_scene_colour_is_there() -> None:
    groups = scene_colours()
    assert len(groups["skin daylight"].names) == 21 and len(groups["skin sun"].names) == 17
    assert len(groups["lights"].names) == 28 and len(groups["sky"].names) == 5 and len(groups["leaves"].names) == 6


def test_colours_have_the_hue_and_stops_they_are_asked_for() -> None:
    from lookwright.colour.spaces.oklab import scene_to_opponent

    back = scene_to_opponent(hues(1.5, 0.08, np.array([45.0, 200.0])))
    np.testing.assert_allclose(np.degrees(np.arctan2(back[:, 2], back[:, 1])) % 360, [45.0, 200.0], atol=1e-9)
    # Ratios are guarded near black: 1 % of lightness 0.01 at most (colour/spaces/oklab.py).
    np.testing.assert_allclose(np.hypot(back[:, 1], back[:, 2]), 0.08, rtol=1e-6)
    np.testing.assert_allclose(back[:, 0] ** 3, 0.18 * 2**1.5, rtol=1e-9)
    np.testing.assert_allclose(greys(np.array([0.0, 1.0]))[:, 0], [0.18, 0.36], rtol=1e-12)


def test_stops_of_the_ramp_hold_middle_grey() -> None:
    assert np.abs(STOPS).min() < 1e-9


@pytest.mark.parametrize(("shape", "n"), [((100, 200), 1), ((1080, 1920), 4), ((4000, 6000), 14)])
def test_thinning(shape: tuple[int, int], n: int) -> None:
    got = thinned(np.zeros((*shape, 3), np.float32))
    assert got.shape[0] * got.shape[1] <= 130_000
    assert got.shape == (len(range(n // 2, shape[0], n)), len(range(n // 2, shape[1], n)), 3)
