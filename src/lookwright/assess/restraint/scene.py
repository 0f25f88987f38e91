"""The scene colours that looks are judged on: skins under several lights, sky, leaves, surfaces and lights.

Kept as a table (``scene_colours.txt``), worked out from spectra by tests/shared/scene_colours.py: loading the library
that holds the spectra takes longer than a whole check. In it:

* skins: 17 people of the NIST reference data set of human skin reflectance (Cooksey, Allen and Tsai 2017), the darkest
  and the lightest of 100 among them; the two skin patches of the 24-patch chart (ISO 17321-1); samples 15 and 18 of
  CIE 224:2017. Lights: D65, sun (D55), a 3200 K lamp, and lamp and D65 at once, three to one either way;
* sky: the chart's patch, and CIE daylight of 8000 to 25000 K over a scene balanced to the sun (D55);
* leaves: the chart's foliage, and sample 14 of CIE 13.3 (a leaf), in daylight, sun and open shade (10000 K);
* surfaces: the chart, the 99 samples of CIE 224:2017 (both D65), and the limit of real surfaces (Pointer 1980: 576
  colours under illuminant C, adapted by CAT02);
* lights: 28 LEDs, lamps, flames and display primaries, each with its largest channel at that of a grey card.
"""

from __future__ import annotations

import pkgutil
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from lookwright.arrays import Array

LIGHTS_ON_SKIN = ("daylight", "sun", "tungsten", "mixed, warm side", "mixed, cool side")
MIXED = ("mixed, warm side", "mixed, cool side")


@dataclass(frozen=True)
class Group:
    """Some scene colours of one kind."""

    names: tuple[str, ...]
    scene: Array
    """(n, 3) linear ACEScg."""


@lru_cache(maxsize=1)
def scene_colours() -> dict[str, Group]:
    """Every group by name: ``skin LIGHT`` for each of :data:`LIGHTS_ON_SKIN`, ``sky``, ``leaves``, ``chart``,
    ``samples``, ``pointer``, ``lights``."""
    # Not by importlib.resources, whose readers take longer to import than the table to read.
    text = (pkgutil.get_data(__package__, "scene_colours.txt") or b"").decode("utf-8")
    names: dict[str, list[str]] = {}
    values: dict[str, list[list[str]]] = {}
    for line in text.splitlines():
        if line.startswith("#"):
            continue
        group, name, *rgb = line.split("; ")
        names.setdefault(group, []).append(name)
        values.setdefault(group, []).append(rgb)
    return {group: Group(tuple(names[group]), np.array(values[group], np.float64)) for group in names}


def surfaces() -> dict[str, Array]:
    """Real surface colours as scene light, a perfect white at 1.0: ``chart`` (24, 3), ``samples`` (99, 3), ``pointer``
    (576, 3)."""
    return {name: scene_colours()[name].scene for name in ("chart", "samples", "pointer")}
