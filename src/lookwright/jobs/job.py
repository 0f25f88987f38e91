"""What every job shares: paths given as text, and the rule of outputs, asked before any work."""

from __future__ import annotations

import functools
import inspect
import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any, ParamSpec, TypeVar

from lookwright import outputs, safe_toml
from lookwright.errors import LookwrightError
from lookwright.lut.formats.naming import split_name
from lookwright.outputs import Kind, Output
from lookwright.reading import read_bytes

from .given import MARKS
from .paths import paths_as_text

P = ParamSpec("P")
R = TypeVar("R")
Given = Mapping[str, Any]
"""A job's arguments by name, those left out at their default."""
Place = Kind | Callable[[Given], Iterable[Output]]

_LARGEST_LOOK = 1_000_000


def later(given: Given) -> Iterable[Output]:
    """For names that are only known as the work goes on: the job itself calls :func:`declare` before it writes each."""
    return ()


def job(**places: Place) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """A job that keeps the rule of outputs and takes paths as text.

    Parameters
    ----------
    places
        By the name of a parameter that says where something goes: the kind of the file of that name, or a function of
        all arguments that lists the files. Every other path among the arguments is an input: files, the stills of
        folders and patterns, marks beside them, LUTs that a look names.

    Raises
    ------
    OutputError
        From the job, before any of its work: see :func:`lookwright.outputs.check_outputs`.
    """

    def decorate(work: Callable[P, R]) -> Callable[P, R]:
        signature = inspect.signature(work)
        unknown = set(places) - set(signature.parameters)
        if unknown:
            raise TypeError(f"{work.__name__} has no parameter {', '.join(sorted(unknown))}")

        @functools.wraps(work)
        def called(*args: P.args, **kwargs: P.kwargs) -> R:
            bound = signature.bind(*args, **kwargs)
            bound.apply_defaults()
            written = list(_written(places, bound.arguments))
            if written:
                declare((v for name, v in bound.arguments.items() if name not in places), written)
            return work(*args, **kwargs)

        return paths_as_text(called)

    return decorate


def declare(inputs: Iterable[Any], written: Iterable[Output]) -> None:
    """Hold files that will be written against all that is read; ``inputs`` are arguments of any kind."""
    outputs.check_outputs((file for value in inputs for file in _read(value)), written)


def _written(places: Mapping[str, Place], given: Given) -> Iterator[Output]:
    for name, place in places.items():
        if callable(place):
            yield from place(given)
        elif given[name] is not None:
            yield Output(given[name], place)


def _read(value: Any) -> Iterator[Path]:
    """Every file that an argument stands for."""
    if isinstance(value, Path):
        yield from _files(value)
    elif isinstance(value, list | tuple):
        for part in value:
            yield from _read(part)
    elif is_dataclass(value):
        for part in fields(value):
            if "Path" in str(part.type):
                yield from _read(_as_paths(getattr(value, part.name)))


def _as_paths(value: Any) -> Any:
    """Text where a path is declared, as one."""
    if isinstance(value, str):
        return Path(value)
    return [_as_paths(part) for part in value] if isinstance(value, list | tuple) else value


def _files(path: Path) -> Iterator[Path]:
    # Here and not above: jobs that write nothing come without it.
    from lookwright.pictures.stills.find import find_stills, is_picture

    yield path
    with suppress(OSError, ValueError):
        if path.is_file() and not is_picture(path):
            yield from _luts_of(path)
            return
    stills = [path]
    with suppress(LookwrightError):  # whoever reads them says what is wrong
        stills = find_stills(path)
    yield from stills
    yield from {p.parent / MARKS for p in stills}


def _luts_of(path: Path) -> Iterator[Path]:
    """The files that a look names; none for what is no look."""
    try:
        text = read_bytes(path, _LARGEST_LOOK, "a look file", LookwrightError).decode("utf-8")
        steps = safe_toml.loads(text).get("step", [])
    except (LookwrightError, ValueError, RecursionError, tomllib.TOMLDecodeError):
        return
    for step in steps if isinstance(steps, list) else []:
        name = step.get("file") if isinstance(step, dict) else None
        if isinstance(name, str) and name and "\0" not in name:
            yield path.parent / split_name(name)[0]
