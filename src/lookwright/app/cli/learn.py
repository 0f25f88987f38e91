"""``lookwright learn``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from .options import json_option, look_argument, out_option, quiet_option, tell, tell_json
from .signals import source_options
from .terminal import TerminalProgress
from .tune import STOPPED

if TYPE_CHECKING:
    from lookwright.jobs.given import SignalName
    from lookwright.jobs.learn import LearntLook


@click.command()
@look_argument
@click.option(
    "--pair",
    "pairs",
    nargs=2,
    multiple=True,
    required=True,
    type=click.Path(path_type=Path),
    metavar="BEFORE AFTER",
    help="One frame ungraded (in the look's source encoding) and graded (in its output encoding). May be repeated.",
)
@source_options
@out_option("The new look (.toml). A .cube and a coverage map are written beside it under the same name.")
@click.option(
    "--tune/--no-tune",
    "tuned",
    default=True,
    show_default=True,
    help="First move the look's parameters toward the pairs; the lattice then carries the rest.",
)
@click.option(
    "--lock",
    multiple=True,
    metavar="STEP.PARAMETER",
    help="A parameter, or a whole step, that must not move. May be given more than once.",
)
@click.option(
    "--free",
    multiple=True,
    metavar="STEP.PARAMETER",
    help="A parameter that may move although the recipe or its declaration locks it.",
)
@click.option("--seed", default=0, show_default=True, type=click.IntRange(0), help="Chooses the pixels learnt from.")
@click.option("--date", metavar="TEXT", help="Date in the note that the new look gets. Default: today's.")
@json_option
@quiet_option
def command(
    look: Path,
    pairs: tuple[tuple[Path, Path], ...],
    source: SignalName | None,
    out: Path,
    tuned: bool,
    lock: tuple[str, ...],
    free: tuple[str, ...],
    seed: int,
    date: str | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Learn from frames graded elsewhere what LOOK's steps cannot say: tune it, then add a small smooth lattice.

    The lattice moves only colours near those seen in the pairs; its coverage map shows which. It never folds colours.
    It is refused where it would have to move colours far, where the frames differ by more than colour, and where they
    do not line up: the shift is then told.

    Exit 1 when 'check' fails on the result, 130 after Ctrl-C (the tuned look is written, without a lattice).
    """
    from lookwright.jobs.learn import learn

    with TerminalProgress(quiet or as_json) as progress:
        made = learn(
            look,
            out,
            pairs,
            tuned=tuned,
            lock=lock,
            free=free,
            seed=seed,
            date=date,
            source=source,
            progress=progress,
        )
    words = " ".join(_sentences(made))
    if as_json:
        tell_json({"file": str(out), **made.to_dict(), "words": words})
    tell(quiet, as_json, words)
    beside = f", {made.cube.name} and {made.coverage.name} beside it" if made.cube and made.coverage else ""
    tell(quiet, as_json, f"wrote {out}{beside}")
    if made.stopped:
        raise SystemExit(STOPPED)
    if not made.passes:
        raise SystemExit(1)


def _sentences(made: LearntLook) -> list[str]:
    """What the tuning did, what the lattice adds, and what fails."""
    said = [made.tuned_words] if made.tuned_words else []
    if made.learnt.kept:
        said.append("The look was left as it was: behind it the lattice predicts better than behind the tuned one.")
    residual = made.learnt.residual
    if residual is None:
        left = f"{100 * made.learnt.left:.2f} % of signal"
        return [*said, f"The recipe alone leaves {left}: nothing is left to learn, and no lattice is written."]
    said.append(
        f"The recipe leaves {100 * residual.before:.2f} % of signal; with the lattice {100 * residual.after:.2f} % "
        f"is left, on pixels that it was not fitted to. It moves a colour by {100 * residual.largest:.1f} % of "
        f"signal at most. Samples speak for {100 * residual.coverage:.1f} % of the lattice; away from them it "
        "fades to nothing."
    )
    if residual.mended:
        said.append(
            f"{residual.mended} fold(s) in it were mended, which moved no point by more than "
            f"{100 * residual.mended_by:.2f} % of signal."
        )
    return [*said, f"'check' fails: {', '.join(made.failing)}."] if made.failing else said
