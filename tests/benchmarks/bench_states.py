"""The bench's page in all its states, by hand: python tests/benchmarks/bench_states.py [NAME ...]

Goes through the states that a user meets (cards open, tuning asked, at work and proposed, versions and the ways of
comparing, tools on the picture, where a step acts, warnings, large panels, several stills, full screen, the viewer
window, a clip, dialogs) on a sample look with four stills, a reference and a clip.

- ``--axe axe.min.js`` runs the open checker axe-core (npm install axe-core) in each and prints what it finds: rules of
  WCAG 2.0 to 2.2, levels A and AA, and its best practices. Exit 1 where a finding is serious or critical.
- ``--shots FOLDER`` writes a screenshot of each at every ``--sizes``: WIDTHxHEIGHT, x2 behind it for a zoom of 200 %.

Names of states run those alone, with what they need before them.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
from bench_hour import LOOK, furnish
from bench_page import ROOT, browser, wait_for

REFERENCE = "close_ep2_acescct.png"
SIZES = "1280x800,1440x900,1920x1080,2560x1440,900x700,420x820,1280x800x2"

HELP = """
window.$ = (css, text) => [...document.querySelectorAll(css)].find((e) => text === undefined || e.textContent.trim() === text);
window.panel = (title, on = true) => { const b = $('#panel-names button', title); if ((b.getAttribute('aria-pressed') === 'true') !== on) b.click(); };
window.only = (...titles) => { for (const b of document.querySelectorAll('#panel-names button')) panel(b.textContent, titles.includes(b.textContent)); };
window.choose = (css, value) => { const s = document.querySelector(css); s.value = value; s.dispatchEvent(new Event('change', { bubbles: true })); };
window.way = (name) => document.querySelector(`input[name=way][value=${name}]`).click();
window.rest = () => { for (const b of document.querySelectorAll('#pointers [aria-pressed=true], #lookings [aria-pressed=true]')) b.click(); document.getElementById('ask').close(); choose('#show-first', 'now'); choose('#show-second', 'plain'); way('one'); };
window.at = (x, y) => { const box = document.getElementById('picture').getBoundingClientRect(); return [box.left + x * box.width, box.top + y * box.height]; };
"""
AXE = """
const done = arguments[0];
axe.run(document, { resultTypes: ['violations'], runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] })
  .then((r) => done(r.violations.map((v) => [v.impact, v.id, v.nodes.slice(0, 3).map((n) => n.html.slice(0, 120) + ' | ' + (n.any[0] || n.all[0] || n.none[0] || {}).message)])));
"""

State = Callable[["Walk"], None]
STATES: dict[str, State] = {}


def state(go: State) -> State:
    """A state by its name, in the order in which they are gone through."""
    STATES[go.__name__.replace("_", "-")] = go
    return go


class Walk:
    """One bench, one window, and what is done with it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        furnish(folder)
        self.clip = folder / "pan.mp4"
        make_clip(self.clip)
        make_reference(folder / "reference.png")
        self.start()
        self.driver = browser(str(folder / "profile"))
        self.driver.set_script_timeout(120)

    def start(self) -> None:
        """The bench on these files."""
        command = [sys.executable, "-m", "lookwright", "bench", str(self.folder / LOOK), "--no-open"]
        command += ["--stills", str(self.folder / "stills"), "--clip", str(self.clip)]
        command += ["--reference", str(self.folder / "reference.png")]
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        assert self.process.stdout is not None
        self.url = self.process.stdout.readline().split()[1]

    def js(self, script: str, *arguments: Any) -> Any:
        """Run a script with the helps of this file."""
        return self.driver.execute_script(HELP + script, *arguments)

    def until(self, script: str, seconds: float = 60) -> None:
        """Wait until a script returns something true."""
        end = time.monotonic() + seconds
        while not self.js(script):
            if time.monotonic() > end:
                raise SystemExit(f"never true: {script}")
            time.sleep(0.1)

    def settle(self) -> None:
        """The picture at rest."""
        time.sleep(0.4)
        self.until("return document.getElementById('picture').dataset.exact === 'true'")

    def open(self) -> None:
        """The page anew."""
        self.driver.execute_script("addEventListener('beforeunload', (e) => e.stopImmediatePropagation(), true)")
        self.driver.get("about:blank")
        self.driver.get(self.url)
        wait_for(self.driver, "return document.body.dataset.ready === 'true'")

    def drag(self, x: float, y: float, dx: int, dy: int) -> None:
        """The left button from a place on the picture (fractions of its canvas) by so many pixels."""
        from selenium.webdriver import ActionChains
        from selenium.webdriver.common.actions.action_builder import ActionBuilder
        from selenium.webdriver.common.actions.mouse_button import MouseButton
        from selenium.webdriver.common.actions.pointer_input import PointerInput

        left, top = self.js("return at(arguments[0], arguments[1])", x, y)
        mouse = PointerInput("mouse", "hand")
        does = ActionBuilder(self.driver, mouse=mouse, duration=60)
        does.pointer_action.move_to_location(int(left), int(top)).pointer_down(MouseButton.LEFT)
        for i in range(1, 9 if dx or dy else 1):
            does.pointer_action.move_to_location(int(left + dx * i / 8), int(top + dy * i / 8))
        does.pointer_action.pause(0.3).pointer_up(MouseButton.LEFT)
        does.perform()
        ActionChains(self.driver).reset_actions()

    def size(self, width: int, height: int, scale: int = 1) -> None:
        """The window; with ``scale`` 2 a page enlarged to 200 % in a window of twice as many pixels."""
        told = {"width": width // scale, "height": height // scale, "deviceScaleFactor": scale, "mobile": False}
        self.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", told)

    def close(self) -> None:
        """End all of it."""
        self.driver.quit()
        self.process.terminate()
        self.process.wait(timeout=30)


def make_clip(path: Path) -> None:
    """Two seconds of a pan over the wide still."""
    from lookwright.pictures.clips.read import ClipFrame
    from lookwright.pictures.clips.write import tags_for, write_clip
    from lookwright.pictures.stills import read

    pixels = read(ROOT / "sample_images/wide_acescct.png").pixels
    rate = Fraction(24)
    frames = (
        ClipFrame(np.ascontiguousarray(pixels[100:640, 4 * i : 4 * i + 960]), i / 24, i, 1 / rate) for i in range(48)
    )
    write_clip(path, frames, rate, tags_for("BT.1886", "BT.709"), 10, 12)


def make_reference(path: Path) -> None:
    """A finished frame of another episode, warmer than the look."""
    from lookwright.jobs.looks import load_look
    from lookwright.look.baking.viewing import View
    from lookwright.pictures.stills import read, write

    look, _ = load_look(ROOT / "looks/lamplit-faces.toml")
    write(path, np.asarray(View(look, 33).graded(read(ROOT / "sample_images" / REFERENCE).pixels), np.float32))


# -- the states, in order ---------------------------------------------------------------------------------------------


@state
def first_sight(w: Walk) -> None:
    w.open()
    w.js("document.querySelectorAll('#strip button')[1].click()")  # the close still, whose face has marks
    w.settle()
    w.until("return document.querySelector('#findings li')")


@state
def cards_open(w: Walk) -> None:
    w.js(
        "for (const c of document.querySelectorAll('.card')) if (!c.classList.contains('open')) c.querySelector('.name').click()"
    )
    w.js("for (const d of document.querySelectorAll('#steps details')) d.open = true")


@state
def a_refused_value(w: Walk) -> None:
    w.js(
        "const f = document.querySelector('.card[data-kind=exposure] .row input[type=text]'); f.focus(); f.value = 'abc'; f.dispatchEvent(new Event('input', { bubbles: true }))"
    )


@state
def a_message(w: Walk) -> None:
    w.js(
        "document.activeElement.blur(); for (const c of document.querySelectorAll('.card.open')) c.querySelector('.name').click(); document.getElementById('recipe').scrollTop = 0"
    )
    w.js("const b = document.querySelector('.card[data-kind=print] .on input'); b.click()")
    w.until("return !document.getElementById('message').hidden")


@state
def versions(w: Walk) -> None:
    w.js("document.querySelector('#message button').click()")
    for name in ("before the lamps", "warmer, for the second evening"):
        w.js(
            "only('What it does', 'Versions'); const i = document.querySelector('#versions input[type=text]'); i.value = arguments[0]; $('#versions button', 'Keep a version').click()",
            name,
        )
        w.until(f"return document.getElementById('show-second').textContent.includes('{name}')")
        w.js(
            "document.querySelector('#message button').click(); document.querySelector('.card[data-kind=tones] .on input').click()"
        )
        time.sleep(0.5)


@state
def versions_large(w: Walk) -> None:
    w.js("document.querySelector('#versions .enlarge').click()")


@state
def wipe(w: Walk) -> None:
    w.js(
        "document.querySelector('#versions .enlarge').click(); only('What it does', 'Marks', 'Scopes'); choose('#show-second', document.querySelector('#show-second option[value^=version]').value); way('wipe')"
    )
    w.settle()


@state
def beside_reference(w: Walk) -> None:
    w.js("choose('#show-second', 'reference:0'); way('beside')")
    w.settle()


@state
def blink_asks(w: Walk) -> None:
    w.js("way('blink')")


@state
def blinking(w: Walk) -> None:
    w.js("const f = document.getElementById('blink-seconds'); f.value = '20'; $('#ask button', 'Start').click()")
    w.settle()


@state
def as_a_lut(w: Walk) -> None:
    w.js("rest(); choose('#show-first', 'lut:33')")
    w.settle()


@state
def exposure_map(w: Walk) -> None:
    w.js("rest(); document.getElementById('map').click()")
    w.settle()


@state
def warnings(w: Walk) -> None:
    w.js("rest(); document.getElementById('warnings').click()")
    w.settle()


@state
def a_finding(w: Walk) -> None:
    w.js("rest(); document.querySelector('#findings .point')?.click()")
    w.settle()


@state
def colour_with_a_band(w: Walk) -> None:
    w.js(
        "document.querySelector('#findings .point[aria-pressed=true]')?.click(); only('What it does', 'Marks', 'Scopes'); document.querySelector('[data-tool=pick]').click()"
    )
    w.drag(0.45, 0.4, 0, 0)
    time.sleep(1)
    w.js("$('#picked-panel button', 'Make a band of this hue')?.click()")
    time.sleep(1)
    w.drag(0.45, 0.4, 40, 0)
    w.settle()


@state
def grey(w: Walk) -> None:
    w.js("only('What it does', 'Marks', 'Scopes'); document.querySelector('[data-tool=grey]').click()")
    w.drag(0.6, 0.3, 0, 0)
    w.until("return !document.getElementById('message').hidden")
    w.settle()


@state
def to_a_level(w: Walk) -> None:
    w.js(
        "document.querySelector('#message button').click(); only('What it does', 'Marks', 'Scopes'); document.querySelector('[data-tool=level]').click()"
    )
    w.until("return document.querySelector('#level-panel select').options.length > 0")
    time.sleep(0.5)


@state
def drawing_marks(w: Walk) -> None:
    w.js("only('What it does', 'Marks', 'Scopes'); document.querySelector('[data-tool=draw]').click()")
    w.drag(0.3, 0.3, 60, 40)
    w.settle()


@state
def way_of_a_pixel(w: Walk) -> None:
    w.js("only('What it does'); document.querySelector('[data-tool=way]').click()")
    w.drag(0.5, 0.5, 0, 0)
    w.until("return document.querySelector('#way table')")


@state
def way_large(w: Walk) -> None:
    w.js("document.querySelector('#way-panel .enlarge').click()")


@state
def where_it_acts(w: Walk) -> None:
    w.js(
        "document.querySelector('#way-panel .enlarge').click(); document.querySelector('[data-tool=way]').click(); only('What it does', 'Where it acts'); $('#acting button', 'What it changed').click()"
    )
    w.until(
        "return !document.getElementById('acting-said').hidden && /%/.test(document.getElementById('acting-said').textContent)"
    )


@state
def what_a_hold_takes(w: Walk) -> None:
    w.js("$('#acting button', 'Hold on skin').click()")
    w.until("return /%/.test(document.getElementById('acting-said').textContent)")


@state
def up_to_a_step(w: Walk) -> None:
    w.js("$('#acting-said button', 'Done').click(); $('#acting button', 'Up to here').click()")
    w.settle()


@state
def scopes_large(w: Walk) -> None:
    w.js("rest(); only('What it does', 'Marks', 'Scopes'); document.querySelector('#scopes .enlarge').click()")
    w.js(
        "for (const b of document.querySelectorAll('#scope-choice button')) if (b.getAttribute('aria-pressed') !== 'true') b.click()"
    )
    w.settle()


@state
def restraint_large(w: Walk) -> None:
    w.js("document.querySelector('#scopes .enlarge').click(); document.querySelector('#restraint .enlarge').click()")


@state
def marks_large(w: Walk) -> None:
    w.js("document.querySelector('#restraint .enlarge').click(); document.querySelector('#marks .enlarge').click()")


@state
def two_stills(w: Walk) -> None:
    w.js("document.querySelector('#marks .enlarge').click(); choose('#many', '2')")
    w.settle()


@state
def four_stills(w: Walk) -> None:
    w.js("choose('#many', '4'); document.getElementById('pin').click()")
    w.settle()


@state
def nine_stills_filtered(w: Walk) -> None:
    w.js(
        "choose('#many', '9'); const f = document.getElementById('strip-filter'); f.value = 'e'; f.dispatchEvent(new Event('input'))"
    )
    w.settle()


@state
def bare(w: Walk) -> None:
    w.js(
        "choose('#many', '1'); document.getElementById('pin').click(); const f = document.getElementById('strip-filter'); f.value = ''; f.dispatchEvent(new Event('input')); document.getElementById('tray-toggle').click(); document.getElementById('strip-toggle').click()"
    )
    w.settle()


@state
def full_screen(w: Walk) -> None:
    w.js(
        "document.getElementById('tray-toggle').click(); document.getElementById('strip-toggle').click(); document.getElementById('full').click()"
    )
    w.settle()


@state
def closer(w: Walk) -> None:
    w.js("document.getElementById('full').click(); document.querySelector('input[name=zoom][value=\"2\"]').click()")
    w.settle()


@state
def clip(w: Walk) -> None:
    w.js(
        "document.querySelector('input[name=zoom][value=\"0\"]').click(); only('What it does', 'Clip'); $('#clip-panel button', 'Read frames').click()"
    )
    w.until("return /^48 of 48|48 of 48/.test(document.getElementById('clip-said').textContent)")
    w.js("const s = document.getElementById('scrub'); s.value = 20; s.dispatchEvent(new Event('input'))")
    time.sleep(1)


@state
def before_it_plays(w: Walk) -> None:
    w.js("document.getElementById('play').click()")


@state
def keys(w: Walk) -> None:
    w.js("rest(); only('What it does', 'Marks', 'Scopes'); document.getElementById('help').click()")
    w.settle()


@state
def tuning_asks(w: Walk) -> None:
    w.js("rest(); document.getElementById('recipe').scrollTop = 0; document.getElementById('tune').click()")


@state
def degrees_refused(w: Walk) -> None:
    w.js(
        "document.getElementById('goal-apart').click(); const f = document.querySelector('#tuning input[type=text]'); f.focus(); f.value = 'abc'; f.dispatchEvent(new Event('input', { bubbles: true })); f.dispatchEvent(new Event('change', { bubbles: true }))"
    )


@state
def tuning_at_work(w: Walk) -> None:
    w.js(
        "if (document.getElementById('goal-apart').checked) document.getElementById('goal-apart').click(); document.querySelector('#tuning .main').click()"
    )
    w.until("return /Distance from the goals/.test(document.getElementById('tuning-says')?.textContent ?? '')", 240)


@state
def proposed(w: Walk) -> None:
    w.until("return $('#tuning button', 'Take it')", 600)


@state
def proposed_wipe(w: Walk) -> None:
    w.js("$('#tuning button', 'Wipe with now').click(); document.getElementById('recipe').scrollTop = 0")
    w.settle()


@state
def proposed_beside(w: Walk) -> None:
    w.js("$('#tuning button', 'Beside now').click()")
    w.settle()


@state
def proposed_in_part(w: Walk) -> None:
    w.js("$('#tuning button', 'See it').click(); document.querySelector('#tuning tr.step input').click()")
    w.settle()


@state
def delivery_asks(w: Walk) -> None:
    w.js("$('#tuning button', 'Leave it').click()")
    time.sleep(0.5)
    w.js("rest(); document.getElementById('deliver').click()")


@state
def delivering(w: Walk) -> None:
    w.js("document.getElementById('plain-sampling').click(); document.querySelector('#ask .main').click()")
    w.until("return document.querySelector('#ask progress')")


@state
def delivered(w: Walk) -> None:
    w.until("return document.querySelector('#ask .files')", 300)


@state
def changed_elsewhere(w: Walk) -> None:
    w.js("document.getElementById('ask').close(); document.querySelector('.card[data-kind=tones] .on input').click()")
    look = w.folder / LOOK
    look.write_text(look.read_text() + "\n# by another hand\n")
    time.sleep(2.5)
    w.js("document.getElementById('save').click()")
    w.until("return document.getElementById('ask').open")


@state
def viewer_window(w: Walk) -> None:
    w.js("document.getElementById('ask').close()")
    bench = w.driver.current_window_handle
    w.js("document.getElementById('second').click()")
    time.sleep(2)
    other = next(h for h in w.driver.window_handles if h != bench)
    w.driver.switch_to.window(other)
    w.until("return document.body.dataset.ready === 'true'")
    time.sleep(1)


@state
def unsaved_work(w: Walk) -> None:
    w.driver.close()
    w.driver.switch_to.window(w.driver.window_handles[0])
    time.sleep(0.5)
    w.process.kill()
    w.process.wait()
    w.start()
    w.open()
    w.until("return document.getElementById('ask').open")


@state
def ended(w: Walk) -> None:
    w.js("$('#ask button', 'Take it up').click()")
    time.sleep(1)
    w.process.terminate()
    w.process.wait()
    w.until("return document.body.dataset.ended === 'true'")


# -- what is done in each -----------------------------------------------------------------------------------------------


def sizes_of(text: str) -> list[tuple[str, tuple[int, ...]]]:
    return [(one, tuple(int(n) for n in one.split("x"))) for one in text.split(",")]


def shots(w: Walk, name: str, folder: Path, sizes: list[tuple[str, tuple[int, ...]]]) -> None:
    """A screenshot of what is in sight at each size; in one column of all of it."""
    for word, size in sizes:
        w.size(*size)
        time.sleep(0.7)
        if size[0] // (size[2] if len(size) > 2 else 1) < 700:  # one column: the whole of it
            tall = min(3200, w.js("return document.documentElement.scrollHeight"))
            w.size(size[0], tall * (size[2] if len(size) > 2 else 1), *size[2:])
            time.sleep(0.5)
        w.driver.save_screenshot(str(folder / f"{name}-{word}.png"))
        outside = w.js("return document.documentElement.scrollWidth - innerWidth")
        if outside > 0:
            print(f"{name} at {word}: {outside} px wider than the window", flush=True)
    w.size(*sizes[0][1])
    time.sleep(0.3)


def checked(w: Walk, name: str, axe: str) -> int:
    """Print what axe-core finds; how many findings are serious or critical."""
    w.driver.execute_script(axe)
    found = w.driver.execute_async_script(AXE)
    print(f"{name}: {len(found)} found", flush=True)
    for impact, rule, nodes in found:
        print(f"  {impact} {rule}", *nodes, sep="\n    ", flush=True)
    return sum(impact in ("serious", "critical") for impact, *_ in found)


def main() -> None:
    parser = argparse.ArgumentParser(description=str(__doc__).partition("\n")[0])
    parser.add_argument("names", nargs="*", help="states; all by default")
    parser.add_argument("--axe", type=Path, help="axe.min.js of axe-core")
    parser.add_argument("--shots", type=Path, help="folder for screenshots")
    parser.add_argument("--sizes", default=SIZES)
    asked = parser.parse_args()
    if wrong := sorted(set(asked.names) - set(STATES)):
        raise SystemExit(f"no state {', '.join(wrong)}; there are {', '.join(STATES)}")
    last = max((list(STATES).index(n) for n in asked.names), default=len(STATES) - 1)
    axe = asked.axe.read_text(encoding="utf-8") if asked.axe else ""
    if asked.shots:
        asked.shots.mkdir(parents=True, exist_ok=True)
    sizes, serious = sizes_of(asked.sizes), 0
    with tempfile.TemporaryDirectory() as name:
        w = Walk(Path(name))
        try:
            w.size(*sizes[0][1])
            for called, go in list(STATES.items())[: last + 1]:
                go(w)
                if asked.names and called not in asked.names:
                    continue
                time.sleep(0.5)
                if axe:
                    serious += checked(w, called, axe)
                if asked.shots:
                    shots(w, called, asked.shots, sizes)
        finally:
            w.close()
    raise SystemExit(1 if serious else 0)


if __name__ == "__main__":
    main()
