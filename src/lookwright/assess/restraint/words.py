"""A report as text for a terminal."""

from __future__ import annotations

from textwrap import wrap

from .ease import shown
from .report import Finding, Report

WIDTH = 100
_TITLE = 38


def report_lines(report: Report) -> list[str]:
    """The whole report: a table in order of harm, with a sentence under what is not ok, and the stills."""
    lines = [f"{report.name}: {report.source} to {report.output}" + (f" ({report.note})" if report.note else "")]
    lines.append(f"{'':7}{'measure':<{_TITLE}}{'value':>8} {'unit':<14}{'watch':>7}{'fail':>7}")
    for finding in report.findings:
        lines += _finding_lines(finding)
    for still in report.stills:
        if not (still.separation_plain or still.separation_graded):
            continue
        word = "same" if abs(still.gained) < 0.05 else "gain" if still.gained > 0 else "loss"
        lines.append(
            f"{word:7}{'separation of warm and cool, ' + still.name}: "
            f"{still.separation_plain:.1f} to {still.separation_graded:.1f} ({still.gained:+.1f}){still.hue_words()}"
        )
    lines.append(f"{report.name}: {report.summary()}")
    return lines


def _finding_lines(finding: Finding) -> list[str]:
    row = f"{finding.state:7}{finding.title:<{_TITLE}}{shown(finding.value):>8} {finding.unit:<14}"
    lines = [row + f"{shown(finding.watch):>7}{shown(finding.limit):>7}"]
    if finding.state != "ok":
        lines += _indented(finding.sentence())
        lines += _indented(f"Why: {finding.reason}.")
    if finding.own_limit:
        lines += _indented(f"Limit: {finding.own_limit}.")
    return lines


def _indented(text: str) -> list[str]:
    return wrap(text, WIDTH, initial_indent=" " * 9, subsequent_indent=" " * 9)
