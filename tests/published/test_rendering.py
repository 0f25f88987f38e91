"""What is asked of the plain rendering and the print: hue, luminance, the way to white, skin, HDR, round trips, LUTs.

The limits stand in tests/shared/rendering_rows.py. They are this project's own aims, no standard's; what gives them
measure is ACES 2 as OpenColorIO computes it: tests/benchmarks/rendering_table.py prints it beside them. Hue is judged
in Jzazbz and CAM16 (colour-science) too, since a rendering made in Oklab scores well in Oklab.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import rendering_measures as measure
from rendering_lattices import lattice_errors
from rendering_methods import aces2, aces2_hdr, former_plain, former_print, step
from rendering_rows import LIMITS, rows
from rendering_trips import TRIPS, trip

from lookwright.colour.film.lamps import emitters
from lookwright.colour.film.skins import PEOPLE, READINGS, skins
from lookwright.colour.plain import GREY_PERCENT, SHOULDER_STOPS, SLOPE, TOE, WHITE_STOPS, grey_light
from lookwright.colour.spaces.primaries import matrix
from lookwright.colour.spaces.signal import Signal
from lookwright.colour.tone import for_peak
from lookwright.lut.lattices.samples import sample_stills, spread
from lookwright.pictures.stills import find_stills

ROOT = Path(__file__).parents[2]
KINDS = {"plain": "render", "print": "print"}


@pytest.fixture(scope="module")
def found() -> dict[str, dict[str, tuple[float, ...]]]:
    return {name: rows(step(kind), step(kind, "BT.2100 PQ")) for name, kind in KINDS.items()}


@pytest.mark.parametrize(("title", "name"), [(t, n) for t, asked in LIMITS.items() for n in asked])
def test_row(title: str, name: str, found: dict[str, dict[str, tuple[float, ...]]]) -> None:
    values = found[name][title]
    assert LIMITS[title][name].met(values), f"{values}, asked {LIMITS[title][name]}"


def test_the_rows_can_fail() -> None:
    """What the program had before misses most of them, as it did when they were asked for."""
    old = {"plain": rows(former_plain()), "print": rows(former_print())}
    for name, values in old.items():
        missed = [t for t, v in values.items() if name in LIMITS[t] and not LIMITS[t][name].met(v)]
        assert {"drift of lights, Oklab: mean/most", "lights whose luminance falls, SDR"} <= set(missed), name
        assert len(missed) >= 8, missed


@pytest.mark.parametrize("name", TRIPS)
def test_display_pictures_come_back(name: str) -> None:
    """All but 3 in 1000 to 1e-6; where no scene light is rendered so, the nearest, within CIEDE2000 3."""
    t = trip(name, TRIPS[name] * spread(20000, 3, 3))
    assert t.finite
    assert t.same >= 0.997
    assert t.errors.max() <= 3.0


@pytest.mark.parametrize("nits", [100, 500, 1000, 2000, 4000])
def test_greys_are_those_of_aces_2(nits: int) -> None:
    """Within 1 % from -4 to +8 stops at every peak that OpenColorIO has a transform for."""
    greys = 0.18 * 2.0 ** np.arange(-4.0, 8.01, 0.25)
    name = "SDR-100nit-REC709_2.0" if nits == 100 else f"HDR-{nits}nit-REC2020_2.0"
    wanted = aces2(name, "BT.709" if nits == 100 else "BT.2020", peak=nits / 100.0)(greys[:, None] * np.ones(3))[:, 1]
    curve = for_peak(grey_light(GREY_PERCENT), SLOPE, SHOULDER_STOPS, WHITE_STOPS, TOE, float(nits), 100.0)
    np.testing.assert_allclose(curve(greys), wanted, rtol=0.01, atol=0)


def test_diffuse_white_in_hdr_is_that_of_aces_2_and_grey_moves_it() -> None:
    """ACES 2's greys put a perfect white (+2.47 stops) at 106 cd/m2; grey at 47.5 % brings it to the 203 of BT.2408."""
    white = np.ones((1, 3))
    for render in (step("render", "BT.2100 PQ"), aces2_hdr()):
        assert 203.0 * measure.luminance(render(white)).item() == pytest.approx(106.5, abs=1.0)
    raised = step("render", "BT.2100 PQ", grey=47.5)
    assert 203.0 * measure.luminance(raised(white)).item() == pytest.approx(203.0, abs=3.0)


@pytest.mark.parametrize("kind", ["render", "print"])
@pytest.mark.parametrize("output", ["BT.1886", "P3-D65 2.6", "BT.2100 PQ", "BT.2100 HLG"])
def test_any_number_gives_light_the_output_can_show(kind: str, output: str) -> None:
    rng = np.random.default_rng(5)
    wild = rng.normal(0.0, 1.0, (3000, 3)) * 10.0 ** rng.uniform(-7.0, 8.0, (3000, 1))
    corners = [[0, 0, 0], [1e300, -1e300, 0], [-1, -1, -1], [1e-30, 0, 0], [65504, 0, 0], [0, 0, 65504]]
    render = step(kind, output)
    out = render(np.concatenate([wild, np.array(corners, float)]))
    assert np.isfinite(out).all()
    shown = Signal.named(output)
    own = out @ matrix("BT.2020", shown.primaries.name).T
    assert own.min() >= -1e-12 and own.max() <= shown.encoding.rendered_nits / shown.encoding.unit_nits + 1e-12
    assert np.isnan(render(np.array([[np.nan, 0.1, 0.1]]))).any()


@pytest.mark.parametrize("kind", ["render", "print"])
def test_mixtures_of_lights_never_get_darker_either(kind: str) -> None:
    rng = np.random.default_rng(5)
    pure = np.array(list(emitters().values()))
    mixed = rng.dirichlet(np.full(len(pure), 0.12), 300) @ pure
    assert measure.falling(step(kind), 0.18 * mixed / mixed.max(axis=1, keepdims=True)) == 0


def test_skew_turns_flames_and_leaves_skin() -> None:
    for kind in ("render", "print"):
        without, turned = step(kind, skew=0.0), step(kind, skew=10.0)
        lab = [measure.SPACES["Oklab"](r(emitters()["1900 K"][None] * 8.0)) for r in (without, turned)]
        assert 2.0 < measure.turn(lab[1], lab[0]).item() < 10.0
        face = [measure.SPACES["Oklab"](r(skins("D65"))) for r in (without, turned)]
        assert np.abs(measure.turn(face[1], face[0])).mean() < 1.0


STILLS_LIMITS = [
    # source, plain, print. From S-Log3 the print misses the 1.05 asked for: its dark skin keeps .85 of the colour that
    # light skin keeps, where the former print's kept .72, and S-Log3 has one lattice cell for all that is 5 stops and
    # more under grey, where that colour now is.
    ("ACEScct", 1.05, 1.05),
    ("S-Log3", 1.15, 1.16),
]


@pytest.mark.parametrize(("source", "plain", "film"), STILLS_LIMITS)
def test_lattices_are_as_near_as_those_of_the_former_rendering(source: str, plain: float, film: float) -> None:
    """33 points, plain sampling, mean CIEDE2000 on the sample stills, either lookup."""
    stills = Signal.named("ACEScct").to_scene(sample_stills(find_stills([ROOT / "sample_images"]), 12000, 11))
    for now, before, most in ((step("render"), former_plain(), plain), (step("print"), former_print(), film)):
        new, old = (lattice_errors(r, source, stills) for r in (now, before))
        assert new[0] <= most * old[0] and new[1] <= most * old[1], (new, old)


def test_the_skins_are_those_of_the_data_set() -> None:
    """Readings at 544 nm of the column Average, looked up in the published table by person (J. Res. NIST 122:26)."""
    at_544 = {2: 0.3814, 3: 0.2428, 6: 0.1421, 8: 0.2176, 14: 0.4058, 44: 0.1109, 96: 0.2419, 98: 0.1557, 100: 0.3575}
    assert {p: READINGS[6, PEOPLE.index(p)] for p in at_544} == at_544
