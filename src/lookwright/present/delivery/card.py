"""The card of a delivery: one page that says what each file expects, what it gives, and where it goes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from lookwright.look.baking.bake import recipe_hash
from lookwright.version import __version__

from .made import Delivery, Item
from .pictures import CardPair

FFMPEG = (
    "FFmpeg: a clip without colour tags is turned to RGB by the wrong matrix before lut3d (error up to 0.136 of full "
    "scale, measured). Name matrix and range first, work in planar float: "
)
# By zscale and not scale, which even with the right matrix errs by up to 0.004 on 10-bit video (FFmpeg 9.0.2, measured
# in tests/oracle/test_delivery_readers.py).
FFMPEG_FILTER = "zscale=matrixin=709:rangein=limited,format=gbrpf32le,lut3d={file}:interp=tetrahedral"
ERRORS = (
    "Errors are CIEDE2000 differences from the exact look, mean + 3 standard deviations, at colours that played no "
    "part in making the lattice: other pixels of the stills given; where there are two or more, one in five left out "
    "whole; and natural colours drawn without regard to the stills. A difference of 1 is about what an eye can just "
    "see side by side."
)
CAUTIONS = (
    "A LUT does not know what it is fed. Send a grey card through and compare its code with the column 'grey card'.",
    "Set the interpolation to tetrahedral where there is a choice; some software takes trilinear unless told. Errors "
    "of either stand in the table.",
    "Every LUT here holds input to 0 to 1: what lies outside is clipped.",
    "Codes are 10-bit: full range is 0 to 1023, legal range 64 to 940.",
)


def _error(item: Item) -> str:
    """Mean + 3 standard deviations by lookup, on the stills given and on content that was not."""
    parts = []
    for name, words in (("stills", "stills given"), ("left_out", "a still left out"), ("natural", "natural colours")):
        if item.errors and name in item.errors:
            found = item.errors[name]
            parts.append(
                f"{words}: tetrahedral {found.tetrahedral.mean_3sd:.2f}, trilinear {found.trilinear.mean_3sd:.2f}"
            )
    return "; ".join(parts)


def _facts(made: Delivery) -> dict[str, Any]:
    look = made.look
    display = next((i.file for i in made.items if i.file.endswith("33.cube")), "")
    return {
        "title": look.title or made.name,
        "about": look.about,
        "strength": "" if look.strength == 1.0 else f"at {look.strength * 100:g} % of its strength",
        "source": look.source.signal().describe(),
        "output": made.output.describe(),
        "items": [(item, _error(item)) for item in made.items],
        "missing": made.missing,
        "restraint": made.restraint,
        "agreement": made.agreement,
        "cautions": CAUTIONS,
        "errors": ERRORS,
        "ffmpeg": FFMPEG,
        "ffmpeg_filter": FFMPEG_FILTER.format(file=display),
        "version": __version__,
        "recipe": recipe_hash(made.text),
    }


def card_html(made: Delivery, pairs: Sequence[CardPair] = ()) -> str:
    """The card as one self-contained page, A4 across when printed; ``pairs`` are stills before and after."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("lookwright.present.delivery"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template("card.html.jinja").render(**_facts(made), pairs=pairs) + "\n"


def card_markdown(made: Delivery) -> str:
    """The card as text."""
    facts = _facts(made)
    lines = [f"# {markdown_cell(facts['title'])}", ""]
    if facts["about"]:
        lines += [markdown_cell(facts["about"]), ""]
    lines += [
        f"Made for **{facts['source']}**; on the display **{facts['output']}**"
        + (f", {facts['strength']}" if facts["strength"] else "")
        + ".",
        "",
    ]
    if sheet := next((item for item in made.items if item.file.endswith("-sheet.jpg")), None):
        lines += [f"![{markdown_cell(sheet.title)}]({sheet.file})", ""]
    lines += [
        "| file | feed it | it gives | grey card, 10-bit | where it goes | interpolation | error, mean + 3 sd |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    for item, error in facts["items"]:
        where = " ".join(t for t in (f"{item.title}.", item.where, item.note) if t)
        cells = (f"`{item.file}`", item.feed, item.gives, item.grey, where, item.interpolation, error)
        lines.append("| " + " | ".join(markdown_cell(c) for c in cells) + " |")
    if facts["missing"]:
        lines += ["", "Not here:", ""]
        lines += [f"- {markdown_cell(what)}: {markdown_cell(why)}" for what, why in facts["missing"]]
    if facts["restraint"]:
        lines += ["", f"Check for harm: {markdown_cell(facts['restraint'])} (`restraint.html`)."]
    if facts["agreement"]:
        lines += ["", "Other cameras:", "", *(f"- {markdown_cell(words)}" for words in facts["agreement"])]
    lines += ["", *(f"- {text}" for text in facts["cautions"])]
    lines += [f"- {facts['ffmpeg']}`{facts['ffmpeg_filter']}`"]
    lines += ["", ERRORS, ""]
    lines.append(f"lookwright {facts['version']}, recipe {facts['recipe'][:16]}.")
    return "\n".join(lines) + "\n"


def markdown_cell(text: str) -> str:
    """Text that stays one table cell and makes no markup."""
    return " ".join(text.replace("|", "\\|").replace("<", "&lt;").split())
