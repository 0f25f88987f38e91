"""What a command may write over: one rule, by identity, asked before any work."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest

from lookwright.errors import OutputError
from lookwright.outputs import Kind, Output, check_outputs, kind_of
from lookwright.pictures.stills import write

ROOT = Path(__file__).parents[2]


def refused(inputs: list[Path], outputs: list[Output], *words: str) -> None:
    with pytest.raises(OutputError) as caught:
        check_outputs(inputs, outputs)
    line = str(caught.value)
    assert "\n" not in line
    for word in (str(outputs[-1].path), *words):
        assert word in line, line


@pytest.fixture
def still(tmp_path: Path) -> Path:
    return write(tmp_path / "still.png", np.full((4, 4, 3), 0.5, np.float32))


def test_an_output_is_no_input(tmp_path: Path, still: Path) -> None:
    check_outputs([still], [Output(tmp_path / "new.png", "picture")])
    refused([still], [Output(still, "picture")], "is also read by this command, and would be written over")
    refused([still], [Output(tmp_path / "." / "still.png", "picture")], "is also read by this command")


@pytest.mark.parametrize("how", ["symbolic link", "hard link", "linked folder", "input is the link"])
def test_links_are_seen_through(how: str, tmp_path: Path, still: Path) -> None:
    other = tmp_path / "other.png"
    source = still
    if how == "symbolic link":
        other.symlink_to(still)
    elif how == "hard link":
        os.link(still, other)
    elif how == "linked folder":
        (tmp_path / "linked").symlink_to(tmp_path)
        other = tmp_path / "linked" / "still.png"
    else:
        other.symlink_to(still)
        source, other = other, still
    refused([source], [Output(other, "picture")], "which is also read", "would be written over")


def test_what_a_command_is_there_to_replace(tmp_path: Path) -> None:
    """``tune LOOK --out LOOK`` is meant; the marks of the same command are not."""
    look = tmp_path / "a.toml"
    look.write_text((ROOT / "looks" / "overcast.toml").read_text())
    check_outputs([look], [Output(look, "look", instead_of=look)])
    marks = tmp_path / "marks.toml"
    marks.write_text('[a."b"]\nbox = [0, 0, 1, 1]\n')
    refused([look, marks], [Output(marks, "look", instead_of=look)], "is also read")


def test_an_output_is_no_other_output(tmp_path: Path) -> None:
    one, other = tmp_path / "n.png", tmp_path / "m.png"
    check_outputs([], [Output(one, "picture"), Output(other, "picture")])
    refused([], [Output(one, "look"), Output(one, "picture")], "is written twice by this command")
    refused([], [Output(one, "look"), Output(tmp_path / "N.PNG", "picture")], "is written twice")
    refused([], [Output(tmp_path / "caf\u00e9", "look"), Output(tmp_path / "cafe\u0301", "look")], "is written twice")
    (tmp_path / "linked").symlink_to(tmp_path)
    refused([], [Output(one, "picture"), Output(tmp_path / "linked" / "n.png", "picture")], "is written twice")


def test_stills_and_their_grades_in_one_folder(tmp_path: Path, still: Path) -> None:
    """``a-look.png`` is a still, and what ``a.png`` would become."""
    own = write(tmp_path / "still-look.png", np.full((4, 4, 3), 0.2, np.float32))
    produced = [Output(tmp_path / f"{p.stem}-look.png", "picture") for p in (still, own)]
    with pytest.raises(OutputError, match=r"still-look\.png: is also read by this command"):
        check_outputs([still, own], produced)


@pytest.mark.parametrize("kind", ["look", "page", "drawing", "cube", "clip", "json"])
def test_a_file_of_another_kind_stays(kind: Kind, tmp_path: Path) -> None:
    from PIL import Image

    photo = tmp_path / "photo.png"
    Image.new("RGB", (4, 4)).save(photo)
    refused([], [Output(photo, kind)], "is a picture that lookwright did not write", "choose another name")
    notes = tmp_path / "notes.txt"
    notes.write_text("Buy hide glue. Look at lookwright again.\n")
    refused([], [Output(notes, kind)], "is a file of another kind that lookwright did not write")
    check_outputs([], [Output(photo, "picture")])


@pytest.mark.parametrize(("name", "kind"), [("a.cube", "cube"), ("a.toml", "look"), ("a.png", "drawing")])
def test_what_content_does_not_tell_the_name_does(name: str, kind: Kind, tmp_path: Path) -> None:
    """Half a result of earlier may be made again; under another name it is a file that nobody knows."""
    (tmp_path / name).write_text("earl")
    check_outputs([], [Output(tmp_path / name, kind)])
    refused([], [Output(tmp_path / name, "page")], "is a file of another kind that lookwright did not write")
    (tmp_path / name).write_text('{"a": 1}')
    refused([], [Output(tmp_path / name, kind)], "is a JSON file that lookwright did not write")


def test_what_lookwright_wrote_may_be_replaced(tmp_path: Path, still: Path) -> None:
    check_outputs([], [Output(still, "page")])
    (tmp_path / "empty").write_bytes(b"")
    check_outputs([], [Output(tmp_path / "empty", "look")])


def test_what_is_no_file(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    refused([], [Output(tmp_path / "pipe", "look")], "this is a pipe or device")
    refused([], [Output(Path("/dev/null"), "look")], "this is a pipe or device")
    refused([], [Output(tmp_path, "look")], "this is a folder")


def test_kinds_are_told_by_content(tmp_path: Path, still: Path) -> None:
    """Files of our own, and plain ones of others."""
    from lookwright.look.baking.bake import baked
    from lookwright.look.recipe.pipeline import compile_look
    from lookwright.look.recipe.read import read_look, read_text
    from lookwright.lut.formats.cdl import Correction, write_cdl
    from lookwright.lut.formats.clf import write_clf
    from lookwright.lut.formats.cube import write_cube
    from lookwright.present.sheets.look_curves import write_look_curves

    path = ROOT / "looks" / "overcast.toml"
    look = read_look(path)
    lattice = baked(compile_look(look), read_text(path), 5)
    made: dict[Kind, Path] = {"look": path, "picture": still, "marks": ROOT / "sample_images" / "marks.toml"}
    made["cube"] = tmp_path / "a.cube"
    write_cube(made["cube"], lattice)
    made["clf"] = tmp_path / "a.clf"
    write_clf(made["clf"], lattice, identity="a")
    made["cdl"] = tmp_path / "a.cc"
    write_cdl(made["cdl"], [Correction((1, 1, 1), (0, 0, 0), (1, 1, 1), 1.0, "a")])
    made["drawing"] = tmp_path / "a.svg"
    write_look_curves(made["drawing"], look)
    for kind, file in made.items():
        assert kind_of(file)[0] == kind, kind
    assert kind_of(made["cube"])[1] and kind_of(still)[1]
    others: dict[str, Kind] = {
        "LUT_3D_SIZE 2\n": "cube",
        "<!doctype html><p>": "page",
        '{"a": 1}': "json",
        "a,b,c\n": "text",
        "\0\0\0\x20ftypisom": "clip",
        "\x1aE\xdf\xa3": "clip",
    }
    for text, kind in others.items():
        other = tmp_path / "other"
        other.write_bytes(text.encode("latin-1"))
        assert kind_of(other) == (kind, False), text
    assert kind_of(tmp_path / "none") == (None, False)
