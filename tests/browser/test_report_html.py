"""The report in a real browser: no console message, no request to anywhere, and a wipe that works by keys.

Needs ``chromium`` and ``chromedriver`` (Debian: apt-get install chromium chromium-driver) and selenium. Skipped without
them, except where CI is set: there a missing browser is a failure.
"""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from planted_luts import PLANTED, VIDEO

from lookwright.assess.restraint.check import check
from lookwright.assess.restraint.subject import subject_of_lut
from lookwright.lut.formats.cube import write_cube
from lookwright.lut.lattices.lattice import sample
from lookwright.pictures.stills import Mark, Still
from lookwright.present.sheets.report_html import Pictures, write_report

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
DRIVER = shutil.which("chromedriver")
FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-sync",
    "--disable-background-networking",
    "--disable-component-update",
    "--window-size=1200,900",
)

if (CHROMIUM is None or DRIVER is None) and "CI" not in os.environ:
    pytest.skip("no chromium here", allow_module_level=True)

selenium = pytest.importorskip("selenium") if "CI" not in os.environ else __import__("selenium")

from selenium import webdriver  # noqa: E402
from selenium.webdriver.common.by import By  # noqa: E402
from selenium.webdriver.common.keys import Keys  # noqa: E402


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A failing check on two stills, with a skin mark."""
    folder = tmp_path_factory.mktemp("report")
    cube = folder / "orange.cube"
    write_cube(cube, sample(PLANTED["orange skin"], 17))
    subject = subject_of_lut(cube, VIDEO, VIDEO)
    pictures = Pictures(subject)
    y, x = np.mgrid[0:360, 0:640] / 640.0
    frames = []
    for name, red in (("bench", 0.72), ("window <1>", 0.3)):
        pixels = np.stack([np.full_like(x, red) * (0.3 + x), 0.55 * (0.3 + x), 0.45 + 0.2 * y], -1).astype(np.float32)
        still = Still(pixels, None, "16", folder / f"{name}.png")
        frames.append((still, [Mark("hand", (0.5, 0.2, 0.2, 0.2), role="skin")]))
    result = check(subject, frames, pictures.add)
    assert result.worst == "fail" and len(pictures.pairs) == 2
    target = folder / "report.html"
    write_report(target, result, pictures)
    return target


@pytest.fixture(scope="module", params=[True, False], ids=["scripts", "no scripts"])
def browser(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """A browser with a profile of its own, with and without scripts."""
    options = webdriver.ChromeOptions()
    options.binary_location = CHROMIUM
    for flag in (*FLAGS, f"--user-data-dir={tmp_path_factory.mktemp('profile')}", "about:blank"):
        options.add_argument(flag)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    opened = webdriver.Chrome(options=options, service=webdriver.ChromeService(executable_path=DRIVER))
    try:
        opened.scripts = request.param
        opened.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": not request.param})
        yield opened
    finally:
        opened.quit()


def visit(browser: Any, address: str) -> tuple[list[Any], list[str]]:
    """Open a page: what the console said, and every address asked for."""
    browser.get("about:blank")
    browser.get_log("browser")
    browser.get_log("performance")  # reading empties it: the browser's own first tab is not the page's doing
    browser.get(address)
    asked = []
    for entry in browser.get_log("performance"):
        message = json.loads(entry["message"])["message"]
        if message["method"] == "Network.requestWillBeSent":
            asked.append(message["params"]["request"]["url"])
    return browser.get_log("browser"), asked


@pytest.fixture
def page(browser: Any, report: Path) -> Any:
    """The report, freshly opened."""
    browser.get(report.as_uri())
    return browser


def test_what_would_be_caught_is_caught(browser: Any, tmp_path: Path) -> None:
    """A page that asks for something and fails to get it shows in both logs; or the next test could not fail."""
    guilty = tmp_path / "guilty.html"
    guilty.write_text("<!doctype html><title>x</title><img src='http://127.0.0.1:9/x.png'>", encoding="utf-8")
    console, asked = visit(browser, guilty.as_uri())
    assert "http://127.0.0.1:9/x.png" in asked
    assert any(line["level"] == "SEVERE" for line in console)


def test_report_is_quiet_and_keeps_to_itself(browser: Any, report: Path) -> None:
    """No console message of any level; the page itself and data addresses are all that is ever asked for."""
    console, asked = visit(browser, report.as_uri())
    page = browser
    assert console == []
    assert report.as_uri() in asked
    assert [url for url in asked if not url.startswith("data:") and url != report.as_uri()] == []
    # Every picture and plot was decoded.
    images = page.find_elements(By.TAG_NAME, "img")
    pointing = page.find_elements(By.CSS_SELECTOR, ".pointers img")
    assert pointing and len(images) == 4 + 5 + len(pointing)
    assert all(int(image.get_property("naturalWidth")) > 0 for image in images)
    assert "Check of orange.cube" in page.title
    text = page.find_element(By.TAG_NAME, "main").text
    assert "Fails on " in text and "Faces: not usable as it is. Skin changes colour" in text and "window <1>" in text
    # Nothing sticks out sideways.
    root = page.find_element(By.TAG_NAME, "html")
    assert int(root.get_property("scrollWidth")) <= int(root.get_property("clientWidth"))


def test_wipe_or_pair(page: Any) -> None:
    """With scripts one picture lies over the other and keys move the cut; without, the two stand side by side."""
    pair = page.find_element(By.CSS_SELECTOR, ".pair")
    before, after = (pair.find_element(By.CSS_SELECTOR, c).rect for c in (".before", ".after"))
    slider = page.find_element(By.CSS_SELECTOR, ".slider input")
    if not page.scripts:
        assert not slider.is_displayed()
        assert after["x"] >= before["x"] + before["width"] and after["y"] == pytest.approx(before["y"], abs=1)
        return
    assert after["x"] == pytest.approx(before["x"], abs=1) and after["width"] == pytest.approx(before["width"], abs=1)
    assert after["height"] == pytest.approx(before["height"], abs=1)
    assert slider.accessible_name.startswith("bench")
    slider.send_keys(Keys.HOME)
    assert pair.value_of_css_property("clip-path") == "none"
    cut = pair.find_element(By.CSS_SELECTOR, ".after").value_of_css_property("clip-path")
    assert cut == "inset(0px 0px 0px 0%)"
    slider.send_keys(Keys.ARROW_RIGHT, Keys.ARROW_RIGHT)
    cut = pair.find_element(By.CSS_SELECTOR, ".after").value_of_css_property("clip-path")
    assert cut == "inset(0px 0px 0px 2%)"
    # The other still's cut does not move with it.
    other = page.find_elements(By.CSS_SELECTOR, ".after")[1].value_of_css_property("clip-path")
    assert other == "inset(0px 0px 0px 50%)"


def test_details_open_by_keys(page: Any) -> None:
    """Each measure's reason is one key away, with or without scripts."""
    summary = page.find_element(By.CSS_SELECTOR, "table summary")
    summary.send_keys(Keys.ENTER)
    reason = page.find_element(By.CSS_SELECTOR, "table details p.faint")
    assert reason.is_displayed() and len(reason.text) > 40
