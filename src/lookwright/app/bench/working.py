"""Answers for work beside the page: tuning, its proposal, delivery."""

from __future__ import annotations

from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from . import requests as asked
from .answering import Handler, body_of, then_state
from .bench import Bench


class Working:
    """Handlers, each a few lines over the bench."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench

    def handlers(self) -> dict[str, Handler]:
        """By the path they answer to."""
        return {
            "tune": self.tune,
            "tune/choose": self.choose,
            "tune/take": self.take,
            "job/stop": self.stop,
            "job/clear": self.clear,
            "deliver": self.deliver,
        }

    async def tune(self, request: Request) -> Response:
        """Start a tuning."""
        body = await body_of(request, asked.Tune)
        goals: dict[str, Any] = {"separation": body.separation} if body.separation is not None else {}
        goals |= {"levels": True} if body.levels else {}
        goals |= {"reference": True} if body.reference else {}
        await run_in_threadpool(self.bench.tune, goals)
        return JSONResponse({})

    async def choose(self, request: Request) -> Response:
        """Which of the tuned numbers are wanted; shown, not yet taken."""
        body = await body_of(request, asked.Chosen)
        return await then_state(self.bench, lambda: self.bench.choose_tuned(body.chosen))

    async def take(self, request: Request) -> Response:
        """Put the wanted of the tuned numbers into the recipe."""
        await body_of(request, asked.Nothing)
        return await then_state(self.bench, self.bench.take_tuned)

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
