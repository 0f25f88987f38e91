"""The only place where the bench meets the job of checking: the measures of a look as a list for the page."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import replace
from pathlib import Path
from typing import Any

from lookwright.arrays import Array
from lookwright.assess.restraint.stills import thinned
from lookwright.errors import LookwrightError
from lookwright.jobs.check import check_look
from lookwright.jobs.progress import Progress
from lookwright.look.recipe.read import parse_look
from lookwright.pictures.stills import Mark, Still, read

MOST_STILLS = 12
"""Stills that count in a check on the bench, evenly chosen; ``lookwright check`` measures all."""

AT_STILLS = ("still_clipped", "still_crushed")
"""Findings about pixels of stills: warnings on the picture show the same."""

_read: OrderedDict[str, Still] = OrderedDict()


def run(asked: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """Check the look of ``asked["text"]`` on ``asked["stills"]`` with ``asked["marks"]``; runs in the child process.

    What would ease a finding is left out where ``asked["advised"]`` is false.
    """
    look = parse_look(asked["text"], "look").with_folder(Path(asked["folder"]))
    stills, unread = [], []
    for path in asked["stills"]:
        try:
            stills.append((_small(path), [Mark(*m) for m in asked["marks"].get(Path(path).stem, ())]))
        except LookwrightError as exc:
            unread.append(exc.line())
    report = check_look(look, stills, progress, asked.get("advised", True))
    found = [
        {
            "measure": f.measure,
            "placed": f.measure in report.where or f.measure in AT_STILLS,
            "title": f.title,
            "state": f.state,
            "harm": f.harm,
            "sentence": f.sentence(),
            "reason": f.reason,
        }
        for f in report.findings
    ]
    gained = [{"name": s.name, "before": s.separation_plain, "after": s.separation_graded} for s in report.stills]
    return {
        "revision": asked["revision"],
        "summary": report.summary(),
        "verdict": list(report.verdict),
        "effect": report.effect.sentence(),
        "doubts": [f"{name}: {sentence}" for name, sentences in report.doubts.items() for sentence in sentences],
        "unread": unread,
        "findings": found,
        "separation": gained,
        "where": {n: {"scene": _short(w.scene), "harmful": w.harmful.tolist()} for n, w in report.where.items()},
    }


def _short(scene: Array) -> list[list[float]]:
    """Scene light with six digits, which is more than pointing at pixels needs."""
    return [[float(f"{v:.6g}") for v in row] for row in scene]


def chosen(paths: list[Path]) -> list[Path]:
    """At most :data:`MOST_STILLS` of the stills, evenly over their order."""
    n = len(paths)
    return paths if n <= MOST_STILLS else [paths[i * n // MOST_STILLS] for i in range(MOST_STILLS)]


def _small(path: str) -> Still:
    """The still thinned to what a check looks at, remembered: marks are fractions and fit it as well."""
    if path not in _read:
        still = read(Path(path))
        _read[path] = replace(still, pixels=thinned(still.pixels), alpha=None)
    return _read[path]
