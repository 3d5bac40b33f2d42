"""What was typed, looked at as a whole: everything missing or wrong in one message."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click
from click.core import ParameterSource

from passage.cli.word import no_such_option, spelt
from passage.errors import nearest_name

if TYPE_CHECKING:
    from collections.abc import Iterable


def problems(
    ctx: click.Context, command: click.Command, args: list[str]
) -> tuple[list[str], list[click.UsageError]]:
    """What is missing, as it is typed, and what was refused, for arguments that do not do."""
    missing: list[str] = []
    opts, rest, refused = _parsed(ctx, command, args)
    for one in sorted(command.get_params(ctx), key=lambda param: not param.is_eager):
        if one.name == "help":
            continue
        try:
            one.handle_parse_result(ctx, opts, rest)
        except click.MissingParameter:
            missing.append(typed(ctx, one))
        except click.UsageError as err:
            refused.append(err)
            if one.is_eager:
                break  # Others are understood by it: a time by its zone.
    if rest:
        refused.append(click.UsageError(_too_many(ctx, command, rest), ctx))
    first, last = ctx.params.get("from_s"), ctx.params.get("to_s")
    if isinstance(first, float) and isinstance(last, float) and last < first:
        refused.append(click.UsageError("--to is before --from.", ctx))
    return missing, refused


def _parsed(
    ctx: click.Context, command: click.Command, args: list[str]
) -> tuple[dict[str, Any], list[str], list[click.UsageError]]:
    """Values by parameter, arguments too many, and errors about the options themselves.

    A misspelt option is read as the one it is like, so that what it gives is not called missing.
    """
    left, unsure = list(args), False
    guessed: set[str] = set()
    wrong: list[click.UsageError] = []
    while True:
        try:
            opts, rest, _ = command.make_parser(ctx).parse_args(args=list(left))
        except (click.NoSuchOption, click.BadOptionUsage) as err:
            name = err.option_name
            found = [i for i, arg in enumerate(left) if _spells(arg, name)]
            # Without a value it is the last; a flag with one has it beside it.
            valued = [i for i in found if "=" in left[i]] or found[-1:]
            places = found if isinstance(err, click.NoSuchOption) else valued
            at = places[0] if places else None
            meant = ""
            if isinstance(err, click.NoSuchOption):
                meant = nearest_name(name, spelt(command))
                wrong.append(click.UsageError(no_such_option(name, command), ctx))
            elif name not in guessed:
                wrong.append(err)
            guessed.add(meant)
            if at is None:
                return {}, [], wrong
            unsure = unsure or not meant
            left[at : at + 1] = [meant + left[at][len(name) :]] if meant else []
        else:
            # What follows an option that was left out may be its value.
            return opts, [] if unsure else rest, wrong


def _spells(arg: str, name: str) -> bool:
    """Whether an argument is this option; short ones may be written together."""
    if name.startswith("--"):
        return arg.split("=", 1)[0] == name
    return arg[:1] == "-" and arg[:2] != "--" and name[1:] in arg


def _too_many(ctx: click.Context, command: click.Command, rest: list[str]) -> str:
    """A message about arguments beyond those that a command takes."""
    takes = [
        param.make_metavar(ctx) for param in command.params if isinstance(param, click.Argument)
    ]
    one = len(rest) == 1
    text = f"{' '.join(map(repr, rest))}: {'one argument' if one else 'arguments'} too many. "
    if takes == ["ROUTE"]:
        return f"{text}passage {command.name} takes one ROUTE; passage compare takes several."
    return f"{text}passage {command.name} takes {' '.join(takes) or 'options only'}."


def both_details(args: list[str]) -> list[str]:
    """A message if less and more on the screen are asked for at once."""
    before = args[: args.index("--")] if "--" in args else args
    both = {"--quiet", "--verbose"} <= set(before)
    return ["--quiet and --verbose exclude each other. Leave one out."] if both else []


def defaults_not_there(ctx: click.Context) -> list[str]:
    """Files that the defaults in use name and that do not exist."""
    from passage.cli.defaults import in_use, not_there
    from passage.cli.defaults import words as where

    return [f"{where(one)}: {gone}" for one in in_use(ctx) if (gone := not_there(one))]


def typed(ctx: click.Context, param: click.Parameter) -> str:
    """An option with its metavar, or an argument, as its help shows it."""
    metavar = param.make_metavar(ctx).removesuffix("...")
    if isinstance(param, click.Option):
        long = next((name for name in param.opts if name.startswith("--")), param.opts[0])
        return f"{'-o' if '-o' in param.opts else long} {metavar}"
    return metavar


def without_window(ctx: click.Context, command: click.Command) -> list[str]:
    """The times of leaving, where a command takes them in two ways and has neither."""
    if not any(param.name == "departures" for param in command.params):
        return []
    given = ("departures", "from_s", "to_s")
    if any(ctx.get_parameter_source(name) == ParameterSource.COMMANDLINE for name in given):
        return []
    return ["--departure TIME (or --from TIME --to TIME --every HOURS)"]


def words(command: click.Command, missing: list[str], refused: Iterable[click.UsageError]) -> str:
    """One message about all of it."""
    from passage.cli.defaults import ALLOWED, OWN_ONLY

    lines = []
    if missing:
        text = f"Missing: {', '.join(missing)}"
        names = [one.split()[0] for one in missing if one.startswith("--")]
        kept = [name for name in names if (key := name[2:].replace("-", "_")) in ALLOWED
                and (command.name, key) not in OWN_ONLY]  # fmt: skip
        if kept:
            text += f"; {' and '.join(kept)} may be set in passage.toml (passage help defaults)"
        lines.append(f"{text}.")
    return "\n".join([*lines, *(err.format_message() for err in refused)])
