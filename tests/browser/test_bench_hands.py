"""The bench under a keyboard alone, and under hands that do what once went wrong."""

from __future__ import annotations

import json
import time
import urllib.request
from typing import Any

import numpy as np
import pytest

from lookwright.look.recipe.read import read_look
from lookwright.pictures.stills import read, read_marks, write

from .conftest import LOOK, SAMPLES, Page, Room, end, start
from .test_bench import CODE, exact, off
from .test_bench_unsaved import ask


class Keyboard:
    """Keys and nothing else."""

    def __init__(self, page: Page) -> None:
        from selenium.webdriver.common.keys import Keys

        self.page, self.keys = page, Keys

    def press(self, *several: str, control: bool = False, shift: bool = False, alt: bool = False) -> None:
        from selenium.webdriver.common.action_chains import ActionChains

        held = [k for k, on in ((self.keys.CONTROL, control), (self.keys.SHIFT, shift), (self.keys.ALT, alt)) if on]
        chain = ActionChains(self.page.driver, duration=0)
        for key in held:
            chain.key_down(key)
        for key in several:
            chain.send_keys(key)
        for key in reversed(held):
            chain.key_up(key)
        chain.perform()

    def at(self) -> str:
        """What has the focus, in words."""
        return str(
            self.page.js(
                "const e = document.activeElement; const l = e.labels?.[0]?.textContent; "
                "return [e.closest('.card')?.dataset.kind ?? '', e.tagName, l || e.getAttribute('aria-label') || e.textContent.trim()].join('|')"
            )
        )

    def reach(self, words: str, most: int = 90, back: bool = False) -> None:
        """Tab on until something of these words has the focus, seen to have it."""
        for _ in range(most):
            if words in self.at():
                outline = self.page.js("return getComputedStyle(document.activeElement).outlineStyle")
                assert outline != "none", words
                return
            self.press(self.keys.TAB, shift=back)
        raise AssertionError(f"no way to {words} with the Tab key")


@pytest.mark.parametrize("room", [LOOK], indirect=True)
def test_a_keyboard_alone_makes_a_look_from_start_to_delivery(page: Page) -> None:
    keyboard = Keyboard(page)
    keys = keyboard.keys
    page.js("document.activeElement.blur()")
    page.js("document.body.tabIndex = -1; document.body.focus(); document.body.removeAttribute('tabindex')")
    # A step opened, its ruler moved, a value typed.
    keyboard.reach("exposure|BUTTON|exposure")
    keyboard.press(keys.ENTER)
    keyboard.reach("exposure|INPUT|stops")
    keyboard.press(keys.ARROW_RIGHT, keys.ARROW_RIGHT)
    page.until("return document.getElementById('undo').title.includes('exposure stops')")
    keyboard.press(keys.TAB)
    keyboard.press("a", control=True)
    keyboard.press("0.35", keys.ENTER)
    page.until("return document.getElementById('undo').title.includes('0.35')")
    # A step added comes open, with its first ruler under the hand; then it goes elsewhere.
    keyboard.reach("SELECT|Another step")
    keyboard.press("contr")
    keyboard.press(keys.TAB, keys.ENTER)
    page.until("return document.querySelector('.card[data-kind=contrast].open')")
    page.until("return document.activeElement.closest('.card')?.dataset.kind === 'contrast'")
    keyboard.press(keys.PAGE_UP)
    page.until("return document.getElementById('undo').title.includes('contrast slope')")
    keyboard.reach("contrast|BUTTON|contrast", back=True)
    keyboard.press(keys.ARROW_UP, alt=True)
    page.until("return document.getElementById('undo').title.includes('moved contrast')")
    # A mark in the middle, moved and sized by arrows, and its level.
    keyboard.reach("BUTTON|Add")
    while keyboard.at() != "|BUTTON|Add":
        keyboard.press(keys.TAB)
        keyboard.reach("BUTTON|Add")
    keyboard.press(keys.ENTER)
    page.until("return document.activeElement.classList.contains('mark')")
    keyboard.press(keys.ARROW_LEFT, keys.ARROW_LEFT)
    keyboard.press(keys.ARROW_DOWN, shift=True)
    page.until("return document.getElementById('undo').title.includes('mark 1')")
    time.sleep(0.8)
    keyboard.reach("Level wanted at mark 1")
    keyboard.press("40", keys.TAB)
    page.until("return document.getElementById('undo').title.includes('mark 1')")
    # Comparing, another still, a version.
    keyboard.reach("CANVAS|The still", back=True)
    keyboard.press("w")
    page.until("return !document.getElementById('wipe').hidden")
    keyboard.press("]")
    page.until("return document.getElementById('says').textContent.startsWith('door')")
    keyboard.press("[", "l", "v")
    page.until("return document.activeElement.placeholder === 'name'")
    keyboard.press("evening", keys.ENTER)
    page.until("return document.querySelectorAll('#show-second option[value^=version]').length === 1")
    # Saved and delivered.
    keyboard.press("s", control=True)
    page.until("return document.getElementById('save').textContent === 'Saved'")
    keyboard.press("d", control=True)
    if not page.js("return document.getElementById('ask').open"):
        keyboard.reach("BUTTON|Deliver")
        keyboard.press(keys.ENTER)
    page.until("return document.getElementById('ask').open")
    keyboard.reach("Sample the lattices plainly")
    keyboard.press(keys.SPACE)
    keyboard.reach("BUTTON|Deliver")
    keyboard.press(keys.ENTER)
    page.until("return document.getElementById('ask').innerText.includes('Delivered into')", 240)
    look = read_look(page.room.look)
    assert [s.kind for s in look.steps] == ["exposure", "split", "contrast", "saturation", "print", "gamut"]
    assert look.steps[0].stops == 0.35  # type: ignore[attr-defined]
    marks = {m.name: m for m in read_marks(page.room.marks)["bench"]}
    assert marks["mark 1"].level == 40 and marks["wall"].level == 40
    assert list(page.room.out.rglob("*.cube"))


def test_a_number_field_never_shows_what_the_look_does_not_have(page: Page) -> None:
    from selenium.webdriver.common.by import By
    from selenium.webdriver.common.keys import Keys

    def field() -> Any:
        return page.row("exposure", "stops").find_element(By.CSS_SELECTOR, "input[type=text]")

    page.type("exposure", "stops", "0.6")
    page.until("return document.getElementById('undo').title.includes('0.6')")
    page.rest()
    field().send_keys(Keys.CONTROL, "z")  # nothing was typed: the edit is undone, and the field follows
    page.until("return document.getElementById('redo').title.includes('0.6')")
    assert page.value("exposure", "stops") == 0.2
    field().click()
    field().send_keys(Keys.CONTROL, "a")
    field().send_keys("1.7")
    field().send_keys(Keys.CONTROL, "z")  # something was: that alone is taken back
    assert (
        page.value("exposure", "stops") == 0.2
        and page.js("return document.getElementById('redo').title").find("0.6") > 0
    )
    for text in ("abc", "99", ""):
        field().click()
        field().send_keys(Keys.CONTROL, "a")
        field().send_keys(text or Keys.BACKSPACE)
        assert field().get_attribute("aria-invalid") == "true", text
        field().send_keys(Keys.ESCAPE)
        assert page.value("exposure", "stops") == 0.2 and field().get_attribute("aria-invalid") is None
    field().click()
    field().send_keys(Keys.CONTROL, "a")
    field().send_keys("abc", Keys.TAB)
    assert page.value("exposure", "stops") == 0.2


def test_what_is_refused_is_shown_as_it_is(page: Page) -> None:
    page.js("document.querySelector('.card[data-kind=print] .on input').click()")
    page.until("return !document.getElementById('message').hidden")
    assert any("422" in text for text in page.errors())  # the browser's own note of a refused request
    assert page.js("return document.querySelector('.card[data-kind=print] .on input').checked")
    assert not page.js("return document.querySelector('.card[data-kind=print]').classList.contains('off')")


def test_marks_are_undone_and_saved_with_the_recipe(page: Page) -> None:
    from selenium.webdriver.common.keys import Keys

    before = page.room.marks.read_text()
    box = page.find("#overlay .mark")
    at = box.get_attribute("style")
    box.send_keys(Keys.ARROW_RIGHT * 5)
    page.until("return document.getElementById('undo').title.includes('mark wall')")
    assert page.find("#overlay .mark").get_attribute("style") != at and "marks.toml" in page.find(
        "#save"
    ).get_attribute("title")
    page.find("#picture").send_keys(Keys.CONTROL, "z")
    page.until("return document.getElementById('redo').title.includes('mark wall')")
    page.until("return document.querySelector('#overlay .mark').getAttribute('style') === arguments[0]", 10, at)
    assert page.find("#save").text == "Saved" and page.room.marks.read_text() == before


def test_the_still_asked_for_last_is_the_one_that_stays(chromium: Any, tmp_path: Any) -> None:
    stills = tmp_path / "stills"
    stills.mkdir()
    small = read(SAMPLES / "wide_acescct.png").pixels
    write(stills / "a_large.png", np.tile(small, (2, 2, 1)).astype(np.float32))
    room: Room = start(tmp_path)
    try:
        page = Page(chromium, room)
        page.open()
        names = page.js("return [...document.querySelectorAll('#strip button')].map((b) => b.title)")
        large, other = names.index("a_large.png"), names.index("bench.png")
        page.js("document.querySelectorAll('#strip button')[arguments[0]].click()", names.index("door.png"))
        page.until("return document.getElementById('says').textContent.startsWith('door')")
        page.js(
            "const all = document.querySelectorAll('#strip button'); all[arguments[0]].click(); all[arguments[1]].click()",
            large,
            other,
        )
        page.until("return document.getElementById('says').textContent.startsWith('bench')")
        time.sleep(2.0)
        page.rest()
        assert page.js("return document.getElementById('says').textContent").startswith("bench")
        assert off(page.picture(), exact(LOOK, stills / "bench.png")) <= CODE
        page.js(
            "window.addEventListener('beforeunload', (e) => e.stopImmediatePropagation(), true); sessionStorage.clear()"
        )
        chromium.get("about:blank")
    finally:
        end(room)


def test_targets_texts_and_tab_stops(page: Page) -> None:
    """24 px to hit (WCAG 2.2, 2.5.8), nothing under 12 px to read, one tab stop for all stills and one for all marks."""
    page.row("split", "pull")
    page.click("#tune")
    small = page.js("""
        return [...document.querySelectorAll('button, select, input, summary, [role=separator]')].filter((e) => e.offsetParent && !e.closest('#overlay'))
            .filter((e) => { const b = (e.closest('fieldset label') ?? e).getBoundingClientRect(); return Math.min(b.width, b.height) < 23.5 && !e.matches('[role=separator], [type=checkbox]'); })
            .map((e) => [e.outerHTML.slice(0, 90), e.getBoundingClientRect().width, e.getBoundingClientRect().height]);""")
    assert small == []
    tiny = page.js("""
        return [...document.querySelectorAll('body *')].filter((e) => e.offsetParent && [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim()))
            .filter((e) => parseFloat(getComputedStyle(e).fontSize) < 12).map((e) => e.outerHTML.slice(0, 90));""")
    assert tiny == []
    stops = "return [...document.querySelectorAll(arguments[0])].filter((e) => e.tabIndex >= 0).length"
    assert page.js(stops, "#strip button") == 1 and page.js(stops, "#overlay .mark") == 1
    assert "stops stops" not in page.js("return document.body.innerText.replace(/\\s+/g, ' ')")
    assert page.js("return document.querySelectorAll('.card.open .rows > .row').length") <= 5


@pytest.mark.parametrize(("width", "height", "scale"), [(900, 700, 1), (640, 400, 2), (420, 800, 1), (2560, 1440, 1)])
def test_nothing_lies_over_anything_at_any_size(page: Page, width: int, height: int, scale: int) -> None:
    metrics = {"width": width, "height": height, "deviceScaleFactor": scale, "mobile": False}
    try:
        page.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", metrics)
        page.until("return innerWidth === arguments[0]", 20, width)
        page.rest()
        assert page.js("return document.documentElement.scrollWidth <= innerWidth")
        over = page.js("""
            const parts = ['#recipe', '#tools', '#stage', '#caption', '#tray', '#strip-side'].map((css) => [css, document.querySelector(css).getBoundingClientRect()]);
            const found = [];
            for (const [a, p] of parts) for (const [b, q] of parts) {
                if (a >= b) continue;
                const w = Math.min(p.right, q.right) - Math.max(p.left, q.left), h = Math.min(p.bottom, q.bottom) - Math.max(p.top, q.top);
                if (w > 1 && h > 1) found.push([a, b, w, h]);
            }
            return found;""")
        assert over == []
        assert (
            page.js(
                "const b = document.getElementById('stage').getBoundingClientRect(); return Math.min(b.width, b.height)"
            )
            > 140
        )
    finally:
        size = {"width": 1280, "height": 800, "deviceScaleFactor": 1, "mobile": False}
        page.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)


@pytest.mark.parametrize("room", [LOOK], indirect=True)
def test_a_mark_under_the_hand_is_not_taken_back_by_what_others_did_before(page: Page) -> None:
    """Marks were changed elsewhere; before the page has read them, a run of keys has begun here."""
    page.js("""
        const plain = window.fetch;
        window.fetch = async (path, options) => {
            const answer = await plain(path, options);
            if (path !== '/api/still/0' || window.go) return answer;
            await new Promise((go) => { window.go = go; });
            return answer;
        };
    """)
    about = ask(page.room, "GET", "still/0")
    marks = [{k: m[k] for k in ("name", "box", "level", "role")} for m in about["marks"]]
    marks[0]["box"] = [0.3, *marks[0]["box"][1:]]
    ask(page.room, "POST", "marks", {"still": 0, "marks": marks, "keep": True})
    page.until("return Boolean(window.go)")
    press = "arguments[0].focus(); arguments[0].dispatchEvent(new KeyboardEvent('keydown', { key: 'ArrowRight', bubbles: true }));"
    page.js(press + "window.go();", page.find("#overlay .mark"))
    page.until("return document.getElementById('undo').title.includes('mark wall')")
    time.sleep(0.8)  # longer than a run of keys takes to end, and the page to read marks anew
    here = page.js("return (await import('/marks.js')).marks.list[0].box[0]")
    assert here == pytest.approx(0.104) == ask(page.room, "GET", "still/0")["marks"][0]["box"][0]


@pytest.mark.parametrize("room", [LOOK], indirect=True)
def test_a_moved_mark_is_kept_whatever_comes_between(page: Page) -> None:
    """Its being kept was a wish of the measuring: a look that came to rest at that moment took its place, and a still
    that was opened before a run of keys was over took it away."""

    def box() -> list[float]:
        base, token = page.room.url.split("#")
        asked = urllib.request.Request(base + "api/still/0", headers={"X-Lookwright-Token": token})
        with urllib.request.urlopen(asked, timeout=30) as answer:
            return list(json.load(answer)["marks"][0]["box"])

    def becomes(wanted: float) -> None:
        limit = time.monotonic() + 60
        while box()[0] != pytest.approx(wanted, abs=1e-6):
            assert time.monotonic() < limit, (box(), wanted)
            time.sleep(0.1)

    old = box()[0]
    # Kept, and in the same breath measured again, twice: as when a look comes to rest just then.
    page.js(
        "const { marks } = await import('/marks.js'); marks.list[0].box = [0.2, ...marks.list[0].box.slice(1)]; "
        "marks.again(); marks.changed(); marks.again();"
    )
    becomes(0.2)
    page.until("return document.getElementById('undo').title.includes('mark wall')")
    page.js("document.getElementById('undo').click()")
    becomes(old)
    page.until("return (await import('/marks.js')).marks.list[0].box[0] < 0.15")
    # A run of keys, and another still before it is over.
    mark = page.find("#overlay .mark")
    page.js(
        "arguments[0].focus(); arguments[0].dispatchEvent(new KeyboardEvent('keydown', { key: 'ArrowRight', bubbles: true })); "
        "document.querySelectorAll('#strip button')[1].click()",
        mark,
    )
    becomes(old + 0.004)
    page.until("return document.getElementById('undo').title.includes('mark wall')")
    page.js("document.getElementById('undo').click()")
    becomes(old)
