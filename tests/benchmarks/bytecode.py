"""Programs that are timed start from bytecode, as they do where they were installed."""

from __future__ import annotations

import os


def keep() -> None:
    """Have Python keep bytecode, in programs begun from here on.

    A shell that forbids it (PYTHONDONTWRITEBYTECODE) has the modules of a source tree compiled at each start: a quarter
    of a second for some commands, where the peers, installed by pip, start from bytecode.
    """
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
