"""An OpenColorIO configuration in a folder: the look's source, the light behind it, and the look as a view.

A small, whole configuration rather than a fragment: it validates by itself and can be named in ``OCIO``. Version 2.1,
so that hosts with OpenColorIO 2.1 and later load it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from lookwright.colour.spaces.encodings import Encoding
from lookwright.colour.spaces.primaries import matrix
from lookwright.colour.spaces.signal import DISPLAY_PRIMARIES, SCENE_PRIMARIES, Signal
from lookwright.errors import LutFileError
from lookwright.files import make_folder, write_text
from lookwright.lut.lattices.lattice import Curves, Lattice

from .cdl import Correction
from .clf import identity_of, write_clf
from .ocio_shots import MATCH, add_shots
from .ocio_transforms import decoding, file_transform, group, inverted, matrix_transform


@dataclass(frozen=True)
class Part:
    """A LUT of the configuration, with the header that goes into its file."""

    lattice: Lattice
    shaper: Curves | None = None
    comments: tuple[str, ...] = ()


@dataclass(frozen=True)
class Names:
    """What the parts of a written configuration are called."""

    source: str
    display: str
    view: str
    plain_view: str = "Plain rendering"
    as_shot: str = ""
    """The view of the look without a shot's correction, where there are shots."""


def space_name(signal: Signal) -> str:
    """A colour space name for a signal, e.g. ``S-Log3 S-Gamut3.Cine``."""
    curve, gamut = signal.encoding.name, signal.primaries.name
    name = curve if gamut in (curve, "") or (curve, gamut) == ("ACEScct", "ACEScg") else f"{curve} {gamut}"
    return name if signal.range == "full" else f"{name} {signal.range}"


def write_config(
    folder: Path,
    source: Signal,
    output: Signal,
    graded: Part,
    plain: Part,
    log: Part | None = None,
    title: str = "",
    corrections: Sequence[Correction] = (),
) -> Names:
    """Write ``config.ocio`` and its ``luts`` into ``folder``.

    Parameters
    ----------
    folder
        Made when it is not there.
    source, output
        What the LUTs take, and what ``graded`` and ``plain`` give (a display signal).
    graded, plain
        The look and the plain rendering; each becomes a view.
    log
        The look's log to log form; becomes an OCIO *look* in the source space.
    title
        Name of the look.
    corrections
        Of the shots of an episode, in ``source``, each with a shot's name as its id: the views then apply that of the
        shot which a context variable names, the first where a host sets none.

    Returns
    -------
    The names to ask for.

    Raises
    ------
    LutFileError
        When OpenColorIO does not accept the configuration.
    OutputError
        When a file cannot be written.
    """
    import PyOpenColorIO as ocio

    luts = make_folder(make_folder(folder) / "luts")
    view = _view_name(title)
    names = Names(space_name(source), space_name(output), view, as_shot=f"{view} as shot" if corrections else "")
    config = ocio.Config()
    config.setVersion(2, 1)
    config.setName(_key(names.view))
    config.setDescription(f"{names.view}: from {source.describe()} to {output.describe()}")
    config.setSearchPath("luts")
    config.setDefaultLumaCoefs([0.2126, 0.7152, 0.0722])
    decode = decoding(source, luts)
    _spaces(config, source, names, decode)
    if corrections:
        add_shots(config, luts, names.source, source.describe(), corrections)
    for name, file, part in ((names.view, "graded.clf", graded), (names.plain_view, "plain.clf", plain)):
        _write(luts / file, part, source, output)
        _add_view(config, names, name, output, [*inverted(decode), file_transform(file)], MATCH if corrections else "")
    config.addDisplayView(names.display, "Raw", "Raw")
    if names.as_shot:
        config.addDisplayView(names.display, names.as_shot, f"{names.view} - {names.display}")
    if log is not None:
        _write(luts / "log.clf", log, source, source)
        text, transform = "The steps before the rendering, log to log", file_transform("log.clf")
        config.addLook(ocio.Look(name=names.view, processSpace=names.source, transform=transform, description=text))
    try:
        config.validate()
        write_text(folder / "config.ocio", config.serialize())
        read_back(folder)
    except ocio.Exception as exc:
        raise LutFileError(str(folder), f"OpenColorIO does not accept the configuration: {exc}") from None
    return names


def _spaces(config: Any, source: Signal, names: Names, decode: list[Any]) -> None:
    """Light, the source and pictures that are no colour, and the roles that they play."""
    import PyOpenColorIO as ocio

    light = SCENE_PRIMARIES if source.kind == "scene" else f"Linear {DISPLAY_PRIMARIES}"
    _light_spaces(config, light, source.kind)
    config.addColorSpace(
        ocio.ColorSpace(
            name=names.source,
            family="Source",
            encoding=_encoding_word(source.encoding),
            description=f"What the look is fed: {source.describe()}",
            toReference=group(decode),
        )
    )
    config.addColorSpace(ocio.ColorSpace(name="Raw", family="Raw", isData=True, encoding="data"))
    roles = {
        "scene_linear": light,
        "rendering": light,
        "compositing_log": names.source,
        "color_timing": names.source,
        "default": names.source,
        "data": "Raw",
    }
    if source.kind == "scene":
        roles["aces_interchange"] = "ACES2065-1"
    for role, space in roles.items():
        config.setRole(role, space)


def _add_view(config: Any, names: Names, view: str, output: Signal, to_display: list[Any], looks: str) -> None:
    import PyOpenColorIO as ocio

    space = f"{view} - {names.display}"
    config.addColorSpace(
        ocio.ColorSpace(
            name=space,
            family="View",
            encoding=_encoding_word(output.encoding),
            description=f"{view} on {output.describe()}",
            fromReference=group(to_display),
        )
    )
    config.addDisplayView(names.display, view, space, looks=looks)


def read_back(folder: Path) -> Any:
    """Load a configuration from its folder with OpenColorIO and validate it, LUTs included."""
    import PyOpenColorIO as ocio

    # OpenColorIO keeps LUTs by path; a rewritten one would be taken for the earlier.
    ocio.ClearAllCaches()
    config = ocio.Config.CreateFromFile(str(folder / "config.ocio"))
    config.validate()
    return config


def view_transform(names: Names, view: str | None = None) -> Any:
    """From the source space to a view, as a host would ask for it."""
    import PyOpenColorIO as ocio

    return ocio.DisplayViewTransform(src=names.source, display=names.display, view=view or names.view)


def _encoding_word(encoding: Encoding) -> str:
    """What OpenColorIO calls such a signal (its ``ColorSpace`` documentation, ``encoding``)."""
    if encoding.kind == "scene":
        return "scene-linear" if encoding.linear else "log"
    return "sdr-video" if encoding.peak <= 1.0 else "hdr-video"


def _view_name(title: str) -> str:
    """A title as a view name: OpenColorIO takes commas and colons for the ends of names."""
    kept = "".join(c if c.isalnum() or c in " -_.()" else " " for c in title)
    name = " ".join(kept.split()) or "Look"
    return f"{name} look" if name.casefold() in ("raw", "plain rendering") else name


def _key(text: str) -> str:
    return "".join(c if c.isalnum() else "-" for c in text.casefold()).strip("-") or "look"


def _write(path: Path, part: Part, source: Signal, output: Signal) -> None:
    tables = [np.round(t.table, 8) + 0.0 for t in (part.shaper, part.lattice) if t is not None]
    digest = hashlib.sha256(b"".join(t.tobytes() for t in tables)).hexdigest()
    write_clf(
        path,
        part.lattice,
        part.shaper,
        identity=identity_of(path.name, digest),
        comments=part.comments,
        feed=source.describe(),
        gives=output.describe(),
    )


def _light_spaces(config: Any, light: str, kind: str) -> None:
    import PyOpenColorIO as ocio

    config.addColorSpace(
        ocio.ColorSpace(name=light, family="Light", encoding="scene-linear", description="linear light, the reference")
    )
    if kind == "scene":
        aces = group([matrix_transform(matrix("ACES2065-1", SCENE_PRIMARIES))])
        config.addColorSpace(
            ocio.ColorSpace(name="ACES2065-1", family="Light", encoding="scene-linear", toReference=aces)
        )
