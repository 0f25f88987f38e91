"""A .cube written here, read by three readers that are not ours, gives the same picture as ours.

Readers: OpenColorIO (FileTransform), colour-science (read_LUT), FFmpeg's lut3d (planar float, from
imageio-ffmpeg's wheel). The LUT is a smooth nonlinear mixing function, so an axis mix-up or another
interpolation shows.
"""

from __future__ import annotations

import subprocess
from pathlib import Path

import numpy as np
import pytest

from lookwright.lut.formats.cube import read_cube, write_cube
from lookwright.lut.formats.embed import embed, extract
from lookwright.lut.lattices.apply import Applier
from lookwright.lut.lattices.interpolate import lookup
from lookwright.lut.lattices.lattice import sample

RECIPE = 'source = "ACEScct"\n# a note with a café and a back\\slash\n[[step]]\nuse = "exposure"\n' + "x" * 400
HEADER = ["feed it ACEScct signal, 0 to 1; it gives BT.1886 signal", "", *embed(RECIPE)]

# OpenColorIO and FFmpeg keep the lattice and compute in 32-bit: errors of a few 6e-8 each.
TOLERANCE = 1e-6


def smooth(signal):
    r, g, b = signal[..., 0], signal[..., 1], signal[..., 2]
    return np.stack(
        [
            0.02 + 0.9 * r**1.4 + 0.05 * np.sin(3.0 * g),
            0.85 * g**0.8 + 0.1 * r * b,
            0.7 * b**1.1 + 0.15 * np.cos(2.0 * r) * g - 0.03,
        ],
        axis=-1,
    )


@pytest.fixture(scope="module")
def colours():
    """Random colours, also outside 0..1, and the ends, lattice points and ties."""
    rng = np.random.default_rng(3)
    points = rng.uniform(-0.1, 1.1, (64 * 64, 3))
    points[:512] = rng.integers(0, 17, (512, 3)) / 16
    points[512:768, 1] = points[512:768, 0]
    points[768:900] = points[768:900, :1]
    points[900:908] = [[r, g, b] for r in (0, 1) for g in (0, 1) for b in (0, 1)]
    return points.astype(np.float32).reshape(64, 64, 3)


@pytest.fixture(scope="module", params=[17, 33])
def written(request, tmp_path_factory):
    lattice = sample(smooth, request.param, title="Workshop at night")
    path = tmp_path_factory.mktemp("cube") / f"workshop_{request.param}.cube"
    write_cube(path, lattice, comments=HEADER)
    return path, lattice


def ours(path: Path, colours, interpolation="tetrahedral"):
    return lookup(read_cube(path).lattice, colours, interpolation)


def test_what_is_read_back_is_what_was_written(written):
    path, lattice = written
    file = read_cube(path)
    # Six decimals: half a unit of the sixth, plus double rounding.
    np.testing.assert_allclose(file.lattice.table, lattice.table, rtol=0, atol=5.0001e-7)
    assert file.title == "Workshop at night" and file.comments == HEADER and file.warnings == []
    assert extract(file.comments) == RECIPE


@pytest.mark.parametrize("interpolation", ["tetrahedral", "trilinear"])
def test_applier(written, colours, interpolation):
    path, _ = written
    got = Applier(read_cube(path), interpolation)(colours)
    np.testing.assert_allclose(got, ours(path, colours, interpolation), rtol=0, atol=TOLERANCE)


@pytest.mark.parametrize("interpolation", ["tetrahedral", "trilinear"])
def test_opencolorio(written, colours, interpolation):
    import PyOpenColorIO as ocio

    path, _ = written
    ocio.ClearAllCaches()
    file = ocio.FileTransform(
        src=str(path),
        interpolation=ocio.INTERP_TETRAHEDRAL if interpolation == "tetrahedral" else ocio.INTERP_LINEAR,
    )
    processor = ocio.Config.CreateRaw().getProcessor(file)
    cpu = processor.getOptimizedCPUProcessor(ocio.BIT_DEPTH_F32, ocio.BIT_DEPTH_F32, ocio.OPTIMIZATION_LOSSLESS)
    got = colours.copy()
    cpu.apply(ocio.PackedImageDesc(got, 64, 64, 3))
    np.testing.assert_allclose(got, ours(path, colours, interpolation), rtol=0, atol=TOLERANCE)
    np.testing.assert_allclose(got, Applier(read_cube(path), interpolation)(colours), rtol=0, atol=TOLERANCE)


@pytest.mark.parametrize("interpolation", ["tetrahedral", "trilinear"])
def test_colour_science(written, colours, interpolation):
    import colour

    path, lattice = written
    lut = colour.read_LUT(str(path))
    assert lut.name == "Workshop at night" and lut.size == lattice.size
    interpolator = getattr(colour.algebra, f"table_interpolation_{interpolation}")
    # colour-science computes in double as we do, but keeps the tables it reads in its own dtype; it does
    # not clamp by itself in every version, so it is fed clamped colours.
    got = lut.apply(np.clip(colours, 0, 1).astype(np.float64), interpolator=interpolator)
    np.testing.assert_allclose(got, ours(path, colours, interpolation), rtol=0, atol=TOLERANCE)


@pytest.mark.parametrize("interpolation", ["tetrahedral", "trilinear"])
def test_ffmpeg(written, colours, interpolation):
    import imageio_ffmpeg

    path, _ = written
    planes = np.ascontiguousarray(colours[..., [1, 2, 0]].transpose(2, 0, 1))  # gbr
    done = subprocess.run(
        [
            imageio_ffmpeg.get_ffmpeg_exe(),
            "-v",
            "error",
            "-nostdin",
            "-f",
            "rawvideo",
            "-pix_fmt",
            "gbrpf32le",
            "-s",
            "64x64",
            "-i",
            "pipe:0",
            "-vf",
            f"lut3d=file={path.name}:interp={interpolation}",
            "-f",
            "rawvideo",
            "-pix_fmt",
            "gbrpf32le",
            "pipe:1",
        ],
        input=planes.astype("<f4").tobytes(),
        capture_output=True,
        cwd=path.parent,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stderr.decode()
    got = np.frombuffer(done.stdout, "<f4").reshape(3, 64, 64).transpose(1, 2, 0)[..., [2, 0, 1]]
    np.testing.assert_allclose(got, ours(path, colours, interpolation), rtol=0, atol=TOLERANCE)


def test_nine_significant_digits_carry_dark_linear_light(tmp_path):
    """Six decimals lose it: 1e-7 becomes 0. Nine significant digits hold every 32-bit value exactly."""
    lattice = sample(lambda signal: (1e-7 * 2.0 ** (10.0 * signal)).astype(np.float32), 5)
    path = tmp_path / "dark.cube"
    write_cube(path, lattice, digits=9, significant=True)
    got = read_cube(path).lattice.table
    np.testing.assert_array_equal(got.astype(np.float32), lattice.table)
    import colour

    theirs = colour.read_LUT(str(path)).table
    np.testing.assert_allclose(theirs, lattice.table, rtol=1e-7, atol=0)
    points = np.random.default_rng(1).random((50, 3))
    # Steeply curved and small: 32-bit relative errors are what counts.
    np.testing.assert_allclose(Applier(read_cube(path))(points), lookup(lattice, points), rtol=2e-6, atol=0)


@pytest.mark.parametrize("interpolation", ["tetrahedral", "trilinear"])
def test_another_input_range_agrees_with_opencolorio(tmp_path, colours, interpolation):
    """A foreign file with DOMAIN lines, per channel."""
    import PyOpenColorIO as ocio

    from lookwright.lut.lattices.lattice import Lattice

    lattice = Lattice(sample(smooth, 9).table, (-0.05, 0.0, -0.2), (1.0, 0.8, 1.5))
    path = tmp_path / "domain.cube"
    write_cube(path, lattice, allow_domain=True)
    file = read_cube(path)
    assert file.lattice.domain_min == lattice.domain_min and file.lattice.domain_max == lattice.domain_max
    expected = lookup(file.lattice, colours, interpolation)
    np.testing.assert_allclose(Applier(file, interpolation)(colours), expected, rtol=0, atol=TOLERANCE)
    transform = ocio.FileTransform(
        src=str(path),
        interpolation=ocio.INTERP_TETRAHEDRAL if interpolation == "tetrahedral" else ocio.INTERP_LINEAR,
    )
    cpu = ocio.Config.CreateRaw().getProcessor(transform).getDefaultCPUProcessor()
    got = colours.copy()
    cpu.apply(ocio.PackedImageDesc(got, 64, 64, 3))
    np.testing.assert_allclose(got, expected, rtol=0, atol=TOLERANCE)


def test_shaper_and_cube_in_one_file_agree_with_opencolorio(tmp_path, colours):
    """Never written by us, but read: a 1D table feeding a 3D one, ranges by keyword."""
    import PyOpenColorIO as ocio

    lattice = sample(smooth, 5)
    rows = lattice.table.transpose(2, 1, 0, 3).reshape(-1, 3)
    shaper = np.linspace(0, 1, 33)[:, None] ** np.array([0.5, 1.0, 2.0])
    lines = ["LUT_1D_SIZE 33", "LUT_1D_INPUT_RANGE -0.1 1.2", "LUT_3D_SIZE 5", "LUT_3D_INPUT_RANGE 0 1"]
    lines += [f"{r:.9f} {g:.9f} {b:.9f}" for r, g, b in [*shaper, *rows]]
    path = tmp_path / "both.cube"
    path.write_text("\n".join(lines) + "\n")
    transform = ocio.FileTransform(src=str(path), interpolation=ocio.INTERP_TETRAHEDRAL)
    cpu = ocio.Config.CreateRaw().getProcessor(transform).getDefaultCPUProcessor()
    got = colours.copy()
    cpu.apply(ocio.PackedImageDesc(got, 64, 64, 3))
    # The square root shaper is steep near its foot: 32-bit rounding of the input counts ten times.
    np.testing.assert_allclose(Applier(read_cube(path))(colours), got, rtol=0, atol=5e-6)
