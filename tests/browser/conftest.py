"""The bench as a user runs it, and a real headless Chromium in front of it."""

from __future__ import annotations

import base64
import io
import json
import os
import shutil
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "sample_images"

LOOK = """\
# The evening look of the second episode.
format = 2
title = "Evening bench"
about = "Cool ambience, warm lamps."

[source]
encoding = "ACEScct"

[output]
encoding = "BT.1886"

[[step]]
kind = "exposure"
stops = 0.2            # faces first

# Warm against cool, skin left alone.
[[step]]
kind = "split"
pull = 0.3             # a third is plenty
cool_shadows = 0.01

[[step]]
kind = "saturation"
amount = 1.1

[[step]]
kind = "print"
print_gamma = 2.2

[[step]]
kind = "gamut"
"""

MARKS = """\
# Boxes of the test stills.
[bench."wall"]
box = [0.1, 0.1, 0.3, 0.3]
role = "wall"
level = 40
"""


AS_SEEN = """
const under = document.querySelector(arguments[0]);
const over = [...under.parentElement.querySelectorAll(':scope > .moving-pane:not([hidden])')];
if (!over.length) return under.toDataURL('image/png');
const whole = document.createElement('canvas');
Object.assign(whole, { width: under.width, height: under.height });
const pen = whole.getContext('2d');
pen.drawImage(under, 0, 0);
const k = under.width / under.clientWidth;
for (const pane of over) {
  const a = pane.getBoundingClientRect(), one = pane.firstChild, b = one.getBoundingClientRect(), from = under.getBoundingClientRect();
  pen.save();
  pen.beginPath();
  pen.rect((a.x - from.x) * k, (a.y - from.y) * k, a.width * k, a.height * k);
  pen.clip();
  pen.imageSmoothingEnabled = false;
  pen.drawImage(one, (b.x - from.x) * k, (b.y - from.y) * k, b.width * k, b.height * k);
  pen.restore();
}
return whole.toDataURL('image/png');
"""


@dataclass
class Room:
    """One bench that runs, and its files."""

    url: str
    look: Path
    stills: Path
    marks: Path
    out: Path
    process: subprocess.Popen[str]

    @property
    def port(self) -> int:
        """Where it listens."""
        return int(self.url.split(":")[2].split("/")[0])

    @property
    def token(self) -> str:
        """What it wants to be told."""
        return self.url.split("#")[1]

    def post(self, path: str) -> None:
        """An empty request, as the page makes them."""
        headers = {"X-Lookwright-Token": self.token, "Content-Type": "application/json"}
        address = f"http://127.0.0.1:{self.port}/api/{path}"
        with urllib.request.urlopen(urllib.request.Request(address, b"{}", headers), timeout=30) as answer:
            assert answer.status == 200


def start(folder: Path, look: str = LOOK, *more: str) -> Room:
    """A bench on small stills in ``folder``; end it with :func:`end`."""
    from lookwright.pictures.stills import read, write

    folder.mkdir(parents=True, exist_ok=True)
    path, stills = folder / "evening.toml", folder / "stills"
    path.write_text(look, encoding="utf-8")
    stills.mkdir(exist_ok=True)
    # A lamp, dark wood and the wall: 240 x 135 pixels, shown one for one.
    whole = read(SAMPLES / "close_acescct.png").pixels
    write(stills / "bench.png", whole[300:435, 700:940].copy())
    write(stills / "door.png", read(SAMPLES / "wide_acescct.png").pixels[400:535, 100:340].copy())
    marks = stills / "marks.toml"
    marks.write_text(MARKS, encoding="utf-8")
    out = folder / "delivery"
    command = [sys.executable, "-m", "lookwright", "bench", str(path), "--stills", str(stills), "--no-open"]
    command += ["--out", str(out), *more]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    assert process.stdout is not None
    line = process.stdout.readline()
    assert line.startswith("bench: http://127.0.0.1:"), line + process.stdout.read()
    return Room(line.split()[1], path, stills, marks, out, process)


def end(room: Room) -> None:
    """Ctrl-C, as a user ends it."""
    import signal

    room.process.send_signal(signal.SIGINT)
    assert room.process.wait(timeout=20) == 0
    assert room.process.stdout is not None
    room.process.stdout.close()


@pytest.fixture(scope="session")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Room]:
    """One bench for all tests of a worker that leave nothing behind but a changed recipe."""
    found = start(tmp_path_factory.mktemp("shared"))
    yield found
    end(found)


@pytest.fixture
def room(request: pytest.FixtureRequest) -> Iterator[Room]:
    """The bench of a test: the shared one with its recipe as it was, or with ``@pytest.mark.parametrize("room", [LOOK],
    indirect=True)`` one of its own on that recipe."""
    text = getattr(request, "param", None)
    if text is not None:
        own = start(request.getfixturevalue("tmp_path"), text)
        yield own
        end(own)
        return
    shared: Room = request.getfixturevalue("shared")
    shared.look.write_text(LOOK, encoding="utf-8")
    for path in ("job/stop", "job/clear", "reload"):
        shared.post(path)
    yield shared


def _driver(profile: Path) -> Any:
    webdriver = pytest.importorskip("selenium.webdriver", reason="selenium drives the browser")
    from selenium.webdriver.chrome.service import Service

    binary, tool = shutil.which("chromium"), shutil.which("chromedriver")
    if not binary or not tool:
        pytest.skip("no chromium with its chromedriver here (Debian: chromium, chromium-driver)")
    options = webdriver.ChromeOptions()
    options.binary_location = binary
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
        "--force-color-profile=srgb",
        "--window-size=1280,800",
        f"--user-data-dir={profile}",
    ):
        options.add_argument(flag)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    driver = webdriver.Chrome(options=options, service=Service(tool, log_output=os.devnull))
    size = {"width": 1280, "height": 800, "deviceScaleFactor": 1, "mobile": False}
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
    return driver


@pytest.fixture(scope="session")
def chromium(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """One browser for all tests of a worker, with a new profile."""
    driver = _driver(tmp_path_factory.mktemp("profile"))
    yield driver
    driver.quit()


class Page:
    """The bench's page, with what tests do on it."""

    def __init__(self, driver: Any, room: Room) -> None:
        self.driver, self.room = driver, room

    def open(self) -> None:
        """Open the printed address and wait until the picture is there, exactly, one pixel for one."""
        self.driver.get("about:blank")
        self.driver.get(self.room.url)
        self.until("return document.body.dataset.ready === 'true'")
        self.js("document.querySelector('input[name=zoom][value=\"1\"]').click()")  # a question may lie over it
        self.rest()

    def js(self, script: str, *arguments: Any) -> Any:
        """Run JavaScript on the page."""
        return self.driver.execute_script(script, *arguments)

    def until(self, script: str, seconds: float = 60.0, *arguments: Any) -> Any:
        """Wait until a script returns something true."""
        limit = time.monotonic() + seconds
        while time.monotonic() < limit:
            found = self.js(script, *arguments)
            if found:
                return found
            time.sleep(0.05)
        raise AssertionError(f"never true: {script}; message: {self.message()}")

    def rest(self) -> None:
        """Wait for the exact view of what the recipe says now."""
        time.sleep(0.1)
        self.until("return document.getElementById('picture').dataset.exact === 'true'")

    def message(self) -> str:
        """What the page says to the user."""
        return str(self.js("const m = document.getElementById('message'); return m.hidden ? '' : m.innerText"))

    def find(self, css: str) -> Any:
        """One element."""
        from selenium.webdriver.common.by import By

        return self.driver.find_element(By.CSS_SELECTOR, css)

    def click(self, css: str) -> None:
        """Click it where it is seen."""
        self.js("arguments[0].scrollIntoView({block: 'center'})", self.find(css))
        self.find(css).click()

    def row(self, kind: str, label: str) -> Any:
        """The slider row of a parameter, its card opened."""
        script = """
            const card = document.querySelector(`.card[data-kind="${arguments[0]}"]`);
            if (!card.classList.contains('open')) card.querySelector('.name').click();
            for (const fold of card.querySelectorAll('details')) fold.open = true;
            const row = [...card.querySelectorAll('.row')].find((r) => r.querySelector('label').textContent === arguments[1]);
            row?.scrollIntoView({block: 'center'});
            return row;"""
        return self.js(script, kind, label)

    def value(self, kind: str, label: str) -> float:
        """The typed value that the row shows."""
        text = self.js("return arguments[0].querySelector('input[type=text]').value", self.row(kind, label))
        return float(text.replace("\u2212", "-"))

    def type(self, kind: str, label: str, text: str) -> None:
        """Type a value and press Enter."""
        from selenium.webdriver.common.by import By
        from selenium.webdriver.common.keys import Keys

        field = self.row(kind, label).find_element(By.CSS_SELECTOR, "input[type=text]")
        field.click()
        field.send_keys(Keys.CONTROL, "a")
        field.send_keys(text, Keys.ENTER)

    def canvas(self, css: str = "#picture") -> np.ndarray:
        """(H, W, 3) uint8 of a canvas as drawn, with what lies over it while the look moves."""
        return pixels_of(self.js(AS_SEEN, css))

    def screen(self) -> np.ndarray:
        """(H, W, 3) uint8 of the whole window as composed."""
        return _pixels(self.driver.get_screenshot_as_png())

    def picture(self, shape: tuple[int, int] = (135, 240)) -> np.ndarray:
        """The still as drawn: cut from the middle of the canvas, where it lies one for one."""
        drawn = self.canvas()
        h, w = shape
        # Half a pixel goes up, as in the page (JavaScript's Math.round).
        top, left = int((drawn.shape[0] - h) / 2 + 0.5), int((drawn.shape[1] - w) / 2 + 0.5)
        return drawn[top : top + h, left : left + w]

    def errors(self) -> list[str]:
        """Console entries since the last time; not Chromium's own note that reading a canvas back (as these tests and a
        browser without a graphics card do) is slow."""
        said = [entry["message"] for entry in self.driver.get_log("browser")]
        return [text for text in said if "GPU stall due to ReadPixels" not in text]

    def requests(self) -> list[str]:
        """Addresses that the browser asked for since the last time."""
        found = []
        for entry in self.driver.get_log("performance"):
            message = json.loads(entry["message"])["message"]
            if message["method"] in ("Network.requestWillBeSent", "Network.webSocketCreated"):
                params = message["params"]
                found.append(params.get("request", params)["url"])
        return found


def pixels_of(url: str) -> np.ndarray:
    """(H, W, 3) uint8 of a picture in an address."""
    return _pixels(base64.b64decode(url.split(",")[1]))


def _pixels(png: bytes) -> np.ndarray:
    with Image.open(io.BytesIO(png)) as image:
        return np.asarray(image.convert("RGB"))


@pytest.fixture
def page(chromium: Any, room: Room) -> Iterator[Page]:
    """The page, opened; afterwards: nothing on the console, nothing asked of anyone but this machine's bench."""
    found = Page(chromium, room)
    found.errors()
    found.requests()
    found.open()
    yield found
    errors, asked = found.errors(), found.requests()
    found.js(
        "window.addEventListener('beforeunload', (e) => e.stopImmediatePropagation(), true); sessionStorage.clear()"
    )
    chromium.get("about:blank")
    assert not errors
    own = f"http://127.0.0.1:{room.port}/"
    assert asked, "the browser's requests were not recorded"
    assert [url for url in asked if not url.startswith((own, "about:", "data:", "blob:"))] == []


Start = Callable[..., Room]
