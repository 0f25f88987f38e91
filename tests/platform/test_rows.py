"""Every command that writes, and some that only print, as they are on Windows; ``rows.py`` prints the whole table."""

from __future__ import annotations

import hashlib
import json
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from other_system import MACOS, WINDOWS
from rows import Place, check, command_rows, prepare, run

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="handles are seen in /proc")

ROWS = command_rows()
PRINTING = ("show", "encodings", "measure json", "a fault")


@pytest.fixture(scope="module")
def place() -> Iterator[Place]:
    with tempfile.TemporaryDirectory() as name:
        yield prepare(Path(name))


@pytest.mark.parametrize("row", [row for row in ROWS if row != "deliver"])
def test_on_windows(place: Place, row: str) -> None:
    check(place, row, ROWS[row], WINDOWS)


@pytest.mark.parametrize("row", PRINTING)
def test_in_the_older_code_page(place: Place, row: str) -> None:
    check(place, row, ROWS[row], ("cp437",))


def test_on_macos(place: Place) -> None:
    check(place, "bake", ROWS["bake"], MACOS)


def test_a_delivery(place: Place) -> None:
    # Once, and against its own manifest, since it takes seconds; rows.py does it as the others.
    with place.folder() as out:
        got = run(place, "deliver", ROWS["deliver"], out, WINDOWS)
    assert got.code == 0 and not got.left, got.err
    listed = {f"d/{f['file']}": f["sha256"] for f in json.loads(got.files["d/manifest.json"])["files"]}
    assert listed == {n: hashlib.sha256(d).hexdigest() for n, d in got.files.items() if n != "d/manifest.json"}
