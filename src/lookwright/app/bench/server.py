"""Opening the bench: a socket on this machine only, the address with its token, and the server until Ctrl-C."""

from __future__ import annotations

import contextlib
import errno
import logging
import signal
import socket
import sys
import threading
import webbrowser
from collections.abc import Callable, Iterator

import uvicorn

from lookwright import system
from lookwright.errors import LookwrightError

from .app import application
from .bench import Bench, Given
from .doors import Doors
from .security import new_token


def listen(port: int) -> socket.socket:
    """A socket on 127.0.0.1; port 0 takes any free one.

    Raises :class:`LookwrightError` when the port is taken or not allowed.
    """
    one = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    if sys.platform == "win32":  # where the other option lets two programs have one port
        one.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
    else:
        one.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    # Connections inherit it; asyncio sets it only on sockets that name their protocol. Without it an answer in two
    # writes waits 40 ms until the browser acknowledges the first (Nagle's algorithm against delayed acknowledgement).
    one.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    try:
        one.bind(("127.0.0.1", port))
    except OSError as exc:
        one.close()
        got = "is in use by another program" if exc.errno == errno.EADDRINUSE else (exc.strerror or "cannot be used")
        raise LookwrightError(f"--port {port}", got, hint="leave --port out to take any free one") from None
    return one


SWITCH = 0.0005
"""Seconds after which a thread that computes lets another go on that waits for the interpreter. By default it is 5 ms,
and an answer on its way to the page needs several such turns."""


class Server(uvicorn.Server):
    """Says when it can be reached, and sends waiting pages home when it stops."""

    def __init__(self, config: uvicorn.Config, ready: Callable[[], None], bench: Bench) -> None:
        super().__init__(config)
        self._ready, self._bench = ready, bench

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """As the server does; then tell."""
        await super().startup(sockets=sockets)
        self._ready()

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """Answer waiting pages first; then as the server does. What is still at work then is cut off, and that is no
        news: the page says that the bench has ended."""
        self._bench.hub.close()
        logging.getLogger("uvicorn.error").setLevel(logging.CRITICAL)
        await super().shutdown(sockets=sockets)


def serve(given: Given, port: int, show: bool, tell: Callable[[str, bool], None]) -> list[str]:
    """Serve one bench until it is interrupted.

    Parameters
    ----------
    given
        Look, stills, marks and delivery folder of the command line.
    port
        0 for any free one.
    show
        Open the address in the browser.
    tell
        Called with the address, token included, once it can be opened, and whether unsaved work is offered there.

    Returns
    -------
    The files in which work that was not saved is kept.
    """
    sys.setswitchinterval(SWITCH)
    system.give_memory_back()
    bench = Bench(given)
    try:
        sock = listen(port)
        number = sock.getsockname()[1]
        token = new_token()
        # In the fragment: browsers do not send it, so it is in no log and no referrer.
        address = f"http://127.0.0.1:{number}/#{token}"
        doors = Doors()
        config = uvicorn.Config(
            application(bench, number, token, doors.proven),
            http=doors.protocol(),
            log_level="error",
            access_log=False,
            server_header=False,
            date_header=False,
            ws="none",
            limit_concurrency=128,
            timeout_keep_alive=75,
            timeout_graceful_shutdown=1,
            h11_max_incomplete_event_size=32 * 1024,
        )
        server = Server(config, lambda: _opened(address, show, lambda a: tell(a, bool(bench.keeper.offered()))), bench)
        with contextlib.suppress(KeyboardInterrupt), _ended_with_terminal(server):  # the two ways to end it
            server.run(sockets=[sock])
    finally:
        bench.close()
    return bench.keeper.close()


@contextlib.contextmanager
def _ended_with_terminal(server: uvicorn.Server) -> Iterator[None]:
    """A closed terminal (SIGHUP) ends the server as Ctrl-C does; uvicorn itself knows SIGINT and SIGTERM."""
    hung_up = getattr(signal, "SIGHUP", None)  # not on Windows
    ours = threading.current_thread() is threading.main_thread()
    if hung_up is None or not ours or signal.getsignal(hung_up) is signal.SIG_IGN:  # nohup
        yield
        return

    def leave(number: int, frame: object) -> None:
        server.should_exit = True

    before = signal.signal(hung_up, leave)
    try:
        yield
    finally:
        signal.signal(hung_up, before)


def _opened(address: str, show: bool, tell: Callable[[str], None]) -> None:
    tell(address)
    if show:
        webbrowser.open(address)
