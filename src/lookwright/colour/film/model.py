"""The whole print: scene light in, projected light out."""

from __future__ import annotations

from functools import lru_cache

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

HIGHLIGHTS = 1.8
"""Density of the negative above its grey where light has exposed it fully; far beyond what a print shows."""

DARKEST_GREY = 0.9

SHADOWS = 0.3
"""Density of the negative kept under the place where a straight print would reach its black: room for the bend."""

MOST_SPAN = 1.2
"""The longest span of the print's curve, of the black asked for."""

CHUNK = 4096
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
        self.base = base_light(grey_negative, printed_grey(self.params), self.print)
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

        Between 0 and the span of the print's curve, a little over ``density_max`` (where greys end), strictly falling
        with more light, for any finite input.
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
    """Density of the print at balanced lights where the scene is black: ``density_max``.

    Less where the negative is so flat that it has none such in it.
    """
    negative, positive = curves(p)
    base = base_light(float(negative(log_exposure(GREY))), printed_grey(p), positive)
    return float(positive(base - negative(log_exposure(0.0))))


def printed_grey(p: FilmParameters) -> float:
    """Density of grey on the print that is ``grey_density`` once the surround's exponent has been applied.

    Held under the black: a print has no grey darker than that.
    """
    return min(p.grey_density / p.surround, DARKEST_GREY * p.density_max)


def curves(p: FilmParameters) -> tuple[Curve, Curve]:
    """Characteristic curves of the negative (x = log10 scene exposure) and of the print.

    The negative records as much of the shadows as the print's black needs: a print of gamma 2.15 shows only 2.15
    densities for each of the negative. The span of the print is solved (secant steps) so that a scene without light
    prints at ``density_max``: its bend never quite reaches the end of the span.
    """
    return _curves(printed_grey(p), p.density_max, p.negative_gamma, p.print_gamma, p.toe, p.shoulder)


@lru_cache(maxsize=256)
def _curves(
    grey: float, density_max: float, negative_gamma: float, print_gamma: float, toe: float, shoulder: float
) -> tuple[Curve, Curve]:
    """The curves by what enters them: lights, coupling and the projector leave them as they are."""
    recorded = (density_max - grey) / print_gamma + SHADOWS
    negative = Curve(
        gamma=negative_gamma,
        span=recorded + HIGHLIGHTS,
        foot=float(np.log10(GREY)) - recorded / negative_gamma,
        toe=0.5 * toe,
        shoulder=0.5 * shoulder,
    )
    at_grey, at_black = float(negative(log_exposure(GREY))), float(negative(log_exposure(0.0)))

    def with_span(span: float) -> Curve:
        # On the print, little exposure is highlight: its toe is the picture's shoulder.
        return Curve(gamma=print_gamma, span=span, toe=shoulder, shoulder=toe)

    def missing(span: float) -> float:
        curve = with_span(span)
        return float(curve(base_light(at_grey, grey, curve) - at_black)) - density_max

    low, high = density_max, MOST_SPAN * density_max
    if missing(high) < 0.0:  # so flat a negative has no such black in it
        return negative, with_span(high)
    for _ in range(30):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if missing(middle) < 0.0 else (low, middle)
    for _ in range(3):  # to the number itself: where halving ends depends on the last digit
        a, b = missing(low), missing(high)
        low, high = (high, high - b * (high - low) / (b - a)) if a != b else (low, high)
    return negative, with_span(min(high, MOST_SPAN * density_max))
