"""What a check costs, cold: the whole command, beside `import colour` in the same run.

    python tests/benchmarks/check_cost.py [--runs 5]

Each run starts a new process; processor time and wall time are medians. On a machine with other work, the ratio to the
peer says more than either.
"""

from __future__ import annotations

import argparse
import os
import resource
import statistics
import subprocess
import sys
import time
from pathlib import Path

import bytecode

ROOT = Path(__file__).parents[2]
PEER = [sys.executable, "-c", "import colour"]


def spent(command: list[str]) -> tuple[float, float]:
    """Wall and processor seconds of a new process."""
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=False, env=os.environ)
    wall, after = time.perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    return wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main() -> None:
    bytecode.keep()
    parser = argparse.ArgumentParser()
    parser.add_argument("--runs", type=int, default=5)
    runs = parser.parse_args().runs
    check = [sys.executable, "-m", "lookwright", "check"]
    commands = {"import colour": PEER}
    for look in sorted((ROOT / "looks").glob("*.toml")):
        commands[f"{look.stem}, no stills"] = [*check, str(look)]
        commands[f"{look.stem}, six stills"] = [*check, str(look), "--stills", str(ROOT / "sample_images")]
    times: dict[str, list[tuple[float, float]]] = {name: [] for name in commands}
    for _ in range(runs):  # in turns, so that a busy minute falls on all
        for name, command in commands.items():
            times[name].append(spent(command))
    peer = statistics.median(cpu for _, cpu in times["import colour"])
    print("| what | wall, s | processor, s | times `import colour` |\n|---|---|---|---|")
    for name, found in times.items():
        wall, cpu = (statistics.median(v) for v in zip(*found, strict=True))
        print(f"| {name} | {wall:.2f} | {cpu:.2f} | {cpu / peer:.2f} |")


if __name__ == "__main__":
    main()
