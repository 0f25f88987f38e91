"""How far a LUT is from its look, for people and for programs."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from lookwright.lut.fit.fidelity import Report

LOOKUPS = ("trilinear", "tetrahedral")


def accuracy_lines(report: Report, plain: Report | None = None) -> list[str]:
    """A small table in CIEDE2000; ``plain`` adds the mean of the plainly sampled lattice."""
    head = f"  {'CIEDE2000 from the exact look':30}{'mean':>7}{'95 %':>7}{'99 %':>7}{'max':>7}{'mean + 3 sd':>13}"
    lines = [head + ("   plain mean" if plain else "")]
    for name, found in report.items():
        for lookup in LOOKUPS:
            d = getattr(found, lookup)
            what = f"{name.replace('_', ' ')}, {lookup}"
            line = f"  {what:30}{d.mean:7.2f}{d.p95:7.2f}{d.p99:7.2f}{d.max:7.2f}{d.mean_3sd:13.2f}"
            if plain:
                line += f"{getattr(plain[name], lookup).mean:13.2f}"
            lines.append(line)
    return lines


def accuracy_data(report: Report) -> dict[str, Any]:
    """The same for JSON, to four decimals: ``{set: {lookup: {mean, p95, p99, max, mean_3sd}, samples}}``."""
    out: dict[str, Any] = {}
    for name, found in report.items():
        parts = {x: {k: round(v, 4) for k, v in asdict(getattr(found, x)).items()} for x in LOOKUPS}
        out[name] = {**parts, "samples": found.samples}
    return out
