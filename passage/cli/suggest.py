"""``passage suggest``: a route searched on the forecast."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from passage.cli.harbour_options import harbour_options
from passage.cli.odds_options import draws_option, odds_option
from passage.cli.options import (
    LATITUDE,
    LONGITUDE,
    PATH,
    arrive_by_option,
    check_page_options,
    departure_times,
    emit,
    input_options,
    number,
    open_option,
    output_options,
    responses_option,
    say,
    screen_layout,
    screen_options,
    speeds_option,
    waves_option,
    window_options,
    words,
    zone_option,
)
from passage.cli.outputs import command as passage_command
from passage.cli.progress import Progress
from passage.cli.word import Word


class Box(click.ParamType):
    """South, north, west and east in degrees, as ``43,49,-12,-4``."""

    name = "box"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[float, float, float, float]:
        """Four numbers."""
        if isinstance(value, tuple):
            return value
        parts = str(value).split(",")
        if len(parts) != 4:
            self.fail(f"{value!r} is not south,north,west,east in degrees.", param, ctx)
        south, north = (LATITUDE.convert(part, param, ctx) for part in parts[:2])
        west, east = (LONGITUDE.convert(part, param, ctx) for part in parts[2:])
        if not south < north:
            self.fail(f"{value!r}: south must be below north.", param, ctx)
        return south, north, west, east


@passage_command("suggest")
@click.argument("route", type=PATH)
@input_options
@harbour_options
@window_options
@zone_option
@speeds_option("Speed through the water", required=True)
@click.option(
    "--for",
    "objective",
    type=words("objective"),
    default="fuel",
    show_default=True,
    help="Least fuel, or least degree hours of roll.",
)
@click.option(
    "--budget",
    type=number("budget", "degree hours"),
    metavar="DEG_H",
    help="With --for fuel: the most degree hours of significant roll.",
)
@click.option(
    "--roll-limit",
    "roll_limit_deg",
    type=number("roll_limit_deg"),
    metavar="DEG",
    help="Keep out of water where the significant roll is above.",
)
@click.option(
    "--corridor",
    "corridor_nm",
    type=number("corridor_nm"),
    default=60.0,
    show_default=True,
    metavar="NM",
    help="How far to search either side of the great circle.",
)
@click.option(
    "--box", type=Box(), metavar="S,N,W,E", help="Stay within this box of degrees as well."
)
@click.option(
    "--land-margin",
    "margin_nm",
    type=number("margin_nm"),
    default=3.0,
    show_default=True,
    metavar="NM",
    help="Distance to keep from land; near start and end half the distance to them.",
)
@click.option(
    "--no-go",
    type=PATH,
    multiple=True,
    metavar="FILE",
    help="GeoJSON polygons to keep out of, traffic-separation zones too; give the option again "
    "for more.",
)
@click.option(
    "--least-depth",
    "least_depth_m",
    type=number("least_depth_m"),
    metavar="M",
    help="Least depth, from a depth grid given with --forecast; water of unknown depth is closed.",
)
@click.option(
    "--cell",
    "cell_nm",
    type=number("cell_nm"),
    metavar="NM",
    help="Size of the grid's cells; without it a fortieth of the distance.",
)
@click.option(
    "--longest",
    type=number("longest"),
    default=1.3,
    show_default=True,
    metavar="TIMES",
    help="Most time to take, over that of the great circle.",
)
@arrive_by_option
@click.option("--daylight", is_flag=True, help="Arrive between sunrise and sunset.")
@click.option(
    "--by-leg",
    is_flag=True,
    help="Also choose the speed leg by leg from those of --speed, along what is found.",
)
@odds_option("Take only what keeps limits and constraints with at least this chance.")
@click.option(
    "--fins",
    type=Word(["active", "centred"]),
    default="active",
    show_default=True,
    help="Fin use.",
)
@draws_option
@waves_option
@responses_option
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
def command(route: Path, **given: Any) -> None:
    """Search a route from the first to the last waypoint of ROUTE, for fuel or comfort.

    Of several departures and speeds, those that are best along ROUTE and the great circle
    are searched.

    The result is a suggestion to appraise on the chart, not navigated water. With -o the
    route advised is written with its schedule: .rtz (IEC 61174), .gpx, .geojson or .csv; or the
    answer: .json or .html.
    """
    if given["budget"] is not None and given["objective"] != "fuel":
        raise click.UsageError("--budget goes with --for fuel.")
    if given["by_leg"] and len(set(given["speeds_kn"])) < 2:
        raise click.UsageError("--by-leg needs two speeds or more: give --speed again.")
    output, layout = given["output"], given["layout"]
    check_page_options(layout, output, open_page=given["open_page"])
    from passage.api.questions import suggest as ask
    from passage.cli.defaults import forecast_error_table

    same = (
        "arrive_by_s", "no_go", "objective", "budget", "roll_limit_deg", "corridor_nm", "box",
        "margin_nm", "least_depth_m", "cell_nm", "longest", "fins", "wave_method", "responses",
        "nearest_sea_cell_km", "harbour_nm", "harbour_sea", "name_map", "single_time_h", "draws",
        "odds", "daylight", "by_leg",
    )  # fmt: skip
    with Progress("reading the forecast and computing known routes", part=True) as progress:
        made = ask(
            route,
            given["vessel"],
            given["forecasts"],
            departure=departure_times(given),
            speed_kn=list(dict.fromkeys(given["speeds_kn"])),
            say=say,
            progress=progress,
            map_times=6 if layout == "html" else 0,
            forecast_error=forecast_error_table(),
            **{name.removesuffix("_s"): given[name] for name in same},
        ).answer
    from passage.report.text.clocks import noted
    from passage.report.text.suggest import advised_of, suggest_lines

    for plan in made.plans.values():
        noted(plan.provenance, plan.departure_s, None)
    if layout == "html":
        from passage.report.pages.suggest import suggest_page

        emit(suggest_page(made), output, force=given["force"])
        if given["open_page"]:
            click.launch(str(output))
        return
    if layout == "json":
        from passage.report.text.suggest import suggest_json

        emit(suggest_json(made), output, force=given["force"])
        return
    screen = screen_layout(wide=given["wide"], detail=given["detail"])
    emit("\n".join(suggest_lines(made, made.options, screen)) + "\n", None, force=False)
    if output is not None:
        from passage.planning.suggest.write import write_suggestion

        write_suggestion(made, output, advised_of(made), force=given["force"])
        say(f"Wrote {output}")
