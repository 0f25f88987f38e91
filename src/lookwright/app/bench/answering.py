"""Answers in general: bodies checked against what may be asked, faults as one line of JSON with a fitting status."""

from __future__ import annotations

import json
from collections.abc import Awaitable, Callable
from typing import TYPE_CHECKING, Any, TypeVar

from pydantic import BaseModel, ValidationError
from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, Response

from lookwright.errors import LookwrightError
from lookwright.look.recipe.staged import Superseded

from .pictures import Region
from .requests import Value, View
from .security import MOST_BYTES, TooLarge
from .session import Change, Gone

if TYPE_CHECKING:
    from .bench import Bench

M = TypeVar("M", bound=BaseModel)
Handler = Callable[[Request], Awaitable[Response]]


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


def answering(handler: Handler) -> Handler:
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


def client(request: Request) -> str:
    """Which window asks; windows do not supersede each other."""
    return request.headers.get("x-client", "")[:64]


async def then_state(bench: Bench, act: Callable[[], Any]) -> Response:
    """Do something; the answer is the new state."""

    def work() -> dict[str, Any]:
        act()
        return bench.state()

    return JSONResponse(await run_in_threadpool(work))


def region_of(view: View) -> Region:
    """The region that a view asks for."""
    return Region(view.x, view.y, view.w, view.h, view.width, view.height)


def change_of(value: Value) -> Change:
    """The change of a number that was asked for."""
    return Change(value.step, tuple(value.path), value.value)


def inside(box: list[float]) -> tuple[float, float, float, float]:
    """A drawn box may end a rounding error outside the frame."""
    x, y, w, h = box
    return x, y, min(w, 1.0 - x), min(h, 1.0 - y)
