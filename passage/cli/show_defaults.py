"""``passage defaults``: what is taken from where when an option is not typed."""

from __future__ import annotations

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
    for name in COMMANDS:
        other = group.get_command(click.Context(group), name)
        if other is not None and name != "defaults":
            found[name] = defaults.found_for(other, name)
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
    show("\n".join(lines))
