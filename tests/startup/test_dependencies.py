"""What pyproject.toml declares is what the source imports: nothing idle, nothing borrowed from a dependency's own."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest

import lookwright

ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
PACKAGE = Path(lookwright.__file__).parent


def _names(requirements: list[str]) -> set[str]:
    return {r.split(">=")[0].strip().lower().replace("_", "-") for r in requirements}


def _imported() -> dict[str, set[str]]:
    """Distributions that the package's files import, inside functions too, each with the files."""
    owners = packages_distributions()
    found: dict[str, set[str]] = {}
    for path in PACKAGE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            modules: list[str] = []
            if isinstance(node, ast.Import):
                modules = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom) and not node.level:
                modules = [node.module or ""]
            for top in {m.partition(".")[0] for m in modules} - {"lookwright"} - sys.stdlib_module_names:
                for owner in owners.get(top, [top]):
                    found.setdefault(owner.lower().replace("_", "-"), set()).add(path.name)
    return found


def test_every_dependency_is_used_and_every_import_declared() -> None:
    core = _names(PROJECT["dependencies"])
    extras = {
        name
        for extra in ("bench", "clips", "cluster", "faces", "fast", "matching", "timeline")
        for name in _names(PROJECT["optional-dependencies"][extra])
    }
    imported = _imported()
    assert core - set(imported) == set(), "declared, but nothing imports it"
    # pydantic's documented home of its custom error; pydantic itself pins the one release that fits.
    unknown = set(imported) - core - extras - {"pydantic-core"}
    assert unknown == set(), {name: imported[name] for name in unknown}


@pytest.mark.parametrize("group", ["dependencies", "bench", "clips", "cluster", "fast", "test"])
def test_every_requirement_has_a_lower_bound(group: str) -> None:
    """The oldest set of releases that CI tests is made of these bounds."""
    requirements = PROJECT[group] if group == "dependencies" else PROJECT["optional-dependencies"][group]
    assert [r for r in requirements if not re.fullmatch(r"[\w-]+>=[\d.]+(,!=[\d.]+)*", r)] == []
