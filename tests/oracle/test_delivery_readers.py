"""Every format we write, loaded by readers that are not ours, gives our preview of a 16-bit still.

| format | readers |
| --- | --- |
| .cube | OpenColorIO, FFmpeg lut3d, colour-science, Pillow (8 bits) |
| CLF with a shaper | OpenColorIO; colour-clf-io as a parser (its LUT3D lookup is wrong in 0.2.0) |
| ASC CDL .cc .ccc .cdl | OpenColorIO |
| Hald CLUT | FFmpeg haldclut |
| OpenColorIO configuration | OpenColorIO |

The preview is a 16-bit file, so it alone may be half a code off: 7.63e-6. 1e-4 is required of float readers.
"""

from __future__ import annotations

import re
import subprocess
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from lookwright.look.baking.bake import bake, header
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.read import parse_look
from lookwright.lut.fit.shaper import ShapedLattice, refine_shaped
from lookwright.lut.formats.cdl import Correction, write_cdl
from lookwright.lut.formats.clf import identity_of, write_clf
from lookwright.lut.formats.cube import write_cube
from lookwright.lut.formats.hald import write_hald
from lookwright.lut.formats.ocio_config import Names, Part, write_config
from lookwright.lut.lattices.apply import Applier
from lookwright.lut.lattices.interpolate import lookup
from lookwright.lut.lattices.lattice import Lattice
from lookwright.pictures.stills import read, write
from lookwright.present.delivery.build import DeliveredView

ROOT = Path(__file__).parents[2]
WIDTH, HEIGHT = 240, 135
REQUIRED = 1.0e-4
HALF_CODE = 7.63e-6

TEXT = """\
title = "Bench & window"
[source]
encoding = "S-Log3"
[output]
encoding = "BT.1886"
[[step]]
kind = "exposure"
stops = 0.2
[[step]]
kind = "split"
pull = 0.25
[[step]]
kind = "render"
slope = 1.2
[[step]]
kind = "gamut"
"""


@dataclass
class Made:
    folder: Path
    still: np.ndarray
    lattice: Lattice
    shaped: ShapedLattice
    hald: Lattice
    names: Names
    correction: Correction
    preview: np.ndarray
    """16-bit preview through the 33-point lattice."""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """Every format of one look, and a 16-bit still cut from the wide sample: wall, silhouette, lamps."""
    folder = tmp_path_factory.mktemp("delivered")
    wide = read(ROOT / "sample_images/wide_acescct.png").pixels
    write(folder / "still.png", np.ascontiguousarray(wide[::8, ::8]), depth="16")
    still = read(folder / "still.png").pixels
    assert still.shape == (HEIGHT, WIDTH, 3)
    look = parse_look(TEXT)
    pipeline = compile_look(look)
    lattice = bake(pipeline, 33)
    comments = tuple(header(pipeline, TEXT))
    write_cube(folder / "look.cube", lattice, comments=comments)
    shaped, _ = refine_shaped(pipeline, 17, still.reshape(-1, 3))
    write_clf(
        folder / "look.clf",
        shaped.lattice,
        shaped.shaper,
        identity=identity_of("test"),
        title=look.title,
        comments=comments,
        feed=pipeline.source.describe(),
        gives=pipeline.output.describe(),
    )
    hald = bake(pipeline, 36)
    write_hald(folder / "hald.png", hald)
    names = write_config(
        folder / "ocio",
        pipeline.source,
        pipeline.output,
        Part(lattice),
        Part(bake(compile_look(look.plain()), 17)),
        title=look.title,
    )
    correction = Correction((1.08, 1.0, 0.93), (0.01, -0.004, 0.02), (0.95, 1.0, 1.07), 0.9, "bench")
    for suffix in (".cc", ".ccc", ".cdl"):
        write_cdl(folder / f"look{suffix}", [correction])
    preview = _as_16_bits(folder, DeliveredView(look, lattice).graded(still))
    return Made(folder, still, lattice, shaped, hald, names, correction, preview)


def _as_16_bits(folder: Path, pixels: np.ndarray) -> np.ndarray:
    """What a 16-bit preview file of these pixels holds."""
    write(folder / "preview.png", pixels, depth="16")
    picture = read(folder / "preview.png")
    assert picture.depth == "16"
    return picture.pixels


def _through(processor: object, still: np.ndarray) -> np.ndarray:
    import PyOpenColorIO as ocio

    cpu = processor.getOptimizedCPUProcessor(  # type: ignore[attr-defined]
        ocio.BIT_DEPTH_F32, ocio.BIT_DEPTH_F32, ocio.OPTIMIZATION_LOSSLESS
    )
    pixels = np.ascontiguousarray(still, np.float32).copy()
    cpu.apply(ocio.PackedImageDesc(pixels, pixels.shape[1], pixels.shape[0], 3))
    return pixels


def _file_in_ocio(path: Path, still: np.ndarray) -> np.ndarray:
    import PyOpenColorIO as ocio

    ocio.ClearAllCaches()
    transform = ocio.FileTransform(str(path), interpolation=ocio.INTERP_TETRAHEDRAL)
    return _through(ocio.Config.CreateRaw().getProcessor(transform), still)


def _ffmpeg(made: Made, *middle: str) -> np.ndarray:
    import imageio_ffmpeg

    planes = np.ascontiguousarray(made.still.transpose(2, 0, 1)[[1, 2, 0]], "<f4")  # gbrp: green, blue, red
    command = [
        imageio_ffmpeg.get_ffmpeg_exe(),
        "-v",
        "error",
        "-f",
        "rawvideo",
        "-pix_fmt",
        "gbrpf32le",
        "-s",
        f"{WIDTH}x{HEIGHT}",
        "-i",
        "-",
        *middle,
        "-frames:v",
        "1",
        "-f",
        "rawvideo",
        "-pix_fmt",
        "gbrpf32le",
        "-",
    ]
    done = subprocess.run(command, input=planes.tobytes(), capture_output=True, check=True, cwd=made.folder)
    assert done.stderr == b""
    green, blue, red = np.frombuffer(done.stdout, "<f4").reshape(3, HEIGHT, WIDTH)
    return np.stack([red, green, blue], axis=-1)


# .cube


def test_cube_in_opencolorio(made: Made) -> None:
    theirs = _file_in_ocio(made.folder / "look.cube", made.still)
    assert np.abs(theirs - made.preview).max() <= HALF_CODE + 1.5e-6  # six decimals, 32-bit arithmetic


def test_cube_in_ffmpeg(made: Made) -> None:
    theirs = _ffmpeg(made, "-vf", "lut3d=look.cube:interp=tetrahedral")
    assert np.abs(theirs - made.preview).max() <= HALF_CODE + 1.5e-6


def test_cube_in_colour_science(made: Made) -> None:
    import colour
    from colour.algebra import table_interpolation_tetrahedral

    lut = colour.read_LUT(str(made.folder / "look.cube"))
    theirs = lut.apply(made.still.astype(np.float64), interpolator=table_interpolation_tetrahedral)
    assert np.abs(theirs - made.preview).max() <= HALF_CODE + 1.5e-6


def test_cube_in_pillow_at_8_bits(made: Made) -> None:
    """Pillow takes the rows of the file as they stand, works on 8 bits, and is trilinear. It rounds the table and the
    result, and the lookup starts from an 8-bit picture: one code of 255 is what can be asked."""
    from PIL import Image, ImageFilter

    lines = (made.folder / "look.cube").read_text(encoding="ascii").splitlines()
    rows = [[float(v) for v in line.split()] for line in lines if re.match(r"[-0-9]", line)]
    assert len(rows) == 33**3
    coded = np.rint(made.still * 255.0).astype(np.uint8)
    table = ImageFilter.Color3DLUT(33, np.ravel(rows).tolist())
    theirs = np.asarray(Image.fromarray(coded).filter(table), np.float64)
    ours = Applier(made.lattice, "trilinear")(coded.astype(np.float32) / np.float32(255.0)) * 255.0
    assert np.abs(theirs - ours).max() <= 1.0
    # And no rounding of that size would hide a wrong order of channels: swapped, it is far away.
    assert np.abs(theirs[..., ::-1] - ours).max() > 20.0


# CLF


def test_clf_with_a_shaper_in_opencolorio(made: Made) -> None:
    theirs = _file_in_ocio(made.folder / "look.clf", made.still)
    ours = _as_16_bits(made.folder, made.shaped(made.still).astype(np.float32))
    # The shaper is looked up in 32 bits: 6e-8 of input times its slope (below 3) and the lattice's (below 5).
    assert np.abs(theirs - ours).max() <= HALF_CODE + 2e-6


def test_opencolorio_obeys_the_interpolation_in_the_clf(made: Made, tmp_path: Path) -> None:
    """Asked for trilinear, it stays with what the file says; with another word in the file the picture changes."""
    import PyOpenColorIO as ocio

    text = (made.folder / "look.clf").read_text(encoding="ascii")
    assert text.count('interpolation="tetrahedral"') == 1
    other = tmp_path / "trilinear.clf"
    other.write_text(text.replace('interpolation="tetrahedral"', 'interpolation="trilinear"'), encoding="ascii")
    processor = ocio.Config.CreateRaw().getProcessor(
        ocio.FileTransform(str(made.folder / "look.clf"), interpolation=ocio.INTERP_LINEAR)
    )
    stated = _file_in_ocio(made.folder / "look.clf", made.still)
    assert np.array_equal(_through(processor, made.still), stated)
    trilinear = _file_in_ocio(other, made.still)
    assert np.abs(trilinear - stated).max() > REQUIRED
    assert np.abs(trilinear - made.shaped(made.still, "trilinear")).max() <= 2e-6


def test_clf_parsed_by_colour_clf_io(made: Made) -> None:
    """Structure, metadata and every value; the curve applied by numpy and the lattice by our reference."""
    import colour_clf_io as clf_io

    found = clf_io.read_clf((made.folder / "look.clf").read_bytes())
    assert found is not None
    assert found.id == identity_of("test") and found.name == "Bench & window"
    assert found.compatible_CLF_version == "3.0"
    assert found.input_descriptor == "S-Log3, S-Gamut3.Cine primaries, full range"
    curve, cube = found.process_nodes
    assert isinstance(curve, clf_io.LUT1D) and isinstance(cube, clf_io.LUT3D)
    assert cube.interpolation == clf_io.Interpolation3D.TETRAHEDRAL
    values = np.array(curve.array.values).reshape(curve.array.dim)
    np.testing.assert_allclose(values, made.shaped.shaper.table, rtol=0, atol=5e-9)
    # Blue fastest: the array indexed [r, g, b].
    table = np.array(cube.array.values).reshape(cube.array.dim)
    np.testing.assert_allclose(table, made.shaped.lattice.table, rtol=0, atol=5e-9)
    at = np.linspace(0.0, 1.0, len(values))
    shaped = np.stack([np.interp(made.still[..., c], at, values[:, c]) for c in range(3)], axis=-1)
    theirs = lookup(Lattice(table), shaped)
    assert np.abs(theirs - made.shaped(made.still)).max() <= 5e-8


# ASC CDL


@pytest.mark.parametrize("suffix", [".cc", ".ccc", ".cdl"])
def test_cdl_in_opencolorio(made: Made, suffix: str) -> None:
    """OpenColorIO applies CDL files without clamping unless told; ours is the same form."""
    theirs = _file_in_ocio(made.folder / f"look{suffix}", made.still)
    ours = _as_16_bits(made.folder, made.correction(made.still).astype(np.float32))
    # A preview holds 0..1; the lamps go beyond, and there the unrounded numbers are compared.
    assert theirs.max() > 1.0
    assert np.abs(np.clip(theirs, 0.0, 1.0) - ours).max() <= HALF_CODE + 1e-6
    assert np.abs(theirs - made.correction(made.still)).max() <= 1e-6


@pytest.mark.parametrize("clamp", [False, True])
def test_cdl_styles_at_the_ends(made: Made, clamp: bool) -> None:
    """Colours that leave 0..1: OpenColorIO's two styles are our two."""
    import PyOpenColorIO as ocio

    strong = Correction((2.0, 1.5, 0.5), (-0.3, 0.1, -0.2), (0.8, 1.2, 1.0), 1.6)
    transform = ocio.CDLTransform()
    transform.setSOP([*strong.slope, *strong.offset, *strong.power])
    transform.setSat(strong.saturation)
    transform.setStyle(ocio.CDL_ASC if clamp else ocio.CDL_NO_CLAMP)
    theirs = _through(ocio.Config.CreateRaw().getProcessor(transform), made.still)
    np.testing.assert_allclose(theirs, strong(made.still, clamp=clamp), rtol=0, atol=1e-6)


# Hald


def test_hald_in_ffmpeg(made: Made) -> None:
    """In packed 16-bit RGB, which the PNG is; FFmpeg truncates to the code below (1.53e-5). Turned to planar float by
    FFmpeg first, the same PNG errs by up to 2e-4 (measured): a matter of its pixel conversion, not of the LUT."""
    import imageio_ffmpeg

    coded = np.rint(made.still.astype(np.float64) * 65535.0).astype("<u2")
    shape = ["-f", "rawvideo", "-pix_fmt", "rgb48le", "-s", f"{WIDTH}x{HEIGHT}"]
    graph = "[1]format=rgb48le[clut];[0][clut]haldclut=interp=tetrahedral"
    command = [
        imageio_ffmpeg.get_ffmpeg_exe(),
        "-v",
        "error",
        *shape,
        "-i",
        "-",
        "-i",
        "hald.png",
        "-filter_complex",
        graph,
        "-frames:v",
        "1",
        "-f",
        "rawvideo",
        "-pix_fmt",
        "rgb48le",
        "-",
    ]
    done = subprocess.run(command, input=coded.tobytes(), capture_output=True, check=True, cwd=made.folder)
    assert done.stderr == b""
    theirs = np.frombuffer(done.stdout, "<u2").reshape(HEIGHT, WIDTH, 3) / 65535.0
    ours = _as_16_bits(made.folder, lookup(made.hald, made.still).astype(np.float32))
    assert np.abs(theirs - ours).max() <= 3.2e-5  # two codes: the table's rounding, and their truncation


def test_hald_layout_is_that_of_ffmpeg() -> None:
    """The identity that FFmpeg itself makes (haldclutsrc), code for code."""
    import imageio_ffmpeg

    from lookwright.lut.formats.hald import identity, to_picture

    done = subprocess.run(
        [
            imageio_ffmpeg.get_ffmpeg_exe(),
            "-v",
            "error",
            "-f",
            "lavfi",
            "-i",
            "haldclutsrc=level=4,format=rgb48le",
            "-frames:v",
            "1",
            "-f",
            "rawvideo",
            "-pix_fmt",
            "rgb48le",
            "-",
        ],
        capture_output=True,
        check=True,
    )
    theirs = np.frombuffer(done.stdout, "<u2").reshape(64, 64, 3)
    assert np.array_equal(theirs, np.rint(to_picture(identity(4)) * 65535.0))


# OpenColorIO configuration


@pytest.mark.parametrize("view", ["graded", "plain"])
def test_the_configuration_renders_the_same_picture(made: Made, view: str) -> None:
    """As a host would: source space, display, view. S-Log3 goes to light and back on the way (a sampled curve)."""
    import PyOpenColorIO as ocio

    ocio.ClearAllCaches()
    config = ocio.Config.CreateFromFile(str(made.folder / "ocio/config.ocio"))
    config.validate()
    names = made.names
    asked = names.view if view == "graded" else names.plain_view
    transform = ocio.DisplayViewTransform(src=names.source, display=names.display, view=asked)
    theirs = _through(config.getProcessor(transform), made.still)
    if view == "graded":
        assert np.abs(theirs - made.preview).max() <= HALF_CODE + 3e-6
    else:
        plain = bake(compile_look(parse_look(TEXT).plain()), 17)
        assert np.abs(theirs - lookup(plain, made.still)).max() <= 3e-6


def test_the_configuration_knows_the_light(made: Made) -> None:
    """Source to scene_linear by the configuration is the decoding of colour-science."""
    import PyOpenColorIO as ocio
    from colour.models import log_decoding_SLog3

    config = ocio.Config.CreateFromFile(str(made.folder / "ocio/config.ocio"))
    grey = np.linspace(0.1, 0.9, 81, dtype=np.float32)[None, :, None].repeat(3, axis=2)
    theirs = _through(config.getProcessor(made.names.source, ocio.ROLE_SCENE_LINEAR), grey)
    # A grey keeps its value through the change of primaries, as both whites are adapted.
    np.testing.assert_allclose(theirs[..., 1], log_decoding_SLog3(grey[..., 1].astype(float)), rtol=3e-6, atol=1e-6)
    for role in ("scene_linear", "compositing_log", "color_timing", "data", "default", "aces_interchange"):
        assert config.getRoleColorSpace(role)


def test_the_readers_notice_a_small_fault(made: Made, tmp_path: Path) -> None:
    """One number of a used lattice point moved by 0.002 in the CLF is seen: the agreement is no accident."""
    from lookwright.errors import LutFileError
    from lookwright.lut.formats.verify import probes, verify_file
    from lookwright.lut.lattices.interpolate import linear

    verify_file(made.folder / "look.clf", made.shaped)
    # The lattice point to which one of the colours compared comes nearest.
    place = linear(made.shaped.shaper, probes()[:4096]) * 16
    i, j, k = np.round(place[np.argmin(np.abs(place - np.round(place)).max(axis=1))]).astype(int)
    lines = (made.folder / "look.clf").read_text(encoding="ascii").splitlines()
    start = next(i for i, x in enumerate(lines) if 'dim="17 17 17 3"' in x) + 1
    row = start + (i * 17 + j) * 17 + k
    r, g, b = map(float, lines[row].split())
    lines[row] = f"{r} {g + 0.002} {b}"
    changed = tmp_path / "changed.clf"
    changed.write_text("\n".join(lines) + "\n", encoding="ascii")
    with pytest.raises(LutFileError, match=r"OpenColorIO reads it with an error of 0\.00"):
        verify_file(changed, made.shaped)


def test_the_filter_on_the_card_is_right_for_untagged_video(made: Made) -> None:
    """A 10-bit 4:4:4 clip without tags: with the card's filter the picture is ours, to 32-bit arithmetic; left to
    itself FFmpeg takes another matrix."""
    import imageio_ffmpeg

    from lookwright.colour.spaces.ranges import from_full
    from lookwright.present.delivery.card import FFMPEG_FILTER

    # Y'CbCr of BT.709-6 items 3.3 to 3.5, narrow range, 10 bits.
    rgb = made.still.astype(np.float64)
    luma = rgb @ [0.2126, 0.7152, 0.0722]
    y = from_full(luma, "legal") * 1023.0
    cb = (rgb[..., 2] - luma) / 1.8556 * 896.0 + 512.0
    cr = (rgb[..., 0] - luma) / 1.5748 * 896.0 + 512.0
    clip = np.rint(np.stack([y, cb, cr])).astype("<u2")

    def shown(filters: str) -> np.ndarray:
        command = [
            imageio_ffmpeg.get_ffmpeg_exe(),
            "-v",
            "error",
            "-f",
            "rawvideo",
            "-pix_fmt",
            "yuv444p10le",
            "-s",
            f"{WIDTH}x{HEIGHT}",
            "-i",
            "-",
            "-vf",
            filters,
            "-f",
            "rawvideo",
            "-pix_fmt",
            "gbrpf32le",
            "-",
        ]
        done = subprocess.run(command, input=clip.tobytes(), capture_output=True, check=True, cwd=made.folder)
        return np.frombuffer(done.stdout, "<f4").reshape(3, HEIGHT, WIDTH)[[2, 0, 1]].transpose(1, 2, 0)

    # What the clip holds after its rounding, taken back by the same items.
    luma, blue, red = (clip[0] - 64.0) / 876.0, (clip[1] - 512.0) / 896.0 * 1.8556, (clip[2] - 512.0) / 896.0 * 1.5748
    green = (luma - 0.2126 * (luma + red) - 0.0722 * (luma + blue)) / 0.7152
    ours = lookup(made.lattice, np.stack([luma + red, green, luma + blue], axis=-1))
    right = np.abs(shown(FFMPEG_FILTER.format(file="look.cube")) - ours)
    wrong = np.abs(shown("format=gbrpf32le,lut3d=look.cube:interp=tetrahedral") - ours)
    assert right.max() <= 3e-6
    assert wrong.max() > 0.01
    # The other filter for the job, named matrix and all, is not exact.
    scaled = np.abs(shown("scale=in_color_matrix=bt709:in_range=tv,format=gbrpf32le,lut3d=look.cube") - ours)
    assert 1e-3 < scaled.max() < 0.01
