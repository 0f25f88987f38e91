"""The command line in this process (fast) or as a real one, and small stills cut from the samples."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "sample_images"

LOOK = """\
title = "Bench by the window"

[source]
encoding = "ACEScct"

[output]
encoding = "BT.1886"

[[step]]
kind = "exposure"
stops = 0.2

[[step]]
kind = "contrast"
slope = 1.1
toe = 0.3

[[step]]
kind = "saturation"
amount = 0.9

[[step]]
kind = "render"

[[step]]
kind = "gamut"
"""

LOG_LOOK = """\
title = "Log to log"

[source]
encoding = "ACEScct"

[output]
encoding = "ACEScct"

[[step]]
kind = "exposure"
stops = 0.5
"""


@dataclass
class Said:
    """What a run answered."""

    code: int
    out: str
    err: str


Run = Callable[..., Said]


@pytest.fixture
def lookwright(capfd: pytest.CaptureFixture[str]) -> Run:
    """Run the command line in this process. File descriptors are captured, so that C libraries are heard too."""
    from lookwright.app.cli import main

    def run(*arguments: object) -> Said:
        capfd.readouterr()
        with pytest.raises(SystemExit) as stopped:
            main([str(a) for a in arguments])
        out, err = capfd.readouterr()
        assert isinstance(stopped.value.code, int)
        return Said(stopped.value.code, out, err)

    return run


@pytest.fixture
def real() -> Run:
    """Run the command line as its own process, as a user would."""

    def run(*arguments: object, cwd: Path | None = None) -> Said:
        done = subprocess.run(
            [sys.executable, "-m", "lookwright", *(os.fspath(a) if isinstance(a, Path) else str(a) for a in arguments)],
            capture_output=True,
            cwd=cwd,
            timeout=120,
        )
        return Said(done.returncode, done.stdout.decode("utf-8", "replace"), done.stderr.decode("utf-8", "replace"))

    return run


@pytest.fixture
def look(tmp_path: Path) -> Path:
    """A small look that renders for a display."""
    path = tmp_path / "window.toml"
    path.write_text(LOOK, encoding="utf-8")
    return path


@pytest.fixture
def log_look(tmp_path: Path) -> Path:
    """A look that gives log again."""
    path = tmp_path / "loggish.toml"
    path.write_text(LOG_LOOK, encoding="utf-8")
    return path


@pytest.fixture(scope="session")
def crop() -> np.ndarray:
    """160 x 90 pixels of the wide sample still, float32 code values."""
    from lookwright.pictures.stills import read

    return read(SAMPLES / "wide_acescct.png").pixels[300:390, 800:960].copy()


@pytest.fixture
def stills(tmp_path: Path, crop: np.ndarray) -> Path:
    """A folder with two small 16-bit stills."""
    from lookwright.pictures.stills import write

    folder = tmp_path / "stills"
    folder.mkdir()
    write(folder / "bench.png", crop)
    write(folder / "door.png", crop[::-1, ::-1])
    return folder
