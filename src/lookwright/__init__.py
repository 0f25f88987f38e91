"""Build, tune, measure, see and deliver a restrained warm/cool look.

The names below are the library; each is loaded when it is first used, so that importing the package stays cheap.
Paths may be given as text. What goes wrong is a :class:`LookwrightError`: what, where, what to do, on one line.

Examples
--------
A look is read, compiled, and called with source code values; an array of any shape ``(..., 3)`` will do.

>>> import lookwright as lw
>>> look = lw.parse_look('''
... format = 2
... source = {encoding = "ACEScct"}
... output = {encoding = "BT.1886"}
... [[step]]
... kind = "render"
... ''')
>>> grade = lw.compile_look(look)
>>> grey = lw.Signal.named("ACEScct").from_scene([0.18, 0.18, 0.18])
>>> grade(grey).shape
(3,)

What cannot be right is told in one sentence.

>>> import numpy as np
>>> grade(np.zeros((4, 4, 4)))  # doctest: +ELLIPSIS
Traceback (most recent call last):
    ...
lookwright.errors.LookwrightError: code values: shape (4, 4, 4); expected red, green and blue last...
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

from lookwright.version import __version__

if TYPE_CHECKING:
    from lookwright.assess.restraint.report import Report
    from lookwright.colour.spaces.signal import Signal
    from lookwright.errors import LookwrightError
    from lookwright.jobs.bake import bake
    from lookwright.jobs.check import check
    from lookwright.jobs.clip import clip
    from lookwright.jobs.deliver import deliver
    from lookwright.jobs.learn import learn
    from lookwright.jobs.measure import measure
    from lookwright.jobs.preview import preview
    from lookwright.jobs.progress import Cancelled, Progress
    from lookwright.jobs.series import series
    from lookwright.jobs.tune import tune
    from lookwright.look.recipe.model import Look
    from lookwright.look.recipe.pipeline import Pipeline, compile_look
    from lookwright.look.recipe.read import parse_look, read_look
    from lookwright.look.recipe.write import look_text
    from lookwright.lut.formats.read import read_lut
    from lookwright.pictures.stills.read import read as read_still
    from lookwright.pictures.stills.write import write as write_still

_HOMES = {
    "Cancelled": "jobs.progress",
    "Look": "look.recipe.model",
    "LookwrightError": "errors",
    "Pipeline": "look.recipe.pipeline",
    "Progress": "jobs.progress",
    "Report": "assess.restraint.report",
    "Signal": "colour.spaces.signal",
    "bake": "jobs.bake",
    "check": "jobs.check",
    "clip": "jobs.clip",
    "compile_look": "look.recipe.pipeline",
    "deliver": "jobs.deliver",
    "learn": "jobs.learn",
    "look_text": "look.recipe.write",
    "measure": "jobs.measure",
    "parse_look": "look.recipe.read",
    "preview": "jobs.preview",
    "read_look": "look.recipe.read",
    "read_lut": "lut.formats.read",
    "read_still": "pictures.stills.read:read",
    "series": "jobs.series",
    "tune": "jobs.tune",
    "write_still": "pictures.stills.write:write",
}
"""Where each public name lives; its name there stands behind a colon where it is another."""

__all__ = [
    "Cancelled",
    "Look",
    "LookwrightError",
    "Pipeline",
    "Progress",
    "Report",
    "Signal",
    "__version__",
    "bake",
    "check",
    "clip",
    "compile_look",
    "deliver",
    "learn",
    "look_text",
    "measure",
    "parse_look",
    "preview",
    "read_look",
    "read_lut",
    "read_still",
    "series",
    "tune",
    "write_still",
]


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'lookwright' has no attribute {name!r}")
    module, _, own = _HOMES[name].partition(":")
    return getattr(importlib.import_module(f"lookwright.{module}"), own or name)


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
