"""The command line. Importing it imports click and nothing heavier; each command loads when it is run."""

from __future__ import annotations

import contextlib
import importlib
import os
import sys
from typing import Any

import click

from .. import __version__
from ..errors import LookwrightError, did_you_mean
from .options import say

# Command: one line for the top-level help. The command's own module takes this line as its summary, so
# the list is not written twice; tests/cli holds that every module exists.
COMMANDS: dict[str, str] = {
    "new": "Write a look to start from.",
    "show": "Explain a look in words, or a step and its parameters.",
    "bake": "Bake a look into a .cube file.",
    "preview": "Grade stills: graded, pair, wipe or contact sheet.",
    "frames": "Take stills out of a clip, bit depth kept.",
    "clip": "Grade a short clip into an H.264 preview.",
    "measure": "Read levels, light and ratios from stills.",
    "check": "Measure what a look or LUT does: skin, greys, tone, noise, folds.",
    "tune": "Move a look toward a reference, pairs or levels, with restraint.",
    "learn": "Learn from graded frames what a look's steps cannot say.",
    "series": "Bring stills to an anchor still, then one look; report the drift.",
    "deliver": "Make the delivery folder: every form of a look, and a card.",
    "bench": "Shape a look by eye in the browser, measurements beside it.",
    "recover": "Take the look out of a .cube, and check its table.",
    "encodings": "List signal encodings with their code values.",
    "demo": "Make the whole job once, from the sample stills.",
}


class Commands(click.Group):
    """Commands by name, each loaded only when it is run or its own help is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = importlib.import_module(f"{__name__}.{cmd_name}").command
        command.short_help = COMMANDS[cmd_name]
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            raise click.UsageError(f"no command {args[0]!r}; {did_you_mean(args[0], COMMANDS)}", ctx)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="lookwright")
def cli() -> None:
    """Build, tune, measure, see and deliver a restrained warm/cool look.

    A look is a short text file of steps. Begin with 'lookwright new my.toml', see it with
    'lookwright preview my.toml --stills DIR --out previews', carry it with 'lookwright bake my.toml'.
    """


def main(arguments: list[str] | None = None) -> None:
    """Entry point: every fault is one clear line on stderr; exit 2 for wrong use, 1 for a failed check."""
    try:
        code: Any = cli.main(args=arguments, prog_name="lookwright", standalone_mode=False)
        sys.exit(code if isinstance(code, int) else 0)
    except click.exceptions.NoArgsIsHelpError as exc:
        click.echo(exc.format_message(), err=True)
        sys.exit(2)
    except click.exceptions.Abort:
        click.echo("lookwright: stopped", err=True)
        sys.exit(130)
    except click.ClickException as exc:
        say(exc.format_message())
        sys.exit(2)
    except LookwrightError as exc:
        for line in str(exc).splitlines():
            say(line)
        sys.exit(exc.exit_code)
    except BrokenPipeError:
        # The reader of our output went away (head, less): quietly stop, and keep Python from complaining at exit.
        _leave_stdout()
        sys.exit(141)
    except OSError as exc:
        # Reading and writing files have messages of their own; without a file name it is stdout, e.g. on a full disk.
        say(f"{exc.filename or 'printing the result'}: {exc.strerror or exc}")
        _leave_stdout()
        sys.exit(2)
    except MemoryError:
        say("not enough memory for this; use smaller stills or a smaller --size")
        sys.exit(2)


def _leave_stdout() -> None:
    """Send what is still in stdout's buffer nowhere, so that the interpreter does not fail on it again at exit."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
