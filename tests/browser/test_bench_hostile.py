"""The bench under hands that mean it ill, or are only quick: refused or handled, in one line, and nothing lost.

Plain sockets against the real command; no browser is needed.
"""

from __future__ import annotations

import json
import os
import re
import signal
import socket
import struct
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from http.client import HTTPConnection
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from lookwright.app.bench.security import HEADERS, MOST_BYTES
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.read import parse_look
from lookwright.lut.lattices.lattice import grid
from lookwright.pictures.stills import read_marks

from .conftest import MARKS, Room, end, start

GETS = ("state", "text", "events", "still/0", "legend")
POSTS = (
    "preview",
    "words",
    "lattice",
    "edit",
    "undo",
    "redo",
    "save",
    "reload",
    "unsaved",
    "source",
    "exact",
    "exposure",
    "marks",
    "marks/save",
    "versions",
    "version",
    "history",
    "save-as",
    "guest",
    "reference",
    "tune",
    "tune/choose",
    "tune/take",
    "job/stop",
    "job/clear",
    "deliver",
    "way",
    "mask",
    "thumb",
    "band",
    "make",
    "toward",
    "movers",
    "drop",
    "clip",
    "clip/frame",
)


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Room]:
    """One bench for all of it: whatever one test did to it, the next finds it alive."""
    found = start(tmp_path_factory.mktemp("hostile"))
    yield found
    end(found)


@pytest.fixture(autouse=True)
def unharmed(bench: Room) -> Iterator[None]:
    """After each test: it lives, answers its owner, holds a recipe that reads, and wrote no file it was not told to."""
    before = contents(bench)
    yield
    status, _, text = ask(bench, "GET", "text")
    assert status == 200
    parse_look(text.decode())
    assert bench.process.poll() is None
    assert contents(bench) == before


def contents(room: Room) -> dict[str, bytes]:
    """Every file in the bench's folder."""
    folder = room.look.parent
    files = (p for p in sorted(folder.rglob("*")) if p.is_file())
    # What is not saved is kept beside its file, and so are versions, which is what these files are for.
    own = (".unsaved", ".versions")
    return {str(p.relative_to(folder)): p.read_bytes() for p in files if not p.name.endswith(own)}


def ask(
    room: Room,
    method: str,
    path: str,
    body: Any = None,
    headers: dict[str, str] | None = None,
    raw: bytes | None = None,
) -> tuple[int, dict[str, str], bytes]:
    """One request with everything in order, except for what is given; a header of value "-" is left out."""
    sent = {"X-Lookwright-Token": room.token, "Origin": f"http://127.0.0.1:{room.port}", "X-Client": "test"}
    data = raw if raw is not None else None if body is None else json.dumps(body).encode()
    if data is not None:
        sent["Content-Type"] = "application/json"
    sent |= headers or {}
    connection = HTTPConnection("127.0.0.1", room.port, timeout=30)
    try:
        path = path if path.startswith("/") else f"/api/{path}"
        connection.request(method, path, data, {k: v for k, v in sent.items() if v != "-"})
        answer = connection.getresponse()
        return answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read()
    finally:
        connection.close()


def spoken(room: Room, text: bytes, wait: float = 5.0) -> bytes:
    """Raw bytes to the server, and all that it answers."""
    with socket.create_connection(("127.0.0.1", room.port), timeout=wait) as s:
        s.sendall(text)
        got = b""
        try:
            while chunk := s.recv(65536):
                got += chunk
        except (TimeoutError, ConnectionResetError):
            pass
        return got


def state(room: Room) -> dict[str, Any]:
    return dict(json.loads(ask(room, "GET", "state")[2]))


def step(room: Room, kind: str) -> int:
    return int(next(s["id"] for s in state(room)["steps"] if s["kind"] == kind))


def setting(room: Room, kind: str, path: list[Any], value: float) -> dict[str, Any]:
    return {"step": step(room, kind), "path": path, "value": value}


# -- who may ask -------------------------------------------------------------------------------------------------------


def test_every_address_of_the_api_is_known_here(bench: Room) -> None:
    from lookwright.app.bench.app import Api
    from lookwright.app.bench.app_pixels import PixelApi

    routes = [*Api(None).routes(), *PixelApi(None).routes()]  # type: ignore[arg-type]
    paths = {r.path.removeprefix("/api/").replace("{index:int}", "0") for r in routes}
    assert paths == {*GETS, *POSTS}


def test_without_the_right_token_nothing_is_told_or_done(bench: Room) -> None:
    before = ask(bench, "GET", "text")[2]
    good = bench.token
    wrong = ["-", "", "x", good[:-1], good + "x", good.swapcase(), good[::-1], "\u00e9" * 20, " " * 43]
    for method, paths in (("GET", GETS), ("POST", POSTS)):
        for i, path in enumerate(paths):
            for token in wrong if i == 0 else wrong[:3]:
                status, _, text = ask(
                    bench, method, path, {} if method == "POST" else None, {"X-Lookwright-Token": token}
                )
                assert status == 403, (path, token)
                assert good.encode() not in text
    elsewhere = {"X-Lookwright-Token": "-", "Cookie": f"token={good}", "Authorization": f"Bearer {good}"}
    assert ask(bench, "GET", f"/api/state?token={good}", None, elsewhere)[0] == 403
    assert ask(bench, "GET", "text")[2] == before


def test_foreign_pages_and_rebound_names_are_refused(bench: Room) -> None:
    own = f"127.0.0.1:{bench.port}"
    for origin in (
        "http://evil.example",
        "null",
        "https://" + own,
        f"http://127.0.0.1:{bench.port + 1}",
        "http://" + own + ".evil.example",
        "file://",
        f"http://localhost:{bench.port}",
    ):
        assert ask(bench, "POST", "undo", {}, {"Origin": origin})[0] == 403, origin
        assert ask(bench, "GET", "/", None, {"Origin": origin})[0] == 403, origin
    for site in ("cross-site", "same-site", "evil"):
        assert ask(bench, "POST", "undo", {}, {"Sec-Fetch-Site": site})[0] == 403
    for host in (
        "evil.example",
        f"evil.example:{bench.port}",
        "127.0.0.1",
        f"127.0.0.1:{bench.port + 1}",
        f"0.0.0.0:{bench.port}",
        f"[::1]:{bench.port}",
        "",
        own + "@evil.example",
        own + "\t",
    ):
        status = ask(bench, "GET", "/", None, {"Host": host, "Origin": "-"})[0]
        assert status in (400, 421) or (host.strip() == own and status == 200), host
    for lines in (b"", b"Host: " + own.encode() + b"\r\nHost: evil.example\r\n"):
        assert re.match(rb"HTTP/1.1 4\d\d", spoken(bench, b"GET / HTTP/1.1\r\n" + lines + b"Connection: close\r\n\r\n"))
    # What another page may do without asking (a form, an image, a simple request) carries no token.
    form = {"X-Lookwright-Token": "-", "Origin": "-", "Content-Type": "text/plain"}
    assert ask(bench, "POST", "edit", None, form, raw=b'{"do": "remove", "step": 1}')[0] == 403


def test_no_answer_lets_other_pages_read_it(bench: Room) -> None:
    for method, path in (
        ("GET", "/"),
        ("GET", "/main.js"),
        ("GET", "state"),
        ("OPTIONS", "edit"),
        ("GET", "/none"),
        ("PUT", "state"),
    ):
        status, headers, _ = ask(bench, method, path)
        assert not [h for h in headers if h.startswith("access-control-")], path
        assert {k: headers.get(k) for k in HEADERS} == HEADERS, path
        assert "server" not in headers
        if method in ("OPTIONS", "PUT"):
            assert status == 405
    assert "unsafe" not in HEADERS["content-security-policy"] and "http" not in HEADERS["content-security-policy"]


def test_it_listens_on_this_machine_only(bench: Room) -> None:
    listening = [line.split() for line in Path("/proc/net/tcp").read_text().splitlines()[1:]]
    own = [f[1] for f in listening if f[3] == "0A" and int(f[1].split(":")[1], 16) == bench.port]
    assert own == [struct.pack("<I", 0x7F000001).hex().upper() + f":{bench.port:04X}"]
    assert not [
        x
        for x in Path("/proc/net/tcp6").read_text().splitlines()[1:]
        if int(x.split()[1].split(":")[1], 16) == bench.port and x.split()[3] == "0A"
    ]
    assert len(bench.token) >= 43  # 256 bits in base 64
    arguments = Path(f"/proc/{bench.process.pid}/cmdline").read_bytes()
    assert bench.token.encode() not in arguments


# -- what may be asked for ---------------------------------------------------------------------------------------------


def test_no_path_leads_out(bench: Room) -> None:
    secret = bench.look.parent.parent / "secret.txt"
    secret.write_text("SECRET")
    try:
        targets = [
            "/../secret.txt",
            "/..%2fsecret.txt",
            "/%2e%2e/secret.txt",
            "/..%5csecret.txt",
            "//secret.txt",
            "/./../secret.txt",
            "/main.js/../../../secret.txt",
            "/page/../app.py",
            "/app.py",
            "/api/../../secret.txt",
            "/api/still/../../secret.txt",
            "/api/still/%2e%2e%2f%2e%2e%2fsecret.txt",
            "/etc/passwd",
            "//etc/passwd",
            "/%2fetc%2fpasswd",
            "/main.js%00.txt",
            str(secret),
            f"file://{secret}",
            f"http://127.0.0.1:{bench.port}/../secret.txt",
            "/api/still/-1",
            "/api/still/2",
            "/api/still/99999999999999999999",
            "/api/still/0x0",
            "/api/still/1e0",
            "/api/still/\u0661",
            "/index.html/",
            "/stills/bench.png",
            "/evening.toml",
        ]
        for target in targets:
            line = f"GET {target} HTTP/1.1\r\nHost: 127.0.0.1:{bench.port}\r\nX-Lookwright-Token: {bench.token}\r\nConnection: close\r\n\r\n"
            got = spoken(bench, line.encode())
            assert re.match(rb"HTTP/1.1 4\d\d", got), (target, got[:80])
            assert b"SECRET" not in got and b"root:" not in got and b"import" not in got
    finally:
        secret.unlink()
    for still in (-1, 2, 65536, "0", 0.0, None, True):
        view = {"still": still, "x": 0, "y": 0, "w": 10, "h": 10, "width": 10, "height": 10}
        assert ask(bench, "POST", "source", view)[0] == 422, still


def test_views_beyond_the_picture_or_beyond_reason_are_refused(bench: Room) -> None:
    good = {"still": 0, "x": 0, "y": 0, "w": 240, "h": 135, "width": 240, "height": 135}
    assert ask(bench, "POST", "source", good)[0] == 200
    for change in (
        {"x": 1},
        {"w": 241},
        {"h": 0},
        {"width": 0},
        {"width": 241},
        {"height": 136},
        {"w": 65535, "width": 65535},
        {"x": 65535},
        {"y": -1},
        {"w": 10**12},
    ):
        for path in ("source", "exact", "exposure"):
            assert ask(bench, "POST", path, good | change)[0] == 422, (path, change)
        changes = [setting(bench, "split", ["pull"], 0.2)]
        assert ask(bench, "POST", "preview", {"changes": changes, "views": [good | change]})[0] == 422, change


def test_bodies_too_large_or_lying_about_their_size_are_refused(bench: Room) -> None:
    head = f"POST /api/edit HTTP/1.1\r\nHost: 127.0.0.1:{bench.port}\r\nX-Lookwright-Token: {bench.token}\r\nContent-Type: application/json\r\n"
    status, _, _ = ask(bench, "POST", "edit", raw=b" " * (MOST_BYTES - 2) + b"{}")
    assert status == 422  # as large as may be: read, and found wanting
    for length in (str(MOST_BYTES + 1), "99999999999", "-1", "1e3", "0x10", "+5", "\u0663"):
        got = spoken(bench, f"{head}Content-Length: {length}\r\nConnection: close\r\n\r\n".encode())
        assert re.match(rb"HTTP/1.1 4(00|13)", got), (length, got[:60])
    # A body without a stated length, in pieces: cut off once it is too large.
    with socket.create_connection(("127.0.0.1", bench.port), timeout=20) as s:
        s.sendall(f"{head}Transfer-Encoding: chunked\r\n\r\n".encode())
        got = b""
        try:
            for _ in range(64):
                s.sendall(b"10000\r\n" + b" " * 65536 + b"\r\n")
            s.sendall(b"0\r\n\r\n")
            got = s.recv(65536)
        except (BrokenPipeError, ConnectionResetError):
            pass
        assert got == b"" or re.match(rb"HTTP/1.1 413", got)
    for smuggled in (
        b"Content-Length: 2\r\nContent-Length: 9\r\n",
        b"Content-Length: 2\r\nTransfer-Encoding: chunked\r\n",
        b"Transfer-Encoding: gzip\r\n",
    ):
        got = spoken(bench, head.encode() + smuggled + b"Connection: close\r\n\r\n{}", 2.0)
        assert got == b"" or re.match(rb"HTTP/1.1 [45]\d\d", got), got[:60]
    big = spoken(bench, f"GET / HTTP/1.1\r\nHost: 127.0.0.1:{bench.port}\r\nX-Long: {'x' * 200_000}\r\n\r\n".encode())
    assert big == b"" or re.match(rb"HTTP/1.1 4\d\d", big)
    # Half a request, and gone.
    for part in (head, head + "Content-Length: 50\r\n\r\n{"):
        with socket.create_connection(("127.0.0.1", bench.port)) as s:
            s.sendall(part.encode())


BAD = [
    b"",
    b"{",
    b"}",
    b"null",
    b"true",
    b"7",
    b'"x"',
    b"[]",
    b"[{}]",
    b"\xff\xfe{}",
    b"\x00",
    b"{}{}",
    b"{'do': 'set'}",
    b'{"do": NaN}',
    b'{"value": Infinity}',
    b"[" * 100_000,
    b'{"a":' * 20_000,
    b'{"do": "set", "do": "remove"',
    b'{"extra": 1}',
    b'{"__proto__": {}}',
    b'{"do": "format"}',
    b'{"do": "set", "step": "1"}',
    b'{"do": "set", "step": 1.5}',
    b'{"do": "set", "step": true}',
    b'{"do": ["set"]}',
    b'{"do": "set", "changes": [{"step": 1, "path": ["stops"], "value": "0.5"}]}',
    b'{"do": "set", "changes": [{"step": 1, "path": ["stops"], "value": 1e999}]}',
    b'{"do": "set", "changes": [{"step": 1, "path": ["a", "b", "c", "d", "e"], "value": 1}]}',
    b'{"do": "set", "changes": {"0": 1}}',
    b'{"changes": null, "marks": null, "still": null, "side": null, "do": null, "overwrite": null}',
    b'{"size": 1}',
    b'{"size": 34, "changes": []}',
    b'{"side": "sideways"}',
    b'{"overwrite": "yes"}',
    b'{"separation": -1}',
    b'{"separation": 1e9}',
    b'{"plain_sampling": 1}',
    b'{"levels": "on"}',
    b'{"side": "version:../../etc/passwd", "still": 0, "x": 0, "y": 0, "w": 1, "h": 1, "width": 1, "height": 1}',
    b'{"chosen": [-1]}',
    b'{"place": -1}',
    b'{"id": "../x", "do": "drop"}',
    b'{"index": 0, "width": 0, "height": 9}',
    b'{"name": "' + b"x" * 81 + b'", "text": ""}',
]


def test_malformed_bodies_are_refused_in_one_line_by_every_address(bench: Room) -> None:
    before = ask(bench, "GET", "text")[2]
    optional = {b"{}"}
    for path in POSTS:
        for body in BAD:
            assert body not in optional
            status, _, text = ask(bench, "POST", path, raw=body)
            assert 400 <= status < 500, (path, body[:60], status, text)
            told = json.loads(text)["error"]
            assert told and "\n" not in told and len(told) <= 300 and "Traceback" not in told
        for kind in ("-", "text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x", ""):
            assert ask(bench, "POST", path, None, {"Content-Type": kind}, raw=b"{}")[0] == 415, (path, kind)
    # Numbers that JSON does not know, where everything else is in order.
    change = {"step": step(bench, "split"), "path": ["pull"], "value": 0.2}
    for word in (b"NaN", b"Infinity", b"-Infinity"):
        for path, body in (("edit", {"do": "set", "changes": [change]}), ("preview", {"changes": [change]})):
            assert ask(bench, "POST", path, raw=json.dumps(body).encode().replace(b"0.2", word))[0] == 400
    assert ask(bench, "GET", "text")[2] == before
    for after in ("x", "-1", "9" * 16, "1;2", "%00", "\u0661"):
        assert ask(
            bench,
            "GET",
            f"/api/events?after={after}".encode("ascii", "ignore").decode()
            if after != "\u0661"
            else "/api/events?after=%D9%A1",
        )[0] in (200, 422)


def test_edits_that_cannot_be_are_refused_and_change_nothing(bench: Room) -> None:
    before = ask(bench, "GET", "text")[2]
    split, gamut = step(bench, "split"), step(bench, "gamut")
    hostile: list[dict[str, Any]] = [
        {"do": "set", "changes": [{"step": 10**9, "path": ["pull"], "value": 0.1}]},
        {"do": "set", "changes": [{"step": split, "path": ["__class__"], "value": 0.1}]},
        {"do": "set", "changes": [{"step": split, "path": ["kind"], "value": 0.1}]},
        {"do": "set", "changes": [{"step": split, "path": ["hold", "__dict__"], "value": 0.1}]},
        {"do": "set", "changes": [{"step": split, "path": ["pull", 0], "value": 0.1}]},
        {"do": "set", "changes": [{"step": split, "path": [], "value": 0.1}]},
        {"do": "set", "changes": [{"step": split, "path": ["pull"], "value": 1e300}]},
        {
            "do": "set",
            "changes": [
                {"step": split, "path": ["pull"], "value": 0.2},
                {"step": gamut, "path": ["limit"], "value": -5},
            ],
        },
        {"do": "set", "changes": [{"step": None, "path": [], "value": 2.0}]},
        {"do": "add", "kind": "../../evil", "index": 0},
        {"do": "add", "kind": 'x"\n[limits', "index": 0},
        {"do": "add", "kind": "lut", "index": 0},
        {"do": "add", "kind": "", "index": 0},
        {"do": "add", "kind": "gamut", "index": 0},
        {"do": "move", "step": gamut, "index": 0},
        {"do": "remove", "step": step(bench, "print")},
        {"do": "lock", "step": split, "lock": ["no such"]},
        {"do": "lock", "step": split, "lock": ['pull"]\nx = 1']},
        {"do": "band", "step": split, "centre": 10.0},
        {"do": "unband", "step": split, "index": 65535},
        {"do": "on", "step": None},
        {"do": "remove"},
    ]
    for edit in hostile:
        status, _, text = ask(bench, "POST", "edit", edit)
        assert status in (409, 422), (edit, status, text)
        assert "\n" not in json.loads(text)["error"] and "Error" not in json.loads(text)["error"].split(":")[0]
    assert ask(bench, "GET", "text")[2] == before
    assert ask(bench, "POST", "tune", {})[0] == 200  # no goal: told as the job's fault, not a crash
    limit = time.monotonic() + 30
    while state(bench)["job"]["state"] == "working" and time.monotonic() < limit:
        time.sleep(0.1)
    assert state(bench)["job"]["state"] == "failed"
    assert ask(bench, "POST", "tune/take", {})[0] == 422
    assert ask(bench, "POST", "job/clear", {})[0] == 200


def test_names_of_marks_stay_names(bench: Room) -> None:
    names = [
        'x"]\n[evil]\nbox = 1',
        "../../etc/passwd",
        "<script>alert(1)</script>",
        "a.b.c",
        "\u202egnp.exe",
        "'",
        '"',
        "# remark",
        "\\",
        "a" * 80,
        "[x]",
        "\U0001f3bb",
    ]
    marks = [{"name": n, "box": [0.1, 0.1, 0.2, 0.2], "role": n, "level": 20.5} for n in names]
    status, _, text = ask(bench, "POST", "marks", {"still": 1, "marks": marks})
    assert status == 200, text
    assert [m["name"] for m in json.loads(text)["measured"]] == names
    for bad in (
        [-0.1, 0, 0.5, 0.5],
        [0, 0, 1.1, 1],
        [0, 0, 1],
        [0, 0, 0, 0],
        [1, 1, 0.5, 0.5],
        ["0", 0, 1, 1],
        [0, 0, None, 1],
    ):
        assert ask(bench, "POST", "marks", {"still": 1, "marks": [{"name": "x", "box": bad}]})[0] == 422, bad
    for bad_marks in (
        marks[:1] * 2,
        [marks[0] | {"name": ""}],
        [marks[0] | {"level": 101}],
        [marks[0] | {"name": f"m{i}"} for i in range(65)],
    ):
        assert ask(bench, "POST", "marks", {"still": 1, "marks": bad_marks})[0] == 422
    try:
        assert ask(bench, "POST", "marks/save", {})[0] == 200
        found = read_marks(bench.marks)
        assert [m.name for m in found["door"]] == names and [m.role for m in found["door"]] == names
        assert found["bench"][0].level == 40 and bench.marks.read_text().startswith("# Boxes of the test stills.\n")
    finally:
        assert ask(bench, "POST", "marks", {"still": 1, "marks": []})[0] == 200
        bench.marks.write_text(MARKS)
        assert json.loads(ask(bench, "POST", "marks/save", {})[2])["saved"] is False  # something else wrote it
        assert bench.marks.read_text() == MARKS
        ask(bench, "POST", "marks/save", {"overwrite": True})
        bench.marks.write_text(MARKS)


# -- quick hands -------------------------------------------------------------------------------------------------------


def test_200_fast_slider_events_of_two_windows_the_newest_is_what_is_shown(bench: Room) -> None:
    number = step(bench, "split")
    text = ask(bench, "GET", "text")[2].decode()
    fates: dict[str, list[int]] = {"left": [], "right": []}
    last: dict[str, tuple[float, bytes]] = {}

    def window(name: str, low: float) -> None:
        values = [low + i * 0.001 for i in range(200)]
        lock = threading.Lock()

        def send(part: list[float]) -> None:
            for value in part:
                body = {"changes": [{"step": number, "path": ["pull"], "value": value}], "size": 9}
                status, _, content = ask(bench, "POST", "preview", body, {"X-Client": name})
                with lock:
                    fates[name].append(status)
                    if value == values[-1]:
                        last[name] = value, content

        # Four at once, as a hand that does not wait for answers; the last one alone, after all others were sent.
        threads = [threading.Thread(target=send, args=(values[k:-1:4],)) for k in range(4)]
        for t in threads:
            t.start()
        for t in threads:
            t.join()
        send(values[-1:])

    windows = [threading.Thread(target=window, args=(name, low)) for name, low in (("left", 0.1), ("right", 0.4))]
    for w in windows:
        w.start()
    for w in windows:
        w.join(60)
    for name in fates:
        assert len(fates[name]) == 200 and set(fates[name]) <= {200, 204}
        value, content = last[name]
        (length,) = struct.unpack_from("<I", content)
        told = json.loads(content[4 : 4 + length])
        found = np.frombuffer(content, "<u2", offset=4 + length).reshape(-1, 3) / 65535.0
        size = told["size"]
        change = {"step": number, "path": ["pull"], "value": value}
        words = json.loads(ask(bench, "POST", "words", {"changes": [change]})[2])["words"][str(number)]
        assert words.startswith("gathers hues") and f"pull {value:g}" in words
        look = parse_look(text.replace("pull = 0.3 ", f"pull = {value!r} "))
        assert np.abs(found - compile_look(look)(grid(size).reshape(-1, 3))).max() <= 0.51 / 65535
    assert ask(bench, "GET", "text")[2].decode() == text  # on their way they change nothing


def test_two_windows_that_edit_at_once_lose_nothing(bench: Room) -> None:
    before = ask(bench, "GET", "text")[2]
    undo = state(bench)["undo"]
    split, exposure = step(bench, "split"), step(bench, "exposure")
    wrong: list[Any] = []

    def window(number: int, name: str, values: list[float]) -> None:
        for value in values:
            edit = {"do": "set", "changes": [{"step": number, "path": [name], "value": value}]}
            status, _, text = ask(bench, "POST", "edit", edit, {"X-Client": name})
            own = next(s for s in json.loads(text)["steps"] if s["id"] == number)
            seen = next(p["value"] for p in own["parameters"] if p["label"] == name)
            if status != 200 or abs(seen - value) > 1e-9:
                wrong.append((status, value, seen))

    a, b = [round(0.31 + i * 0.01, 2) for i in range(20)], [round(-1 + i * 0.02, 2) for i in range(20)]
    threads = [threading.Thread(target=window, args=w) for w in ((split, "pull", a), (exposure, "stops", b))]
    for t in threads:
        t.start()
    for t in threads:
        t.join(60)
    assert not wrong
    text = ask(bench, "GET", "text")[2].decode()
    assert f"pull = {a[-1]}" in text and f"stops = {b[-1]}" in text and "# faces first" in text
    for _ in range(40):  # every single one is there to be undone
        assert ask(bench, "POST", "undo", {})[0] == 200
    assert ask(bench, "GET", "text")[2] == before
    assert state(bench)["undo"] == undo


def test_a_window_that_holds_a_step_another_took_out_is_told(bench: Room) -> None:
    number = step(bench, "saturation")
    assert ask(bench, "POST", "edit", {"do": "remove", "step": number})[0] == 200
    for path, body in (
        ("preview", {"changes": [{"step": number, "path": ["amount"], "value": 1.0}]}),
        ("edit", {"do": "set", "changes": [{"step": number, "path": ["amount"], "value": 1.0}]}),
    ):
        status, _, text = ask(bench, "POST", path, body)
        assert status == 409 and json.loads(text)["gone"] is True
    assert ask(bench, "POST", "undo", {})[0] == 200
    assert step(bench, "saturation") == number


def test_many_idle_connections_do_not_shut_its_owner_out(bench: Room) -> None:
    idle = [socket.create_connection(("127.0.0.1", bench.port)) for _ in range(100)]
    try:
        assert ask(bench, "GET", "state")[0] == 200
    finally:
        for s in idle:
            s.close()


# -- its end -----------------------------------------------------------------------------------------------------------


def children(pid: int) -> list[int]:
    found = []
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                parent = int((entry / "stat").read_text().rsplit(")", 1)[1].split()[1])
            except (OSError, IndexError):
                continue
            if parent == pid:
                found.append(int(entry.name))
    return found


@pytest.mark.parametrize("how", [signal.SIGHUP, signal.SIGTERM, signal.SIGKILL])
def test_closing_the_terminal_ends_it_and_its_helpers(tmp_path: Path, how: signal.Signals) -> None:
    room = start(tmp_path)
    try:
        limit = time.monotonic() + 20
        while not (helpers := children(room.process.pid)) and time.monotonic() < limit:
            time.sleep(0.05)  # the first check begins by itself
        assert helpers
        waiting = socket.create_connection(("127.0.0.1", room.port))
        line = f"GET /api/events?after=999 HTTP/1.1\r\nHost: 127.0.0.1:{room.port}\r\nX-Lookwright-Token: {room.token}\r\n\r\n"
        waiting.sendall(line.encode())
        room.process.send_signal(how)
        room.process.wait(timeout=15)
        limit = time.monotonic() + 15
        while (alive := [p for p in helpers if os.path.exists(f"/proc/{p}/exe")]) and time.monotonic() < limit:
            time.sleep(0.05)
        assert not alive
        waiting.close()
        with pytest.raises(ConnectionRefusedError):
            socket.create_connection(("127.0.0.1", room.port), timeout=2)
        assert "Traceback" not in (room.process.stdout.read() if room.process.stdout else "")
    finally:
        room.process.kill()
        if room.process.stdout:
            room.process.stdout.close()


def test_a_taken_port_is_one_clear_line(bench: Room) -> None:
    command = [sys.executable, "-m", "lookwright", "bench", str(bench.look), "--stills", str(bench.stills), "--no-open"]
    done = subprocess.run([*command, "--port", str(bench.port)], capture_output=True, text=True, timeout=60)
    assert done.returncode == 2
    assert "in use by another program" in done.stderr and len(done.stderr.strip().splitlines()) <= 2
