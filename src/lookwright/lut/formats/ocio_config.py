"""An OpenColorIO configuration in a folder: the look's source, the light behind it, and the look as a view.

A small, whole configuration rather than a fragment: it validates by itself and can be named in ``OCIO``. Version 2.1,
so that hosts with OpenColorIO 2.1 and later load it.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from lookwright.arrays import Array
from lookwright.colour.spaces import curves
from lookwright.colour.spaces.encodings import Encoding
from lookwright.colour.spaces.primaries import matrix
from lookwright.colour.spaces.signal import DISPLAY_PRIMARIES, SCENE_PRIMARIES, Signal
from lookwright.errors import LutFileError
from lookwright.files import make_folder, write_text
from lookwright.lut.lattices.lattice import Curves, Lattice

from .clf import identity_of, write_clf

_DECODE_POINTS = 16385
"""Points of a sampled decoding curve. Between them a log curve of 17.5 stops errs by at most
(17.5 ln 2 / 16384)^2 / 8 = 7e-8 of the light."""


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
    light = SCENE_PRIMARIES if source.kind == "scene" else f"Linear {DISPLAY_PRIMARIES}"
    names = Names(space_name(source), space_name(output), _view_name(title))
    config = ocio.Config()
    config.setVersion(2, 1)
    config.setName(_key(names.view))
    config.setDescription(f"{names.view}: from {source.describe()} to {output.describe()}")
    config.setSearchPath("luts")
    config.setDefaultLumaCoefs([0.2126, 0.7152, 0.0722])
    _light_spaces(config, light, source.kind)
    decode = _decoding(source, luts)
    config.addColorSpace(
        ocio.ColorSpace(
            name=names.source,
            family="Source",
            encoding=_encoding_word(source.encoding),
            description=f"What the look is fed: {source.describe()}",
            toReference=_group(decode),
        )
    )
    config.addColorSpace(ocio.ColorSpace(name="Raw", family="Raw", isData=True, encoding="data"))
    views = {names.view: ("graded.clf", graded), names.plain_view: ("plain.clf", plain)}
    for view, (file, part) in views.items():
        _write(luts / file, part, source, output)
        space = f"{view} - {names.display}"
        to_display = [*_inverted(decode), _file(file)]
        config.addColorSpace(
            ocio.ColorSpace(
                name=space,
                family="View",
                encoding=_encoding_word(output.encoding),
                description=f"{view} on {output.describe()}",
                fromReference=_group(to_display),
            )
        )
        config.addDisplayView(names.display, view, space)
    config.addDisplayView(names.display, "Raw", "Raw")
    if log is not None:
        _write(luts / "log.clf", log, source, source)
        text = "The steps before the rendering, log to log"
        config.addLook(
            ocio.Look(name=names.view, processSpace=names.source, transform=_file("log.clf"), description=text)
        )
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
    try:
        config.validate()
        write_text(folder / "config.ocio", config.serialize())
        read_back(folder)
    except ocio.Exception as exc:
        raise LutFileError(str(folder), f"OpenColorIO does not accept the configuration: {exc}") from None
    return names


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
        aces = _group([_matrix(matrix("ACES2065-1", SCENE_PRIMARIES))])
        config.addColorSpace(
            ocio.ColorSpace(name="ACES2065-1", family="Light", encoding="scene-linear", toReference=aces)
        )


def _decoding(source: Signal, luts: Path) -> list[Any]:
    """Transforms from the source signal to the reference light."""
    import PyOpenColorIO as ocio

    steps: list[Any] = []
    if source.range == "full" and source.encoding.decode is curves.acescct_decode:
        # S-2016-001 equation 3.
        steps.append(
            ocio.LogCameraTransform(
                base=2.0,
                linSideBreak=[curves.ACESCCT_BREAK] * 3,
                logSideSlope=[1.0 / curves.ACESCCT_SLOPE] * 3,
                logSideOffset=[curves.ACESCCT_OFFSET / curves.ACESCCT_SLOPE] * 3,
                direction=ocio.TRANSFORM_DIR_INVERSE,
            )
        )
    elif source.range == "full" and (power := _power(source.encoding)) is not None:
        # A table of a bare power is flat at black, and cannot be undone there.
        steps.append(ocio.ExponentTransform(value=[power, power, power, 1.0]))
    elif source.range != "full" or not source.encoding.linear:
        points = np.repeat(np.linspace(0.0, 1.0, _DECODE_POINTS)[:, None], 3, axis=1)
        curve = Curves(source.decode(points), title=f"{source.describe()} to light")
        write_clf(luts / "source-to-light.clf", None, curve, identity=identity_of("decode", source.describe()))
        steps.append(_file("source-to-light.clf"))
    to_light = matrix(source.primaries.name, SCENE_PRIMARIES if source.kind == "scene" else DISPLAY_PRIMARIES)
    if not np.allclose(to_light, np.eye(3), rtol=0, atol=1e-12):
        steps.append(_matrix(to_light))
    return steps


def _power(encoding: Encoding) -> float | None:
    """The exponent of a curve that is a power and nothing else (BT.1886, cinema); None for any other."""
    x = np.repeat(np.linspace(0.0, 1.0, 65)[:, None], 3, axis=1)
    light = encoding.decode(x)
    middle = float(light[32, 0])
    if encoding.linear or not 0.0 < middle < 1.0:
        return None
    power = float(np.log(middle) / np.log(0.5))
    return round(power, 12) if np.allclose(light, x**power, rtol=0, atol=1e-12) else None


def _inverted(steps: list[Any]) -> list[Any]:
    import PyOpenColorIO as ocio

    out = []
    for step in reversed(steps):
        turned = _copy(step)
        forward = step.getDirection() == ocio.TRANSFORM_DIR_FORWARD
        turned.setDirection(ocio.TRANSFORM_DIR_INVERSE if forward else ocio.TRANSFORM_DIR_FORWARD)
        out.append(turned)
    return out


def _copy(step: Any) -> Any:
    import copy

    return copy.deepcopy(step)


def _matrix(rows: Array) -> Any:
    import PyOpenColorIO as ocio

    whole = np.eye(4)
    whole[:3, :3] = rows
    return ocio.MatrixTransform(matrix=whole.ravel().tolist())


def _file(name: str) -> Any:
    import PyOpenColorIO as ocio

    return ocio.FileTransform(src=name, interpolation=ocio.INTERP_TETRAHEDRAL)


def _group(steps: list[Any]) -> Any:
    import PyOpenColorIO as ocio

    return ocio.GroupTransform(transforms=steps)
