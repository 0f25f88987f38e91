"""Does a still look like what it is said to be? Warnings, with the reason for each.

Files rarely say what their numbers mean, and a wrong guess upstream ruins everything after it. The signs used:

* a log curve puts black well above code 0, so nothing darker than black can be below that code;
* display pictures use most of the range and their channels lie far apart; of log pictures neither holds;
* linear light bunches near zero with a long tail (a large skewness of its codes), encoded light does not;
* linear light is not kept in the even steps of 8 or 10 bits, where its shadows would band; encoded light is;
* legal-range signals keep clear of the ends of the code range; clipped black or white leaves a pile at 64 or 940.

What leaves no sign is not found: a legal-range picture with neither black nor white in it, one display gamma taken for
another, one camera log curve for another with the same black (which_log.py says which). A dark display picture
declared linear is found by the steps of its 8 or 10 bits only: in 16 bits, in floating point, or converted from Y'CbCr
it is spread as the light of a bright scene is. All thresholds are ours, chosen with a margin on both sides of the six
sample stills at three exposures, in four log curves and rendered (tests/units); no source.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.colour.luma import luma_weights
from lookwright.colour.spaces.ranges import from_full, to_full
from lookwright.colour.spaces.signal import Signal

from .levels import MIDDLE_GREY, checked
from .steps import even_steps
from .which_log import higher_black

NOISE_CODE = 0.015
"""How far noise may carry black below its code: 15 codes of 1023."""
MOST_BELOW_BLACK = 0.003
"""Share of pixels allowed lower than that (saturated colours in wide primaries, sharpening)."""
HOT_STOPS = 7.0
MOST_HOT = 0.01
"""A hundredth of a frame more than 7 stops over grey: lamps and the sun are smaller, or clip."""
SKEWED = 2.2
"""Skewness of luma codes from which they look like linear light: encoded sample stills reach 1.6, linear ones start at
2.4."""
LEVELLED = 1.7
"""Skewness up to which they look encoded."""
MOST_DOUBLINGS = 5.5
"""1st to 99th percentile of luma up to which codes that are not on coarse steps look encoded. Above it their spread
tells nothing: of 11 photographs decoded to light that are not skewed (data of scikit-image 0.26 and scikit-learn 1.9)
two have 3.7 and 5.2 doublings, the others 5.8 to 20; display codes of the sample stills have up to 9.2."""
LEAST_APART, MOST_APART = 0.15, 0.20
"""95th percentile of (largest - smallest channel) in code: log stills reach 0.13, display stills start at 0.25."""
WIDE_SPREAD = 0.62
"""1st to 99th percentile of luma in code that log stills rarely exceed."""
LIFTED_BLACK = 0.068
"""Log curves have black at 0.07 to 0.15; a finished display picture has something nearer to 0 than this."""
SDI_ENDS = (4.0 / 1023.0, 1019.0 / 1023.0)
"""10-bit codes outside these are timing references that a legal-range interface cannot carry as picture:
EBU R 103 v3.0 table 1, "total" range."""
PREFERRED = (20.0 / 1023.0, 984.0 / 1023.0)
"""EBU R 103 v3.0 table 1, "preferred" range; more than 1 % of a picture outside is an error there."""
LEGAL_ENDS = (64.0 / 1023.0, 940.0 / 1023.0)
_CODE = 1.0 / 1023.0


@dataclass(frozen=True)
class Finding:
    """One thing that does not fit."""

    reads_like: str
    """``display``, ``linear``, ``log``, ``encoded`` (log or display), ``another log curve``, ``full range`` or
    ``legal range``."""
    weight: str
    """``likely`` or ``possible``."""
    sentence: str
    """What was seen, why it does not fit, what to try."""
    evidence: dict[str, float]

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers and text, ready for JSON."""
        return asdict(self)


@dataclass(frozen=True)
class Signs:
    """Statistics of raw codes, before any range is undone."""

    below: Array
    """Smallest channel of each pixel (n,)."""
    above: Array
    """Largest channel of each pixel (n,)."""
    luma: Array
    apart95: float
    """95th percentile of largest minus smallest channel. Codes, so neither chroma nor saturation of anything seen."""
    spread: float
    """1st to 99th percentile of luma."""
    skewness: float
    """0 for a flat frame."""


def _signs(x: Array, weights: Array) -> Signs:
    luma = x @ weights
    low, high = np.percentile(luma, [1.0, 99.0])
    deviation = luma - luma.mean()
    sigma = float(luma.std())
    skewness = float((deviation**3).mean() / sigma**3) if sigma > 1e-6 else 0.0
    below, above = x.min(axis=1), x.max(axis=1)
    return Signs(below, above, luma, float(np.percentile(above - below, 95.0)), float(high - low), skewness)


def findings(pixels: NDArray[Any], signal: Signal, most: int = 200_000) -> list[Finding]:
    """What in a still's statistics speaks against its declared encoding or range; empty when nothing does.

    Parameters
    ----------
    pixels
        (..., 3) code values / (2^n - 1) as stored in the file.
    signal
        What they are declared to be.
    most
        Larger pictures are thinned to about so many pixels in reading order.

    Raises
    ------
    PictureError
        No pixels, not three channels, NaN or infinity.
    """
    x = np.asarray(sparse(checked(pixels, "frame"), most), np.float64)
    signs = _signs(x, luma_weights(signal)[0])
    if signal.encoding.linear:
        return _linear(x, signs)
    return _log(x, signs, signal) if signal.kind == "scene" else _display(signs, signal)


def sparse(pixels: NDArray[Any], most: int) -> NDArray[Any]:
    """(n, 3) of pixels (..., 3): about ``most`` of them, evenly in reading order."""
    flat = pixels.reshape(-1, 3)
    # An odd step does not fall into columns of common picture widths.
    return flat[:: max(1, len(flat) // most) | 1]


def _share(condition: NDArray[np.bool_]) -> float:
    return float(condition.mean())


def _black_share(signs: Signs, signal: Signal) -> tuple[float, float]:
    """(code of black in the file's own range, share of pixels that are clearly below it)."""
    black = float(signal.encode(np.zeros(1))[0])
    return black, _share(signs.below < black - NOISE_CODE)


def _log(x: Array, signs: Signs, signal: Signal) -> list[Finding]:
    name = signal.encoding.name
    black, share = _black_share(signs, signal)
    if share > MOST_BELOW_BLACK:
        return [_below_black(signs, signal, black, share)]
    if signal.range == "legal":
        beyond = _share((signs.below < SDI_ENDS[0]) | (signs.above > SDI_ENDS[1]))
        if beyond > 2e-4:
            return [_beyond_ends(beyond)]
    else:
        # The same log signal scaled into legal range has its black at a higher code, and only there.
        moved = float(from_full(np.array(black), "legal"))
        pile = _share((signs.below > moved - 4 * _CODE) & (signs.below < moved + 6 * _CODE))
        if pile > 0.01 and _share(signs.below < moved - 6 * _CODE) < 2e-4:
            return [
                Finding(
                    "legal range",
                    "possible",
                    f"{100 * pile:.1f} % of the frame lies at code {moved:.3f} and nothing below it: that is "
                    "where legal "
                    f"range puts the black of {name} ({black:.3f} in full range); try the range 'legal', or a "
                    "log curve "
                    "whose black is there",
                    {"pile": pile, "black_code": black, "legal_black_code": moved},
                )
            ]
    if (higher := higher_black(signs.below, signal)) is not None:
        return [_higher_black(higher, signal, black)]
    stops = np.log2(np.maximum(signal.decode(x) @ signal.primaries.luminance, 1e-6) / MIDDLE_GREY)
    hot = _share(stops > HOT_STOPS)
    if hot > MOST_HOT:
        return [
            Finding(
                "display",
                "likely",
                f"decoded as {name}, {100 * hot:.1f} % of the frame is more than {HOT_STOPS:g} stops over "
                "middle grey; a "
                "rendered display picture read as log looks like this; try 'BT.1886' or 'sRGB'",
                {"hot_share": hot},
            )
        ]
    if signs.apart95 > MOST_APART and signs.spread > 0.55:
        return [
            Finding(
                "display",
                "possible",
                f"the channels of its codes lie further apart ({signs.apart95:.2f}) and its luma spreads wider "
                f"({signs.spread:.2f}) "
                f"than log codes usually are; check that this is {name} and not a rendered picture",
                {"apart95": signs.apart95, "spread": signs.spread},
            )
        ]
    return []


def _higher_black(higher: tuple[list[str], float, float], signal: Signal, black: float) -> Finding:
    names, code, pile = higher
    return Finding(
        "another log curve",
        "possible",
        f"{100 * pile:.1f} % of the frame lies at code {code:.3f} and nothing below it, where {' and '.join(names)} "
        "have "
        f"their black; that of {signal.encoding.name} is {black:.3f}. Either nothing here is black, or it is one of "
        "those",
        {"pile": pile, "black_code": black, "higher_black_code": code},
    )


def _below_black(signs: Signs, signal: Signal, black: float, share: float) -> Finding:
    name = signal.encoding.name
    evidence = {
        "below_black": share,
        "black_code": black,
        "skewness": signs.skewness,
        "apart95": signs.apart95,
        "spread": signs.spread,
    }
    start = f"{100 * share:.1f} % of the frame is below {black:.3f}, the code of black in {name} ({signal.range} range)"
    other = Signal(signal.encoding, signal.primaries, "full")
    # A picture of wide range whose channels lie far apart is a rendered one, whatever the range it was recorded in.
    looks_shown = signs.apart95 > MOST_APART or signs.spread > WIDE_SPREAD
    if signs.skewness > SKEWED:
        return Finding(
            "linear",
            "likely",
            f"{start}, and the codes bunch near zero with a long tail, as linear light does; try 'ACEScg' or another "
            "linear encoding",
            evidence,
        )
    if signal.range == "legal" and not looks_shown and _black_share(signs, other)[1] <= MOST_BELOW_BLACK:
        advice = "read as full range nothing is; try the range 'full'"
        return Finding("full range", "likely", f"{start}; {advice}", evidence)
    if looks_shown or float(np.percentile(signs.below, 0.5)) < 0.03:
        return Finding(
            "display",
            "likely",
            f"{start}, where no light can be: this looks like a rendered display picture; try 'BT.1886' or 'sRGB'",
            evidence,
        )
    return Finding(
        "another log curve",
        "possible",
        f"{start}, where no light can be, yet it is as flat as log: perhaps a log curve with a lower black",
        evidence,
    )


def _beyond_ends(share: float) -> Finding:
    return Finding(
        "full range",
        "likely",
        f"{100 * share:.2f} % of the frame lies on codes outside 4 to 1019 (of 1023), which a legal-range "
        "signal keeps free; "
        "try the range 'full'",
        {"beyond_total": share},
    )


def _display(signs: Signs, signal: Signal) -> list[Finding]:
    name = signal.encoding.name
    standard = signal.encoding.peak == 1.0
    over = _share(signs.above > 1.05)
    if over > 1e-3:
        return [
            Finding(
                "linear",
                "likely",
                f"{100 * over:.1f} % of the frame has codes above 1.05, which {name} does not carry; linear "
                "scene light does; "
                "try 'ACEScg'",
                {"over_one": over},
            )
        ]
    if standard and signs.skewness > SKEWED and float(np.median(signs.luma)) < 0.25:
        return [
            Finding(
                "linear",
                "possible",
                f"the codes bunch near zero with a long tail (skewness {signs.skewness:.1f}), as linear light "
                "does, or a very "
                "dark picture; try 'ACEScg' if it looks far too contrasty",
                {"skewness": signs.skewness},
            )
        ]
    floor = float(np.percentile(signs.below, 0.1))
    black, white = LEGAL_ENDS
    if signal.range == "legal":
        beyond = _share((signs.below < SDI_ENDS[0]) | (signs.above > SDI_ENDS[1]))
        if beyond > 2e-4:
            return [_beyond_ends(beyond)]
        outside = _share((signs.below < PREFERRED[0]) | (signs.above > PREFERRED[1]))
        if outside > 0.01:
            return [
                Finding(
                    "full range",
                    "likely",
                    f"{100 * outside:.1f} % of the frame lies outside codes 20 to 984 (of 1023); at most 1 % "
                    "of a legal-range "
                    "picture should (EBU R 103); try the range 'full'",
                    {"outside_preferred": outside},
                )
            ]
        floor = float(to_full(np.array(floor), "legal"))
    else:
        edge = 2.5 * _CODE
        blacks = _share(np.abs(signs.below - black) <= edge)
        whites = _share(np.abs(signs.above - white) <= edge)
        outside = _share((signs.below < black - 3 * edge) | (signs.above > white + 3 * edge))
        if outside < 2e-4 and max(blacks, whites) > 5e-4:
            end = "black at code 64" if blacks >= whites else "white at code 940"
            return [
                Finding(
                    "legal range",
                    "likely",
                    f"nothing lies outside codes 64 to 940 (of 1023) and {100 * max(blacks, whites):.2f} % of "
                    "the frame is "
                    f"clipped exactly there ({end}): this is legal range; try the range 'legal'",
                    {"black_pile": blacks, "white_pile": whites},
                )
            ]
    # PQ and HLG pictures are themselves flat in code, so the next sign is for standard-range displays only.
    if standard and floor > LIFTED_BLACK and signs.apart95 < LEAST_APART and 0.02 < signs.spread < WIDE_SPREAD:
        return [
            Finding(
                "log",
                "likely",
                f"nothing is darker than code {floor:.3f}, the colours are pale ({signs.apart95:.2f} between "
                "channels) and the "
                f"codes span only {signs.spread:.2f}: a log picture shown undecoded looks like this; try "
                "'ACEScct' or the "
                "camera's log",
                {"floor": floor, "apart95": signs.apart95, "spread": signs.spread},
            )
        ]
    return []


def _linear(x: Array, signs: Signs) -> list[Finding]:
    low, high = np.percentile(signs.luma, [1.0, 99.0])
    # In encoded codes 1 % and 99 % stand for fewer doublings than in light.
    doublings = float(np.log2(max(high, 1e-6) / max(low, 1e-6)))
    top = float(signs.above.max())
    flat = high - low < 0.15
    if top > 1.0 + 1e-6 or flat or signs.skewness > LEVELLED:
        return []
    depth = even_steps(x)
    if not depth and doublings > MOST_DOUBLINGS:
        return []
    evidence = {"skewness": signs.skewness, "doublings": doublings, "maximum": top}
    start = f"no code is above 1 and they are spread evenly (skewness {signs.skewness:.1f}"
    end = "linear light of a scene bunches near zero; this looks encoded, as log or for a display"
    if depth:
        sentence = f"{start}), all in {depth} steps, too coarse for light: {end}"
    else:
        sentence = f"{start}, {doublings:.1f} doublings from the 1st to the 99th percentile): {end}"
    return [Finding("encoded", "possible", sentence, evidence)]
