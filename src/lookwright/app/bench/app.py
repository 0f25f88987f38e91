"""The web server's answers: the page's own files, and what the page asks under ``/api/``."""

from __future__ import annotations

import asyncio
import contextlib
import json
from collections.abc import AsyncIterator, Awaitable, Callable
from importlib.resources import files
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from lookwright.errors import LookwrightError
from lookwright.look.recipe.model import Look
from lookwright.look.recipe.staged import Superseded
from lookwright.pictures.stills import Mark

from . import requests as asked
from .bake_queue import Seen
from .bench import Bench
from .pictures import Region
from .security import MOST_BYTES, Guard, TooLarge
from .session import Change, ChangedOnDisk, Gone

M = TypeVar("M", bound=BaseModel)
Handler = Callable[[Request], Awaitable[Response]]

WAIT = 20.0
"""Seconds that a page waits for news before it asks again."""

TYPES = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".svg": "image/svg+xml",
}


def application(bench: Bench, port: int, token: str, proven: Callable[[Any], None] = lambda client: None) -> Guard:
    """The guarded application of one bench; ``proven`` is called with each address that showed the token."""
    routes = [*_pages(), *Api(bench).routes()]

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


class Refused(Exception):
    """A request that is not in order."""

    def __init__(self, status: int, text: str) -> None:
        super().__init__(text)
        self.status = status


async def body_of(request: Request, model: type[M]) -> M:
    """The body, checked; raises :class:`Refused` for anything else than what ``model`` says."""
    if request.headers.get("content-type", "").split(";")[0].strip() != "application/json":
        raise Refused(415, "the body must be JSON")
    data = await request.body()

    def no_constants(name: str) -> Any:
        raise ValueError(f"{name} is no JSON")

    try:
        value = json.loads(data.decode("utf-8"), parse_constant=no_constants)
        return model.model_validate(value)
    except ValidationError as exc:
        first = exc.errors(include_url=False)[0]
        place = ".".join(str(p) for p in first["loc"])
        raise Refused(422, f"{place}: {first['msg']}"[:300]) from None
    except (ValueError, RecursionError):
        raise Refused(400, "the body is not valid JSON") from None


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
            "tune": self.tune,
            "tune/take": self.take,
            "job/stop": self.stop,
            "job/clear": self.clear,
            "deliver": self.deliver,
        }
        routes = [Route(f"/api/{p}", _answering(h), methods=["GET"]) for p, h in get.items()]
        return routes + [Route(f"/api/{p}", _answering(h), methods=["POST"]) for p, h in post.items()]

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
        """The lattice of a slider on its way; not kept."""
        body = await body_of(request, asked.Preview)
        look = self.bench.session.trial([_change(v) for v in body.changes])
        view = body.view
        seen = self.bench.pictures.seen(view.still, _region(view)) if view else None
        return await self._baked(request, look, body.size, "after", seen)

    async def lattice(self, request: Request) -> Response:
        """The 33-point lattice of the recipe as it stands, or of its plain rendering."""
        body = await body_of(request, asked.Lattice)
        look = self.bench.session.look
        return await self._baked(request, look if body.side == "after" else look.plain(), 33, body.side)

    async def _baked(
        self, request: Request, look: Look, size: int | None, side: str, seen: Seen | None = None
    ) -> Response:
        baked = await asyncio.wrap_future(self.bench.bakes.bake(_client(request), look, size, side, seen))
        headers = {
            "x-size": str(baked.size),
            "x-points": str(len(baked.codes)),
            "x-bake-ms": f"{baked.seconds * 1000.0:.2f}",
        }
        places = b"" if baked.places is None else baked.places.astype("<u4").tobytes()
        content = places + baked.codes.astype("<u2").tobytes()
        return Response(content, media_type="application/octet-stream", headers=headers)

    # -- edits ------------------------------------------------------------------------------------------------------

    async def edit(self, request: Request) -> Response:
        """One edit; the answer is the new state."""
        body = await body_of(request, asked.Edit)
        return await self._then_state(lambda: _edit(self.bench, body))

    async def undo(self, request: Request) -> Response:
        """One edit back."""
        await body_of(request, asked.Nothing)
        return await self._then_state(self.bench.session.undo)

    async def redo(self, request: Request) -> Response:
        """One edit forward again."""
        await body_of(request, asked.Nothing)
        return await self._then_state(self.bench.session.redo)

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
        return await self._then_state(self.bench.session.reload)

    async def unsaved(self, request: Request) -> Response:
        """Take up the unsaved work of an earlier session, throw it away, or leave it for the next start."""
        body = await body_of(request, asked.Unsaved)
        if body.do == "take":
            return await self._then_state(self.bench.take_unsaved)
        return await self._then_state(lambda: self.bench.keeper.answered(body.do == "drop"))

    async def _then_state(self, act: Callable[[], Any]) -> Response:
        def work() -> dict[str, Any]:
            act()
            return self.bench.state()

        return JSONResponse(await run_in_threadpool(work))

    # -- pictures ---------------------------------------------------------------------------------------------------

    async def source(self, request: Request) -> Response:
        """16-bit source codes of a region."""
        body = await body_of(request, asked.View)
        found = await run_in_threadpool(self.bench.pictures.source, body.still, _region(body))
        self.bench.look_ahead(body.still, _region(body))
        return Response(found.astype("<u2").tobytes(), media_type="application/octet-stream")

    async def exact(self, request: Request) -> Response:
        """8-bit picture of a region through the exact path; 204 when newer came in."""
        body = await body_of(request, asked.View)
        look = self.bench.session.look
        look = look if body.side == "after" else look.plain()
        newer = self.bench.turn(_client(request), f"exact {body.side}")
        found = await run_in_threadpool(self.bench.pictures.exact, body.still, _region(body), look, newer)
        return Response(found.tobytes(), media_type="application/octet-stream")

    async def exposure(self, request: Request) -> Response:
        """The exposure map of a region, one byte a pixel."""
        body = await body_of(request, asked.View)
        source = self.bench.session.look.source.signal()
        found = await run_in_threadpool(self.bench.pictures.exposure, body.still, _region(body), source)
        return Response(found.tobytes(), media_type="application/octet-stream")

    # -- marks ------------------------------------------------------------------------------------------------------

    async def marks(self, request: Request) -> Response:
        """Measure marks, and keep them unless told otherwise."""
        body = await body_of(request, asked.Marks)
        return JSONResponse(await run_in_threadpool(self._measure, body, _client(request)))

    def _measure(self, body: asked.Marks, client: str) -> dict[str, Any]:
        marks = [Mark(m.name, _inside(m.box), m.level, m.role) for m in body.marks]
        if body.keep:
            before = self.bench.marks.of(body.still)
            self.bench.marks.put(body.still, marks)
            self.bench.keeper.soon()
            if before != marks:
                self.bench.hub.tell("marks", {"still": body.still, "client": client})
                self.bench.check_soon(1.0)
        found = self.bench.marks.measured(body.still, marks, self.bench.session.look)
        return {"measured": found, "marks_dirty": self.bench.marks.dirty}

    async def save_marks(self, request: Request) -> Response:
        """Write the marks file; ``saved`` false when something else wrote it and the user was not asked yet."""
        body = await body_of(request, asked.Save)
        saved = body.overwrite or not self.bench.marks.changed_on_disk()
        if saved:
            await run_in_threadpool(self.bench.marks.save, body.overwrite)
            self.bench.keeper.soon()
        return JSONResponse({"saved": saved})

    # -- jobs -------------------------------------------------------------------------------------------------------

    async def tune(self, request: Request) -> Response:
        """Start a tuning."""
        body = await body_of(request, asked.Tune)
        goals: dict[str, Any] = {"separation": body.separation} if body.separation is not None else {}
        goals |= {"levels": True} if body.levels else {}
        goals |= {"reference": True} if body.reference else {}
        await run_in_threadpool(self.bench.tune, goals)
        return JSONResponse({})

    async def take(self, request: Request) -> Response:
        """Put the tuned values into the recipe."""
        await body_of(request, asked.Nothing)
        return await self._then_state(self.bench.take_tuned)

    async def stop(self, request: Request) -> Response:
        """Stop the job at work."""
        await body_of(request, asked.Nothing)
        await run_in_threadpool(self.bench.stop_job)
        return JSONResponse({})

    async def clear(self, request: Request) -> Response:
        """Forget the job's result."""
        await body_of(request, asked.Nothing)
        self.bench.leave_tuned()
        return JSONResponse({})

    async def deliver(self, request: Request) -> Response:
        """Start a delivery."""
        body = await body_of(request, asked.Deliver)
        await run_in_threadpool(self.bench.deliver, body.plain_sampling)
        return JSONResponse({})


def _answering(handler: Handler) -> Handler:
    """Faults as one line of JSON with a fitting status."""

    async def answer(request: Request) -> Response:
        try:
            return await handler(request)
        except Refused as exc:
            return JSONResponse({"error": str(exc)}, exc.status)
        except TooLarge:
            return JSONResponse({"error": f"the request is larger than {MOST_BYTES} bytes"}, 413)
        except Superseded:
            return Response(status_code=204)
        except ClientDisconnect:
            return Response(status_code=204)
        except Gone as exc:
            return JSONResponse({"error": str(exc), "gone": True}, 409)
        except LookwrightError as exc:
            return JSONResponse({"error": str(exc).splitlines()[0]}, 422)
        except Exception as exc:  # the bench goes on; what happened is said
            return JSONResponse({"error": f"{type(exc).__name__}: {exc}"[:300]}, 500)

    return answer


def _client(request: Request) -> str:
    """Which window asks; windows do not supersede each other."""
    return request.headers.get("x-client", "")[:64]


def _change(value: asked.Value) -> Change:
    return Change(value.step, tuple(value.path), value.value)


def _region(view: asked.View) -> Region:
    return Region(view.x, view.y, view.w, view.h, view.width, view.height)


def _inside(box: list[float]) -> tuple[float, float, float, float]:
    """A drawn box may end a rounding error outside the frame."""
    x, y, w, h = box
    return x, y, min(w, 1.0 - x), min(h, 1.0 - y)


def _edit(bench: Bench, body: asked.Edit) -> None:
    session = bench.session
    step = -1 if body.step is None else body.step
    if body.do == "set":
        session.set([_change(v) for v in body.changes])
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
