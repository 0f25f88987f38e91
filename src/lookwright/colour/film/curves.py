"""Numbers for plots of the print: characteristic curves, dye bands, grey scale. No plotting here."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.spaces.primaries import primaries

from .density import visual_density
from .dyes import spectral_density
from .layers import log_exposure
from .model import GREY, FilmPrint
from .neutral import LN10
from .parameters import FilmParameters


@dataclass(frozen=True)
class PrintCurves:
    """Everything a figure of the print needs, as plain arrays."""

    stops: Array
    """(n,) camera exposure in stops from 18 % grey."""
    log_exposure: Array
    """(n,) the same in log10 of scene light (0.18 = grey)."""
    negative_density: Array
    """(n,) negative, above base, of a grey scale (the three layers are equal)."""
    print_exposure: Array
    """(n,) log10 exposure of the print's red-sensitive layer behind that negative, for the system curve."""
    print_density: Array
    """(n, 3) densities of the print's three layers over the grey scale (equal at balanced lights)."""
    print_curve: tuple[Array, Array]
    """log10 print exposure (m,) and density (m,) of the print stock alone."""
    visual_density: Array
    """(n,) V-weighted density of the printed grey scale, above clear film."""
    light: Array
    """(n, 3) the grey scale on the screen, linear BT.2020, 1 = clear film, with flare and surround."""
    system_gamma: Array
    """(n,) slope d log10 Y / d log10 E of the screen's luminance."""
    wavelength: Array
    """(w,) nm, 380-780."""
    dye_bands: Array
    """(3, w) absorption of the cyan, magenta and yellow dye in the amounts that make density-1 grey."""
    neutral: Array
    """(w,) their sum: the spectral density of that grey."""


def print_curves(params: FilmParameters | None = None, low: float = -10.0, high: float = 8.0) -> PrintCurves:
    """Curves of a print over ``low`` to ``high`` stops from grey, in steps of a twentieth of a stop."""
    film = FilmPrint(params)
    stops = np.arange(round(low * 20), round(high * 20) + 1) / 20.0
    scene = GREY * np.exp2(stops)
    grey = np.repeat(scene[:, None], 3, axis=1)
    negative = film.negative(log_exposure(scene))
    layers = film.layer_densities(grey)
    light = film(grey)

    # The Y column is lamp x V(lambda), folded onto the stored wavelengths.
    visual = visual_density(film.spectra(grey), film.seen[:, 1])

    wavelength = np.arange(380.0, 781.0, 1.0)
    amounts = film.neutral(np.ones((1, 3)))[0]
    bands = amounts[:, None] * film.dyes.bands(wavelength)
    luminance = light @ primaries("BT.2020").luminance
    # The print stock alone, one latitude to either side of its straight line.
    x = np.linspace(film.print.foot - film.print.latitude, film.print.foot + 2.0 * film.print.latitude, 361)
    return PrintCurves(
        stops=stops,
        log_exposure=np.log10(scene),
        negative_density=negative,
        print_exposure=film.lights[0] - negative,
        print_density=layers,
        print_curve=(x, film.print(x)),
        visual_density=visual,
        light=light,
        system_gamma=np.gradient(np.log(luminance), stops) / (LN10 * np.log10(2.0)),
        wavelength=wavelength,
        dye_bands=bands,
        neutral=spectral_density(amounts, film.dyes.bands(wavelength)),
    )
