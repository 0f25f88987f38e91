"""Who may talk to the bench: this machine's own browser, with the token that was printed, and nobody else."""

from __future__ import annotations

import json
import secrets
from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

MOST_BYTES = 256 * 1024
"""Largest request body: a look is a page of text, and a change to it a few numbers."""

MOST_DROPPED = 256_000_000
"""Largest dropped file, the one request that may be larger; it is looked at only with the token."""
DROP = "/api/drop"

HEADERS = {
    # Nothing from elsewhere, nothing inline, no frames: the page is these files and this server.
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
        "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    ),
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=()",
    "cache-control": "no-store",
}


def new_token() -> str:
    """256 random bits for the address of this session."""
    return secrets.token_urlsafe(32)


class Guard:
    """ASGI middleware: Host, Origin, token and body size are checked before anything else runs.

    ``Host`` stops DNS rebinding, ``Origin`` and ``Sec-Fetch-Site`` requests from other pages, the token everything that
    was not given the printed address (other users of this machine too). The page's own files hold no secret and need no
    token; everything under ``/api/`` does.
    """

    def __init__(self, app: App, port: int, token: str, proven: Callable[[Any], None] = lambda client: None) -> None:
        self._app, self._token, self._proven = app, token.encode(), proven
        self._hosts = {f"127.0.0.1:{port}", f"localhost:{port}"}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":  # no web sockets here
            return
        refused = self._refusal(scope)
        if refused is not None:
            await _answer(send, *refused)
            return

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = [*message.get("headers", []), *_headers()]
            await send(message)

        await self._app(scope, _bounded(receive, _most(scope["path"])), with_headers)

    def _refusal(self, scope: Scope) -> tuple[int, str] | None:
        found: dict[bytes, list[bytes]] = {}
        for name, value in scope["headers"]:
            found.setdefault(name.lower(), []).append(value)

        def one(name: bytes) -> str | None:
            values = found.get(name, [])
            return values[0].decode("latin-1") if len(values) == 1 else None

        host = one(b"host")
        if host not in self._hosts:
            return 421, "not the address of this bench"
        origins = found.get(b"origin", [])
        if origins and one(b"origin") != f"http://{host}":
            return 403, "a request from another page"
        if one(b"sec-fetch-site") not in (None, "same-origin", "none"):
            return 403, "a request from another page"
        length = one(b"content-length")
        most = _most(scope["path"])
        if length is not None and (not length.isdigit() or int(length) > most):
            return 413, f"the request is larger than {most} bytes"
        if scope["path"].startswith("/api/"):
            told = one(b"x-lookwright-token") or ""
            if not secrets.compare_digest(told.encode("utf-8", "replace"), self._token):
                return 403, "the token is missing or wrong; open the address that the terminal shows"
            self._proven(scope.get("client"))
        return None


class TooLarge(Exception):
    """More bytes came than a request may have."""


def _most(path: str) -> int:
    return MOST_DROPPED if path == DROP else MOST_BYTES


def _bounded(receive: Receive, most: int) -> Receive:
    """``receive`` that counts: a body without a stated length is bounded too."""
    seen = 0

    async def counted() -> Message:
        nonlocal seen
        message = await receive()
        seen += len(message.get("body", b""))
        if seen > most:
            raise TooLarge
        return message

    return counted


def _headers() -> list[tuple[bytes, bytes]]:
    return [(k.encode(), v.encode()) for k, v in HEADERS.items()]


async def _answer(send: Send, status: int, text: str) -> None:
    body = json.dumps({"error": text}).encode()
    headers = [
        (b"content-type", b"application/json"),
        (b"content-length", str(len(body)).encode()),
        (b"connection", b"close"),  # whatever body was on its way is not read
        *_headers(),
    ]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
