"""The command group; each command's module is imported only when it runs."""

from __future__ import annotations

import contextlib
import gc
import importlib
import io
import os
import sys
from pathlib import Path

import click

from passage import __version__
from passage.errors import OutputError, did_you_mean

#: Command name -> (module, one line of help). The help is kept here so that
#: ``passage --help`` imports no command.
COMMANDS: dict[str, tuple[str, str]] = {
    "plan": (
        "passage.cli.plan",
        "Plan one passage: sea, roll, comfort and fuel by leg.",
    ),
    "compare": (
        "passage.cli.compare",
        "Compare routes, departures, speeds and fin use; one page to decide from.",
    ),
    "suggest": (
        "passage.cli.suggest",
        "Search a route for fuel or comfort: a suggestion to appraise.",
    ),
    "heel": ("passage.cli.heel", "Decide about steady heel: fins, tanks, ballast, or leave it."),
    "season": (
        "passage.cli.season",
        "Thousands of departures over years of hindcast: odds by month and route.",
    ),
    "hindcast": (
        "passage.cli.hindcast",
        "Rewrite past data once, so that years at a place are read fast.",
    ),
    "defaults": (
        "passage.cli.show_defaults",
        "Show the defaults of options, and from which file or variable each is taken.",
    ),
    "check": (
        "passage.cli.check",
        "Show what was recognised in forecast files, a vessel file or a route.",
    ),
    "particulars": (
        "passage.cli.particulars",
        "Write a vessel file: from your answers, or one to fill in.",
    ),
    "decay": (
        "passage.cli.decay",
        "Fit roll damping and period to a roll-decay record.",
    ),
    "review": (
        "passage.cli.review",
        "After the passage: planned beside logged, leg by leg.",
    ),
    "record": (
        "passage.cli.record",
        "Sum up reviewed passages: bias, spread, odds kept, trend, forecast error.",
    ),
    "calibrate": (
        "passage.cli.calibrate",
        "Fit fuel, wave slope, damping and fins to a passage log.",
    ),
}


#: A longer line of a message repeats something endless that was typed.
_LONGEST_LINE = 1000


class LazyGroup(click.Group):
    """A group that knows its commands' names without importing them."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names in the order of the table."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import the command's module and return its ``command``."""
        if cmd_name not in COMMANDS:
            return None  # resolve_command says so
        module = importlib.import_module(COMMANDS[cmd_name][0])
        command: click.Command = module.command
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command, or a usage error that names the likeliest; ``help plan`` is its help."""
        if args and args[0] == "help":
            if len(args) > 2 and not args[2].startswith("-"):
                ctx.fail(f"help explains one command at a time: passage help {args[1]}.")
            args = [*args[1:2], "--help"]
            if len(args) == 1:
                click.echo(ctx.get_help(), color=ctx.color)
                ctx.exit()
        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            ctx.fail(f"No such command '{args[0]}'. {did_you_mean(args[0], COMMANDS)}".rstrip())
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List commands with the help of the table."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, text) in COMMANDS.items()])
        formatter.write_paragraph()
        formatter.write_text("passage help COMMAND explains one, with examples.")


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="passage")
def group() -> None:
    """Fuel against comfort for a fin-stabilised motor yacht, leg by leg.

    Decision support only: the master decides.
    """


def main() -> None:
    """Run the command line; a user's mistake ends in a message, not a traceback."""
    from passage.errors import PassageError

    # Loading libraries makes many objects and hardly any garbage: collecting after every
    # seven hundred of them takes a tenth of a short run.
    gc.set_threshold(50_000, 20, 20)
    _without_closed_streams()
    if isinstance(sys.stdout, io.TextIOWrapper):
        # A letter that the terminal cannot show must not end the run.
        sys.stdout.reconfigure(errors="replace")
    try:
        code = group.main(standalone_mode=False)
        sys.exit(code if isinstance(code, int) else 0)
    except click.ClickException as err:
        if isinstance(err, click.exceptions.NoArgsIsHelpError):
            err.show()
            sys.exit(err.exit_code)
        for line in _usage_words(err).splitlines():
            long = len(line) > _LONGEST_LINE
            click.echo(f"{line[:200]} ... {line[-100:]}" if long else line, err=True)
        sys.exit(err.exit_code)
    except click.Abort:
        # The cursor may be behind a question.
        click.echo("\nStopped.", err=True)
        sys.exit(130)
    except PassageError as err:
        click.echo(_named(str(err)), err=True)
        sys.exit(err.exit_code)
    except OSError as err:
        _let_go_of_stdout()
        if isinstance(err, BrokenPipeError):
            sys.exit(0)  # the reader (head, less) has seen enough
        where = f"{err.filename}: " if err.filename else "the output: "
        click.echo(f"passage: {where}{err.strerror or err}.", err=True)
        sys.exit(2)


def _named(text: str) -> str:
    """Every problem with the program's name before it; other lines belong to the one before."""

    def shown(number: int, line: str) -> str:
        goes_on = line[:1].isspace() or not line or line.startswith("See ")
        return line if number and goes_on else f"passage: {line}"

    return "\n".join(shown(number, line) for number, line in enumerate(text.split("\n")))


def _usage_words(err: click.ClickException) -> str:
    """A mistake in what was typed: what is wrong, and where the options are explained."""
    context = getattr(err, "ctx", None)
    if isinstance(err, click.NoSuchOption):
        from passage.cli.word import no_such_option

        words = _named(no_such_option(err.option_name, context and context.command))
    else:
        words = _named(err.format_message())
    if context is None:
        return words
    command = context.command.name if context.parent is not None else ""
    return f"{words}\nSee {' '.join(filter(None, ('passage', command, '--help')))}"


class _Closed(io.TextIOBase):
    """Standard output that was closed before the program began."""

    closed = True

    def write(self, text: str) -> int:
        """Fail with a message."""
        raise OutputError("standard output is closed. Open it, or give -o FILE.")

    def flush(self) -> None:
        """Nothing to flush."""

    def isatty(self) -> bool:
        """No."""
        return False


def _without_closed_streams() -> None:
    """Replace closed streams, which Python sets to None.

    The next file opened must not get their descriptors: a library that prints would
    write into it.
    """
    for number in (0, 1, 2):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)
    if sys.stdout is None:
        sys.stdout = _Closed()
    if sys.stderr is None:
        sys.stderr = Path(os.devnull).open("w")  # noqa: SIM115 - lives as long as we do


def _let_go_of_stdout() -> None:
    """Drop what is left in the buffer, so that writing it does not fail again at exit."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
