"""``passage defaults``: what is taken from where when an option is not typed."""

from __future__ import annotations

from typing import Any

import click

from passage.cli.options import show
from passage.cli.outputs import command as passage_command


@passage_command("defaults")
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def command(as_json: bool) -> None:
    """Show the defaults of every command, and from which file or variable each is taken.

    Looked at in this order: the command line, PASSAGE_COMMAND_OPTION, PASSAGE_OPTION,
    passage.toml in the working folder, passage.toml in the user's configuration folder.
    """
    import json

    from passage.cli import defaults
    from passage.cli.main import COMMANDS, group

    found: dict[str, dict[str, defaults.Default]] = {}
    refused: list[str] = []
    for name in COMMANDS:
        other = group.get_command(click.Context(group), name)
        if other is not None and name != "defaults":
            found[name] = defaults.found_for(other, name)
            refused += _refused(other, name, found[name])
    # The same wrong value is wrong for every command that takes it.
    refused = list(dict.fromkeys(refused))
    numbers = defaults.forecast_error()
    if as_json:
        click.echo(
            json.dumps(
                {
                    "schema_version": "1.0",
                    "files": [
                        {"file": str(path), "found": path.is_file()} for path in defaults.files()
                    ],
                    "commands": {
                        name: {
                            one.key: {"value": one.value, "source": one.source}
                            for one in options.values()
                        }
                        for name, options in found.items()
                    },
                    "refused": refused,
                    defaults.ERRORS: None
                    if numbers is None
                    else {"values": numbers[0], "source": str(numbers[1])},
                },
                indent=2,
            )
        )
        return
    lines = ["Files"]
    for path in defaults.files():
        lines.append(f"  {path}: {'read' if path.is_file() else 'not there'}")
    lines += ["", "Defaults"]
    together: dict[str, list[str]] = {}
    for name, options in found.items():
        for one in options.values():
            together.setdefault(defaults.words(one), []).append(name)
    lines += [f"  {text} ({', '.join(names)})" for text, names in together.items()]
    if numbers is not None:
        shown = ", ".join(f"{key} = {value}" for key, value in numbers[0].items())
        lines.append(f"  [{defaults.ERRORS}] {shown}, from {numbers[1]} (odds)")
    elif not together:
        lines.append(
            '  none. Write vessel = "mine.toml" and forecast = ["forecasts"] into passage.toml.'
        )
    if refused:
        lines += ["", "Refused when a command takes them", *(f"  {one}" for one in refused)]
    show("\n".join(lines))


def _refused(command: click.Command, name: str, found: dict[str, Any]) -> list[str]:
    """Defaults that a command would not take, with what it says."""
    from passage.cli.defaults import not_there, words

    problems = []
    context = click.Context(command, info_name=name)
    for option in command.params:
        default = found.get(option.name or "")
        if default is None:
            continue
        if gone := not_there(default):
            problems.append(f"{words(default)}: {gone}")
        try:
            option.type_cast_value(context, default.value)
        except click.UsageError as err:
            problems.append(f"{words(default)}: {err.message}")
    return problems
