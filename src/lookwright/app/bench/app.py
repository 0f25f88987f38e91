"""The web server's answers: the page's own files, and what the page asks under ``/api/``."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator, Callable
from functools import partial
from importlib.resources import files
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from lookwright.pictures.stills import Mark

from . import requests as asked
from .answering import Handler, Refused, answering, body_of, change_of, client, inside, region_of, then_state
from .app_pixels import PixelApi
from .bench import Bench
from .comparing import Comparing
from .security import Guard
from .session import ChangedOnDisk
from .working import Working

WAIT = 20.0
"""Seconds that a page waits for news before it asks again."""

LUT_SIZES = ("17", "33", "65")
"""Points of the LUTs that a delivery holds."""

TYPES = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".svg": "image/svg+xml",
}


def application(bench: Bench, port: int, token: str, proven: Callable[[Any], None] = lambda client: None) -> Guard:
    """The guarded application of one bench; ``proven`` is called with each address that showed the token."""
    routes = [*_pages(), *Api(bench).routes(), *PixelApi(bench).routes()]

    @contextlib.asynccontextmanager
    async def life(app: Starlette) -> AsyncIterator[None]:
        yield
        await run_in_threadpool(bench.close)

    return Guard(Starlette(routes=routes, lifespan=life), port, token, proven)


def _pages() -> list[Route]:
    """The page's files, read once: a request can name one of these and nothing else, so no path is ever joined."""
    found = []
    for file in files("lookwright.app.bench").joinpath("page").iterdir():
        suffix = "." + file.name.rpartition(".")[2]
        if suffix in TYPES:
            path = "/" if file.name == "index.html" else f"/{file.name}"
            found.append(Route(path, _page(file.read_bytes(), TYPES[suffix])))
    return found


def _page(content: bytes, media: str) -> Handler:
    async def answer(request: Request) -> Response:
        return Response(content, media_type=media)

    return answer


class Api:
    """Handlers under ``/api/``, each a few lines over the bench."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench

    def routes(self) -> list[Route]:
        """One route a handler."""
        get: dict[str, Handler] = {
            "state": self.state,
            "text": self.text,
            "events": self.events,
            "still/{index:int}": self.still,
            "legend": self.legend,
        }
        post: dict[str, Handler] = {
            "preview": self.preview,
            "words": self.words,
            "lattice": self.lattice,
            "edit": self.edit,
            "undo": self.undo,
            "redo": self.redo,
            "save": self.save,
            "reload": self.reload,
            "unsaved": self.unsaved,
            "source": self.source,
            "exact": self.exact,
            "exposure": self.exposure,
            "marks": self.marks,
            "marks/save": self.save_marks,
            **Comparing(self.bench).handlers(),
            **Working(self.bench).handlers(),
        }
        routes = [Route(f"/api/{p}", answering(h), methods=["GET"]) for p, h in get.items()]
        return routes + [Route(f"/api/{p}", answering(h), methods=["POST"]) for p, h in post.items()]

    # -- what is there ----------------------------------------------------------------------------------------------

    async def state(self, request: Request) -> Response:
        """The recipe and all that belongs to it."""
        return JSONResponse(await run_in_threadpool(self.bench.state))

    async def text(self, request: Request) -> Response:
        """The recipe's text."""
        return Response(self.bench.session.text, media_type="text/plain; charset=utf-8")

    async def events(self, request: Request) -> Response:
        """News since ``after``; waits for some."""
        after = request.query_params.get("after", "0")
        if not after.isdecimal() or len(after) > 15:
            raise Refused(422, "after: a number")
        waiting = asyncio.ensure_future(self.bench.hub.since(int(after), WAIT))
        return JSONResponse(await waiting)

    async def still(self, request: Request) -> Response:
        """Size and marks of one still."""
        return JSONResponse(await run_in_threadpool(self.bench.still_size, int(request.path_params["index"])))

    async def legend(self, request: Request) -> Response:
        """Colours of the exposure map."""
        return JSONResponse(await run_in_threadpool(self.bench.legend))

    # -- lattices ---------------------------------------------------------------------------------------------------

    async def preview(self, request: Request) -> Response:
        """The lattice of a slider on its way and the levels at marks; nothing is kept."""
        body = await body_of(request, asked.Preview)
        views = [(v.still, region_of(v)) for v in body.views]
        changes = [change_of(v) for v in body.changes]
        waiting = await run_in_threadpool(self.bench.trials.ask, client(request), changes, body.size, views, body.still)
        return Response(await asyncio.wrap_future(waiting), media_type="application/octet-stream")

    async def words(self, request: Request) -> Response:
        """What a slider on its way would do, in words."""
        body = await body_of(request, asked.Words)
        changes = [change_of(v) for v in body.changes]
        return JSONResponse({"words": await run_in_threadpool(self.bench.session.words, changes)})

    async def lattice(self, request: Request) -> Response:
        """The 33-point lattice of the recipe as it stands, or of its plain rendering."""
        body = await body_of(request, asked.Lattice)
        look = self.bench.sides.look(body.side)
        baked = await asyncio.wrap_future(self.bench.bakes.bake(client(request), look, 33, body.side))
        content = baked.codes.astype("<u2").tobytes()
        return Response(content, media_type="application/octet-stream", headers={"x-size": str(baked.size)})

    # -- edits ------------------------------------------------------------------------------------------------------

    async def edit(self, request: Request) -> Response:
        """One edit; the answer is the new state."""
        body = await body_of(request, asked.Edit)
        return await then_state(self.bench, lambda: _edit(self.bench, body))

    async def undo(self, request: Request) -> Response:
        """One edit back."""
        await body_of(request, asked.Nothing)
        return await then_state(self.bench, self.bench.session.undo)

    async def redo(self, request: Request) -> Response:
        """One edit forward again."""
        await body_of(request, asked.Nothing)
        return await then_state(self.bench, self.bench.session.redo)

    async def save(self, request: Request) -> Response:
        """Write the look file."""
        body = await body_of(request, asked.Save)

        def work() -> dict[str, Any]:
            try:
                self.bench.session.save(body.overwrite)
            except ChangedOnDisk:  # not a fault but a question for the user
                return {"saved": False, "state": self.bench.state()}
            return {"saved": True, "state": self.bench.state()}

        return JSONResponse(await run_in_threadpool(work))

    async def reload(self, request: Request) -> Response:
        """Read the look file again."""
        await body_of(request, asked.Nothing)
        return await then_state(self.bench, self.bench.session.reload)

    async def unsaved(self, request: Request) -> Response:
        """Take up the unsaved work of an earlier session, throw it away, or leave it for the next start."""
        body = await body_of(request, asked.Unsaved)
        if body.do == "take":
            return await then_state(self.bench, self.bench.take_unsaved)
        return await then_state(self.bench, lambda: self.bench.keeper.answered(body.do == "drop"))

    # -- pictures ---------------------------------------------------------------------------------------------------

    async def source(self, request: Request) -> Response:
        """16-bit source codes of a region."""
        body = await body_of(request, asked.View)
        found = await run_in_threadpool(self.bench.pictures.source, body.still, region_of(body))
        self.bench.look_ahead(body.still, region_of(body))
        return Response(found.astype("<u2").tobytes(), media_type="application/octet-stream")

    async def exact(self, request: Request) -> Response:
        """8-bit picture of a region: a side exactly, or the look through a LUT; 204 when newer came in."""
        body = await body_of(request, asked.View)
        kind, _, points = body.side.partition(":")
        if kind == "lut":
            if points not in LUT_SIZES:
                raise Refused(422, f"side: lut:N, N one of {', '.join(LUT_SIZES)}")
            look = self.bench.session.look
            work = partial(self.bench.pictures.delivered, body.still, region_of(body), look, int(points))
        else:
            look = await run_in_threadpool(self.bench.sides.look, body.side)
            newer = self.bench.turn(client(request), f"exact {body.side} {body.still}")
            work = partial(self.bench.pictures.exact, body.still, region_of(body), look, newer)
        found = await run_in_threadpool(work)
        return Response(found.tobytes(), media_type="application/octet-stream")

    async def exposure(self, request: Request) -> Response:
        """The exposure map of a region, one byte a pixel."""
        body = await body_of(request, asked.View)
        source = self.bench.session.look.source.signal()
        found = await run_in_threadpool(self.bench.pictures.exposure, body.still, region_of(body), source)
        return Response(found.tobytes(), media_type="application/octet-stream")

    # -- marks ------------------------------------------------------------------------------------------------------

    async def marks(self, request: Request) -> Response:
        """Measure marks, and keep them unless told otherwise."""
        body = await body_of(request, asked.Marks)
        return JSONResponse(await run_in_threadpool(self._measure, body, client(request)))

    def _measure(self, body: asked.Marks, client: str) -> dict[str, Any]:
        marks = [Mark(m.name, inside(m.box), m.level, m.role) for m in body.marks]
        if body.keep:
            self.bench.keep_marks(body.still, marks, client)
        found = self.bench.marks.measured(body.still, marks, self.bench.session.look)
        return {"measured": found, **({"state": self.bench.state()} if body.keep else {})}

    async def save_marks(self, request: Request) -> Response:
        """Write the marks file; ``saved`` false when something else wrote it and the user was not asked yet."""
        body = await body_of(request, asked.Save)
        saved = body.overwrite or not self.bench.marks.changed_on_disk()
        if saved:
            await run_in_threadpool(self.bench.marks.save, body.overwrite)
            self.bench.keeper.soon()
        return JSONResponse({"saved": saved, "state": await run_in_threadpool(self.bench.state)})


def _edit(bench: Bench, body: asked.Edit) -> None:
    session = bench.session
    step = -1 if body.step is None else body.step
    if body.do == "set":
        session.set([change_of(v) for v in body.changes])
        bench.let_go()
    elif body.do == "on":
        session.switch(step, body.on)
    elif body.do == "lock":
        session.lock(step, body.lock)
    elif body.do == "add":
        session.add(body.kind, body.index)
    elif body.do == "remove":
        session.remove(step)
    elif body.do == "move":
        session.move(step, body.index)
    elif body.do == "band":
        session.add_band(step, body.centre)
    elif body.do == "unband":
        session.remove_band(step, body.index)
