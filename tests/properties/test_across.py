"""Framings of one scene against what was put in: planes, the fit, all shots together, and what is said of each."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from framed import Put, balance, drawn, lamp, seen, through
from takes import LOG, scene

from lookwright.pictures.stills import write
from lookwright.solve.series import content
from lookwright.solve.series.across import SURE, PairSeen, answers, settle
from lookwright.solve.series.change import coherent
from lookwright.solve.series.difference import Difference
from lookwright.solve.series.features import Shared, available, look
from lookwright.solve.series.fit import fit
from lookwright.solve.series.joint import Edge, cone_gains, joint, of_cone_gains
from lookwright.solve.series.planes import planes
from lookwright.solve.series.planes import through as moved
from lookwright.solve.series.shots import Shot, Tolerance, run

needs_extra = pytest.mark.skipif(not available(), reason="the extra 'matching' is not installed")


def surfaces(values: tuple[float, ...], lenses: tuple[float, float], seed: int, wrong: float = 0.0) -> Shared:
    """Surfaces of one scene in two frames, noise of a hundredth of a stop, a share of them other surfaces."""
    rng = np.random.default_rng(seed)
    first = 2.0 ** rng.uniform(-6.0, 0.0, (400, 1)) * 2.0 ** rng.normal(0.0, 0.4, (400, 3))
    at_first = rng.uniform(-1.0, 1.0, (400, 2)) * [1.0, 0.5625]
    at_second = np.clip(1.3 * (at_first - [0.2, 0.1]), -1.0, 1.0)
    fall = lenses[0] * (at_first**2).sum(axis=1) - lenses[1] * (at_second**2).sum(axis=1)
    d = Difference(*values)
    second = replace(d, flare=0.0).apply(first) * 2.0 ** fall[:, None] + d.flare
    second *= 2.0 ** rng.normal(0.0, 0.01, second.shape)
    bad = rng.uniform(size=400) < wrong
    second[bad] *= 2.0 ** rng.normal(0.5, 1.0, (int(bad.sum()), 3))
    return Shared(first, second, at_first, at_second)


@pytest.mark.parametrize("wrong", [0.0, 0.25])
def test_the_fit_finds_what_was_put_in(wrong: float) -> None:
    put = (0.6, 25.0, -0.003, 0.002)
    found = fit(surfaces(put, (0.3, 0.5), 1, wrong))
    assert abs(found.values[0] - put[0]) <= 0.02 and abs(found.values[1] - put[1]) <= 1.0
    assert abs(found.values[2] - put[2]) <= 0.0005 and abs(found.values[3] - put[3]) <= 0.0005
    assert found.errors[0] <= 0.05 and found.errors[1] <= 3.0


def test_without_a_lens_of_its_own_the_exposure_would_be_off() -> None:
    """The vignette is told from exposure by where surfaces lie: the same surfaces, lenses of half a stop."""
    found = fit(surfaces((0.0, 0.0, 0.0, 0.0), (0.5, 0.0), 2))
    assert abs(found.values[0]) <= 0.02 and abs(found.values[4] - found.values[5] - 0.5) <= 0.1


@pytest.mark.parametrize(("noise", "lamp_stops"), [(0.005, 0.35), (0.08, 1.0)])
def test_another_light_is_told_from_noise(noise: float, lamp_stops: float) -> None:
    """Half the frame brighter by a third of a stop under little noise, by a stop under as much as that of renders."""
    for changed in (0.0, lamp_stops):
        both, rng = surfaces((0.5, 20.0, 0.0, 0.001), (0.2, 0.2), 6), np.random.default_rng(7)
        lamp_on = changed / (1.0 + np.exp(-8.0 * both.at_second[:, :1]))
        lit = replace(both, second=both.second * 2.0 ** (lamp_on + rng.normal(0.0, noise, both.second.shape)))
        found = fit(lit)
        pair = PairSeen(0, 1, lit, found, coherent(lit, found))
        if not changed:
            assert pair.coherent.noise == pytest.approx(np.hypot(noise, 0.01), rel=0.4)
        assert (pair.against >= SURE) if changed else (pair.against <= -SURE)
        said = settle(2, [pair], 0)[1]
        assert said.state in (("changed",) if changed else ("matched", "unknown"))


def test_planes_are_found_among_wrong_pairs() -> None:
    rng = np.random.default_rng(5)
    b = rng.uniform(0.0, 400.0, (160, 2))
    true = [np.array([[1.1, 0.05, 12.0], [-0.04, 1.08, -9.0], [1e-4, -5e-5, 1.0]])]
    true.append(np.array([[0.8, -0.1, 60.0], [0.1, 0.8, 20.0], [0.0, 0.0, 1.0]]))
    a = np.empty_like(b)
    for n, part in ((0, slice(0, 60)), (1, slice(60, 100))):
        a[part] = np.stack(moved(true[n], *b[part].T), axis=1) + rng.normal(0.0, 0.5, (part.stop - part.start, 2))
    a[100:] = rng.uniform(0.0, 400.0, (60, 2))
    zoom = np.r_[np.full(60, 1.09), np.full(40, 0.806), rng.uniform(0.3, 3.0, 60)] * 2.0 ** rng.normal(0, 0.1, 160)
    turn = np.r_[np.full(60, -0.04), np.full(40, 0.124), rng.uniform(-3.0, 3.0, 60)] + rng.normal(0, 0.05, 160)
    found = planes(a, b, zoom, turn)
    assert len(found) == 2
    for (matrix, inside), truth, (low, high) in zip(found, true, ((0, 60), (60, 100)), strict=True):
        assert inside[low:high].mean() >= 0.9 and inside[100:].sum() <= 3
        corners = np.array([[50.0, 50.0], [350.0, 50.0], [200.0, 350.0]])
        np.testing.assert_allclose(moved(matrix, *corners.T), moved(truth, *corners.T), rtol=0, atol=2.0)
    assert planes(a[100:], b[100:], zoom[100:], turn[100:]) == [], "chance makes no plane"


def test_cone_gains_add_up_where_mired_does_not() -> None:
    """Along a path balances are one in the logarithm of cone signals; what is held against is colour-science."""
    for put in (Put(0.4, 40.0, 0.003), Put(-0.3, -35.0, -0.004)):
        gains = cone_gains(np.array([put.stops, put.mired, put.tint]))
        np.testing.assert_allclose(of_cone_gains(gains), [put.stops, put.mired, put.tint], rtol=0, atol=1e-6)
        d = Difference(put.stops, put.mired, put.tint)
        light = np.array([[0.2, 0.1, 0.05]])
        np.testing.assert_allclose(d.apply(light), light @ (balance(put.mired, put.tint) * 2.0**put.stops).T, rtol=2e-3)


def test_all_shots_together_outvote_a_pair_across_a_change() -> None:
    rng = np.random.default_rng(8)
    puts = [Difference(), *(Difference(rng.uniform(-0.8, 0.8), rng.uniform(-30, 40), 0.0, 0.001) for _ in range(5))]
    gains = [cone_gains(p.values()[:3]) for p in puts]
    edges = []
    for i in range(6):
        for j in range(i + 1, 6):
            between = of_cone_gains(gains[j] - gains[i])
            flare = puts[j].flare - puts[i].flare * 2.0 ** between[0]
            shift = 0.7 if (i, j) == (0, 3) else 0.0
            edges.append(
                Edge(i, j, fit(surfaces((between[0] + shift, between[1], between[2], flare), (0.2, 0.2), 10 * i + j)))
            )
    levels = joint(7, edges, 0)
    assert levels[6] is None, "no pair joins it"
    for level, put in zip(levels[:6], puts, strict=True):
        assert level is not None
        assert abs(level.difference.stops - put.stops) <= 0.03 and abs(level.difference.mired - put.mired) <= 1.5


@needs_extra
def test_framings_of_one_scene() -> None:
    """Two stills of the workshop in other framings: one as it was, one lit otherwise, and another set."""
    light, rng = scene("chart", 2), np.random.default_rng(4)
    put = drawn(rng)
    frames = [
        through(seen(light, rng, 1.0), 0.1, Put(), rng),
        through(seen(light, rng, 1.2), 0.15, put, rng),
        through(seen(lamp(np.random.default_rng(3))(light), rng, 1.1), 0.1, drawn(rng), rng),
        through(seen(scene("day", 2), rng, 1.0), 0.1, Put(), rng),
    ]
    made = [look(LOG.to_scene(f)) for f in frames]
    said = answers(4, lambda n: made[n], 0)
    assert said[1].state == "matched"
    assert abs(said[1].difference.stops - put.stops) <= 0.05 and abs(said[1].difference.mired - put.mired) <= 5.0
    assert said[1].stops_error <= 0.05 and 0 in said[1].compared
    assert said[2].state == "changed" and "stop" in said[2].why and said[2].difference == Difference()
    assert said[3].state == "unknown" and said[3].difference == Difference()
    again = answers(4, lambda n: made[n], 0)
    assert again == said, "and the same each time"


def test_without_the_extra_there_is_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(content, "available", lambda: False)
    light, rng = scene("chart", 4), np.random.default_rng(4)
    paths = [
        write(tmp_path / "a.png", through(seen(light, rng, 1.0), 0.1, Put(), rng)),
        write(tmp_path / "b.png", through(seen(light, rng, 1.4), 0.1, Put(0.3), rng)),
    ]
    shots = list(run(paths, paths[0], LOG, {}, Tolerance()))
    assert all(isinstance(s, Shot) for s in shots)
    match = shots[1].match
    assert match.state == "unknown" and "extra 'matching'" in match.changed and match.difference == Difference()
