"""What `recover` makes of fifty LUTs by other means than our steps (tests/shared/foreign_luts.py).

    python tests/benchmarks/explain_table.py

For each: the way it was explained, how many numbers the recipe has, and CIEDE2000 that the recipe leaves on natural
colours (mean, 99th percentile) and over the whole cube (mean); `before` is what no step, or the plain rendering, leaves.
Exit 1 where fewer than 45 of 50 come within a mean of 0.5 with ten numbers.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "shared"))
from foreign_luts import fifty

from lookwright.colour.spaces.signal import Signal
from lookwright.solve.explain.explain import GOOD, explain
from lookwright.solve.explain.ways import MOST


def main() -> int:
    luts = fifty()
    within = 0
    print(f"{'LUT':28}{'recipe':36}{'numbers':>8}{'before':>8}{'mean':>8}{'99 %':>8}{'cube':>8}{'s':>7}")
    for lut in luts:
        began = time.process_time()
        found = explain(lut.table, Signal.named(lut.source), Signal.named(lut.output), lut.name)
        good = found.mean <= GOOD and found.numbers <= MOST
        within += good
        print(
            f"{lut.name:28}{found.way:36}{found.numbers:8}{found.plain:8.2f}{found.mean:8.3f}{found.p99:8.2f}"
            f"{found.cube:8.2f}{time.process_time() - began:7.1f}{'' if good else '  *'}",
            flush=True,
        )
    print(f"{within} of {len(luts)} within a mean of {GOOD} with {MOST} numbers or fewer")
    return 0 if within >= 0.9 * len(luts) else 1


if __name__ == "__main__":
    sys.exit(main())
