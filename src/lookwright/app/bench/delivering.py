"""The only place where the bench meets ``lookwright deliver``: the same command, with the files of this session."""

from __future__ import annotations

from pathlib import Path
from typing import Any


def run(asked: dict[str, Any], say: Any) -> dict[str, Any]:
    """Deliver the saved look into ``asked["out"]``; runs in the child process."""
    from lookwright.app.cli import cli

    out = Path(asked["out"])
    say({"progress": "making the delivery folder"})
    arguments = ["deliver", asked["look"], "--out", str(out), "--quiet"]
    for still in asked["stills"]:
        arguments += ["--stills", still]
    if asked["plain_sampling"]:
        arguments.append("--plain-sampling")
    if asked.get("marks"):
        arguments += ["--marks", asked["marks"]]
    cli.main(args=arguments, prog_name="lookwright", standalone_mode=False)
    files = sorted(str(p.relative_to(out)) for p in out.rglob("*") if p.is_file())
    return {"out": str(out), "files": files}
