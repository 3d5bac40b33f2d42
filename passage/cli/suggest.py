"""``passage suggest``: a route of its own, searched on the forecast."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from passage.cli.compare import departure_times
from passage.cli.options import (
    LATITUDE,
    LONGITUDE,
    PATH,
    SPEED,
    UTC_TIME,
    Number,
    input_options,
    output_options,
    responses_option,
    say,
    screen_layout,
    screen_options,
    waves_option,
)
from passage.cli.outputs import command as passage_command
from passage.cli.progress import Progress


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
@click.option(
    "--departure",
    "departures",
    type=UTC_TIME,
    multiple=True,
    metavar="TIME",
    help="A time of leaving, UTC, as 2026-03-14T06:00Z; give the option again for more.",
)
@click.option(
    "--from", "from_s", type=UTC_TIME, metavar="TIME", help="First departure of a window, UTC."
)
@click.option("--to", "to_s", type=UTC_TIME, metavar="TIME", help="Last departure of the window.")
@click.option(
    "--every",
    "every_h",
    type=Number(0.05, 8784.0, "h"),
    default=3.0,
    show_default=True,
    metavar="HOURS",
    help="Step of the window.",
)
@click.option(
    "--speed",
    "speeds",
    type=SPEED,
    required=True,
    multiple=True,
    metavar="KN",
    help="Speed through the water; give the option again for more to choose from.",
)
@click.option(
    "--for",
    "objective",
    type=click.Choice(["fuel", "comfort"]),
    default="fuel",
    show_default=True,
    help="Least fuel, or least degree hours of roll.",
)
@click.option(
    "--budget",
    type=Number(0.0, 1e6, "degree hours"),
    metavar="DEG_H",
    help="With --for fuel: the most degree hours of significant roll.",
)
@click.option(
    "--roll-limit",
    "roll_limit_deg",
    type=Number(0.1, 90.0, "deg"),
    metavar="DEG",
    help="Keep out of water where the significant roll is above.",
)
@click.option(
    "--corridor",
    "corridor_nm",
    type=Number(1.0, 2000.0, "nm"),
    default=60.0,
    show_default=True,
    metavar="NM",
    help="Room either side of the great circle.",
)
@click.option(
    "--box", type=Box(), metavar="S,N,W,E", help="Stay within this box of degrees as well."
)
@click.option(
    "--land-margin",
    "margin_nm",
    type=Number(0.0, 200.0, "nm"),
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
    help="GeoJSON polygons to keep out of, traffic-separation zones too; give it again for more.",
)
@click.option(
    "--least-depth",
    "least_depth_m",
    type=Number(0.1, 11_000.0, "m"),
    metavar="M",
    help="Least depth, from a depth grid given with --forecast; unknown depth is closed.",
)
@click.option(
    "--cell",
    "cell_nm",
    type=Number(0.5, 200.0, "nm"),
    metavar="NM",
    help="Size of the grid's cells; without it a fortieth of the way.",
)
@click.option(
    "--longest",
    type=Number(1.02, 5.0),
    default=1.3,
    show_default=True,
    metavar="TIMES",
    help="Most time to take, over that of the great circle.",
)
@click.option(
    "--arrive-by", "arrive_by_s", type=UTC_TIME, metavar="TIME", help="Latest arrival, UTC."
)
@click.option(
    "--fins",
    type=click.Choice(["active", "centred"]),
    default="active",
    show_default=True,
    help="Fin use.",
)
@waves_option
@responses_option
@screen_options
@output_options
def command(route: Path, **given: Any) -> None:
    """Search a route from the first to the last waypoint of ROUTE, for fuel or comfort.

    Of several departures and speeds the best are found along ROUTE and the great circle
    first, and then searched.

    The result is a suggestion to appraise on the chart, not navigated water. With -o it is
    written with its schedule: .rtz (IEC 61174), .gpx, .geojson or .csv.
    """
    if given["budget"] is not None and given["objective"] != "fuel":
        raise click.UsageError("--budget goes with --for fuel.")
    output = given["output"]
    if output is not None and output.suffix.lower() not in (".rtz", ".gpx", ".geojson", ".csv"):
        raise click.UsageError(f"-o {output}: the name must end in .rtz, .gpx, .geojson or .csv.")
    from passage.errors import RouteError
    from passage.planning.suggest.closed import read_no_go
    from passage.planning.suggest.files import SearchFiles, suggest_files
    from passage.planning.suggest.search import SearchOptions
    from passage.planning.suggest.window import Window
    from passage.report.text.suggest import suggest_lines

    window = Window(tuple(departure_times(given)), tuple(dict.fromkeys(given["speeds"])))
    names = (
        "objective",
        "budget",
        "roll_limit_deg",
        "corridor_nm",
        "box",
        "margin_nm",
        "least_depth_m",
        "cell_nm",
        "longest",
        "arrive_by_s",
        "fins",
        "wave_method",
    )
    options = SearchOptions(
        window.departures_s[0],
        window.speeds_kn[0],
        **{name: given[name] for name in names},
        no_go=tuple(area for file in given["no_go"] for area in read_no_go(file)),
    )
    files = SearchFiles(
        route,
        given["vessel"],
        given["forecasts"],
        given["nearest_sea_cell_km"],
        given["name_map"],
        given["responses"],
        given["single_time_h"],
    )
    try:
        with Progress("prices of the grid") as progress:
            made = suggest_files(files, options, window=window, say=say, progress=progress)
    except ValueError as err:
        raise RouteError(f"{err}.") from err
    screen = screen_layout(wide=given["wide"], detail=given["detail"])
    click.echo("\n".join(suggest_lines(made, made.options, screen)))
    if output is not None:
        from passage.planning.suggest.write import write_suggestion

        write_suggestion(made, output, force=given["force"])
        say(f"Wrote {output}")
