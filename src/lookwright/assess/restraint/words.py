"""A report as text for a terminal: the verdict first, then the table, engineers' words where they are asked for."""

from __future__ import annotations

from textwrap import wrap

from .ease import shown
from .report import Finding, Report

WIDTH = 100
_TITLE = 38


def report_lines(report: Report, detail: bool = False) -> list[str]:
    """The verdict, what the look does, and a table of what is not ok.

    With ``detail`` the table holds every measure in order of harm, each trouble with what was found, why its limit is
    where it is, and the source of the limit.
    """
    lines = [f"{report.name}: {report.headline()}"]
    for sentence in report.verdict:
        lines += wrap(sentence, WIDTH, subsequent_indent="  ")
    lines += wrap(report.effect.sentence(), WIDTH, subsequent_indent="  ")
    if report.closing:
        lines += wrap(report.closing, WIDTH, subsequent_indent="  ")
    for name, sentences in report.doubts.items():
        for sentence in sentences:
            lines += wrap(f"Doubt: {name}: {sentence}.", WIDTH, subsequent_indent="  ")
    rows = [f for f in report.findings if detail or f.state != "ok"]
    if rows:
        lines += ["", f"{'':7}{'measure':<{_TITLE}}{'value':>8} {'unit':<14}{'watch':>7}{'fail':>7}"]
    for finding in rows:
        lines += _finding_lines(finding, detail)
    fine = len(report.findings) - len(rows)
    if fine:
        lines.append(f"{'ok':7}{fine} {'other ' if rows else ''}measures")
    if detail:
        lines += _still_lines(report)
        lines.append(f"Fed with {report.source}; gives {report.output}{f'; {report.note}' if report.note else ''}.")
    return lines


def _still_lines(report: Report) -> list[str]:
    lines = []
    for still in report.stills:
        if not (still.separation_plain or still.separation_graded):
            continue
        word = "same" if abs(still.gained) < 0.05 else "gain" if still.gained > 0 else "loss"
        lines.append(
            f"{word:7}{'separation of warm and cool, ' + still.name}: "
            f"{still.separation_plain:.1f} to {still.separation_graded:.1f} ({still.gained:+.1f}){still.hue_words()}"
        )
    return lines


def _finding_lines(finding: Finding, detail: bool) -> list[str]:
    row = f"{finding.state:7}{finding.title:<{_TITLE}}{shown(finding.value):>8} {finding.unit:<14}"
    lines = [row + f"{shown(finding.watch):>7}{shown(finding.limit):>7}"]
    if detail and finding.state != "ok":
        lines += _indented(finding.sentence())
        lines += _indented(f"Why: {finding.reason}. Source: {finding.source}.")
    if finding.own_limit:
        lines += _indented(f"Limit: {finding.own_limit}.")
    return lines


def _indented(text: str) -> list[str]:
    return wrap(text, WIDTH, initial_indent=" " * 9, subsequent_indent=" " * 9)
