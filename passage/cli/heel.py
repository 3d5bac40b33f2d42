"""``passage heel``: hold her upright with fins, tanks or ballast, or leave the heel."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import click

from passage.cli.harbour_options import harbour_options
from passage.cli.odds_options import draws_option, odds_option
from passage.cli.options import (
    PATH,
    PRICE,
    Number,
    check_page_options,
    departure_option,
    emit,
    hold_option,
    input_options,
    minutes_option,
    number,
    open_option,
    output_options,
    say,
    screen_layout,
    screen_options,
    speed_option,
    zone_option,
)
from passage.cli.outputs import command as passage_command
from passage.cli.underway_options import underway_options
from passage.cli.word import Word


@passage_command("heel")
@click.argument("route", type=PATH)
@input_options
@harbour_options
@departure_option
@underway_options
@zone_option
@speed_option
@hold_option
@click.option(
    "--no-transfer",
    "no_transfer",
    type=Number(1, 10_000, whole=True),
    multiple=True,
    metavar="LEG",
    help="No transfer before this leg; give the option again for more.",
)
@click.option(
    "--transfer-every",
    "transfer_every_h",
    type=Number(0.25, 8784.0, "h"),
    metavar="H",
    help="Also allow a transfer at this interval under way, not only as legs begin.",
)
@click.option("--no-ballast", is_flag=True, help="Do not use ballast water.")
@click.option(
    "--heel-worth",
    type=number("heel_l_per_deg_h"),
    default=0.0,
    metavar="L",
    help="Litres you would burn to be rid of one degree of heel for an hour.",
)
@click.option(
    "--roll-worth",
    type=number("roll_l_per_deg_h"),
    default=0.0,
    metavar="L",
    help="Litres you would burn to be rid of one degree of significant roll for an hour.",
)
@click.option("--fuel-price", type=PRICE, help="Price of a litre of fuel.")
@click.option(
    "--crew-cost", type=number("crew_cost_per_hour"), help="Cost of an hour of crew work."
)
@click.option(
    "--alongside",
    "alongside_hours",
    type=number("alongside_hours"),
    default=12.0,
    show_default=True,
    metavar="H",
    help="Hours before departure in which liquid can be moved.",
)
@odds_option("Least chance of keeping the heel limit that the advice may have.", 80.0)
@draws_option
@minutes_option
@click.option(
    "--seconds",
    type=number("seconds"),
    default=20.0,
    show_default=True,
    help="Time the search for the best sequence may take.",
)
@click.option(
    "--format",
    "layout",
    type=Word(["table", "csv", "json", "html"]),
    default="table",
    show_default=True,
    help="Format of the answer; the suffix of -o sets it too; html needs -o.",
)
@screen_options
@output_options
@open_option
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
    no_transfer: tuple[int, ...],
    transfer_every_h: float | None,
    no_ballast: bool,
    heel_worth: float,
    roll_worth: float,
    fuel_price: float | None,
    crew_cost: float | None,
    alongside_hours: float,
    odds: float,
    draws: int,
    minutes: float,
    seconds: float,
    layout: str,
    wide: bool,
    detail: str | None,
    output: Path | None,
    force: bool,
    open_page: bool,
) -> None:
    """Decide for ROUTE, leg by leg, how to deal with steady heel, and what each way costs.

    Fins hold it, at a price in drag and roll; moving fuel or water costs crew time once;
    ballast water adds weight; or the heel is left. Decision support only: the master
    decides, and the approved stability booklet goes before every transfer.
    """
    check_page_options(layout, output, open_page=open_page)
    from passage.api.questions import heel as ask
    from passage.cli.defaults import forecast_error_table, taken
    from passage.report.text.clocks import noted
    from passage.units import HOUR_S

    answer = ask(
        route,
        vessel,
        forecasts,
        departure=departure_s,
        start=start,
        tanks=dict(tanks),
        speed_kn=speed_kn,
        hold=hold,
        minutes=minutes,
        nearest_sea_cell_km=nearest_sea_cell_km,
        harbour_nm=harbour_nm,
        harbour_sea=harbour_sea,
        single_time_h=single_time_h,
        name_map=name_map,
        heel_l_per_deg_h=heel_worth,
        roll_l_per_deg_h=roll_worth,
        fuel_price_per_l=fuel_price,
        crew_cost_per_hour=crew_cost,
        ballast=not no_ballast,
        alongside_hours=alongside_hours,
        no_transfer_legs=no_transfer,
        transfer_every_h=transfer_every_h,
        say=say,
        seconds=seconds,
        odds=odds,
        draws=draws,
        forecast_error=forecast_error_table(),
    ).answer
    answer.provenance["defaults"] = taken()
    hours = sum(leg["hours"] for leg in answer.legs)
    words = noted(answer.provenance, answer.departure_s, answer.departure_s + HOUR_S * hours)
    answer = replace(answer, notes=(*words, *answer.notes))
    if layout == "html":
        from passage.report.pages.heel import heel_page

        text = heel_page(answer)
    else:
        text = _text(answer, layout, screen_layout(wide=wide, detail=detail))
    emit(text, output, force=force)
    if open_page and output is not None:
        click.launch(str(output))


def _text(answer, layout: str, screen) -> str:  # type: ignore[no-untyped-def]
    if layout == "table":
        from passage.report.text.heel import heel_text

        return heel_text(answer, screen)
    from passage.report.files.heel_files import heel_csv, heel_json

    return {"json": heel_json, "csv": heel_csv}[layout](answer)
