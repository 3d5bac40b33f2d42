"""``passage particulars``: a commented vessel file to fill in."""

from __future__ import annotations

from pathlib import Path

import click

from passage.cli.outputs import OUTPUT_OR_SCREEN, STDOUT
from passage.cli.outputs import command as passage_command


@passage_command("particulars", context_settings={"help_option_names": ["-h", "--help"]})
@click.option(
    "-o",
    "--output",
    type=OUTPUT_OR_SCREEN,
    help="File to write; standard output if not given.",
)
@click.option("--force", is_flag=True, help="Replace the file if it exists.")
@click.option("--schema", is_flag=True, help="Write the JSON Schema of vessel files instead.")
def command(output: Path | None, force: bool, schema: bool) -> None:
    """Write a commented vessel file to fill in.

    It describes an invented yacht and can be planned with as it stands. Every number
    has its unit in its key, and a comment that says where a crew finds it.
    """
    from importlib.resources import files

    from passage.files import write_text

    if schema:
        import json

        from passage.inputs.vessel import vessel_json_schema

        text = json.dumps(vessel_json_schema(), indent=2) + "\n"
    else:
        source = files("passage.inputs.vessel").joinpath("particulars.toml")
        text = source.read_text(encoding="utf-8")
    if output is None or output == STDOUT:
        click.echo(text, nl=False)
        return
    write_text(output, text, force=force)
    click.echo(f"{output} written.", err=True)
