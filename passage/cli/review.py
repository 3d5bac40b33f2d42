"""``passage review``: planned beside logged, after the passage."""

from __future__ import annotations

from pathlib import Path

import click

from passage.cli.options import PATH, emit, output_options
from passage.cli.outputs import command as passage_command


@passage_command("review")
@click.argument("log", type=PATH)
@click.option(
    "--plan",
    "plan_file",
    type=PATH,
    required=True,
    help="JSON of passage plan, made before the passage.",
)
@click.option(
    "--vessel",
    type=PATH,
    help="Vessel file (TOML), instead of the copy that the plan carries.",
)
@click.option(
    "--format",
    "layout",
    type=click.Choice(["table", "json"]),
    default="table",
    show_default=True,
    help="Form of the answer.",
)
@output_options
def command(
    log: Path,
    plan_file: Path,
    vessel: Path | None,
    layout: str,
    output: Path | None,
    force: bool,
) -> None:
    """Hold LOG against the plan: what she burnt, rolled and took, leg by leg.

    LOG is a CSV of one-second recordings or of averages. Columns: docs/review.md.
    """
    from passage.inputs.records.plan_file import read_plan
    from passage.inputs.records.recording import read_recording
    from passage.planning.review.review import review
    from passage.report.text.review import review_json, review_table

    plan = read_plan(plan_file, vessel)
    found = review(read_recording(log), plan)
    text = review_json(found) if layout == "json" else review_table(found)
    emit(text, output, force=force)
