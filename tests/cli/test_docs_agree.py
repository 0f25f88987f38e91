"""What README, DEVELOPERS and HOW_WE_KNOW say, held against the program and the tree; and that lies are noticed."""

from __future__ import annotations

import importlib.util
import re
import shlex
from collections.abc import Callable, Iterator
from pathlib import Path
from unittest import mock

import click
import pytest
import rooms

from lookwright.app.cli import COMMANDS, cli
from lookwright.errors import LookwrightError
from lookwright.look.recipe.read import parse_look

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "src" / "lookwright"
README, DEVELOPERS, KNOWN = "README.md", "DEVELOPERS.md", "tests/HOW_WE_KNOW.md"
PAGES = [README, DEVELOPERS, KNOWN]

BLOCK = re.compile(r"^```(\w*)\n(.*?)^```$", re.M | re.S)
INLINE = re.compile(r"`([^`\n]+)`")
OPTION = re.compile(r"(?<![\w-])--[a-z][a-z-]*")
PLACEHOLDER = re.compile(r"[A-Z]{3,}(?![\w]*\.(?:md|toml))")


def page(name: str) -> str:
    return (ROOT / name).read_text(encoding="utf-8")


def blocks(text: str, language: str) -> list[str]:
    return [body for kind, body in BLOCK.findall(text) if kind == language]


def code(text: str) -> Iterator[str]:
    """Every piece of code: lines of blocks, and what stands between backticks in the text."""
    for _, body in BLOCK.findall(text):
        yield from body.splitlines()
    yield from INLINE.findall(BLOCK.sub("", text))


def runs(text: str) -> Iterator[list[str]]:
    """The words of every `lookwright ...` in the sh blocks."""
    for line in "\n".join(blocks(text, "sh")).splitlines():
        words = shlex.split(line, comments=True)
        while "lookwright" in words:
            words = words[words.index("lookwright") + 1 :]
            end = next((n for n, w in enumerate(words) if w in ("&&", "|", ";")), len(words))
            yield words[:end]


def command(name: str) -> click.Command | None:
    return cli.get_command(click.Context(cli), name)


# ---------------------------------------------------------------- what is wrong with a page, in words


def commands_that_do_not_parse(text: str) -> Iterator[str]:
    """With click's own parser, which knows the options, their types and what is required; nothing is run."""
    for words in runs(text):
        found = command(words[0]) if words else None
        if found is None:
            yield f"lookwright {' '.join(words)}: no such command"
            continue
        try:
            # The reader's own look is not here.
            with mock.patch("lookwright.app.cli.options._missing", return_value=False):
                found.make_context(words[0], words[1:])
        except click.ClickException as exc:
            yield f"lookwright {' '.join(words)}: {exc.format_message()}"


def commands_left_out(text: str) -> Iterator[str]:
    named = {words[0] for words in runs(text) if words} | set(INLINE.findall(text))
    yield from (f"{name} is not mentioned" for name in COMMANDS if name not in named)


def options_that_no_command_has(text: str) -> Iterator[str]:
    known = {"--help", "--version"}
    for name in COMMANDS:
        found = command(name)
        assert found is not None
        known |= {option for p in found.params for option in (*p.opts, *p.secondary_opts)}
    for piece in code(text):
        # Other programs have options of their own.
        if not re.match(r"(?:\S*python|pip|git|ruff|pytest|tsc)\b", piece) or "lookwright " in piece:
            ours = piece.rpartition("lookwright ")[2]
            yield from (f"{option} in {piece!r}" for option in OPTION.findall(ours) if option not in known)


def looks_that_do_not_parse(text: str) -> Iterator[str]:
    for body in blocks(text, "toml"):
        try:
            parse_look(body)
        except LookwrightError as exc:
            yield str(exc)


def paths_that_are_not_there(text: str) -> Iterator[str]:
    """Whatever looks like a path into the tree or, as in the pages' own words, into the package."""
    heads = {p.name for p in (*ROOT.iterdir(), *PACKAGE.iterdir()) if p.is_dir()}
    for piece in code(text):
        for word in re.findall(r"[\w./-]+", piece):
            head, slash, _ = word.partition("/")
            if not slash or head not in heads or PLACEHOLDER.search(word):
                continue
            if not any((top / word).exists() for top in (ROOT, PACKAGE)):
                yield word
        for module in re.findall(r"-m (lookwright[\w.]*)", piece):
            if importlib.util.find_spec(module) is None:
                yield module


def benchmarks_left_out(text: str) -> Iterator[str]:
    yield from (
        p.name for p in sorted((ROOT / "tests" / "benchmarks").glob("*.py")) if f"tests/benchmarks/{p.name}" not in text
    )


def figures_without_a_command(text: str) -> Iterator[str]:
    """Every row of the tables in which figures stand: those below a heading about budgets or figures."""
    for title, body in re.findall(r"^## ([^\n]*)\n(.*?)(?=^## |\Z)", text, re.M | re.S):
        if not re.search(r"budget|figure", title, re.I):
            continue
        rows = [line for line in body.splitlines() if line.startswith("|") and not re.fullmatch(r"[|: -]+", line)][1:]
        if not rows:
            yield f"{title}: no table"
        yield from (row for row in rows if not re.search(r"`(?:python|lookwright) [^`]+`", row))


def rooms_that_differ(text: str) -> Iterator[str]:
    """The table of rooms is the one that the contract on imports makes."""
    there = set(text.splitlines())
    yield from (line for line in rooms.table().splitlines() if line not in there)
    yield from (
        line for line in text.splitlines() if re.match(r"\| \d* ?\| \**`\w+/", line) and line not in rooms.table()
    )


Check = Callable[[str], Iterator[str]]

CASES: list[tuple[str, Check]] = [
    (README, commands_that_do_not_parse),
    (README, commands_left_out),
    (README, looks_that_do_not_parse),
    *[(name, options_that_no_command_has) for name in PAGES],
    *[(name, paths_that_are_not_there) for name in PAGES],
    (DEVELOPERS, commands_that_do_not_parse),
    (DEVELOPERS, rooms_that_differ),
    (KNOWN, benchmarks_left_out),
    (KNOWN, figures_without_a_command),
]


@pytest.mark.parametrize(("name", "check"), CASES, ids=lambda x: getattr(x, "__name__", x))
def test_pages_agree(name: str, check: Check) -> None:
    assert list(check(page(name))) == []


def sh(line: str) -> str:
    return f"\n```sh\n{line}\n```\n"


STEP = """
[source]
encoding = "ACEScct"
[output]
encoding = "BT.1886"
[[step]]
kind = "split"
{}
[[step]]
kind = "print"
"""

# A lie put at the end of a page that is right.
LIES: list[tuple[str, Check, str]] = [
    (README, commands_that_do_not_parse, sh("lookwright bakes look.toml")),
    (README, commands_that_do_not_parse, sh("cd x && lookwright preview a.toml --stills s --out o --layout mosaic")),
    (README, commands_that_do_not_parse, sh("lookwright series a.toml --stills s --anchor a  # no folder")),
    (README, commands_that_do_not_parse, sh("lookwright bake a.toml --sise 33")),
    (README, looks_that_do_not_parse, f"\n```toml\n{STEP.format('pul = 0.2')}```\n"),
    (README, looks_that_do_not_parse, f"\n```toml\n{STEP.format('pull = 25')}```\n"),
    (README, options_that_no_command_has, "\nDial it back with `--strenght 0.6`.\n"),
    (README, paths_that_are_not_there, "\nSee `sample_images/mark.toml`.\n"),
    (README, paths_that_are_not_there, sh("python -m lookwright.colour.film.chose")),
    (DEVELOPERS, paths_that_are_not_there, "\nSee `colour/spaces/hue_flows.py`.\n"),
    (DEVELOPERS, rooms_that_differ, "\n| | `films/` | physics | |\n"),
    (KNOWN, paths_that_are_not_there, sh("python tests/faults/fuzzer.py")),
    (KNOWN, figures_without_a_command, "\n## More figures\n\n| work | figure |\n|---|---|\n| bake | 1 s |\n"),
    (KNOWN, figures_without_a_command, "\n## More figures\n\nMany.\n"),
]


@pytest.mark.parametrize(("name", "check", "lie"), LIES, ids=lambda x: getattr(x, "__name__", "-"))
def test_a_lie_is_noticed(name: str, check: Check, lie: str) -> None:
    assert not list(check(page(name)))
    assert list(check(page(name) + lie))


def test_what_is_left_out_is_noticed() -> None:
    assert list(commands_left_out(page(README).replace("lookwright series", "lookwright new"))) == [
        "series is not mentioned"
    ]
    assert list(benchmarks_left_out(page(KNOWN).replace("tests/benchmarks/growth.py", "it"))) == ["growth.py"]
    assert len(list(rooms_that_differ(page(DEVELOPERS).replace("`colour/film/`", "film")))) == 1
