"""The sheet is a whole PNG with the parts where they belong; its look is judged by eye."""

from pathlib import Path

import numpy as np
import pytest

from lookwright.assess.measure.levels import levels
from lookwright.assess.measure.stepped import steps_of
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import OutputError
from lookwright.pictures.stills import Mark, read
from lookwright.present.sheets.measure_marks import Numbers
from lookwright.present.sheets.measure_sheet import write_measure_sheet

LOG = Signal.named("ACEScct")


@pytest.fixture(scope="module")
def code() -> np.ndarray:
    scene = np.ones((54, 96, 3)) * 0.181
    scene[:, 48:] = 0.181 * 2**4  # right half four stops over
    return LOG.from_scene(scene)


def test_sheet(tmp_path: Path, code: np.ndarray) -> None:
    target = tmp_path / "sheet.png"
    marks = [Mark("wall", (0.1, 0.1, 0.2, 0.2), role="ambient")]
    measured = levels(code, LOG, marks)
    write_measure_sheet(
        target,
        code,
        LOG,
        picture=np.full((54, 96, 3), 0.5),
        title="x",
        notes=["a note"],
        marks=marks,
        numbers=Numbers(measured, measured),
    )
    sheet = read(target).pixels
    assert sheet.shape == (1560, 1920, 3)
    # Halves of the exposure map carry the colours of the steps of just over 0 and +4 stops.
    steps = steps_of("stops")
    for x, stops in ((0.70, 0.01), (0.92, 4.01)):
        expected = steps.colours[steps.of(np.array(stops))]
        np.testing.assert_allclose(sheet[int(0.30 * 1560), int(x * 1920)], expected, atol=0.01)
    np.testing.assert_allclose(sheet[int(0.2 * 1560), int(0.25 * 1920)], 0.5, atol=0.01)  # the picture as given
    assert list(tmp_path.iterdir()) == [target]


def test_same_bytes_each_time(tmp_path: Path, code: np.ndarray) -> None:
    for name in ("a.png", "b.png"):
        write_measure_sheet(tmp_path / name, code, LOG, picture=np.zeros((5, 9, 3), np.uint8), title="x")
    assert (tmp_path / "a.png").read_bytes() == (tmp_path / "b.png").read_bytes()


def test_missing_folder_is_one_line(tmp_path: Path, code: np.ndarray) -> None:
    with pytest.raises(OutputError, match="folder does not exist"):
        write_measure_sheet(tmp_path / "no" / "sheet.png", code, LOG, picture=code, title="x")
