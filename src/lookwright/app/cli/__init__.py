"""The command line. Importing it imports click and nothing heavier; each command loads when it is run."""

from __future__ import annotations

import contextlib
import importlib
import os
import re
import signal
import sys
import threading
from collections.abc import Iterator
from types import FrameType
from typing import Any

import click

from lookwright.errors import LookwrightError, did_you_mean
from lookwright.version import __version__

from .options import NOTES, say
from .terminal import hold_standard_streams, suit_code_page

# Command: one line for the top-level help. The command's own module takes this line as its summary, so
# the list is not written twice; tests/cli holds that every module exists.
COMMANDS: dict[str, str] = {
    "new": "Write a look to start from.",
    "show": "Explain a look in words, or a step and its parameters.",
    "bake": "Bake a look into a .cube file.",
    "preview": "Grade stills: graded, pair, wipe or contact sheet.",
    "frames": "Take stills out of a clip, bit depth kept.",
    "clip": "Grade a short clip into an H.264 preview.",
    "breakdown": "Take a reference frame apart, and light to it.",
    "measure": "Read levels, light and ratios from stills.",
    "check": "Measure what a look or LUT does: skin, greys, tone, noise, folds.",
    "tune": "Move a look toward a reference, pairs or levels, with restraint.",
    "learn": "Learn from graded frames what a look's steps cannot say.",
    "series": "Bring stills to an anchor still, then one look; report the drift.",
    "deliver": "Make the delivery folder: every form of a look, and a card.",
    "bench": "Shape a look by eye in the browser, measurements beside it.",
    "recover": "Take the look out of a .cube, or find one for a LUT of others.",
    "undo": "Take graded pictures back to log: the inverse of a look or LUT.",
    "encodings": "List signal encodings with their code values.",
    "demo": "Make the whole job once, from the sample stills.",
}


QUIET = {"PYDANTIC_DISABLE_PLUGINS": "__all__", "OPENBLAS_NUM_THREADS": "1", "VECLIB_MAXIMUM_THREADS": "1"}
"""What libraries are told before they are imported, unless the user tells them otherwise. Looking for plug-ins of
pydantic takes a tenth of the time to import numpy. Our matrices have three columns: several threads of linear algebra
wait for each other more than they work, and take the cores from those that decode and grade (tune 16.7 against 14.9
seconds of processors, learn 7.1 against 5.4)."""


class ReaderGone(Exception):
    """Nobody reads our output any more (head, less). Not an OSError, which click would turn into exit code 1."""


class Ended(SystemExit):
    """SIGTERM or SIGHUP came."""


@contextlib.contextmanager
def _noticing() -> Iterator[None]:
    try:
        yield
    except BrokenPipeError:
        raise ReaderGone from None


class Commands(click.Group):
    """Commands by name, each loaded only when it is run or its own help is asked for."""

    def make_context(self, *args: Any, **kwargs: Any) -> click.Context:
        with _noticing():  # --help and --version are printed here
            return super().make_context(*args, **kwargs)

    def invoke(self, ctx: click.Context) -> Any:
        with _noticing():
            result = super().invoke(ctx)
            for note in ctx.meta.get(NOTES, ()):
                say(note)
            return result

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
    hold_standard_streams()
    suit_code_page()
    try:
        with _ending_tidily(), _quiet():
            code: Any = cli.main(args=arguments, prog_name="lookwright", standalone_mode=False)
        sys.exit(code if isinstance(code, int) else 0)
    except click.exceptions.NoArgsIsHelpError as exc:
        click.echo(exc.format_message(), err=True)
        sys.exit(2)
    except click.exceptions.Abort:
        _remove_unfinished()
        click.echo("lookwright: stopped", err=True)
        sys.exit(130)
    except click.ClickException as exc:
        say(exc.format_message())
        sys.exit(2)
    except LookwrightError as exc:
        _abandon(exc)
        for line in str(exc).splitlines():
            say(line)
        sys.exit(exc.exit_code)
    except ReaderGone:
        _leave_stdout()
        sys.exit(141)  # as shells tell of SIGPIPE
    except Ended:
        _remove_unfinished()
        with contextlib.suppress(OSError):  # after SIGHUP there is no terminal to tell it to
            click.echo("lookwright: stopped", err=True)
        raise
    except UnicodeEncodeError as exc:  # what stands for bytes that are no text can be named, but not written
        _remove_unfinished()
        word = next((w for w in re.split(r"[\s/\\]", exc.object) if re.search(r"[\ud800-\udfff]", w)), exc.object)
        say(f"{word[:80]}: the name is not valid UTF-8; rename it")
        sys.exit(2)
    except OSError as exc:
        from lookwright.files import nowhere

        if isinstance(exc, FileNotFoundError) and not exc.filename and nowhere():
            say("the folder this was started in is no longer there; go to another one")
            sys.exit(2)
        # Reading and writing files have messages of their own; without a file name it is stdout, e.g. on a full disk.
        say(f"{exc.filename or 'printing the result'}: {exc.strerror or exc}")
        _leave_stdout()
        sys.exit(2)
    except MemoryError:
        say("not enough memory for this; use smaller stills or a smaller --size")
        sys.exit(2)


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Set what libraries are told, for them and the processes started here; afterwards the environment is as it was."""
    added = {name: value for name, value in QUIET.items() if name not in os.environ}
    os.environ.update(added)
    try:
        yield
    finally:
        for name in added:
            os.environ.pop(name, None)


@contextlib.contextmanager
def _ending_tidily() -> Iterator[None]:
    """Let SIGTERM and SIGHUP unwind the program as Ctrl-C does, so that nothing half-written stays behind.

    Their default would end the process on the spot. Whoever set a handler, or ignores them (nohup), keeps it; a second
    signal ends at once.
    """

    def end(number: int, frame: FrameType | None) -> None:
        signal.signal(number, signal.SIG_DFL)
        raise Ended(128 + number)

    before = {}
    if threading.current_thread() is threading.main_thread():
        # Windows has no SIGHUP; of a closed window it tells by SIGBREAK.
        for name in ("SIGTERM", "SIGHUP", "SIGBREAK"):
            number = getattr(signal, name, None)
            if number is not None and signal.getsignal(number) is signal.SIG_DFL:
                before[number] = signal.signal(number, end)
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _remove_unfinished() -> None:
    # Here and not above: a program that is not ended half-way, as for --help, has no need of it.
    from lookwright.files import remove_unfinished

    remove_unfinished()


def _abandon(exc: BaseException) -> None:
    """End what failed work left open, threads that still write among it, here and before the fault is told.

    Else it ends when its last reference goes, which may be in one of those threads: they cannot wait for themselves.
    """
    import traceback

    traceback.clear_frames(exc.__traceback__)


def _leave_stdout() -> None:
    """Send what is still in stdout's buffer nowhere, so that the interpreter does not fail on it again at exit."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
