"""Connections to the bench: those that have not shown the token yet are few, and none may keep the others waiting.

Any user of this machine can connect. A request that is sent halfway would otherwise hold its place for ever, and some
hundred of them all places there are.
"""

from __future__ import annotations

import asyncio
from typing import Any

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

MOST_STRANGERS = 48
"""Connections without a valid token so far, the page's own files among them; a browser opens six."""

REQUEST_SECONDS = 10.0
"""From the first byte of a request to its last; requests are small and come from this machine."""

STRANGER_IDLE_SECONDS = 5
"""A connection that never showed the token is closed when it has been idle for so long."""


class Doors:
    """The connections of one server."""

    def __init__(self) -> None:
        self._strangers: dict[Door, None] = {}  # in the order in which they came
        self._known: set[Any] = set()

    def came(self, door: Door) -> None:
        """A new connection. Beyond the most that may be, the oldest that still sends its request has to go."""
        self._strangers[door] = None
        if len(self._strangers) > MOST_STRANGERS:
            waiting = [d for d in self._strangers if d is not door and not d.asked]
            out = waiting[0] if waiting else next(iter(self._strangers))
            self._strangers.pop(out)
            out.transport.abort()

    def proven(self, client: Any) -> None:
        """The token came over the connection from this address."""
        self._known.add(tuple(client) if client else None)

    def knows(self, door: Door) -> bool:
        """Whether a connection has shown the token; then it is no stranger any more."""
        known = door.client in self._known
        if known:
            self._strangers.pop(door, None)
        return known

    def left(self, door: Door) -> None:
        """A connection is gone."""
        self._strangers.pop(door, None)
        self._known.discard(door.client)

    def protocol(self) -> type[Door]:
        """The class that uvicorn makes for each connection."""
        return type("BenchDoor", (Door,), {"doors": self})


class Door(H11Protocol):
    """One connection. What it asks must be complete in time."""

    doors: Doors
    _due: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """As the server does; then the clock runs."""
        super().connection_made(transport)  # type: ignore[arg-type]  # uvicorn asks for a Transport: TCP always is one
        self.doors.came(self)
        self._watch()

    def connection_lost(self, exc: Exception | None) -> None:
        """As the server does."""
        self._stop()
        self.doors.left(self)
        super().connection_lost(exc)

    @property
    def asked(self) -> bool:
        """Whether a whole request is here and has not been answered yet."""
        return self.cycle is not None and not self.cycle.response_complete and not self._sending

    @property
    def _sending(self) -> bool:
        return self.conn.their_state in (h11.IDLE, h11.SEND_BODY)

    def data_received(self, data: bytes) -> None:
        """As the server does; the clock stops once the request is whole."""
        super().data_received(data)
        if self._sending:
            self._watch()
        else:
            self._stop()

    def on_response_complete(self) -> None:
        """As the server does; strangers may not stay long."""
        self.timeout_keep_alive = self.config.timeout_keep_alive if self.doors.knows(self) else STRANGER_IDLE_SECONDS
        super().on_response_complete()

    def _watch(self) -> None:
        if self._due is None:
            self._due = self.loop.call_later(REQUEST_SECONDS, self._late)

    def _stop(self) -> None:
        if self._due is not None:
            self._due.cancel()
            self._due = None

    def _late(self) -> None:
        self._due = None
        if not self.transport.is_closing():
            self.transport.abort()
