"""THE list of measures: what each one is, from where on it is harm, why, and what to ease.

Nothing else in the project holds a limit. A look may set its own with ``[limits.NAME]``, a value and a reason; the
report then says so. Reasons without a source are marked as our choice or as common practice.

A value has an *ideal* (no harm), a limit from which to *watch*, and a limit at which the check *fails*. Harm is counted
as 0 at the ideal, one half at the watching limit and 1 at the failing one, so that findings of unlike units can be put
in order.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from lookwright.errors import RecipeError, RecipeErrors, did_you_mean

if TYPE_CHECKING:
    from lookwright.look.recipe.model import Limit

State = Literal["ok", "watch", "fail"]


@dataclass(frozen=True)
class Measure:
    """One measure and its limits."""

    name: str
    title: str
    unit: str
    ideal: float
    watch: float
    fail: float
    reason: str
    ease: tuple[str, ...]
    """Parameters that cause this, as ``step.parameter`` (bands as ``hues.band.turn``), the likeliest first."""
    remedy: str
    """What to do, in words, where no parameter is known (a foreign LUT)."""

    def state(self, value: float, fail: float | None = None) -> State:
        """Where ``value`` stands; ``fail`` replaces the declared failing limit, and the watching one moves with it."""
        limit = self.fail if fail is None else fail
        watch = self.watch_for(limit)
        sign = 1.0 if self.fail > self.ideal else -1.0
        if sign * value > sign * limit:
            return "fail"
        return "watch" if sign * value > sign * watch else "ok"

    def watch_for(self, fail: float) -> float:
        """The watching limit that goes with a failing limit: the declared share of the way from the ideal."""
        return self.ideal + (self.watch - self.ideal) * (fail - self.ideal) / (self.fail - self.ideal)

    def harm(self, value: float, fail: float | None = None) -> float:
        """0 at the ideal (or on its better side), one half at the watching limit, 1 at the failing one.

        Straight between and beyond.
        """
        limit = self.fail if fail is None else fail
        watch = self.watch_for(limit)
        first = (value - self.ideal) / (watch - self.ideal)
        if first <= 1.0:
            return max(0.0, 0.5 * first)
        return 0.5 + 0.5 * (value - watch) / (limit - watch)


_SKIN_EASE = (
    "split.hold.amount",
    "split.pull",
    "split.warm_highlights",
    "split.cool_shadows",
    "hues.band.turn",
    "balance.mired",
    "balance.tint",
    "print.finish",
    "print.amount",
)
_SKIN_COLOUR_EASE = (
    "saturation.amount",
    "hues.band.saturation",
    "cdl.saturation",
    "split.cool_shadows",
    "split.warm_highlights",
    "saturation.shadows",
    "print.coupling",
    "contrast.slope",
    "print.amount",
)
_TINT_EASE = (
    "split.cool_shadows",
    "split.warm_highlights",
    "balance.mired",
    "balance.tint",
    "print.finish",
    "print.printer_red",
    "print.printer_green",
    "print.printer_blue",
    "cdl.offset",
    "cdl.slope",
    "cdl.power",
)
_HUE_EASE = ("split.pull", "hues.band.turn", "hues.band.saturation", "print.amount")
_TONE_EASE = (
    "contrast.slope",
    "render.slope",
    "print.print_gamma",
    "exposure.stops",
    "print.amount",
    "cdl.slope",
    "cdl.power",
)
_DARK_EASE = (
    "render.toe",
    "print.toe",
    "print.density_max",
    "print.print_gamma",
    "contrast.slope",
    "render.slope",
    "exposure.stops",
    "cdl.offset",
    "print.amount",
)

MEASURES: tuple[Measure, ...] = (
    Measure(
        "skin_hue",
        "skin hue",
        "deg",
        0.0,
        8.0,
        12.0,
        "Measured and preferred skin of several groups lies within 22 degrees of Oklab hue (38 to 60: 24-patch "
        "chart, CIE 224 samples 15 and 18, published means); a turn of more than half of that takes skin out of "
        "it",
        _SKIN_EASE,
        "hold skin hues out of the hue changes, or use the LUT at part of its strength",
    ),
    Measure(
        "skin_colour",
        "skin saturation",
        "% away",
        0.0,
        30.0,
        50.0,
        "Preferred skin (C* 24.7 and 25.4, two published studies) is 10 to 30 % higher in chroma than measured skin "
        "(C* 19.2 and 22.5, CIE 224 samples); half as much again is beyond all of them",
        _SKIN_COLOUR_EASE,
        "lower the saturation of warm hues, or use the LUT at part of its strength",
    ),
    Measure(
        "skin_hue_mixed",
        "skin hue, mixed light",
        "deg",
        0.0,
        14.0,
        22.0,
        "In warm and cool light at once skin has no one right hue, and a split may move it; more than the whole "
        "width of measured skin hues (22 degrees) looks painted (our choice)",
        _SKIN_EASE,
        "hold skin hues out of the hue changes, or use the LUT at part of its strength",
    ),
    Measure(
        "skin_colour_mixed",
        "skin saturation, mixed light",
        "% away",
        0.0,
        50.0,
        90.0,
        "As for balanced light, with room for a split to part the two sides of a face (our choice)",
        _SKIN_COLOUR_EASE,
        "lower the saturation of warm hues, or use the LUT at part of its strength",
    ),
    Measure(
        "skin_level",
        "skin level",
        "% signal",
        0.0,
        6.0,
        12.0,
        "At the level of a lit face 6 % of signal is a third of a stop, the step that lenses are marked in, and "
        "12 % two thirds (arithmetic on the plain rendering): beyond it the face is no longer lit as it was "
        "metered",
        (
            "exposure.stops",
            "saturation.density",
            "hues.band.light",
            "render.grey",
            "print.grey_density",
            "contrast.slope",
        ),
        "correct the exposure before the LUT",
    ),
    Measure(
        "grey_card_tint",
        "tint of the grey card",
        "dE2000",
        0.0,
        2.0,
        4.0,
        "About 1 is just visible side by side (CIEDE2000 is scaled so); 2 is seen at a glance on a large area, "
        "and a wall or a shirt that should be grey no longer is at 4 (common practice, no source)",
        _TINT_EASE,
        "rebalance before the LUT, or choose one that leaves greys alone",
    ),
    Measure(
        "grey_tint",
        "tint of greys, whole scale",
        "dE2000",
        0.0,
        4.0,
        8.0,
        "Shadows and highlights bear twice the tint of a middle grey: they have no memory colour (our choice)",
        _TINT_EASE,
        "use the LUT at part of its strength",
    ),
    Measure(
        "grey_swing",
        "swing of the grey tint",
        "CIELAB a stop",
        0.0,
        2.0,
        5.0,
        "A tint that comes or goes by more than a just visible step within half a stop draws coloured bands "
        "across a lit wall (our choice)",
        ("split.width", *_TINT_EASE),
        "use the LUT at part of its strength",
    ),
    Measure(
        "grey_crossings",
        "changes of side of the grey tint",
        "times",
        0.0,
        1.5,
        2.5,
        "Cool shadows and warm highlights cross once; a scale that goes warm, cool and warm again cannot be "
        "graded back with two controls (our choice)",
        _TINT_EASE,
        "choose another LUT: no simple correction mends this",
    ),
    Measure(
        "black_point",
        "end of the shadows",
        "stops",
        -9.0,
        -4.5,
        -3.17,
        "A black cloth of 2 % reflectance lies 3.17 stops under an 18 % grey (arithmetic): when it is black "
        "already there is no shadow detail at all; the fill side of a face at 15 % of signal lies about 3 stops "
        "under",
        _DARK_EASE,
        "lift the shadows before the LUT, or choose one with a softer toe",
    ),
    Measure(
        "white_point",
        "end of the highlights",
        "stops",
        6.0,
        3.5,
        2.47,
        "White paper lies 2.47 stops over an 18 % grey (arithmetic): it must not be at the end of the scale; "
        "lamps and windows need at least another stop to keep a shape (common practice, no source)",
        (
            "render.white",
            "render.shoulder",
            "print.shoulder",
            "contrast.slope",
            "contrast.shoulder",
            "exposure.stops",
            "print.print_gamma",
            "cdl.slope",
            "print.amount",
        ),
        "lower the exposure before the LUT, or choose one with a softer shoulder",
    ),
    Measure(
        "black_level",
        "black level over the plain one",
        "% signal",
        0.0,
        5.0,
        10.0,
        "Faded blacks of about 5 % are an old taste; at 10 % the darkest tone stands where a silhouette should "
        "(15 % or less; common practice, no source)",
        ("print.flare", "print.density_max", "print.toe", "cdl.offset", "print.finish"),
        "set black again after the LUT",
    ),
    Measure(
        "white_level",
        "brightest white",
        "% signal",
        100.0,
        88.0,
        75.0,
        "Practical lamps sit at 85 to 90 % of signal (common practice, no source): a scale that ends below has no "
        "room for them",
        ("render.white", "exposure.stops", "print.shoulder", "print.density_max", "cdl.slope"),
        "set white again after the LUT",
    ),
    Measure(
        "grey_level",
        "shift of middle grey",
        "% signal",
        0.0,
        6.0,
        14.0,
        "6 % of signal at middle grey is about 0.4 stop, 14 % about 0.85 stop (arithmetic on the plain "
        "rendering): the LUT then works as an exposure change, and what was metered on set no longer holds",
        (
            "exposure.stops",
            "render.grey",
            "print.grey_density",
            "contrast.pivot",
            "cdl.slope",
            "cdl.offset",
            "cdl.power",
        ),
        "correct the exposure before the LUT",
    ),
    Measure(
        "contrast",
        "contrast at grey against plain",
        "x",
        1.0,
        1.5,
        2.0,
        "Pictures want 1 : 1.25 : 1.5 of contrast in average, dim and dark surrounds (Bartleson and Breneman "
        "1967, from memory); more than half as much again is beyond any of them, and so is less than two thirds",
        _TONE_EASE,
        "use the LUT at part of its strength",
    ),
    Measure(
        "tone_fall",
        "fall of the tone scale",
        "10-bit codes",
        0.0,
        1.0,
        4.0,
        "More light must never give a darker tone; one code is rounding, four codes are one step of an 8-bit picture",
        _TONE_EASE,
        "choose another LUT: a scale that turns back cannot be mended after it",
    ),
    Measure(
        "fold",
        "room between neighbouring colours",
        "x",
        1.0,
        0.05,
        -0.01,
        "At 0 two colours have become one; below 0 they have changed places (the Jacobian of the map from the "
        "plain to the graded picture, in Oklab, has a negative determinant), which no later grade can undo",
        _HUE_EASE,
        "choose another LUT: a fold cannot be mended after it",
    ),
    Measure(
        "hue_order",
        "slowest run of hues",
        "x",
        1.0,
        0.3,
        -0.02,
        "At 0.3 three hues share the room of one; below 0 hues run backwards, so that a rainbow has a seam",
        _HUE_EASE,
        "choose another LUT: hues out of order cannot be mended after it",
    ),
    Measure(
        "hue_stretch",
        "fastest run of hues",
        "x",
        1.0,
        3.0,
        6.0,
        "Hues pulled apart six times make two colours of one: noise and compression show as coloured blotches "
        "(our choice)",
        _HUE_EASE,
        "use the LUT at part of its strength",
    ),
    Measure(
        "noise",
        "noise against plain",
        "x",
        1.0,
        1.7,
        2.5,
        "Photon noise grows against the signal as the root of lost light: twice the noise is what two stops less "
        "light would have given; contrast of 1.5 is allowed for in the mid tones",
        (
            "contrast.slope",
            "saturation.amount",
            "print.print_gamma",
            "print.coupling",
            "render.slope",
            "split.pull",
            "hues.band.saturation",
            "cdl.slope",
            "cdl.saturation",
            "print.amount",
        ),
        "use the LUT at part of its strength, or denoise before it",
    ),
    Measure(
        "shadow_noise",
        "noise in shadows against plain",
        "x",
        1.0,
        1.5,
        2.0,
        "As above: 1.5 is what a stop less light gives and 2 what two stops less give, where the camera has least "
        "to spare",
        (
            "contrast.slope",
            "saturation.shadows",
            "saturation.amount",
            "exposure.stops",
            "render.slope",
            "cdl.power",
            "cdl.offset",
            "cdl.slope",
            "split.cool_shadows",
            "print.amount",
        ),
        "expose more on set, lift shadows less, or denoise before the LUT",
    ),
    Measure(
        "clipped_colours",
        "surface colours newly clipped",
        "%",
        0.0,
        1.0,
        4.0,
        "The 24-patch chart and the 99 CIE 224 samples are things that are really in front of a camera; 4 % is "
        "five of them",
        (
            "saturation.amount",
            "gamut.threshold",
            "gamut.limit",
            "contrast.slope",
            "hues.band.saturation",
            "cdl.saturation",
            "cdl.offset",
            "print.amount",
        ),
        "lower saturation and contrast before the LUT",
    ),
    Measure(
        "clipped_gamut",
        "limit of real surfaces newly clipped",
        "%",
        0.0,
        6.0,
        15.0,
        "The most saturated surfaces ever measured (Pointer 1980) may touch the end of a channel, not pile up "
        "there (our choice)",
        ("saturation.amount", "gamut.limit", "gamut.threshold", "contrast.slope", "cdl.saturation", "print.amount"),
        "lower saturation before the LUT",
    ),
    Measure(
        "roughness",
        "sharpest bend of a gradient",
        "CIELAB",
        0.0,
        0.6,
        1.2,
        "A change of slope of one just visible step (about 1 CIELAB unit) per step of a ramp shows as an edge; a "
        "smooth look in a lattice of 33 points stays below 0.3 (measured)",
        (
            "split.width",
            "contrast.slope",
            "render.shoulder",
            "gamut.threshold",
            "gamut.limit",
            "hues.band.turn",
            "split.pull",
        ),
        "choose a LUT with more points, or a smoother one",
    ),
    Measure(
        "still_clipped",
        "pixels newly clipped, worst still",
        "%",
        0.0,
        1.0,
        5.0,
        "EBU R 103 reports gamut errors when more than 1 % of the picture errs",
        (
            "exposure.stops",
            "saturation.amount",
            "render.white",
            "contrast.slope",
            "gamut.limit",
            "print.shoulder",
            "print.amount",
        ),
        "lower the exposure or saturation of that still before the LUT",
    ),
    Measure(
        "still_crushed",
        "pixels newly black, worst still",
        "%",
        0.0,
        5.0,
        15.0,
        "Share of a still that had tones in the plain rendering and is flat black now; night pictures bear some "
        "(our choice)",
        _DARK_EASE,
        "lift the shadows of that still before the LUT",
    ),
    Measure(
        "still_skin_hue",
        "skin marks: hue",
        "deg",
        0.0,
        14.0,
        22.0,
        "As for skin in mixed light, since what light falls on a mark is not known",
        _SKIN_EASE,
        "hold skin hues out of the hue changes, or use the LUT at part of its strength",
    ),
    Measure(
        "still_skin_colour",
        "skin marks: saturation",
        "% away",
        0.0,
        50.0,
        90.0,
        "As for skin in mixed light, since what light falls on a mark is not known",
        _SKIN_COLOUR_EASE,
        "lower the saturation of warm hues, or use the LUT at part of its strength",
    ),
)

BY_NAME: dict[str, Measure] = {m.name: m for m in MEASURES}


def check_limits(limits: Mapping[str, Limit], where: str) -> None:
    """Refuse a look's own limits for measures that there are none of, or on the wrong side of the ideal.

    Raises :class:`RecipeErrors` with every fault, each with the nearest names.
    """
    faults: list[RecipeError] = []
    for name, limit in limits.items():
        measure = BY_NAME.get(name)
        if measure is None:
            faults.append(
                RecipeError(f"{where}, limits.{name}", f"no measure {name!r}", hint=did_you_mean(name, BY_NAME))
            )
        elif (limit.value - measure.ideal) * (measure.fail - measure.ideal) <= 0:
            side = "above" if measure.fail > measure.ideal else "below"
            faults.append(
                RecipeError(f"{where}, limits.{name}.value", f"{limit.value:g}", f"a number {side} {measure.ideal:g}")
            )
    if faults:
        raise RecipeErrors(faults)
