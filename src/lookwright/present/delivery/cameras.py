"""A delivery for several cameras: a folder for each, how far they agree on the same scene colours, one card of all."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from lookwright.arrays import Array
from lookwright.colour.difference import ciede2000
from lookwright.colour.spaces.signal import Signal
from lookwright.files import write_text
from lookwright.look.baking.bake import recipe_hash
from lookwright.lut.fit.appearance import ToLab
from lookwright.lut.fit.prior import draw, natural
from lookwright.version import __version__

from .card import markdown_cell
from .folder import MANIFEST, sha256_of
from .made import Delivery, Item
from .manifest import write_manifest

COLOURS = 10_000
"""Natural colours drawn from each camera of a pair."""
SEED = 5
"""Of the draw; another than those of the fit and of its judges (``lut.fit``), so that these colours are new to both."""
CARD = "CARD.md"

F = TypeVar("F", bound=np.floating[Any])

Shows = Callable[[Array], Array]
"""(M, 3) source signal to (M, 3) output signal."""


@dataclass(frozen=True)
class Camera:
    """One camera's part: its folder, what it gives, and what its LUT makes of that."""

    folder: str
    source: Signal
    shows: Shows


@dataclass(frozen=True)
class Agreement:
    """CIEDE2000 between what two cameras show of the same scene colours."""

    first: str
    second: str
    mean: float
    p99: float
    worst: float
    colours: int

    def words(self) -> str:
        """One sentence, for cards and terminals."""
        if not self.colours:
            return f"{self.first} and {self.second} carry no natural scene colour in common."
        return (
            f"{self.first} and {self.second}: the same scene colours differ by CIEDE2000 {self.mean:.2f} on average, "
            f"{self.p99:.2f} at most for 99 in 100, {self.worst:.2f} at worst ({self.colours} natural colours that "
            "both carry)."
        )

    def to_dict(self) -> dict[str, Any]:
        """Ready for JSON; differences to three decimals, None where no colour is shared."""
        told = {k: round(getattr(self, k), 3) if self.colours else None for k in ("mean", "p99", "worst")}
        return {"cameras": [self.first, self.second], "ciede2000": told, "colours": self.colours}


def agreements(cameras: Sequence[Camera], to_lab: ToLab) -> list[Agreement]:
    """Every pair of cameras, in order; ``to_lab`` takes the output that all of them give."""
    return [_agreement(a, b, to_lab) for a, b in combinations(cameras, 2)]


def _agreement(first: Camera, second: Camera, to_lab: ToLab) -> Agreement:
    scene = shared_colours(first.source, second.source)
    if not len(scene):
        return Agreement(first.folder, second.folder, 0.0, 0.0, 0.0, 0)
    one, two = (to_lab(c.shows(np.clip(c.source.from_scene(scene), 0.0, 1.0))) for c in (first, second))
    off = ciede2000(one, two)
    found = float(off.mean()), float(np.percentile(off, 99.0)), float(off.max())
    return Agreement(first.folder, second.folder, *found, len(scene))


def shared_colours(first: Signal, second: Signal, count: int = COLOURS) -> Array:
    """(M, 3) linear ACEScg: ``count`` natural colours of each source, those that the other carries too.

    Carried is what has codes of 0 to 1, the domain of a LUT; both sources carry scene light.
    """
    parts = []
    for source, other in ((first, second), (second, first)):
        codes = draw(natural(source), count, SEED)
        scene = source.to_scene(codes)
        there = other.from_scene(scene)
        parts.append(scene[np.all((there >= 0.0) & (there <= 1.0), axis=1)])
    return np.concatenate(parts)


def recoded(pixels: NDArray[F], first: Signal, other: Signal) -> NDArray[F]:
    """A picture of one camera as another would have coded its scene, held to 0 to 1, what the other cannot carry at
    the nearest code; (..., 3), of the same type. The same array where both are one signal."""
    if first == other:
        return pixels
    out = np.empty_like(pixels)
    rows_in, rows_out = pixels.reshape(-1, 3), out.reshape(-1, 3)
    for start in range(0, len(rows_in), 1 << 16):
        part = slice(start, start + (1 << 16))
        rows_out[part] = np.clip(other.from_scene(first.to_scene(rows_in[part])), 0.0, 1.0)
    return out


def together(made: dict[str, Delivery], agreed: Sequence[Agreement], folder: Path) -> Delivery:
    """Card and manifest of all in ``folder``, which has the folder of each camera; and all as one delivery."""
    first = next(iter(made.values()))
    items = [_item(name, item) for name, one in made.items() for item in one.items]
    whole = replace(
        first,
        items=tuple(items),
        missing=tuple((f"{name}: {what}", why) for name, one in made.items() for what, why in one.missing),
        restraint="; ".join(f"{name}: {one.restraint}" for name, one in made.items()),
        agreement=tuple(a.words() for a in agreed),
    )
    write_text(folder / CARD, _card(first, made, agreed))
    listed = _manifest(first, made, agreed, folder)
    write_manifest(folder, listed)
    return replace(whole, manifest=listed)


def _item(name: str, item: Item) -> Item:
    return replace(item, file=f"{name}/{item.file}", files=tuple(f"{name}/{f}" for f in item.files))


def _card(first: Delivery, made: dict[str, Delivery], agreed: Sequence[Agreement]) -> str:
    lines = [f"# {markdown_cell(first.look.title or first.name)}", ""]
    if first.look.about:
        lines += [markdown_cell(first.look.about), ""]
    lines += [
        f"One look for {len(made)} cameras; on the display **{first.output.describe()}**. Each folder has a card.",
        "",
        "| folder | feed it | check for harm |",
        "| --- | --- | --- |",
    ]
    for name, one in made.items():
        cells = (f"`{name}`", one.look.source.signal().describe(), one.restraint)
        lines.append("| " + " | ".join(map(markdown_cell, cells)) + " |")
    lines += ["", *(f"- {markdown_cell(a.words())}" for a in agreed), ""]
    lines += [HOW, "", f"lookwright {__version__}. {MANIFEST} holds the SHA-256 of every file."]
    return "\n".join(lines) + "\n"


HOW = (
    "Agreement is that of the display LUTs of 33 points, looked up tetrahedrally. It says nothing of how cameras see: "
    "two sensors differ before their signal is made. Shoot a chart with both."
)


def _manifest(first: Delivery, made: dict[str, Delivery], agreed: Sequence[Agreement], folder: Path) -> dict[str, Any]:
    files = [{**f, "file": f"{name}/{f['file']}"} for name, one in made.items() for f in one.manifest["files"]]
    for name in (CARD, *(f"{camera}/{MANIFEST}" for camera in made)):
        path = folder / name
        files.append({"file": name, "bytes": path.stat().st_size, "sha256": sha256_of(path)})
    return {
        "look": first.look.title,
        "written_by": f"lookwright {__version__}",
        "output": first.look.output.signal().describe(),
        "strength": first.look.strength,
        "cameras": [
            {
                "folder": name,
                "source": one.look.source.signal().describe(),
                "recipe_sha256": recipe_hash(one.text),
                "restraint": one.restraint,
            }
            for name, one in made.items()
        ],
        "agreement": [a.to_dict() for a in agreed],
        "files": sorted(files, key=lambda f: str(f["file"])),
    }
