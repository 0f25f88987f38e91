"""The table of scene colours is what its spectra give, and the skins in it are those that were measured."""

from __future__ import annotations

import numpy as np
import pytest
from scene_colours import TABLE, rows

from lookwright.assess.restraint.scene import scene_colours
from lookwright.colour.film.skins import skins


def test_the_table_is_worked_out_from_spectra() -> None:
    """Every colour anew, through colour-science: the file has six digits."""
    kept = [line.split("; ") for line in TABLE.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    anew = rows()
    assert [(k[0], k[1]) for k in kept] == [(group, name) for group, name, _ in anew]
    values = np.array([k[2:] for k in kept], float)
    # Six digits, and the releases of the library differ in the last of them.
    np.testing.assert_allclose(values, np.array([rgb for *_, rgb in anew]), rtol=2e-5, atol=2e-6)


def test_people_are_those_of_the_reference_set() -> None:
    """17 people of Cooksey, Allen and Tsai 2017, darkest first, under D65."""
    group = scene_colours()["skin daylight"]
    np.testing.assert_allclose(group.scene[:17], skins("D65"), rtol=2e-5, atol=2e-6)
    assert group.scene[0].mean() == group.scene[:17].mean(axis=1).min()


@pytest.mark.parametrize("which", ["sky", "leaves"])
def test_memory_colours_are_blue_and_green(which: str) -> None:
    """Channels in the order of a sky and of a leaf, whatever else is wrong."""
    r, g, b = scene_colours()[which].scene.T
    assert (b > g).all() and (g > r).all() if which == "sky" else (g > r).all() and (g > b).all()
