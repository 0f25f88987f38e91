"""The figures that are held of a rendering and what is asked of each: by tests, and printed by a benchmark."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import rendering_measures as m
from rendering_methods import aces2_hdr

from lookwright.colour.film.lamps import emitters
from lookwright.colour.spaces.oklab import light_to_oklab

CHART_STOPS = (-3, 0, 2, 3)
GREYS = 0.18 * 2.0 ** np.arange(-12.0, 12.01, 0.05)[:, None] * np.ones(3)


@dataclass(frozen=True)
class Limit:
    """The most, or with ``least`` the least, that each value may be."""

    values: tuple[float, ...]
    least: bool = False

    def met(self, found: tuple[float, ...]) -> bool:
        pairs = list(zip(found, self.values, strict=True))
        return all(f >= v for f, v in pairs) if self.least else all(f <= v for f, v in pairs)

    def __str__(self) -> str:
        return ("at least " if self.least else "at most ") + "/".join(f"{v:g}" for v in self.values)


def _asked(plain: tuple[float, ...] | None, print_: tuple[float, ...] | None, least: bool = False) -> dict[str, Limit]:
    return {n: Limit(v, least) for n, v in (("plain", plain), ("print", print_)) if v is not None}


LIMITS: dict[str, dict[str, Limit]] = {
    "drift of lights, Oklab: mean/most": _asked((1, 3), (6, 15)),
    "drift of lights, Jzazbz: mean/most": _asked((5, 17), (8, 20)),
    "drift of lights, CAM16: mean/most": _asked((5, 17), (8, 20)),
    "lights whose luminance falls, SDR": _asked((0,), (0,)),
    "lights whose luminance falls, HDR 1000": _asked((0,), (0,)),
    "least Y of a light at +8": _asked((0.5,), (0.6,), least=True),
    "most chroma of a light at +8": _asked((0.10,), (0.06,)),
    "chart turn at -3/0/+2/+3, Oklab": _asked((0.5, 0.5, 0.7, 1.3), (3, 1, 3, 4)),
    "chart turn at -3/0/+2/+3, CAM16": _asked((0.5, 0.5, 0.7, 1.3), (3, 1, 3, 4)),
    "skin turn at +2: Oklab/CAM16": _asked((1, 1), (2, 2)),
    "chroma kept by dark skin over light skin": _asked((0.84,), (0.84,), least=True),
    "greys of HDR 1000 from ACES 2's, %": _asked((1,), None),
    "greys: off neutral / largest step down": _asked((1e-9, 0), (1e-8, 0)),
    "skin between SDR and HDR, most, deg": _asked((2,), (2,)),
    "folds of surface colours": _asked((0,), (0,)),
}
"""What is asked, by row: of drift and turns in degrees, the mean over lights, patches or skins where not said."""


def _drifts(sdr: m.Rendering) -> dict[str, tuple[float, ...]]:
    lights = np.array(list(emitters().values()))
    found = {}
    for space in m.SPACES:
        spans = m.drift(sdr, lights, space)
        found[f"drift of lights, {space}: mean/most"] = (float(spans.mean()), float(spans.max()))
    return found


def _turns(sdr: m.Rendering) -> dict[str, tuple[float, ...]]:
    chart, skin = m.chart(), m.all_skins()

    def mean(scene: np.ndarray, stops: float, space: str) -> float:
        return float(np.abs(m.patch_turn(sdr, scene, stops, space)).mean())

    found = {
        f"chart turn at -3/0/+2/+3, {space}": tuple(mean(chart, k, space) for k in CHART_STOPS)
        for space in ("Oklab", "CAM16")
    }
    return {**found, "skin turn at +2: Oklab/CAM16": (mean(skin, 2, "Oklab"), mean(skin, 2, "CAM16"))}


def _hdr(sdr: m.Rendering, hdr: m.Rendering) -> dict[str, tuple[float, ...]]:
    lights = np.array(list(emitters().values()))
    skin = m.all_skins()
    greys = 0.18 * 2.0 ** np.arange(-4.0, 8.01, 0.25)[:, None] * np.ones(3)
    off = np.abs(m.luminance(hdr(greys)) / m.luminance(aces2_hdr()(greys)) - 1.0).max()
    turns = [
        np.abs(m.turn(light_to_oklab(hdr(skin * 2.0**k)), light_to_oklab(sdr(skin * 2.0**k)))).max()
        for k in (-2, 0, 1, 2)
    ]
    return {
        "lights whose luminance falls, HDR 1000": (m.falling(hdr, lights),),
        "greys of HDR 1000 from ACES 2's, %": (100.0 * float(off),),
        "skin between SDR and HDR, most, deg": (float(max(turns)),),
    }


def rows(sdr: m.Rendering, hdr: m.Rendering | None = None) -> dict[str, tuple[float, ...]]:
    """Every row for a rendering to BT.709 at 100 cd/m2, and with ``hdr`` (BT.2020 to 1000 cd/m2) those of both."""
    lights = np.array(list(emitters().values()))
    greys = sdr(GREYS)
    return {
        **_drifts(sdr),
        "lights whose luminance falls, SDR": (m.falling(sdr, lights),),
        "least Y of a light at +8": (float(m.luminance(sdr(lights * 2.0**8)).min()),),
        "most chroma of a light at +8": (float(m.chroma(sdr(lights * 2.0**8)).max()),),
        **_turns(sdr),
        "chroma kept by dark skin over light skin": (m.dark_keeps(sdr),),
        "greys: off neutral / largest step down": (
            float(np.ptp(greys, axis=1).max()),
            float(max(0.0, -np.diff(greys[:, 1]).min())),
        ),
        "folds of surface colours": (m.folds(sdr, m.surface_colours()),),
        **(_hdr(sdr, hdr) if hdr is not None else {}),
    }
