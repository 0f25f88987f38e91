"""A look for another camera: its text with another source, and how far the LUTs of two cameras agree."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from lookwright.assess.restraint.subject import subject_of_look
from lookwright.colour.spaces.signal import Signal
from lookwright.errors import NameLookupError
from lookwright.jobs.check import check_on_stills
from lookwright.jobs.given import SignalName
from lookwright.jobs.looks import load_look
from lookwright.jobs.names import camera_name
from lookwright.jobs.progress import SILENT
from lookwright.look.recipe.model import SignalText
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.read import parse_look
from lookwright.look.recipe.variants import with_signal
from lookwright.lut.fit.appearance import lab_of
from lookwright.lut.fit.prior import natural
from lookwright.lut.lattices.samples import spread
from lookwright.pictures.stills import Still, write
from lookwright.present.delivery.cameras import Camera, agreements, recoded, shared_colours

LOOK = """\
# remark at the top
title = "Glue pot"

[source]  # of the first camera
encoding = "S-Log3"  # as recorded
primaries = "S-Gamut3"
range = "legal"

[output]
encoding = "BT.1886"

[[step]]
kind = "saturation"
amount = 1.2  # lively

[[step]]
kind = "render"
"""
INLINE = 'source = {encoding = "S-Log3", primaries = "S-Gamut3"}\noutput = {encoding = "BT.1886"}\n'
SLOG, LOGC = Signal.named("S-Log3"), Signal.named("LogC4")


@pytest.mark.parametrize("text", [LOOK, INLINE])
@pytest.mark.parametrize("wanted", [SignalName("V-Log"), SignalName("S-Log3", "S-Gamut3"), SignalName("T-Log", "AP0")])
def test_a_source_takes_the_place_of_the_looks_own(tmp_path: Path, text: str, wanted: SignalName) -> None:
    (tmp_path / "a.toml").write_text(text, encoding="utf-8")
    look, new = load_look(tmp_path / "a.toml", source=wanted)
    signal = Signal.named(wanted.encoding, wanted.primaries, wanted.range)
    assert look.source.signal() == signal and look.folder == tmp_path
    assert parse_look(new).source.signal() == signal, "the text says it too: LUTs carry it"
    assert parse_look(new).steps == look.steps
    if text is LOOK:
        remarks = ("# remark at the top", "# of the first camera", "# as recorded", "# lively")
        assert all(remark in new for remark in remarks) and "legal" not in new


def test_the_own_source_named_again_changes_nothing(tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_text(LOOK, encoding="utf-8")
    assert load_look(tmp_path / "a.toml", source=SignalName("slog3", "sgamut3", "legal"))[1] == LOOK
    with pytest.raises(NameLookupError, match="FilmLight E-Gamut"):
        load_look(tmp_path / "a.toml", source=SignalName("T-Log"))


def test_another_output() -> None:
    changed = with_signal(parse_look(LOOK), LOOK, "output", Signal.named("BT.2100 PQ", "P3-D65"))
    assert changed.look.output.signal().describe() == "BT.2100 PQ, P3-D65 primaries, full range"
    assert parse_look(changed.text) == changed.look


@pytest.mark.parametrize(
    ("signal", "name"),
    [
        (SLOG, "S-Log3"),
        (Signal.named("S-Log3", "S-Gamut3"), "S-Log3-S-Gamut3"),
        (Signal.named("C-Log3", None, "legal"), "Canon-Log-3-legal"),
    ],
)
def test_what_a_camera_is_called_in_files(signal: Signal, name: str) -> None:
    assert camera_name(signal) == name


def _cameras(*shifts: float) -> list[Camera]:
    """The exact look behind each camera, its light moved by some stops in between."""
    cameras = []
    for signal, stops in zip((SLOG, LOGC), shifts, strict=True):
        look = with_signal(parse_look(LOOK), LOOK, "source", signal).look
        moved = parse_look(f'{INLINE}[[step]]\nkind = "exposure"\nstops = {stops}\n').steps
        exact = compile_look(look.model_copy(update={"steps": (*moved, *look.steps)}))
        cameras.append(Camera(camera_name(signal), signal, exact))
    return cameras


def test_exact_looks_agree_to_rounding() -> None:
    """The same scene colours through the same look: cameras differ by their lattices only, and here there are none."""
    (found,) = agreements(_cameras(0.0, 0.0), lab_of(Signal.named("BT.1886")))
    assert found.colours > 15_000 and found.worst < 1e-3
    assert found.words().startswith("S-Log3 and LogC4: the same scene colours differ by CIEDE2000 0.00")


def test_a_camera_that_is_off_is_told() -> None:
    """A third of a stop moves the greys by some three units (L* of the plain rendering); nothing else is moved."""
    (found,) = agreements(_cameras(0.0, 1 / 3), lab_of(Signal.named("BT.1886")))
    assert 1.5 < found.mean < 5.0 < found.worst + 1.0
    assert found.mean < found.p99 <= found.worst
    assert found.to_dict()["cameras"] == ["S-Log3", "LogC4"]


def test_shared_colours_are_carried_by_both() -> None:
    scene = shared_colours(SLOG, LOGC, 2000)
    for signal in (SLOG, LOGC):
        codes = signal.from_scene(scene)
        assert codes.min() >= -1e-9 and codes.max() <= 1.0 + 1e-9
    weight = natural(SLOG)
    assert len(scene) > 3000
    even = np.median(weight(spread(3000, 3, 0)))
    assert np.median(weight(SLOG.from_scene(scene))) > 10.0 * even, "natural, not any"


def test_a_still_is_coded_anew_for_the_other_camera() -> None:
    scene = np.array([[[0.18, 0.18, 0.18], [0.4, 0.2, 0.1]]])
    still = SLOG.from_scene(scene).astype(np.float32)
    assert recoded(still, SLOG, SLOG) is still
    there = recoded(still, SLOG, LOGC)
    assert there.dtype == np.float32 and there.shape == still.shape
    np.testing.assert_allclose(LOGC.to_scene(there), scene, atol=1e-5)
    assert recoded(np.full((1, 3), 2.0), SLOG, LOGC).max() == 1.0


def test_the_bench_begins_with_the_source_unsaved(tmp_path: Path) -> None:
    """Undo brings the look's own back; the file is as it was until it is saved."""
    from lookwright.app.bench.bench import Bench, Given
    from lookwright.pictures.stills import write

    (tmp_path / "a.toml").write_text(LOOK, encoding="utf-8")
    write(tmp_path / "a.png", np.full((9, 16, 3), 0.4, np.float32))
    bench = Bench(Given.of(tmp_path / "a.toml", [tmp_path / "a.png"], source=SignalName("C-Log3")))
    try:
        assert bench.session.look.source.encoding == "Canon Log 3" and bench.session.dirty
        assert "# lively" in bench.session.text
        bench.session.undo()
        assert bench.session.text == LOOK and not bench.session.dirty
    finally:
        bench.close()
    assert (tmp_path / "a.toml").read_text(encoding="utf-8") == LOOK


def test_doubts_are_about_the_still_as_it_was_read(tmp_path: Path) -> None:
    """A still coded anew for another camera keeps its name, which tells of the first."""
    path = tmp_path / "bench_slog3.png"
    write(path, recoded(spread(64 * 64, 3, 1).reshape(64, 64, 3).astype(np.float32), LOGC, SLOG))
    asked = []

    def anew(still: Still) -> Still:
        asked.append(still.path.name)
        return replace(still, pixels=recoded(still.pixels, SLOG, LOGC))

    look = parse_look(LOOK)
    subject = subject_of_look(look.model_copy(update={"source": SignalText(encoding="LogC4")}))
    report = check_on_stills(subject, [path], None, None, SILENT, SLOG, anew)
    assert asked == [path.name]
    assert not any("its name says" in words for told in report.doubts.values() for words in told)
    assert any(
        "its name says" in words
        for told in check_on_stills(subject, [path], None, None, SILENT).doubts.values()
        for words in told
    )
