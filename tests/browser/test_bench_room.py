"""The room on the bench: what is said does not lie over the picture, and panels are whole or not there."""

from __future__ import annotations

import pytest

from .conftest import Page

OVER = """
const of = (id) => document.getElementById(id).getBoundingClientRect();
const a = of(arguments[0]), b = of('picture');
return !(a.right <= b.left || a.left >= b.right || a.bottom <= b.top || a.top >= b.bottom);
"""
SEEN = "return [...document.querySelectorAll('.panel')].filter((p) => p.offsetParent).map((p) => p.id)"


def window(page: Page, width: int, height: int) -> None:
    size = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False}
    page.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
    page.until("return innerWidth === arguments[0]", 20, width)


def test_what_is_said_does_not_lie_over_the_picture(page: Page) -> None:
    try:
        page.js("document.querySelector('.card[data-kind=print] .on input').click()")  # no display light without it
        page.until("return !document.getElementById('message').hidden")
        for width, height in ((1280, 800), (900, 700), (420, 820)):
            window(page, width, height)
            assert "print" in page.message()
            assert not page.js(OVER, "message"), (width, height)
        page.js("document.dispatchEvent(new KeyboardEvent('keydown', { key: 'Escape' }))")
        assert page.message() == ""
    finally:
        window(page, 1280, 800)
    assert len(page.errors()) == 1  # the refusal itself


def test_what_explains_a_layer_does_not_lie_over_the_picture_either(page: Page) -> None:
    page.click("#warnings")
    page.until("return document.querySelector('#warning-key .share').textContent")
    assert not page.js(OVER, "warning-key")
    page.js("[...document.querySelectorAll('#acting button')].find((b) => b.textContent === 'What it changed').click()")
    page.until("return document.getElementById('acting-said').innerText.includes('seen on')")
    assert not page.js(OVER, "acting-said")
    page.click("#warnings")
    page.click("#acting-said button")
    assert not page.js("return document.getElementById('over').offsetParent")


def test_panels_are_whole_or_not_there_and_a_tools_panel_goes_with_the_tool(page: Page) -> None:
    before = page.js(SEEN)
    assert before == ["restraint", "marks", "scopes"]
    page.click("[data-tool=level]")
    page.until("return document.getElementById('level-panel').offsetParent")
    seen = page.js(SEEN)
    assert seen[0] == "level-panel" and 1 < len(seen) < 4  # there is no room for four
    squeezed = """
        const all = document.getElementById('panels');
        const small = [...document.querySelectorAll('.panel')].filter((p) => p.offsetParent &&
          p.getBoundingClientRect().width < parseFloat(p.style.getPropertyValue('--least')) - 1);
        return [all.scrollWidth > all.clientWidth, ...small.map((p) => p.id)];"""
    assert page.js(squeezed) == [False]
    # One that waits for room is had by its name.
    page.js("[...document.querySelectorAll('#panel-names button')].find((b) => b.textContent === 'Scopes').click()")
    assert "scopes" in page.js(SEEN) and page.js(squeezed) == [False]
    page.click("[data-tool=level]")
    page.until("return !document.getElementById('level-panel').offsetParent")
    assert page.js(SEEN) == before


@pytest.mark.parametrize("wrong", ["abc", "200", ""])
def test_what_is_no_angle_is_said_at_its_field(page: Page, wrong: str) -> None:
    page.click("#tune")
    page.click("#goal-apart")
    field = page.find("#tuning input[type=text]")
    field.clear()
    field.send_keys(wrong)
    page.until("return !document.getElementById('degrees-wrong').hidden || !arguments[0]", 20, wrong)
    page.click("#tuning .main")
    assert "a number from 0 to 180" in page.js("return document.getElementById('degrees-wrong').innerText")
    assert page.js("return document.activeElement.getAttribute('aria-invalid')") == "true"
    field.clear()
    field.send_keys("120,5")
    assert page.js("return document.getElementById('degrees-wrong').hidden")
    assert not page.js("return document.querySelector('#tuning input[type=text]').hasAttribute('aria-invalid')")
    page.click("#goal-apart")
    page.click("#tune")


@pytest.mark.parametrize("width", [1280, 1440, 900])
def test_nothing_is_pushed_out_of_its_place_by_a_long_name(page: Page, width: int) -> None:
    """A long caption, as of a tuned proposal wiped with a version of a long name, once pushed the table over the stills."""
    window(page, width, 800)
    try:
        page.js("document.getElementById('says').textContent = 'a still of the fourth episode: '.repeat(12)")
        told = page.js(
            "const of = (id) => document.getElementById(id).getBoundingClientRect(); "
            "return [of('caption').right, of('table').right, of('stage').right, of('caption').height]"
        )
        assert max(told[:3]) <= told[1] <= width
        assert told[3] < 50
        assert page.js(
            "return document.getElementById('caption').scrollWidth <= document.getElementById('caption').clientWidth"
        )
    finally:
        window(page, 1280, 800)
