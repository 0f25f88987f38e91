"""Work beside the bench, in a process of its own: ``python -m lookwright.app.bench.child``, JSON lines in and out.

Checks, tunings and deliveries take seconds. In a process of low priority they take nothing from a moving slider, and
they can be stopped at any moment: when the pipe to it closes, by the page or because its parent has ended, it leaves
what it is doing, tidily if that is soon done, and ends.
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

from lookwright import system
from lookwright.errors import LookwrightError
from lookwright.files import remove_unfinished
from lookwright.jobs.progress import Cancelled, Progress

from .telling import Telling

GRACE = 3.0
"""Seconds in which work that is to stop may end by itself; it is asked between two pieces. After that what it has begun
to write is removed under its hands."""

PATIENCE = 2.0
"""Seconds more for a file that cannot be removed while it is written to."""


def main() -> None:
    """Do what the lines on stdin ask, one after the other, until it closes."""
    with contextlib.suppress(OSError):
        system.lower_priority()
    out = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(2, 1)  # what libraries print does not get between the lines
    lines: SimpleQueue[str] = SimpleQueue()
    stopping, idle = threading.Event(), threading.Event()
    idle.set()

    def listen() -> None:
        for line in sys.stdin:
            idle.clear()
            lines.put(line)
        stopping.set()
        idle.wait(GRACE)
        remove_unfinished(PATIENCE)
        os._exit(0)

    threading.Thread(target=listen, daemon=True).start()
    while True:
        asked = json.loads(lines.get())
        idle.clear()

        def say(message: dict[str, Any], number: int = asked["number"]) -> None:
            with contextlib.suppress(OSError):  # nobody reads it any more
                out.write(json.dumps({"number": number, **message}) + "\n")
                out.flush()

        try:
            say({"done": _work(asked["work"])(asked, Telling(say, stopping.is_set))})
        except Cancelled:
            pass
        except LookwrightError as exc:
            say({"fault": str(exc).splitlines()[0]})
        except Exception as exc:  # the bench goes on; what happened is said
            say({"fault": f"{type(exc).__name__}: {exc}"})
        if lines.empty():
            idle.set()


def _work(name: str) -> Callable[[dict[str, Any], Progress], Any]:
    # Here and not above: the process that checks while a slider moves has no need of what a delivery loads.
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
