"""``passage review``: planned beside logged, after the passage."""

from __future__ import annotations

from pathlib import Path

import click

from passage.cli.options import (
    PATH,
    check_page_options,
    emit,
    map_option,
    nearest_option,
    open_option,
    output_options,
    say,
    screen_layout,
    screen_options,
)
from passage.cli.outputs import OutputPath
from passage.cli.outputs import command as passage_command
from passage.cli.word import Word


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
    help="The sea as it was (a later analysis or hindcast): splits the miss into its causes. "
    "Give the option again for more files.",
)
@click.option(
    "--forecast",
    "forecasts",
    type=PATH,
    multiple=True,
    help="The forecast of the plan: with --sea, also splits the miss in the other order.",
)
@click.option(
    "--record",
    type=OutputPath(update=True),
    metavar="FILE",
    help="Keep the passage in this record (CSV), made if there is none; the same passage is "
    "replaced. passage record sums it up.",
)
@click.option(
    "--cleaned",
    metavar="DATE",
    help="Day the hull was last cleaned before the passage, as 2026-01-31, for the record; it "
    "holds for later passages too.",
)
@map_option
@nearest_option
@click.option(
    "--format",
    "layout",
    type=Word(["table", "json", "html"]),
    default="table",
    show_default=True,
    help="Format of the answer; the suffix of -o sets it too; html needs -o.",
)
@screen_options
@output_options
@open_option
def command(
    log: Path,
    plan_file: Path,
    vessel: Path | None,
    seas: tuple[Path, ...],
    forecasts: tuple[Path, ...],
    record: Path | None,
    cleaned: str | None,
    name_map: Path | None,
    nearest_sea_cell_km: float | None,
    layout: str,
    wide: bool,
    detail: str | None,
    output: Path | None,
    force: bool,
    open_page: bool,
) -> None:
    """Compare LOG with the plan, leg by leg: fuel, roll and time.

    LOG is a CSV of one-second recordings or of averages. Columns: docs/review.md.
    """
    check_page_options(layout, output, open_page=open_page)
    if forecasts and not seas:
        raise click.UsageError("--forecast goes with --sea.")
    if cleaned is not None and record is None:
        raise click.UsageError("--cleaned is for the record: add --record FILE.")
    from passage.api.reviews import review
    from passage.report.text.review import review_json, review_table

    made = review(
        log,
        plan_file,
        sea=seas or None,
        forecast=forecasts or None,
        vessel=vessel,
        name_map=name_map,
        nearest_sea_cell_km=nearest_sea_cell_km,
        record=record,
        hull_cleaned=cleaned,
    )
    found, causes = made.answer, made.causes
    screen = screen_layout(wide=wide, detail=detail)
    if layout == "html":
        text = made.page()
    elif layout == "json":
        text = review_json(found, causes)
    else:
        text = review_table(found, causes, screen)
    emit(text, output, force=force)
    if open_page and output is not None:
        click.launch(str(output))
    if made.record is not None:
        say(_kept_words(made, record))


def _kept_words(made, record: Path | None) -> str:  # type: ignore[no-untyped-def]
    """What became of the passage in the record."""
    if made.replaced < 0:
        return (
            f"{record} is unchanged: it holds this passage reviewed with --sea, and this review "
            "is without. Give --sea to replace it."
        )
    how = "replaced in" if made.replaced else "added to"
    words = f"The passage is {how} {record}, which holds {len(made.record.passages)} now."
    if made.causes is not None and not made.causes.same_sea:
        return words
    why = "without --sea" if made.causes is None else "with the plan's own forecast"
    return (
        f"{words} It was reviewed {why}, so the model's error cannot be separated, and the bands "
        "of a plan do not use it."
    )
