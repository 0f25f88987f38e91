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
