"""Choose the film set by least squares: ``python -m lookwright.colour.film.choose [--write]``.

A naive set of layers and dyes turns hues: contrast acts on each layer by itself, and dyes absorb
where they should not. The same two effects, put in the right proportion, undo each other. What is free:
layer sensitivities, coupling, band centres, widths and side absorptions (27 numbers); what is asked:

* patches and skin keep the Oklab hue of the plain colorimetry of the scene, over several exposures,
  at a pleasing saturation;
* the circle of hues keeps its order, and turns little, at three saturations over nine stops;
* lights of strong colour turn little on their way to white;
* no folds: the dyes' map to colour keeps its orientation (see :func:`orientation`);
* every number stays near a plausible start and within bounds.

All but the bounds are terms of one sum of squares: asked, not guaranteed. The report says what became of them.
Patches and skin keep their hue near their own exposure; lights far over grey do not, and half of the numbers end on
their bounds (see the head of ``constants.py``).

Deterministic: fixed start, no random numbers. With ``--write`` the result replaces ``constants.py``.
"""

from __future__ import annotations

import sys
import textwrap
from collections.abc import Callable
from pathlib import Path

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.spaces.oklab import LMS_TO_SCENE, SCENE_TO_LMS, light_to_oklab, oklab_to_light
from lookwright.files import write_text

from .filmset import FilmSet
from .model import FilmPrint
from .neutral import LN10
from .parameters import FilmParameters
from .patches import NEUTRALS, SKIN_PATCHES, colorchecker, skin_samples, turns
from .projection import Observer, cie_1931
from .quadrature import solve_quadrature

START = FilmSet(
    sensitivity=((0.06, 0.02), (0.05, 0.05), (0.02, 0.06)),
    coupling=((-0.10, -0.04), (-0.08, -0.08), (-0.04, -0.10)),
    centres=(655.0, 545.0, 450.0),
    short=(55.0, 40.0, 38.0),
    long=(75.0, 40.0, 38.0),
    sides=((0.08, 0.05), (0.05, 0.12), (0.02, 0.06)),
)
"""The naive set: round numbers of the size textbooks draw (from memory), no data of any film."""

LOW = FilmSet(
    # Light adds, and bands overlap their neighbours most: each layer sees something of both others.
    sensitivity=((0.04, 0.01), (0.04, 0.04), (0.01, 0.04)),
    coupling=((-0.4, -0.4),) * 3,
    centres=(640.0, 525.0, 435.0),
    short=(45.0, 32.0, 30.0),
    long=(65.0, 32.0, 30.0),  # a cyan band reaches far into the red, or deep reds leak through blacks
    sides=((0.02, 0.02),) * 3,  # no real dye is clear outside its band
)
HIGH = FilmSet(
    sensitivity=((0.2, 0.04), (0.2, 0.2), (0.04, 0.2)),
    coupling=((0.0, 0.0),) * 3,  # layers inhibit each other, they do not help
    centres=(680.0, 560.0, 465.0),
    short=(80.0, 60.0, 55.0),
    long=(100.0, 60.0, 55.0),
    sides=((0.3, 0.3),) * 3,
)
SPREAD = FilmSet(
    sensitivity=((0.1, 0.1),) * 3,
    coupling=((0.2, 0.2),) * 3,
    centres=(15.0, 10.0, 10.0),
    short=(15.0, 12.0, 12.0),
    long=(15.0, 12.0, 12.0),
    sides=((0.1, 0.1),) * 3,
)
"""How far from the start costs one unit of residual."""

NODES = 32
"""Wavelengths tried for the quadrature; those that get no weight are dropped."""

SATURATION = 1.15
"""Wanted ratio of Oklab C / L to the scene's: a print is a little richer than life."""

SKIN_SATURATION = 1.1

# Patches are weighted by exposure in stops: most at their own, less where nobody looks for a hue.
PATCH_STOPS = {-2.0: 0.4, -1.0: 0.8, 0.0: 1.3, 1.0: 0.8, 2.0: 0.4}
SKIN_STOPS = {-2.0: 1.0, -1.0: 1.6, 0.0: 2.5, 1.0: 1.6, 2.0: 0.8}
CIRCLE_STOPS = (-4.0, -2.0, 0.0, 2.0, 4.0)
CIRCLE_SATURATION = (0.08, 0.16, 0.26)
CIRCLE_STEP = 15.0
LAMPS = (
    (1.0, 0.45, 0.12),  # incandescent, deep
    (1.0, 0.55, 0.20),  # incandescent
    (1.0, 0.35, 0.03),  # flame, sodium
    (1.0, 0.04, 0.02),  # tail light
    (0.12, 1.0, 0.12),
    (0.04, 0.10, 1.0),
    (0.05, 0.80, 1.0),
    (1.0, 0.10, 0.90),
)
"""Lights in the picture, as ACEScg ratios: asked to go to white without detours through other hues, which the chosen
set does not achieve (see the report)."""
LAMP_STOPS = (0.0, 2.0, 4.0, 6.0)
FOLD_LIMIT = 0.03
"""Least orientation that is not penalised."""
LAMP_WEIGHT = 0.6
"""Weight of the lamps."""
PRIOR = 2.0
"""Weight of staying near the start."""


def hue_circles() -> Array:
    """(stops, saturation, hue, 3) ACEScg colours on circles of constant Oklab C / L."""
    hue = np.radians(np.arange(0.0, 360.0, CIRCLE_STEP))
    found = []
    for stops in CIRCLE_STOPS:
        lightness = np.cbrt(0.18 * 2.0**stops)
        for c in CIRCLE_SATURATION:
            lab = np.stack([np.ones_like(hue), c * np.cos(hue), c * np.sin(hue)], axis=-1)
            found.append(oklab_to_light(lightness * lab, LMS_TO_SCENE))
    return np.reshape(found, (len(CIRCLE_STOPS), len(CIRCLE_SATURATION), len(hue), 3))


def orientation(film: FilmPrint, densities: Array) -> Array:
    """Determinant of d(-log10 XYZ of the screen) / d(layer densities) at (n, 3) layer densities; (n,).

    All other stages of the print are increasing functions of one variable or matrices of positive
    determinant, so the whole path from scene to screen can fold only where this changes its sign.
    """

    def log_xyz(d: Array) -> Array:
        return -np.log10(np.exp(-LN10 * film.neutral(d) @ film.bands) @ film.seen)

    step = 1e-4
    shifts = step * np.eye(3)
    columns = [(log_xyz(densities + s) - log_xyz(densities - s)) / (2.0 * step) for s in shifts]
    return np.linalg.det(np.stack(columns, axis=-1))


def density_grid(top: float, count: int = 7) -> Array:
    """(count^3, 3) layer densities over the whole cube the print can reach."""
    steps = np.linspace(0.02, top - 0.02, count)
    return np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), axis=-1).reshape(-1, 3)


def sideways(film: FilmPrint, scene: Array) -> Array:
    """Oklab chroma that points away from the scene's own hue: C sin(turn), of the shown colour."""
    t = turns(film, scene)
    chroma = t.chroma * np.hypot(*np.moveaxis(light_to_oklab(scene, SCENE_TO_LMS)[..., 1:], -1, 0))
    # A turn beyond a quarter circle is worse than a quarter, not better.
    return chroma * np.sin(np.radians(np.clip(t.hue, -90.0, 90.0)))


def lit_lamps() -> Array:
    """(stops, lamp, 3) ACEScg light of :data:`LAMPS`."""
    return np.multiply.outer(0.18 * 2.0 ** np.array(LAMP_STOPS), np.array(LAMPS))


def on_bounds(chosen: FilmSet) -> int:
    """How many of the 27 numbers lie on the bounds they were given, to the digits that are stored."""
    v = chosen.vector()
    return int(((np.abs(v - LOW.vector()) < 5e-4) | (np.abs(v - HIGH.vector()) < 5e-4)).sum())


def what_is_left(film: FilmPrint, chosen: FilmSet) -> str:
    """What the fit did not achieve, for the head of the constants."""
    turn = np.abs(turns(film, lit_lamps()).hue).max(axis=1)
    degrees, stops = (", ".join(f"{x:.0f}" for x in row) for row in (turn, LAMP_STOPS))
    return (
        f"On their bounds: {on_bounds(chosen)} of {len(chosen.vector())} numbers. "
        f"Largest hue turn of a lamp: {degrees} deg at {stops} stops over grey."
    )


def _targets() -> tuple[Array, Array]:
    """(18, 3) patches and (4, 3) skin colours, ACEScg."""
    patches, samples = colorchecker(), skin_samples()
    chromatic = np.array(list(patches.values()))[:-NEUTRALS]
    skin = np.array([patches[n] for n in SKIN_PATCHES] + list(samples.values()))
    return chromatic, skin


def residuals_of(observer: Observer, patches: Array, skin: Array) -> Callable[[Array], Array]:
    """The function that least squares drives to zero; its argument is a film set as a vector."""
    circles = hue_circles()
    lamps = lit_lamps()
    grid = density_grid(FilmParameters().density_max)
    start, spread = START.vector(), SPREAD.vector()

    def residuals(v: Array) -> Array:
        film = FilmPrint(chosen=FilmSet.from_vector(v), observer=observer)
        parts = []
        for colours, stops, wanted, hue_unit in (
            (patches, PATCH_STOPS, SATURATION, 3.0),
            (skin, SKIN_STOPS, SKIN_SATURATION, 2.0),
        ):
            for shift, weight in stops.items():
                t = turns(film, colours * 2.0**shift)
                parts.append(weight * t.hue / hue_unit)
                parts.append(weight * 0.8 * np.log(t.saturation / wanted) / 0.15)
        turn = turns(film, circles).hue
        parts.append(0.15 * turn / 5.0)
        # Far up the scale a hue matters as much as there is chroma left to see it by.
        parts.append(LAMP_WEIGHT * sideways(film, lamps) / 0.02)
        # Neighbours on a circle are asked to stay in order, with room: it costs where 15 degrees shrink below 6.
        gap = CIRCLE_STEP + np.roll(turn, -1, axis=-1) - turn
        parts.append(np.maximum(0.0, 6.0 - gap) / 2.0)
        fold = orientation(film, grid)
        parts.append(np.maximum(0.0, 1.0 - fold / FOLD_LIMIT))
        parts.append(PRIOR * (v - start) / spread)
        return np.concatenate([np.ravel(p) for p in parts])

    return residuals


def solve(observer: Observer | None = None) -> FilmSet:
    """The film set nearest to what the module's head asks for."""
    from scipy.optimize import least_squares

    residuals = residuals_of(observer or cie_1931(5.0), *_targets())
    found = least_squares(
        residuals,
        START.vector(),
        bounds=(LOW.vector(), HIGH.vector()),
        x_scale=SPREAD.vector(),
        max_nfev=60,
    )
    # A thousandth in a matrix and a tenth of a nanometre do not matter, and are the same on every machine.
    digits = np.where(np.abs(START.vector()) > 1.0, 1, 3)
    rounded = np.rint(found.x * 10.0**digits) / 10.0**digits
    return FilmSet.from_vector(rounded + 0.0)  # + 0.0: no minus zero


def report(name: str, film: FilmPrint) -> list[str]:
    """The hue table of one film set as lines of text: every patch at its own exposure."""
    patches, samples = colorchecker(), skin_samples()
    names = [*list(patches)[:-NEUTRALS], *samples]
    colours = np.array([{**patches, **samples}[n] for n in names])
    t = turns(film, colours)
    lines = [f"{name}", f"{'patch':16s} {'hue turn deg':>12s} {'C ratio':>8s} {'C/L ratio':>9s}"]
    lines += [
        f"{n:16s} {h:12.1f} {c:8.2f} {k:9.2f}" for n, h, c, k in zip(names, t.hue, t.chroma, t.saturation, strict=True)
    ]
    checker = slice(0, len(patches) - NEUTRALS)
    skin = [i for i, n in enumerate(names) if n in SKIN_PATCHES or n in samples]
    lines.append(
        f"mean |turn|: patches {np.abs(t.hue[checker]).mean():.2f}, skin {np.abs(t.hue[skin]).mean():.2f} "
        f"(worst {np.abs(t.hue[skin]).max():.2f}) deg; mean ratio: C {t.chroma[checker].mean():.2f}, "
        f"C/L {t.saturation[checker].mean():.2f}"
    )
    circle = turns(film, hue_circles()).hue
    gap = CIRCLE_STEP + np.roll(circle, -1, axis=-1) - circle
    fold = orientation(film, density_grid(film.print.span, 15))
    lines.append(
        f"hue circles: mean |turn| {np.abs(circle).mean():.1f} deg, smallest gap {gap.min():.1f} of "
        f"{CIRCLE_STEP:.0f} deg; orientation {fold.min():.1e}..{fold.max():.2f}"
    )
    return lines


def _tuple(values: object) -> str:
    if isinstance(values, tuple):
        return "(" + ", ".join(_tuple(v) for v in values) + ")"
    return f"{values!r}"


def constants_text(chosen: FilmSet, rule: Observer, notes: list[str]) -> str:
    """The text of ``constants.py``."""
    fields = "\n".join(f"    {n}={_tuple(v)}," for n, v in vars(chosen).items())
    lines = "\n".join(f"    ({', '.join(f'{w:.10g}' for w in row)})," for row in rule.weights)
    remarks = "\n".join(notes)
    eights = [rule.wavelength[i : i + 8] for i in range(0, len(rule.wavelength), 8)]
    nodes = "\n".join(f"    {', '.join(f'{x:.2f}' for x in row)}," for row in eights)
    return f'''"""The fitted film set and the folded observer. Written by ``lookwright.colour.film.choose``.

{remarks}
"""

from __future__ import annotations

from .filmset import FilmSet

CHOSEN = FilmSet(
{fields}
)

WAVELENGTH = (
{nodes}
)
"""Quadrature wavelengths in nm."""

WEIGHTS = (
{lines}
)
"""Weights of x-bar, y-bar, z-bar (CIE 1931 2 degree) at those wavelengths, solved, not tabulated."""
'''


def main(arguments: list[str]) -> None:
    """Solve, print the table before and after, and with ``--write`` store the constants."""
    coarse, fine = cie_1931(5.0), cie_1931(1.0)
    before = report("before: the naive start", FilmPrint(chosen=START, observer=fine))
    chosen = solve(coarse)
    after = report("after: the least-squares choice", FilmPrint(chosen=chosen, observer=fine))
    rule, error = solve_quadrature(chosen.dyes(), fine, NODES)
    notes = [
        "Before: " + before[-2],
        "After:  " + after[-2],
        *textwrap.wrap(what_is_left(FilmPrint(chosen=chosen, observer=fine), chosen), 110),
        f"Quadrature: {len(rule.wavelength)} wavelengths, worst error {100.0 * error:.2f} % of (value + 1 % of white)",
        "over dye amounts 0..7, lamps 2800..7500 K and the whole range of finish.",
    ]
    text = constants_text(chosen, rule, notes)
    print("\n".join([*before, "", *after, "", text]))
    if "--write" in arguments:
        write_text(Path(__file__).with_name("constants.py"), text)


if __name__ == "__main__":
    main(sys.argv[1:])
