"""Every kind of LUT file through ``preview``, against what OpenColorIO makes of the very file.

The picture is noise and ramps, fed and shown as BT.1886, so that what the file does is all there is. Required: 2e-4;
held: half a 16-bit code (7.63e-6) and 32-bit arithmetic, since both go through the same processor. That the file was
read rightly by both is for ``tests/published``. Files of OpenColorIO's and colour-science's own test suites go through
the same comparison by hand: ``tests/benchmarks/foreign_table.py``.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from clf_cases import LEGAL, Case
from foreign_files import SIGNAL, by_ocio, by_preview, by_view, noise_and_ramps, relative, write_still

import lookwright
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import LutFileError
from lookwright.look.baking.foreign import look_of_lut
from lookwright.look.baking.viewing import View
from lookwright.look.recipe.read import parse_look
from lookwright.lut.formats.read import read_lut
from lookwright.pictures.stills import read

TOLERANCE = 8.5e-6
WIDE = noise_and_ramps(-0.5, 2.0)

ONE_D = "LUT_1D_SIZE 5\nDOMAIN_MIN -1 0 0.1\nDOMAIN_MAX 2 1 1\n" + "".join(
    f"{v**0.7:.6f} {v:.6f} {v * v:.6f}\n" for v in np.linspace(0, 1, 5)
)
ROWS_3D = "".join(
    f"{0.8 * r + 0.2 * g * b:.6f} {g**1.5:.6f} {b * (1 - 0.3 * r):.6f}\n"
    for b in np.linspace(0, 1, 5)
    for g in np.linspace(0, 1, 5)
    for r in np.linspace(0, 1, 5)
)
SHAPED = (
    "LUT_1D_SIZE 4\nLUT_1D_INPUT_RANGE -0.5 1.5\nLUT_3D_SIZE 5\nLUT_3D_INPUT_RANGE 0 1\n"
    "0 0 0\n0.3 0.2 0.25\n0.8 0.7 0.75\n1 1 1\n" + ROWS_3D
)


def correction(identity: str, slope: str, power: str = "1.2 1 0.9", saturation: float = 0.8) -> str:
    return (
        f"<ColorCorrection{identity}><SOPNode><Slope>{slope}</Slope><Offset>-.03 -2e-2 0.05</Offset>"
        f"<Power>{power}</Power></SOPNode><SatNode><Saturation>{saturation}</Saturation></SatNode></ColorCorrection>"
    )


# As in OpenColorIO's cdl_test1: ids, an empty one, and none.
SHOTS = [
    correction(' id="shot-1"', "1.1 1 0.9"),
    correction(' id="shot-2"', "0.8 0.9 1.3"),
    correction(' id=""', "1 1 1.2"),
    correction("", "2 2 2", "1 1 1", 0.0),
]
CCC = f'<ColorCorrectionCollection xmlns="urn:ASC:CDL:v1.01">{"".join(SHOTS)}</ColorCorrectionCollection>'
CDL = "<ColorDecisionList>{}</ColorDecisionList>".format(
    "".join(f"<ColorDecision><MediaRef ref='a.dpx'/>{s}</ColorDecision>" for s in SHOTS)
)

TABLES = {
    "1D.cube": ("LUT_1D_SIZE 3\n0 0 0\n0.2 0.3 0.4\n1 1 1\n", None),
    "1D with a domain.cube": (ONE_D, None),
    "3D.cube": ("LUT_3D_SIZE 5\n" + ROWS_3D, None),
    "3D with a domain.cube": ("LUT_3D_SIZE 5\nDOMAIN_MIN -0.2 0 0\nDOMAIN_MAX 1 1.5 1\n" + ROWS_3D, None),
    "shaper and 3D.cube": (SHAPED, None),
    "one.cc": (SHOTS[0], None),
    "first.ccc": (CCC, "shot-1"),
    "second.ccc": (CCC, "shot-2"),
    "first.cdl": (CDL, "shot-1"),
    "second.cdl": (CDL, "shot-2"),
}


@pytest.fixture(scope="module")
def still(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, np.ndarray]:
    path = tmp_path_factory.mktemp("still") / "still.png"
    return path, write_still(path)


def compare(path: Path, still: tuple[Path, np.ndarray], out: Path, wanted: str | None = None) -> None:
    """The preview within half a code, and the floats it is made of for values that no integer file holds."""
    shown = by_preview(path, still[0], out, wanted)
    assert np.abs(shown - np.clip(by_ocio(path, still[1], wanted), 0, 1)).max() <= TOLERANCE
    # The same instructions on the same numbers; a release that orders them otherwise may round otherwise.
    assert relative(by_view(path, WIDE, wanted), by_ocio(path, WIDE, wanted)) <= 1e-6


@pytest.mark.parametrize("name", TABLES)
def test_tables_and_corrections(name: str, still: tuple[Path, np.ndarray], tmp_path: Path) -> None:
    text, wanted = TABLES[name]
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    compare(path, still, tmp_path / "out", wanted)


@pytest.mark.parametrize("case", LEGAL, ids=[c.name for c in LEGAL])
def test_every_node_of_clf(case: Case, still: tuple[Path, np.ndarray], tmp_path: Path) -> None:
    path = tmp_path / "case.clf"
    path.write_text(case.text, encoding="utf-8")
    compare(path, still, tmp_path / "out")


def test_hald(still: tuple[Path, np.ndarray], tmp_path: Path) -> None:
    """OpenColorIO reads none: its 3D LUT is given the picture's numbers, as another reader has them."""
    import OpenImageIO as oiio
    import PyOpenColorIO as ocio

    side = np.linspace(0, 1, 16)
    blue, green, red = np.meshgrid(side, side, side, indexing="ij")
    table = np.stack([red**1.3, 0.7 * green + 0.3 * blue * red, 1 - blue], axis=-1).reshape(64, 64, 3)
    path = tmp_path / "hald.png"
    out = oiio.ImageOutput.create(str(path))
    assert out.open(str(path), oiio.ImageSpec(64, 64, 3, "uint16")) and out.write_image(table.astype(np.float32))
    out.close()

    numbers = oiio.ImageBuf(str(path)).get_pixels(oiio.UINT16).reshape(16, 16, 16, 3) / 65535.0
    cube = ocio.Lut3DTransform(gridSize=16)
    cube.setInterpolation(ocio.INTERP_TETRAHEDRAL)
    cube.setData(np.ascontiguousarray(numbers.transpose(2, 1, 0, 3), np.float32).ravel())
    cpu = ocio.Config.CreateRaw().getProcessor(cube).getDefaultCPUProcessor()
    theirs = still[1].copy()
    cpu.apply(ocio.PackedImageDesc(theirs, theirs.shape[1], theirs.shape[0], 3))
    assert np.abs(by_preview(path, still[0], tmp_path / "out") - theirs).max() <= TOLERANCE


def test_log_to_log_is_the_file_and_then_the_plain_rendering(still: tuple[Path, np.ndarray], tmp_path: Path) -> None:
    """No lattice in either: the rendering as a pipeline of its own gives the same, on what OpenColorIO gave."""
    path = tmp_path / "shots.ccc"
    path.write_text(CCC, encoding="utf-8")
    log = lookwright.jobs.given.SignalName("ACEScct")
    (picture,) = lookwright.preview(
        path, [still[0]], tmp_path / "out", suffix="png", source=log, output=log, correction="shot-2"
    ).written
    rendering = lookwright.compile_look(
        parse_look('source = {encoding = "ACEScct"}\noutput = {encoding = "BT.1886"}\n[[step]]\nkind = "render"\n', "x")
    )
    theirs = rendering(by_ocio(path, still[1], "shot-2"))
    # 32-bit log code into a curve of up to 30 stops: 1e-5 of signal at most (measured), beside half a code.
    assert np.abs(read(picture).pixels - theirs).max() <= 2e-5


def test_a_step_in_a_recipe_names_its_correction(still: tuple[Path, np.ndarray], tmp_path: Path) -> None:
    """``FILE:ID``. A look that is nothing but that step is shown as the file is, and its exact form, which lattices
    are made from, does the same: a display source does not go over scene light into a LUT that takes it."""
    (tmp_path / "shots.ccc").write_text(CCC, encoding="utf-8")
    signal = '{encoding = "BT.1886"}'
    text = (
        f'source = {signal}\noutput = {signal}\n[[step]]\nkind = "lut"\n'
        f'file = "shots.ccc:shot-2"\ninput = {signal}\noutput = {signal}\n'
    )
    look = parse_look(text, "look").with_folder(tmp_path)
    theirs = by_ocio(tmp_path / "shots.ccc", still[1], "shot-2")
    assert np.abs(View(look).graded(still[1]) - theirs).max() <= 1e-6
    wanted = np.clip(theirs, 0, 1)
    # To display light and back: 32-bit there, and light below 1e-12 is none (1e-5 of signal).
    assert np.abs(lookwright.compile_look(look)(still[1]) - wanted).max() <= 1.1e-5


def test_the_interpolation_of_the_step_is_the_one_shown(still: tuple[Path, np.ndarray], tmp_path: Path) -> None:
    """Trilinear differs here by .004; a look that asks for it gets it."""
    import PyOpenColorIO as ocio

    path = tmp_path / "a.cube"
    path.write_text("LUT_3D_SIZE 5\n" + ROWS_3D, encoding="utf-8")
    signal = '{encoding = "ACEScct"}'
    text = (
        f'source = {signal}\noutput = {{encoding = "BT.1886"}}\n[[step]]\nkind = "lut"\nfile = "a.cube"\n'
        f'input = {signal}\noutput = {{encoding = "BT.1886"}}\ninterpolation = "trilinear"\n'
    )
    shown = View(parse_look(text, "look").with_folder(tmp_path)).graded(still[1])
    ocio.ClearAllCaches()
    transform = ocio.FileTransform(str(path), interpolation=ocio.INTERP_LINEAR)
    cpu = ocio.Config.CreateRaw().getProcessor(transform).getDefaultCPUProcessor()
    theirs = still[1].copy()
    cpu.apply(ocio.PackedImageDesc(theirs, theirs.shape[1], theirs.shape[0], 3))
    assert np.abs(shown - theirs).max() <= 1e-6
    assert np.abs(by_ocio(path, still[1]) - theirs).max() > 0.004


def test_a_call_and_the_processor_agree(tmp_path: Path) -> None:
    """What ``check`` asks of single colours in float64 is what pictures get."""
    from lookwright.lut.lattices.apply import Applier

    for name, (text, wanted) in TABLES.items():
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        lut = read_lut(path, wanted)
        assert relative(Applier(lut)(WIDE), lut(WIDE.astype(np.float64)).astype(np.float32)) <= 2e-6, name


def test_no_infinity_reaches_a_picture(still: tuple[Path, np.ndarray], tmp_path: Path) -> None:
    """A formula may go beyond all numbers; OpenColorIO hands that on."""
    path = tmp_path / "steep.cc"
    path.write_text(correction("", "1e30 1 1", "2 1 1"), encoding="utf-8")
    assert not np.isfinite(by_ocio(path, still[1])).all()
    with pytest.raises(LutFileError, match=r"steep\.cc: gives infinite values or NaN for some colours"):
        by_preview(path, still[0], tmp_path / "out")
    assert not list((tmp_path / "out").glob("*.png"))


def test_measure_reads_levels_on_what_the_file_makes(still: tuple[Path, np.ndarray], tmp_path: Path) -> None:
    path = tmp_path / "shots.cdl"
    path.write_text(CDL, encoding="utf-8")
    (reading,) = lookwright.measure([still[0]], look=path, source=SIGNAL, output=SIGNAL, correction="shot-1")
    luma = by_ocio(path, still[1], "shot-1") @ np.array([0.2126, 0.7152, 0.0722])
    assert reading.frame_shown.luma.median == pytest.approx(100 * np.median(luma), abs=0.02)


@pytest.mark.parametrize(
    ("source", "output"), [("BT.2100 PQ", "BT.1886"), ("sRGB", "sRGB"), ("BT.1886", "BT.2100 HLG"), ("sRGB", "BT.1886")]
)
def test_lattices_of_a_display_lut_are_made_of_the_file(
    source: str, output: str, still: tuple[Path, np.ndarray], tmp_path: Path
) -> None:
    """``deliver`` samples the compiled look; it must be the file, whatever peak either signal has."""
    path = tmp_path / "a.cube"
    path.write_text("LUT_3D_SIZE 5\n" + ROWS_3D, encoding="utf-8")
    look = look_of_lut(path, Signal.named(source), Signal.named(output))
    ours = lookwright.compile_look(look)(still[1])
    # To light and back in float64, the lookup in 32 bits there; light below 1e-12 is none, 1e-5 of signal at most.
    assert np.abs(ours - by_ocio(path, still[1])).max() <= 1.2e-5
    # Its plain form stays a rendering of the source for the output.
    plain = lookwright.compile_look(look.plain())(still[1])
    assert np.isfinite(plain).all() and (source != output or np.abs(plain - still[1]).max() <= 1e-6)
