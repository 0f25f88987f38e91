"""Each thing that writes, as a row: run plainly, then as on another system, and compared.

    python tests/platform/rows.py            # the table: a row for each, a column for each behaviour; two minutes

A row holds when the command ends with the same code, leaves the same bytes under the same names and nothing
half-written, and says the same, in characters that the output can take.
"""

from __future__ import annotations

import contextlib
import importlib
import importlib.util
import os
import re
import shutil
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[1] / "faults"))

from other_system import CODE_PAGES, MACOS, WINDOWS, Streams, other_system
from parts import PARTS
from writers import LOOK, WRITERS, write_inputs

EARLIER = b"# earlier, by lookwright\n"
MORE = {
    "deliver": "deliver IN/look.toml --stills IN/stills --plain-sampling --out OUT/d",
    "demo": "demo --out OUT/demo",
    "frames dpx": "frames IN/clip.mp4 --at 0 --format dpx --out OUT",
    "frames tif": "frames IN/clip.mp4 --at 0 --format tif --out OUT",
    "graded tif": "preview IN/look.toml --stills IN/stills --size 5 --format tif --out OUT",
    "recover printed": "recover IN/titled.cube",
    "show": "show IN/look.toml",
    "show step": "show --step split",
    "encodings": "encodings",
    "measure printed": "measure --stills IN/stills/a.png --encoding ACEScct",
    "measure json": "measure --stills IN/stills/a.png --encoding ACEScct --json",
    "a fault": "bake IN/Ärger→木.toml --out OUT/x.cube",
}
"""Beside the writers of the tests of faults, and what only prints."""


@dataclass
class Result:
    """What came of a run."""

    code: int
    out: bytes
    err: bytes
    files: dict[str, bytes]
    left: list[str] = field(default_factory=list)


@dataclass
class Place:
    """Inputs, and what is to be remembered between runs."""

    root: Path
    plain: dict[str, Result] = field(default_factory=dict)
    solved: dict[str, Any] = field(default_factory=dict)
    runs: int = 0

    @property
    def given(self) -> Path:
        return self.root / "in"

    @contextlib.contextmanager
    def folder(self) -> Iterator[Path]:
        """A new folder; always of the same name, because files say where they are."""
        self.runs += 1
        out = self.root / "out"
        out.mkdir()
        try:
            yield out
        finally:
            shutil.rmtree(out)


def prepare(root: Path) -> Place:
    """Small inputs below ``root``."""
    write_inputs(root / "in")
    _write_titled(root / "in" / "titled.cube")
    (root / "in" / "demo").mkdir()
    (root / "in" / "demo" / "window.toml").write_text(LOOK, encoding="utf-8")
    return Place(root)


def _write_titled(path: Path) -> None:
    """A LUT whose recipe has characters that no code page here has: printed into a file, it is still UTF-8."""
    from lookwright.look.baking.bake import baked
    from lookwright.look.recipe.pipeline import compile_look
    from lookwright.look.recipe.read import parse_look
    from lookwright.lut.formats.cube import write_cube

    text = LOOK.replace("Bench by the window", "Hobelbank 木工 → Fenster")
    write_cube(path, baked(compile_look(parse_look(text)), text, 5))


def command_rows() -> dict[str, list[str]]:
    """Command lines by the name of their row; those left out whose library is not here."""
    rows = {w.name: w.words.split() for w in WRITERS if not w.extra or importlib.util.find_spec(w.extra)}
    clips = importlib.util.find_spec("av") is not None
    return rows | {name: words.split() for name, words in MORE.items() if clips or not name.startswith("frames")}


@contextlib.contextmanager
def quick(place: Place, row: str) -> Iterator[None]:
    """What tune and learn find is computed once, on a small lattice; the demo has our small inputs."""
    from lookwright import installed

    residual, lattice, smoothing = (
        importlib.import_module(f"lookwright.solve.learn.{name}") for name in ("residual", "lattice", "smoothing")
    )
    jobs = [importlib.import_module(f"lookwright.jobs.{name}") for name in ("learn", "tune")]
    before = [(m, "solve", m.solve) for m in jobs] + [
        (m, n, getattr(m, n)) for m, n in ((residual, "SIZE"), (lattice, "SIZE"), (smoothing, "TRIED"))
    ]
    before.append((installed, "samples", installed.samples))

    def once(work: Callable[..., Any]) -> Callable[..., Any]:
        def found(*arguments: Any, **named: Any) -> Any:
            if row not in place.solved:
                place.solved[row] = work(*arguments, **named)
            return place.solved[row]

        return found

    residual.SIZE = lattice.SIZE = 9
    smoothing.TRIED = {3: (1e-4,)}
    for module in jobs:
        module.solve = once(module.solve)
    installed.samples = lambda: installed.Samples(place.given / "demo", place.given / "stills")
    try:
        yield
    finally:
        for where, name, value in before:
            setattr(where, name, value)


def run(place: Place, row: str, words: list[str], out: Path, behaviours: tuple[str, ...] = ()) -> Result:
    """One command in this process, as that system."""
    from lookwright.app.cli import main

    folders = {"IN": place.given, "OUT": out}
    arguments = [re.sub(r"^(IN|OUT)(?=/|$)", lambda m: str(folders[m[0]]), word) for word in words]
    pages = [b for b in behaviours if b in CODE_PAGES]
    code: Any = None
    system = other_system(*(b for b in behaviours if b not in CODE_PAGES), root=place.root)
    with quick(place, row), Streams(pages[0] if pages else "utf-8") as said, system:
        try:
            main(arguments)
        except SystemExit as exc:
            code = exc.code
        ended()
    return Result(code, said.out, said.err, *left(out))


def ended() -> None:
    """Threads of a command that hold files for a moment longer are waited for."""
    for thread in threading.enumerate():
        if thread is not threading.current_thread() and not thread.daemon:
            thread.join(5)


def left(out: Path) -> tuple[dict[str, bytes], list[str]]:
    """Files of a folder, and what is half-written."""
    files = {str(p.relative_to(out)): p.read_bytes() for p in sorted(out.rglob("*")) if p.is_file()}
    return files, [name for name in files if ".writing-" in name]


def check(place: Place, row: str, words: list[str], behaviours: tuple[str, ...]) -> None:
    """Fail where the row does not hold under these behaviours; twice over, the second time over its own files."""
    if row not in place.plain:
        with place.folder() as out:
            place.plain[row] = run(place, row, words, out)
    plain = place.plain[row]
    with place.folder() as out:
        for time_ in ("first", "over its own files"):
            got = run(place, row, words, out, behaviours)
            said = f"{time_}: {got.err.decode('latin-1')}"
            assert got.code == plain.code, said
            assert not got.left, got.left
            _same_files(got.files, plain.files, time_)
            if row == "recover printed":  # a file of ours, not words: the same bytes
                assert got.out == plain.out
                continue
            for mine, other in ((got.out, plain.out), (got.err, plain.err)):
                if time_ == "first":
                    assert mine.count(b"?") == other.count(b"?") + unknown(other, behaviours), said
                    assert mine.count(b"\n") == other.count(b"\n"), said
                assert (b"Traceback" not in mine and b"\\u" not in mine.replace(b'"', b"")) or b"{" in mine[:3], said


def _same_files(got: dict[str, bytes], plain: dict[str, bytes], time_: str) -> None:
    assert got.keys() == plain.keys(), (time_, set(got) ^ set(plain))
    # A ledger has its lines in the order in which threads ended, and again what was made again.
    differing = [name for name in got if got[name] != plain[name] and not name.endswith(".jsonl")]
    assert not differing, (time_, differing)


def unknown(text: bytes, behaviours: tuple[str, ...]) -> int:
    """Characters of names, not of ours, that a code page lacks: each becomes a question mark."""
    return text.decode("utf-8").count("木") if any(b in CODE_PAGES for b in behaviours) else 0


def columns() -> dict[str, tuple[str, ...]]:
    """Behaviours one by one, and all that a system has."""
    return {b: (b,) for b in (*WINDOWS, "cp437")} | {"all of Windows": WINDOWS, "all of macOS": MACOS}


def table() -> Iterator[str]:
    """Markdown."""
    heads = columns()
    yield "| row | " + " | ".join(heads) + " |"
    yield "|---" * (len(heads) + 1) + "|"
    with tempfile.TemporaryDirectory() as name:
        place = prepare(Path(name))
        for row, words in command_rows().items():
            cells = [_cell(lambda b, r=row, w=words: check(place, r, w, b), b) for b in heads.values()]
            yield f"| {row} | " + " | ".join(cells) + " |"
        for part, work in PARTS.items():
            cells = [_cell(lambda b, w=work: _in_new(w, b), b) for b in heads.values()]
            yield f"| {part} | " + " | ".join(cells) + " |"


def _cell(work: Callable[[tuple[str, ...]], None], behaviours: tuple[str, ...]) -> str:
    try:
        work(behaviours)
    except AssertionError as exc:
        return "fails: " + str(exc).split("\n")[0][:90].replace("|", "/")
    return "holds"


def _in_new(work: Callable[..., None], behaviours: tuple[str, ...]) -> None:
    with tempfile.TemporaryDirectory() as name:
        work(Path(name), behaviours)


if __name__ == "__main__":
    began = time.process_time()
    for line in table():
        print(line, flush=True)
    print(f"\n{time.process_time() - began:.0f} s of processor, {os.cpu_count()} cores")
