"""The sample stills: what is spoken of as 4:1 against the light, decoded here by another library."""

import json
from pathlib import Path

import colour
import numpy as np
import pytest

from lookwright.assess.measure.levels import display_light, levels
from lookwright.assess.measure.ratios import ratio, spoken_ratio
from lookwright.colour.spaces.signal import Signal
from lookwright.pictures.stills import marks_for, read, read_marks

SAMPLES = Path(__file__).resolve().parents[2] / "sample_images"
LOG, DISPLAY = Signal.named("ACEScct"), Signal.named("BT.1886")


@pytest.fixture(scope="module")
def close() -> np.ndarray:
    return read(SAMPLES / "close_acescct.png").pixels


def test_face_key_over_fill_is_about_24_to_1_in_light(close: np.ndarray) -> None:
    marks = [m for m in marks_for(read_marks(SAMPLES / "marks.toml"), "close_acescct.png") if m.name.startswith("face")]
    recorded = levels(close, LOG, marks)
    plain = DISPLAY.from_light(display_light(close, LOG))
    shown = levels(plain, DISPLAY, marks)
    found = ratio(recorded["face key"], recorded["face fill"], shown["face key"], shown["face fill"])
    # Divided on the monitor it is seven to one: the plain rendering has the toe of ACES 2, deeper than it was (4.5).
    assert found.spoken == pytest.approx(7.0, abs=0.5)
    assert spoken_ratio(found.spoken) in ("6.5:1", "7:1", "7.5:1")
    # In light: independent of lookwright, ACEScct decoded by colour-science, luminance by the Y row of AP1 to XYZ as
    # the reference CTL prints it, boxes from the render's own list of corners.
    corners = json.loads((SAMPLES / "scene" / "regions.json").read_text())["close"]
    medians = []
    for name in ("face key, forehead", "face fill, camera-side cheek"):
        x0, y0, x1, y1 = corners[name]
        h, w = close.shape[:2]
        box = close[round(y0 * h) : round(y1 * h), round(x0 * w) : round(x1 * w)].astype(np.float64)
        linear = colour.models.log_decoding_ACEScct(box)
        medians.append(np.median(linear @ [0.2722287168, 0.6740817658, 0.0536895174]))
    expected = medians[0] / medians[1]
    assert expected == pytest.approx(24.0, abs=1.0)
    assert np.log2(expected) == pytest.approx(4.6, abs=0.05)
    # Box corners may round to other pixels: half a percent.
    assert found.light == pytest.approx(expected, rel=5e-3)
    assert "24:1 (4.6 stops)" in found.sentence_when_different()


def test_uneven_mark_is_told(close: np.ndarray) -> None:
    # The fill mark takes in a lit edge: mean light is over twice the median, and the sentence says so.
    marks = [m for m in marks_for(read_marks(SAMPLES / "marks.toml"), "close_acescct.png") if m.name.startswith("face")]
    recorded = levels(close, LOG, marks)
    fill = recorded["face fill"].scene.reflectance
    assert fill.mean > 2.0 * fill.median
    found = ratio(recorded["face key"], recorded["face fill"])
    assert found.uneven == ("face fill",) and "unevenly lit" in found.sentence_when_different()
