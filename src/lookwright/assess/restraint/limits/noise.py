"""How much noise may grow."""

from __future__ import annotations

from .measure import Measure

MEASURES = (
    Measure(
        "noise",
        "noise against plain",
        "x",
        ideal=1.0,
        watch=1.7,
        fail=2.5,
        group="tones",
        reason="Photon noise grows against the signal as the root of lost light: twice the noise is what two stops "
        "less light would have given; contrast of 1.5 is allowed for in the mid tones",
        source="Photon statistics",
        remedy="use the LUT at part of its strength, or denoise before it",
        plainly="noise grows",
    ),
    Measure(
        "shadow_noise",
        "noise in shadows against plain",
        "x",
        ideal=1.0,
        watch=1.5,
        fail=2.0,
        group="tones",
        reason="As above: 1.5 is what a stop less light gives and 2 what two stops less give, where the camera has "
        "least to spare",
        source="Photon statistics",
        remedy="expose more on set, lift shadows less, or denoise before the LUT",
        plainly="shadows become noisy",
    ),
)
