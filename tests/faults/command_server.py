"""Runs commands in forks of one process that has loaded everything, under conditions that are asked for.

    python tests/faults/command_server.py    # a request (JSON, one line) on stdin, an answer on stdout

A request names ``arguments`` and ``memo`` (see ``remember``) and may name: ``watched``, a folder whose writing is
followed; ``signal`` with ``at`` (kind and number of an event of the writing) and ``delay``, to be sent so many
seconds after it; ``limit``, the most bytes a file may have; ``bound``, that permissions bind it, root or not;
``twice``, two of it at once. The answer tells, for each, exit code (negative: the signal that ended it), standard
error, and the events by kind: w for an unfinished file that will be opened, r for one that will be renamed into its
place, e for others.

Events are what Python itself tells of (sys.addaudithook) when a path in the watched folder is opened, named, made or
removed. Libraries written in C write between them; delays reach these moments.
"""

from __future__ import annotations

import contextlib
import ctypes
import gc
import json
import os
import resource
import select
import signal
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable
from typing import Any, NoReturn

DIRECT = ("open", "os.rename", "os.remove", "os.mkdir", "os.rmdir", "os.chmod", "tempfile.mkstemp")

HEAVY = (
    "colour",
    "jinja2",
    "matplotlib.backends.backend_agg",
    "matplotlib.backends.backend_svg",
    "matplotlib.figure",
    "matplotlib.font_manager",
    "OpenImageIO",
    "PIL.Image",
    "PIL.ImageDraw",
    "PyOpenColorIO",
    "scipy.optimize",
    "scipy.sparse.linalg",
    "tifffile",
    "lookwright.assess.restraint.check",
    "lookwright.solve.series.shots",
    "lookwright.present.sheets.report_html",
    "lookwright.pictures.clips.read",
    "lookwright.solve.learn.learn",
    "lookwright.solve.tune.run",
)


def load() -> None:
    """Import what the commands import when they run, and fill what they keep, without starting any thread."""
    import importlib

    from lookwright.app.cli import COMMANDS, main

    for name in COMMANDS:
        importlib.import_module(f"lookwright.app.cli.{name}")
    for name in set(COMMANDS) - {"bench"}:
        importlib.import_module(f"lookwright.jobs.{name}")
    for name in HEAVY:
        importlib.import_module(name)
    with contextlib.suppress(ImportError):
        importlib.import_module("av")
    look = os.path.join(os.path.dirname(__file__), "..", "..", "looks", "overcast.toml")
    quiet = os.open(os.devnull, os.O_WRONLY)
    kept = os.dup(1)
    os.dup2(quiet, 1)
    with tempfile.TemporaryDirectory() as folder:
        for arguments in (["check", look], ["show", look, "--curves", f"{folder}/c.svg"]):
            try:
                main(arguments)
            except SystemExit:
                sys.stdout.flush()
    os.dup2(kept, 1)
    gc.freeze()  # else the collector touches, and so copies, every page in every fork


def child(request: dict[str, Any], events: int, noise: int) -> NoReturn:
    """In the fork: the command under its conditions. Each event is a byte into ``events``."""
    nothing = os.open(os.devnull, os.O_RDWR)
    os.dup2(nothing, 0)
    os.dup2(nothing, 1)
    os.dup2(noise, 2)
    code = 70
    try:
        if request.get("bound"):
            bind()
        if request.get("limit") is not None:
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (request["limit"], request["limit"]))
        remember(request["memo"])
        if request.get("watched"):
            watch(request, events)
        from lookwright.app.cli import main

        try:
            main(request["arguments"])
        except SystemExit as exc:
            code = exc.code if isinstance(exc.code, int) else 71
        # As the interpreter begins its own end: a thread that reads a picture holds back what others print until then.
        threading._shutdown()  # type: ignore[attr-defined]
        sys.stdout.flush()
        sys.stderr.flush()
    except BaseException:
        import traceback

        traceback.print_exc()
        sys.stderr.flush()
    finally:
        os._exit(code)  # the rest of that end takes long, and has nothing to write


def bind() -> None:
    """Permissions bind this process from here on, though it is root's: capabilities(7) without CAP_DAC_OVERRIDE,
    CAP_DAC_READ_SEARCH and CAP_FOWNER, bits 1 to 3. Another user might not be let into the environment's own folder.
    """
    if os.geteuid() != 0:
        return
    libc = ctypes.CDLL(None, use_errno=True)
    header = (ctypes.c_uint32 * 2)(0x20080522, 0)  # _LINUX_CAPABILITY_VERSION_3, this process
    sets = (ctypes.c_uint32 * 6)()  # effective, permitted, inheritable: 32 bits each, then the next 32 of each
    if libc.capget(header, sets) != 0:
        raise OSError(ctypes.get_errno(), "capget")
    sets[0] &= ~0b1110
    sets[1] &= ~0b1110
    if libc.capset(header, sets) != 0:
        raise OSError(ctypes.get_errno(), "capset")


def watch(request: dict[str, Any], events: int) -> None:
    """Tell of each event; a signal without delay is sent from here, so that it comes at that very event."""
    watched, lock = request["watched"], threading.Lock()
    counts: Counter[str] = Counter()

    def kind_of(event: str, paths: list[str]) -> str:
        if event == "os.rename":
            return "r"
        temporary = event == "open" and "/.writing-" in paths[0] and os.path.exists(paths[0])
        return "w" if temporary else "e"

    def hook(event: str, arguments: tuple[Any, ...]) -> None:
        paths = [a for a in arguments if isinstance(a, str) and a.startswith(watched)]
        if event not in DIRECT or not paths:
            return
        kind = kind_of(event, paths)
        with lock:  # previews are written by several threads
            counts[kind] += 1
            os.write(events, kind.encode())
            if request.get("signal") and [kind, counts[kind]] == request["at"] and not request["delay"]:
                os.kill(os.getpid(), request["signal"])

    sys.addaudithook(hook)


def remember(memo: str) -> None:
    """Take what tune and learn find from a file, once it is there: they compute for seconds before they write.

    The lattice that is learnt is a smaller one for the same reason.
    """
    import importlib
    import pickle

    def once(work: Callable[..., Any]) -> Callable[..., Any]:
        def found(*arguments: Any, **named: Any) -> Any:
            if os.path.exists(memo):
                with open(memo, "rb") as file:
                    return pickle.load(file)
            result = work(*arguments, **named)
            name = f"{memo}.{os.getpid()}"
            with open(name, "wb") as file:
                pickle.dump(result, file)
            os.replace(name, memo)
            return result

        return found

    residual, lattice, smoothing = (
        importlib.import_module(f"lookwright.solve.learn.{name}") for name in ("residual", "lattice", "smoothing")
    )
    residual.SIZE = lattice.SIZE = 9
    smoothing.TRIED = {3: (1e-4,)}
    for name in ("lookwright.jobs.learn", "lookwright.jobs.tune"):
        module = importlib.import_module(name)
        module.solve = once(module.solve)


def run(request: dict[str, Any]) -> list[dict[str, Any]]:
    started = []
    for _ in range(2 if request.get("twice") else 1):
        noise = tempfile.TemporaryFile()  # noqa: SIM115 (it outlives the loop)
        events, told = os.pipe()
        pid = os.fork()
        if pid == 0:
            os.close(events)
            child(request, told, noise.fileno())
        os.close(told)
        started.append((pid, events, noise))
    return [follow(request, *one) for one in started]


def follow(request: dict[str, Any], pid: int, events: int, noise: Any) -> dict[str, Any]:
    """Count the events, send the signal when it is time, and wait for the end."""
    late = bool(request.get("signal") and request["delay"])
    due, seen, open_ = None, "", True
    while open_:
        rest = None if due is None else max(0.0, due - time.monotonic())
        if select.select([events], [], [], rest)[0]:
            data = os.read(events, 1 if late else 65536)
            open_ = bool(data)
            seen += data.decode()
            if late and due is None and [data.decode(), seen.count(data.decode())] == request["at"]:
                due = time.monotonic() + request["delay"]
        if due is not None and time.monotonic() >= due:
            os.kill(pid, request["signal"])
            due, late = None, False
    os.close(events)
    _, status = os.waitpid(pid, 0)
    noise.seek(0)
    said = noise.read().decode("utf-8", "replace")
    return {"code": os.waitstatus_to_exitcode(status), "said": said, "events": seen}


def main() -> None:
    answers = os.fdopen(os.dup(1), "w", encoding="utf-8")
    load()
    print("ready", file=answers, flush=True)
    for line in sys.stdin:
        print(json.dumps(run(json.loads(line))), file=answers, flush=True)


if __name__ == "__main__":
    main()
