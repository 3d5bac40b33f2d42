"""``passage plan``: one passage, leg by leg."""

from __future__ import annotations

from pathlib import Path

import click

from passage.cli.harbour_options import harbour_options
from passage.cli.odds_options import draws_option
from passage.cli.options import (
    PATH,
    UTC_TIME,
    check_page_options,
    departure_option,
    emit,
    heel_option,
    hold_option,
    input_options,
    minutes_option,
    open_option,
    output_options,
    responses_option,
    say,
    screen_layout,
    screen_options,
    speed_option,
    waves_option,
    zone_option,
)
from passage.cli.outputs import command as passage_command
from passage.cli.underway_options import underway_options
from passage.cli.word import Word


@passage_command("plan")
@click.argument("route", type=PATH)
@input_options
@harbour_options
@departure_option
@underway_options
@zone_option
@speed_option
@hold_option
@click.option(
    "--arrive",
    "arrive_s",
    type=UTC_TIME,
    metavar="TIME",
    help="Arrive at this time: finds the one speed that does it.",
)
@click.option(
    "--fins",
    type=Word(["active", "needed", "centred", "absent"]),
    default="active",
    show_default=True,
    help="Fin use under way, where common practice leaves it open; needed: active only "
    "where roll would exceed the owner's limit without them, or where they hold a list.",
)
@heel_option
@click.option(
    "--moves",
    type=PATH,
    help="Transfers of liquid to plan with: the JSON of passage heel, or a table "
    "before_leg,from,to,m3. Without --heel and --fins the fins do what that JSON advises.",
)
@click.option(
    "--ease",
    is_flag=True,
    help="Slow down where slamming or the acceleration limit would be exceeded.",
)
@minutes_option
@waves_option
@click.option(
    "--format",
    "layout",
    type=Word(["table", "csv", "json", "netcdf", "html", "sheet"]),
    default="table",
    show_default=True,
    help="Format of the answer; the suffix of -o sets it too; sheet is one A4 page (html) for the "
    "watch; netcdf, html and sheet need -o.",
)
@click.option(
    "--weighting",
    is_flag=True,
    help="Also find the mix of rate, angle and acceleration gain that rolls least on each leg.",
)
@draws_option
@responses_option
@click.option(
    "--record",
    type=PATH,
    help="Record of her past passages (passage review --record): gives the bands of fuel and roll.",
)
@screen_options
@output_options
@open_option
@click.option("--strict", is_flag=True, help="Exit 5 unless the forecast covers every leg.")
@click.option("--fail-on-limit", is_flag=True, help="Exit 6 if a limit is exceeded.")
def command(
    route: Path,
    vessel: Path,
    forecasts: tuple[Path, ...],
    name_map: Path | None,
    nearest_sea_cell_km: float | None,
    harbour_nm: float | None,
    harbour_sea: str,
    single_time_h: float,
    departure_s: float,
    start: tuple[float, float] | None,
    tanks: tuple[tuple[str, float], ...],
    speed_kn: float | None,
    hold: str,
    arrive_s: float | None,
    fins: str,
    heel: str,
    moves: Path | None,
    ease: bool,
    minutes: float,
    wave_method: str,
    weighting: bool,
    draws: int,
    responses: Path | None,
    record: Path | None,
    layout: str,
    wide: bool,
    detail: str | None,
    output: Path | None,
    force: bool,
    open_page: bool,
    strict: bool,
    fail_on_limit: bool,
) -> None:
    """Plan ROUTE: what the sea does to her on each leg, fins centred and active, and the fuel.

    The table goes to the screen with its remarks. Decision support only: the master decides.
    """
    check_page_options(layout, output, open_page=open_page)
    if ease and hold == "ground":
        raise click.UsageError("--ease changes the speed; it does not go with --hold ground.")
    if arrive_s is not None and (speed_kn is not None or hold == "ground"):
        given = {"--speed": speed_kn is not None, "--hold ground": hold == "ground"}
        named = " and ".join(name for name, there in given.items() if there)
        raise click.UsageError(f"--arrive finds the speed; leave out {named}.")
    if arrive_s is not None and arrive_s <= departure_s:
        raise click.UsageError("--arrive is not after --departure.")
    from passage.api.questions import plan as ask
    from passage.cli.defaults import forecast_error_table, taken

    if record is not None and not _given("record") and not record.exists():
        say(f"Remark: the record {record} named in the defaults does not exist yet.")
        record = None
    plan = ask(
        route,
        vessel,
        forecasts,
        departure=departure_s,
        start=start,
        tanks=dict(tanks),
        arrive=arrive_s,
        speed_kn=speed_kn,
        hold=hold,
        ease=ease,
        minutes=minutes,
        wave_method=wave_method,
        nearest_sea_cell_km=nearest_sea_cell_km,
        harbour_nm=harbour_nm,
        harbour_sea=harbour_sea,
        single_time_h=single_time_h,
        name_map=name_map,
        responses=responses,
        record=record,
        weighting=weighting or layout == "sheet",
        moves=moves,
        newest_run=not strict,
        draws=draws,
        forecast_error=forecast_error_table(),
        # Without --heel the file of transfers says what the fins do.
        **({"heel": heel} if _given("heel") else {}),
        **({"fins": fins} if _given("fins") else {}),
        say=say,
        map_times=6 if layout == "html" else 0,
    ).answer
    plan.provenance["defaults"] = taken()
    plan = _with_local_times(plan)
    if layout == "netcdf":
        from passage.files import write_with
        from passage.report.files.plan_netcdf import write_plan_netcdf

        assert output is not None
        write_with(output, lambda path: write_plan_netcdf(plan, path), force=force)
        say(f"Wrote {output}")
    else:
        screen = screen_layout(wide=wide, detail=detail)
        if layout in ("csv", "sheet") and not screen.quiet:
            # The other forms have the remarks in them.
            for note in plan.notes:
                say(f"Remark: {note}")
        emit(_text(plan, layout, screen), output, force=force)
    if open_page and output is not None:
        click.launch(str(output))
    _exit_code(plan, strict=strict, fail_on_limit=fail_on_limit)


def _with_local_times(plan):  # type: ignore[no-untyped-def]
    """The plan with a note on departure and arrival by the clocks of --zone."""
    from dataclasses import replace

    from passage.api.times import utc_seconds
    from passage.report.text.clocks import noted

    eta = plan.totals.get("eta_utc")
    words = noted(plan.provenance, plan.departure_s, utc_seconds(eta) if eta else None)
    return replace(plan, notes=(*words, *plan.notes)) if words else plan


def _given(name: str) -> bool:
    """Whether the user gave an option, rather than taking its default."""
    context = click.get_current_context()
    source = context.get_parameter_source(name)
    return source in (
        click.core.ParameterSource.COMMANDLINE,
        click.core.ParameterSource.ENVIRONMENT,
    )


def _text(plan, layout: str, screen) -> str:  # type: ignore[no-untyped-def]
    if layout == "json":
        from passage.report.files.plan_json import plan_json

        return plan_json(plan)
    if layout == "csv":
        from passage.report.text.plan import plan_csv

        return plan_csv(plan)
    if layout == "html":
        from passage.report.pages.plan import plan_page

        return plan_page(plan)
    if layout == "sheet":
        from passage.report.pages.sheet import sheet_page

        return sheet_page(plan)
    from passage.report.text.plan import plan_table

    return plan_table(plan, screen)


def _exit_code(plan, *, strict: bool, fail_on_limit: bool) -> None:  # type: ignore[no-untyped-def]
    from passage.errors import LimitExceeded, PartialCoverage

    if strict and not plan.fully_covered:
        from passage.planning.plan.cautions import GAP_WORDS
        from passage.variables import COVERED

        gaps = [leg for leg in plan.legs if leg["coverage"] not in COVERED]
        words = ", ".join(f"leg {leg['leg']} lies {GAP_WORDS[leg['coverage']]}" for leg in gaps)
        flows = [
            caution.text.rstrip(".")
            for caution in plan.cautions
            if caution.code.partition("_")[0] in (*plan.flows_missing, *plan.flows_short)
            and caution.severity != "note"
        ]
        words = "; ".join([*([words] if words else []), *flows])
        raise PartialCoverage(f"the forecast does not cover the whole passage: {words}.")
    if fail_on_limit and plan.limits_exceeded:
        raise LimitExceeded("a limit is exceeded: " + " ".join(plan.limits_exceeded))
