"""A series as delivered, the .ccc and the baked look, applied by OpenColorIO: equal to our rendering."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import PyOpenColorIO as ocio
import pytest
from takes import Truth, write_takes

from lookwright.look.baking.viewing import View
from lookwright.look.recipe.read import read_look
from lookwright.lut.formats.cdl import read_cdl
from lookwright.pictures.stills import read

ROOT = Path(__file__).parents[2]
LOOK = ROOT / "looks" / "night-workshop.toml"
TRUTHS = [Truth("shot_01"), Truth("shot_02", 0.7, 60.0, 0.003), Truth("shot_03", -0.8, -50.0, 0.001)]


@pytest.fixture(scope="module")
def delivered(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("series")
    write_takes(folder / "stills", "close", TRUTHS, every=8)
    for arguments in (
        [
            "series",
            LOOK,
            "--stills",
            folder / "stills",
            "--anchor",
            folder / "stills" / "shot_01.png",
            "--out",
            folder,
            "--tolerance-stops",
            "1",
            "--tolerance-mired",
            "50",
        ],
        ["bake", LOOK, "--out", folder / "look.cube"],
    ):
        subprocess.run([sys.executable, "-m", "lookwright", *map(str, arguments), "--quiet"], check=True, timeout=120)
    return folder


@pytest.mark.parametrize("shot", [t.name for t in TRUTHS])
def test_ccc_then_cube(shot: str, delivered: Path) -> None:
    config = ocio.Config.CreateRaw()
    group = ocio.GroupTransform()
    group.appendTransform(
        ocio.FileTransform(str(delivered / "series.ccc"), cccId=shot, interpolation=ocio.INTERP_LINEAR)
    )
    # What the program says with the file: not clamped (ASC's own form would clamp values outside 0..1 on the way).
    assert ocio.CDLTransform.CreateFromFile(str(delivered / "series.ccc"), shot).getStyle() == ocio.CDL_NO_CLAMP
    group.appendTransform(ocio.FileTransform(str(delivered / "look.cube"), interpolation=ocio.INTERP_TETRAHEDRAL))
    processor = config.getProcessor(group).getOptimizedCPUProcessor(
        ocio.BIT_DEPTH_F32, ocio.BIT_DEPTH_F32, ocio.OPTIMIZATION_LOSSLESS
    )
    pixels = read(delivered / "stills" / f"{shot}.png").pixels
    theirs = np.ascontiguousarray(pixels.copy())
    processor.apply(ocio.PackedImageDesc(theirs, theirs.shape[1], theirs.shape[0], 3))
    correction = next(c for c in read_cdl(delivered / "series.ccc") if c.id == shot)
    ours = View(read_look(LOOK)).graded(np.asarray(correction(np.asarray(pixels, np.float64)), np.float32))
    np.testing.assert_allclose(theirs, ours, rtol=0, atol=1e-4)
    if shot != "shot_01":
        plain = View(read_look(LOOK)).graded(pixels)
        assert np.abs(theirs - plain).max() > 0.05, "the correction does something here"
