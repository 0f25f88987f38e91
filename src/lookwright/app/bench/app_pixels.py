"""Answers under ``/api/`` about pixels, steps, dropped files and clips: each a few lines over the bench."""

from __future__ import annotations

from pathlib import PurePath
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from . import picked
from . import requests_pixels as asked
from .answering import Handler, Refused, answering, body_of, change_of, client, inside, region_of, then_state
from .dropped import CLIPS
from .requests import Nothing

if TYPE_CHECKING:
    from .bench import Bench

BYTES = "application/octet-stream"


class PixelApi:
    """Handlers under ``/api/`` beside those of :class:`~.app.Api`."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench

    def routes(self) -> list[Route]:
        """One route a handler; all of them are posts."""
        post: dict[str, Handler] = {
            "way": self.way,
            "mask": self.mask,
            "thumb": self.thumb,
            "band": self.band,
            "make": self.make,
            "toward": self.toward,
            "movers": self.movers,
            "drop": self.drop,
            "clip": self.clip,
            "clip/frame": self.clip_frame,
        }
        return [Route(f"/api/{p}", answering(h), methods=["POST"]) for p, h in post.items()]

    # -- one pixel, and masks -----------------------------------------------------------------------------------------

    async def way(self, request: Request) -> Response:
        """The way of one pixel through the steps."""
        body = await body_of(request, asked.Way)
        return JSONResponse(await run_in_threadpool(self.bench.looking.way, body.still, body.x, body.y))

    async def mask(self, request: Request) -> Response:
        """One byte a pixel of a region; 204 when newer came in."""
        body = await body_of(request, asked.Masked)
        looking, region, still = self.bench.looking, region_of(body.view), body.view.still
        newer = self.bench.turn(client(request), f"mask {body.of}")
        makers = {
            "warnings": lambda: looking.warnings(still, region, newer),
            "change": lambda: looking.change(still, region, body.step, newer),
            "held": lambda: looking.held(still, region, body.step, body.what, newer),
            "finding": lambda: looking.finding(still, region, body.what, newer),
        }
        found = await run_in_threadpool(makers[body.of])
        return Response(found.tobytes(), media_type=BYTES)

    async def thumb(self, request: Request) -> Response:
        """A small copy of a still, 16-bit source codes; its width and height in the headers."""
        body = await body_of(request, asked.Thumb)
        found = await run_in_threadpool(self.bench.thumbs.of, body.still)
        headers = {"x-width": str(found.shape[1]), "x-height": str(found.shape[0])}
        return Response(found.astype("<u2").tobytes(), media_type=BYTES, headers=headers)

    # -- taken up on the picture --------------------------------------------------------------------------------------

    async def band(self, request: Request) -> Response:
        """The hue band of a point."""
        body = await body_of(request, asked.Band)

        def work() -> dict[str, Any]:
            still = self.bench.pictures.still(body.still)
            return picked.band_of(self.bench.session, still, body.x, body.y)

        return JSONResponse(await run_in_threadpool(work))

    async def make(self, request: Request) -> Response:
        """A new step where it belongs, with values: one edit; the answer is the new state."""
        body = await body_of(request, asked.Make)

        def work() -> None:
            place = picked.makeable(self.bench.session.look, body.kind)
            values = {v.path[0]: v.value for v in body.values if isinstance(v.path[0], str)}
            self.bench.session.make(body.kind, place, values, body.centre)

        return await then_state(self.bench, work)

    async def toward(self, request: Request) -> Response:
        """Values that make a box grey, or bring it to a level."""
        body = await body_of(request, asked.Toward)
        bench, box = self.bench, inside(body.box)

        def work() -> dict[str, Any]:
            if body.do == "grey":
                return picked.balanced(bench.session, bench.pictures.still(body.still), box)
            if body.level is None or body.number is None:
                raise Refused(422, "a level, and the number that is to move")
            change = change_of(body.number)
            return picked.toward_level(bench.session, bench.pictures, body.still, box, body.level, change)

        return JSONResponse(await run_in_threadpool(work))

    async def movers(self, request: Request) -> Response:
        """The numbers that move levels."""
        await body_of(request, Nothing)
        return JSONResponse({"movers": await run_in_threadpool(picked.movers, self.bench.session)})

    # -- files and clips ----------------------------------------------------------------------------------------------

    async def drop(self, request: Request) -> Response:
        """One file, its bytes as the body and its name in a header: copied, read, and taken among the stills."""
        if request.headers.get("content-type", "") != BYTES:
            raise Refused(415, "the body must be bytes")
        name = unquote(request.headers.get("x-name", ""))[:200]
        path = await self.bench.dropped.take(name, request.stream())
        clip = PurePath(path.name).suffix.lower() in CLIPS
        return JSONResponse(await run_in_threadpool(self.bench.take_clip if clip else self.bench.take_still, path))

    async def clip(self, request: Request) -> Response:
        """Begin to read frames of a clip."""
        body = await body_of(request, asked.Seek)
        legal = self.bench.session.look.source.range == "legal"
        return JSONResponse(await run_in_threadpool(self.bench.footage.open, body.clip, body.first, legal))

    async def clip_frame(self, request: Request) -> Response:
        """One frame, 16-bit source codes."""
        body = await body_of(request, asked.Frame)
        found = self.bench.footage.frame(body.number)
        return Response(found.astype("<u2").tobytes(), media_type=BYTES)
