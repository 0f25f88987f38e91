"""Nothing done on the bench is lost, however it ends; and nobody else on the machine can shut its owner out."""

from __future__ import annotations

import contextlib
import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable
from http.client import HTTPConnection
from pathlib import Path
from typing import Any

import pytest

from lookwright.pictures.batch import UNFINISHED

from .conftest import LOOK, Page, Room, end, start


def ask(room: Room, method: str, path: str, body: Any = None, seconds: float = 30.0) -> Any:
    headers = {"X-Lookwright-Token": room.token, "Content-Type": "application/json"}
    connection = HTTPConnection("127.0.0.1", room.port, timeout=seconds)
    try:
        connection.request(method, f"/api/{path}", None if body is None else json.dumps(body), headers)
        answer = connection.getresponse()
        data = answer.read()
        assert answer.status == 200, data
        return json.loads(data)
    finally:
        connection.close()


def edit(room: Room, amount: float) -> None:
    """Saturation to ``amount``, and one mark more."""
    number = next(s["id"] for s in ask(room, "GET", "state")["steps"] if s["kind"] == "saturation")
    ask(room, "POST", "edit", {"do": "set", "changes": [{"step": number, "path": ["amount"], "value": amount}]})
    mark = {"name": "lamp", "box": [0.5, 0.5, 0.2, 0.2], "level": None, "role": "lamp"}
    ask(room, "POST", "marks", {"still": 1, "marks": [mark], "keep": True})


def again(room: Room) -> Room:
    """Another bench on the same files, as they lie."""
    command = [sys.executable, "-m", "lookwright", "bench", str(room.look), "--stills", str(room.stills), "--no-open"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    assert process.stdout is not None
    line = process.stdout.readline()
    assert line.startswith("bench: http"), line
    return Room(line.split()[1], room.look, room.stills, room.marks, room.out, process)


def until(true: Callable[[], bool], seconds: float = 20.0) -> None:
    limit = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < limit
        time.sleep(0.02)


def unsaved(room: Room) -> list[Path]:
    """What is kept there, complete; a file that is still being written is none yet, and a kill leaves it behind."""
    return sorted(p for p in room.look.parent.rglob("*.unsaved*") if not p.name.startswith(UNFINISHED))


def gone(room: Room) -> None:
    room.process.wait(timeout=20)
    assert room.process.stdout is not None
    room.process.stdout.close()


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGKILL, signal.SIGHUP])
def test_unsaved_work_is_offered_at_the_next_start(how: signal.Signals, tmp_path: Path) -> None:
    room = start(tmp_path)
    edit(room, 1.3)
    until(lambda: len(unsaved(room)) == 2)
    room.process.send_signal(how)
    try:
        room.process.wait(timeout=20)
    finally:
        room.process.kill()
    said = room.process.stdout.read() if room.process.stdout else ""
    gone(room)
    if how == signal.SIGINT:
        assert "What was not saved is in" in said and "evening.toml.unsaved" in said and "marks.toml.unsaved" in said
    assert room.look.read_text() == LOOK, "the look itself is only written when the user says so"
    room = again(room)
    try:
        assert ask(room, "GET", "state")["unsaved"] == ["evening.toml.unsaved", "marks.toml.unsaved"]
        state = ask(room, "POST", "unsaved", {"do": "take"})
        assert state["unsaved"] == [] and state["dirty"] and state["undo"] and state["marks_dirty"]
        assert "amount = 1.3" in state["text"]
        assert [m["name"] for m in ask(room, "GET", "still/1")["marks"]] == ["lamp"]
        ask(room, "POST", "save", {})
        ask(room, "POST", "marks/save", {})
        assert "amount = 1.3" in room.look.read_text() and "lamp" in room.marks.read_text()
        until(lambda: unsaved(room) == [])
    finally:
        end(room)


def test_thrown_away_or_put_off(tmp_path: Path) -> None:
    room = start(tmp_path)
    edit(room, 1.3)
    until(lambda: len(unsaved(room)) == 2)
    end(room)
    room = again(room)
    ask(room, "POST", "unsaved", {"do": "later"})
    edit(room, 1.2)  # has a file of its own meanwhile
    until(lambda: len(unsaved(room)) == 4)
    ask(room, "POST", "undo", {})  # the mark
    ask(room, "POST", "undo", {})  # the number
    end(room)
    room = again(room)
    assert "evening.toml.unsaved" in ask(room, "GET", "state")["unsaved"]
    ask(room, "POST", "unsaved", {"do": "drop"})
    assert not (room.look.parent / "evening.toml.unsaved").exists()
    assert "amount = 1.1" in ask(room, "GET", "state")["text"]
    end(room)


def test_saved_or_undone_work_leaves_no_file(tmp_path: Path) -> None:
    room = start(tmp_path)
    edit(room, 1.3)
    until(lambda: len(unsaved(room)) == 2)
    ask(room, "POST", "marks/save", {})
    ask(room, "POST", "undo", {})
    ask(room, "POST", "undo", {})
    ask(room, "POST", "marks/save", {})
    until(lambda: unsaved(room) == [])
    end(room)
    assert unsaved(room) == []


def test_a_second_bench_on_the_same_look_keeps_to_itself(tmp_path: Path) -> None:
    one = start(tmp_path)
    edit(one, 1.3)
    until(lambda: len(unsaved(one)) == 2)
    two = again(one)
    assert ask(two, "GET", "state")["unsaved"] == [], "the first is at work on it"
    edit(two, 0.8)
    until(lambda: len(unsaved(one)) == 4)
    texts = {p.name: p.read_text() for p in unsaved(one)}
    assert "amount = 1.3" in texts["evening.toml.unsaved"] and "amount = 0.8" in texts["evening.toml.unsaved-2"]
    end(two)
    end(one)


@pytest.mark.parametrize("room", [LOOK], indirect=True)
def test_a_closed_tab_loses_nothing_and_the_page_offers_what_is_unsaved(page: Page, chromium: Any) -> None:
    room = page.room
    page.type("saturation", "amount", "1.25")
    page.until("return document.title.startsWith('* ')")
    chromium.get("about:blank")
    page.open()
    assert page.value("saturation", "amount") == 1.25
    until(lambda: len(unsaved(room)) == 1)
    chromium.get("about:blank")
    page.errors()  # Chromium's note that nobody touched this page, so that it need not ask before leaving
    room.process.kill()
    gone(room)
    renew(room)
    page.requests()
    page.open()
    page.until("return document.getElementById('ask').open")
    if os.environ.get("SHOTS"):
        page.driver.save_screenshot(os.environ["SHOTS"] + "/offer.png")
    assert "evening.toml.unsaved" in page.find("#ask").text
    page.js("[...document.querySelectorAll('#ask button')].find((b) => b.textContent === 'Take it up').click()")
    page.until("return document.title.startsWith('* ')")
    page.rest()
    assert page.value("saturation", "amount") == 1.25
    assert page.errors() == []
    # Its server is gone: the page still has the text, and gives it away.
    room.process.kill()
    gone(room)
    page.until("return document.body.dataset.ended === 'true'")
    if os.environ.get("SHOTS"):
        page.driver.save_screenshot(os.environ["SHOTS"] + "/ended.png")
    text = page.js("return document.querySelector('#ask textarea').value")
    assert "amount = 1.25" in text and "# a third is plenty" in text
    page.js(
        "window.copied = null; navigator.clipboard.writeText = async (t) => { window.copied = t; };"
        "[...document.querySelectorAll('#ask button')].find((b) => b.textContent === 'Copy the recipe').click()"
    )
    page.until("return window.copied !== null")
    assert page.js("return window.copied") == text
    page.js("window.addEventListener('beforeunload', (e) => e.stopImmediatePropagation(), true)")
    chromium.get("about:blank")
    page.errors()  # that the server cannot be reached any more
    page.requests()
    renew(room)  # the fixtures find a living bench again
    chromium.get(room.url)


def renew(room: Room) -> None:
    """Another bench in the place of one that is gone."""
    other = again(room)
    room.process, room.url = other.process, other.url


# -- who may hold a place ----------------------------------------------------------------------------------------------


def half_sent(port: int, count: int, text: bytes) -> list[socket.socket]:
    found = []
    for _ in range(count):
        one = socket.create_connection(("127.0.0.1", port))
        one.sendall(text)
        found.append(one)
    return found


@pytest.mark.parametrize(
    "text",
    [
        b"GET /api/state HTTP/1.1\r\nHost: 127.0.0.1",
        b"GET / HTTP/1.1\r\nHost: 127.0.0.1:PORT\r\n\r\n",
        b"POST / HTTP/1.1\r\nHost: 127.0.0.1:PORT\r\nContent-Length: 100\r\n\r\nx",
        b"",
    ],
)
def test_half_sent_requests_do_not_shut_the_owner_out(text: bytes, shared: Room) -> None:
    """127 of them, and then as many again, as another user of the machine can send; the owner is answered at once."""
    sent = text.replace(b"PORT", str(shared.port).encode())
    held = half_sent(shared.port, 127, sent)
    try:
        for _ in range(5):
            started = time.monotonic()
            assert ask(shared, "GET", "state", seconds=10)["title"]
            assert time.monotonic() - started < 5
            held += half_sent(shared.port, 60, sent)
        page = HTTPConnection("127.0.0.1", shared.port, timeout=10)
        page.request("GET", "/")
        assert page.getresponse().status == 200
        page.close()
    finally:
        for one in held:
            one.close()


def test_a_half_sent_request_is_cut_off(shared: Room) -> None:
    one = half_sent(shared.port, 1, b"GET / HTTP/1.1\r\n")[0]
    one.settimeout(30)
    started = time.monotonic()
    with contextlib.suppress(ConnectionResetError):
        assert one.recv(100) == b""
    assert 5 < time.monotonic() - started < 25
    one.close()


def test_a_window_that_waits_for_news_is_not_cut_off(shared: Room) -> None:
    """It asks and is answered up to 20 s later, over a connection that stays."""
    connection = HTTPConnection("127.0.0.1", shared.port, timeout=40)
    for _ in range(2):
        connection.request("GET", "/api/events?after=999999", None, {"X-Lookwright-Token": shared.token})
        kept = connection.sock
        answer = connection.getresponse()
        assert answer.status == 200
        at = json.loads(answer.read())["at"]
        assert isinstance(at, int) and connection.sock is kept
    connection.close()
    assert os.path.exists(f"/proc/{shared.process.pid}")
