"""A still larger than the table fills the place its marks are laid on, whatever the size of the window."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from lookwright.look.recipe.pipeline import compile_look
from lookwright.look.recipe.read import parse_look
from lookwright.pictures.stills import read, write

from .conftest import LOOK, SAMPLES, Page, end, start

GROUND = 0x3C
"""The grey round the picture, an 8-bit code."""


def test_a_large_still_fills_its_place_at_every_window_size(chromium: Any, tmp_path: Path) -> None:
    stills = tmp_path / "stills"
    stills.mkdir()
    still = read(SAMPLES / "close_acescct.png")
    # Brightened, so that no pixel of the look is the grey round it, and first by name: the one that is opened.
    write(stills / "a_large.png", np.clip(still.pixels * 0.2 + 0.55, 0, 1))
    wanted = compile_look(parse_look(LOOK))(read(stills / "a_large.png").pixels[::4, ::4].astype(np.float64))
    assert wanted.min() > (GROUND + 20) / 255
    room = start(tmp_path)
    try:
        page = Page(chromium, room)
        page.open()
        page.click("input[name=zoom][value='0']")
        for width, height in (
            (1280, 800),
            (1281, 790),
            (1287, 803),
            (1310, 811),
            (1366, 768),
            (1440, 900),
            (1920, 1080),
        ):
            metrics = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False}
            chromium.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", metrics)
            page.until(
                "const b = document.getElementById('picture').parentElement.getBoundingClientRect(); "
                "return innerWidth === arguments[0] && b.width > 0",
                20,
                width,
            )
            page.rest()
            drawn = page.canvas().astype(int)
            table_height, table_width = drawn.shape[:2]
            scale = min(table_width / 1920, table_height / 1080, 1)
            inside = (np.abs(drawn - GROUND) > 2).any(axis=2)
            columns, rows = np.flatnonzero(inside.any(axis=0)), np.flatnonzero(inside.any(axis=1))
            size = columns[-1] - columns[0] + 1, rows[-1] - rows[0] + 1
            # Whole pixels on either side.
            assert np.abs(np.array(size) - np.array([1920, 1080]) * scale).max() <= 1.0, (width, height)
            assert (
                np.abs(columns[0] + columns[-1] + 1 - table_width) <= 2 and inside[rows[0] : rows[-1], columns[0]].all()
            )
            seen = drawn[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1] / 255.0
            for y in (0, 1):
                for x in (0, 1):
                    parts = [a[y * a.shape[0] // 2 :, x * a.shape[1] // 2 :] for a in (seen, wanted)]
                    a, b = (p[: p.shape[0] // (2 - y), : p.shape[1] // (2 - x)].mean(axis=(0, 1)) for p in parts)
                    # Codes are averaged before the look when a still is made smaller, here after it: 0.002 were seen.
                    assert np.abs(a - b).max() <= 0.01
        assert page.errors() == []
    finally:
        size = {"width": 1280, "height": 800, "deviceScaleFactor": 1, "mobile": False}
        chromium.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
        page.js("window.addEventListener('beforeunload', (e) => e.stopImmediatePropagation(), true)")
        chromium.get("about:blank")
        end(room)
