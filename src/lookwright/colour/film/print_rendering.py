"""The print as a rendering: a film between the plain rendering's floor and its fit, so that no light goes astray."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.film.model import GREY, FilmPrint
from lookwright.colour.rendering.fit import Volume, cubed, weight
from lookwright.colour.rendering.floor import raised
from lookwright.colour.rendering.hue import TINY, direction, near, purity, roots_of, turned
from lookwright.colour.rendering.plain_rendering import THRESHOLD, PlainRendering, in_chunks
from lookwright.colour.spaces.oklab import LMS_TO_LAB, LMS_TO_SCENE, SCENE_TO_LMS, light_to_oklab

TOP = 0.6
"""Saturation that the film is shown at most: layers of real film are not exposed by purer light. Chosen by eye: at .45
reds are pale, at .8 cyan lights turn."""
TOP_FROM = 0.5
NEUTRAL = 1e-4
"""Saturation under which the scene has no hue to speak of: that of a grey is the last digit of its light."""
SCENE_HUE = 0.6
"""Share of the scene's hue in the print's, the rest being the film's: of colours that the film takes as they are."""
CLEAR_AT, CLEAR_OVER = 6.0, 1.2
"""Stops over grey at which half of a light's colour is gone, and over how many: the path to clear film."""
DEEP, DEEP_AT, DEEP_OVER = 0.66, -4.0, 0.7
"""Saturation given back to deep shade, where the print's bend takes lightness and chroma with it: by how much, from
how many stops over grey, over how many. Dark skin must not pale more than light skin does."""
FADE_AT, FADE_OVER = -6.5, 0.5
"""Stops over grey at which half the colour is gone into black, and over how many."""
EXTENDED_AT, EXTENDED_OVER = 4.0, 1.0
"""Stops over grey at which a quarter of the highlights' extension is reached, and over how many; grey gains .3 %."""
SKEW = 7.0
"""Degrees by which the warmest lights turn toward yellow, as fire does on film: chosen by eye on a candle and a sunset.
"""
WARM = np.radians(55.0)
SKEW_AT, SKEW_OVER = 2.5, 1.0
"""Stops over grey at which half of the skew of warm lights is reached, and over how many."""
LIMIT = 2.0
"""Colours this far outside their room land on the boundary."""


class PrintRendering:
    """Scene light to the light of a projected print that the output can show.

    The scene's light is floored as for the plain rendering, its purest colours are held at saturation TOP, and what is
    far over grey loses colour on the way to clear film. Then the film works as ever; of its hue at least half is the
    scene's, all where the light was purer than the film can take.

    Parameters
    ----------
    film
        The negative, print and projector.
    volume
        What the output can show; clear film is light 1.
    highlights
        Brightest light over clear film, for HDR: 1 none. At most the volume's peak.
    skew
        Degrees by which bright warm lights turn toward yellow.
    threshold
        Share of the room for colour from where on it is compressed.
    plain, amount
        The plain rendering to mix with, in Oklab, and the share of the print.
    """

    def __init__(
        self,
        film: FilmPrint,
        volume: Volume,
        highlights: float = 1.0,
        skew: float = 0.0,
        threshold: float = THRESHOLD,
        plain: PlainRendering | None = None,
        amount: float = 1.0,
    ) -> None:
        self.film, self.volume, self.threshold = film, volume, threshold
        self.highlights = min(highlights, volume.peak)
        self.skew = float(np.radians(skew))
        self.plain, self.amount = plain, amount
        self._tint = _tint(film)

    def __call__(self, scene: Array) -> Array:
        """Display light (..., 3), linear BT.2020, of scene light (..., 3), linear ACEScg."""
        return in_chunks(self._forward, scene)

    def _forward(self, scene: Array) -> Array:
        lab = self._printed(scene)
        if self.plain is not None:
            plain = LMS_TO_LAB @ np.cbrt(self.volume.to_lms @ self.plain.forward(scene))
            lab = plain + self.amount * (lab - plain)
        chroma, unit = direction(lab)
        s = chroma / np.maximum(lab[0], 1e-9)
        return self.volume.fitted(roots_of(unit), s, cubed(lab[0] * weight(s)), self.threshold, LIMIT)

    def _printed(self, scene: Array) -> Array:
        """Oklab (3, n) of the print, not yet fitted."""
        given = to_film(scene)
        light = self.film(given.light.T).T
        stops = given.stops
        if self.highlights > 1.0:
            far = 1.0 + np.exp2((EXTENDED_AT - stops) * (1.0 / EXTENDED_OVER))
            light = light * (1.0 + (self.highlights - 1.0) / (far * far))
        shown = LMS_TO_LAB @ np.cbrt(self.volume.to_lms @ light)
        skew = None
        if self.skew:
            late = 1.0 / (1.0 + np.exp2((SKEW_AT - stops) * (1.0 / SKEW_OVER)))
            skew = self.skew * near(given.hue, WARM) * late * purity(given.saturation)
        return self._hued(shown, given, skew)

    def _hued(self, lab: Array, given: ToFilm, skew: Array | None) -> Array:
        """The print with its hue between the film's and the scene's: the purer and brighter, the nearer the scene's.

        Hue is that of the difference from what the film makes of a grey, which is tinted where the print is.
        """
        tint = np.zeros((2, 1)) if self._tint is None else self._tint(given.stops) * lab[0]
        off = lab[1:] - tint
        chroma, film = direction(np.stack([lab[0], *off]))
        lost = np.minimum(given.kept, 1.0)
        share = SCENE_HUE + (1.0 - SCENE_HUE) * (1.0 - lost * lost)
        square = given.saturation * given.saturation
        share *= square / (square + NEUTRAL * NEUTRAL)
        mixed = film + share * (given.hue - film)
        if skew is not None:
            mixed = turned(mixed, skew)
        length = np.sqrt(mixed[0] * mixed[0] + mixed[1] * mixed[1])
        return np.stack([lab[0], *(mixed * (chroma / np.maximum(length, TINY)) + tint)])


class Tint:
    """What a film makes of greys: a / L and b / L (2, n) at stops (n,) from grey.

    Straight between nodes, like ``numpy.interp`` and to its last bit, but that both rows are found by one place, and
    this without a search: nodes lie a power of two apart.
    """

    DARKEST, BRIGHTEST, A_STOP = -24, 20, 32

    def __init__(self, film: FilmPrint) -> None:
        self._at = np.arange(self.DARKEST * self.A_STOP, self.BRIGHTEST * self.A_STOP + 1) / self.A_STOP
        lab = light_to_oklab(film(np.repeat(GREY * np.exp2(self._at)[:, None], 3, axis=1)))
        self._values = (lab[:, 1:] / np.maximum(lab[:, :1], 1e-9)).T.copy()
        self._rise = np.diff(self._values) / np.diff(self._at)

    def __call__(self, stops: Array) -> Array:
        inside = np.clip(stops, self.DARKEST, self.BRIGHTEST)
        place = np.floor(inside * self.A_STOP)
        np.nan_to_num(place, copy=False)  # no place for NaN, but it stays NaN by its distance
        node = np.minimum(place.astype(np.intp) - self.DARKEST * self.A_STOP, len(self._at) - 2)
        inside -= self._at[node]
        return np.take(self._rise, node, axis=1) * inside + np.take(self._values, node, axis=1)


def _tint(film: FilmPrint) -> Tint | None:
    """None for a film that leaves greys neutral."""
    p = film.params
    return Tint(film) if p.finish or p.printer_red or p.printer_green or p.printer_blue else None


@dataclass(frozen=True)
class ToFilm:
    """Light as the film is shown it, and what is known of the scene's: n colours."""

    light: Array
    """(3, n) linear ACEScg."""
    hue: Array
    """(2, n) unit vectors in Oklab, of the scene."""
    saturation: Array
    """(n,) Oklab C / L of the scene."""
    kept: Array
    """(n,) share of the saturation asked for that the film is shown."""
    stops: Array
    """(n,) Oklab lightness cubed, in stops over grey."""


def to_film(scene: Array) -> ToFilm:
    """Scene light (3, n), linear ACEScg, as the print shows it to its film: floored, held under TOP, clear far up."""
    lab = LMS_TO_LAB @ np.cbrt(raised(SCENE_TO_LMS @ scene))
    chroma, hue = direction(lab)
    stops = 3.0 * np.log2(lab[0] * (1.0 / GREY ** (1.0 / 3.0)))
    s = chroma / lab[0]
    held, asked = held_saturation(s, stops)
    root = lab[0] * (1.0 + roots_of(hue) * (held * TOP))
    return ToFilm(LMS_TO_SCENE @ cubed(root), hue, s, held / np.maximum(asked, 1e-9), stops)


def soft(r: Array) -> Array:
    """r, held softly under 1 from TOP_FROM on: t + d / (1 + d^p)^(1/p) with p 1.5, d measured in what is left."""
    over = np.maximum(r - TOP_FROM, 0.0) * (1.0 / (1.0 - TOP_FROM))
    return np.where(r > TOP_FROM, TOP_FROM + (1.0 - TOP_FROM) * over / (1.0 + over**1.5) ** (1.0 / 1.5), r)


def held_saturation(s: Array, stops: Array) -> tuple[Array, Array]:
    """Saturation shown to the film and saturation asked for, both as shares of TOP, (n,) each."""
    deep = 1.0 + np.exp2((stops - DEEP_AT) * (1.0 / DEEP_OVER))
    black = 1.0 + np.exp2((FADE_AT - stops) * (1.0 / FADE_OVER))
    asked = s * (1.0 / TOP) * (1.0 + DEEP / deep) / black
    return soft(asked) / (1.0 + np.exp2((stops - CLEAR_AT) * (1.0 / CLEAR_OVER))), asked
