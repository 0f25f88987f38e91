"""The whole check: planted faults fail for their own reason, an identity does no harm, shipped looks pass."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from planted_luts import FOLD_AT, PLANTED, VIDEO

from lookwright.assess.restraint.check import check
from lookwright.assess.restraint.ease import Ease
from lookwright.assess.restraint.files import mixed
from lookwright.assess.restraint.limits import BY_NAME, MEASURES, check_limits
from lookwright.assess.restraint.remember import remembering
from lookwright.assess.restraint.report import Report
from lookwright.assess.restraint.subject import Subject, foreign, subject_of_look, subject_of_lut
from lookwright.assess.restraint.trials import Tried, targets, trials
from lookwright.assess.restraint.values import Measured, Places, Value
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import LutFileError, RecipeError
from lookwright.jobs.doubts import doubts_about
from lookwright.look.baking.bake import bake, baked
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.read import parse_look, read_look
from lookwright.look.steps import registry
from lookwright.look.steps.numbers import numbers
from lookwright.look.steps.params import ParamInfo
from lookwright.lut.formats.cube import write_cube
from lookwright.lut.lattices.lattice import sample
from lookwright.pictures.stills import CodedStill, Mark, Still, read, read_either, write

LOOKS = sorted((Path(__file__).parents[2] / "looks").glob("*.toml"))

OVERDONE = """
title = "Too much"
[source]
encoding = "ACEScct"
[output]
encoding = "BT.1886"
[[step]]
kind = "split"
warm = 90.0
pull = 1.0
spread = 0.0
hold = { amount = 0.0 }
[[step]]
kind = "saturation"
amount = 1.9
[[step]]
kind = "render"
[[step]]
kind = "gamut"
"""


def states(report: Report, state: str) -> set[str]:
    return {f.measure for f in report.findings if f.state == state}


@pytest.fixture(scope="module")
def cubes(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("planted")
    made = {}
    for name, function in PLANTED.items():
        made[name] = folder / f"{name.replace(' ', '-')}.cube"
        write_cube(made[name], sample(function, 33))
    return made


# What must fail, and what may be watched beside it.
WANTED = {
    "orange skin": ({"skin_hue"}, {"skin_hue_mixed", "hue_order"}),
    "folded hue": ({"fold", "fold_strong", "hue_order"}, {"noise"}),
    # A scale that ends so near grey on both sides takes colours with it wherever a channel ends.
    "crushed and clipped": (
        {"black_point", "white_point", "tones_lost", "contrast"},
        {"banding_8", "flat_colours", "flat_gamut", "fold", "noise"},
    ),
    "lifted shadows": ({"shadow_noise"}, {"noise", "banding_10"}),
}


@pytest.mark.parametrize("name", PLANTED)
def test_planted_faults_fail_for_their_own_reason(name: str, cubes: dict[str, Path]) -> None:
    report = check(subject_of_lut(cubes[name], VIDEO, VIDEO))
    fails, watched = WANTED[name]
    assert report.worst == "fail"
    # What goes with it is colour and skin, where channels end: nothing else, and only for that one.
    beside = states(report, "fail") - fails
    assert states(report, "fail") >= fails and (not beside or name == "crushed and clipped")
    assert states(report, "watch") <= watched
    # The worst comes first, and each is told with a remedy.
    assert report.findings[0].measure in fails
    assert all(f.advice for f in report.findings if f.state != "ok")
    if name == "folded hue":
        fold = next(f for f in report.findings if f.measure == "hue_order")
        degrees = float(fold.found.split("hue ")[1].split(")")[0])
        assert degrees == pytest.approx(FOLD_AT, abs=10.0)
    if name == "orange skin":
        assert "toward yellow" in report.findings[0].found


def test_an_identity_does_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "nothing.cube"
    write_cube(path, sample(lambda x: x, 33))
    report = check(subject_of_lut(path, VIDEO, VIDEO))
    assert report.worst == "ok"
    assert report.summary() == "no harm found"
    # What is measured against the plain rendering is exactly nothing; the ends of the scale are the display's own.
    own = {"black_point", "white_point"}
    for finding in report.findings:
        if finding.measure not in own:
            assert finding.harm < 1e-6, finding
    assert {f.measure for f in report.findings} >= {m.name for m in MEASURES if not m.name.startswith("still_")}


@pytest.mark.parametrize("path", LOOKS, ids=lambda p: p.stem)
def test_shipped_looks_pass(path: Path) -> None:
    report = check(subject_of_look(read_look(path), path.name))
    assert not states(report, "fail")


@pytest.mark.parametrize("path", LOOKS[:1], ids=lambda p: p.stem)
def test_a_cube_of_our_own_says_what_it_is(path: Path, tmp_path: Path) -> None:
    """Read back from the file, with nothing said, the LUT measures as the look does (within its lattice)."""
    look = read_look(path)
    target = tmp_path / "own.cube"
    write_cube(target, baked(compile_look(look), path.read_text(encoding="utf-8")))
    subject = subject_of_lut(target)
    assert subject.source.describe() == look.source.signal().describe()
    ours, exact = check(subject), check(subject_of_look(look))
    measured = {f.measure: f.value for f in exact.findings}
    # Dark skin four stops under key is all but black: there 33 points turn its hue by 5.7 degrees at most (blue-hour),
    # and noise is a slope, which a lattice smooths by a tenth.
    for name, tolerance in {"skin_hue": 6.0, "grey_level": 0.3, "contrast": 0.03, "noise": 0.25}.items():
        assert next(f.value for f in ours.findings if f.measure == name) == pytest.approx(measured[name], abs=tolerance)


def test_a_foreign_log_cube_needs_its_signals(tmp_path: Path) -> None:
    look = parse_look(OVERDONE)
    target = tmp_path / "foreign.cube"
    write_cube(target, bake(compile_look(look), 17), comments=())
    with pytest.raises(LutFileError, match=r"does not say what it must be fed.*--source and --output"):
        subject_of_lut(target)
    with pytest.raises(LutFileError, match="--output"):
        subject_of_lut(target, Signal.named("ACEScct"))
    report = check(subject_of_lut(target, Signal.named("ACEScct"), VIDEO))
    assert report.worst == "fail"


def test_log_to_log_is_looked_at_through_the_plain_rendering(tmp_path: Path) -> None:
    log = Signal.named("ACEScct")
    target = tmp_path / "log.cube"
    write_cube(target, sample(lambda x: x, 33))
    subject = subject_of_lut(target, log, log)
    assert "plain rendering" in subject.note and subject.output.kind == "display"
    assert check(subject).worst == "ok"
    write_cube(target, sample(lambda x: np.clip(x + 0.1, 0.0, 1.0), 33))  # 1.75 stops brighter in ACEScct
    assert "grey_level" in states(check(subject_of_lut(target, log, log)), "fail")


def test_display_to_scene_is_refused(tmp_path: Path) -> None:
    target = tmp_path / "back.cube"
    write_cube(target, sample(lambda x: x, 2))
    with pytest.raises(RecipeError, match="back into scene light"):
        subject_of_lut(target, VIDEO, Signal.named("ACEScct"))


@pytest.mark.parametrize(
    ("source", "output"),
    [("sRGB", "BT.1886"), ("BT.1886", "P3-D65 2.6"), ("S-Log3", "BT.2100 PQ"), ("S-Log3", "BT.1886")],
)
def test_a_plain_conversion_does_no_harm(source: str, output: str) -> None:
    """Whatever the signals, the plain rendering itself is measured as no change."""
    a, b = Signal.named(source), Signal.named(output)
    plain = foreign("plain", a, b, lambda x: x).plain
    report = check(foreign("plain", a, b, plain))
    assert states(report, "fail") == set()
    relative = {"skin_hue", "skin_colour", "grey_tint", "noise", "fold", "hue_order", "contrast", "banding_8"}
    relative |= {"white_level"}  # S-Log3 ends before the light that reaches white: that is no harm either
    for finding in report.findings:
        if finding.measure in relative:
            assert finding.harm < 1e-6, finding


def test_advice_names_a_parameter_and_tells_the_truth() -> None:
    look = parse_look(OVERDONE)
    report = check(subject_of_look(look))
    hue = next(f for f in report.findings if f.measure == "skin_hue")
    assert hue.state == "fail"
    assert hue.advice.startswith("Ease split.")
    # Do what it says, and measure again.
    promised = float(hue.advice.split("would be ")[1].split()[0])
    tried = [t.look for t in trials(look) if f"{t.label}: from {t.before} to {t.after} " in hue.advice]
    again = check(subject_of_look(tried[0]))
    assert next(f.value for f in again.findings if f.measure == "skin_hue") == pytest.approx(promised, rel=5e-3)
    # Without it, as under the hand on the bench, everything else is the same.
    bare = check(subject_of_look(look), advised=False)
    for found, told in zip(bare.findings, report.findings, strict=True):
        # Sums may end in another last digit (NumPy 2.0.0: where an array lies decides how it is added up).
        assert (found.value, found.harm) == pytest.approx((told.value, told.harm), rel=1e-9, abs=1e-9)
        assert replace(found, value=0.0, harm=0.0) == replace(told, value=0.0, harm=0.0, advice="")


def test_part_of_a_lut_is_what_the_step_would_do() -> None:
    subject = foreign("half", VIDEO, VIDEO, lambda x: x * x)
    codes = np.array([[0.2, 0.5, 0.8]])
    np.testing.assert_allclose(mixed(subject, 0.25).graded(codes), codes + 0.25 * (codes * codes - codes))


def test_a_look_may_set_its_own_limit() -> None:
    own = OVERDONE + '[limits.skin_hue]\nvalue = 60.0\nreason = "puppets, not people"\n'
    report = check(subject_of_look(parse_look(own)))
    hue = next(f for f in report.findings if f.measure == "skin_hue")
    assert hue.state != "fail" and hue.limit == 60.0
    assert hue.own_limit == "the look's own limit, 60 instead of 12: puppets, not people"
    assert "skin_hue" in states(check(subject_of_look(parse_look(OVERDONE))), "fail")


def test_limits_that_cannot_be_are_refused() -> None:
    text = OVERDONE + '[limits.skin_heu]\nvalue = 9.0\nreason = "typing"\n'
    text += '[limits.fold]\nvalue = 3.0\nreason = "wrong way"\n'
    with pytest.raises(RecipeError) as caught:
        check(subject_of_look(parse_look(text), "look.toml"))
    lines = str(caught.value).splitlines()
    assert lines[0].startswith("look.toml, limits.skin_heu: no measure 'skin_heu'; did you mean 'skin_hue'")
    assert lines[1] == "look.toml, limits.fold.value: 3; expected a number below 1"
    check_limits({}, "nothing")


@pytest.mark.parametrize("measure", MEASURES, ids=lambda m: m.name)
def test_every_measure_is_declared_whole(measure) -> None:
    assert (measure.watch - measure.ideal) * (measure.fail - measure.watch) > 0
    assert len(measure.reason) > 40 and measure.remedy and measure.title
    assert measure.state(measure.ideal) == "ok"
    beyond = measure.fail + 0.01 * (measure.fail - measure.ideal)
    assert measure.state(beyond) == "fail" and measure.harm(beyond) > 1.0
    middle = 0.5 * (measure.watch + measure.fail)
    assert measure.state(middle) == "watch" and 0.5 < measure.harm(middle) < 1.0
    assert measure.harm(measure.ideal) == 0.0
    assert measure.harm(measure.watch) == pytest.approx(0.5) and measure.harm(measure.fail) == pytest.approx(1.0)


@pytest.mark.parametrize("measure", MEASURES, ids=lambda m: m.name)
def test_watching_moves_with_a_limit_of_the_look_s_own(measure) -> None:
    """Twice as far from the ideal to fail is twice as far to watch; harm stays one half there and 1 at the end."""
    own = measure.ideal + 2.0 * (measure.fail - measure.ideal)
    watch = measure.watch_for(own)
    assert watch == pytest.approx(measure.ideal + 2.0 * (measure.watch - measure.ideal))
    assert measure.harm(watch, own) == pytest.approx(0.5) and measure.harm(own, own) == pytest.approx(1.0)
    off = 1e-6 * measure.side
    assert measure.state(watch - off, own) == "ok" and measure.state(watch + off, own) == "watch"
    assert measure.state(own - off, own) == "watch" and measure.state(own + off, own) == "fail"


def test_a_report_watches_from_where_the_look_s_own_limit_puts_it() -> None:
    """Skin at 25.4 degrees: with a limit of 60 watching begins at 40, so all is well; with one of 30 at 20."""
    for value, state, watch in ((60.0, "ok", 40.0), (30.0, "watch", 20.0)):
        own = OVERDONE.replace("pull = 1.0", "pull = 0.7")
        own += f'[limits.skin_hue]\nvalue = {value}\nreason = "puppets, not people"\n'
        hue = next(f for f in check(subject_of_look(parse_look(own))).findings if f.measure == "skin_hue")
        assert hue.value == pytest.approx(25.4, abs=0.1)
        assert (hue.state, hue.watch) == (state, pytest.approx(watch))


def test_harm_of_places_goes_on_below_the_ideal() -> None:
    """What the tuner is told is straight through the ideal; what is reported is not below 0."""
    measure = BY_NAME["skin_hue"]
    got = measure.signed_harm(np.array([-8.0, 0.0, 4.0, 8.0, 12.0, 16.0, np.nan]))
    np.testing.assert_allclose(got, [-0.5, 0.0, 0.25, 0.5, 1.0, 1.5, 0.0])
    assert measure.harm(-8.0) == 0.0


def test_a_report_is_data_in_order_of_harm() -> None:
    report = check(subject_of_look(parse_look(OVERDONE), "too-much"))
    data = json.loads(json.dumps(report.to_dict(), allow_nan=False))
    assert data["worst"] == "fail" and data["name"] == "too-much"
    order = {"fail": 0, "watch": 1, "ok": 2}
    keys = [(order[f["state"]], -f["harm"]) for f in data["findings"]]
    assert keys == sorted(keys)
    for finding in data["findings"]:
        assert finding["found"] and finding["reason"]
        if finding["state"] != "ok":
            assert finding["advice"]


def orange_still(name: str) -> tuple[Still, list[Mark]]:
    """Light skin (24-patch chart, ACEScct), each pixel otherwise lit and coloured, and a mark of 15,000 pixels on it:
    more than are looked at for each trial, so that a mean over those is not the mean of all."""
    codes = np.random.default_rng(0).normal((0.4898, 0.4613, 0.4367), 0.06, (150, 200, 3))
    still = Still(np.clip(codes, 0.0, 1.0).astype(np.float32), None, "float", Path(name))
    return still, [Mark("hand", (0.1, 0.1, 0.625, 0.8), None, "skin")]


def test_advice_on_a_still_is_tried_on_that_still() -> None:
    """The parameter named for a skin mark brings what it says, measured as a check of the changed look measures it."""
    look = parse_look(OVERDONE.replace("warm = 90.0", "warm = 110.0"))
    report = check(subject_of_look(look), [orange_still("hand.png")])
    mark = next(f for f in report.findings if f.measure == "still_skin_hue")
    assert mark.state == "fail" and "skin mark 'hand' of hand.png" in mark.found
    tried = [t for t in trials(look) if f"{t.label}: from {t.before} to {t.after} " in mark.advice]
    assert len(tried) == 1, mark.advice
    again = check(subject_of_look(tried[0].look), [orange_still("hand.png")])
    promised = float(mark.advice.split("would be ")[1].split()[0])
    now = next(f.value for f in again.findings if f.measure == "still_skin_hue")
    assert f"{now:.3g}" == f"{promised:.3g}" and now < mark.value


def test_trials_put_through_together_are_the_looks_they_stand_for() -> None:
    """Steps behind the changed one are run on all trials at once: each gives what its look compiled by itself gives."""
    look = parse_look(OVERDONE)
    subject = subject_of_look(look)
    tried = Tried(remembering(subject), look)
    asked = np.random.default_rng(3).uniform(0.0, 1.0, (20, 35, 3))
    tried.ask([lambda changed: changed.graded(asked)])
    assert len(tried.every) > 12 and len({t.index for t, _ in tried.every}) > 1
    for trial, changed in tried.every:
        # The look by itself leaves out steps at neutral and folds matrices: rounding alone.
        np.testing.assert_allclose(changed.graded(asked), compile_look(trial.look)(asked), rtol=0, atol=1e-11)
    worst = [np.abs(changed.graded(asked) - subject.graded(asked)).max() for _, changed in tried.every]
    assert np.median(worst) > 1e-4, "each is another look"


def test_codes_of_a_still_are_judged_as_its_pixels_are(tmp_path: Path) -> None:
    """Only what is looked at is made signal: all that is told is as for a still made signal whole."""
    pixels = np.random.default_rng(2).uniform(0.2, 0.6, (420, 700, 3)).astype(np.float32)
    pixels[100:200, 100:300] = [0.50, 0.42, 0.37]
    path = write(tmp_path / "take.png", pixels, depth="16")
    coded, whole = read_either(path), read(path)
    assert isinstance(coded, CodedStill) and isinstance(whole, Still)
    mark = Mark("hand", (0.2, 0.3, 0.1, 0.1), role="skin")
    subject = subject_of_look(parse_look(OVERDONE))
    one, other = (check(subject, [(still, [mark])]) for still in (coded, whole))
    for found, told in zip(one.findings, other.findings, strict=True):
        # The same numbers at another place in memory may add up to another last digit (NumPy 2.0.0).
        assert (found.measure, found.state) == (told.measure, told.state)
        assert (found.value, found.harm) == pytest.approx((told.value, told.harm), rel=1e-9, abs=1e-9)
    assert one.stills[0].clipped == other.stills[0].clipped and one.stills[0].crushed == other.stills[0].crushed
    assert one.stills[0].skin == other.stills[0].skin and one.stills[0].skin
    assert "pixels" not in vars(coded), "no more was made signal than was looked at"
    assert doubts_about(coded, subject.source) == doubts_about(whole, subject.source)


def test_a_remedy_that_breaks_something_else_is_said_to() -> None:
    """A steep scale with hardly a shoulder: a gentler slope moves its end to where the gradient breaks."""
    look = parse_look(
        '[source]\nencoding = "ACEScct"\n[output]\nencoding = "BT.1886"\n'
        '[[step]]\nkind = "render"\nslope = 1.9\nwhite = 2.6\n[[step]]\nkind = "gamut"\n'
    )
    report = check(subject_of_look(look))
    every, warned = list(trials(look)), 0
    for finding in report.findings:
        if finding.state == "ok":
            continue
        tried = [t for t in every if f"{t.label}: from {t.before} to {t.after} " in finding.advice]
        assert len(tried) == 1, finding.advice
        worse = states(check(subject_of_look(tried[0].look)), "fail") - states(report, "fail")
        warned += bool(worse)
        assert bool(worse) == ("but then" in finding.advice), finding.advice
        assert all(BY_NAME[m].title in finding.advice for m in worse)
    assert 0 < warned < len([f for f in report.findings if f.state != "ok"])


PULLED, PALER, TURNED = "split.pull 0.7", "saturation.amount 1.63", "split.warm 75"


def made_up(
    brings: dict[str, tuple[float, float]], ease: list[Ease], code: np.ndarray
) -> Callable[[Subject], Measured]:
    """A measure that says what each parameter would bring: (skin hue, tint of the grey card)."""

    def measured(changed: Subject) -> Measured:
        """Which parameter was moved is told by what becomes of one code."""
        seen = changed.graded(code)
        moved = next(f"{t.label} {t.after}" for t, s in ease[0]._tried.every if np.array_equal(s.graded(code), seen))
        hue, tint = brings.get(moved, (20.0, 0.0))
        return Measured([Places("skin_hue", np.array([hue]), str), Places("grey_card_tint", np.array([tint]), str)])

    return measured


def advised(quick: dict[str, tuple[float, float]], whole: dict[str, tuple[float, float]]) -> str:
    """Advice on 20 degrees of skin hue, by what a quick and a whole measurement say that parameters bring."""
    look = parse_look(OVERDONE)
    subject = subject_of_look(look)
    ease: list[Ease] = []
    code = subject.feed(np.array([[0.3, 0.1, 0.05]]))
    measurements = [made_up(brings, ease, code) for brings in (quick, whole)]
    harm = {"skin_hue": BY_NAME["skin_hue"].harm(20.0), "grey_card_tint": 0.0}
    ease.append(Ease(subject, look, measurements[1:], harm))
    return ease[0].advise(Value("skin_hue", 20.0, ""), *measurements)


@pytest.mark.parametrize(
    ("brings", "advice"),
    [
        ({PULLED: (5.0, 0.0), PALER: (9.0, 0.0)}, "Ease split.pull: from 1 to 0.7 it would be 5 deg."),
        # The stronger remedy makes another measure fail: the other goes first, and alone it is told with that.
        ({PULLED: (5.0, 20.0), PALER: (9.0, 0.0)}, "Ease saturation.amount: from 1.9 to 1.63 it would be 9 deg."),
        (
            {PULLED: (5.0, 20.0)},
            "Ease split.pull: from 1 to 0.7 it would be 5 deg, but then tint of the grey card would fail.",
        ),
        # What has no neutral value is another look: it must bring clearly more than going back does.
        ({PALER: (6.0, 0.0), TURNED: (5.0, 0.0)}, "Ease saturation.amount: from 1.9 to 1.63 it would be 6 deg."),
        ({PALER: (9.5, 0.0), TURNED: (3.0, 0.0)}, "Ease saturation.amount: from 1.9 to 1.63 it would be 9.5 deg."),
        ({PALER: (19.0, 0.0), TURNED: (9.0, 0.0)}, "Change split.warm: from 90 to 75 it would be 9 deg."),
        # Where going back leaves nothing to watch, that is enough.
        ({PALER: (7.9, 0.0), TURNED: (0.0, 0.0)}, "Ease saturation.amount: from 1.9 to 1.63 it would be 7.9 deg."),
        # A gain of less than a twentieth is none.
        ({PULLED: (19.5, 0.0)}, "No one parameter eases this much: lower the look's strength (now 1)."),
    ],
)
def test_which_remedy_is_named(brings: dict[str, tuple[float, float]], advice: str) -> None:
    assert advised(brings, brings) == advice


def test_a_remedy_must_hold_when_it_is_measured_in_full() -> None:
    """What the places of the first look promised: nothing in full for one parameter, more than nothing for another."""
    quick = {PULLED: (5.0, 0.0), PALER: (9.0, 0.0)}
    assert advised(quick, {PALER: (12.0, 0.0)}) == "Ease saturation.amount: from 1.9 to 1.63 it would be 12 deg."
    assert advised(quick, {}) == "No one parameter eases this much: lower the look's strength (now 1)."


def test_every_value_tried_is_one_the_recipe_may_hold() -> None:
    """Every step there is, every number at either bound and at its default: nothing is tried past a bound, and what
    has a neutral value is only ever moved toward it."""
    for kind, model in registry().items():
        for name, _, info in model.parameters():
            for value in (info.low, info.high, info.soft_low, info.soft_high, 0.5 * (info.low + info.high)):
                for then in targets(info, value):
                    assert info.low <= then <= info.high, f"{kind}.{name}"
                    if info.neutral is not None:
                        assert abs(then - info.neutral) < abs(value - info.neutral), f"{kind}.{name}"
                    else:
                        assert min(value, info.soft_low) <= then <= max(value, info.soft_high), f"{kind}.{name}"
            if info.neutral is not None:
                assert targets(info, info.neutral) == []


def test_rounding_does_not_carry_a_value_past_its_bound() -> None:
    info = ParamInfo(0.0, 1.2355, None, "", "", 0.5, 1.2355, "linear", True, "")
    assert targets(info, 1.2354) == [1.01, 1.2355]  # 1.23543 to three digits would be 1.24


@pytest.mark.parametrize("path", LOOKS, ids=lambda p: p.stem)
def test_every_number_of_a_look_is_tried(path: Path) -> None:
    """Not from a list: whatever numbers its steps have, but for those that stand at their neutral value."""
    look = read_look(path)
    tried = {t.label.split(" (")[0] for t in trials(look)}
    wanted = {
        f"{s.kind}.{n.words}"
        for s in look.steps
        if s.on
        for n in numbers(s)
        if n.info.neutral is None or abs(n.value - n.info.neutral) > 1e-9
    }
    assert tried >= wanted and len(wanted) > 15


@pytest.mark.parametrize("change", ["", "strength", "log"])
def test_what_is_tried_is_the_changed_look(change: str) -> None:
    """Only the moved step is prepared again; it gives what the changed look compiled afresh gives, plain too."""
    look = parse_look(OVERDONE)
    if change == "strength":
        look = look.with_strength(0.6)
    if change == "log":
        text = OVERDONE.replace('encoding = "BT.1886"', 'encoding = "ACEScct"')
        look = parse_look(text.split('[[step]]\nkind = "render"')[0])
    codes = np.random.default_rng(4).uniform(0.05, 0.95, (200, 3))
    seen, other_plain = set(), set()
    base = subject_of_look(look)
    for trial, subject in Tried(remembering(base), look).every:
        fresh = subject_of_look(trial.look)
        np.testing.assert_allclose(subject.graded(codes), fresh.graded(codes), atol=1e-6, err_msg=trial.label)
        np.testing.assert_allclose(subject.plain(codes), fresh.plain(codes), atol=1e-6, err_msg=trial.label)
        seen.add(trial.label)
        if np.abs(fresh.plain(codes) - base.plain(codes)).max() > 1e-4:
            other_plain.add(trial.label)
    assert {"split.pull", "saturation.amount", "split.warm"} <= seen
    # The tints of this split are off, so how wide they are changes nothing and is not tried.
    assert "split.width" not in seen and "split.width" in {t.label for t in trials(look)}
    # What render gives fits the output: gamut behind it is left out, so moving its numbers changes nothing. Nor does
    # another peak, held within what BT.1886 carries.
    assert not any(label.startswith("gamut") for label in seen)
    assert other_plain == (set() if change == "log" else {"render.threshold"})
