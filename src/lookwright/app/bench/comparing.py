"""Answers for what is compared with: versions, the history, other looks, references."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from . import requests as asked
from .answering import Handler, body_of, then_state
from .bench import Bench


class Comparing:
    """Handlers, each a few lines over the bench."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench

    def handlers(self) -> dict[str, Handler]:
        """By the path they answer to."""
        return {
            "versions": self.keep,
            "version": self.version,
            "history": self.go,
            "save-as": self.save_as,
            "guest": self.guest,
            "reference": self.reference,
        }

    async def keep(self, request: Request) -> Response:
        """Keep the recipe as it stands as a version."""
        body = await body_of(request, asked.KeepVersion)
        return await then_state(self.bench, lambda: self.bench.keep_version(body.name))

    async def version(self, request: Request) -> Response:
        """Rename a version, take it out, or make it the recipe (which undo brings back)."""
        body = await body_of(request, asked.OneVersion)
        return await then_state(self.bench, lambda: self.bench.version(body.id, body.do, body.name))

    async def go(self, request: Request) -> Response:
        """To a place in the history."""
        body = await body_of(request, asked.Go)
        return await then_state(self.bench, lambda: self.bench.session.go(body.place))

    async def save_as(self, request: Request) -> Response:
        """Write the recipe under another name beside its file; the bench stays with its own."""
        body = await body_of(request, asked.SaveAs)
        name = await run_in_threadpool(self.bench.save_as, body.name)
        return JSONResponse({"file": name})

    async def guest(self, request: Request) -> Response:
        """Another look to compare with, which the user opened in the page."""
        body = await body_of(request, asked.Guest)
        return await then_state(self.bench, lambda: self.bench.welcome(body.name, body.text))

    async def reference(self, request: Request) -> Response:
        """8-bit picture of a reference, as the page shows it."""
        body = await body_of(request, asked.Reference)
        found = await run_in_threadpool(self.bench.reference, body.index, body.width, body.height)
        height, width, _ = found.shape
        headers = {"x-width": str(width), "x-height": str(height)}
        return Response(found.tobytes(), media_type="application/octet-stream", headers=headers)
