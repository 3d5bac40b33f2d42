"""``passage review``: planned beside logged, after the passage."""

from __future__ import annotations

from pathlib import Path

import click

from passage.cli.options import (
    PATH,
    emit,
    map_option,
    nearest_option,
    output_options,
    screen_layout,
    screen_options,
)
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
    "--sea",
    "seas",
    type=PATH,
    multiple=True,
    help="The sea as it was (a later analysis or hindcast): takes the miss apart. Give the option "
    "again for more files.",
)
@click.option(
    "--forecast",
    "forecasts",
    type=PATH,
    multiple=True,
    help="The forecast of the plan: with --sea, also takes the miss apart in the other order.",
)
@map_option
@nearest_option
@click.option(
    "--format",
    "layout",
    type=click.Choice(["table", "json"]),
    default="table",
    show_default=True,
    help="Form of the answer.",
)
@screen_options
@output_options
def command(
    log: Path,
    plan_file: Path,
    vessel: Path | None,
    seas: tuple[Path, ...],
    forecasts: tuple[Path, ...],
    name_map: Path | None,
    nearest_sea_cell_km: float | None,
    layout: str,
    wide: bool,
    detail: str | None,
    output: Path | None,
    force: bool,
) -> None:
    """Hold LOG against the plan: what she burnt, rolled and took, leg by leg.

    LOG is a CSV of one-second recordings or of averages. Columns: docs/review.md.
    """
    if forecasts and not seas:
        raise click.UsageError("--forecast goes with --sea.")
    from passage.inputs.records.plan_file import read_plan
    from passage.inputs.records.recording import read_recording
    from passage.planning.review.review import review
    from passage.report.text.review import review_json, review_table

    plan = read_plan(plan_file, vessel)
    found = review(read_recording(log), plan)
    causes = None
    if seas:
        from contextlib import ExitStack

        from passage.inputs.forecast import open_forecast
        from passage.planning.review.causes import causes_of_miss
        from passage.planning.voyage.prepare import forecast_names

        names = forecast_names(plan.vessel, name_map)
        with ExitStack() as opened:
            sea, forecast = (
                opened.enter_context(
                    open_forecast(
                        list(files),
                        names=names,
                        nearest_sea_cell_km=nearest_sea_cell_km,
                    )
                )
                if files
                else None
                for files in (seas, forecasts)
            )
            assert sea is not None
            causes = causes_of_miss(found, sea, forecast)
    screen = screen_layout(wide=wide, detail=detail)
    text = review_json(found, causes) if layout == "json" else review_table(found, causes, screen)
    emit(text, output, force=force)
