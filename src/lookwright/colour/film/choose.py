"""Choose the film set by least squares: ``python -m lookwright.colour.film.choose [--write]``.

A naive set of layers and dyes turns hues: contrast acts on each layer by itself, and dyes absorb
where they should not. The same two effects, put in the right proportion, undo each other. What is free:
layer sensitivities, coupling, band centres, widths and side absorptions (27 numbers); what is asked:

* the chart's patches and measured skins keep the Oklab hue of the plain colorimetry of the scene, over six stops, at a
  pleasing saturation near their own exposure;
* dark skin in the shade keeps nearly as much of its colour as light skin does;
* lights of strong colour, from four stops under grey to eight over, turn little on their way to white;
* the circle of hues keeps its order, and turns little, at three saturations over nine stops;
* no folds: the dyes' map to colour keeps its orientation (see :func:`orientation`);
* every number stays near a plausible start and within bounds.

Light comes as the print shows it to its film (:func:`~lookwright.colour.film.print_rendering.to_film`); what the print
does to hue afterwards is left out, so that the film is as good by itself as it can be. All but the bounds are terms of
one sum of squares: asked, not guaranteed. More than half of the numbers end on their bounds; the head of
``constants.py`` names them.

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
from .lamps import emitters
from .model import FilmPrint
from .neutral import LN10
from .patches import NEUTRALS, SKIN_PATCHES, Turn, colorchecker, skin_samples, turns
from .print_rendering import to_film
from .projection import Observer, cie_1931
from .quadrature import solve_quadrature
from .skins import LIGHTS, skins

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
PATCH_STOPS = {-3.0: 1.0, -2.0: 1.0, -1.0: 1.2, 0.0: 2.4, 1.0: 1.2, 2.0: 0.8, 3.0: 0.5}
SKIN_STOPS = {-3.0: 0.6, -2.0: 0.8, -1.0: 1.2, 0.0: 1.8, 1.0: 1.6, 2.0: 1.6, 3.0: 0.6}
SATURATION_WITHIN = 2.5
"""Stops from its own exposure within which a patch is asked for a saturation."""
DARK_STOPS = (-3.0, -2.0, -1.0)
DARK_KEEPS = 0.9
"""Chroma that dark skin is to keep at those, of what light skin keeps: none is asked beyond."""
CIRCLE_STOPS = (-4.0, -2.0, 0.0, 2.0, 4.0)
CIRCLE_SATURATION = (0.08, 0.16, 0.26)
CIRCLE_STEP = 15.0
LAMP_STOPS = (-4.0, -2.0, 0.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0)
FOLD_LIMIT = 0.03
"""Least orientation that is not penalised."""
LAMP_WEIGHT = 0.5
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


def through_print(film: FilmPrint) -> Callable[[Array], Array]:
    """The film fed as the print feeds it: scene light (..., 3) to screen light."""

    def shown(scene: Array) -> Array:
        x = np.asarray(scene, np.float64)
        return film(to_film(x.reshape(-1, 3).T).light.T).reshape(x.shape)

    return shown


def sideways(t: Turn, scene: Array) -> Array:
    """Oklab chroma that points away from the scene's own hue: C sin(turn), of the shown colour."""
    chroma = t.chroma * np.hypot(*np.moveaxis(light_to_oklab(scene, SCENE_TO_LMS)[..., 1:], -1, 0))
    # A turn beyond a quarter circle is worse than a quarter, not better.
    return chroma * np.sin(np.radians(np.clip(t.hue, -90.0, 90.0)))


def lit_lamps() -> Array:
    """(stops, lamp, 3) ACEScg light of the emitters."""
    return np.multiply.outer(2.0 ** np.array(LAMP_STOPS), np.array(list(emitters().values())))


def on_bounds(chosen: FilmSet) -> list[str]:
    """The numbers that lie on the bounds they were given, to the digits that are stored, as ``name place low/high``."""
    v, low, high = chosen.vector(), LOW.vector(), HIGH.vector()
    names = [f"{n} {i}" for n, values in vars(chosen).items() for i in range(np.size(values))]
    told = {
        n: "low" if x - a < 5e-4 else "high" if b - x < 5e-4 else ""
        for n, x, a, b in zip(names, v, low, high, strict=True)
    }
    return [f"{n} {word}" for n, word in told.items() if word]


def what_is_left(chosen: FilmSet) -> str:
    """What the fit did not achieve, for the head of the constants."""
    found = on_bounds(chosen)
    return f"On their bounds: {len(found)} of {len(chosen.vector())} numbers ({', '.join(found)})."


def _targets() -> tuple[Array, Array]:
    """(18, 3) patches, and every fourth of the measured skins under all lights, ACEScg."""
    return np.array(list(colorchecker().values()))[:-NEUTRALS], np.concatenate([skins(light) for light in LIGHTS])[::4]


def _colours(
    show: Callable[[Array], Array], colours: Array, stops: dict[float, float], wanted: float, unit: float
) -> list[Array]:
    """Residuals of hue and saturation for patches or skins, as a list of arrays."""
    parts, share = [], np.sqrt(18.0 / len(colours))
    for shift, weight in stops.items():
        t = turns(show, colours * 2.0**shift)
        parts.append(share * weight * t.hue / unit)
        if abs(shift) < SATURATION_WITHIN:
            parts.append(share * weight * 0.42 * np.log(t.saturation / wanted) / 0.15)
    return parts


def residuals_of(observer: Observer, patches: Array, skin: Array) -> Callable[[Array], Array]:
    """The function that least squares drives to zero; its argument is a film set as a vector."""
    circles, lamps, people = hue_circles(), lit_lamps(), skins("D65")
    grid = density_grid(FilmPrint().print.span)
    start, spread = START.vector(), SPREAD.vector()

    def residuals(v: Array) -> Array:
        film = FilmPrint(chosen=FilmSet.from_vector(v), observer=observer)
        show = through_print(film)
        parts = _colours(show, patches, PATCH_STOPS, SATURATION, 3.0)
        parts += _colours(show, skin, SKIN_STOPS, SKIN_SATURATION, 2.0)
        for shift in DARK_STOPS:
            dark, light = (turns(show, x * 2.0**shift).chroma.mean() for x in (people[:3], people[-3:]))
            parts.append(3.0 * np.minimum(0.0, np.log(dark / light / DARK_KEEPS)) / 0.1)
        # Far up the scale a hue matters as much as there is chroma left to see it by.
        parts.append(LAMP_WEIGHT * sideways(turns(show, lamps), lamps) / 0.02)
        turn = turns(show, circles).hue
        parts.append(0.15 * turn / 5.0)
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

    residuals = residuals_of(observer or cie_1931(10.0), *_targets())
    found = least_squares(
        residuals,
        START.vector(),
        bounds=(LOW.vector(), HIGH.vector()),
        x_scale=SPREAD.vector(),
        max_nfev=40,
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
    show = through_print(film)
    t = turns(show, colours)
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
    circle = turns(show, hue_circles()).hue
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
    coarse, fine = cie_1931(10.0), cie_1931(1.0)
    before = report("before: the naive start", FilmPrint(chosen=START, observer=fine))
    chosen = solve(coarse)
    after = report("after: the least-squares choice", FilmPrint(chosen=chosen, observer=fine))
    rule, error = solve_quadrature(chosen.dyes(), fine, NODES)
    notes = [
        "Before: " + before[-2],
        "After:  " + after[-2],
        *textwrap.wrap(what_is_left(chosen), 110),
        f"Quadrature: {len(rule.wavelength)} wavelengths, worst error {100.0 * error:.2f} % of (value + 1 % of white)",
        "over dye amounts 0..9, lamps 2800..7500 K and the whole range of finish.",
    ]
    text = constants_text(chosen, rule, notes)
    print("\n".join([*before, "", *after, "", text]))
    if "--write" in arguments:
        write_text(Path(__file__).with_name("constants.py"), text)


if __name__ == "__main__":
    main(sys.argv[1:])
