"""What tells one log from another, and what does not."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from lookwright.assess.measure.plausible import findings
from lookwright.assess.measure.which_log import BLACK, FAMILY, alike, named_otherwise
from lookwright.colour.spaces.signal import Signal
from lookwright.jobs.doubts import Doubts
from lookwright.pictures.stills import read

SAMPLES = Path(__file__).resolve().parents[2] / "sample_images"
LOG = Signal.named("ACEScct")


@pytest.mark.parametrize("name", BLACK)
def test_codes_of_black_are_the_curves_own(name: str) -> None:
    assert float(Signal.named(name).encode(np.zeros(1))[0]) == pytest.approx(BLACK[name], abs=6e-5)


def picture_in(name: str) -> np.ndarray:
    """The wide still, which has black in it, with a little read noise, as another camera would have recorded it."""
    scene = LOG.to_scene(read(SAMPLES / "wide_acescct.png").pixels[::4, ::4].astype(np.float64))
    scene[:20] = 0.0
    codes = Signal.named(name).from_scene(scene)
    return np.clip(np.rint(codes * 1023.0), 0, 1023) / 1023.0


@pytest.mark.parametrize(("real", "declared"), [("V-Log", "S-Log3"), ("Apple Log", "LogC3"), ("V-Log", "D-Log")])
def test_a_higher_black_is_noticed(real: str, declared: str) -> None:
    found = findings(picture_in(real), Signal.named(declared))
    assert [f.reads_like for f in found] == ["another log curve"] and real in found[0].sentence
    assert findings(picture_in(real), Signal.named(real)) == []


@pytest.mark.parametrize(("real", "declared"), [("LogC3", "S-Log3"), ("S-Log3", "LogC3"), ("F-Log2", "S-Log3")])
def test_the_same_black_leaves_no_sign(real: str, declared: str) -> None:
    """The stated limit, so that nobody relies on more; and the program says which these are."""
    assert findings(picture_in(real), Signal.named(declared)) == []
    assert real in alike(Signal.named(declared)) and abs(BLACK[real] - BLACK[declared]) <= FAMILY


def test_a_name_is_read() -> None:
    s_log3 = Signal.named("S-Log3")
    assert named_otherwise("A003_LogC3_take2", s_log3) == "LogC3"
    assert named_otherwise("bench_slog3", s_log3) == "" == named_otherwise("bench", s_log3)
    assert named_otherwise("F-Log2 test", Signal.named("F-Log")) == ""  # its own name is in it
    assert named_otherwise("F-Log2 test", s_log3) == "F-Log2"


def test_a_few_of_many_stills_are_read() -> None:
    paths = sorted(SAMPLES.glob("*_acescct.png"))
    doubts = Doubts(paths, Signal.named("LogC3")).read()
    assert set(doubts) == {p.name for p in paths}
    assert all("its name says ACEScct" in sentences[-1] for sentences in doubts.values())
    assert Doubts(paths, LOG).read() == {}
