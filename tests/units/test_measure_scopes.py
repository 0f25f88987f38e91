"""Scope data: every pixel counted once, in the right place."""

import numpy as np
import pytest

from lookwright.assess.measure.scopes import component_waveforms, exposure_map, vectorscope, waveform
from lookwright.colour.spaces.signal import Signal

DISPLAY, LOG = Signal.named("BT.1886"), Signal.named("ACEScct")


def test_waveform_of_a_horizontal_ramp() -> None:
    x = np.repeat(np.repeat(np.linspace(0, 1, 320)[None, :, None], 50, axis=0), 3, axis=2)
    wave = waveform(x, DISPLAY, columns=320)
    assert wave.counts.sum() == 50 * 320 and (wave.counts.sum(axis=0) == 50).all()
    centres = 0.5 * (wave.edges[:-1] + wave.edges[1:])
    height = centres[wave.counts.argmax(axis=0)]
    np.testing.assert_allclose(height, 100 * np.linspace(0, 1, 320), atol=0.6 * (wave.edges[1] - wave.edges[0]))


def test_columns_are_shared_evenly_and_nothing_is_lost() -> None:
    rng = np.random.default_rng(0)
    x = rng.uniform(-0.5, 1.5, (37, 101, 3))  # beyond both ends of the axis
    for wave in (waveform(x, DISPLAY, columns=20), *component_waveforms(x, DISPLAY, columns=20)):
        per_column = wave.counts.sum(axis=0)
        assert per_column.sum() == 37 * 101 and set(per_column) <= {5 * 37, 6 * 37}


def test_components_are_the_right_channels() -> None:
    x = np.zeros((4, 8, 3))
    x[...] = (0.2, 0.5, 0.8)
    for wave, percent in zip(component_waveforms(x, DISPLAY), (20, 50, 80), strict=True):
        row = int(np.flatnonzero(wave.counts.sum(axis=1))[0])
        assert wave.edges[row] <= percent < wave.edges[row + 1]


def test_vectorscope_quadrants() -> None:
    # BT.709: pure red has Cr = 0.5, Cb = -0.1146; pure blue Cb = 0.5, Cr = -0.0458 (item 3.3, worked).
    scope = vectorscope(np.array([[[0.8, 0.0, 0.0]]]), DISPLAY)
    row, column = (int(v[0]) for v in np.nonzero(scope.counts))
    assert scope.edges[row] <= 0.8 * 0.5 < scope.edges[row + 1]
    assert scope.edges[column] <= 0.8 * -0.114572 < scope.edges[column + 1]
    neutral = vectorscope(np.full((5, 5, 3), 0.7), DISPLAY)
    row, column = (int(v[0]) for v in np.nonzero(neutral.counts))
    assert abs(scope.edges[row]) < 0.004 and abs(scope.edges[column]) < 0.004 and neutral.counts.max() == 25


def test_exposure_map_in_stops() -> None:
    scene = np.array([[0.18, 0.36, 0.0225, 0.0]])[..., None] * np.ones(3)
    stops, estimated = exposure_map(LOG.from_scene(scene), LOG)
    np.testing.assert_allclose(stops, [[0.0, 1.0, -3.0, -16.0]], atol=1e-5)
    assert not estimated and stops.dtype == np.float32
    assert exposure_map(np.full((2, 2, 3), 0.42), DISPLAY)[1]


def test_exposure_map_of_camera_primaries_keeps_luminance() -> None:
    # Luminance does not depend on the primaries it is carried in, save for the adaptation of white: a grey is exact.
    camera = Signal.named("S-Log3")
    stops, _ = exposure_map(camera.from_scene(np.full((1, 1, 3), 0.72)), camera)
    assert stops == pytest.approx(2.0, abs=1e-4)


def test_every_nth_row_is_as_stated() -> None:
    x = np.zeros((10, 6, 3))
    assert waveform(x, DISPLAY, every=2).counts.sum() == 30
