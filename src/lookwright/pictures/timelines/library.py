"""OpenTimelineIO, or one clear line about the extra that brings it."""

from __future__ import annotations

import json
from typing import Any

from lookwright.errors import LookwrightError, TimelineError
from lookwright.installed import how_to_get

_DEEPEST = 200
"""Brackets within brackets: a nested sequence takes some ten. The library's own reader has no bound."""


def timeline_library() -> Any:
    """OpenTimelineIO; raises :class:`LookwrightError` where it is not installed."""
    try:
        import opentimelineio
    except ImportError:
        raise LookwrightError(
            "timeline", "the extra 'timeline' is not installed", hint=how_to_get("timeline")
        ) from None
    return opentimelineio


def parse_otio(text: str, where: str) -> Any:
    """A timeline of OpenTimelineIO's own format.

    Raises :class:`TimelineError` for what the library does not read, or is no timeline.
    """
    otio = timeline_library()
    _demand_shallow(text, where)
    try:
        found = otio.adapters.read_from_string(text, "otio_json")
    except Exception as exc:  # the library raises what comes: its own errors, ValueError, RuntimeError
        words = " ".join(str(exc).split())[:120]
        raise TimelineError(where, f"OpenTimelineIO does not read it ({words})", "an .otio file") from None
    if not isinstance(found, otio.schema.Timeline):
        kind = type(found).__name__
        raise TimelineError(where, f"holds a {kind}", "a timeline", "export one timeline, not a bin of them")
    return found


def _demand_shallow(text: str, where: str) -> None:
    try:
        held = json.loads(text)
    except (ValueError, RecursionError):
        raise TimelineError(where, "is no JSON text", "an .otio file") from None
    level, depth = [held], 0
    while level:
        depth += 1
        if depth > _DEEPEST:
            raise TimelineError(where, f"is nested more than {_DEEPEST} deep", "a timeline")
        level = [c for v in level for c in (v.values() if isinstance(v, dict) else v if isinstance(v, list) else ())]
