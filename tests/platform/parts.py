"""What writes without being a command: the ledger of a batch, the bench's recovery file, the bench's child process."""

from __future__ import annotations

import json
import os
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any
from unittest.mock import patch

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[1] / "faults"))

from other_system import CODE_PAGES, other_system
from writers import LOOK

from lookwright import files
from lookwright.app.bench.unsaved import Unsaved
from lookwright.app.bench.workers import Helper
from lookwright.pictures.batch import LEDGER, Ledger


def _without_pages(behaviours: Sequence[str]) -> list[str]:
    return [b for b in behaviours if b not in CODE_PAGES]


def ledger(folder: Path, behaviours: Sequence[str]) -> None:
    """Two runs in one folder, the one after the other has ended."""
    with other_system(*_without_pages(behaviours), root=folder):
        one = Ledger(folder)
        one.tidy(".png")
        (folder / "a.png").write_bytes(b"picture")
        one.add(folder / "a.png", "key")
        (folder / ".writing-x.png").write_bytes(b"half")
        other = Ledger(folder)
        other.tidy(".png")
        assert (folder / ".writing-x.png").exists(), "another run works here"
        assert other.has(folder / "a.png", "key")
        del one
        Ledger(folder).tidy(".png")
        assert not (folder / ".writing-x.png").exists()
        assert json.loads((folder / LEDGER).read_text())["output"] == "a.png"


def recovery_file(folder: Path, behaviours: Sequence[str]) -> None:
    """Kept, kept again, saved, left behind by one bench and offered by the next."""
    with other_system(*_without_pages(behaviours), root=folder):
        target, kept = folder / "window.toml", folder / "window.toml.unsaved"
        target.write_text("saved")
        text: list[str | None] = ["one"]
        bench = Unsaved(target, "saved", lambda: text[0])
        bench.keep()
        for words in ("two", "three"):  # over the file that this bench itself holds open
            text[0] = words
            bench.keep()
            assert bench.fault == "" and kept.read_text() == words
        second = Unsaved(target, "saved", lambda: None)
        assert second.offered is None and second.path == folder / "window.toml.unsaved-2", "a living bench holds it"
        text[0] = None
        bench.keep()
        assert not kept.exists(), "all is saved, and so nothing is offered at the next start"
        text[0] = "four"
        bench.keep()
        assert bench.close() == kept
        third = Unsaved(target, "saved", lambda: None)
        assert third.offered == kept and third.offer == "four"
        third.answered(throw_away=True)
        assert not kept.exists()


def of_processes(folder: Path, behaviours: Sequence[str]) -> dict[str, str]:
    """An environment in which Python is the other system from its first line on."""
    pages = [b for b in behaviours if b in CODE_PAGES]
    source = str(Path(files.__file__).parents[1])
    return {
        **os.environ,
        "OTHER_SYSTEM": " ".join(_without_pages(behaviours)),
        "OTHER_SYSTEM_ROOT": str(folder),
        "PYTHONPATH": os.pathsep.join([str(Path(__file__).with_name("start")), source]),
        "PYTHONIOENCODING": pages[0] if pages else "cp1252",
    }


def child(folder: Path, behaviours: Sequence[str]) -> None:
    """A check done; a delivery stopped in the middle, which leaves nothing."""
    said: list[dict[str, Any]] = []
    (folder / "look.toml").write_text(LOOK, encoding="utf-8")
    with patch.dict(os.environ, of_processes(folder, behaviours)):
        helper = Helper(said.append)
        try:
            checking = {"work": "check", "revision": 7, "text": LOOK, "folder": str(folder), "stills": [], "marks": {}}
            helper.ask(checking)
            until(lambda: [m for m in said if "done" in m or "fault" in m])
            assert said[-1].get("done", {}).get("revision") == 7, said
            deliver = {"work": "deliver", "plain_sampling": True, "look": str(folder / "look.toml"), "marks": None}
            still = Path(__file__).parents[2] / "sample_images" / "small" / "close_acescct.png"
            helper.ask(deliver | {"out": str(folder / "out" / "d"), "stills": [str(still)]})
            until(lambda: list(folder.glob("out/.writing-*/*")))
            process = helper._process
            assert process is not None
        finally:
            helper.close()
    assert process.poll() == 0 and not list(folder.glob("out/*")) and not list(folder.glob("out/.*"))


def until(condition: Callable[[], Any]) -> None:
    """Wait as long as a busy machine may take."""
    limit = time.monotonic() + 120.0
    while not condition():
        assert time.monotonic() < limit
        time.sleep(0.02)


PARTS: dict[str, Callable[[Path, Sequence[str]], None]] = {
    "ledger": ledger,
    "the bench's recovery file": recovery_file,
    "the bench's child": child,
}
