"""The only place where the bench meets the job of delivering, with the files of this session."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from lookwright.jobs.deliver import deliver
from lookwright.jobs.progress import Progress


def run(asked: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """Deliver the saved look into ``asked["out"]``; runs in the child process."""
    out = Path(asked["out"])
    marks = asked.get("marks")
    deliver(
        Path(asked["look"]),
        [Path(p) for p in asked["stills"]],
        out,
        marks=Path(marks) if marks else None,
        refined=not asked["plain_sampling"],
        progress=progress,
    )
    files = sorted(str(p.relative_to(out)) for p in out.rglob("*") if p.is_file())
    return {"out": str(out), "files": files}
