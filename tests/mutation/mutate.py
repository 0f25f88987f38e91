"""Put each fault of ``mutations.py`` in, run the tests that should notice, and say which did.

    python tests/mutation/mutate.py            # all; some ten minutes on two cores
    python tests/mutation/mutate.py refine     # those whose name or file contains a word

Works on a copy of src, tests and what they read, so that nothing here is touched. Exit code 1 when one survives, or
when its text is no longer found: then the list is behind the code.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from mutations import MUTATIONS, Mutation

ROOT = Path(__file__).parents[2]
COPIED = ("src", "tests", "looks", "sample_images", "README.md", "DEVELOPERS.md", "pyproject.toml")


def copied(folder: Path) -> None:
    """What the tests need, in a folder of its own."""
    for name in COPIED:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(source, folder / name)


def failing(folder: Path, tests: str) -> bool:
    """Whether the tests fail there."""
    environment = {**os.environ, "PYTHONPATH": str(folder / "src"), "PYTHONDONTWRITEBYTECODE": "1"}
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-x", "-n", "2", "-p", "no:cacheprovider", *tests.split()],
        cwd=folder,
        env=environment,
        capture_output=True,
        text=True,
    )
    failed = done.returncode in (1, 2) and "\nFAILED " in done.stdout  # 2 when -x stops the workers
    if done.returncode and not failed and "\nERROR " not in done.stdout:
        sys.exit(f"pytest ended with {done.returncode}:\n{done.stdout[-2000:]}{done.stderr[-2000:]}")
    return done.returncode != 0


def tried(folder: Path, mutation: Mutation) -> str:
    """``killed``, ``SURVIVED`` or ``NOT FOUND``; the copy is as it was afterwards."""
    path = folder / "src/lookwright" / mutation.file
    text = path.read_text(encoding="utf-8") if path.exists() else ""
    if text.count(mutation.old) != 1:
        return "NOT FOUND"
    path.write_text(text.replace(mutation.old, mutation.new), encoding="utf-8")
    try:
        return "killed" if failing(folder, mutation.tests) else "SURVIVED"
    finally:
        path.write_text(text, encoding="utf-8")


def main() -> None:
    """Try all whose name or file contains the first argument."""
    word = sys.argv[1] if len(sys.argv) > 1 else ""
    chosen = [m for m in MUTATIONS if word in m.what or word in m.file]
    results = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        copied(folder)
        for tests in sorted({m.tests for m in chosen}):
            if failing(folder, tests):
                sys.exit(f"these fail without any fault put in: {tests}")
        for mutation in chosen:
            began = time.monotonic()
            results.append(tried(folder, mutation))
            print(f"{results[-1]:9}  {time.monotonic() - began:4.0f} s  {mutation.file}: {mutation.what}", flush=True)
    print(f"{results.count('killed')} of {len(results)} killed")
    sys.exit(0 if results.count("killed") == len(results) > 0 else 1)


if __name__ == "__main__":
    main()
