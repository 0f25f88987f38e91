"""Work beside the bench, in a process of its own: ``python -m lookwright.app.bench.child``, JSON lines in and out.

Checks, tunings and deliveries take seconds. In a process of low priority they take nothing from a moving slider, and
they can be stopped at any moment. It ends with its parent: when the pipe to it closes.
"""

from __future__ import annotations

import contextlib
import json
import os
import sys
import threading
from collections.abc import Callable
from queue import SimpleQueue
from typing import Any

from lookwright.errors import LookwrightError

Say = Callable[[dict[str, Any]], None]


def main() -> None:
    """Do what the lines on stdin ask, one after the other, until it closes."""
    with contextlib.suppress(OSError, AttributeError):
        os.nice(5)
    out = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(2, 1)  # what libraries print does not get between the lines
    lines: SimpleQueue[str] = SimpleQueue()

    def listen() -> None:
        for line in sys.stdin:
            lines.put(line)
        os._exit(0)

    threading.Thread(target=listen, daemon=True).start()
    while True:
        asked = json.loads(lines.get())

        def say(message: dict[str, Any], number: int = asked["number"]) -> None:
            out.write(json.dumps({"number": number, **message}) + "\n")
            out.flush()

        try:
            say({"done": _work(asked["work"])(asked, say)})
        except LookwrightError as exc:
            say({"fault": str(exc).splitlines()[0]})
        except Exception as exc:  # the bench goes on; what happened is said
            say({"fault": f"{type(exc).__name__}: {exc}"})


def _work(name: str) -> Callable[[dict[str, Any], Say], Any]:
    if name == "check":
        from .checking import run
    elif name == "tune":
        from .tuning import run
    elif name == "deliver":
        from .delivering import run
    else:
        raise LookwrightError("bench", f"no work {name!r}")
    return run


if __name__ == "__main__":
    main()
