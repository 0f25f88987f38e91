"""Text from files and names on its way to the terminal, and the terminal itself when it is not there."""

from __future__ import annotations

import json
import os
import pty
import select
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

Run = Callable[..., object]
HOSTILE = "\x1b]0;owned\x07\x1b[31mred\x9b2J\u202egnp\u2066\u200b\x7f"
"""Sets the window's title, colours, clears, and turns the direction of writing: by ESC, by C1, by bidi controls."""


def toml(text: str) -> str:
    """The text as a basic string of TOML, which takes C0 controls only as escapes."""
    return json.dumps(text, ensure_ascii=True)


@pytest.fixture
def hostile(look: Path) -> Path:
    text = look.read_text().replace(
        '"Bench by the window"', toml("Bench " + HOSTILE) + f"\nabout = {toml('one' + HOSTILE)}"
    )
    text = text.replace('kind = "exposure"', f'kind = "exposure"\nnote = {toml("warm" + HOSTILE)}')
    # C1 and bidi controls may stand in TOML as they are.
    text += "# remark \x9b2J\u202e\n"
    look.write_text(text, encoding="utf-8")
    return look


def clean(text: str) -> None:
    assert all(c.isprintable() for line in text.split("\n") for c in line), repr(text)


def test_show(hostile: Path, lookwright: Run) -> None:
    said = lookwright("show", hostile, "--plan")
    clean(said.out)
    assert said.code == 0 and "Bench" in said.out and "(warm" in said.out
    said = lookwright("show", hostile, "--json")
    clean(said.out)
    assert json.loads(said.out)["title"] == "Bench " + HOSTILE, "the same data"


def test_measure(hostile: Path, stills: Path, lookwright: Run) -> None:
    marks = stills / "marks.toml"
    marks.write_text(f'[bench.{toml("skin" + HOSTILE)}]\nbox = [0.1, 0.1, 0.3, 0.3]\nrole = "skin"\n', encoding="utf-8")
    for arguments in (["--look", hostile], ["--encoding", "ACEScct", "--json"]):
        said = lookwright("measure", "--stills", stills, "--marks", marks, *arguments)
        assert said.code == 0 and "skin" in said.out, said
        clean(said.out)
        clean(said.err)


def on_terminal(*arguments: object) -> str:
    """What a command writes to a terminal."""
    ours, theirs = pty.openpty()
    command = [sys.executable, "-m", "lookwright", *map(str, arguments)]
    process = subprocess.Popen(command, stdin=theirs, stdout=theirs, stderr=theirs)
    os.close(theirs)
    found = b""
    limit = time.monotonic() + 60
    while time.monotonic() < limit:
        if not select.select([ours], [], [], 1.0)[0]:
            continue
        try:
            found += os.read(ours, 65536)
        except OSError:  # the other end is closed
            break
    os.close(ours)
    process.wait(timeout=60)
    return found.decode("utf-8").replace("\r\n", "\n")


def test_recover(hostile: Path, tmp_path: Path, lookwright: Run) -> None:
    """Safe on a terminal, byte for byte in a pipe."""
    hostile.write_text("format = 2\n" + hostile.read_text(encoding="utf-8"), encoding="utf-8")
    cube = tmp_path / "x.cube"
    assert lookwright("bake", hostile, "--out", cube, "--size", "9").code == 0
    shown = on_terminal("recover", cube)
    assert "Bench" in shown and "remark  2J" in shown
    clean(shown)
    done = subprocess.run([sys.executable, "-m", "lookwright", "recover", cube], capture_output=True, timeout=60)
    assert done.stdout == hostile.read_bytes(), "to the byte"


def test_a_lut_step_prints_nothing_of_other_files(look: Path, tmp_path: Path, lookwright: Run) -> None:
    """A look from elsewhere may name any file, through a link that it brings along."""
    for number, secret in enumerate(("root:x:0:0:root", "4711 0815 1234", "SECRET_TOKEN abcdef", "hunter2")):
        file = tmp_path / f"private{number}.txt"
        file.write_text(secret + "\n" + secret + "\n")
        (tmp_path / f"given{number}.cube").symlink_to(file)
        signal = 'input = { encoding = "ACEScct" }\noutput = { encoding = "ACEScct" }\n'
        stolen = f'[[step]]\nkind = "lut"\nfile = "given{number}.cube"\n{signal}\n[[step]]\nkind = "exposure"'
        path = tmp_path / f"from-elsewhere{number}.toml"
        path.write_text(look.read_text().replace('[[step]]\nkind = "exposure"', stolen, 1))
        said = lookwright("bake", path)
        assert said.code == 2 and f"given{number}.cube, line 1" in said.err and said.err.count("\n") == 1, said
        for word in secret.split():
            assert word not in said.err + said.out, said.err


def test_a_slip_in_a_keyword_is_still_quoted(tmp_path: Path, lookwright: Run) -> None:
    (tmp_path / "x.cube").write_text("LUT3D_SIZE 2\n" + "0 0 0\n" * 8)
    said = lookwright("check", tmp_path / "x.cube", "--source", "ACEScct", "--output", "BT.1886")
    assert "line 1: unknown keyword in 'LUT3D_SIZE 2'" in said.err


@pytest.mark.parametrize("closed", ["2>&-", "1>&-", "0<&-", "0<&- 1>&- 2>&-"])
def test_standard_streams_that_are_closed(closed: str, look: Path, stills: Path, tmp_path: Path) -> None:
    """No traceback, and no library prints into a file of ours that took the place of standard error."""
    (stills / "bad.png").write_bytes((stills / "bench.png").read_bytes()[:9000])
    out = tmp_path / "out"
    command = f'"$@" {closed}'
    words = [sys.executable, "-m", "lookwright", "preview", look, "--stills", stills, "--out", out, "--format", "png"]
    done = subprocess.run(["sh", "-c", command, "sh", *map(str, words)], capture_output=True, timeout=120)
    assert done.returncode == 1 and b"Traceback" not in done.stderr + done.stdout, done
    assert b"bad.png" in done.stderr or "2>&-" in closed
    from lookwright.pictures.stills import read

    for picture in out.iterdir():
        read(picture)
    assert len(list(out.iterdir())) == 2
    words = [sys.executable, "-m", "lookwright", "bake", tmp_path / "none.toml"]
    done = subprocess.run(["sh", "-c", command, "sh", *map(str, words)], capture_output=True, timeout=120)
    assert done.returncode == 2 and b"Traceback" not in done.stderr + done.stdout, done


@pytest.mark.parametrize("command", ["demo", "bake", "show"])
def test_a_folder_that_is_gone(command: str, look: Path, tmp_path: Path) -> None:
    gone = tmp_path / "gone"
    gone.mkdir()
    words = [
        sys.executable,
        "-m",
        "lookwright",
        command,
        *([str(look), "--out", "x.cube"] if command == "bake" else []),
    ]
    words += ["--schema"] if command == "show" else []
    script = f'cd "{gone}" && rmdir "{gone}" && "$@"'
    done = subprocess.run(["sh", "-c", script, "sh", *words], capture_output=True, timeout=60)
    said = done.stderr.decode()
    if command == "show":  # needs no folder
        assert done.returncode == 0 and said == ""
        return
    assert done.returncode == 2 and said.count("\n") == 1, said
    assert "the folder this was started in is no longer there" in said


def test_names_that_are_no_utf8(look: Path, stills: Path, tmp_path: Path) -> None:
    """Done where it can be, else one line; never a traceback."""
    bad = os.fsencode(tmp_path) + b"/caf\xe9"
    os.mkdir(bad)
    for words, name in (
        ([b"show", look, b"--curves", bad + b"/c.png"], b"/c.png"),
        ([b"show", look, b"--curves", bad + b"/c.svg"], b"/c.svg"),
        ([b"bake", look, b"--out", bad + b"/b.cube"], b"/b.cube"),
        ([b"check", look, b"--html", bad + b"/h.html"], b"/h.html"),
        ([b"preview", look, b"--stills", stills, b"--out", bad + b"/p"], b"/p"),
        ([b"measure", b"--encoding", b"ACEScct", b"--stills", stills, b"--out", bad + b"/m"], b"/m"),
        ([b"deliver", look, b"--stills", stills, b"--out", bad + b"/d"], b"/d"),
        ([b"new", bad + b"/n.toml"], b"/n.toml"),
    ):
        arguments = [sys.executable, "-m", "lookwright", *words]
        done = subprocess.run(arguments, capture_output=True, timeout=120)
        said = done.stderr.decode()
        assert "Traceback" not in said, said
        if done.returncode == 0:
            assert os.path.exists(bad + name)
        else:
            assert done.returncode in (1, 2) and said.count("\n") == 1 and "not valid UTF-8" in said, (words, said)
            assert not os.path.exists(bad + name)


def test_a_home_that_cannot_be_written(look: Path, stills: Path, tmp_path: Path) -> None:
    """The plotting library looks for a place for its settings there, and said so on stderr."""
    home = tmp_path / "home"
    home.write_text("no folder, so that it is sealed for root too")
    environment = {
        k: v for k, v in os.environ.items() if k not in ("MPLCONFIGDIR", "XDG_CACHE_HOME", "XDG_CONFIG_HOME")
    }
    for arguments in (
        ["measure", "--stills", stills, "--look", look, "--out", tmp_path / "sheets"],
        ["show", look, "--curves", tmp_path / "a.svg"],
    ):
        done = subprocess.run(
            [sys.executable, "-m", "lookwright", *map(str, arguments)],
            capture_output=True,
            env=environment | {"HOME": str(home)},
            timeout=120,
        )
        assert (done.returncode, done.stderr) == (0, b""), done
