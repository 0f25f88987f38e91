"""The bank of ``check``: LUTs with one planted fault each, and harmless ones, with the verdict on every one.

    python tests/benchmarks/check_bank.py [--seeds 5] [--table] [--misses]

Faults stand in tests/shared/check_faults.py with the measures that may fail them; a fault counts as found when one of
these fails. Harmless LUTs and looks stand in tests/shared/check_harmless.py; one that fails is a false alarm.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "shared"))

from check_faults import faults
from check_harmless import harmless

from lookwright.assess.restraint.check import check
from lookwright.assess.restraint.report import Report


def failed(report: Report) -> list[str]:
    return [f"{f.measure} {f.value:.3g}" for f in report.of("fail")]


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--seeds", type=int, default=5)
    parser.add_argument("--first", type=int, default=1)
    parser.add_argument("--table", action="store_true", help="every case of the first seed as a Markdown row")
    parser.add_argument("--misses", action="store_true", help="what was measured on every miss and false alarm")
    asked = parser.parse_args()
    for seed in range(asked.first, asked.first + asked.seeds):
        start, table = time.perf_counter(), asked.table and seed == asked.first
        found = total = alarms = good = 0
        if table:
            print("| fault | place and amount | verdict | fails on |\n|---|---|---|---|")
        for case in faults(seed):
            report = check(case.subject())
            names = {f.measure for f in report.of("fail")}
            hit = bool(names & case.reasons)
            found, total = found + hit, total + 1
            if table:
                word = "found" if hit else "wrong reason" if names else report.worst
                print(
                    f"| {case.kind} ({case.source.encoding.name}) | {case.what} | {word} | {', '.join(failed(report)[:5])} |"
                )
            if asked.misses and not hit:
                near = [
                    f"{f.measure} {f.value:.3g} ({f.harm:.2f})" for f in report.findings if f.measure in case.reasons
                ]
                print(
                    f"seed {seed} MISS {case.kind} [{case.source.encoding.name}] {case.what}: {near}; fails {failed(report)}"
                )
        if table:
            print("\n| harmless | verdict | fails or watch |\n|---|---|---|")
        for name, subject in harmless(seed):
            report = check(subject)
            alarms, good = alarms + (report.worst == "fail"), good + 1
            if table:
                watched = [f"{f.measure} {f.value:.3g}" for f in report.of("watch")]
                print(f"| {name} | {report.worst} | {', '.join(failed(report) + watched)} |")
            if asked.misses and report.worst == "fail":
                print(f"seed {seed} ALARM {name}: {failed(report)}")
        spent = time.perf_counter() - start
        print(
            f"seed {seed}: {found} of {total} faults found for the right reason ({100 * found / total:.1f} %), "
            f"{alarms} false alarms on {good} harmless ({100 * alarms / good:.1f} %), {spent:.0f} s"
        )


if __name__ == "__main__":
    main()
