"""The whole print: scene light in, projected light out."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from lookwright.arrays import Array

from . import constants, projection
from .dyes import spectral_transmittance
from .filmset import FilmSet
from .layers import couple, coupling_matrix, layer_exposure, log_exposure
from .neutral import LN10, NeutralScale
from .parameters import FilmParameters
from .printing import base_light, points_to_log10, print_log_exposure
from .projection import Observer
from .sensitometry import Curve

GREY = 0.18
"""Scene reflectance of middle grey."""

NEGATIVE_SPAN = 2.9
"""Density of a fully exposed negative above its base; far beyond what a print shows."""

NEGATIVE_FOOT = 1.1
"""Density of grey above the foot of the negative's straight line: how much of the shadows is recorded.

0.70 above base in the ADX encoding (SMPTE ST 2065-3); exposed one stop and more over, as is common
practice for deep blacks, which need this distance times the print gamma in density.
"""

CHUNK = 8192
"""Colours worked on at a time: the spectral rows of one chunk stay in the processor's cache."""


class FilmPrint:
    """A negative, its print, and the projector, as one function of scene light.

    Parameters
    ----------
    params
        What the filmmaker set.
    chosen
        The fitted set of matrices and dyes; the stored one unless a solver is at work.
    observer
        Wavelengths and weights of the observer: the stored quadrature, or the whole CIE table
        (:func:`lookwright.colour.film.projection.cie_1931`) for the plain spectral integral.

    Examples
    --------
    >>> film = FilmPrint(FilmParameters())
    >>> film([0.18, 0.18, 0.18]).round(4)  # 10^-0.92
    array([0.1202, 0.1202, 0.1202])
    """

    def __init__(
        self,
        params: FilmParameters | None = None,
        chosen: FilmSet = constants.CHOSEN,
        observer: Observer | None = None,
    ) -> None:
        p = params or FilmParameters()
        o = observer or Observer(np.array(constants.WAVELENGTH), np.array(constants.WEIGHTS))
        self.params = p
        self.negative, self.print = curves(p)
        self.sensitivity = chosen.sensitivity_matrix()
        self.coupling = coupling_matrix(chosen.coupling_matrix(), p.coupling)

        grey_negative = float(self.negative(log_exposure(GREY)))
        self.base = base_light(grey_negative, p.grey_density, self.print)
        self.lights = self.base + points_to_log10([p.printer_red, p.printer_green, p.printer_blue])

        lamp = projection.blackbody(o.wavelength, p.lamp_kelvin)
        tint = projection.base_tint(o.wavelength, p.finish)
        self.wavelength = o.wavelength
        self.dyes = chosen.dyes()
        self.bands = self.dyes.bands(o.wavelength)
        self.seen = projection.seen_weights(o, lamp, tint)
        self.to_light = projection.screen_matrix(o, lamp, tint)
        self.neutral = NeutralScale.solve(self.print.span, self.bands, self.seen)
        self._dye_exponent = np.ascontiguousarray(-LN10 * self.bands)

    def layer_densities(self, scene: ArrayLike) -> Array:
        """Equivalent neutral densities (..., 3) of the print's layers for ACEScg light (..., 3).

        Between 0 and ``density_max`` (which greys do not reach: :func:`black_density`), strictly falling with more
        light, for any finite input.
        """
        x = log_exposure(layer_exposure(scene, self.sensitivity))
        negative = couple(self.negative(x), self.coupling)
        return self.print(print_log_exposure(negative, self.lights))

    def dye_amounts(self, scene: ArrayLike) -> Array:
        """Amounts (..., 3) of cyan, magenta and yellow dye on the print."""
        return self.neutral(self.layer_densities(scene))

    def spectra(self, scene: ArrayLike) -> Array:
        """Transmittance of the dyes (..., n) at ``self.wavelength``, relative to clear film."""
        return spectral_transmittance(self.dye_amounts(scene), self.bands)

    def relative_xyz(self, scene: ArrayLike) -> Array:
        """X, Y, Z of the print under the lamp, each relative to clear film (..., 3), in 0..1."""
        passed = self.dye_amounts(scene) @ self._dye_exponent
        np.exp(passed, out=passed)
        return passed @ self.seen

    def _project(self, scene: Array) -> Array:
        relative = projection.adapt_surround(self.relative_xyz(scene), self.params.surround)
        return projection.add_flare(relative @ self.to_light.T, self.params.flare)

    def __call__(self, scene_acescg: ArrayLike) -> Array:
        """Projected light.

        Parameters
        ----------
        scene_acescg
            (..., 3) linear ACEScg, 0.18 = middle grey. Negatives and any large finite value are safe.

        Returns
        -------
        (..., 3) float64 display light in linear BT.2020 primaries, D65, 1.0 = clear film. Always
        finite for finite input; NaN stays NaN. Very deep, pure colours may lie a little outside
        the primaries (a small negative component): the gamut step's task, not clipped here.
        """
        scene = np.asarray(scene_acescg, np.float64)
        flat = scene.reshape(-1, 3)
        out = np.empty_like(flat)
        for start in range(0, len(flat), CHUNK):
            out[start : start + CHUNK] = self._project(flat[start : start + CHUNK])
        return out.reshape(scene.shape)


def black_density(p: FilmParameters) -> float:
    """Density of the print behind clear negative at balanced lights: the deepest black a picture can have."""
    negative, positive = curves(p)
    return float(positive(base_light(float(negative(log_exposure(GREY))), p.grey_density, positive)))


def curves(p: FilmParameters) -> tuple[Curve, Curve]:
    """Characteristic curves of the negative (x = log10 scene exposure) and of the print."""
    negative = Curve(
        gamma=p.negative_gamma,
        span=NEGATIVE_SPAN,
        foot=float(np.log10(GREY)) - NEGATIVE_FOOT / p.negative_gamma,
        toe=0.5 * p.toe,
        shoulder=0.5 * p.shoulder,
    )
    # On the print, little exposure is highlight: its toe is the picture's shoulder.
    return negative, Curve(gamma=p.print_gamma, span=p.density_max, toe=p.shoulder, shoulder=p.toe)
