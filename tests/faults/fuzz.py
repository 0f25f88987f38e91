"""Mutation fuzzing of whole files, by hand: every reader in turn, for a bounded time, repeatable by its seed.

    python tests/faults/fuzz.py --minutes 10 [--seed 1] [--reader exr]

Each batch is read by a process of its own within the bounds of ``worker.py``. What breaks a bound is kept in a new
temporary folder, with what was seen in a .txt beside it. Prints, for each reader, how many were read, refused and kept.
"""

from __future__ import annotations

import argparse
import random
import shutil
import tempfile
import time
from collections import Counter
from pathlib import Path

from generate import SUFFIX, TEXT
from sound import sound_files
from worker import MORE, MOST_MIB, READERS, run

BATCH = 250
FUZZED = (*READERS, *MORE)
WORDS = (
    b"\0\0\0\0",
    b"\xff\xff\xff\xff",
    b"\x7f\xff\xff\xff",
    b"\xff\xff\xff\x7f",
    b"\0\0\1\0",
    b"\x80\0\0\0",
    b"\1\0\0\0",
)
TOKENS = (
    b"nan",
    b"inf",
    b"-1",
    b"0",
    b"1e39",
    b"1e400",
    b"9" * 30,
    b'"',
    b"'",
    b"[",
    b"]",
    b"{",
    b"}",
    b"=",
    b"\n",
    b".",
    b"_",
    b"<",
    b">",
    b"/>",
    b"&#0;",
    b"<!DOCTYPE a>",
    b"\xff",
    b"\0",
    b"\xef\xbb\xbf",
    b"#",
    b"\t",
    b"\r",
    b"[[step]]\n",
)


def mutated(data: bytes, others: list[bytes], chance: random.Random, text: bool) -> bytes:
    """``data`` after one to six changes; more of them near the beginning, where headers are."""
    out = bytearray(data)
    for _ in range(chance.choice((1, 1, 1, 2, 3, 6))):
        size = max(len(out), 1)
        at = chance.randrange(min(size, chance.choice((size, 512, size) if text else (64, 512, size))))
        # Of text most of the rest ends at the first letter: numbers and tokens get deeper.
        kind = chance.choice((0, 1, 3, 4, 5, 5, 7, 8, 8, 8, 8, 8)) if text else chance.randrange(9)
        if kind == 0:
            out[at : at + 1] = bytes([chance.randrange(32, 127) if text else chance.randrange(256)])
        elif kind == 1:
            out[at : at + 1] = bytes([(out[at] if at < len(out) else 0) ^ (1 << chance.randrange(8))])
        elif kind == 2:
            at -= at % 4
            out[at : at + 4] = chance.choice(WORDS)
        elif kind == 3:
            del out[at : at + chance.choice((1, 4, 40, 400))]
        elif kind == 4:
            out[at:at] = out[at : at + chance.choice((1, 4, 40, 400))] * chance.choice((1, 2, 50))
        elif kind == 5:
            out[at:at] = chance.choice(TOKENS) if text else chance.randbytes(chance.choice((1, 4, 40)))
        elif kind == 6:
            del out[chance.randrange(size) :]
        elif kind == 7:
            other = chance.choice(others)
            start = chance.randrange(max(len(other), 1))
            length = chance.choice((4, 40, 400, len(other)))
            out[at : at + (length if chance.random() < 0.5 else 0)] = other[start : start + length]
        elif text:
            # Numbers are where a text reader computes: exchange a run of digits.
            while at < len(out) and not 48 <= out[at] <= 57:
                at += 1
            end = at
            while end < len(out) and out[end] in b"0123456789.-+eE":
                end += 1
            out[at:end] = chance.choice((*TOKENS[:7], b"0.5", b"2", b"1e-30", b"1e30", b"3", b"-0.0", b"7"))
        else:
            out[at : at + 2] = chance.choice((b"\0\0", b"\xff\xff", b"\0\1", b"\1\0", b"\x40\0", b"\0\x40"))
    return bytes(out[: 4 << 20])


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--minutes", type=float, default=10.0)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--reader", choices=FUZZED)
    options = asked.parse_args()
    kept = Path(tempfile.mkdtemp(prefix="lookwright-crashers-"))
    counts: dict[str, Counter[str]] = {r: Counter() for r in FUZZED}
    end = time.monotonic() + options.minutes * 60
    with tempfile.TemporaryDirectory(prefix="lookwright-fuzz-") as name:
        work = Path(name)
        (work / "sound").mkdir()
        stock = {r: [p.read_bytes() for p in paths] for r, paths in sound_files(work / "sound").items()}
        batch = 0
        while time.monotonic() < end:
            for reader in [options.reader] if options.reader else FUZZED:
                chance = random.Random(f"{options.seed} {reader} {batch}")
                folder = work / "batch"
                folder.mkdir()
                paths = []
                for number in range(BATCH):
                    path = folder / f"{number}.{SUFFIX.get(reader, reader)}"
                    path.write_bytes(
                        mutated(chance.choice(stock[reader]), stock[reader], chance, reader in (*TEXT, "ledger"))
                    )
                    paths.append(path)
                before = 0.0
                for path, told in zip(paths, run([(reader, p) for p in paths]), strict=True):
                    outcome = told.outcome
                    if told.peak_mib > MOST_MIB >= before:
                        outcome = "heavy"
                    before = told.peak_mib
                    counts[reader][outcome] += 1
                    if outcome not in ("read", "refused"):
                        keep = kept / f"{reader}-{options.seed}-{batch}-{path.stem}{path.suffix}"
                        shutil.copy(path, keep)
                        keep.with_suffix(".txt").write_text(f"{outcome} {told}\n", encoding="utf-8")
                        print(f"{keep}: {outcome} {told.words[-200:]}", flush=True)
                shutil.rmtree(folder)
                if time.monotonic() >= end:
                    break
            batch += 1
    for reader, count in counts.items():
        print(f"{reader:8} {count.total():7}  " + ", ".join(f"{n} {c}" for n, c in count.most_common()))
    print(f"{'all':8} {sum(c.total() for c in counts.values()):7}  kept in {kept}")


if __name__ == "__main__":
    main()
