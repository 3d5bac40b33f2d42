"""What was typed, looked at as a whole: everything missing or wrong in one message."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click
from click.core import ParameterSource

if TYPE_CHECKING:
    from collections.abc import Iterable


def problems(
    ctx: click.Context, command: click.Command, args: list[str]
) -> tuple[list[str], list[click.UsageError]]:
    """What is missing, as it is typed, and what was refused, for arguments that do not do."""
    opts, rest, _ = command.make_parser(ctx).parse_args(args=list(args))
    missing: list[str] = []
    refused: list[click.UsageError] = []
    for one in sorted(command.get_params(ctx), key=lambda param: not param.is_eager):
        try:
            one.handle_parse_result(ctx, opts, rest)
        except click.MissingParameter:
            missing.append(typed(ctx, one))
        except click.UsageError as err:
            refused.append(err)
            if one.is_eager:
                break  # Others are understood by it: a time by its zone.
    return missing, refused


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
        text = f"Missing: {', '.join(missing)}. Give {'it' if len(missing) == 1 else 'them all'}"
        names = [one.split()[0] for one in missing if one.startswith("--")]
        kept = [name for name in names if (key := name[2:].replace("-", "_")) in ALLOWED
                and (command.name, key) not in OWN_ONLY]  # fmt: skip
        if kept:
            text += f"; {' and '.join(kept)} may be set in passage.toml (passage help defaults)"
        lines.append(f"{text}.")
    return "\n".join([*lines, *(err.format_message() for err in refused)])
