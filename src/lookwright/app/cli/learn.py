"""``lookwright learn``."""

from __future__ import annotations

from pathlib import Path

import click

from .options import json_option, load_look, look_argument, out_option, quiet_option, tell, tell_json
from .tune import STOPPED, progress_line, today


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

    The lattice moves only colours near those seen in the pairs; its coverage map shows which. It is refused where it
    would have to move colours far, fold them together, or where the frames differ by more than colour.

    Exit 1 when 'check' fails on the result, 130 after Ctrl-C (the tuned look is written, without a lattice).
    """
    from lookwright.errors import OutputError
    from lookwright.files import check_target, write_text
    from lookwright.look.recipe.pipeline import compile_look
    from lookwright.look.recipe.read import parse_look
    from lookwright.lut.formats.cube import write_cube
    from lookwright.solve.learn.learn import learn, with_lattice
    from lookwright.solve.learn.residual import as_data
    from lookwright.solve.tune.barrier import all_harm
    from lookwright.solve.tune.free import free_parameters
    from lookwright.solve.tune.recipe import remark, tuned_text
    from lookwright.solve.tune.run import failing_words
    from lookwright.solve.tune.words import as_data as tuned_data
    from lookwright.solve.tune.words import in_words, note

    model, text = load_look(look)
    if out.suffix.lower() != ".toml":
        raise OutputError(str(out), "the name does not end in .toml", hint="the .cube beside it takes the same name")
    cube, coverage = out.with_suffix(".cube"), out.with_name(f"{out.stem}-coverage.png")
    for target in (out, cube, coverage):
        check_target(target)
    told, close = progress_line(quiet or as_json)
    try:
        learnt = learn(model, pairs, tuned, lock, free, seed, told)
    finally:
        close()
    when = date or today()
    words = []
    new = text
    if learnt.outcome is not None:
        names = ", ".join(f"{a.name} and {b.name}" for a, b in pairs)
        lines = note(learnt.outcome, when, [f"pairs {names}"])
        new = tuned_text(text, model, learnt.look, free_parameters(model, lock, free), lines)
        words.append(in_words(learnt.outcome))
    data: dict[str, object] = {"file": str(out), "left_by_recipe": learnt.left}
    if learnt.outcome is not None:
        data["tuned"] = tuned_data(learnt.outcome)
    residual = learnt.residual
    failing: list[str] = []
    if residual is None:
        words.append(
            f"The recipe alone leaves {100 * learnt.left:.2f} % of signal: nothing is left to learn, and no lattice is "
            "written."
        )
    else:
        comments = [
            f"Learnt from {len(pairs)} pair(s) of frames; belongs behind the steps of {out.name}",
            f"Feed it: {model.output.signal().describe()}",
            f"It gives: {model.output.signal().describe()}",
            f"Samples speak for {100 * residual.coverage:.1f} % of the lattice; away from them it fades to nothing",
        ]
        write_cube(cube, residual.lattice, title=f"{model.title or out.stem}: learnt", comments=comments)
        from lookwright.present.sheets.learn_sheet import write_coverage

        write_coverage(coverage, residual, model.title or out.stem, model.output.encoding)
        new = with_lattice(new, model, cube.name)
        left = f"{100 * residual.before:.2f} -> {100 * residual.after:.2f} % of signal"
        new += "\n" + remark([f"{when}: lattice learnt from {len(pairs)} pair(s), {left} on pixels kept apart."])
        words.append(
            f"The recipe leaves {100 * residual.before:.2f} % of signal; with the lattice {100 * residual.after:.2f} % "
            f"is left, on pixels that it was not fitted to. It moves a colour by {100 * residual.largest:.1f} % of "
            f"signal at most. Samples speak for {100 * residual.coverage:.1f} % of the lattice; away from them it "
            "fades to nothing."
        )
        data["lattice"] = {"file": str(cube), "coverage_map": str(coverage), **as_data(residual)}
        final = parse_look(new, str(out)).with_folder(out.parent)
        compile_look(final)
        failing = failing_words(all_harm(final))
        if failing:
            words.append(f"'check' fails: {', '.join(failing)}.")
        data["check_fails"] = failing
    write_text(out, new)
    data["words"] = " ".join(words)
    if as_json:
        tell_json(data)
    tell(quiet, as_json, " ".join(words))
    beside = f", {cube.name} and {coverage.name} beside it" if residual is not None else ""
    tell(quiet, as_json, f"wrote {out}{beside}")
    if learnt.outcome is not None and learnt.outcome.stopped:
        raise SystemExit(STOPPED)
    if failing or (residual is None and learnt.outcome is not None and not learnt.outcome.passes):
        raise SystemExit(1)
