"""What a series is handed on as, read by the libraries that others would use: OpenTimelineIO, OpenColorIO, FFmpeg."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import PyOpenColorIO as ocio
import pytest

otio = pytest.importorskip("opentimelineio")
pytest.importorskip("imageio_ffmpeg")

from series_forms import corrections, edl, through_ffmpeg  # noqa: E402

from lookwright.colour.spaces.camera_curves import LogCurve  # noqa: E402
from lookwright.colour.spaces.encodings import CURATED  # noqa: E402
from lookwright.colour.spaces.primaries import matrix  # noqa: E402
from lookwright.colour.spaces.signal import Signal  # noqa: E402
from lookwright.jobs.given import SignalName  # noqa: E402
from lookwright.jobs.looks import load_look  # noqa: E402
from lookwright.jobs.series_files import Handed, HandedOn, write_shots, write_timeline  # noqa: E402
from lookwright.look.baking.viewing import View  # noqa: E402
from lookwright.look.recipe.pipeline import compile_look  # noqa: E402
from lookwright.lut.formats.cdl import Correction  # noqa: E402
from lookwright.lut.formats.cube import read_cube  # noqa: E402
from lookwright.lut.formats.ocio_transforms import decoding  # noqa: E402
from lookwright.lut.lattices.interpolate import lookup  # noqa: E402
from lookwright.lut.lattices.lattice import grid  # noqa: E402
from lookwright.lut.lattices.samples import spread  # noqa: E402

LOOK = Path(__file__).parents[2] / "looks" / "night-workshop.toml"
SHOTS = corrections(40)
SIZE = 9


@pytest.fixture(scope="module", params=["ACEScct", "S-Log3"])
def source(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture(scope="module")
def handed(source: str, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, HandedOn, object]:
    out = tmp_path_factory.mktemp("series")
    look, text = load_look(LOOK, source=SignalName(source))
    done = write_shots(out, look, text, View(look), SHOTS[:4], Handed(True, True, SIZE))
    return out, done, compile_look(look)


def same(values: object, correction: Correction) -> bool:
    sop = values["asc_sop"]  # type: ignore[index]
    numbers = [*sop["slope"], *sop["offset"], *sop["power"], values["asc_sat"]]  # type: ignore[index]
    own = [*correction.slope, *correction.offset, *correction.power, correction.saturation]
    return bool(np.allclose(numbers, own, rtol=0, atol=1e-9))


def test_forty_shots_of_an_edl_out_and_in(tmp_path: Path) -> None:
    text = edl([c.id for c in SHOTS])
    (tmp_path / "ep1.edl").write_bytes(text.encode())
    out = tmp_path / "out"
    out.mkdir()
    done = write_timeline(out, tmp_path / "ep1.edl", dict(enumerate(SHOTS)))
    assert [f.name for f in done.files] == ["ep1.edl", "ep1.otio"] and done.notes == []
    written = (out / "ep1.edl").read_bytes().decode()
    kept = [line for line in written.splitlines(keepends=True) if not line.startswith("* ASC_S")]
    assert "".join(kept) == text and written.count("* ASC_SOP") == written.count("* ASC_SAT") == 40
    for path, adapter in ((out / "ep1.edl", "cmx_3600"), (out / "ep1.otio", "otio_json")):
        timeline = otio.adapters.read_from_file(str(path), adapter)
        found = [(c.name, c.metadata["cdl"]) for c in timeline.find_clips() if "cdl" in c.metadata]
        assert [name for name, _ in found] == [c.id for c in SHOTS]
        assert all(same(values, c) for (_, values), c in zip(found, SHOTS, strict=True))


def test_an_otio_keeps_everything_else(tmp_path: Path) -> None:
    timeline = otio.adapters.read_from_string(edl([c.id for c in SHOTS]), "cmx_3600")
    first = timeline.find_clips()[0]
    first.metadata["workshop"] = {"note": "keep me", "n": 3}
    first.markers.append(otio.schema.Marker("look here"))
    path = tmp_path / "ep1.otio"
    otio.adapters.write_to_file(timeline, str(path))
    out = tmp_path / "out"
    out.mkdir()
    write_timeline(out, path, dict(enumerate(SHOTS)))
    again = otio.adapters.read_from_file(str(out / "ep1.otio"))
    found = [c.metadata["cdl"] for c in again.find_clips() if "cdl" in c.metadata]
    assert len(found) == 40 and all(same(v, c) for v, c in zip(found, SHOTS, strict=True))
    for clip in again.find_clips():
        clip.metadata.pop("cdl", None)
    assert again.is_equivalent_to(timeline)


def test_what_the_library_cannot_read_is_said(tmp_path: Path) -> None:
    """A dissolve that stands alone: the list itself is right, and no .otio is made of what would be wrong."""
    text = "001  A  V  D  012 00:00:00:00 00:00:02:00 01:00:00:00 01:00:02:00\n* FROM CLIP NAME: bench\n"
    (tmp_path / "ep1.edl").write_text(text)
    out = tmp_path / "out"
    out.mkdir()
    done = write_timeline(out, tmp_path / "ep1.edl", {0: SHOTS[0]})
    assert (out / "ep1.edl").read_text().startswith(text) and "* ASC_SOP" in (out / "ep1.edl").read_text()
    assert [f.name for f in done.files] == ["ep1.edl"] and "no .otio was made of it" in done.notes[0]


WITH_A_STEP = {"F-Log", "D-Log", "L-Log"}
"""Their line and logarithm do not meet in their documents: a table stands for them."""


@pytest.mark.parametrize(
    "name", [n for n, e in CURATED.items() if isinstance(getattr(e.decode, "__self__", None), LogCurve)]
)
def test_a_camera_curve_in_a_configuration(name: str, tmp_path: Path) -> None:
    """OpenColorIO's light, brought back to codes by ours, is the codes: to the rounding of 32 bits, without a table."""
    signal = Signal.named(name)
    steps = decoding(signal, tmp_path)
    assert any(tmp_path.iterdir()) == (name in WITH_A_STEP)
    if name in WITH_A_STEP:
        return
    processor = ocio.Config.CreateRaw().getProcessor(ocio.GroupTransform(transforms=steps))
    exact = processor.getOptimizedCPUProcessor(ocio.BIT_DEPTH_F32, ocio.BIT_DEPTH_F32, ocio.OPTIMIZATION_LOSSLESS)
    codes = np.repeat(np.linspace(0.0, 1.0, 4097)[:, None], 3, axis=1)
    light = codes.astype(np.float32)
    exact.apply(ocio.PackedImageDesc(light, len(light), 1, 3))
    back = signal.encoding.encode(light.astype(np.float64) @ np.linalg.inv(matrix(signal.primaries.name, "ACEScg")).T)
    # Each of some four roundings to 32 bits of light that is up to 500 times grey, by the slope of the curve there.
    assert np.abs(back - codes).max() < 4e-6


def test_cdl_files(handed: tuple[Path, HandedOn, object]) -> None:
    out, _, _ = handed
    for c in SHOTS[:4]:
        found = ocio.CDLTransform.CreateFromFile(str(out / "cdl" / f"{c.id}.cdl"), c.id)
        assert (found.getSlope(), found.getOffset(), found.getPower()) == (
            list(c.slope),
            list(c.offset),
            list(c.power),
        )
        assert found.getSat() == c.saturation


def test_the_cube_of_a_shot(handed: tuple[Path, HandedOn, object]) -> None:
    """On its own points it is CDL, then look; between them FFmpeg and OpenColorIO read one and the same lattice."""
    out, done, pipeline = handed
    points = spread(4096, 3, 5)
    for c in SHOTS[:4]:
        path = done.cubes[c.id]
        assert path == out / "cube" / f"{c.id}.cube"
        cube = read_cube(path)
        assert f"Shot: {c.id}" in cube.comments and cube.title.startswith(c.id)
        exact = np.asarray(pipeline.run(c(grid(SIZE).reshape(-1, 3))))  # type: ignore[attr-defined]
        assert np.abs(cube.lattice.table.reshape(-1, 3) - exact).max() < 6e-7, "six decimals"
        ours = lookup(cube.lattice, points)
        transform = ocio.FileTransform(str(path), interpolation=ocio.INTERP_TETRAHEDRAL)
        processor = ocio.Config.CreateRaw().getProcessor(transform).getDefaultCPUProcessor()
        theirs = points.astype(np.float32).copy()
        processor.apply(ocio.PackedImageDesc(theirs, len(theirs), 1, 3))
        assert np.abs(theirs - ours).max() < 2e-6
        assert np.abs(through_ffmpeg(path, points) - ours).max() < 2e-6


def test_the_configuration(handed: tuple[Path, HandedOn, object]) -> None:
    """As a host asks: the view, the shot in the context; against the numbers of .ccc and lattice."""
    out, _, pipeline = handed
    config = ocio.Config.CreateFromFile(str(out / "ocio" / "config.ocio"))
    config.validate()
    display = config.getDefaultDisplay()
    view = config.getDefaultView(display)
    names = {v: config.getDisplayViewLooks(display, v) for v in config.getViews(display)}
    assert names[view] == "Shot match" and names[f"{view} as shot"] == ""
    from lookwright.lut.lattices.lattice import sample

    lattice = sample(pipeline.run, SIZE)  # type: ignore[attr-defined]
    points = spread(4096, 3, 5)
    source = config.getRoleColorSpace("compositing_log")
    assert dict(config.getEnvironmentVarNames() and [("SHOT", config.getEnvironmentVarDefault("SHOT"))]) == {
        "SHOT": SHOTS[0].id
    }
    for c in SHOTS[:4]:
        context = ocio.Context(
            config.getWorkingDir(), [config.getSearchPath()], {"SHOT": c.id}, ocio.ENV_ENVIRONMENT_LOAD_PREDEFINED
        )
        processor = config.getProcessor(
            context, ocio.DisplayViewTransform(source, display, view), ocio.TRANSFORM_DIR_FORWARD
        )
        wanted = lookup(lattice, c(points))
        exact = processor.getOptimizedCPUProcessor(ocio.BIT_DEPTH_F32, ocio.BIT_DEPTH_F32, ocio.OPTIMIZATION_LOSSLESS)
        # The second with the fast powers that hosts use by default: 1.3e-5 in the CDL, times the slope of the lattice.
        for how, most in ((exact, 1e-5), (processor.getDefaultCPUProcessor(), 1e-3)):
            found = points.astype(np.float32).copy()
            how.apply(ocio.PackedImageDesc(found, len(found), 1, 3))
            assert np.abs(found - wanted).max() < most
        as_shot = config.getProcessor(
            ocio.DisplayViewTransform(source, display, f"{view} as shot")
        ).getDefaultCPUProcessor()
        found = points.astype(np.float32).copy()
        as_shot.apply(ocio.PackedImageDesc(found, len(found), 1, 3))
        assert np.abs(found - lookup(lattice, points)).max() < 1e-4
