"""What the page says and shows of pixels, in a real browser: plots, the way of a pixel, warnings, steps alone, tools on the
picture, several stills, dropped files. Everything is done with keys or the pointer, as a hand does it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from lookwright.assess.measure.levels import level
from lookwright.assess.restraint.remember import exact_pictures
from lookwright.assess.restraint.stills import shares_lost
from lookwright.assess.restraint.subject import subject_of_look
from lookwright.colour.luma import luma_percent
from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.read import parse_look, read_look
from lookwright.look.recipe.so_far import alone, so_far
from lookwright.pictures.stills import read, write

from .conftest import LOOK, Page

HALF = 0.5 / 255.0 + 1e-6
HARSH = LOOK.replace("stops = 0.2 ", "stops = 2.2 ").replace("print_gamma = 2.2", "print_gamma = 3.4")
SHOW = """
const [id, done] = arguments;
const select = document.getElementById('show-first');
const value = [...select.options].find((o) => o.value.startsWith(id)).value;
select.value = value;
select.dispatchEvent(new Event('change'));"""


def asked(page: Page, script: str, *arguments: Any) -> Any:
    """The result of a script with an ``await`` in it, in modules of the page."""
    text = f"const done = arguments[arguments.length - 1]; (async () => {{ {script} }})().then(done, (e) => done(String(e)));"
    return page.driver.execute_async_script(text, *arguments)


def press(page: Page, *keys: str) -> None:
    """Keys to whatever has the focus."""
    from selenium.webdriver.common.action_chains import ActionChains

    ActionChains(page.driver, duration=10).send_keys(*keys).perform()


def pixels(page: Page, name: str = "bench.png") -> np.ndarray:
    return read(page.room.stills / name).pixels.astype(np.float64)


# -- plots ------------------------------------------------------------------------------------------------------------


def test_plots_count_what_numpy_counts(page: Page) -> None:
    """A known picture, its codes at random and at both ends, through the page's own counting."""
    rng = np.random.default_rng(21)
    picture = rng.integers(0, 256, (36, 64, 3))
    picture[:4] = 0
    picture[4:8] = 255
    picture[8:12] = picture[8:12, :, :1]  # greys
    rgba = np.concatenate([picture, np.full((36, 64, 1), 255)], axis=-1).ravel().tolist()
    weights, kr, kb, columns = [0.2126, 0.7152, 0.0722], 0.2126, 0.0722, 40
    found = asked(
        page,
        """const { waveform, parade, histogram, vectors } = await import('/counts.js');
        const [rgba, weights, kr, kb, columns] = arguments;
        const picture = { data: new Uint8ClampedArray(rgba), width: 64, height: 36 };
        return [waveform(picture, weights, columns), ...parade(picture, columns), ...histogram(picture, weights),
            vectors(picture, kr, kb)].map((a) => [...a]);""",
        rgba, weights, kr, kb, columns,
    )  # fmt: skip

    def binned(values: np.ndarray) -> np.ndarray:
        return np.clip(np.floor(values * 256), 0, 255).astype(int)

    column = np.broadcast_to((np.arange(64) * columns) // 64, (36, 64))
    r, g, b = (picture[..., c].astype(float) for c in range(3))
    luma = (weights[0] * r + weights[1] * g + weights[2] * b) / 255
    for values, seen in zip([luma, r / 255, g / 255, b / 255], found[:4], strict=True):
        wanted = np.zeros((columns, 256), int)
        np.add.at(wanted, (column, binned(values)), 1)
        np.testing.assert_array_equal(np.array(seen).reshape(columns, 256), wanted)
    for values, seen in zip([r / 255, g / 255, b / 255, luma], found[4:8], strict=True):
        codes = binned(values)
        wanted_share = np.bincount(codes.ravel(), minlength=256) / codes.size
        np.testing.assert_allclose(seen, wanted_share, rtol=0, atol=1e-12)
    # Cb and Cr as ITU-R BT.709-6, item 3.3, prints them: divided by 1.8556 and 1.5748.
    y = kr * (r / 255) + (1 - kr - kb) * (g / 255) + kb * (b / 255)
    cb, cr = (b / 255 - y) / 1.8556, (r / 255 - y) / 1.5748
    wanted = np.zeros((256, 256), int)
    np.add.at(wanted, (binned(cr + 0.5), binned(cb + 0.5)), 1)
    assert np.abs(np.array(found[8]).reshape(256, 256) - wanted).sum() <= 4  # greys lie on a border: rounding


def test_plots_are_of_the_shown_picture_and_can_be_large(page: Page) -> None:
    """The trace of the waveform lies where the library has the picture's levels; before stands beside after."""
    page.click("#scopes .enlarge")
    press_all = "for (const b of document.querySelectorAll('#scope-choice [aria-pressed=false]')) b.click();"
    page.js(press_all)
    page.until("return [...document.querySelectorAll('#scope-drawings canvas')].every((c) => c.clientWidth > 300)")
    page.until("return [...document.querySelectorAll('#scope-drawings canvas')].every((c) => c.width > 300)")
    page.js("return new Promise((done) => setTimeout(done, 600))")
    code = pixels(page)
    look = parse_look(LOOK)
    lumas = [luma_percent(compile_look(v)(code), look.output.signal()) for v in (look.plain(), look)]
    plot = page.canvas("#waveform").max(axis=2).astype(float)
    top, foot, left = 8, 18, 32
    box = plot[top : plot.shape[0] - foot, left : plot.shape[1] - 6]
    half = box.shape[1] // 2
    centres = []
    for part in (box[:, : half - 8], box[:, half + 8 :]):
        lit = part > 110
        lit[np.median(part, axis=1) > 60] = False  # lines of the scale
        rows = lit.sum(axis=1)
        percent = 100.0 * (1.0 - (np.arange(len(rows)) + 0.5) / len(rows))
        centres.append(float((rows * percent).sum() / rows.sum()))
    for centre, luma in zip(centres, lumas, strict=True):
        assert np.percentile(luma, 2) < centre < np.percentile(luma, 98)
    for other in ("parade", "histogram", "vectorscope"):
        assert len(np.unique(page.canvas(f"#{other}").reshape(-1, 3), axis=0)) > 20


# -- one pixel --------------------------------------------------------------------------------------------------------


def test_the_way_of_a_pixel_by_keys_alone(page: Page) -> None:
    from selenium.webdriver.common.keys import Keys

    page.js("document.getElementById('picture').focus()")
    press(page, "y")
    page.until("return document.activeElement.id === 'spot' && document.querySelectorAll('#way tbody tr').length === 6")
    before = page.js("return document.querySelector('#way .where').textContent")
    press(page, Keys.SHIFT, Keys.ARROW_RIGHT, Keys.ARROW_RIGHT)
    page.until("return document.querySelector('#way .where').textContent !== arguments[0]", 60, before)
    page.js("return new Promise((done) => setTimeout(done, 300))")
    x, y = (
        int(v) for v in page.js("return document.querySelector('#way .where').textContent.match(/\\d+/g).slice(0, 2)")
    )
    assert x > 120 and y == 67
    said = page.js("return [...document.querySelectorAll('#way tbody tr')].map((r) => r.children[4].textContent)")
    look, code = parse_look(LOOK), pixels(page)[y, x][None]
    for row, count in zip(said, (0, 1, 2, 3, 4), strict=False):
        wanted = float(luma_percent(compile_look(so_far(look, count))(code), look.output.signal())[0])
        assert float(row) == pytest.approx(wanted, abs=0.051)
    press(page, Keys.ESCAPE)
    page.until("return document.getElementById('spot').hidden")


# -- where a step acts ------------------------------------------------------------------------------------------------


def test_the_picture_up_to_a_step_and_of_one_alone(page: Page) -> None:
    look, code = parse_look(LOOK), pixels(page)
    for name, wanted in (("upto:", so_far(look, 1)), ("alone:", alone(look, 0))):
        page.js(SHOW, name)
        page.rest()
        page.until("return document.getElementById('picture').dataset.exact === 'true'")
        assert np.abs(page.picture() / 255.0 - compile_look(wanted)(code)).max() <= HALF
    page.js(SHOW, "now")
    page.rest()
    # What a step changed: a map in its greys, which goes again with Escape.
    page.js("document.querySelector('#panel-names button[aria-pressed=false]') && 0")
    page.js(
        "[...document.querySelectorAll('#panel-names button')].find((b) => b.textContent === 'Where it acts').click()"
    )
    page.click("#acting [data-does^='change:']")
    page.until("return document.getElementById('acting-said').innerText.includes('seen on')")
    page.js("return new Promise((done) => setTimeout(done, 300))")
    greys = set(np.unique(page.picture().reshape(-1, 3), axis=0)[:, 0].tolist())
    assert len(greys & {16, 86, 140, 196, 255}) >= 2
    from selenium.webdriver.common.keys import Keys

    press(page, Keys.ESCAPE)
    page.until("return document.getElementById('acting-said').hidden")


# -- warnings ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("room", [HARSH], indirect=True)
def test_warnings_lie_on_the_pixels_that_the_library_counts(page: Page) -> None:
    plain = page.picture().astype(int)
    press(page, "n")
    page.until("return document.querySelector('#warning-key .share').textContent")
    page.js("return new Promise((done) => setTimeout(done, 500))")
    told = page.js("return [...document.querySelectorAll('#warning-key .share')].map((s) => s.textContent)")
    code = pixels(page)
    values = {
        v.measure: v.value
        for v in shares_lost(exact_pictures(subject_of_look(parse_look(HARSH))), code.astype(np.float32), "x").values
    }
    for text, measure in zip(told[:2], ("still_clipped", "still_crushed"), strict=True):
        wanted = values[measure]
        assert text == ("none" if wanted == 0 else "< 0.1 %" if wanted < 0.1 else f"{wanted:.1f} %")
    assert max(values.values()) > 1.0
    changed = np.abs(page.picture().astype(int) - plain).max(axis=2) > 24
    share = 100.0 * changed.mean()
    every = sum(float(t.split()[0]) if t[0].isdigit() else 0.1 for t in told)
    assert 0.2 * max(values.values()) < share <= every + 0.2  # patterns leave the picture in their gaps
    # Black and white only: told apart without colour.
    marked = page.picture()[changed].astype(int)
    assert (np.ptp(marked, axis=1) < 60).mean() > 0.9
    press(page, "n")
    page.until("return document.getElementById('warning-key').hidden")
    page.rest()
    assert np.abs(page.picture().astype(int) - plain).max() <= 1


# -- tools ------------------------------------------------------------------------------------------------------------


def test_a_level_a_grey_and_a_colour_taken_up_on_the_picture(page: Page) -> None:
    from selenium.webdriver.common.keys import Keys

    # A level, typed: the wall to 30 %.
    page.js("document.getElementById('picture').focus()")
    press(page, "i")
    page.until("return [...document.querySelectorAll('#level-panel select')].every((s) => s.options.length)")
    field = page.find("#level-panel input")
    field.click()
    field.send_keys(Keys.CONTROL, "a")
    field.send_keys("30", Keys.ENTER)
    page.until("return document.getElementById('undo').title.includes('exposure stops')")
    page.rest()
    box = pixels(page)[14:54, 24:96]
    page.click("#save")
    page.until("return document.getElementById('save').textContent === 'Saved'")
    look = read_look(page.room.look)
    got = level(compile_look(look)(box), look.output.signal()).luma.median
    assert got == pytest.approx(30.0, abs=1.0)
    # A grey, by keys: one edit, which adds the step that is not there.
    page.js("document.getElementById('picture').focus()")
    press(page, "g")
    page.until("return document.activeElement.id === 'spot'")
    press(page, Keys.ENTER)
    page.until("return document.getElementById('undo').title.includes('added balance')")
    page.click("#undo")
    page.until("return !document.querySelector('.card[data-kind=balance]')")
    # A colour: its band is made, and lit with arrow keys.
    page.js("document.getElementById('picture').focus()")
    press(page, "c")
    page.until("return document.querySelector('#picked button:not([hidden])')")
    page.until("return document.activeElement.id === 'spot'")
    press(page, Keys.ENTER)
    page.until("return document.querySelector('.card[data-kind=hues]')")
    page.until("return document.querySelector('#picked .figures')?.textContent.includes('light 0 stops')")
    page.js("document.getElementById('spot').focus()")
    press(page, Keys.ENTER, Keys.ARROW_UP, Keys.ARROW_UP)
    page.until("return document.getElementById('undo').title.includes('band.1.light')")
    page.rest()


# -- stills -----------------------------------------------------------------------------------------------------------


def test_two_stills_at_once_and_one_that_was_dropped(page: Page, tmp_path: Path) -> None:
    page.js("const s = document.getElementById('many'); s.value = '2'; s.dispatchEvent(new Event('change'))")
    page.until("return document.querySelectorAll('#names > div').length === 2")
    page.rest()
    boxes = asked(page, """const { stage } = await import('/stage.js');
        return stage.panes.map((p) => ({ ...stage.frameIn(p), still: p.still, scale: stage.scaleIn(p) }));""")  # fmt: skip
    drawn = page.canvas()
    look = compile_look(parse_look(LOOK))
    for box, name in zip(boxes, ("bench.png", "door.png"), strict=True):
        x, y, w, h = (round(box[k]) for k in "xywh")
        mean = drawn[y + 2 : y + h - 2, x + 2 : x + w - 2].reshape(-1, 3).mean(axis=0) / 255.0
        assert np.abs(mean - look(pixels(page, name)).reshape(-1, 3).mean(axis=0)).max() < 0.01
    page.js("const s = document.getElementById('many'); s.value = '1'; s.dispatchEvent(new Event('change'))")
    write(tmp_path / "from elsewhere.png", pixels(page)[::-1].astype(np.float32))
    page.find("#drop-files").send_keys(str(tmp_path / "from elsewhere.png"))
    page.until("return document.getElementById('says').textContent.startsWith('from elsewhere')")
    page.until("return !document.getElementById('stage').classList.contains('waiting')")
    page.js("document.getElementById('picture').focus()")
    press(page, "1")  # one pixel for one
    page.rest()
    assert np.abs(page.picture() / 255.0 - look(pixels(page)[::-1])).max() <= HALF + 1.0 / 65535.0
    page.find("#strip-filter").send_keys("door")
    page.until("return [...document.querySelectorAll('#strip button')].filter((b) => !b.hidden).length === 1")


def test_every_key_means_one_thing(page: Page) -> None:
    names = asked(page, "const { keys } = await import('/keys.js'); return keys.list.flatMap((k) => k.keys);")
    assert len(names) == len(set(names)) and len(names) > 30


def test_full_screen_fades_and_the_grey_round_the_picture_moves(page: Page) -> None:
    page.js("document.getElementById('picture').focus()")
    press(page, "o")
    page.until("return document.body.classList.contains('full') && !document.getElementById('tray').offsetParent")
    press(page, ".", ".")
    assert page.js("return document.getElementById('surround').value") == "32"
    page.until("return document.body.classList.contains('faded')", 20)
    assert page.canvas()[2, 2].tolist() == [82, 82, 82]  # 32 % of 255
    press(page, "o")
    page.until("return !document.body.classList.contains('full')")
