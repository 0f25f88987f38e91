"""The moving picture where WebGL is drawn in software, as it is here: worked out by the page itself, and the same."""

from __future__ import annotations

import numpy as np

from .conftest import AS_SEEN, Page, pixels_of
from .test_bench import CODE, drag, off

OVER = "return document.querySelectorAll('#stage > .moving-pane:not([hidden])').length"

BOTH = f"""
const done = arguments[arguments.length - 1];
const seen = function () {{ {AS_SEEN} }};
import('/stage.js').then(({{ stage }}) => {{
  const here = seen('#picture');
  const over = document.querySelectorAll('#stage > .moving-pane:not([hidden])').length;
  stage.draw();
  done([stage.moving && over > 0, here, seen('#picture')]);
}});
"""
"""What is seen, and the same lattice through WebGL, which draws at rest; both at once, so that no newer one comes between."""

WAYS = {
    "alone": "",
    "wipe": "document.querySelector('input[name=way][value=wipe]').click()",
    "beside": "document.querySelector('input[name=way][value=beside]').click()",
    "for another screen": "document.getElementById('screen-as').click()",
    "twice as large": "document.querySelector('input[name=zoom][value=\"2\"]').click()",
}


def test_however_it_is_shown_it_is_what_webgl_draws(page: Page) -> None:
    for way, choose in WAYS.items():
        page.js(choose)
        page.rest()
        at_rest = page.canvas()
        release = drag(page, page.row("exposure", "stops"), 60 if page.value("exposure", "stops") < 0.6 else -60)
        page.until(OVER + " > 0")
        moving, *both = page.driver.execute_async_script(BOTH)
        assert moving, way
        here, webgl = (pixels_of(one) for one in both)
        assert np.abs(here.astype(int) - at_rest).max() > 8, way
        assert off(here, webgl / 255.0) <= CODE, way
        release.release().perform()
        page.rest()
        assert page.js(OVER) == 0
    assert not page.errors()


PACED = """
const done = arguments[arguments.length - 1];
import('/fineness.js').then(({ Fineness }) => {
  const one = new Fineness();
  done(arguments[0].map(([count, ms, full]) => {
    for (let i = 0; i < count; i += 1) {
      const stride = one.stride(full), pixels = full / stride ** 2;
      one.took(ms + pixels, pixels, stride);
    }
    return one.stride(full);
  }));
});
"""
"""For each (pictures, ms of all but the pixels, ms of every pixel): which of them are taken in the end."""


def test_it_is_coarser_only_where_in_full_it_would_come_too_late(page: Page) -> None:
    asked = [
        (50, 25, 8),  # 33 ms: in full
        (1, 36, 8),  # one too late is no reason
        (50, 36, 8),  # 44 ms, with every second pixel 38
        (9, 20, 8),  # not at once in full again
        (60, 20, 8),
        (60, 90, 8),  # too late however it is drawn: then in full
        (60, 5, 30),  # more than the pixels may take at all
        (60, 5, 100),
    ]
    assert page.driver.execute_async_script(PACED, asked) == [1, 1, 2, 2, 1, 1, 2, 3]
