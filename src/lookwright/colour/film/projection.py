"""Projecting a print: lamp, observer, white, flare and surround.

The clear film in the projector is the white of the picture; it is adapted to D65 (CAT02,
CIE 159:2004) so that the result is display light in linear BT.2020 primaries with
1, 1, 1 = clear film.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from lookwright.arrays import Array
from lookwright.colour.spaces.library import colour_library
from lookwright.colour.spaces.primaries import CATS, D65, primaries, xy_to_xyz

SECOND_RADIATION = 1.438776877e-2
"""c2 = hc/k in m K (CODATA 2018; exact in the SI of 2019, to the digits shown)."""

FINISH_MIRED = 20.0
"""Mired shift of a whole step of ``finish``: between the +18 and +27 of common light-balancing filters."""


@dataclass(frozen=True)
class Observer:
    """Wavelengths (n,) in nm and weights (n, 3): XYZ of a spectrum S is S @ weights."""

    wavelength: Array
    weights: Array


def cie_1931(step: float = 1.0) -> Observer:
    """The CIE 1931 2 degree observer, 380-780 nm, from colour-science (imported here, not before)."""
    colour = colour_library()
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    table = cmfs.copy().align(colour.SpectralShape(380, 780, step))
    return Observer(np.asarray(table.wavelengths, np.float64), np.asarray(table.values) * step)


def blackbody(wavelength: ArrayLike, kelvin: float) -> Array:
    """Planck's law, relative: power per nm at ``wavelength`` (nm), 1 at 560 nm.

    M ~ lambda^-5 / (e^(c2 / (lambda T)) - 1); CIE 015:2018, note on the Planckian radiator.
    """

    def power(nm: Array) -> Array:
        return nm**-5.0 / np.expm1(SECOND_RADIATION * 1.0e9 / (nm * kelvin))

    return power(np.asarray(wavelength, np.float64)) / power(np.array(560.0))


def base_tint(wavelength: ArrayLike, finish: float) -> Array:
    """Density of the tinted support, (n,), never negative; all zero for ``finish`` 0.

    A shift of the white by M mired multiplies a Planckian light by exp(-c2 M / lambda) (Wien's
    form of Planck's law), which is a density linear in 1 / lambda. Positive ``finish`` is
    warm (absorbs short wavelengths), negative is cool; one unit is :data:`FINISH_MIRED` mired.
    """
    lam = np.asarray(wavelength, np.float64)
    mired = FINISH_MIRED * finish
    clear = 780.0 if finish >= 0.0 else 380.0  # the end of the spectrum that stays untouched
    return np.log10(np.e) * SECOND_RADIATION * 1.0e3 * mired * (1.0 / lam - 1.0 / clear)


def seen_weights(observer: Observer, lamp: Array, base: Array) -> Array:
    """(n, 3) weights from dye transmittance to X, Y, Z relative to clear film: each column sums to 1.

    None is negative, so every tristimulus value of every print lies between 0 and 1.
    """
    seen = (lamp * np.power(10.0, -base))[:, None] * observer.weights
    return seen / seen.sum(axis=0)


def screen_matrix(observer: Observer, lamp: Array, base: Array) -> Array:
    """(3, 3) from X, Y, Z relative to clear film to linear BT.2020 display light.

    White is the lamp through clear *untinted* film, adapted to D65 by CAT02. A tinted base (density
    ``base``) therefore shows as a tint of the whole picture; the result is scaled so that the largest of
    R, G, B of the clear tinted film is 1.
    """
    white = lamp @ observer.weights
    clear = (lamp * np.power(10.0, -base)) @ observer.weights
    sharpened = CATS["CAT02"]
    gain = (sharpened @ xy_to_xyz(D65)) / (sharpened @ (white / white[1]))
    adapt = np.linalg.inv(sharpened) @ (gain[:, None] * sharpened)
    to_light = np.linalg.inv(primaries("BT.2020").to_xyz) @ adapt @ np.diag(clear / white[1])
    return to_light / to_light.sum(axis=1).max()


def add_flare(light: Array, flare: float) -> Array:
    """Stray light on the screen: (light + flare) / (1 + flare); white stays white, blacks lift."""
    return (light + flare) / (1.0 + flare)


def adapt_surround(relative: Array, exponent: float) -> Array:
    """X, Y, Z relative to white, each to the power ``exponent``, as RLAB does (Fairchild 1996).

    A print is made for a dark room and may be shown in a dim or average one: an exponent below 1 takes the extra
    contrast out, and with it some colour. How much is not settled, for average : dim : dark: 1 : 1.25 : 1.5 (Bartleson
    and Breneman 1967, from memory; RLAB's exponents 1/2.3, 1/2.9, 1/3.5 are 1 : 1.26 : 1.52), 1 : 1.17 : 1.31
    (CIECAM02), 1 : 1.11 : 1.2 (measured anew, J. Opt. Soc. Korea 18(1), 2014, 89; and CIC15, 2007, from memory).
    ``relative`` lies in 0..1 and so does the result.
    """
    return relative if exponent == 1.0 else relative**exponent
