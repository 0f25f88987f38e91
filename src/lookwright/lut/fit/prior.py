"""Which colours pictures are full of: a weight for every input colour, and an even draw from it.

A lattice that is fitted to a few stills errs more on everything else. So the fit is to natural colours in general:
light round the middle of the scale and little saturation, falling off smoothly, with a floor so that no colour counts
for nothing. The widths are common practice, no source; that they hold on photographs never fitted to is what
``tests/benchmarks/lattice_table.py`` shows.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.plain import plain_scene
from lookwright.colour.spaces.oklab import scene_to_opponent, stops_from_grey
from lookwright.colour.spaces.signal import Signal
from lookwright.lut.lattices.samples import along, spread

Prior = Callable[[Array], Array]
"""(M, 3) input signal to (M,) weights, 0 to 1."""

FLOOR = 0.02
"""Weight of colours that pictures hardly hold."""
_CENTRE_STOPS, _WIDTH_STOPS = -0.5, 2.5
_SATURATION = 0.12
"""Oklab chroma over lightness at which the weight has fallen to 1/e; skin has about 0.08."""
_BRIGHTEST = 0.98
"""Display light taken for white: the inverse of the plain rendering runs off at its peak."""
_TRIED = 1 << 18
"""Colours of the cube among which a draw chooses."""


@lru_cache(maxsize=16)
def natural(source: Signal) -> Prior:
    """The weight of colours of a source signal, 0 to 1; scene light as it is, display light through the inverse of
    the plain rendering."""

    def weight(signal: Array) -> Array:
        if source.kind == "scene":
            scene = source.to_scene(signal)
        else:
            scene = plain_scene(np.clip(source.to_light(signal), 0.0, _BRIGHTEST))
        opponent = scene_to_opponent(scene)
        off = (stops_from_grey(opponent[:, 0]) - _CENTRE_STOPS) / _WIDTH_STOPS
        saturation = np.hypot(opponent[:, 1], opponent[:, 2])
        return np.exp(-0.5 * off * off - saturation / _SATURATION)

    return weight


def even(signal: Array) -> Array:
    """All colours alike: where nothing is known of the source."""
    return np.ones(len(signal))


def prior_of(look: object) -> Prior:
    """:func:`natural` for a look that states its ``source``, else :func:`even`."""
    source = getattr(look, "source", None)
    return even if source is None else natural(source)


@lru_cache(maxsize=8)
def draw(prior: Prior, count: int, seed: int) -> Array:
    """(count, 3) colours of the unit cube, as often as ``prior`` says; the same for the same seed.

    An even spread of the cube, of which every colour is taken with its share of the whole weight, and moved within its
    neighbourhood, as one may come up again. The places in the running sum are a spread too: regular ones would fall
    into step with the cube's. Remembered, as the lattices of a delivery are judged at the same colours; not to be
    written to.
    """
    tried = spread(_TRIED, 3, seed)
    total = np.cumsum(np.concatenate([prior(part) for part in np.array_split(tried, 16)]))
    at = along(count, seed) * total[-1]
    chosen = tried[np.minimum(np.searchsorted(total, at), _TRIED - 1)]
    shift = (spread(count, 3, seed + 1) - 0.5) / np.cbrt(_TRIED)
    out = np.clip(chosen + shift, 0.0, 1.0)
    out.setflags(write=False)
    return out
