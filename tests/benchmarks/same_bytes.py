"""Same recipe, same bytes: virtual environments with the oldest and the newest supported numpy and scipy, one thread
and several, write identical LUT files.

    python tests/benchmarks/same_bytes.py            # makes the environments with pip; some minutes
    python tests/benchmarks/same_bytes.py --keep DIR # and keeps them there for the next time

Every look of looks/, also as fed by three other encodings, is baked plainly and refined on the sample stills; one is
delivered whole, undone, learnt from a pair of frames, and a LUT of it, its recipe taken out, is explained. Exit 1 where two environments differ. Pictures and reports are left out: they are not LUTs. A learnt LUT stands on dense
equations that a library solves, whose last digits follow the number of its threads: it is held to LEARNT of signal.
"""

from __future__ import annotations

import argparse
import contextlib
import hashlib
import os
import subprocess
import sys
import tempfile
import venv
from pathlib import Path

ROOT = Path(__file__).parents[2]
PINS = {
    "oldest": ["numpy==2.0.0", "scipy==1.13.0"],
    "newest": ["numpy", "scipy", "colour-science"],
}
LEARNT = 5e-5
SOURCES = ("ACEScct", "S-Log3", "ARRI LogC3", "Apple Log")
LUT_SUFFIXES = {".cube", ".clf", ".cc", ".cdl", ".ocio", ".toml"}

WORK = """
import os, sys
from pathlib import Path
root, out, threads = Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3])
os.cpu_count = lambda: threads
from lookwright.app.cli import main
def run(*arguments):
    try:
        main([str(a) for a in arguments])
    except SystemExit as stopped:  # 1: the look was made, and a check of it failed
        assert stopped.code in (None, 0, 1), (arguments, stopped.code)
stills = root / "sample_images"
for look in sorted((root / "looks").glob("*.toml")):
    text = look.read_text(encoding="utf-8")
    for source in SOURCES:
        name = look.stem + "-" + source.replace(" ", "-")
        path = out / (name + ".toml")
        path.write_text(text.replace('encoding = "ACEScct"', 'encoding = "' + source + '"'), encoding="utf-8")
        run("bake", path, "--quiet")
        if source == "ACEScct":
            run("bake", path, "--quiet", "--refine", "--stills", stills, "--out", out / (name + "-refined.cube"))
night = out / "night-workshop-ACEScct.toml"
run("undo", night, "--out", out / "undone.cube", "--size", 17, "--quiet")
before, day = stills / "wide_acescct.png", out / "everyday-daylight-ACEScct.toml"
run("preview", night, "--stills", before, "--out", out / "graded", "--format", "png", "--quiet")
after = next((out / "graded").glob("*.png"))
for kind in ("--tune", "--no-tune"):
    run("learn", day, "--pair", before, after, "--out", out / ("learnt" + kind + ".toml"), kind, "--quiet")
lines = (out / "night-workshop-ACEScct.cube").read_text(encoding="ascii").splitlines(keepends=True)
theirs = out / "theirs.cube"
theirs.write_text("".join(line for line in lines if not line.startswith("#")), encoding="ascii")
run("recover", theirs, "--source", "ACEScct", "--output", "BT.1886", "--out", out / "explained.toml", "--quiet")
run("deliver", out / "night-workshop-ACEScct.toml", "--stills", stills, "--out", out / "delivery", "--quiet")
""".replace("SOURCES", repr(SOURCES))


def environment(folder: Path, pins: list[str]) -> Path:
    """The Python of a virtual environment with this project and ``pins`` in it."""
    python = folder / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    if not python.exists():
        venv.create(folder, with_pip=True)
        subprocess.run([python, "-m", "pip", "install", "-q", "-e", str(ROOT), *pins], check=True)
    return python


def versions(python: Path) -> str:
    """What is in it."""
    code = (
        "import sys; from importlib.metadata import version as v; "
        "print(sys.version.split()[0], *(f'{n} {v(n)}' for n in ('numpy', 'scipy', 'colour-science', 'opencolorio')))"
    )
    return subprocess.run([python, "-c", code], check=True, capture_output=True, text=True).stdout.strip()


def digests(python: Path, folder: Path, threads: int) -> dict[str, str]:
    """SHA-256 of every LUT file that the work makes."""
    folder.mkdir()
    settings = {n: str(threads) for n in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")}
    subprocess.run([python, "-c", WORK, ROOT, folder, str(threads)], check=True, env=os.environ | settings)
    files = sorted(p for p in folder.rglob("*") if p.suffix in LUT_SUFFIXES)
    return {p.relative_to(folder).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest() for p in files}


def learnt_apart(folders: list[Path]) -> float:
    """The largest difference of signal between learnt LUTs of the same name."""
    largest = 0.0
    for file in sorted(folders[0].glob("learnt*.cube")):
        first, *others = [_numbers(f / file.name) for f in folders]
        largest = max([largest, *(abs(a - b) for other in others for a, b in zip(first, other, strict=True))])
    return largest


def _numbers(file: Path) -> list[float]:
    lines = file.read_text(encoding="ascii").splitlines()
    return [float(word) for line in lines if line[:1] in "-0123456789" for word in line.split()]


def main() -> int:
    """Make, bake, compare."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--keep", type=Path, help="folder for the environments, used again when it exists")
    keep = parser.parse_args().keep
    with contextlib.ExitStack() as stack:
        work = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        home = keep or work
        home.mkdir(parents=True, exist_ok=True)
        runs: dict[str, dict[str, str]] = {}
        for name, pins in PINS.items():
            python = environment(home / name, pins)
            print(f"{name}: {versions(python)}", flush=True)
            for threads in (1, 2, 5):
                runs[f"{name}, {threads} threads"] = digests(python, work / f"out-{name}-{threads}", threads)
                print(f"  {threads} threads: {len(runs[f'{name}, {threads} threads'])} files", flush=True)
        apart = learnt_apart(sorted(work.glob("out-*")))
        print(f"learnt LUTs: {apart:.1e} of signal apart at most (held to {LEARNT:g})")
    first, *others = runs
    bad = int(apart > LEARNT)
    for file in runs[first]:
        differing = [n for n in others if runs[n].get(file) != runs[first][file]]
        learnt = file.startswith("learnt")
        bad += bool(differing) and not learnt
        said = "same" if not differing else "near" if learnt else "differs"
        print(f"{said:8}{file}" + (f": {'; '.join(differing)}" if differing else ""))
    print(f"{len(runs[first]) - bad} of {len(runs[first])} files are the same in {len(runs)} runs")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
