"""Whether every dependency, and theirs, has a wheel for each system and Python: asked of the package index, by hand.

    python tests/benchmarks/wheels.py             # a table; nothing is installed

pip resolves what pyproject.toml names (extras bench, clips, cluster and test among it) for a system other than this
one, from wheels alone, and says which it would take. It reads the conditions of dependencies ("only on Windows") as on
this machine, so what is needed on another system only is asked for by name (:data:`THERE_ONLY`).
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).parents[2]
PYTHONS = ("3.11", "3.12", "3.13")
EXTRAS = ("bench", "clips", "cluster", "test")
SYSTEMS = {
    "Linux x86-64": [f"manylinux_2_{n}_x86_64" for n in range(17, 36)] + ["manylinux2014_x86_64"],
    "Windows x86-64": ["win_amd64"],
    "macOS arm64": [f"macosx_{n}_0_{kind}" for n in range(11, 16) for kind in ("arm64", "universal2")],
}
THERE_ONLY = {"Windows x86-64": ["colorama", "tzdata"]}
"""click prints through the first there, and the time zones of dask's dependencies come with the second."""


class Wheel(NamedTuple):
    """One that pip would take."""

    name: str
    version: str
    pure: bool
    """Whether the one file serves every system."""


def wanted() -> list[str]:
    """What pyproject.toml asks for."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return [*project["dependencies"], *(r for extra in EXTRAS for r in project["optional-dependencies"][extra])]


def found(system: str, python: str, requirements: list[str]) -> list[Wheel] | str:
    """The wheels for that system, or pip's last words where one is missing."""
    with tempfile.TemporaryDirectory() as folder:
        report = Path(folder) / "report.json"
        command = [sys.executable, "-m", "pip", "install", "--quiet", "--dry-run", "--ignore-installed"]
        command += ["--target", folder, "--report", str(report), "--only-binary", ":all:", "--implementation", "cp"]
        command += ["--python-version", python]
        for tag in SYSTEMS[system]:
            command += ["--platform", tag]
        done = subprocess.run(
            [*command, *requirements, *THERE_ONLY.get(system, [])], capture_output=True, text=True, check=False
        )
        if done.returncode:
            return [line for line in done.stderr.splitlines() if line.startswith("ERROR")][-1]
        entries = json.loads(report.read_text(encoding="utf-8"))["install"]
    return sorted(
        Wheel(
            e["metadata"]["name"].lower(), e["metadata"]["version"], e["download_info"]["url"].endswith("-none-any.whl")
        )
        for e in entries
    )


def main() -> int:
    """Print the table; 1 where something is missing."""
    columns = [(system, python) for system in SYSTEMS for python in PYTHONS]
    wheels = {column: found(*column, wanted()) for column in columns}
    missing = {column: words for column, words in wheels.items() if isinstance(words, str)}
    by_name: dict[str, dict[tuple[str, str], Wheel]] = {}
    for column, taken in wheels.items():
        for wheel in taken if isinstance(taken, list) else ():
            by_name.setdefault(wheel.name, {})[column] = wheel
    print("| package | " + " | ".join(f"{system}, {python}" for system, python in columns) + " |")
    print("|---" * (len(columns) + 1) + "|")
    for name, row in sorted(by_name.items()):
        if not all(wheel.pure for wheel in row.values()):
            print(f"| {name} | " + " | ".join(row[c].version if c in row else "-" for c in columns) + " |")
    pure = [name for name, row in sorted(by_name.items()) if all(wheel.pure for wheel in row.values())]
    print(f"\nOne wheel for every system ({len(pure)}): {', '.join(pure)}")
    for column, words in missing.items():
        print(f"\nMISSING for {', '.join(column)}: {words}")
    if not missing:
        print(f"\nAll {len(by_name)} packages have wheels in all {len(columns)} columns ('-': not needed there).")
    return bool(missing)


if __name__ == "__main__":
    sys.exit(main())
