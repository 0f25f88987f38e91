"""The manifest of a delivery: every file with its digest, for a program."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from lookwright.files import write_text
from lookwright.look.baking.bake import recipe_hash
from lookwright.lut.fit.fidelity import Deviation, Fidelity
from lookwright.lut.formats.verify import reader
from lookwright.version import __version__

from .folder import MANIFEST, sha256_of
from .made import Delivery, Item


def write_manifest(folder: Path, listed: dict[str, Any]) -> None:
    """Into ``folder``; raises :class:`OutputError` for one that cannot be written."""
    write_text(folder / MANIFEST, json.dumps(listed, indent=2, ensure_ascii=False) + "\n")


def manifest(made: Delivery, folder: Path) -> dict[str, Any]:
    """What stands in ``folder`` now, plain and ready for JSON."""
    look = made.look
    told = {i.file: i for i in made.items}
    files = []
    for path in sorted(folder.rglob("*")):
        if not path.is_file():
            continue
        name = path.relative_to(folder).as_posix()
        entry: dict[str, Any] = {"file": name, "bytes": path.stat().st_size, "sha256": sha256_of(path)}
        if item := told.get(name):
            entry |= _plain_item(item)
        files.append(entry)
    return {
        "look": look.title,
        "recipe_sha256": recipe_hash(made.text),
        "written_by": f"lookwright {__version__}",
        "read_back_by": reader(),
        "source": look.source.signal().describe(),
        "output": look.output.signal().describe(),
        "strength": look.strength,
        "restraint": made.restraint,
        **({"agreement": list(made.agreement)} if made.agreement else {}),
        "files": files,
        "not_delivered": [{"what": what, "why": why} for what, why in made.missing],
    }


def _plain_item(item: Item) -> dict[str, Any]:
    out: dict[str, Any] = {"what": item.title, "where": item.where}
    for key in ("feed", "gives", "interpolation", "grey", "note"):
        if value := getattr(item, key):
            out[key] = value
    if item.errors:
        out["ciede2000"] = {k: _plain_errors(f) for k, f in item.errors.items()}
    if item.read_back is not None:
        out["largest_difference_on_reading_back"] = float(f"{item.read_back:.1e}")
    return out


def _plain_errors(fidelity: Fidelity) -> dict[str, Any]:
    def one(d: Deviation) -> dict[str, float]:
        return {k: round(getattr(d, k), 3) for k in ("mean", "p95", "p99", "max", "mean_3sd")}

    return {
        "trilinear": one(fidelity.trilinear),
        "tetrahedral": one(fidelity.tetrahedral),
        "samples": fidelity.samples,
    }
