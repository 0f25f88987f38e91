"""Every hostile file, through the reader itself: finite numbers or one line, quickly, in little memory, silently."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from generate import hostile_files
from worker import MOST_MIB, READERS, run


@pytest.mark.skipif(sys.platform == "win32", reason="pipes, links and limits of POSIX systems")
@pytest.mark.parametrize("reader", READERS)
def test_hostile_files(tmp_path: Path, reader: str) -> None:
    files = hostile_files(tmp_path / "f", only=reader)
    assert len(files) >= 60, "the generator lost some"
    told = run([(h.reader, h.path) for h in files])
    wrong = [
        f"{h.what}: {t.outcome} {t.words}"
        for h, t in zip(files, told, strict=True)
        if t.outcome not in ("read", "refused")
    ]
    assert not wrong, f"{len(wrong)} of {len(files)}\n" + "\n".join(wrong)
    assert max(t.peak_mib for t in told) <= MOST_MIB
    # Neither all nor nothing may pass: whole files of awkward names are read, the rest is refused.
    outcomes = [t.outcome for t in told]
    assert outcomes.count("read") >= 5 and outcomes.count("refused") >= 30
