"""CLF and CDL files, legal and illegal, read or refused as the rules say and as other libraries do.

OpenColorIO's own test files are not in its wheel, so each is written anew from its rule (tests/shared/clf_cases.py,
with the name of the file it stands for); where a file is legal its result is compared with the specification's
formula. The verdicts of OpenColorIO 2.6 and colour-clf-io 0.2.0 stand beside ours, and are themselves tested where
those releases are installed. Where we differ from a library the reason is given in ``STRICTER``.

Sources: CLF 3.0 (Academy/ASC S-2014-006), SMPTE ST 2136-1; ASC CDL 1.2; names of files: OpenColorIO,
tests/data/files/clf and .../clf/illegal.
"""

from __future__ import annotations

import warnings
from importlib.metadata import version
from pathlib import Path

import numpy as np
import pytest
from clf_cases import ILLEGAL, LEGAL, PROBE, Case

from lookwright.errors import LookwrightError, LutFileError
from lookwright.lut.formats.cdl import Correction, read_cdl
from lookwright.lut.formats.clf import read_clf
from lookwright.lut.formats.read import read_lut

STRICTER = {
    "array with NaN": "both libraries let NaN into pictures without a word",
    "array_missing": "OpenColorIO takes the identity for it; the specification requires an Array",
    "unknown_elements": "OpenColorIO passes over a node it does not know, so the picture would be wrong in silence",
    "other namespace": "OpenColorIO reads any namespace",
    "indexMap_test2": "OpenColorIO passes over an IndexMap, which CLF 3 does not have: the input range would be wrong",
    "lut1d_half_domain with NaN at 1": "both libraries let NaN into pictures without a word; where the half itself is "
    "NaN or infinite, a table of all halves may have them",
}

# Two lines of 32-bit arithmetic, values up to 20 for the antilogarithms.
TOLERANCE = 2e-6


def _ids(cases: tuple[Case, ...]) -> list[str]:
    return [c.name for c in cases]


def _write(tmp_path: Path, text: str, suffix: str = ".clf") -> Path:
    path = tmp_path / f"case{suffix}"
    path.write_bytes(text.encode("utf-8"))
    return path


@pytest.mark.parametrize("case", LEGAL, ids=_ids(LEGAL))
def test_legal_clf_gives_what_the_specification_says(case: Case, tmp_path: Path) -> None:
    assert case.expected is not None
    found = read_clf(_write(tmp_path, case.text))
    np.testing.assert_allclose(found(PROBE), case.expected(PROBE), rtol=1e-6, atol=TOLERANCE)


@pytest.mark.parametrize("case", ILLEGAL, ids=_ids(ILLEGAL))
def test_illegal_clf_is_refused_on_one_line(case: Case, tmp_path: Path) -> None:
    path = _write(tmp_path, case.text)
    with pytest.raises(LutFileError) as caught:
        read_clf(path)
    line = caught.value.line()
    assert line.startswith(str(path)) and "\n" not in line and len(line) < 400


@pytest.mark.parametrize("case", LEGAL + ILLEGAL, ids=_ids(LEGAL + ILLEGAL))
def test_the_table_of_verdicts(case: Case, tmp_path: Path) -> None:
    ours, opencolorio, clf_io = case.verdicts or ("rrr" if case.expected else "---")
    assert ours == ("r" if case.expected else "-")
    assert (ours != opencolorio) == (case.name in STRICTER)
    path = _write(tmp_path, case.text)
    if version("opencolorio").startswith("2.6."):
        assert _read_by_opencolorio(path) == (opencolorio == "r")
    if version("colour-clf-io") == "0.2.0":
        assert _read_by_clf_io(case.text) == (clf_io == "r")


def _read_by_opencolorio(path: Path) -> bool:
    import PyOpenColorIO as ocio

    ocio.ClearAllCaches()
    try:
        ocio.Config.CreateRaw().getProcessor(ocio.FileTransform(str(path))).getDefaultCPUProcessor()
    except ocio.Exception:
        return False
    return True


def _read_by_clf_io(text: str) -> bool:
    import colour_clf_io

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            return colour_clf_io.read_clf(text.encode("utf-8")) is not None
        except Exception:  # it raises errors of several libraries, and some of its own making
            return False


def test_files_that_colour_clf_io_ships(tmp_path: Path) -> None:
    """Its test resources, as far as its wheel has them: read or refused as OpenColorIO does, and where read, alike."""
    import colour_clf_io
    import PyOpenColorIO as ocio

    folder = Path(colour_clf_io.__file__).parent / "tests" / "resources"
    files = sorted(p for p in folder.rglob("*") if p.suffix in (".xml", ".clf") and p.stat().st_size < 3_000_000)
    if not files:
        pytest.skip("this colour-clf-io comes without its tests")
    read = 0
    for file in files:
        path = _write(tmp_path, file.read_text(encoding="utf-8"))
        theirs = _read_by_opencolorio(path)
        try:
            found = read_clf(path)
        except LutFileError:
            assert not theirs
            continue
        assert theirs
        read += 1
        ocio.ClearAllCaches()
        transform = ocio.FileTransform(str(path), interpolation=ocio.INTERP_TETRAHEDRAL)
        cpu = (
            ocio.Config.CreateRaw()
            .getProcessor(transform)
            .getOptimizedCPUProcessor(ocio.BIT_DEPTH_F32, ocio.BIT_DEPTH_F32, ocio.OPTIMIZATION_LOSSLESS)
        )
        pixels = PROBE.astype(np.float32)
        cpu.apply(ocio.PackedImageDesc(pixels, len(pixels), 1, 3))
        np.testing.assert_array_equal(found(PROBE), pixels.astype(float))
    assert read >= 1


def test_worked_examples_of_the_specification(tmp_path: Path) -> None:
    """CLF 3.0 examples 13 and 14: AP0 to AP1 to 12 decimals, then ACEScct. Check: 0.18 encodes to 0.413588402492442
    (S-2016-001), and AP0 grey is AP1 grey."""
    from clf_cases import CAMERA, log, matrix, process_list

    rows = (
        "1.451439316146 -0.236510746894 -0.214928569252 -0.076553773396 1.176229699834 -0.099675926438 "
        "0.008316148426 -0.006032449791 0.997716301365"
    )
    found = read_clf(_write(tmp_path, process_list(matrix(rows), log("cameraLinToLog", CAMERA))))
    np.testing.assert_allclose(found(np.full((1, 3), 0.18)), 0.413588402492442, rtol=0, atol=1e-7)


# ASC CDL


SOP = "<SOPNode><Slope>{}</Slope><Offset>0.1 0 -0.1</Offset><Power>{}</Power></SOPNode>"
GOOD = SOP.format("1.2 1 0.8", "1 1.1 0.9")
SAT = "<SatNode><Saturation>0.85</Saturation></SatNode>"
WHOLE = Correction((1.2, 1.0, 0.8), (0.1, 0.0, -0.1), (1.0, 1.1, 0.9), 0.85, "a")
XMLNS = 'xmlns="urn:ASC:CDL:v1.01"'


def cc(body: str) -> str:
    return f'<ColorCorrection {XMLNS} id="a">{body}</ColorCorrection>'


def ccc(body: str) -> str:
    return f"<ColorCorrectionCollection {XMLNS}>{body}</ColorCorrectionCollection>"


def cdl(body: str) -> str:
    return f"<ColorDecisionList {XMLNS}>{body}</ColorDecisionList>"


UNSATURATED = Correction(WHOLE.slope, WHOLE.offset, WHOLE.power, 1.0, "a")
LEGAL_CDL = {
    "one correction": (".cc", cc(GOOD + SAT), WHOLE),
    "without namespace": (".cc", cc(GOOD + SAT).replace(XMLNS, ""), WHOLE),
    "old spelling SATNode": (".cc", cc(GOOD + SAT.replace("SatNode", "SATNode")), WHOLE),
    "no saturation": (".cc", cc(GOOD), UNSATURATED),
    "only saturation": (".cc", cc(SAT), Correction(saturation=0.85, id="a")),
    "collection": (".ccc", ccc(cc(GOOD + SAT)), WHOLE),
    "decision list": (".cdl", cdl(f"<ColorDecision>{cc(GOOD + SAT)}</ColorDecision>"), WHOLE),
}

REFERENCE = '<ColorDecision><ColorCorrectionRef ref="a"/></ColorDecision>'
ILLEGAL_CDL = {
    "negative slope": (".cc", cc(SOP.format("-1 1 1", "1 1 1")), "slope -1; expected 0 or more"),
    "power of zero": (".cc", cc(SOP.format("1 1 1", "1 0 1")), "power 0; expected above 0"),
    "two numbers": (".cc", cc(SOP.format("1 1", "1 1 1")), "Slope '1 1'; expected 3 finite numbers"),
    "a word": (".cc", cc(SOP.format("1 one 1", "1 1 1")), "Slope '1 one 1'"),
    "NaN": (".cc", cc(SOP.format("1 nan 1", "1 1 1")), "Slope '1 nan 1'"),
    "no offset": (".cc", cc(GOOD.replace("<Offset>0.1 0 -0.1</Offset>", "")), "SOPNode without <Offset>"),
    "negative saturation": (".cc", cc(SAT.replace("0.85", "-1")), "saturation -1; expected 0 or more"),
    "no ColorDecision": (".cdl", cdl(cc(GOOD)), "straight in the list; expected one within <ColorDecision>"),
    "reference": (".cdl", cdl(REFERENCE), "another file"),
    "empty collection": (".ccc", ccc(""), "holds no ColorCorrection"),
    "other root": (".cc", "<Grade/>", "its root is <Grade>"),
    "not XML": (".cc", "slope 1 1 1", "not well-formed XML"),
    "empty": (".cc", "", "the file is empty"),
}


STRICTER_CDL = {
    "SOP under another name": (
        ".cc",
        cc(GOOD.replace("SOPNode", "ASC_SOP") + SAT),
        "numbers in <ASC_SOP>; expected them in SOPNode and SatNode",
        "OpenColorIO passes over it, and leaves half of the correction out",
    ),
    "saturation under another name": (
        ".cc",
        cc(GOOD + SAT.replace("SatNode", "ASC_SAT")),
        "numbers in <ASC_SAT>; expected them in SOPNode and SatNode",
        "likewise",
    ),
}


@pytest.mark.parametrize("name", LEGAL_CDL)
def test_legal_cdl(name: str, tmp_path: Path) -> None:
    suffix, text, expected = LEGAL_CDL[name]
    path = _write(tmp_path, text, suffix)
    assert read_cdl(path) == (expected,)
    # OpenColorIO reads it too, and alike.
    import PyOpenColorIO as ocio

    ocio.ClearAllCaches()
    cpu = (
        ocio.Config.CreateRaw()
        .getProcessor(ocio.FileTransform(str(path)))
        .getOptimizedCPUProcessor(ocio.BIT_DEPTH_F32, ocio.BIT_DEPTH_F32, ocio.OPTIMIZATION_LOSSLESS)
    )
    pixels = PROBE.astype(np.float32)
    cpu.apply(ocio.PackedImageDesc(pixels, len(pixels), 1, 3))
    np.testing.assert_allclose(read_lut(path)(PROBE, "tetrahedral"), pixels, rtol=0, atol=5e-7)


@pytest.mark.parametrize("name", ILLEGAL_CDL)
def test_illegal_cdl_is_refused_on_one_line(name: str, tmp_path: Path) -> None:
    suffix, text, words = ILLEGAL_CDL[name]
    path = _write(tmp_path, text, suffix)
    with pytest.raises(LookwrightError) as caught:
        read_cdl(path)
    assert words in caught.value.line() and str(path) in caught.value.line()
    assert not _read_by_opencolorio(path)


@pytest.mark.parametrize("name", STRICTER_CDL)
def test_what_opencolorio_passes_over_in_a_cdl_is_refused(name: str, tmp_path: Path) -> None:
    suffix, text, words, _ = STRICTER_CDL[name]
    path = _write(tmp_path, text, suffix)
    with pytest.raises(LookwrightError) as caught:
        read_cdl(path)
    assert words in caught.value.line()
    assert _read_by_opencolorio(path)


def test_elements_of_a_programs_own_do_no_harm(tmp_path: Path) -> None:
    """As OpenColorIO's cdl_test1.ccc has them."""
    own = "<InputDescription>log</InputDescription><Approved by='x'><When>today</When></Approved>"
    assert read_cdl(_write(tmp_path, cc(own + GOOD + SAT), ".cc")) == (WHOLE,)


def test_the_page_of_verdicts_is_that_of_the_cases() -> None:
    """FOREIGN_FILES.md, which people read, says what is tested here and in test_cube_files.py."""
    import runpy

    from foreign_table import page

    cube = runpy.run_path(str(Path(__file__).with_name("test_cube_files.py")))
    made = page(
        cube["SHIPPED_3D"] + cube["SHIPPED_1D"], cube["MALFORMED"], LEGAL_CDL, ILLEGAL_CDL, STRICTER, STRICTER_CDL
    )
    assert Path(__file__).with_name("FOREIGN_FILES.md").read_text(encoding="utf-8") == made
