"""Help, version and completion stay light; nothing is said on stderr, and nobody is called.

Each run is a fresh interpreter that refuses to open a socket and turns warnings into errors.
"""

from __future__ import annotations

import importlib
import json
import os
import subprocess
import sys
from pathlib import Path

import click
import pytest

from lookwright.app.cli import COMMANDS, cli

HEAVY = (
    "numpy",
    "scipy",
    "colour",
    "imageio",
    "PyOpenColorIO",
    "OpenImageIO",
    "matplotlib",
    "jinja2",
    "PIL",
    "pydantic",
    "tifffile",
    "tomlkit",
)

PROBE = """
import json, os, socket, sys

def refused(*args, **kwargs):
    raise AssertionError("something wants the network")

socket.socket.connect = socket.socket.connect_ex = refused
socket.create_connection = socket.getaddrinfo = refused
before = (dict(os.environ), os.getcwd())
from lookwright.app.cli import main
try:
    main(json.loads(sys.argv[1]))
except SystemExit as exc:
    code = exc.code
loaded = [name for name in json.loads(sys.argv[2]) if name in sys.modules]
with open(sys.argv[3], "w") as report:
    json.dump({"code": code, "loaded": loaded, "changed": before != (dict(os.environ), os.getcwd())}, report)
"""


def probe(
    arguments: list[str], folder: Path, names: tuple[str, ...] = HEAVY, **environment: str
) -> tuple[dict[str, object], str, str]:
    """What a fresh interpreter loaded, printed on stdout and printed on stderr."""
    report = folder / "report.json"
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", PROBE, json.dumps(arguments), json.dumps(names), str(report)],
        capture_output=True,
        text=True,
        env={**os.environ, **environment},
        cwd=folder,
        timeout=60,
    )
    assert report.exists(), done.stderr
    return json.loads(report.read_text()), done.stdout, done.stderr


LIGHT = [["--help"], ["--version"], *([name, "--help"] for name in COMMANDS)]


@pytest.mark.parametrize("arguments", LIGHT, ids=" ".join)
def test_help_is_light_and_silent(arguments: list[str], tmp_path: Path) -> None:
    report, out, err = probe(arguments, tmp_path)
    assert report == {"code": 0, "loaded": [], "changed": False}
    assert err == ""
    assert "lookwright" in out


@pytest.mark.parametrize(
    ("words", "offered"),
    [
        (["lookwright", "ba"], "bake"),
        (["lookwright", "bake", "--st"], "--strength"),
        (["lookwright", "preview", "--layout", "wi"], "wipe"),
    ],
)
def test_completion_is_light_and_silent(words: list[str], offered: str, tmp_path: Path) -> None:
    # The variables a shell sets for click's completion (click documentation, "Shell Completion").
    report, out, err = probe(
        [],
        tmp_path,
        _LOOKWRIGHT_COMPLETE="bash_complete",
        COMP_WORDS=" ".join(words),
        COMP_CWORD=str(len(words) - 1),
    )
    assert report["loaded"] == []
    assert err == ""
    assert offered in out


def test_reading_in_the_completion_is_light_and_silent(tmp_path: Path) -> None:
    report, out, err = probe([], tmp_path, _LOOKWRIGHT_COMPLETE="bash_source")
    assert (report["loaded"], err) == ([], "")
    assert "complete -o" in out


@pytest.mark.skipif(not Path("/bin/bash").exists(), reason="needs bash")
def test_the_line_of_the_readme_completes_in_a_shell(tmp_path: Path) -> None:
    """The documented line as it stands, read by bash, and what Tab would then be offered."""
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    (line,) = [x for x in readme.splitlines() if "_LOOKWRIGHT_COMPLETE" in x]
    # A 'lookwright' on the path that is the one under test.
    command = tmp_path / "lookwright"
    command.write_text(
        f"#!{sys.executable}\nimport sys\nfrom lookwright.app.cli import main\nmain(sys.argv[1:])\n", encoding="utf-8"
    )
    command.chmod(0o755)
    asked = "COMP_WORDS=(lookwright de); COMP_CWORD=1; _lookwright_completion lookwright; echo ${COMPREPLY[*]}"
    done = subprocess.run(
        ["/bin/bash", "--norc", "-c", f"{line}\n{asked}"],
        capture_output=True,
        text=True,
        env={**os.environ, "PATH": f"{tmp_path}{os.pathsep}{os.environ['PATH']}"},
        timeout=60,
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, "deliver demo\n", "")


def test_the_probe_notices_what_it_looks_for(tmp_path: Path) -> None:
    """A run that does need numpy and pydantic shows them: the empty lists above mean something."""
    report, out, err = probe(["new", "a.toml"], tmp_path)
    assert report["code"] == 0
    assert {"numpy", "pydantic"} <= set(report["loaded"])  # type: ignore[call-overload]
    assert err == ""
    assert out.startswith("wrote a.toml")


def test_writing_a_look_needs_no_colour_library(tmp_path: Path) -> None:
    """The first thing a newcomer does answers at once: colour and matplotlib alone take longer than all of it."""
    report, _, _ = probe(["new", "a.toml"], tmp_path)
    loaded = set(report["loaded"])  # type: ignore[call-overload]
    assert not {"colour", "matplotlib", "scipy", "PyOpenColorIO", "OpenImageIO"} & loaded


def test_a_fault_in_a_look_is_told_before_what_measures_is_loaded(tmp_path: Path) -> None:
    """All faults at once and in the words of any command, with the steps that are named and nothing behind them."""
    text = (Path(__file__).parents[2] / "looks" / "night-workshop.toml").read_text(encoding="utf-8")
    text = text.replace('kind = "print"', 'kind = "prnt"').replace("\npull = ", "\npull = 9", 1)
    (tmp_path / "look.toml").write_text(text, encoding="utf-8")
    names = ("lookwright.assess", "lookwright.jobs.check", "lookwright.lut.formats.read", "lookwright.look.steps.print")
    report, _, err = probe(["check", "look.toml"], tmp_path, (*names, *HEAVY[1:3]))
    assert report == {"code": 2, "loaded": [], "changed": False}
    pull, kind = err.splitlines()
    assert "pull" in pull and "expected 0 to 1" in pull
    assert kind.endswith("step 6: unknown step 'prnt'; did you mean 'print'?")
    again, _, same = probe(["check", "look.toml", "--html", "report.html"], tmp_path, names)
    assert same == err and again["loaded"], "with a page the job says it, and has all loaded"


SLOW = {"colour", "matplotlib", "scipy"}
"""Each takes longer to import than the whole of a short command."""


@pytest.mark.parametrize(
    "arguments",
    [["encodings"], ["encodings", "S-Log3"], ["show", "LOOK"], ["bake", "LOOK", "--size", "5"], ["check", "LOOK"]],
    ids=" ".join,
)
def test_camera_encodings_need_no_colour_library(arguments: list[str], tmp_path: Path) -> None:
    """A look fed by a camera's log: curve and primaries stand in the program, also where ``check`` gives advice."""
    text = (Path(__file__).parents[2] / "looks" / "overcast.toml").read_text(encoding="utf-8")
    (tmp_path / "look.toml").write_text(text.replace('encoding = "ACEScct"', 'encoding = "S-Log3"'), encoding="utf-8")
    report, _, err = probe(["look.toml" if a == "LOOK" else a for a in arguments], tmp_path)
    assert report["code"] in (0, None), err
    assert not SLOW & set(report["loaded"])  # type: ignore[call-overload]


@pytest.mark.parametrize("name", COMMANDS)
def test_every_listed_command_exists_and_every_option_is_described(name: str) -> None:
    command = importlib.import_module(f"lookwright.app.cli.{name}").command
    assert isinstance(command, click.Command)
    assert command.help and len(command.help) > 20
    for option in command.params:
        if isinstance(option, click.Option):
            assert option.help and len(option.help) >= 10, option.name
    context = click.Context(cli)
    assert cli.get_command(context, name) is command
    assert command.short_help == COMMANDS[name]


def test_every_command_module_is_listed() -> None:
    folder = Path(importlib.import_module("lookwright.app.cli").__file__ or "").parent
    with_command = {p.stem for p in folder.glob("*.py") if "\ndef command(" in p.read_text(encoding="utf-8")}
    assert with_command == set(COMMANDS)


def test_options_of_the_same_name_mean_the_same() -> None:
    """One word, one meaning: type, help and flag-ness agree wherever an option stands."""
    seen: dict[str, tuple[object, ...]] = {}
    for name in COMMANDS:
        for option in importlib.import_module(f"lookwright.app.cli.{name}").command.params:
            if not isinstance(option, click.Option):
                continue
            for spelled in set(option.opts) & {"--stills", "--size", "--strength", "--json", "--quiet"}:
                meaning = (option.help, option.is_flag, option.type.name, option.multiple)
                assert seen.setdefault(spelled, meaning) == meaning, f"{name} {spelled}"


def test_the_top_level_help_lists_every_command(tmp_path: Path) -> None:
    _, out, _ = probe(["--help"], tmp_path)
    for name, line in COMMANDS.items():
        assert f"  {name}" in out
        assert line in out


def test_a_normal_run_says_nothing_on_stderr(tmp_path: Path) -> None:
    """The real command, heavy libraries included, with every warning shown: what they announce must not arrive."""
    samples = Path(__file__).parents[2] / "sample_images"
    environment = {**os.environ, "PYTHONWARNINGS": "default"}
    for arguments in (
        ["new", "a.toml"],
        ["bake", "a.toml", "--size", "9"],
        ["preview", "a.toml", "--stills", str(samples / "chart_acescct.png"), "--out", "o", "--layout", "pair"],
        ["show", "a.toml", "--plan", "--json"],
        ["encodings"],
    ):
        done = subprocess.run(
            [sys.executable, "-m", "lookwright", *arguments],
            capture_output=True,
            text=True,
            cwd=tmp_path,
            env=environment,
            timeout=120,
        )
        assert (done.returncode, done.stderr) == (0, ""), arguments
        assert done.stdout
