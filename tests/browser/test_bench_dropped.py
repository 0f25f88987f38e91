"""Files dropped on the bench: only copies, only pictures and clips that our readers take, and nothing left afterwards.

Plain requests against the real command; no browser is needed.
"""

from __future__ import annotations

import json
import os
import tempfile
import time
from collections.abc import Iterator
from http.client import HTTPConnection
from pathlib import Path
from urllib.parse import quote

import numpy as np
import pytest

from lookwright.app.bench.dropped import MOST_FILE
from lookwright.pictures.stills import write

from .conftest import Room, end, start
from .test_bench_hostile import ask, state

BYTES = {"Content-Type": "application/octet-stream"}


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("dropped")


@pytest.fixture(scope="module")
def bench(place: Path) -> Iterator[Room]:
    """A bench whose temporary files lie in a folder of the test."""
    old = os.environ.get("TMPDIR")
    (place / "tmp").mkdir()
    os.environ["TMPDIR"] = str(place / "tmp")
    try:
        found = start(place / "room")
    finally:
        os.environ.pop("TMPDIR")
        if old is not None:
            os.environ["TMPDIR"] = old
    yield found
    end(found)
    assert list((place / "tmp").iterdir()) == []  # the session's folder went with it


def copies(place: Path) -> list[Path]:
    return [p for p in (place / "tmp").rglob("*") if p.is_file()]


def drop(room: Room, name: str, data: bytes, headers: dict[str, str] | None = None) -> tuple[int, dict[str, object]]:
    status, _, text = ask(room, "POST", "drop", None, {**BYTES, "X-Name": quote(name), **(headers or {})}, raw=data)
    return status, json.loads(text)


def picture(place: Path) -> bytes:
    write(place / "made.png", np.random.default_rng(1).random((40, 60, 3)).astype(np.float32))
    return (place / "made.png").read_bytes()


def test_a_picture_is_copied_read_and_shown(bench: Room, place: Path) -> None:
    count = len(state(bench)["stills"])
    data = picture(place)
    status, told = drop(bench, "bench at night.png", data)
    assert status == 200 and told["still"] == count
    assert state(bench)["stills"][count]["name"] == "bench at night.png"
    (copy,) = copies(place)
    assert copy.read_bytes() == data
    assert copy.parent.parent.stat().st_mode & 0o077 == 0  # nobody else's
    view = {"still": count, "x": 0, "y": 0, "w": 60, "h": 40, "width": 60, "height": 40}
    assert len(ask(bench, "POST", "source", view)[2]) == 60 * 40 * 6
    assert len(ask(bench, "POST", "thumb", {"still": count})[2]) == 60 * 40 * 6


@pytest.mark.parametrize(
    "name",
    [
        "../../evening.toml",
        "/etc/cron.d/x",
        "..\\..\\x.png",
        "con.png",
        ".hidden.png",
        "a\x00b.png",
        "",
        "x" * 500 + ".png",
    ],
)
def test_a_name_is_only_a_label(bench: Room, place: Path, name: str) -> None:
    look = bench.look.read_bytes()
    before = set(copies(place))
    outside = sorted(p for p in place.rglob("*") if "tmp" not in p.parts)
    status, told = drop(bench, name, picture(place))
    assert status == 200, told
    (copy,) = set(copies(place)) - before
    assert (place / "tmp") in copy.resolve().parents
    assert not copy.name.startswith(".") and "\x00" not in copy.name and len(copy.name) <= 120
    assert bench.look.read_bytes() == look
    assert sorted(p for p in place.rglob("*") if "tmp" not in p.parts) == outside


def test_what_our_reader_refuses_is_gone_at_once(bench: Room, place: Path) -> None:
    before, count = set(copies(place)), len(state(bench)["stills"])
    whole = picture(place)
    for name, data in (
        ("a.png", b"GIF89a" + bytes(100)),
        ("b.png", whole[: len(whole) // 2]),
        ("c.png", b""),
        ("d.tif", b"<html><script>alert(1)</script>"),
        ("e.mp4", b"\x00\x00\x00\x18ftypmp42" + bytes(200)),
        ("f.mov", b"no clip"),
    ):
        status, told = drop(bench, name, data)
        assert status == 422, name
        assert str(place) not in str(told) and tempfile.gettempdir() not in str(told)
    assert set(copies(place)) == before
    assert len(state(bench)["stills"]) == count


def test_who_may_drop_and_how_much(bench: Room, place: Path) -> None:
    before = set(copies(place))
    data = picture(place)
    assert drop(bench, "a.png", data, {"X-Lookwright-Token": "-"})[0] == 403
    assert drop(bench, "a.png", data, {"Origin": "http://evil.example"})[0] == 403
    assert drop(bench, "a.png", data, {"Content-Type": "text/plain"})[0] == 415
    assert drop(bench, "a.png", data, {"Content-Type": "application/json"})[0] == 415
    # Too large by its own word, before a byte of it is read.
    connection = HTTPConnection("127.0.0.1", bench.port, timeout=10)
    headers = {"X-Lookwright-Token": bench.token, **BYTES, "Content-Length": str(MOST_FILE + 1), "X-Name": "a.png"}
    connection.putrequest("POST", "/api/drop")
    for name, value in headers.items():
        connection.putheader(name, value)
    connection.endheaders()
    assert connection.getresponse().status == 413
    connection.close()
    # Every other address keeps its own bound.
    assert ask(bench, "POST", "edit", None, raw=b" " * 300_000)[0] == 413
    # A page that goes away in the middle leaves nothing.
    connection = HTTPConnection("127.0.0.1", bench.port, timeout=10)
    connection.putrequest("POST", "/api/drop")
    for name, value in {**headers, "Content-Length": "100000"}.items():
        connection.putheader(name, value)
    connection.endheaders(b"\x89PNG")
    connection.close()
    limit = time.monotonic() + 30
    while set(copies(place)) != before:
        assert time.monotonic() < limit
        time.sleep(0.05)


def test_only_so_many_bytes_and_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import asyncio
    from collections.abc import AsyncIterator

    from lookwright.app.bench import dropped
    from lookwright.errors import LookwrightError

    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    monkeypatch.setattr(dropped, "MOST_FILE", 1000)
    monkeypatch.setattr(dropped, "MOST_ALL", 2500)
    monkeypatch.setattr(dropped, "MOST_FILES", 4)

    async def content(size: int) -> AsyncIterator[bytes]:
        for _ in range(size // 100):
            yield bytes(100)

    one = dropped.Dropped()

    def take(size: int) -> Path:
        return asyncio.run(one.take("a.png", content(size)))

    kept = [take(1000), take(1000)]
    for size in (1100, 600):
        with pytest.raises(LookwrightError, match="too"):
            take(size)
    assert sorted(p for p in tmp_path.rglob("*") if p.is_file()) == sorted(kept)
    one.drop(kept.pop(), 1000)
    take(100), take(100), take(100)
    with pytest.raises(LookwrightError, match="4 files"):
        take(100)
    one.close()
    assert list(tmp_path.iterdir()) == []
