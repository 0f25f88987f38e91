"""Names that every system can hold; drive letters, shares and backslashes through what reads names."""

from __future__ import annotations

import ntpath
import sys
from pathlib import Path, PureWindowsPath
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[1] / "faults"))

from other_system import other_system
from writers import LOOK

from lookwright import memory, outputs, system
from lookwright.installed import how_to_get
from lookwright.jobs.deliver import plain_name
from lookwright.jobs.learn import _Targets
from lookwright.jobs.preview import preview
from lookwright.look.recipe.read import parse_look
from lookwright.names import MOST_BYTES, Names, portable, why_not
from lookwright.outputs import Output, OutputError, check_outputs
from lookwright.pictures.stills import write
from lookwright.pictures.stills.find import natural_key
from lookwright.pictures.stills.marks import Mark, marks_for, parse_mark

CASES = {
    "bench.01": "bench.01",
    "Werkstätte 木工": "Werkstätte 木工",
    ".hidden": ".hidden",
    "console": "console",
    "com10": "com10",
    "auxiliary.png": "auxiliary.png",
    "aux": "aux-",
    "Aux.take.png": "Aux-.take.png",
    "CON .png": "CON-.png",
    "lpt¹": "lpt¹-",
    "com0.txt": "com0-.txt",
    "take 3: the neck": "take 3- the neck",
    'a<b>c"d/e\\f|g?h*i': "a-b-c-d-e-f-g-h-i",
    "two\nlines": "two-lines",
    "night. .": "night",
    "...": "---",
}
"""The rules: Microsoft, "Naming Files, Paths, and Namespaces"."""


@pytest.mark.parametrize("name", CASES)
def test_made_portable(name: str) -> None:
    assert portable(name) == CASES[name]
    assert (why_not(name) == "") == (name == CASES[name])


@given(st.text(min_size=1, max_size=300))
@example("é" * 200)
@example("con" + "." * 300)
@example("a" * 254 + ". ")
def test_portable_once_is_portable(name: str) -> None:
    made = portable(name)
    assert made and portable(made) == made and why_not(made) == "" and len(made.encode("utf-8")) <= MOST_BYTES
    assert portable(name, 20) and len(portable(name, 20).encode("utf-8")) <= 21  # a device may take one more
    if why_not(name) == "":
        assert made == name


@pytest.mark.skipif(sys.platform != "linux", reason="the other system is made from this one")
@pytest.mark.parametrize("name", CASES)
def test_the_other_system_can_hold_them(tmp_path: Path, name: str) -> None:
    with other_system("names", root=tmp_path):
        (tmp_path / portable(name)).write_text("x")
    assert [p.name for p in tmp_path.iterdir()] == [portable(name)]


def test_names_of_many_outputs() -> None:
    names = Names()
    stems = ["take:1", "take?1", "Take-1", "x" * 250, "x" * 251, "plain"]
    made = [names.of(s, "-look.jpg") for s in stems]
    assert len({m.casefold() for m in made}) == 6 and all(portable(m) == m for m in made)
    assert made[:3] == ["take-1-look.jpg", "take-1-2-look.jpg", "Take-1-3-look.jpg"]
    assert made[5] == "plain-look.jpg"
    said = names.sentences()
    assert any(s.startswith("take:1: not every system can hold this name") for s in said)
    assert any(s.startswith("Take-1: another has this name, but perhaps for its case") for s in said)
    assert not any("plain" in s for s in said)


def test_stills_of_strange_names_are_graded_and_it_is_said(tmp_path: Path) -> None:
    stills = tmp_path / "stills"
    stills.mkdir()
    picture = np.full((9, 16, 3), 0.4, np.float32)
    for name in ("bench.png", "BENCH.png", "aux.1.png", "take 3: neck.png", "C:\\cut\\a.png"):
        write(stills / name, picture)
    (tmp_path / "look.toml").write_text(LOOK, encoding="utf-8")
    made = preview(tmp_path / "look.toml", [stills], tmp_path / "out", size=5)
    assert {p.name.casefold() for p in made.written} == {
        "c--cut-a-look.jpg",
        "aux-.1-look.jpg",
        "bench-2-look.jpg",
        "bench-look.jpg",
        "take 3- neck-look.jpg",
    }
    assert len(made.names) == 4 and all(len(line.splitlines()) == 1 for line in made.names)


def test_a_delivery_named_after_a_device() -> None:
    assert plain_name("nul") == "nul-" and plain_name("con.night") == "con-.night" and plain_name("night") == "night"


REFUSED = {
    r"C:\cut\aux.cube": "'aux.cube': it is the name of a device, AUX; call it 'aux-.cube'",
    r"C:\cut\look.cube:1": "'look.cube:1': it has ':' in it; call it 'look.cube-1'",
    r"\\nas\looks\night?.cube": "has '?' in it",
    r"D:\cut. \look.cube": "'cut. ': it ends with a space; call it 'cut'",
    r"nul": "the name of a device, NUL",
}


@pytest.mark.parametrize("name", REFUSED)
def test_refused_before_work_where_it_cannot_be(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(system, "WINDOWS", True)
    with pytest.raises(OutputError) as fault:
        check_outputs([], [Output(PureWindowsPath(name), "cube")])  # type: ignore[arg-type]
    assert REFUSED[name] in str(fault.value)


@pytest.mark.parametrize("name", [r"C:\cut\look.cube", r"\\nas\looks\look.cube", r"..\look.cube", r"C:look.cube"])
def test_what_windows_can_hold_is_not_refused(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(system, "WINDOWS", True)
    outputs._check_name(PureWindowsPath(name))  # type: ignore[arg-type]


def test_elsewhere_it_is_said(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    from lookwright.app.cli import main

    (tmp_path / "look.toml").write_text(LOOK, encoding="utf-8")
    for quiet, said in (([], True), (["--quiet"], False)):
        with pytest.raises(SystemExit):
            main(["bake", str(tmp_path / "look.toml"), "--size", "5", "--out", str(tmp_path / "day: 2.cube"), *quiet])
        err = capfd.readouterr().err
        assert ("names: day: 2.cube: Windows cannot hold this, it has ':' in it; 'day- 2.cube'" in err) == said
    assert (tmp_path / "day: 2.cube").exists(), "the name that was asked for is kept"


@pytest.mark.parametrize("words", [["new", "NAME"], ["show", "LOOK", "--curves", "NAME"]])
def test_said_of_every_output(words: list[str], tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    from lookwright.app.cli import main

    (tmp_path / "look.toml").write_text(LOOK, encoding="utf-8")
    named = {"NAME": str(tmp_path / "aux.svg"), "LOOK": str(tmp_path / "look.toml")}
    with pytest.raises(SystemExit):
        main([named.get(w, w) for w in words])
    assert (
        "names: aux.svg: Windows cannot hold this, it is the name of a device, AUX; 'aux-.svg'"
        in capfd.readouterr().err
    )


# Names as Windows writes them, through what takes them apart.


@pytest.mark.parametrize(
    "path",
    [r"C:\cut\close_acescct.png", r"\\nas\share\close_acescct.png", r"\\?\C:\cut\close_acescct.png", "D:close_a.png"],
)
def test_marks_of_a_still(path: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("lookwright.pictures.stills.marks.Path", PureWindowsPath)
    mark = Mark("wall", (0.1, 0.1, 0.2, 0.2))
    assert marks_for({"close": [mark], "cut": []}, path) == [mark]


def test_a_mark_whose_name_has_a_backslash() -> None:
    assert parse_mark(r"C:\wall=0.1,0.1,0.2,0.2").name == r"C:\wall"


def test_stills_in_their_natural_order() -> None:
    names = [r"C:\cut\shot 10.png", r"C:\cut\Shot 9.png", r"\\nas\cut\shot 1.png"]
    ordered = sorted(map(PureWindowsPath, names), key=natural_key)  # type: ignore[arg-type]
    assert ordered.index(PureWindowsPath(names[1])) < ordered.index(PureWindowsPath(names[0]))


def test_what_is_learnt_lies_beside_its_look() -> None:
    targets = _Targets.beside(PureWindowsPath(r"\\nas\looks\taught.toml"))  # type: ignore[arg-type]
    assert str(targets.cube) == r"\\nas\looks\taught.cube"


def test_output_names_from_windows_paths() -> None:
    stem = PureWindowsPath(r"C:\cut\day 2\close.png").stem
    assert Names().of(stem, "-look.jpg") == "close-look.jpg"
    assert ntpath.splitdrive(portable(r"C:\cut"))[0] == ""


@pytest.mark.parametrize("file", [r'"C:\Users\cut\bought.cube"', r'"luts\bought.cube"', r"'luts\bought.cube'"])
def test_a_backslash_in_a_look_gets_its_hint(file: str) -> None:
    signals = '[step.input]\nencoding = "ACEScct"\n[step.output]\nencoding = "ACEScct"\n'
    step = f'[[step]]\nkind = "lut"\nfile = {file}\n{signals}[[step]]'
    from lookwright.errors import RecipeError
    from lookwright.look.recipe.pipeline import compile_look

    with pytest.raises(RecipeError, match="write / between folders; Windows takes it too"):
        compile_look(parse_look(LOOK.replace("[[step]]", step, 1)))


@pytest.mark.parametrize("end", ["\r\n", "\n"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_looks_as_editors_there_save_them(tmp_path: Path, end: str, mark: str) -> None:
    from lookwright.look.recipe.read import read_look

    (tmp_path / "look.toml").write_bytes((mark + LOOK).replace("\n", end).encode("utf-8"))
    assert read_look(tmp_path / "look.toml").steps == parse_look(LOOK).steps


def test_hints_in_the_words_of_the_system(monkeypatch: pytest.MonkeyPatch) -> None:
    assert "'" in how_to_get("clips") and '"' not in how_to_get("clips")
    monkeypatch.setattr(system, "WINDOWS", True)
    assert '"' in how_to_get("clips") and "'." not in how_to_get("clips")


def test_memory_as_windows_tells_it(monkeypatch: pytest.MonkeyPatch) -> None:
    import ctypes

    class Kernel:
        def GlobalMemoryStatusEx(self, told: Any) -> int:
            assert len(told) == 64 and int.from_bytes(told.raw[:4], "little") == 64
            told[16:24] = list(map(lambda b: bytes([b]), (3 << 30).to_bytes(8, "little")))
            return 1

    monkeypatch.setattr(ctypes, "windll", type("Dlls", (), {"kernel32": Kernel()}), raising=False)
    assert memory._of_windows() == 3 << 30
    monkeypatch.setattr(ctypes, "windll", type("Dlls", (), {}))
    assert memory._of_windows() is None
