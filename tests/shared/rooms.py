"""The table of rooms in DEVELOPERS.md, made from the contract in pyproject.toml and each room's own first line.

``python tests/shared/rooms.py`` writes it into the page; tests/cli/test_docs_agree.py holds that it was done.
"""

from __future__ import annotations

import ast
import re
import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "DEVELOPERS.md"
BEGIN, END = "<!-- rooms: made by tests/shared/rooms.py -->\n", "<!-- end of rooms -->\n"


def layers() -> dict[str, list[list[str]]]:
    """By container (``lookwright.look`` and so on): the layers from the top down, each a list of neighbours."""
    configuration = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"]
    return {
        contract["containers"][0]: [[name.strip() for name in layer.split("|")] for layer in contract["layers"]]
        for contract in configuration["contracts"]
        if contract["type"] == "layers"
    }


def first_line(module: str) -> str:
    """The first line of a room's docstring, or of a module's."""
    path = ROOT / "src" / Path(*module.split("."))
    source = path / "__init__.py" if path.is_dir() else path.with_suffix(".py")
    text = ast.get_docstring(ast.parse(source.read_text(encoding="utf-8"))) or ""
    return re.sub(r"``([^`]+)``", r"`\1`", text.partition("\n")[0]).rstrip(".")


def shown(module: str, top: str) -> str:
    """A room as a path with a slash, a module as a file."""
    name = module.removeprefix(top + ".").replace(".", "/")
    return name + ("/" if (ROOT / "src" / Path(*module.split("."))).is_dir() else ".py")


def table() -> str:
    """The table as Markdown: floors from the top down, the rooms of a floor below it."""
    found = layers()
    rows = ["| floor | room | what lives there | within its floor it may use |", "|---|---|---|---|"]
    floors = found["lookwright"]
    for number, floor in zip(range(len(floors) - 1, -1, -1), floors, strict=True):
        for name in floor:
            module = f"lookwright.{name}"
            rows.append(f"| {number} | **`{shown(module, 'lookwright')}`** | {first_line(module)} | |")
            rooms = found.get(module, [])
            for place, row in enumerate(rooms):
                below = ", ".join(f"`{r}`" for lower in rooms[place + 1 :] for r in lower)
                rows += [
                    f"| | `{shown(f'{module}.{room}', 'lookwright')}` | {first_line(f'{module}.{room}')} | {below} |"
                    for room in row
                ]
    return "\n".join(rows) + "\n"


def with_table(page: str) -> str:
    """The page with the table put where it belongs."""
    before, _, rest = page.partition(BEGIN)
    _, _, after = rest.partition(END)
    return f"{before}{BEGIN}{table()}{END}{after}"


if __name__ == "__main__":
    PAGE.write_text(with_table(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
