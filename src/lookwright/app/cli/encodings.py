"""``lookwright encodings``."""

from __future__ import annotations

from typing import Any

import click

from .options import json_option, tell_json


@click.command()
@click.argument("name", required=False)
@json_option
def command(name: str | None, as_json: bool) -> None:
    """List the signal encodings, with the code values of 0, 18 and 90 % reflectance.

    For display encodings the same three are signal of 0, 18 and 90 % of reference white, which is not where a
    rendering puts them. With NAME only that encoding. Codes are full range, 0..1, and as 10-bit integers.
    """
    from lookwright.jobs.encodings import encodings

    rows: list[dict[str, Any]] = [
        {
            "name": e.name,
            "carries": e.carries,
            "primaries": list(e.primaries),
            "usual_primaries": e.primaries[0] if e.usual else None,
            "codes": [round(c, 6) + 0.0 for c in e.codes],
            "document": e.document,
        }
        for e in encodings(name)
    ]
    if as_json:
        tell_json(rows)
        return
    click.echo(f"{'name':<13}{'carries':<15}{'0 %':>8}{'18 %':>8}{'90 %':>8}   {'10-bit':<16}{'primaries':<26}document")
    for r in rows:
        low, mid, high = r["codes"]
        bits = " ".join(str(round(c * 1023)) for c in r["codes"])
        click.echo(
            f"{r['name']:<13}{r['carries']:<15}{low:8.4f}{mid:8.4f}{high:8.4f}   {bits:<16}"
            f"{_primaries(r):<26}{r['document']}"
        )
    if not name:
        click.echo("\nOther log curves and primaries registered in colour-science can be named as it names them.")


def _primaries(row: dict[str, Any]) -> str:
    """The usual primaries first; of several without a usual one, or of none, one must be named."""
    names = row["primaries"]
    if row["usual_primaries"]:
        return ", ".join(names)
    return f"to be named: {' or '.join(names)}  " if names else "to be named"
