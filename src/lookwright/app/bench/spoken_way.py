"""The way of one colour through the steps, in words and numbers."""

from __future__ import annotations

from typing import Any

import numpy as np

from lookwright.arrays import Array
from lookwright.assess.measure.levels import stops_from
from lookwright.assess.restraint.values import chroma, turn_degrees
from lookwright.colour.hue_words import hue_word
from lookwright.colour.luma import luma_percent, nominal
from lookwright.colour.spaces.oklab import light_to_oklab
from lookwright.colour.spaces.primaries import primaries
from lookwright.colour.spaces.signal import SCENE_PRIMARIES, Signal
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.way import Station, way

from .shown import shown_look

STILL_LEVEL = 0.25
"""Percent of signal that is not worth a word; a third of an 8-bit code is 0.13."""
STILL_TURN = 0.75
"""Degrees, likewise."""
STILL_COLOUR = 0.02
"""Change of saturation, likewise: two in a hundred."""
LEAST_CHROMA = 0.01
"""Oklab chroma from which a colour has a hue; as for the poles of a frame."""


def spoken_way(look: Look, code: Array) -> dict[str, Any]:
    """Each station of a source colour (3,), with what its step did to it where it stands.

    ``shown`` is the output signal in percent, ``level`` its luma; ``light`` in stops from middle grey (scene) or in
    percent of reference white (display); hues are Oklab's, in degrees.
    """
    shown, _ = shown_look(look)
    signal = shown.output.signal()
    stations = way(shown, np.asarray(code, np.float64)[None])
    found = []
    last: dict[str, Any] | None = None
    for station in stations:
        step = None if station.step is None else shown.steps[station.step]
        now = {
            "step": station.step,
            "kind": "source" if step is None else step.kind,
            "does": "as it was recorded, plainly rendered" if step is None else step.in_words(),
            **_figures(station, signal),
        }
        now["words"] = "" if last is None else _moved(last, now)
        found.append(now)
        last = now
    return {"code": [float(v) for v in code], "stations": found}


def _figures(station: Station, signal: Signal) -> dict[str, Any]:
    shown = station.shown[0]
    lab = light_to_oklab(signal.to_light(shown))
    light = station.light[0]
    if station.kind == "scene":
        stops = float(stops_from(float(light @ primaries(SCENE_PRIMARIES).luminance)))
        said = f"{stops:+.2f} stops".replace("-", "\u2212")
    else:
        stops = None
        said = f"{100.0 * float(light @ primaries('BT.2020').luminance):.1f} % of white"
    coloured = chroma(lab) >= LEAST_CHROMA
    hue = float(np.degrees(np.arctan2(lab[2], lab[1])) % 360.0)
    return {
        "stops": stops,
        "said": said,
        "shown": [float(v) for v in 100.0 * nominal(shown, signal)],
        "level": float(luma_percent(shown, signal)),
        "lab": [float(v) for v in lab],
        "hue": hue if coloured else None,
        "hue_word": hue_word(hue) if coloured else "neutral",
        "saturation": float(chroma(lab) / max(float(lab[0]), 1e-3)),
    }


def _moved(last: dict[str, Any], now: dict[str, Any]) -> str:
    said = []
    level = now["level"] - last["level"]
    if abs(level) >= STILL_LEVEL:
        said.append(f"{abs(level):.1f} % {'brighter' if level > 0 else 'darker'}")
    if last["hue"] is not None and now["hue"] is not None:
        turn = float(turn_degrees(np.array(last["lab"]), np.array(now["lab"])))
        if abs(turn) >= STILL_TURN:
            said.append(f"hue turned {abs(turn):.0f} degrees to {now['hue_word']}")
        more = now["saturation"] / max(last["saturation"], 1e-6) - 1.0
        if abs(more) >= STILL_COLOUR:
            said.append(f"{100.0 * abs(more):.0f} % {'more' if more > 0 else 'less'} colour")
    elif last["hue"] is None and now["hue"] is not None:
        said.append(f"tinted {now['hue_word']}")
    elif last["hue"] is not None:
        said.append("its colour is gone")
    return ", ".join(said) or "not changed to be seen"
