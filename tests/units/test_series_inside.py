"""Inside the clips of a series: keyframes that steady them, and sound that stays with its picture."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

pytest.importorskip("imageio_ffmpeg")
if not os.environ.get("CI"):
    pytest.importorskip("av")  # in CI its absence is a fault

from clip_takes import ffmpeg
from takes import LOG

from lookwright.colour.cdl import apply_cdl
from lookwright.jobs.scratch import scratch
from lookwright.jobs.stand_ins import Inside
from lookwright.jobs.steady import Key, keys_of, values_at
from lookwright.pictures.clips.colour import to_full_codes, to_rgb
from lookwright.pictures.clips.sound import with_sound
from lookwright.solve.series.drift import Drift
from lookwright.solve.series.steps import Step

TIMES = tuple(n / 24 for n in range(48))


def inside(stops: np.ndarray, mired: np.ndarray | None = None, steps: tuple[Step, ...] = ()) -> Inside:
    warm = np.zeros(48) if mired is None else mired
    return Inside(Drift(stops, warm, stops, warm, steps, 24.0), TIMES, 24)


def test_keyframes_hold_the_light_of_the_frame_that_stands_for_the_shot() -> None:
    """Scene light that drifts comes back as it was at that frame, to what the keyframes allow."""
    rng = np.random.default_rng(1)
    scene = 0.18 * 2.0 ** rng.uniform(-2.0, 2.0, (500, 3))
    stops = 0.4 * np.sin(np.linspace(0.0, np.pi, 48))
    keys = keys_of(inside(stops), LOG, LOG.from_scene(scene))
    assert 3 <= len(keys) <= 16 and keys[0].seconds == 0.0
    for n in (0, 5, 11, 24, 40, 47):
        v = values_at(keys, TIMES[n])
        found = LOG.to_scene(apply_cdl(LOG.from_scene(scene * 2.0 ** stops[n]), v[:3], v[3:6], v[6:9], v[9]))
        assert np.abs(np.log2(found / (scene * 2.0 ** stops[24]))).max() < 0.008


def test_a_step_of_light_stays() -> None:
    """Before and after it the clip is held, not across it."""
    drifting = 0.1 * np.linspace(0.0, 1.0, 48)
    stops = drifting + 0.5 * (np.arange(48) >= 30)
    keys = keys_of(inside(stops, steps=(Step(30, "light", 0.5, 0.0, "on the left"),)), LOG, np.full((50, 3), 0.4))
    by_time = {round(k.seconds * 24): k.stops for k in keys}
    assert by_time[29] == pytest.approx(drifting[29] - drifting[24], abs=0.006)
    assert by_time[30] == pytest.approx(0.0, abs=1e-9), "the new light begins as it is"
    assert by_time[47] == pytest.approx(drifting[47] - drifting[30], abs=0.006)


def test_what_does_not_drift_gets_no_keyframes() -> None:
    assert keys_of(inside(0.004 * np.sin(np.arange(48))), LOG, np.full((50, 3), 0.4)) == ()


def test_straight_lines_between_keyframes() -> None:
    one, other = Key(1.0, 0, 0, (1.0,) * 10), Key(3.0, 0, 0, (2.0,) * 10)
    found = [values_at([one, other], t)[0] for t in (0.0, 1.0, 1.5, 2.9, 3.0, 9.0)]
    assert found == pytest.approx([1.0, 1.0, 1.25, 1.95, 2.0, 2.0])


@pytest.mark.parametrize("matrix", ["BT.709", "BT.2020", "BT.601"])
def test_full_range_codes_and_back(matrix: str) -> None:
    rgb = np.random.default_rng(2).uniform(0.0, 1.0, (200, 3))
    assert np.abs(to_rgb(to_full_codes(rgb, 10, matrix), 10, matrix, "full") - rgb).max() < 1e-3, "chroma of 1024 codes"
    assert np.abs(to_rgb(to_full_codes(rgb, 10, matrix), 10, matrix, "full", "keep") - rgb).max() < 1e-3


# -- sound ----------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def clips(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two seconds with a click at one second, its sound in AAC (.mp4) and PCM (.mov)."""
    folder = tmp_path_factory.mktemp("sound")
    picture = ["-f", "lavfi", "-i", "color=c=gray:s=64x64:r=24:d=2"]
    click = "sine=f=1000:d=2:sample_rate=48000,volume='if(between(t,1,1.02),1,0)':eval=frame"
    tags = ["-vf", "setparams=colorspace=bt709:color_primaries=bt709:color_trc=bt709:range=tv"]
    for name, codec in (("aac.mp4", "aac"), ("pcm.mov", "pcm_s16le")):
        ffmpeg(*picture, "-f", "lavfi", "-i", click, *tags, "-c:v", "libx264", "-c:a", codec, folder / name)
    return folder


def click_at(clip: Path) -> tuple[float, float]:
    """When the click is heard, and how long the sound is."""
    import av

    with av.open(str(clip)) as container:
        (stream,) = container.streams.audio
        frames = [(f.time, f.to_ndarray().astype(float)) for f in container.decode(stream)]
    samples = np.concatenate([a[0] if a.shape[0] <= 2 else a.ravel() for _, a in frames])
    loud = np.nonzero(np.abs(samples) > 0.3 * np.abs(samples).max())[0]
    return frames[0][0] + loud[0] / 48000, len(samples) / 48000


@pytest.mark.parametrize("name", ["aac.mp4", "pcm.mov"])
def test_sound_stays_with_its_picture(name: str, clips: Path, tmp_path: Path) -> None:
    before, _ = click_at(clips / name)
    assert with_sound(clips / "aac.mp4", clips / name, tmp_path / "whole.mp4") == 1
    assert click_at(tmp_path / "whole.mp4")[0] == pytest.approx(before, abs=1e-3)
    assert with_sound(clips / "aac.mp4", clips / name, tmp_path / "part.mp4", 0.5, 1.5) == 1
    at, long = click_at(tmp_path / "part.mp4")
    assert at == pytest.approx(before - 0.5, abs=1e-3), "cut to the sample, not to a packet"
    assert 1.0 <= long < 1.05, "a last packet is filled up"
    import av

    with av.open(str(tmp_path / "part.mp4")) as container:
        context = container.streams.video[0].codec_context
        assert (context.color_primaries, context.color_trc, context.colorspace, context.color_range) == (1, 1, 1, 1)


# -- the hidden folder on the way -----------------------------------------------------------------------------------


def test_hidden_folders_are_left_alone_by_others_at_work(tmp_path: Path) -> None:
    """Many at once, each beginning by clearing what a killed run left: none takes away another's."""

    def work(number: int) -> bool:
        with scratch(tmp_path) as folder:
            (folder / "a").write_text(str(number))
            time.sleep(0.002)
            return (folder / "a").read_text() == str(number)

    with ThreadPoolExecutor(8) as pool:
        assert all(pool.map(work, range(200)))
    assert list(tmp_path.iterdir()) == []


def test_what_a_killed_run_left_is_cleared_and_what_another_uses_is_not(tmp_path: Path) -> None:
    code = (
        "import sys, time; from pathlib import Path; from lookwright.jobs.scratch import scratch\n"
        "with scratch(Path(sys.argv[1])) as folder:\n    print(folder, flush=True); time.sleep(60)\n"
    )
    other = subprocess.Popen([sys.executable, "-c", code, str(tmp_path)], stdout=subprocess.PIPE, text=True)
    try:
        assert other.stdout is not None
        theirs = Path(other.stdout.readline().strip())
        with scratch(tmp_path):
            assert theirs.is_dir(), "in use"
    finally:
        other.kill()
        other.wait()
        other.communicate()
    assert theirs.is_dir()
    with scratch(tmp_path):
        assert not theirs.exists(), "left by a run that was killed"
