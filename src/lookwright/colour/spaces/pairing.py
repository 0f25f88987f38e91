"""What goes with a registered log curve: its maker's primaries, and the short names people type for it.

colour-science holds curves and primaries of one maker in modules of one name, and a set of primaries with the curve it
is published with. Both are read from there by rule, so that no list of ours has to follow it.
"""

from __future__ import annotations

import re
from functools import lru_cache
from types import ModuleType
from typing import Any

from .library import colour_library
from .names import fold
from .primaries import primaries


@lru_cache(maxsize=64)
def usual_primaries(curve: str) -> tuple[str, ...]:
    """Names of the primaries that go with a log curve, as colour-science registers both.

    One name: that is the usual pair. Several: the maker has more than one and must be asked. None: nothing is known.
    In order of certainty: the set named as the curve is (``-Log2`` and ``-Gamut2``, or the same without the number),
    the sets published with the curve, all sets of its maker.

    Parameters
    ----------
    curve
        A key of ``colour.LOG_DECODINGS``.
    """
    decoding = colour_library().LOG_DECODINGS[curve]
    of_maker = _of_maker(_maker(decoding))
    alike = fold(curve).replace("log", "gamut")
    spaces: dict[str, Any] = colour_library().RGB_COLOURSPACES
    with_curve = [n for n, s in spaces.items() if _plain(s.cctf_decoding) is _plain(decoding)]
    for found in ([n for n in of_maker if fold(n) == alike], with_curve, of_maker):
        if found:
            return _distinct(found)
    return ()


def short_names(curve: str) -> set[str]:
    """Folded short names of a registered log curve.

    Words before "log" may be their initials (``X-Log 3`` for a curve of two words and a number), and the maker's name
    may stand in front of any form.
    """
    words = re.findall(r"[^\W_]+", curve)
    at = next((i for i, word in enumerate(words) if word.casefold().startswith("log")), 0)
    initials = [w[0] if len(w) >= 3 else w for w in words[:at]]
    forms = {fold(curve), fold("".join([*initials, *words[at:]]))}
    return forms | {_maker(colour_library().LOG_DECODINGS[curve]) + form for form in forms}


def _plain(curve: Any) -> Any:
    return getattr(curve, "func", curve)  # some are registered with an argument filled in


def _maker(curve: Any) -> str:
    """First word of the module that holds a curve."""
    return str(_plain(curve).__module__).rsplit(".", 1)[-1].split("_")[0]


def _of_maker(maker: str) -> list[str]:
    """Registered primaries from modules of that first word: those with a log curve or none, not a display's."""
    library = colour_library()
    datasets = vars(library.models.rgb.datasets)
    modules = [m for n, m in datasets.items() if isinstance(m, ModuleType) and n.split("_")[0] == maker]
    names = [getattr(v, "name", "") for m in modules for k, v in vars(m).items() if k.startswith("RGB_COLOURSPACE")]
    known = library.RGB_COLOURSPACES
    curves = [library.linear_function, *map(_plain, library.LOG_DECODINGS.values())]
    return [n for n in dict.fromkeys(names) if n in known and _plain(known[n].cctf_decoding) in curves]


def _distinct(names: list[str]) -> tuple[str, ...]:
    """Names of different primaries, the first of each kind."""
    found: dict[Any, str] = {}
    for name in names:
        p = primaries(name)
        found.setdefault((p.xy, p.white), p.name)
    return tuple(found.values())
