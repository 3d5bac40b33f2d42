"""``passage particulars``: a commented vessel file to fill in."""

from __future__ import annotations

import sys
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
@click.option(
    "--ask/--no-input",
    "asking",
    default=None,
    help="Ask question by question, or write the template to fill in; on a terminal it asks.",
)
@click.option("--short", is_flag=True, help="A template with only what cannot be estimated.")
@click.option("--schema", is_flag=True, help="Write the JSON Schema of vessel files instead.")
def command(
    output: Path | None, force: bool, asking: bool | None, short: bool, schema: bool
) -> None:
    """Write a vessel file: from your answers, or a commented one to fill in.

    On a terminal every number is asked for with its unit and where to find it; Enter
    means not known. The file has what was answered; the rest is in comments with its
    estimate. In the templates nothing counts until it is filled in.
    """
    if asking is None:
        asking = sys.stdin.isatty() and not (schema or short)
    if asking and (schema or short):
        raise click.UsageError("--ask does not go with --schema or --short.")
    if schema and short:
        raise click.UsageError("--schema and --short exclude each other. Leave one out.")
    if asking:
        _asked(output, force=force)
        return
    from passage.files import write_text

    if schema:
        import json

        from passage.inputs.vessel import vessel_json_schema

        text = json.dumps(vessel_json_schema(), indent=2) + "\n"
    else:
        from passage.inputs.vessel.template import full_template, short_template

        text = short_template() if short else full_template()
    if output is None or output == STDOUT:
        click.echo(text, nl=False)
        return
    write_text(output, text, force=force)
    click.echo(f"{output} written.", err=True)


def _asked(output: Path | None, *, force: bool) -> None:
    """Ask, and write the file; answers are never lost to a name that is taken."""
    from passage.cli.particulars_ask import ask, written
    from passage.files import write_text

    text = written(ask())
    if output == STDOUT:
        click.echo(text, nl=False)
        return
    while output is None or (output.exists() and not force):
        if output is not None:
            click.echo(f"{output} already exists.", err=True)
        output = Path(click.prompt("File to write", default="mine.toml", err=True))
    write_text(output, text, force=force)
    click.echo(
        f"{output} written. `passage check --vessel {output}` shows what was estimated.", err=True
    )
