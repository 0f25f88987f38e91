"""What ``import lookwright`` offers: the names, that they work, and that the examples run."""

from __future__ import annotations

import ast
import doctest
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import lookwright as lw

ROOT = Path(__file__).parents[2]

NAMES = [
    "Cancelled",
    "Look",
    "LookwrightError",
    "Pipeline",
    "Progress",
    "Report",
    "Signal",
    "__version__",
    "bake",
    "check",
    "clip",
    "compile_look",
    "deliver",
    "learn",
    "look_text",
    "measure",
    "parse_look",
    "preview",
    "read_look",
    "read_lut",
    "read_still",
    "series",
    "tune",
    "write_still",
]


def test_names() -> None:
    """Spelled out here, so that a name is neither lost nor added by accident."""
    assert lw.__all__ == NAMES
    assert set(NAMES) <= set(dir(lw))


@pytest.mark.parametrize("name", NAMES)
def test_each_name_is_there_and_explained(name: str) -> None:
    found = getattr(lw, name)
    assert name == "__version__" or found.__doc__


def test_another_name_is_not() -> None:
    with pytest.raises(AttributeError, match="no attribute 'backe'"):
        _ = lw.backe  # type: ignore[attr-defined]


def test_type_checkers_and_the_interpreter_are_told_the_same() -> None:
    tree = ast.parse((ROOT / "tests" / ".." / Path(lw.__file__)).read_text(encoding="utf-8"))
    guarded = next(node for node in tree.body if isinstance(node, ast.If))
    told = {
        (alias.asname or alias.name): f"{node.module}:{alias.name}"
        for node in guarded.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    homes = {
        name: f"lookwright.{home}" if ":" in home else f"lookwright.{home}:{name}" for name, home in lw._HOMES.items()
    }
    assert told == homes


def test_importing_costs_nothing_heavy() -> None:
    code = "import sys, lookwright; print(sorted({'numpy', 'colour', 'pydantic', 'click'} & set(sys.modules)))"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True).stdout.strip() == "[]"


def test_examples_of_the_package_run() -> None:
    failed, tried = doctest.testmod(lw)
    assert tried > 5 and failed == 0


def test_the_example_of_the_readme_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every Python block, in order, where its paths are those of a checkout and what it writes goes elsewhere."""
    blocks = re.findall(r"^```python\n(.*?)^```$", (ROOT / "README.md").read_text(encoding="utf-8"), re.M | re.S)
    assert blocks
    for name in ("looks", "sample_images"):
        (tmp_path / name).symlink_to(ROOT / name)
    monkeypatch.chdir(tmp_path)
    for block in blocks:
        exec(compile(block, "README.md", "exec"), {})
    assert (tmp_path / "night.cube").stat().st_size > 100_000


def test_paths_as_text(tmp_path: Path) -> None:
    look = str(ROOT / "looks" / "overcast.toml")
    assert lw.bake(look, str(tmp_path / "a.cube"), size=5).file == tmp_path / "a.cube"
    still = str(ROOT / "sample_images" / "insert_acescct.png")
    made = lw.preview(look, still, str(tmp_path / "out"), size=5)  # one still where several are declared
    assert [p.name for p in made.written] == ["insert_acescct-overcast.jpg"]


@pytest.mark.parametrize(
    ("array", "sentence"),
    [
        (np.zeros((2, 2, 4)), "drop alpha: array[..., :3]"),
        (np.zeros((2, 3), np.uint16), "divide by 2^n - 1 for n bits: array / 65535.0"),
        (np.array([[0.1, np.nan, 0.0]]), "1 of 3 are NaN or infinite"),
        (np.zeros(2), "put the three channels last"),
        (np.array([[700.0, 100.0, 3.0]]), "divide by the largest code of the bit depth"),
        ("light", "convert it with astype(float)"),
    ],
)
def test_a_wrong_array_is_told_in_one_sentence(array: np.ndarray, sentence: str) -> None:
    grade = lw.compile_look(lw.read_look(ROOT / "looks" / "overcast.toml"))
    with pytest.raises(lw.LookwrightError) as caught:
        grade(array)
    assert sentence in str(caught.value) and "\n" not in str(caught.value)
