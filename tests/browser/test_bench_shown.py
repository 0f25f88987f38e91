"""What is shown is what it says: as delivered, exactly, under the hand, from a version, a reference, for another screen."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from lookwright.assess.measure.levels import level
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.read import parse_look
from lookwright.pictures.stills import Mark, read, region

from .conftest import LOOK, Page, end, start
from .test_bench import CODE, drag, exact, off

CHOOSE = """
const list = document.getElementById(arguments[0]);
list.value = arguments[1];
list.dispatchEvent(new Event('change'));
return list.value;"""


def test_as_delivered_is_what_preview_writes_and_exact_is_the_library(page: Page, tmp_path: Path) -> None:
    """Both within what is asked of them: a code of 255 for the one, half a code for the other."""
    still = page.room.stills / "bench.png"
    assert off(page.picture(), exact(LOOK, still)) <= 0.5 * CODE + 1e-6
    for size in (17, 33, 65):
        out = tmp_path / str(size)
        command = [sys.executable, "-m", "lookwright", "preview", str(page.room.look), "--stills", str(still)]
        command += ["--out", str(out), "--size", str(size), "--format", "png"]
        subprocess.run(command, check=True, capture_output=True)
        (written,) = out.glob("*.png")
        assert page.js(CHOOSE, "show-first", f"lut:{size}") == f"lut:{size}"
        page.rest()
        assert off(page.picture(), read(written).pixels) <= CODE, size
        assert "plainly" in page.find("#rest").text and f"{size} points" in page.find("#says").text
    page.js(CHOOSE, "show-first", "now")
    page.rest()
    # The coarsest of them can be told from the look itself.
    assert off(page.picture(), exact(LOOK, still)) <= 0.5 * CODE + 1e-6


def test_no_side_is_offered_that_cannot_be_shown(page: Page) -> None:
    sides = page.js("return [...document.querySelectorAll('#show-first option')].map((o) => o.value)")
    assert {"now", "plain", "saved", "lut:33"} <= set(sides)
    for side in sides:  # each comes to rest, exact
        page.js(CHOOSE, "show-first", side)
        page.rest()
    page.js(CHOOSE, "show-first", "now")


def test_levels_and_the_sentence_follow_the_hand(page: Page) -> None:
    script = "return document.querySelector('#mark-rows .level').textContent"
    before = float(page.js(script).split()[0])
    release = drag(page, page.row("exposure", "stops"), 60)
    page.until("return document.querySelector('.card[data-kind=exposure] .words').classList.contains('moving')")
    page.until(f"return Math.abs(parseFloat({script[7:]}) - {before}) > 3")
    limit = time.monotonic() + 20
    still = page.room.stills / "bench.png"
    box = region(read(still).pixels.astype(np.float64), Mark("wall", (0.1, 0.1, 0.3, 0.3)))

    def wanted() -> tuple[float, float]:
        value = page.value("exposure", "stops")
        look = parse_look(LOOK.replace("stops = 0.2 ", f"stops = {value} "))
        return value, level(compile_look(look)(box), look.output.signal()).luma.median

    while abs(float(page.js(script).split()[0]) - wanted()[1]) > 0.5 and time.monotonic() < limit:
        time.sleep(0.1)
    # 128 of the mark's 2,900 pixels while it moves, evenly over their order: half a percent is more than they miss.
    assert float(page.js(script).split()[0]) == pytest.approx(wanted()[1], abs=0.5)
    assert f"{wanted()[0]:g}" in page.js(
        "return document.querySelector('.card[data-kind=exposure] .words').textContent"
    )
    assert page.js(
        "return document.getElementById('restraint-summary').classList.contains('old') || /hand/.test(document.getElementById('restraint-summary').textContent)"
    )
    assert page.find("#rest").text == "moving"
    page.until("return document.getElementById('restraint-summary').textContent.startsWith('Under the hand')")
    release.release().perform()
    page.rest()
    page.until(f"return Math.abs(parseFloat({script[7:]}) - {wanted()[1]}) < 0.06")


def test_any_two_are_compared(page: Page, tmp_path: Path) -> None:
    still = page.room.stills / "bench.png"
    other = LOOK.replace("stops = 0.2 ", "stops = -0.8 ")
    page.js("[...document.querySelectorAll('#panel-names button')].find((b) => b.textContent === 'Versions').click()")
    name = page.find("#versions input[type=text]")
    name.send_keys("before \u201cnight\u201d\n")
    page.until("return document.querySelectorAll('#show-second option[value^=version]').length === 1")
    page.type("exposure", "stops", "-0.8")
    page.until("return document.getElementById('undo').title.includes('-0.8')")
    page.rest()
    now, then = exact(other, still), exact(LOOK, still)
    id = page.js("return document.querySelector('#show-second option[value^=version]').value")
    page.js(CHOOSE, "show-second", id)  # one picture becomes a wipe: what was chosen is seen
    page.rest()
    seen = page.picture()
    assert off(seen[:, :119], then[:, :119]) <= CODE and off(seen[:, 121:], now[:, 121:]) <= CODE
    guest = tmp_path / "guest.toml"
    guest.write_text(LOOK.replace("amount = 1.1", "amount = 0"))
    page.find("#versions input[type=file]").send_keys(str(guest))
    page.until("return document.getElementById('show-second').value.startsWith('guest')")
    page.click("input[value=other]")
    page.rest()
    assert off(page.picture(), exact(guest.read_text(), still)) <= CODE
    for side, wanted in (("saved", then), ("plain", exact(other, still, plain=True))):
        page.js(CHOOSE, "show-second", side)
        page.rest()
        assert off(page.picture(), wanted) <= CODE, side
    # Back by the history, and by the version.
    page.js("document.querySelectorAll('#history button')[1].click()")  # the newest stands first
    page.until("return document.getElementById('redo').title.includes('-0.8')")
    assert page.value("exposure", "stops") == 0.2
    page.click("#redo")
    page.until("return document.getElementById('undo').title.includes('-0.8')")
    page.js("[...document.querySelectorAll('#versions button')].find((b) => b.textContent === 'Go back to it').click()")
    page.until("return document.getElementById('undo').title.includes('version before')")
    assert page.value("exposure", "stops") == 0.2
    page.js("[...document.querySelectorAll('#versions button')].find((b) => b.textContent === '\u00d7').click()")
    page.until("return document.getElementById('ask').open")
    page.js("document.querySelector('#ask .main').click()")
    page.until("return !document.querySelector('#show-second option[value^=version]')")
    page.click("input[value=one]")
    page.rest()


def test_blinking_is_slow_and_begins_only_when_told(page: Page) -> None:
    still = page.room.stills / "bench.png"
    after, before = exact(LOOK, still), exact(LOOK, still, plain=True)
    page.click("input[value=blink]")
    page.until("return document.getElementById('ask').open")
    assert "epilepsy" in page.find("#ask").text
    time.sleep(1.2)
    page.rest()
    assert off(page.picture(), after) <= CODE
    page.js("document.getElementById('blink-seconds').value = '0.05'; document.querySelector('#ask .main').click()")
    turns = page.js("""
        return new Promise((done) => {
            const says = document.getElementById('says'), at = [];
            new MutationObserver(() => at.push(performance.now())).observe(says, { childList: true, characterData: true, subtree: true });
            setTimeout(() => done(at), 4000);
        });""")
    assert len(turns) >= 3 and min(np.diff(turns)) > 400  # half a second each, whatever was typed
    page.until("return document.getElementById('says').textContent.includes('plain')")
    page.until("return document.getElementById('picture').dataset.exact === 'true'")
    page.js("document.dispatchEvent(new KeyboardEvent('keydown', { key: 'Escape', bubbles: true }))")
    page.rest()
    assert off(page.picture(), after) <= CODE and np.abs(after - before).max() > 10 * CODE


def test_the_screen_is_told_codes_or_the_light_they_mean(page: Page) -> None:
    """BT.1886 codes (gamma 2.4, ITU-R BT.1886) to sRGB (IEC 61966-2-1): the same light, another code."""
    still = page.room.stills / "bench.png"
    codes = np.rint(exact(LOOK, still) * 255.0) / 255.0
    assert "gamma 2.4" in page.find("#screen-as").get_attribute("title")
    page.click("#screen-as")
    light = codes**2.4
    wanted = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    page.until("return document.getElementById('screen-as').getAttribute('aria-pressed') === 'true'")
    assert off(page.picture(), wanted) <= CODE
    page.click("#screen-as")
    assert off(page.picture(), codes) <= CODE


def test_a_small_still_fills_the_table_and_the_wheel_goes_closer(page: Page) -> None:
    page.click("input[name=zoom][value='0']")
    page.rest()
    drawn = page.canvas()
    tall, wide = drawn.shape[:2]
    scale = min(wide / 240, tall / 135, 4)
    assert scale > 1.5
    inside = (np.abs(drawn.astype(int) - 0x3C) > 2).any(axis=2)
    columns = np.flatnonzero(inside.any(axis=0))
    assert abs(columns[-1] - columns[0] + 1 - 240 * scale) <= 2
    # Enlarged by a part of a pixel neighbours are mixed: seen from afar it is the picture.
    whole = exact(LOOK, page.room.stills / "bench.png")
    rows = np.flatnonzero(inside.any(axis=1))
    part = drawn[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1] / 255.0
    assert np.abs(part.mean(axis=(0, 1)) - whole.mean(axis=(0, 1))).max() < 0.01
    turn = """
        const table = document.getElementById('stage'), box = table.getBoundingClientRect();
        table.dispatchEvent(new WheelEvent('wheel', { deltaY: arguments[0], bubbles: true, cancelable: true, clientX: box.x + 60, clientY: box.y + 60 }));
        return Number(document.getElementById('says').textContent.match(/(\\d+) %/)[1]);"""
    before = page.js(turn, -1)
    closer = [page.js(turn, -100) for _ in range(4)][-1]
    assert closer > 1.5 * before
    page.rest()
    back = [page.js(turn, 120) for _ in range(12)][-1]
    assert back == round(scale * 100)
    page.rest()


@pytest.fixture
def display(tmp_path: Path) -> Any:
    """A bench on a still that is a finished picture already, one that cannot be read, and a reference."""
    from lookwright.pictures.stills import write

    stills = tmp_path / "stills"
    stills.mkdir()
    source = tmp_path / "evening.png"
    whole = read(Path(__file__).parents[2] / "sample_images/day_acescct.png").pixels[::4, ::4]
    finished = compile_look(parse_look(LOOK))(whole.astype(np.float64))
    write(stills / "finished.png", np.clip(finished, 0, 1).astype(np.float32))
    write(source, np.clip(finished, 0, 1).astype(np.float32))
    (stills / "broken.png").write_bytes(b"\x89PNG\r\n\x1a\n not a picture")
    room = start(tmp_path, LOOK, "--reference", str(source))
    yield room
    end(room)


def test_doubts_faults_and_references_are_seen(chromium: Any, display: Any) -> None:
    page = Page(chromium, display)
    page.open()
    names = page.js("return [...document.querySelectorAll('#strip button')].map((b) => b.title)")
    click = "document.querySelectorAll('#strip button')[arguments[0]].click()"
    page.js(click, names.index("finished.png"))
    page.until("return /Doubt about finished.png/.test(document.getElementById('message').innerText)")
    page.until("return document.querySelector('#findings .doubt')")
    said = page.js("return document.getElementById('findings').innerText")
    assert "broken.png" in said and "finished.png" in said
    assert "cannot" not in page.js("return document.getElementById('restraint-summary').textContent")
    page.js("document.querySelector('#message button').click()")
    broken = [i for i, n in enumerate(names) if "broken" in n]
    if broken:
        page.js(click, broken[0])
        page.until("return /broken/.test(document.getElementById('message').innerText)")
        assert not page.js("return document.getElementById('stage').classList.contains('waiting')")
    page.js(click, names.index("bench.png"))
    page.until("return document.getElementById('says').textContent.startsWith('bench')")
    page.js(CHOOSE, "show-second", "reference:0")
    page.click("input[value=other]")
    page.rest()
    drawn = page.canvas() / 255.0
    wanted = read(display.look.parent / "evening.png").pixels
    inside = (np.abs(drawn * 255.0 - 0x3C) > 2).any(axis=2)
    rows, columns = np.flatnonzero(inside.any(axis=1)), np.flatnonzero(inside.any(axis=0))
    part = drawn[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    assert np.abs(part.mean(axis=(0, 1)) - wanted.mean(axis=(0, 1))).max() < 0.01
    page.js(
        "window.addEventListener('beforeunload', (e) => e.stopImmediatePropagation(), true); sessionStorage.clear()"
    )
    chromium.get("about:blank")
