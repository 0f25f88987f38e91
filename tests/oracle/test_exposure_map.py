"""The exposure map as a .cube, shown by readers that are not ours: FFmpeg's lut3d and OpenColorIO."""

from __future__ import annotations

import subprocess
from pathlib import Path

import imageio_ffmpeg
import numpy as np
import PyOpenColorIO as ocio
import pytest

from lookwright.assess.measure.stepped import step_values, steps_of
from lookwright.assess.measure.stepped_lattice import nearest_step
from lookwright.colour.spaces.signal import Signal
from lookwright.jobs.exposure_map import Mapped, exposure_map
from lookwright.pictures.stills import read

ROOT = Path(__file__).parents[2]
LOOK = ROOT / "looks" / "night-workshop.toml"
ACES = Signal.named("ACEScct")
STEPS = steps_of("stops")


@pytest.fixture(scope="module", params=[33, 65])
def made(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Mapped:
    return exposure_map(LOOK, tmp_path_factory.mktemp("map") / "map.cube", size=request.param)


def _ffmpeg(cube: Path, codes: np.ndarray) -> np.ndarray:
    height, width = codes.shape[:2]
    raw = np.rint(codes[..., [1, 2, 0]] * 65535.0).astype("<u2").transpose(2, 0, 1).tobytes()  # planar G, B, R
    size = f"{width}x{height}"
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-f", "rawvideo", "-pix_fmt", "gbrp16le", "-s", size]
    command += [
        "-i",
        "-",
        "-vf",
        f"lut3d=file={cube.name}:interp=tetrahedral",
        "-f",
        "rawvideo",
        "-pix_fmt",
        "gbrp16le",
        "-",
    ]
    done = subprocess.run(command, input=raw, capture_output=True, check=True, cwd=cube.parent)
    out = np.frombuffer(done.stdout, "<u2").reshape(3, height, width).transpose(1, 2, 0) / 65535.0
    return out[..., [2, 0, 1]]


def _opencolorio(cube: Path, codes: np.ndarray) -> np.ndarray:
    transform = ocio.FileTransform(str(cube), interpolation=ocio.INTERP_TETRAHEDRAL)
    processor = ocio.Config.CreateRaw().getProcessor(transform).getDefaultCPUProcessor()
    picture = np.ascontiguousarray(codes, np.float32)
    processor.applyRGB(picture)
    return picture.astype(np.float64)


@pytest.mark.parametrize("show", [_ffmpeg, _opencolorio])
def test_borders_lie_where_the_header_states_them(made: Mapped, show: object) -> None:
    codes = np.repeat(np.linspace(0.0, 1.0, 16384)[None, :, None], 3, axis=2)
    step = nearest_step(show(made.file, codes), STEPS)[0]  # type: ignore[operator]
    stops = step_values(codes, ACES, "stops")[0][0]
    assert (np.diff(step) >= 0).all()
    text = made.file.read_text()
    for i, border in enumerate(made.borders):
        assert border.lies is not None
        seen = stops[np.argmax(step > i)]
        assert abs(seen - border.lies) < 0.01  # 1/16384 of code is .001 stop; FFmpeg's 16 bits another
        assert abs(seen - border.asked) < (0.05 if made.size == 65 else 0.08)
        assert f"{border.asked:g}: {border.lies:.3f}" in text


@pytest.mark.parametrize("name", ["close", "wide"])
def test_few_pixels_of_a_still_are_in_another_step(made: Mapped, name: str) -> None:
    pixels = read(ROOT / "sample_images" / "small" / f"{name}_acescct.png").pixels
    true = STEPS.of(step_values(pixels, ACES, "stops")[0])
    for show in (_ffmpeg, _opencolorio):
        other = (nearest_step(show(made.file, pixels.astype(np.float64)), STEPS) != true).mean()
        assert other <= (0.05 if made.size == 65 else 0.10)
