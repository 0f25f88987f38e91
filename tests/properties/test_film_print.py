"""The print as a whole: neutral, monotone, finite, without folds, and equal to the plain spectral integral."""

from __future__ import annotations

import numpy as np
import pytest

from lookwright.colour.film import constants
from lookwright.colour.film.choose import NODES, density_grid, orientation
from lookwright.colour.film.curves import print_curves
from lookwright.colour.film.filmset import FilmSet
from lookwright.colour.film.layers import coupling_matrix
from lookwright.colour.film.model import FilmPrint
from lookwright.colour.film.neutral import NeutralScale, neutral_amounts
from lookwright.colour.film.parameters import SPANS, FilmParameters
from lookwright.colour.film.pivot import pivoted
from lookwright.colour.film.print_rendering import Tint, to_film
from lookwright.colour.film.projection import blackbody, cie_1931
from lookwright.colour.film.quadrature import solve_quadrature
from lookwright.colour.spaces.encodings import encoding
from lookwright.colour.spaces.library import colour_library
from lookwright.colour.spaces.primaries import D65, primaries
from lookwright.errors import LookwrightError

VARIED = [
    FilmParameters(),
    FilmParameters(lamp_kelvin=2800.0, density_max=4.4, coupling=1.5),
    FilmParameters(lamp_kelvin=7500.0, finish=1.0, printer_red=20.0, printer_blue=-20.0),
    FilmParameters(finish=-1.0, print_gamma=4.0, flare=0.01, surround=0.7),
]


def delta_e(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """CIEDE2000 of two arrays of display light, by colour-science."""
    colour = colour_library()
    to_xyz = primaries("BT.2020").to_xyz.T
    lab = [colour.XYZ_to_Lab(x @ to_xyz, np.array(D65)) for x in (a, b)]
    return np.asarray(colour.difference.delta_E_CIE2000(*lab))


def grey_scale(low: float = -8.0, high: float = 6.0) -> np.ndarray:
    scene = 0.18 * np.exp2(np.arange(low, high + 0.01, 0.1))
    return np.repeat(scene[:, None], 3, axis=1)


def random_parameters(seed: int, corners: bool) -> FilmParameters:
    rng = np.random.default_rng(seed)
    values = {}
    for name, span in SPANS.items():
        values[name] = float(rng.choice([span.low, span.high]) if corners else rng.uniform(span.low, span.high))
    return FilmParameters(**values)


@pytest.mark.parametrize(
    "params",
    [
        FilmParameters(),
        FilmParameters(lamp_kelvin=3200.0),
        FilmParameters(density_max=4.4, grey_density=0.75, coupling=1.5, toe=0.2, shoulder=0.05),
        FilmParameters(negative_gamma=0.5, print_gamma=3.2, flare=0.01, surround=0.83),
    ],
)
def test_grey_scale_is_neutral_and_monotone(params: FilmParameters) -> None:
    light = FilmPrint(params)(grey_scale())
    luminance = light @ primaries("BT.2020").luminance
    assert delta_e(light, np.repeat(luminance[:, None], 3, axis=1)).max() < 0.1
    assert np.diff(light, axis=0).min() > 0.0


def test_the_tint_of_greys_is_straight_between_its_nodes() -> None:
    """As numpy.interp has it: inside, on nodes and a hair off them, and held beyond the ends."""
    tint = Tint(FilmPrint(FilmParameters(finish=0.5)))
    nodes = np.arange(-24.0 * 32, 20.0 * 32 + 1) / 32.0
    at_nodes = tint(nodes)
    assert np.abs(at_nodes).max() > 1e-3
    stops = np.random.default_rng(1).uniform(-30.0, 25.0, 5000)
    stops = np.concatenate([stops, np.nextafter(nodes, -99.0), np.nextafter(nodes, 99.0), [np.inf, -np.inf, np.nan]])
    wanted = np.stack([np.interp(stops, nodes, row) for row in at_nodes])
    np.testing.assert_allclose(tint(stops), wanted, rtol=0, atol=1e-15)


@pytest.mark.parametrize("aim", [0.4, 0.75, 0.92, 1.15, 1.6])
@pytest.mark.parametrize("finish", [-1.0, 0.0, 0.7])
def test_grey_lands_on_the_aimed_density(aim: float, finish: float) -> None:
    film = FilmPrint(FilmParameters(grey_density=aim, finish=finish, lamp_kelvin=4800.0))
    relative = film.relative_xyz(np.full(3, 0.18))
    assert -np.log10(relative) == pytest.approx(np.full(3, aim), abs=1e-6)


def test_equal_points_change_brightness_only_and_one_point_its_colour() -> None:
    grey = np.full(3, 0.18)
    plain = FilmPrint()(grey)
    darker = FilmPrint(FilmParameters(printer_red=3.0, printer_green=3.0, printer_blue=3.0))(grey)
    assert (darker < plain).all()
    assert delta_e(darker, np.full(3, darker @ primaries("BT.2020").luminance)) < 0.01
    # The trade's sign: more red light in the printer takes red out of the picture.
    for i, name in enumerate(("printer_red", "printer_green", "printer_blue")):
        share = FilmPrint(FilmParameters(**{name: 4.0}))(grey) / plain
        assert int(np.argmin(share)) == i


def test_finish_tints_every_grey_alike_and_keeps_white_at_one() -> None:
    for finish, low in ((0.5, 2), (-0.5, 0)):
        light = FilmPrint(FilmParameters(finish=finish))(grey_scale())
        clear = FilmPrint(FilmParameters(finish=finish))(np.full(3, 1e9))
        # Endless light still leaves the print's toe a trace of density (1e-5).
        assert clear.max() == pytest.approx(1.0, abs=1e-4)
        assert int(np.argmin(clear)) == low
        ratio = light / light.max(axis=1, keepdims=True)
        assert np.ptp(ratio, axis=0).max() < 1e-6


def test_default_tone() -> None:
    # Common practice, no source: where a restrained print puts grey, white and black, as 2.4 signal.
    light = FilmPrint()(np.repeat(np.array([0.18, 0.9, 0.0])[:, None], 3, axis=1))[:, 1]
    grey, white, black = light ** (1 / 2.4)
    assert 0.40 <= grey <= 0.43
    assert 0.80 <= white <= 0.90
    assert 0.015 <= black <= 0.045


def test_system_gamma() -> None:
    # 1.5 is the textbook figure for a dark surround (Bartleson and Breneman 1967, Hunt; RLAB 1.52).
    c = print_curves()
    middle = (c.stops >= -2.0) & (c.stops <= 0.0)
    assert c.system_gamma[middle].min() > 1.4
    assert c.system_gamma.max() < 1.8
    # Negative gamma times print gamma, less what the bends take.
    assert c.system_gamma.max() <= 0.6 * 2.6
    assert c.visual_density[np.argmin(np.abs(c.stops))] == pytest.approx(0.92, abs=1e-6)
    assert np.diff(c.negative_density).min() > 0.0
    assert np.diff(c.print_density, axis=0).max() < 0.0


@pytest.mark.parametrize("params", VARIED)
def test_fast_form_equals_the_spectral_integral(params: FilmParameters) -> None:
    steps = encoding("ACEScct").decode(np.linspace(0.0, 1.0, 11))
    scene = np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), axis=-1).reshape(-1, 3)
    scene = np.concatenate([scene, scene[::5] * [1.0, -0.1, 0.5]])
    # As the print shows light to its film: no layer is exposed by light so pure that the screen leaves the spectrum,
    # where differences of lightness are no measure.
    scene = to_film(scene.T).light.T
    full = FilmPrint(params, observer=cie_1931(1.0))
    error = delta_e(FilmPrint(params)(scene), full(scene))
    # Beyond the coupling that a filmmaker will want, one dye may absorb nearly all and the others little: what comes
    # through is a sliver of far red or blue that 24 wavelengths catch less well (0.053 at worst, 48 do no better).
    assert error.max() < (0.02 if params.coupling <= SPANS["coupling"].soft[1] else 0.06)


def test_stored_quadrature_is_the_solved_one() -> None:
    rule, error = solve_quadrature(constants.CHOSEN.dyes(), cie_1931(1.0), NODES)
    assert error < 0.002
    assert rule.wavelength == pytest.approx(np.array(constants.WAVELENGTH), abs=0.011)
    assert (np.array(constants.WEIGHTS) >= 0.0).all()
    # Different machines may place a tiny weight elsewhere; what it integrates must agree.
    lamp = blackbody(rule.wavelength, 5400.0)
    stored = lamp @ np.array(constants.WEIGHTS)
    assert lamp @ rule.weights == pytest.approx(stored, rel=1e-4)


def test_a_loop_over_wavelengths_gives_the_same() -> None:
    # The equations of the docstrings once more, one colour and one wavelength at a time.
    film = FilmPrint()
    colour = np.array([0.32, 0.14, 0.07])
    amounts = film.dye_amounts(colour)
    total, white = np.zeros(3), np.zeros(3)
    observer = cie_1931(1.0)
    for nm, bars in zip(observer.wavelength, observer.weights, strict=True):
        lamp = float(blackbody(nm, film.params.lamp_kelvin))
        dye = film.dyes.bands(np.array([nm]))[:, 0]
        total += lamp * bars * 10.0 ** -(amounts @ dye)
        white += lamp * bars
    assert film.relative_xyz(colour) == pytest.approx(total / white, rel=5e-4)


@pytest.mark.parametrize("seed", range(12))
def test_safe_over_the_whole_range(seed: int) -> None:
    params = random_parameters(seed, corners=seed % 2 == 0)
    film = FilmPrint(params)
    rng = np.random.default_rng(100 + seed)
    scene = rng.normal(size=(500, 3)) * 10.0 ** rng.uniform(-6.0, 6.0, (500, 1))
    extremes = [[0.0] * 3, [1e300] * 3, [-1e300] * 3, [1e308, -1e308, 0.0], [-0.0, 1e-320, 65504.0]]
    light = film(np.concatenate([scene, extremes]))
    assert np.isfinite(light).all()
    # The screen can leave the primaries a little; it cannot leave the light of the lamp.
    assert light.min() > -0.1
    assert light.max() < 1.1
    # Also below zero, where wide camera primaries put noise: never darker with more light.
    ramp = np.concatenate([-np.geomspace(10.0, 1e-6, 60), [0.0], np.geomspace(1e-6, 1e4, 120)])
    luminance = film(np.repeat(ramp[:, None], 3, axis=1)) @ primaries("BT.2020").luminance
    assert np.diff(luminance).min() > -1e-15
    # No folds: one orientation over all densities the print can reach.
    assert orientation(film, density_grid(film.print.span, 7)).min() > 0.0


def test_no_folds_from_scene_to_screen() -> None:
    """Jacobian of screen light (log) against log2 exposure on saturated colours over eleven stops."""
    film = FilmPrint()
    ratios = np.array([(r, g, b) for r in (0.03, 0.3, 1.0) for g in (0.03, 0.3, 1.0) for b in (0.03, 0.3, 1.0)])
    stops = np.arange(-6.0, 5.01, 0.5)
    scene = 0.18 * np.multiply.outer(np.exp2(stops), ratios).reshape(-1, 3)
    h = 1e-4
    columns = []
    for j in range(3):
        push = np.zeros(3)
        push[j] = h
        up, down = (np.log2(film.relative_xyz(scene * np.exp2(s))) for s in (push, -push))
        columns.append((up - down) / (2.0 * h))
    jacobian = np.linalg.det(np.stack(columns, axis=-1))
    # Tiny at the ends, where toe and clear film flatten everything; positive everywhere.
    assert jacobian.min() > 0.0
    # X, Y and Z see much of the same light, so the determinant is below the cube of the system gamma even for
    # greys; where all three layers are on their slopes it must be far from zero (measured: 0.03 and more).
    middle = np.abs(np.log2(scene / 0.18)).max(axis=1) < 2.0
    assert jacobian[middle].min() > 0.01


def test_bright_lamps_go_to_white() -> None:
    # An incandescent lamp in the picture, six stops over grey: a warm white, still the warm order of R, G, B.
    film = FilmPrint()
    lamp = np.array([1.0, 0.55, 0.20]) * 0.18
    light = film(np.multiply.outer(np.exp2(np.arange(0.0, 9.0)), lamp))
    assert (np.diff(light, axis=1) < 0.0).all()
    assert (np.diff(light, axis=0) > 0.0).all()
    assert light[6].min() > 0.85


def test_nan_stays_nan_and_shape_is_kept() -> None:
    film = FilmPrint()
    scene = np.full((2, 5, 3), 0.18)
    scene[0, 0, 1] = np.nan
    light = film(scene)
    assert light.shape == scene.shape
    assert np.isnan(light[0, 0]).any()
    assert np.isfinite(light[1]).all()
    assert light[1, 0] == pytest.approx(film([0.18, 0.18, 0.18]), abs=1e-15)
    assert film(np.empty((0, 3))).shape == (0, 3)


def test_chunks_do_not_show() -> None:
    rng = np.random.default_rng(5)
    scene = rng.uniform(0.0, 2.0, (20_000, 3))
    film = FilmPrint()
    assert film(scene)[::97] == pytest.approx(film(scene[::97]), abs=1e-14)


def test_neutral_amounts_solve_their_equation() -> None:
    observer = cie_1931(5.0)
    bands = constants.CHOSEN.dyes().bands(observer.wavelength)
    seen = blackbody(observer.wavelength, 5400.0)[:, None] * observer.weights
    aims = np.array([0.01, 0.3, 1.0, 2.5, 4.0])
    amounts = neutral_amounts(aims, bands, seen)
    got = -np.log10((10.0 ** -(amounts @ bands)) @ seen / seen.sum(axis=0))
    assert np.abs(got - aims[:, None]).max() < 1e-10
    # Tied to the equation, not to the nodes: the polynomial between them.
    scale = NeutralScale.solve(4.4, bands, seen)
    assert np.abs(scale(np.repeat(aims[:, None], 3, axis=1)) - amounts).max() < 1e-7
    assert (scale(np.zeros((1, 3))) == 0.0).all()


def test_stored_set_is_plausible() -> None:
    chosen = constants.CHOSEN
    assert FilmSet.from_vector(chosen.vector()) == chosen
    # The visible bands in their order: yellow absorbs blue, magenta green, cyan red.
    cyan, magenta, yellow = chosen.centres
    assert 420.0 < yellow < 480.0 < 510.0 < magenta < 570.0 < 620.0 < cyan < 700.0
    assert (chosen.dyes().bands(np.arange(380.0, 781.0)) >= 0.0).all()
    layers = chosen.sensitivity_matrix()
    assert layers.sum(axis=1) == pytest.approx(np.ones(3), abs=1e-12)
    assert (layers >= 0.0).all()
    assert (np.diag(layers) > 0.7).all()
    for amount in (0.0, 0.5, 1.0, 1.5):
        m = coupling_matrix(chosen.coupling_matrix(), amount)
        assert m.sum(axis=1) == pytest.approx(np.ones(3), abs=1e-12)
        assert np.linalg.det(m) >= 1.0 - 1e-12


@pytest.mark.parametrize("name", SPANS)
def test_parameters_out_of_bounds_are_refused(name: str) -> None:
    span = SPANS[name]
    for bad in (span.low - 0.01, span.high + 0.01, float("nan"), float("inf")):
        with pytest.raises(LookwrightError) as caught:
            FilmParameters(**{name: bad})
        assert name in str(caught.value)
        assert f"{span.low:g} to {span.high:g}" in str(caught.value)
    assert span.help


def test_the_step_has_the_parameters_that_the_film_room_declares() -> None:
    from lookwright.look.steps.print import Print

    of_the_step = {"amount", "peak", "skew", "threshold", "pivot_stops"}
    declared = {name: info for name, _, info in Print.parameters() if name not in of_the_step}
    assert list(declared) == list(SPANS)
    for name, info in declared.items():
        span = SPANS[name]
        assert (info.low, info.high, info.soft_low, info.soft_high) == (span.low, span.high, *span.soft)
        assert (info.unit, info.help, info.tunable) == (span.unit, span.help, not span.of_the_room)
        assert getattr(Print(), name) == span.default == getattr(FilmParameters(), name)


@pytest.mark.parametrize(("gamma", "negative", "stops"), [(2.2, 0.6, 1.4), (3.2, 0.6, 1.4), (2.8, 0.7, -1.0)])
def test_a_pivot_keeps_its_level_whatever_the_gammas(gamma: float, negative: float, stops: float) -> None:
    """A grey at the pivot is printed as with the standard gammas; a steeper print is darker under it."""
    standard = FilmParameters()
    p = pivoted(FilmParameters(print_gamma=gamma, negative_gamma=negative), stops)
    assert pivoted(standard, stops) == standard and pivoted(p, 0.0) == p
    levels = 0.18 * 2.0 ** np.array([stops, stops - 2.0])[:, None] * np.ones(3)
    light, usual = FilmPrint(p)(levels)[:, 1], FilmPrint(standard)(levels)[:, 1]
    np.testing.assert_allclose(light[0], usual[0], rtol=2e-3, atol=0)  # equal points tint a grey by a hair
    if abs(gamma * negative - 2.6 * 0.6) > 0.05:
        assert (light[1] < usual[1]) == (gamma * negative > 2.6 * 0.6)
    assert len({p.printer_red, p.printer_green, p.printer_blue}) == 1
