"""``passage record``: how past passages compare with their plans."""

from __future__ import annotations

from pathlib import Path

import click

from passage.cli.options import PATH, emit, output_options, screen_layout, screen_options
from passage.cli.outputs import command as passage_command
from passage.cli.word import Word


@passage_command("record")
@click.argument("record", type=PATH)
@click.option(
    "--vessel",
    type=PATH,
    help="Vessel file: sums up her passages, with the numbers she has now.",
)
@click.option(
    "--format",
    "layout",
    type=Word(["table", "json"]),
    default="table",
    show_default=True,
    help="Format of the answer; the suffix of -o sets it too.",
)
@screen_options
@output_options
def command(
    record: Path,
    vessel: Path | None,
    layout: str,
    wide: bool,
    detail: str | None,
    output: Path | None,
    force: bool,
) -> None:
    """Sum up RECORD: bias and spread of fuel and roll, odds kept, trend, forecast error.

    RECORD is what passage review --record wrote. Without --vessel: the vessel sailed last.
    """
    from passage.api.reviews import record_summary
    from passage.report.text.record import record_json, record_table

    found = record_summary(record, vessel)
    screen = screen_layout(wide=wide, detail=detail)
    text = record_json(found) if layout == "json" else record_table(found, screen)
    emit(text, output, force=force)
