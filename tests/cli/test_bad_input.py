"""Whatever is wrong: one clear line, exit code 2, no traceback, nothing left behind, earlier files whole."""

from __future__ import annotations

import errno
import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from lookwright.names import portable
from lookwright.pictures.stills import write

EARLIER = "# an earlier result, by lookwright\n"
"""Of our own making, or no command would put another file in its place."""

HEAD = '[source]\nencoding = "ACEScct"\n[output]\nencoding = "BT.1886"\n'
RENDER = '[[step]]\nkind = "render"\n'
TAIL = RENDER + '[[step]]\nkind = "gamut"\n'
LUT_STEP = (
    '[[step]]\nkind = "lut"\nfile = "given.cube"\ninput = {encoding = "ACEScct"}\noutput = {encoding = "ACEScct"}\n'
)


def tree(folder: Path) -> dict[str, bytes | None]:
    """Every file below with its bytes, every folder with None, hidden ones included."""
    return {
        str(p.relative_to(folder)): None if p.is_dir() else p.read_bytes()
        for p in sorted(folder.rglob("*"))
        if not p.is_fifo()
    }


def one_line(said: Any, *words: str) -> str:
    """The only line on stderr, which has every one of ``words``."""
    assert said.code == 2, said
    assert said.out == ""
    assert said.err.endswith("\n") and said.err.count("\n") == 1, said.err
    assert said.err.startswith("lookwright: ")
    assert "Traceback" not in said.err and "\x1b" not in said.err
    assert all(c.isprintable() for c in said.err[:-1])
    for word in words:
        assert word in said.err, said.err
    return str(said.err)


@pytest.fixture
def work(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, crop: np.ndarray) -> Path:
    """A folder to work in, with a good look, a good still and an earlier result."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "good.toml").write_text(HEAD + TAIL, encoding="utf-8")
    (tmp_path / "good.cube").write_text(EARLIER, encoding="utf-8")
    (tmp_path / "occupied").write_text("a file\n", encoding="utf-8")
    write(tmp_path / "good.png", crop)
    return tmp_path


@pytest.fixture
def fails(work: Path, lookwright: Any) -> Callable[..., str]:
    """Run, and hold all of the promise: one line with these words, and the folder as it was to the byte."""

    def run(arguments: list[object], *words: str) -> str:
        before = tree(work)
        line = one_line(lookwright(*arguments), *words)
        assert tree(work) == before
        return line

    return run


# ---------------------------------------------------------------- looks

LOOKS: dict[str, tuple[str, tuple[str, ...]]] = {
    "unknown step": (
        HEAD + '[[step]]\nkind = "contrst"\n' + TAIL,
        ("line 6", "step 1", "'contrst'", "did you mean 'contrast'?"),
    ),
    "misspelt parameter": (
        HEAD + '[[step]]\nkind = "contrast"\npivto = 0.2\n' + TAIL,
        ("line 7", "'contrast'", "'pivto'", "did you mean 'pivot'"),
    ),
    "misspelt key": ('titel = "x"\n' + HEAD + TAIL, ("line 1", "'titel'", "did you mean 'title'")),
    "out of bounds": (
        HEAD + '[[step]]\nkind = "exposure"\nstops = 99\n' + TAIL,
        ("line 7", "'exposure'", "stops", "99", "out of bounds", "-8 to 8 stops"),
    ),
    "out of bounds with another unit": (
        HEAD + '[[step]]\nkind = "balance"\nmired = -500\n' + TAIL,
        ("line 7", "mired", "-500", "-100 to 200 mired"),
    ),
    "not a number": (
        HEAD + '[[step]]\nkind = "exposure"\nstops = nan\n' + TAIL,
        ("line 7", "stops", "nan", "-8 to 8 stops"),
    ),
    "text for a number": (
        HEAD + '[[step]]\nkind = "exposure"\nstops = "one"\n' + TAIL,
        ("line 7", "stops", "'one'", "a number, -8 to 8 stops"),
    ),
    "wrong order": (
        HEAD + RENDER + '[[step]]\nkind = "contrast"\nslope = 1.1\n',
        ("step 2 'contrast'", "needs scene light", "step 1 'render'", "move it before"),
    ),
    "no rendering": (HEAD, ("BT.1886", "display light", "'render' or 'print'")),
    "gamut before the rendering": (
        HEAD + '[[step]]\nkind = "gamut"\n' + RENDER,
        ("step 1 'gamut'", "needs display light", "'render'"),
    ),
    "rendered to log": (
        HEAD.replace("BT.1886", "ACEScct") + RENDER,
        ("step 1 'render'", "makes display light", "ACEScct"),
    ),
    "unknown encoding": (
        HEAD.replace("ACEScct", "S-Lgo3") + TAIL,
        ("line 2", "'S-Lgo3'", "did you mean", "'S-Log3'"),
    ),
    "no source": ('[output]\nencoding = "BT.1886"\n' + TAIL, ("source", "is missing")),
    "a step without a kind": (HEAD + "[[step]]\nstops = 1.0\n" + TAIL, ("step 1", "no 'kind'")),
    "not TOML": ("this is not a look\n", ("not valid TOML", "line 1")),
    "strength beyond one": ("strength = 3\n" + HEAD + TAIL, ("line 1", "strength", "3")),
    "nested without end": ("a = " + "[" * 5000 + "]" * 5000 + "\n", ("nested too deeply",)),
}


@pytest.mark.parametrize("name", LOOKS)
@pytest.mark.parametrize("command", ["bake", "show", "preview"])
def test_a_look_that_cannot_be_used(fails: Any, work: Path, name: str, command: str) -> None:
    text, words = LOOKS[name]
    (work / "bad.toml").write_text(text, encoding="utf-8")
    extra = ["--stills", "good.png", "--out", "o"] if command == "preview" else []
    fails([command, "bad.toml", *extra], *words)


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("", [("source", "is missing"), ("output", "is missing")]),
        (
            HEAD + '[[step]]\nkind = "exposure"\nstops = 99\n[[step]]\nkind = "nosuch"\n' + TAIL,
            [("line 7", "-8 to 8 stops"), ("line 9", "unknown step 'nosuch'")],
        ),
    ],
)
def test_all_faults_of_a_look_are_told_together(
    lookwright: Any, work: Path, text: str, parts: list[tuple[str, ...]]
) -> None:
    (work / "bad.toml").write_text(text, encoding="utf-8")
    said = lookwright("bake", "bad.toml")
    lines = said.err.splitlines()
    assert said.code == 2 and len(lines) == len(parts)
    for line, words in zip(lines, parts, strict=True):
        assert line.startswith("lookwright: bad.toml") and all(w in line for w in words), line


def test_a_look_that_is_not_there(fails: Any) -> None:
    fails(["bake", "nosuch.toml"], "nosuch.toml", "no such file", "lookwright new")
    fails(["show", "nosuch.toml"], "nosuch.toml", "no such file")
    fails(["preview", "nosuch.toml", "--stills", "good.png", "--out", "o"], "nosuch.toml", "no such file")
    fails(["bake", "occupied/below.toml"], "occupied/below.toml")


def test_a_look_that_is_a_folder(fails: Any, work: Path) -> None:
    (work / "folder").mkdir()
    fails(["bake", "folder"], "folder", "this is a folder", ".toml")


def test_a_look_that_is_not_text(fails: Any, work: Path) -> None:
    (work / "bad.toml").write_bytes(b"\xff\xfe\x00binary")
    fails(["bake", "bad.toml"], "bad.toml", "not a text file", "UTF-8")
    (work / "big.toml").write_bytes(b"#" * 1_000_002)
    fails(["bake", "big.toml"], "too large")


# ---------------------------------------------------------------- foreign LUTs

IDENTITY2 = "".join(f"{r} {g} {b}\n" for b in (0, 1) for g in (0, 1) for r in (0, 1))

CUBES: dict[str, tuple[bytes, tuple[str, ...]]] = {
    "a row missing": (
        b"LUT_3D_SIZE 2\n" + IDENTITY2.encode().rsplit(b"\n", 2)[0] + b"\n",
        ("line 8", "after row 7", "8"),
    ),
    "a row too many": (b"LUT_3D_SIZE 2\n" + IDENTITY2.encode() + b"0 0 0\n", ("line 10", "row 9", "8")),
    "two numbers on a row": (b"LUT_3D_SIZE 2\n0 0\n" + IDENTITY2.encode()[6:], ("line 2", "three numbers")),
    "NaN": (b"LUT_3D_SIZE 2\n" + IDENTITY2.encode().replace(b"0 1 0", b"0 nan 0"), ("line 4", "nan", "finite")),
    "infinity": (b"LUT_3D_SIZE 2\n" + IDENTITY2.encode().replace(b"0 1 0", b"0 inf 0"), ("line 4", "inf", "finite")),
    "300 points": (b"LUT_3D_SIZE 300\n0 0 0\n", ("line 1", "300", "2 to 129")),
    "no size": (IDENTITY2.encode(), ("line 1", "LUT_3D_SIZE")),
    "empty": (b"", ("empty",)),
    "a picture": (b"\x89PNG\r\n\x1a\n\0\0\0", ("not text",)),
}


@pytest.mark.parametrize("name", CUBES)
def test_a_lut_that_cannot_be_used(fails: Any, work: Path, name: str) -> None:
    data, words = CUBES[name]
    (work / "given.cube").write_bytes(data)
    (work / "bad.toml").write_text(HEAD + LUT_STEP + TAIL, encoding="utf-8")
    fails(["bake", "bad.toml"], "given.cube", "'lut'", *words)


def test_a_lut_that_is_not_there(fails: Any, work: Path) -> None:
    (work / "bad.toml").write_text(HEAD + LUT_STEP + TAIL, encoding="utf-8")
    fails(["bake", "bad.toml"], "given.cube", "no such file")


# ---------------------------------------------------------------- stills


def preview(*stills: object) -> list[object]:
    return ["preview", "good.toml", "--out", "o", *(x for s in stills for x in ("--stills", s))]


def test_a_still_that_cannot_be_read(fails: Any, work: Path) -> None:
    (work / "text.png").write_text("not a picture", encoding="utf-8")
    fails(preview("text.png"), "text.png", "not PNG")
    (work / "empty.png").touch()
    fails(preview("empty.png"), "empty.png", "empty")
    fails(preview("nosuch.png"), "nosuch.png", "no such file")
    fails(preview("occupied/x.png"), "occupied/x.png", "no such file")


@pytest.mark.parametrize("share", [0.02, 0.5, 0.9, 0.999])
def test_a_truncated_png(fails: Any, work: Path, share: float) -> None:
    """libpng prints lines of its own about such files; they must not reach the user."""
    data = (work / "good.png").read_bytes()
    (work / "cut.png").write_bytes(data[: int(len(data) * share)])
    fails(preview("cut.png"), "cut.png", "damaged or cut short")


def test_a_folder_without_stills(fails: Any, work: Path) -> None:
    (work / "none").mkdir()
    (work / "none/notes.txt").write_text("x", encoding="utf-8")
    fails(preview("none"), "none", "no stills", ".png")


def test_a_bad_still_among_good_ones(work: Path, lookwright: Any) -> None:
    """The good ones are done all the same, in whatever order; of the bad one there is one line and exit code 1."""
    (work / "aa.png").write_bytes((work / "good.png").read_bytes()[:500])
    for layout, made in (("graded", "good-good.jpg"), ("sheet", "good-sheet.jpg")):
        said = lookwright(*preview("good.png", "aa.png"), "--layout", layout)
        assert said.code == 1, said
        assert len(said.err.splitlines()) == 1 and "aa.png" in said.err and "damaged or cut short" in said.err
        assert (work / "o" / made).stat().st_size > 0
        assert not [p.name for p in (work / "o").iterdir() if "aa" in p.name or p.name.startswith(".writing")]


# ---------------------------------------------------------------- options


def test_options_out_of_bounds(fails: Any) -> None:
    fails(["bake", "good.toml", "--size", 1], "--size", "1", "2<=x<=129")
    fails(["bake", "good.toml", "--size", 300], "--size", "300", "2<=x<=129")
    fails(["bake", "good.toml", "--size", "many"], "--size", "'many'")
    for value in ("2", "-0.1", "nan", "inf", "much"):
        fails(["bake", "good.toml", "--strength", value], "--strength", value.removeprefix("much"))
    fails([*preview("good.png"), "--layout", "wipe", "--at", "nan"], "--at", "nan")
    fails([*preview("good.png"), "--layout", "mosaic"], "--layout", "mosaic", "wipe")
    fails([*preview("good.png"), "--format", "bmp"], "--format", "bmp", "png")


def test_words_that_are_not_known(fails: Any) -> None:
    fails(["bak", "good.toml"], "'bak'", "did you mean 'bake'?")
    fails(["zzzz"], "'zzzz'", "known: ", "bake")
    fails(["bake", "good.toml", "--sise", 17], "--sise", "--size")
    fails(["--quite"], "--quite")
    fails(["encodings", "slog9"], "'slog9'", "S-Log3")
    fails(["show", "--step", "contrst"], "'contrst'", "'contrast'")
    fails(["new", "a.toml", "--source", "acescc7"], "'acescc7'", "ACEScc")
    fails(["show"], "--step")
    fails(["bake"], "LOOK")
    fails(["preview", "good.toml", "--out", "o"], "--stills")
    fails(["bake", "good.toml", "surplus"], "surplus")


# ---------------------------------------------------------------- targets


def test_targets_that_cannot_be(fails: Any, work: Path) -> None:
    (work / "folder.cube").mkdir()
    bake = ["bake", "good.toml", "--out"]
    fails([*bake, "occupied/x.cube"], "occupied/x.cube", "a file, not a folder")
    fails([*bake, "nosuch/x.cube"], "nosuch/x.cube", "does not exist", "create it")
    fails([*bake, "folder.cube"], "folder.cube", "this is a folder")
    fails([*bake, "x.png"], "x.png", ".cube")
    fails([*bake, "x" * 300 + ".cube"], "too long")
    show = ["preview", "good.toml", "--stills", "good.png", "--out"]
    fails([*show, "occupied"], "occupied", "a file is in the way")
    fails([*show, "occupied/below"], "occupied/below", "a file, not a folder")
    fails([*show, "occupied/below/far"], "occupied/below/far", "a file, not a folder")
    fails(["new", "occupied/x.toml"], "occupied/x.toml", "a file, not a folder")
    fails(["new", "x" * 300 + ".toml"], "too long")
    fails(["show", "good.toml", "--curves", "nosuch/c.png"], "nosuch/c.png", "does not exist")


@pytest.mark.parametrize(
    ("number", "words"),
    [(errno.EACCES, "no permission"), (errno.EROFS, "read-only"), (errno.ENOSPC, "disk is full")],
)
@pytest.mark.parametrize("refused", ["tempfile.mkstemp", "os.replace", "pathlib.Path.write_bytes"])
def test_what_the_system_refuses(
    fails: Any, monkeypatch: pytest.MonkeyPatch, refused: str, number: int, words: str
) -> None:
    """Tests may run as root, whom permissions do not stop: each call that can be refused refuses in turn."""

    def refuse(*args: Any, **kwargs: Any) -> None:
        if refused.endswith("write_bytes"):
            with open(args[0], "wb") as file:
                file.write(args[1][: len(args[1]) // 2])
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(refused, refuse)
    fails(["bake", "good.toml", "--size", 5], "good.cube", words)
    fails([*preview("good.png")], "good-good.jpg", words)


def test_an_unwritable_folder_is_told_before_the_work(fails: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """A 129-point bake takes minutes with a print; a bad target is known at once."""
    import lookwright.look.baking.bake

    def never(*args: Any, **kwargs: Any) -> None:
        raise AssertionError("baked in vain")

    monkeypatch.setattr(lookwright.look.baking.bake, "bake", never)
    fails(["bake", "good.toml", "--size", 129, "--out", "nosuch/x.cube"], "does not exist")
    fails(["bake", "good.toml", "--size", 129, "--out", "x.txt"], ".cube")


def test_ctrl_c_in_mid_write(work: Path, lookwright: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    before = tree(work)

    def stopped(self: Path, data: bytes) -> int:
        with open(self, "wb") as file:
            file.write(data[:1000])
        raise KeyboardInterrupt

    monkeypatch.setattr(Path, "write_bytes", stopped)
    said = lookwright("bake", "good.toml", "--size", 5)
    assert said.code == 130
    assert said.err.strip() == "lookwright: stopped"
    assert tree(work) == before


def test_no_memory(fails: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    import lookwright.look.baking.bake

    def none_left(*args: Any, **kwargs: Any) -> None:
        raise MemoryError

    monkeypatch.setattr(lookwright.look.baking.bake, "bake", none_left)
    fails(["bake", "good.toml"], "not enough memory", "--size")


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A real file system of 64 KiB, where one can be mounted."""
    folder = tmp_path / "disk"
    folder.mkdir()
    done = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(folder)], capture_output=True, check=False
    )
    if done.returncode:
        pytest.skip("mounting a file system is not allowed here; the monkeypatched writes above stand in")
    try:
        yield folder
    finally:
        subprocess.run(["umount", str(folder)], check=True)


def test_a_disk_that_fills_up_in_mid_write(work: Path, real: Any, small_disk: Path) -> None:
    """The real command on a real full disk, through each of the writers: text, JPEG, PNG, TIFF."""
    noise = np.random.default_rng(5).random((200, 200, 3), np.float32)
    write(work / "noise.png", noise)
    (small_disk / "x.cube").write_text(EARLIER, encoding="utf-8")
    (small_disk / "noise-good.png").write_text(EARLIER, encoding="utf-8")
    before = tree(work)
    said = real("bake", "good.toml", "--out", small_disk / "x.cube", cwd=work)
    one_line(said, "x.cube", "disk is full")
    assert tree(work) == before
    for suffix in ("png", "tif", "jpg"):
        arguments = ("preview", "good.toml", "--stills", "noise.png", "--format", suffix, "--out", small_disk)
        one_line(real(*arguments, cwd=work), f"noise-good.{suffix}", "disk")
        assert tree(work) == before, suffix
    # There is room for something small: nothing hidden fills the disk.
    assert real("bake", "good.toml", "--size", 9, "--out", small_disk / "x.cube", cwd=work).code == 0


def test_a_result_that_cannot_be_printed(look: Path) -> None:
    if not Path("/dev/full").exists():
        pytest.skip("no /dev/full here")
    for arguments in (["show", str(look)], ["--help"], ["encodings", "--json"]):
        with open("/dev/full", "wb") as full:
            done = subprocess.run(
                [sys.executable, "-m", "lookwright", *arguments], stdout=full, stderr=subprocess.PIPE, check=False
            )
        assert done.returncode == 2
        assert done.stderr.decode().count("\n") == 1 and b"No space left" in done.stderr


# ---------------------------------------------------------------- kill -9

LOOPING = """
import os, pathlib, sys, time
from lookwright.app.cli import main

def slowly(self, data):
    # As on a slow disk: a kill finds the file half written more often than not.
    os.write(1, b"writing\\n")
    with open(self, "wb", buffering=0) as file:
        for start in range(0, len(data), 8192):
            file.write(data[start:start + 8192])
            time.sleep(0.001)

def bake(strength):
    try:
        main(["bake", "good.toml", "--size", "17", "--quiet", "--strength", strength])
    except SystemExit as exc:
        assert exc.code == 0

bake("1")
first = pathlib.Path("good.cube").read_bytes()
bake("0")
second = pathlib.Path("good.cube").read_bytes()
pathlib.Path("first").write_bytes(first)
pathlib.Path("second").write_bytes(second)
pathlib.Path.write_bytes = slowly
rounds = int(sys.argv[1])
parent = os.getpid()
for number in range(rounds):
    child = os.fork()
    if child == 0:
        os.write(1, f"{os.getpid()}\\n".encode())
        while os.getppid() == parent:
            bake("1")
            bake("0")
    os.waitpid(child, 0)
"""


def test_killed_in_mid_write_the_old_file_is_whole(work: Path, look: Path) -> None:
    """Thirty kills at random moments of a bake over an existing file: the file is always one whole result.

    Each killed process is a fork of one that has loaded everything. Half of the kills fall anywhere, half within
    30 ms of the begin of a write, which takes 16 ms or more. A kill -9 cannot be tidied after: a hidden '.writing-'
    file may stay, which nothing else reads.
    """
    rounds = 30
    chance = random.Random(20)
    (work / "good.toml").write_bytes(look.read_bytes())
    half_written = 0
    command = [sys.executable, "-c", LOOPING, str(rounds)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, cwd=work) as running:
        assert running.stdout is not None
        for number in range(rounds):
            line = running.stdout.readline()
            while line == b"writing\n":  # of the one killed before
                line = running.stdout.readline()
            pid = int(line)
            if number % 2:
                assert running.stdout.readline() == b"writing\n"
            time.sleep(chance.uniform(0.0, 0.03 if number % 2 else 0.12))
            os.kill(pid, signal.SIGKILL)
            wait_gone(pid)
            found = (work / "good.cube").read_bytes()
            assert found in ((work / "first").read_bytes(), (work / "second").read_bytes())
            for left in work.glob(".writing-*"):
                half_written += left.stat().st_size < len(found)
                left.unlink()
        assert running.wait(timeout=30) == 0
    assert (work / "first").read_bytes() != (work / "second").read_bytes()
    # The test means something only if writes were really cut: of fifteen kills near a write, most do.
    assert half_written >= 3


def test_a_real_bake_killed_leaves_the_old_file(work: Path) -> None:
    """The command itself, from its start: three moments."""
    for wait in (0.1, 0.6, 1.0):
        command = [sys.executable, "-m", "lookwright", "bake", "good.toml", "--size", "65", "--quiet"]
        with subprocess.Popen(command) as running:
            time.sleep(wait)
            running.kill()
        assert running.returncode in (-signal.SIGKILL, 0)
        text = (work / "good.cube").read_text(encoding="ascii")
        if text != EARLIER:
            # It was done already: then the whole of it is there.
            assert text.count("\n") > 65**3 and text.endswith("\n")
            (work / "good.cube").write_text(EARLIER, encoding="utf-8")


# ---------------------------------------------------------------- hostile names

NAMES = {
    "a line break": "two\nlines",
    "escape codes": "red\x1b[31m\x07\x08 text\x1b]0;title\x07",
    "not UTF-8": "byte\udcff",
    "not ASCII": "Geigenbau-Werkstätte, 木工 ✂",
    "right to left": "abc\u202egpj",
    "a leading dash": "-rf",
    "spaces and quotes": ' it\'s "here"; $(x) ',
    "percent and braces": "%s{0}{here}%n",
    "brackets of a pattern": "take[1]*",
}


@pytest.mark.parametrize("kind", NAMES)
def test_hostile_names_that_are_missing(fails: Any, kind: str) -> None:
    name = NAMES[kind]
    fails(["bake", "--", name + ".toml"], "no such file")
    fails(["preview", "good.toml", f"--stills={name}.png", "--out", "o"])
    fails(["bake", "good.toml", f"--out={name}/x.cube"], "does not exist")


@pytest.mark.parametrize("kind", NAMES)
def test_hostile_names_that_exist_work(work: Path, lookwright: Any, crop: np.ndarray, kind: str) -> None:
    """They are names like any other, and are not printed raw."""
    name = NAMES[kind]
    (work / f"{name}.toml").write_text(HEAD + TAIL, encoding="utf-8")
    said = lookwright("bake", "--size", 17, "--", f"{name}.toml")
    assert (said.code, said.err) == (0, ""), said
    assert (work / f"{name}.cube").exists()
    assert said.out.count("\n") == 1 and said.out[:-1].isprintable()
    assert lookwright("bake", "--size", 17, "--json", "--", f"{name}.toml").code == 0
    if kind == "not UTF-8":
        # OpenImageIO takes no such names; the refusal is one line.
        (work / f"{name}.png").write_bytes((work / "good.png").read_bytes())
        one_line(lookwright("preview", "good.toml", f"--stills={name}.png", "--out", "o"), "not valid UTF-8")
        return
    (work / f"{name}.png").write_bytes((work / "good.png").read_bytes())
    said = lookwright("preview", "good.toml", f"--stills={name}.png", f"--out={name}", "--format", "png")
    # Where another system cannot hold the name, it is changed, and that is said in lines of its own.
    notes = said.err.splitlines()
    assert said.code == 0 and bool(notes) == (portable(name) != name), said
    assert all(line.isprintable() and line.startswith("lookwright: names: ") for line in notes)
    assert said.out.count("\n") == 1 and said.out[:-1].isprintable()
    assert [p.name for p in (work / name).iterdir()] == [f"{portable(name)}-good.png"]


def test_names_that_are_too_long(fails: Any, work: Path) -> None:
    fails(["bake", "w" * 300 + ".toml"], "w" * 300, "too long")
    fails(["preview", "good.toml", "--stills", "w" * 300 + ".png", "--out", "o"], "too long")
    fails(["preview", "good.toml", "--stills", "good.png", "--out", "w" * 300], "too long")


def test_hostile_content_does_not_reach_the_terminal(fails: Any, work: Path) -> None:
    kind = '[[step]]\nkind = "\\u001b[31mred\\u0007\\n\\u202e"\n'
    (work / "bad.toml").write_text(HEAD + kind + TAIL, encoding="utf-8")
    fails(["bake", "bad.toml"], "unknown step")
    (work / "key.toml").write_text('"\\u001b[2J\\n" = 1\n' + HEAD + TAIL, encoding="utf-8")
    fails(["bake", "key.toml"], "unknown key")
    (work / "given.cube").write_bytes(b"LUT_3D_SIZE 2\n\x1b[31m 0 0\n")
    (work / "lut.toml").write_text(HEAD + LUT_STEP + TAIL, encoding="utf-8")
    fails(["bake", "lut.toml"], "given.cube", "line 2")
    (work / "null.toml").write_text(HEAD + LUT_STEP.replace("given", "gi\\u0000ven") + TAIL, encoding="utf-8")
    fails(["bake", "null.toml"], "null")


def test_a_pipe_in_place_of_a_file_does_not_wait(fails: Any, work: Path) -> None:
    os.mkfifo(work / "pipe.png")
    fails(preview("pipe.png"), "pipe.png", "pipe")
    os.mkfifo(work / "given.cube")
    (work / "lut.toml").write_text(HEAD + LUT_STEP + TAIL, encoding="utf-8")
    fails(["bake", "lut.toml"], "given.cube", "a pipe or device, not a .cube file")


# ---------------------------------------------------------------- helpers


def wait_gone(pid: int) -> None:
    """Until the process is no more (its parent has collected it)."""
    for _ in range(2000):
        try:
            os.kill(pid, 0)
        except ProcessLookupError:
            return
        time.sleep(0.001)
    raise AssertionError("the killed process is still there")
