"""Refined lattices on small smooth looks: better for both lookups, grey exact, nowhere much worse."""

from __future__ import annotations

from collections import Counter
from dataclasses import astuple
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from lookwright.colour.difference import ciede2000
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import LutFileError, PictureError
from lookwright.lut.fit import judge
from lookwright.lut.fit.appearance import ends_of, lab_of, sensitivity
from lookwright.lut.fit.content import Content
from lookwright.lut.fit.fidelity import Fidelity
from lookwright.lut.fit.limits import DIGITS, Limits
from lookwright.lut.fit.lookups import Lookups, Slice
from lookwright.lut.fit.prior import draw, even
from lookwright.lut.fit.refine import BOUND, refine, report
from lookwright.lut.fit.shares import HELD, shared
from lookwright.lut.fit.solve import Fit, inverse, times
from lookwright.lut.fit.threads import on_threads
from lookwright.lut.fit.weights import bends, cell_of, tetrahedral_weights, trilinear_weights
from lookwright.lut.lattices.interpolate import lookup
from lookwright.lut.lattices.lattice import Lattice, grid, sample
from lookwright.lut.lattices.samples import edges, fingerprint, neutrals, per_cell, sample_stills, spread

DISPLAY = Signal.named("BT.1886")
LAB = lab_of(DISPLAY)
LOOKUPS = ("trilinear", "tetrahedral")
MIX = np.array([[0.8, 0.15, 0.05], [0.1, 0.8, 0.1], [0.05, 0.2, 0.75]])


def look(signal: np.ndarray) -> np.ndarray:
    """A smooth S-curve with crosstalk: strictly inside 0..1, curved everywhere, greys stay grey."""
    return 1.0 / (1.0 + np.exp(-7.0 * (signal @ MIX.T - 0.5)))


def one_by_one(function: Any, parts: Any) -> list[Any]:
    return [function(p) for p in parts]


def differences(lattice: Lattice, points: np.ndarray) -> np.ndarray:
    return np.stack([ciede2000(LAB(look(points)), LAB(lookup(lattice, points, name))) for name in LOOKUPS])


@pytest.fixture(scope="module")
def stills() -> np.ndarray:
    """Pixels round a few colours, as pictures have them."""
    rng = np.random.default_rng(3)
    centres = rng.uniform(0.2, 0.8, (5, 3))
    return np.clip(centres[rng.integers(0, 5, 6000)] + rng.normal(0.0, 0.05, (6000, 3)), 0.0, 1.0)


@pytest.fixture(scope="module")
def refined(stills: np.ndarray) -> Any:
    return refine(look, 9, stills, to_lab=LAB, ends=ends_of(DISPLAY))


# ---------------------------------------------------------------- what the user gets


def alike(found: Fidelity, wanted: Fidelity) -> None:
    """Equal to rounding: numpy 2.0 rounds a product by how many rows it has, and by where they lie in memory."""
    assert found.samples == wanted.samples
    for kind in ("trilinear", "tetrahedral"):
        a, b = (astuple(getattr(f, kind)) for f in (found, wanted))
        np.testing.assert_allclose(a, b, rtol=0, atol=1e-9)


def test_both_lookups_err_less_at_colours_never_fitted(refined: Any, stills: np.ndarray) -> None:
    rng = np.random.default_rng(77)
    nearby = np.clip(stills[:2000] + rng.normal(0.0, 0.01, (2000, 3)), 0.0, 1.0)
    # Measured 0.49 / 0.53 near the stills and 0.54 / 0.57 in the cube; the local means alone give 0.51 / 0.56 and
    # 0.55 / 0.58.
    for points, most in ((nearby, 0.54), (rng.random((20_000, 3)), 0.575)):
        plain, better = differences(refined.plain, points), differences(refined.lattice, points)
        assert (better.mean(axis=1) < most * plain.mean(axis=1)).all()
        assert (np.percentile(better, 99, axis=1) < np.percentile(plain, 99, axis=1)).all()


def test_what_the_report_is_made_of_was_seen_by_no_fit_and_no_choice(stills: np.ndarray) -> None:
    """Colours that are judged are asked of the look once, at the very end; a fit or a choice would ask before that."""
    asked: list[np.ndarray] = []

    def recorded(signal: np.ndarray) -> np.ndarray:
        asked.append(np.array(signal).reshape(-1, 3))
        return look(signal)

    three = stills.reshape(3, 2000, 3)
    done = refine(recorded, 5, three, to_lab=LAB, ends=ends_of(DISPLAY), threads=1)
    order = list(map(bytes, np.ascontiguousarray(np.concatenate(asked))))
    shares = shared(three)
    reported = {
        "stills": shares.kept.reshape(-1, 3),
        "left_out": three[2],
        "natural": draw(even, judge.NATURAL, judge.SEED),
        "cube": spread(judge.CUBE, 3, judge.SEED),
    }
    assert {name: len(points) for name, points in reported.items()} == {n: f.samples for n, f in done.report.items()}
    colours = {bytes(p) for points in reported.values() for p in points}
    times_asked = Counter(order)
    assert {times_asked[c] for c in colours} == {1}
    assert set(order[-len(colours) :]) == colours, "nothing is asked after them"
    # What was fitted to and chosen by is there too, before them; so the look was not asked behind our back.
    assert {bytes(p) for part in (shares.fitted, shares.chosen) for p in part.reshape(-1, 3)} < set(
        order[: -len(colours)]
    )


def test_no_colour_of_a_still_serves_two_ends() -> None:
    numbered = np.arange(7 * 203 * 3, dtype=np.float64).reshape(7, 203, 3)
    shares = shared(numbered)
    parts = [set(p[..., 0].ravel()) for p in (shares.fitted, shares.chosen, shares.kept, shares.left_out)]
    assert sum(map(len, parts)) == 7 * 203 == len(set().union(*parts))
    assert len(shares.left_out) == 1 and len(shares.fitted) == 6
    assert [len(shared(numbered[:n]).left_out) for n in (1, 2, 5)] == [0, 1, 1]
    assert len(shared(np.zeros((20, 5, 3))).left_out) == 4


def test_pixels_kept_for_the_report_move_nothing_and_the_others_do(stills: np.ndarray) -> None:
    """With a bound that nothing breaks, for a pixel that breaks it does shorten the points about it."""
    turn = np.arange(len(stills)) % HELD
    kept, chosen = turn == 2, turn == 4
    first, *changed = (
        refine(look, 5, points, bound=100.0, to_lab=LAB, ends=ends_of(DISPLAY))
        for points in (
            stills,
            np.where(kept[:, None], stills[::-1] * 0.5, stills),
            np.where((kept | chosen)[:, None], stills, stills[::-1] * 0.5),
        )
    )
    assert np.array_equal(changed[0].lattice.table, first.lattice.table)
    assert changed[0].report["stills"] != first.report["stills"]
    assert not np.array_equal(changed[1].lattice.table, first.lattice.table)
    assert changed[1].report["stills"].samples == first.report["stills"].samples == kept.sum()


def test_a_still_left_out_moves_nothing_and_the_others_do(stills: np.ndarray) -> None:
    three = stills.reshape(3, 2000, 3)
    other = three[:, ::-1] * 0.5
    first, *changed = (
        refine(look, 5, np.stack(points), bound=100.0, to_lab=LAB, ends=ends_of(DISPLAY))
        for points in (three, (three[0], three[1], other[2]), (other[0], three[1], three[2]))
    )
    assert np.array_equal(changed[0].lattice.table, first.lattice.table)
    assert changed[0].report["left_out"] != first.report["left_out"]
    alike(changed[0].report["stills"], first.report["stills"])
    assert not np.array_equal(changed[1].lattice.table, first.lattice.table)


def test_neither_lookup_is_served_at_the_cost_of_the_other(stills: np.ndarray) -> None:
    """A look with strong products of channels, which the two lookups see differently."""

    def twisted(signal: np.ndarray) -> np.ndarray:
        product = (np.roll(signal, 1, axis=-1) - 0.5) * (signal - 0.5)
        return 0.5 + 0.45 * np.sin(2.5 * (signal @ MIX.T - 0.5) + 2.0 * product)

    done = refine(twisted, 9, stills, to_lab=LAB, ends=ends_of(DISPLAY))
    for name in LOOKUPS:
        # Measured 0.61 and 0.65; with the residuals of one lookup alone the other gets 1.17 or 0.82 of plain.
        share = {"trilinear": 0.72, "tetrahedral": 0.74}[name]
        assert getattr(done.report["stills"], name).mean < share * getattr(done.plain_report["stills"], name).mean


def test_colours_that_the_stills_do_not_hold_do_not_lose() -> None:
    """Six stills of one dull corner; judged in the whole cube."""
    rng = np.random.default_rng(12)

    def twisted(signal: np.ndarray) -> np.ndarray:
        product = (np.roll(signal, 1, axis=-1) - 0.5) * (signal - 0.5)
        return 0.5 + 0.45 * np.sin(2.5 * (signal @ MIX.T - 0.5) + 2.0 * product)

    dull = np.clip(rng.normal([0.3, 0.35, 0.4], 0.03, (6, 4000, 3)), 0.0, 1.0)
    done = refine(twisted, 9, dull, to_lab=LAB, ends=ends_of(DISPLAY))
    cube = rng.random((20_000, 3))
    wanted = LAB(twisted(cube))
    for name in LOOKUPS:
        before, after = (ciede2000(wanted, LAB(lookup(x, cube, name))) for x in (done.plain, done.lattice))
        assert after.mean() < before.mean() and np.percentile(after, 99) < np.percentile(before, 99)
    assert set(done.report) == {"stills", "left_out", "natural", "cube"}
    assert done.report["left_out"].trilinear.mean < done.plain_report["left_out"].trilinear.mean


def test_no_tetrahedron_turns_over_that_did_not_before() -> None:
    """A look that presses hard: a steep curve, clipped at both ends, with crosstalk."""
    from lookwright.lut.fit.folds import base_of_cells, determinants, flat_volume

    def hard(signal: np.ndarray) -> np.ndarray:
        return np.clip(3.0 * (signal @ MIX.T - 0.4) ** 3 + 1.2 * (signal - 0.3), 0.0, 1.0)

    for size in (12, 16):
        done = refine(hard, size, to_lab=LAB, ends=(0.0, 1.0))
        before, after = (
            determinants(np.round(x.table.reshape(-1, 3), 6), size, base_of_cells(size))
            for x in (done.plain, done.lattice)
        )
        flat = flat_volume(size)
        assert not ((after < -flat) & (before >= -flat)).any()
        assert not np.array_equal(done.lattice.table, done.plain.table)


def test_other_software_sees_the_gain_too(refined: Any) -> None:
    """OpenColorIO's lookups, and CIEDE2000 as colour-science computes it."""
    import colour

    from lookwright.lut.lattices.apply import Applier

    points = np.random.default_rng(5).random((1, 20_000, 3)).astype(np.float32)
    wanted = LAB(look(points.astype(np.float64)))
    for name in LOOKUPS:
        mean = {}
        for kind, lattice in (("plain", refined.plain), ("refined", refined.lattice)):
            found = LAB(Applier(lattice, name)(points).astype(np.float64))
            mean[kind] = float(np.mean(colour.delta_E(wanted, found, method="CIE 2000")))
        assert mean["refined"] < 0.65 * mean["plain"]


def test_neutral_points_are_exactly_those_of_the_look(refined: Any) -> None:
    along = np.arange(9)
    greys = refined.lattice.table[along, along, along]
    assert np.array_equal(greys, look(np.repeat(along[:, None] / 8.0, 3, axis=1)))


def test_greys_between_the_points_gain_in_trilinear_and_do_not_lose_in_tetrahedral(refined: Any) -> None:
    greys = np.repeat(np.linspace(0.0, 1.0, 501)[:, None], 3, axis=1)
    plain, better = differences(refined.plain, greys), differences(refined.lattice, greys)
    assert better[0].mean() < 0.48 * plain[0].mean()  # measured 0.43; greys have a fiftieth of the weight
    # A tetrahedral lookup of grey uses neutral points alone, and those are held.
    assert np.allclose(better[1], plain[1], rtol=0, atol=1e-9)


@pytest.mark.parametrize("bound", [0.1, 0.5, BOUND])
def test_the_bound_holds_everywhere(stills: np.ndarray, bound: float) -> None:
    done = refine(look, 9, stills, bound=bound, to_lab=LAB, ends=ends_of(DISPLAY))
    cube = np.random.default_rng(8).random((20_000, 3))
    # Points of the lattice (where plain is exact), cell centres, and points across cell faces, none of them fitted.
    points = np.concatenate([grid(9).reshape(-1, 3), grid(25).reshape(-1, 3), cube])
    worse = differences(done.lattice, points) - differences(done.plain, points)
    assert worse.max() <= bound
    assert 0.0 < done.worst <= bound
    assert worse.max() > 0.0, "a refined lattice moves its points; if none is worse anywhere, nothing was done"


def test_the_bound_is_held_for_either_lookup_and_what_is_told_is_the_worst() -> None:
    """Displacements that no fit would make, so that the bound has work to do."""
    plain = sample(look, 5)
    checked = Content(look, LAB, np.random.default_rng(2).random((4000, 3)), one_by_one)
    before = checked.differences(plain)
    limits = Limits(plain, LAB, ends_of(DISPLAY), 0.5, one_by_one)
    lattice, told = limits.held(np.random.default_rng(3).normal(0.0, 0.02, (125, 3)) * limits.free, checked, before)
    after = checked.differences(lattice)
    # To rounding: colours that a further attempt changes are told by themselves, and numpy 2.0 rounds a product by how
    # many rows it has.
    np.testing.assert_allclose(told, after, rtol=0, atol=1e-9)
    assert 0.1 < (after - before).max() <= 0.5


def test_the_bound_is_checked_on_edges_too() -> None:
    """There a lookup is a mean of two points only, and spreads of the cube do not hit them."""
    asked: list[np.ndarray] = []

    def recorded(signal: np.ndarray) -> np.ndarray:
        asked.append(np.array(signal).reshape(-1, 3))
        return look(signal)

    refine(recorded, 5, to_lab=LAB, threads=1)
    on_edges = ((np.concatenate(asked) * 4.0 % 1.0 == 0.0).sum(axis=1) == 2).sum()
    assert on_edges >= 19_000


def test_a_tight_bound_is_what_limits(stills: np.ndarray) -> None:
    means = [
        refine(look, 7, stills, bound=b, to_lab=LAB, ends=ends_of(DISPLAY)).report["cube"].trilinear.mean
        for b in (0.02, 0.3, 3.0)
    ]
    assert means[0] > means[1] > means[2]


def test_threads_do_not_change_a_bit(stills: np.ndarray) -> None:
    tables = [refine(look, 7, stills, threads=n, to_lab=LAB).lattice.table.tobytes() for n in (1, 2, 3)]
    assert tables[0] == tables[1] == tables[2]


def test_last_bits_of_the_look_do_not_reach_the_digits_written(stills: np.ndarray) -> None:
    """What another release of numpy may do to exp and log must not show in the file."""

    def disturbed(signal: np.ndarray) -> np.ndarray:
        return look(signal) * (1.0 + np.finfo(float).eps * np.sign(np.sin(1e6 * signal)))

    one = refine(look, 9, stills, to_lab=LAB).lattice.table
    two = refine(disturbed, 9, stills, to_lab=LAB).lattice.table
    assert np.array_equal(np.round(one, 6), np.round(two, 6))


def test_values_have_five_decimals_but_for_greys(refined: Any) -> None:
    table = refined.lattice.table.reshape(-1, 3).copy()
    table[np.arange(9) * (81 + 9 + 1)] = 0.5
    assert np.array_equal(table, np.round(table, DIGITS))


def test_without_stills_the_cube_alone_is_fitted() -> None:
    done = refine(look, 9, to_lab=LAB, ends=ends_of(DISPLAY))
    assert set(done.report) == {"natural", "cube"}
    assert done.report["cube"].tetrahedral.mean < 0.65 * done.plain_report["cube"].tetrahedral.mean
    assert done.report["cube"].trilinear.mean < 0.65 * done.plain_report["cube"].trilinear.mean
    assert done.made_by.endswith("no stills") and done.fingerprint == ""


def test_seed_and_stills_are_named_in_the_header(stills: np.ndarray) -> None:
    one, two = (refine(look, 5, stills, seed=s, to_lab=LAB) for s in (1, 2))
    assert not np.array_equal(one.lattice.table, two.lattice.table)
    assert "seed 1" in one.made_by and "seed 2" in two.made_by and fingerprint(stills) in one.made_by
    assert len(one.made_by) < 240


def test_a_look_that_lattices_hold_exactly_is_left_alone(stills: np.ndarray) -> None:
    done = refine(lambda s: 0.1 + 0.8 * s @ MIX.T, 5, stills, to_lab=LAB)
    assert np.allclose(done.lattice.table, done.plain.table, rtol=0, atol=1e-5)
    assert done.report["cube"].trilinear.max < 1e-3


def test_display_values_stay_between_black_and_peak_and_scene_values_do_not_have_to(stills: np.ndarray) -> None:
    def steep(signal: np.ndarray) -> np.ndarray:
        return np.clip(1.4 * (signal @ MIX.T) ** 2 - 0.05, 0.0, 1.0)

    held = refine(steep, 9, stills, to_lab=LAB, ends=(0.0, 1.0)).lattice.table
    assert held.min() == 0.0 and held.max() == 1.0
    free = refine(steep, 9, stills, to_lab=LAB, ends=None).lattice.table
    assert free.min() < 0.0 or free.max() > 1.0
    assert ends_of(Signal.named("ACEScct")) is None
    assert ends_of(Signal.named("BT.1886", range="legal")) == pytest.approx((64 / 1023, 940 / 1023))


def test_a_log_look_is_judged_through_the_plain_rendering() -> None:
    scene = Signal.named("ACEScct")
    grey = lab_of(scene)(np.full((1, 3), 0.4135884))[0]  # 18 % grey, S-2016-001
    assert grey[0] == pytest.approx(37.84, abs=0.05)  # 10 cd/m2 of 100: L* = 116 * 0.1^(1/3) - 16
    assert np.abs(grey[1:]).max() < 0.05


def test_report_judges_any_lattice_at_the_same_colours(refined: Any, stills: np.ndarray) -> None:
    for lattice, known in ((refined.lattice, refined.report), (refined.plain, refined.plain_report)):
        found = report(look, lattice, stills, to_lab=LAB, prior=even)
        assert found.keys() == known.keys()
        for name, fidelity in known.items():
            alike(found[name], fidelity)
    assert set(report(look, refined.lattice, None, to_lab=LAB)) == {"cube"}


def test_progress_ends_at_the_end(stills: np.ndarray) -> None:
    told: list[tuple[int, int]] = []
    refine(look, 3, stills, progress=lambda done, total: told.append((done, total)), to_lab=LAB)
    assert told[-1] == (100, 100) and told == sorted(told)


def test_faults_are_one_line() -> None:
    with pytest.raises(LutFileError, match="points per axis"):
        refine(look, 1, to_lab=LAB)
    with pytest.raises(PictureError, match="NaN"):
        refine(look, 5, np.array([[0.1, np.nan, 0.2]]), to_lab=LAB)
    with pytest.raises(LutFileError, match="finite"):
        refine(lambda s: np.where(s > 0.9, np.inf, s), 5, to_lab=LAB)
    with pytest.raises(TypeError, match="to_lab"):
        refine(look, 5)
    for seed in (0, 999_999):
        with pytest.raises(ValueError, match="expected 1 to 999998"):
            refine(look, 5, seed=seed, to_lab=LAB)


# ---------------------------------------------------------------- the parts


@pytest.mark.parametrize("n", [2, 3, 6])
def test_shares_are_those_of_the_lookups(n: int) -> None:
    """Against our own exact lookups; trilinear also against scipy's interpolator."""
    from scipy.interpolate import RegularGridInterpolator

    rng = np.random.default_rng(n)
    lattice = Lattice(rng.random((n, n, n, 3)))
    values = lattice.table.reshape(-1, 3)
    points = np.concatenate([rng.random((500, 3)), grid(n).reshape(-1, 3), [[0.5, 0.5, 0.5], [1.0, 0.3, 0.3]]])
    tri, tet = trilinear_weights(n, points), tetrahedral_weights(n, points)
    assert np.allclose(tri @ values, lookup(lattice, points, "trilinear"), rtol=0, atol=1e-14)
    assert np.allclose(tet @ values, lookup(lattice, points, "tetrahedral"), rtol=0, atol=1e-14)
    axis = np.linspace(0.0, 1.0, n)
    assert np.allclose(tri @ values, RegularGridInterpolator((axis,) * 3, lattice.table)(points), rtol=0, atol=1e-12)
    for shares in (tri, tet):
        assert np.allclose(np.asarray(shares.sum(axis=1)).ravel(), 1.0, rtol=0, atol=1e-14) and shares.data.min() >= 0.0
    assert cell_of(n, points).max() < n**3


def test_lookups_slice_by_slice_are_those_of_all_at_once_whatever_the_order_and_the_threads() -> None:
    """Over more colours than are worked on at once; sorted by cells, as fits have them, and not."""
    n = 7
    rng = np.random.default_rng(9)
    points = rng.random((20_000, 3))
    for some in (points, points[np.argsort(cell_of(n, points), kind="stable")]):
        shares = [trilinear_weights(n, some), tetrahedral_weights(n, some)]
        lookups = Lookups(n, some, one_by_one)
        values, weights = rng.random((n**3, 3)), rng.random((2, len(some)))
        wanted = np.stack([s @ values for s in shares])
        assert np.allclose(lookups.forth(values, one_by_one), wanted, rtol=0, atol=1e-14)

        def weighed(at: Slice, weights: np.ndarray = weights) -> np.ndarray:
            return weights[:, at.part].reshape(-1, 1)

        for squared in (False, True):
            found = lookups.back(weighed, 1, one_by_one, squared)[:, 0]
            by_hand = sum((s.power(2) if squared else s).T @ w for s, w in zip(shares, weights, strict=True))
            assert np.allclose(found, by_hand, rtol=1e-12, atol=0)
            with on_threads(3) as run:
                assert np.array_equal(lookups.back(weighed, 1, run, squared)[:, 0], found)


def test_bends_are_second_differences() -> None:
    n = 5
    rng = np.random.default_rng(1)
    values = rng.random((n, n, n))
    k = bends(n)
    by_hand = sum((np.diff(values, 2, axis=a) ** 2).sum() for a in range(3))
    assert values.ravel() @ (k @ values.ravel()) == pytest.approx(by_hand, rel=1e-12)
    assert np.abs(k @ grid(n).reshape(-1, 3)).max() < 1e-13
    assert bends(2).nnz == 0


def test_closed_inverse() -> None:
    a = np.random.default_rng(2).normal(size=(40, 3, 3))
    a = a @ a.transpose(0, 2, 1) + 0.1 * np.eye(3)
    q = np.stack([a[:, i, j] for i, j in ((0, 0), (1, 1), (2, 2), (0, 1), (0, 2), (1, 2))])
    v = np.random.default_rng(3).normal(size=(40, 3))
    assert np.allclose(times(inverse(q), v), np.linalg.solve(a, v[..., None])[..., 0], rtol=1e-9, atol=1e-12)


def test_solution_is_that_of_dense_least_squares() -> None:
    n, count = 4, 300
    rng = np.random.default_rng(4)
    points, residual = rng.random((count, 3)), rng.normal(size=(2, count, 3))
    root = rng.normal(size=(n**3, 3, 3))
    square = np.einsum("sji,sjk->sik", root, root)
    q = np.stack([square[:, i, j] for i, j in ((0, 0), (1, 1), (2, 2), (0, 1), (0, 2), (1, 2))])
    weight = rng.uniform(0.5, 2.0, (2, count))
    free = np.ones((n**3, 3), bool)
    free[[0, 21, 42, 63]] = False
    free[5, 1] = False
    fit = Fit(Lookups(n, points, one_by_one), q, one_by_one)
    fit.stiffen(weight, 0.05)
    found = fit.solve(residual, weight, np.zeros((n**3, 3)), free, 400)

    shares = [trilinear_weights(n, points).toarray(), tetrahedral_weights(n, points).toarray()]
    # Sensitivities between the points are interpolated trilinearly.
    between = np.einsum("sn,nij->sij", shares[0], square)
    normal, right = np.zeros((n**3 * 3, n**3 * 3)), np.zeros(n**3 * 3)
    block = np.zeros((n**3, 3))
    for w, r, s in zip(weight, residual, shares, strict=True):
        normal += np.einsum("s,sij,sn,sm->nimj", w, between, s, s).reshape(normal.shape)
        right += np.einsum("s,sij,sj,sn->ni", w, between, r, s).ravel()
        block += np.einsum("s,sii,sn->ni", w, between, s * s)
    diagonal = block.mean(axis=1)
    stiffness = 0.05 * (diagonal + 1e-3 * diagonal.mean())
    for axis in range(3):
        index = np.moveaxis(np.arange(n**3).reshape(n, n, n), axis, 0)
        for low, middle, high in zip(index[:-2].ravel(), index[1:-1].ravel(), index[2:].ravel(), strict=True):
            row = np.zeros(n**3)
            row[[low, middle, high]] = 1.0, -2.0, 1.0
            normal += stiffness[middle] * np.kron(np.outer(row, row), np.eye(3))
    keep = free.ravel()
    wanted = np.zeros(n**3 * 3)
    wanted[keep] = np.linalg.solve(normal[np.ix_(keep, keep)], right[keep])
    assert np.allclose(found.ravel(), wanted, rtol=0, atol=1e-8)


def test_local_mean_undoes_a_constant_error_in_one_step() -> None:
    """Where both lookups err alike everywhere, as for a parabola a channel, the start is the answer."""
    n = 6
    points = per_cell(n, 64, 2)
    fit = Fit(Lookups(n, points, one_by_one), np.ones((6, n**3)), one_by_one)
    weight = np.full((2, len(points)), 0.5)
    assert np.allclose(fit.local_mean(np.full((2, len(points), 3), 0.25), weight), 0.25, rtol=0, atol=1e-12)
    values = grid(n).reshape(-1, 3) ** 2
    residual = points**2 - fit.looked_up(values)
    # Chords of x^2 of width h lie h^2/6 too high in the mean.
    moved = fit.local_mean(residual, weight).reshape(n, n, n, 3)[1:-1, 1:-1, 1:-1]
    assert np.allclose(moved, -(0.2**2) / 6.0, rtol=0.05, atol=0.0)


def test_sensitivity_foretells_ciede2000() -> None:
    rng = np.random.default_rng(6)
    signal = rng.uniform(0.1, 0.9, (400, 3))
    signal[:50] = signal[:50, :1]  # greys
    error = rng.normal(0.0, 0.002, (400, 3))
    foretold = np.sqrt((times(sensitivity(signal, LAB), error) * error).sum(axis=1))
    found = ciede2000(LAB(signal), LAB(signal + error))
    ratio = foretold / found
    # First order, over errors of a few codes: 1.3 % for nine in ten, 7 % at worst (a very dark grey).
    assert np.percentile(np.abs(ratio - 1.0), 90) < 0.02
    assert np.abs(ratio - 1.0).max() < 0.08


def test_spreads_are_even_and_fixed() -> None:
    """Element by element those of scipy's Halton sequence, which begins with the zeroth."""
    from scipy.stats import qmc

    points = spread(500, 3, 0)
    assert np.allclose(points, qmc.Halton(3, scramble=False).random(501)[1:], rtol=0, atol=1e-15)
    # Far along, and over more than one run of low digits; the elements in between are skipped.
    wanted = qmc.Halton(3, scramble=False).fast_forward(3 * 2**20 + 1).random(10_000)
    assert np.allclose(spread(10_000, 3, 3), wanted, rtol=0, atol=1e-14)
    later = spread(4096, 3, 7)
    assert qmc.discrepancy(later) < 1e-5, "random draws have 1.3e-4"
    assert later.min() >= 0.0 and later.max() < 1.0
    assert np.array_equal(later[:100], spread(100, 3, 7)) and not np.array_equal(later, spread(4096, 3, 8))
    with pytest.raises(ValueError, match="seed"):
        spread(3, 3, -1)


def test_every_cell_is_sampled_and_greys_lie_between_the_points() -> None:
    cells = cell_of(5, per_cell(5, 3, 1))
    assert (np.unique(cells, return_counts=True)[1] == 3).all() and len(np.unique(cells)) == 64
    greys = neutrals(5, 2)
    assert greys[:, 0] == pytest.approx([1 / 16, 3 / 16, 5 / 16, 7 / 16, 9 / 16, 11 / 16, 13 / 16, 15 / 16])


def test_pixels_are_drawn_evenly_and_alike_every_time(tmp_path: Path) -> None:
    from lookwright.pictures.stills import write

    ramp = np.linspace(0.0, 1.0, 64 * 48, dtype=np.float32).reshape(48, 64, 1).repeat(3, axis=2)
    write(tmp_path / "ramp.png", ramp)
    write(tmp_path / "white.png", np.ones((8, 8, 3), np.float32))
    drawn = sample_stills([tmp_path / "ramp.png", tmp_path / "white.png"], 1999, seed=1)
    assert drawn.shape == (2, 1000, 3) and (drawn[1] == 1.0).all()
    assert np.quantile(drawn[0, :, 0], [0.25, 0.5, 0.75]) == pytest.approx([0.25, 0.5, 0.75], abs=0.01)
    # What is kept for choices and for the report is spread as evenly as the rest.
    shares = shared(drawn)
    for part in (shares.chosen, shares.kept):
        assert np.quantile(part[0, :, 0], [0.25, 0.5, 0.75]) == pytest.approx([0.25, 0.5, 0.75], abs=0.02)
    assert np.array_equal(drawn, sample_stills([tmp_path / "ramp.png", tmp_path / "white.png"], 1999, seed=1))
    with pytest.raises(PictureError, match="none were named"):
        sample_stills([])


def test_plain_lattice_is_the_plain_bake(refined: Any) -> None:
    assert np.array_equal(refined.plain.table, sample(look, 9).table)


@pytest.mark.parametrize(("size", "expected"), [(2, 12), (5, 300), (40, 6 * 2 * 40 * 39 - 12 * 39)])
def test_edges_lie_on_edges(size: int, expected: int) -> None:
    """On each edge alike: 3 N^2 (N - 1) edges in all, or those of the surface, where edges of the cube count once."""
    each = 4 if size < 40 else 1
    points = edges(size, expected * each if size < 40 else 20_000, seed=3)
    assert points.shape == (expected * each, 3) and points.min() >= 0.0 and points.max() <= 1.0
    place = points * (size - 1)
    on_planes = np.abs(place - np.round(place)) < 1e-9
    assert (on_planes.sum(axis=1) == 2).all()
    assert set(np.argmin(on_planes, axis=1)) == {0, 1, 2}
    if size == 40:
        corners = np.isin(np.round(place), (0, size - 1)) & on_planes
        assert corners.any(axis=1).all()
