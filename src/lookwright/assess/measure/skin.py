"""Reading skin: where a mark lies against measured skin, and measured skin under several lights.

The windows are wide on purpose: they cover published measurements and preferences for several groups, which overlap;
a reading outside them says "look at this", not "wrong". Published figures inside them (CIELAB D65 unless said):
inner forearms of four groups h 65.0 to 68.4 degrees (Xiao et al. 2017, Skin Res. Technol. 23:21-29); preferred
facial skin h 46.1, C* 24.7 and h 50.5, C* 25.4 (IS&T abstract; Chen, Chen, Ohta, Luo 2013); 24-patch chart h 42.2 to
46.9; colour evaluation samples 15 and 18 (CIE 224:2017) h 50.9 and 61.1.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.colour.difference import light_to_lab
from lookwright.colour.spaces.library import colour_library
from lookwright.colour.spaces.oklab import light_to_oklab
from lookwright.colour.spaces.primaries import ACES_WHITE, adaptation, matrix, primaries
from lookwright.colour.spaces.signal import DISPLAY_PRIMARIES, Signal

from .levels import checked, display_light
from .skin_line import SKIN_LINE_DEG, difference_angle_deg

LAB_HUE_DEG = (40.0, 70.0)
LAB_CHROMA = (10.0, 30.0)
OKLAB_HUE_DEG = (38.0, 64.0)
"""From light skin of the 24-patch chart (38.0) to the yellowest of the forearm means above (63.2, computed)."""


@dataclass(frozen=True)
class SkinReading:
    """Mean display light of a mark on skin."""

    name: str
    lab: tuple[float, float, float]
    """CIELAB under D65, white = reference white."""
    lab_hue_deg: float
    lab_chroma: float
    oklab_hue_deg: float
    line_deg: float
    """Angle on a Cb/Cr plot of the BT.709 signal at gamma 2.4."""
    off_line_deg: float
    """That angle minus the skin line's 123 degrees: positive = the yellow side, negative = the red side."""
    within: bool
    """Whether both hues and the chroma are inside the windows."""
    sentence: str

    def in_words(self) -> str:
        """The sentence."""
        return self.sentence

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers and text, ready for JSON."""
        return asdict(self)


FARTHEST_HUE = (15.0, 95.0)
"""Oklab hue, degrees: skin under any white light lies within; wider than the windows above on both sides, for mixed
light and for looks (common practice, no source)."""
LEAST_COLOUR = 0.035
"""Oklab chroma over lightness; measured skin has .06 and more (foreheads of the sample stills .10 to .17, computed)."""
DARKEST = 0.004
"""Display light under which a colour cannot be judged."""


def skin_doubt(pixels: NDArray[Any], signal: Signal, name: str) -> str:
    """A sentence where a mark on skin cannot be skin; empty where it may be, or is too dark to tell.

    Walls, cloth, sky and leaves are told so; wood and leather of skin's own colour are not.
    """
    light = display_light(checked(pixels, name).reshape(-1, 3), signal).mean(axis=0)
    if float(light @ primaries(DISPLAY_PRIMARIES).luminance) < DARKEST:
        return ""
    level, a, b = (float(v) for v in light_to_oklab(light))
    hue, colour = float(np.degrees(np.arctan2(b, a))) % 360.0, float(np.hypot(a, b)) / max(level, 1e-6)
    if colour < LEAST_COLOUR:
        why = "it is nearly grey"
    elif not FARTHEST_HUE[0] <= hue <= FARTHEST_HUE[1]:
        why = f"its hue is {hue:.0f}° in Oklab, where skin lies at {FARTHEST_HUE[0]:.0f}° to {FARTHEST_HUE[1]:.0f}°"
    else:
        return ""
    return f"{name!r} is marked as skin and does not look like it: {why}; see where its box lies."


def read_skin(pixels: NDArray[Any], signal: Signal, name: str = "skin") -> SkinReading:
    """Read a mark on skin.

    Parameters
    ----------
    pixels
        (..., 3) code values of the mark. Scene signals go through the plain rendering first: for the effect of a look
        give its output and its output signal.
    signal
        What the code values are.

    Returns
    -------
    SkinReading
        Of the mean display light of the mark. Light is averaged, as an instrument over the area would.

    Raises
    ------
    PictureError
        No pixels, not three channels, NaN or infinity.
    """
    light = display_light(checked(pixels, name).reshape(-1, 3), signal).mean(axis=0)
    lab = light_to_lab(light)
    hue = float(np.degrees(np.arctan2(lab[2], lab[1])) % 360.0)
    chroma = float(np.hypot(lab[1], lab[2]))
    ok = light_to_oklab(light)
    ok_hue = float(np.degrees(np.arctan2(ok[2], ok[1])) % 360.0)
    rgb = np.maximum(light @ matrix(DISPLAY_PRIMARIES, "BT.709").T, 0.0) ** (1.0 / 2.4)
    angle = difference_angle_deg(*(float(v) for v in rgb))
    faults = _faults(hue, chroma, ok_hue)
    sentence = (
        f"{name!r}: skin at hue {hue:.0f} degrees, chroma {chroma:.0f} (CIELAB), "
        f"{abs(angle - SKIN_LINE_DEG):.0f} degrees "
        f"{'to the red side of' if angle < SKIN_LINE_DEG else 'to the yellow side of'} the skin line; "
        + (", ".join(faults) if faults else "inside the range of measured skin")
        + "."
    )
    return SkinReading(
        name,
        (float(lab[0]), float(lab[1]), float(lab[2])),
        hue,
        chroma,
        ok_hue,
        angle,
        angle - SKIN_LINE_DEG,
        not faults,
        sentence,
    )


def _faults(hue: float, chroma: float, ok_hue: float) -> list[str]:
    low, high = LAB_HUE_DEG
    # Hue is a circle: take the side of the window that is nearer.
    off = (hue - 0.5 * (low + high) + 180.0) % 360.0 - 180.0
    faults = []
    if off < 0.5 * (low - high):
        faults.append(f"redder than measured skin ({low:.0f} to {high:.0f} degrees)")
    elif off > 0.5 * (high - low):
        faults.append(f"yellower or greener than measured skin ({low:.0f} to {high:.0f} degrees)")
    elif not OKLAB_HUE_DEG[0] <= ok_hue <= OKLAB_HUE_DEG[1]:
        faults.append(
            f"Oklab hue {ok_hue:.0f} degrees outside that of measured skin "
            f"({OKLAB_HUE_DEG[0]:.0f} to {OKLAB_HUE_DEG[1]:.0f} degrees)"
        )
    if chroma < LAB_CHROMA[0]:
        faults.append(f"paler in colour than measured skin (chroma {LAB_CHROMA[0]:.0f} to {LAB_CHROMA[1]:.0f})")
    elif chroma > LAB_CHROMA[1]:
        faults.append(f"of higher chroma than measured skin (chroma {LAB_CHROMA[0]:.0f} to {LAB_CHROMA[1]:.0f})")
    return faults


SKIN_SAMPLES = ("dark skin", "light skin", "skin sample 15", "skin sample 18")
"""The measured reflectances: the two skin patches of the 24-patch chart (ISO 17321-1 spectra), and colour evaluation
samples 15 and 18 of IES TM-30 / CIE 224:2017, which TM-30-24 designates as skin. There is no very dark skin among them,
and none of them shows the spread between people: a limit of the open data."""

# Warm part, cool part and balance of each light. A mixed light is so many parts of each kind *by luminance*.
_LIGHTS: dict[str, tuple[float, str]] = {
    "daylight": (0.0, "balanced to itself"),
    "tungsten": (1.0, "balanced to itself"),
    "mixed, warm side": (0.75, "balanced between"),
    "mixed, cool side": (0.25, "balanced between"),
}
LIGHTS = tuple(_LIGHTS)
"""Daylight: CIE D65. Tungsten: a full radiator of 3200 K, the usual studio lamp. Mixed: both at once, three parts to
one by luminance either way, as on the two sides of a face between a warm lamp and a dusk window."""

MIXED_BALANCE_KELVIN = 4300.0
"""Camera balance in the mixed light, on the daylight locus: where a camera is set between lamp and window, and the
balance of the sample stills (common practice, no source)."""


@lru_cache(maxsize=1)
def _tables() -> tuple[Array, dict[str, Array], Array, Array]:
    """Observer (n, 3), reflectances by name, D65 and 3200 K power, all at 380 to 780 nm by 5 nm."""
    colour = colour_library()
    shape = colour.SpectralShape(380, 780, 5)

    def take(sd: Any) -> Array:
        return np.asarray(sd.copy().align(shape).values, np.float64)

    observer = take(colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"])
    chart = colour.SDS_COLOURCHECKERS["ISO 17321-1"]
    samples = colour.quality.cfi2017.load_TCS_CIE2017(shape)
    columns = dict(zip(samples.labels, np.asarray(samples.values).T, strict=True))
    reflectances = {
        "dark skin": take(chart["dark skin"]),
        "light skin": take(chart["light skin"]),
        "skin sample 15": np.asarray(columns["TCS14 (CIE 2017)"], np.float64),  # labels count from 0
        "skin sample 18": np.asarray(columns["TCS17 (CIE 2017)"], np.float64),
    }
    daylight = take(colour.SDS_ILLUMINANTS["D65"])
    tungsten = np.asarray(colour.sd_blackbody(3200, shape).values, np.float64)
    return observer, reflectances, daylight, tungsten


def _power(light: str) -> Array:
    """Spectral power (n,) of a light, scaled so that a perfect diffuser has Y = 1."""
    observer, _, daylight, tungsten = _tables()
    share, _ = _LIGHTS[light]
    y = observer[:, 1]
    return share * tungsten / (tungsten @ y) + (1.0 - share) * daylight / (daylight @ y)


def skin_xyz(sample: str, light: str) -> Array:
    """XYZ (3,) of a measured skin under a light, Y = 1 for a perfect diffuser; CIE 1931 observer, 5 nm sums."""
    observer, reflectances, _, _ = _tables()
    return (reflectances[sample] * _power(light)) @ observer


def balance_white(light: str) -> tuple[float, float]:
    """xy of the white that the camera is balanced to: the light itself, or 4300 K daylight in mixed light."""
    if _LIGHTS[light][1] == "balanced between":
        x, y = colour_library().temperature.CCT_to_xy_CIE_D(MIXED_BALANCE_KELVIN)
        return float(x), float(y)
    observer, _, _, _ = _tables()
    xyz = _power(light) @ observer
    return float(xyz[0] / xyz.sum()), float(xyz[1] / xyz.sum())


def skin_scene(samples: tuple[str, ...] = SKIN_SAMPLES, lights: tuple[str, ...] = LIGHTS) -> Mapping[str, Array]:
    """Scene light of measured skin under each light.

    The camera is balanced by CAT02 from :func:`balance_white` to the ACES white; exposure is such that a perfect white
    in the same light has a luminance of 1 (so light skin reads about 0.35, as a face lit like the grey card would).

    Returns
    -------
    dict
        Light to (len(samples), 3) linear ACEScg.
    """
    out: dict[str, Array] = {}
    for light in lights:
        to_scene = np.linalg.inv(primaries("ACEScg").to_xyz) @ adaptation(balance_white(light), ACES_WHITE)
        out[light] = np.array([to_scene @ skin_xyz(s, light) for s in samples])
    return out
