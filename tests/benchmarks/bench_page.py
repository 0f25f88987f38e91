"""From the slider to the picture and the levels at its marks, by hand: python tests/benchmarks/bench_page.py

Opens the bench in headless Chromium (window and still 1920 x 1080), drags sliders of a full look with print through at
least 100 positions, and takes from the page's own marks, for each picture that was drawn:

- queue: from the pointer's event to the page's handler, in the browser
- wait: until the request before it had come back (none when dragged one at a time)
- bake: in the server
- way: the rest of the request there and back
- turn: until the drawing before it was done
- draw: the levels put into the page, and the picture into its canvas; where a card draws it, until the graphics side is
  done. The browser's next frame then brings it to the screen
- total: from the pointer's event to the drawn picture

A hand makes about 60 events a second; those in between are answered by the newest (the column `pictures` counts them).
Without a graphics card Chromium draws WebGL in software, on the same cores that bake; there the page works out the moving
picture itself, in full if its measured pace allows it, else every second or third pixel each way (the column `drawn`).
The rows "not drawn" leave out nothing but that: what is left to a machine that has a card for it. The driver and
Chromium's remote control take 3 ms of processor time a picture themselves as a hand and 8 one at a time; both count, since
they run on the same cores. Give names (exposure, split, print, saturation) to drag those alone, and --json FILE for the raw
figures.

Also told: the error of what is shown while dragging, against the exact look, by size of lattice.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).parents[2]
LOOK = ROOT / "looks/night-workshop.toml"
STILL = ROOT / "sample_images/wide_acescct.png"
WIDTH, HEIGHT = 1920, 1080
POSITIONS = 121
EVENTS = 60
"""A second, of a hand that drags."""

SLIDERS = {
    "exposure": ("stops", "first step, all after it again"),
    "split": ("pull", "third step, a new hue map each time"),
    "print": ("print gamma", "the print itself, its curves solved anew"),
    "saturation": ("amount", "fifth step, the print after it again"),
}
PARTS = ("queue", "wait", "bake", "way", "turn", "draw", "total")


def served(folder: Path) -> tuple[subprocess.Popen[str], str]:
    """A bench on the sample look and one still; its process and address."""
    shutil.copy(LOOK, folder / LOOK.name)
    (folder / "stills").mkdir()
    shutil.copy(STILL, folder / "stills" / STILL.name)
    shutil.copy(STILL.with_name("marks.toml"), folder / "stills/marks.toml")
    command = [sys.executable, "-m", "lookwright", "bench", str(folder / LOOK.name), "--stills", str(folder / "stills")]
    process = subprocess.Popen([*command, "--no-open"], stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    return process, process.stdout.readline().split()[1]


def browser(profile: str) -> Any:
    """Headless Chromium of 1920 x 1080."""
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service

    options = webdriver.ChromeOptions()
    options.binary_location = str(shutil.which("chromium"))
    for flag in (
        "--headless",
        "--no-sandbox",
        "--disable-quic",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
        "--enable-unsafe-swiftshader",
        "--disable-dev-shm-usage",
        f"--window-size={WIDTH},{HEIGHT}",
        f"--user-data-dir={profile}",
    ):
        options.add_argument(flag)
    driver = webdriver.Chrome(options=options, service=Service(shutil.which("chromedriver"), log_output=os.devnull))
    size = {"width": WIDTH, "height": HEIGHT, "deviceScaleFactor": 1, "mobile": False}
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
    return driver


LISTEN = """
window.pointerAt = 0; window.pointers = 0; window.shownAt = [];
addEventListener('pointermove', (e) => { if (e.buttons) { window.pointerAt = e.timeStamp; window.pointers += 1; } }, true);
addEventListener('input', () => window.shownAt.push([performance.now(), window.pointerAt]), true);
"""
"""Which pointer event stands behind which value: the page's own mark begins in the handler of `input`."""

COLLECT = """
const found = performance.getEntriesByName('slider-to-picture').map((m) => {
  const event = window.shownAt.filter(([t]) => t <= m.startTime + 0.01).pop();
  return { ...m.detail, queue: Math.max(0, m.startTime - (event ? event[1] : m.startTime)), at: m.startTime, end: m.startTime + m.duration };
});
performance.clearMeasures('slider-to-picture');
const moves = window.pointers; window.pointers = 0; window.shownAt = [];
return [found, moves];
"""

ROW = """
const card = document.querySelector(`.card[data-kind="${arguments[0]}"]`);
if (!card.classList.contains('open')) card.querySelector('.name').click();
for (const fold of card.querySelectorAll('details')) fold.open = true;
const row = [...card.querySelectorAll('.row')].find((r) => r.querySelector('label').textContent === arguments[1]);
row.scrollIntoView({ block: 'center' });
const box = row.querySelector('input[type=range]').getBoundingClientRect();
return [box.left, box.top + box.height / 2, box.width];
"""


def wait_for(driver: Any, script: str, seconds: float = 60.0) -> None:
    limit = time.monotonic() + seconds
    while not driver.execute_script(script):
        if time.monotonic() > limit:
            raise SystemExit(f"never true: {script}")
        time.sleep(0.02)


def at_rest(driver: Any) -> None:
    time.sleep(0.3)
    wait_for(driver, "return document.getElementById('picture').dataset.exact === 'true'")
    time.sleep(4.0)  # the check of the look, in its own process, is over


def drag(driver: Any, kind: str, label: str, one_at_a_time: bool) -> tuple[list[dict[str, float]], int, float]:
    """Drag one slider to and fro; gives what was drawn, how many pointer events there were, and the seconds."""
    driver.execute_script(ROW, kind, label)
    at_rest(driver)
    left, middle, width = driver.execute_script(ROW, kind, label)  # what the last drag changed may have moved it
    driver.execute_script(COLLECT)
    low, high = left + 0.2 * width, left + 0.8 * width
    # To and fro by whole pixels, never twice the same value in a row.
    span = max(1, int(high - low))
    places = [low + abs((2 * i) % (2 * span) - span) for i in range(POSITIONS)]

    def mouse(what: str, x: float) -> None:
        event = {"type": what, "x": int(x), "y": int(middle), "button": "left", "buttons": 1, "clickCount": 1}
        driver.execute_cdp_cmd("Input.dispatchMouseEvent", event)

    mouse("mouseMoved", places[0])
    mouse("mousePressed", places[0])
    time.sleep(0.5)
    driver.execute_script(COLLECT)
    start = time.perf_counter()
    for i, place in enumerate(places[1:]):
        if one_at_a_time:
            driver.execute_script("window.count = performance.getEntriesByName('slider-to-picture').length")
            mouse("mouseMoved", place)
            wait_for(driver, "return performance.getEntriesByName('slider-to-picture').length > window.count", 10)
        else:
            time.sleep(max(0.0, start + i / EVENTS - time.perf_counter()))
            mouse("mouseMoved", place)
    seconds = time.perf_counter() - start
    time.sleep(0.5)
    found, moves = driver.execute_script(COLLECT)
    mouse("mouseReleased", places[-1])
    for one in found:
        one["total"] = one["end"] - one["at"] + one["queue"]
    return found, moves, seconds


def figures(values: list[float]) -> str:
    """Median / 95th of a hundred."""
    return f"{statistics.median(values):.0f} / {np.percentile(values, 95):.0f}"


def drawn(found: list[dict[str, float]]) -> str:
    """How many pictures had every pixel, every second each way, and so on."""
    counts = Counter(int(f["coarse"]) for f in found)
    words = [f"{counts[n]} of {len(found)} in 1/{n} each way" for n in sorted(counts) if n > 1]
    return ", ".join(words) or "in full"


def errors() -> list[str]:
    """What the lattice of each size shows, against the exact look, on the still."""
    import colour

    from lookwright.app.bench.bake_queue import DRAG_SIZES
    from lookwright.look.baking.bake import bake
    from lookwright.look.recipe.pipeline import compile_look
    from lookwright.look.recipe.read import read_look
    from lookwright.lut.lattices.apply import Applier
    from lookwright.pictures.stills import read

    look = compile_look(read_look(LOOK))
    pixels = read(STILL).pixels[::4, ::4].copy()
    exact = look(pixels.astype(np.float64))

    def lab(signal: Any) -> Any:  # BT.1886 with gamma 2.4 (ITU-R BT.1886), BT.709 primaries, D65
        xyz = np.clip(signal, 0.0, 1.0) ** 2.4 @ colour.RGB_COLOURSPACES["ITU-R BT.709"].matrix_RGB_to_XYZ.T
        return colour.XYZ_to_Lab(xyz, colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D65"])

    wanted = lab(exact)
    rows = []
    for size in DRAG_SIZES:
        shown = Applier(bake(look, size))(pixels).astype(np.float64)
        codes = np.abs(shown - exact) * 255.0
        far = colour.delta_E(wanted, lab(shown), method="CIE 2000")
        rows.append(
            f"| {size} | {codes.mean():.2f} / {np.percentile(codes, 99):.1f} / {codes.max():.1f} "
            f"| {far.mean():.2f} / {np.percentile(far, 99):.2f} / {far.max():.1f} |"
        )
    return rows


def main() -> None:
    parser = argparse.ArgumentParser(description=str(__doc__).partition("\n")[0])
    parser.add_argument("names", nargs="*", default=list(SLIDERS))
    parser.add_argument("--json", type=Path)
    parser.add_argument("--no-errors", action="store_true")
    told = parser.parse_args()
    kept: dict[str, Any] = {}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        process, url = served(folder)
        driver = browser(str(folder / "profile"))
        try:
            version = driver.capabilities["browserVersion"]
            head = (
                "step",
                "drag",
                "events",
                "pictures",
                *(f"{p} ms" for p in PARTS),
                "lattice",
                "points baked",
                "drawn",
            )
            rows = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
            for mode in ("all", "bake"):
                address, token = url.split("#")
                driver.get("about:blank")
                driver.get(f"{address}?measure={mode}#{token}")
                wait_for(driver, "return document.body.dataset.ready === 'true'")
                driver.execute_script(LISTEN)
                at_rest(driver)
                canvas = driver.execute_script(
                    "const c = document.getElementById('picture'); return [c.width, c.height]"
                )
                for kind in told.names:
                    label, _ = SLIDERS[kind]
                    for alone in (True, False):
                        found, moves, seconds = drag(driver, kind, label, alone)
                        how = "one at a time" if alone else f"as a hand, {moves / seconds:.0f}/s"
                        how += "" if mode == "all" else ", not drawn"
                        kept[f"{kind}, {how}"] = found
                        sizes = ", ".join(str(s) for s in sorted({int(f["size"]) for f in found}))
                        assert all(f["levels"] for f in found), "levels at marks came with no picture"
                        cells = [f"{kind} {label}", how, str(moves), str(len(found))]
                        cells += [figures([f[p] for f in found]) for p in PARTS]
                        cells += [sizes, f"{statistics.median(f['points'] for f in found):.0f}"]
                        cells.append("-" if mode == "bake" else drawn(found))
                        rows.append("| " + " | ".join(cells) + " |")
                        print(rows[-1], file=sys.stderr, flush=True)
                driver.execute_script("addEventListener('beforeunload', (e) => e.stopImmediatePropagation(), true)")
        finally:
            driver.quit()
            process.terminate()
            process.wait(timeout=20)
    load = os.getloadavg()
    print(
        f"Slider to picture, `{LOOK.name}` (6 steps with print) on a {WIDTH} x {HEIGHT} still, median / 95th of a hundred:\n"
    )
    print("\n".join(rows))
    print(
        f"\nWindow {WIDTH} x {HEIGHT}, picture {canvas[0]} x {canvas[1]}, Chromium {version} headless, WebGL in software "
        f"(SwiftShader), on the same {os.cpu_count()} cores; Python {platform.python_version()}, numpy {np.__version__}, "
        f"{platform.system()} {platform.machine()}; load {load[0]:.1f} at the end."
    )
    if not told.no_errors:
        print("\nThe lattice while dragging against the exact look (which is shown at rest), mean / 99th / maximum:\n")
        print("| points per axis | 8-bit codes | CIEDE2000 |\n|---|---|---|")
        print("\n".join(errors()))
    if told.json:
        told.json.write_text(json.dumps(kept))


if __name__ == "__main__":
    main()
