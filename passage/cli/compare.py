"""``passage compare``: routes, departures, speeds and fin use against each other."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from passage.cli.harbour_options import harbour_options
from passage.cli.odds_options import draws_option, odds_option
from passage.cli.options import (
    PATH,
    arrive_by_option,
    check_page_options,
    departure_times,
    emit,
    heel_option,
    hold_option,
    input_options,
    minutes_option,
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
from passage.cli.outputs import OUTPUT
from passage.cli.outputs import command as passage_command
from passage.cli.progress import Progress
from passage.cli.word import Word


@passage_command("compare")
@click.argument("routes", type=PATH, nargs=-1, required=True, metavar="ROUTE...")
@input_options
@harbour_options
@window_options
@zone_option
@speeds_option("A speed to compare instead of the routes' own")
@click.option(
    "--by-leg", is_flag=True, help="Also choose the speed leg by leg from those of --speed."
)
@click.option(
    "--fins",
    type=Word(["active", "centred", "both"]),
    default="active",
    show_default=True,
    help="Fin use to compare.",
)
@heel_option
@hold_option
@click.option(
    "--comfort",
    type=words("comfort"),
    default="roll",
    show_default=True,
    help="What comfort is judged by: worst hour's roll, mean roll, hours over the roll "
    "limit, motion sickness, or lateral acceleration.",
)
@click.option(
    "--budget",
    type=number("budget"),
    metavar="VALUE",
    help="Most discomfort to accept, in the unit of --comfort.",
)
@arrive_by_option
@click.option("--daylight", is_flag=True, help="Arrive between sunrise and sunset.")
@click.option(
    "--allow-land", is_flag=True, help="Keep routes that run over land by the coarse coastline."
)
@odds_option("Allow only what keeps limits and constraints with at least this chance.")
@draws_option
@minutes_option
@waves_option
@responses_option
@click.option(
    "--choose",
    metavar="WHICH",
    help="Combination to write and to show in full: its number in the table, least-fuel, "
    "most-comfortable or balanced. Without it the least fuel of those allowed.",
)
@click.option(
    "--write-route",
    "route_file",
    type=OUTPUT,
    metavar="FILE",
    help="Write the chosen one with its schedule: .rtz (IEC 61174), .gpx, .geojson or .csv.",
)
@click.option(
    "--format",
    "layout",
    type=Word(["table", "csv", "json", "netcdf", "html"]),
    default="table",
    show_default=True,
    help="Format of the answer; the suffix of -o sets it too; netcdf and html need -o.",
)
@screen_options
@output_options
@open_option
@click.option("--strict", is_flag=True, help="Exit 5 unless the forecast covers every combination.")
@click.option("--fail-on-limit", is_flag=True, help="Exit 6 if none keeps the limits.")
def command(routes: tuple[Path, ...], **given: Any) -> None:
    """Compare ROUTEs over departures, speeds and fin use; name the best trade-offs.

    The table goes to the screen with its remarks. Decision support only: the master decides.
    """
    layout, output = given["layout"], given["output"]
    check_page_options(layout, output, open_page=given["open_page"])
    if given["by_leg"] and len(given["speeds_kn"]) < 2:
        raise click.UsageError("--by-leg needs two speeds or more: give --speed again.")
    from passage.api.questions import compare as ask
    from passage.cli.defaults import forecast_error_table, taken

    times = departure_times(given)
    if given["route_file"] is not None:
        _check_ending(given["route_file"])
    same = (
        "choose", "by_leg", "comfort", "budget", "daylight", "allow_land", "hold", "heel",
        "minutes", "wave_method", "responses", "nearest_sea_cell_km", "harbour_nm", "harbour_sea",
        "name_map", "single_time_h", "odds", "draws",
    )  # fmt: skip
    with (
        Progress("legs searched", part=True) as legs,
        Progress("routes at a speed", part=True) as progress,
    ):
        found = ask(
            routes,
            given["vessel"],
            given["forecasts"],
            departures=times,
            speeds_kn=given["speeds_kn"],
            fins=("active", "centred") if given["fins"] == "both" else given["fins"],
            arrive_by=given["arrive_by_s"],
            map_times=6 if layout == "html" else 0,
            say=say,
            progress=progress,
            by_leg_progress=legs,
            newest_run=not given["strict"],
            forecast_error=forecast_error_table(),
            **{name: given[name] for name in same},
        ).answer
    found.provenance["defaults"] = taken()
    found = _with_local_times(found)
    screen = screen_layout(wide=given["wide"], detail=given["detail"])
    if layout in ("csv", "netcdf") and not screen.quiet:
        # The other forms have the remarks in them.
        for note in found.notes:
            say(f"Remark: {note}")
    _write(found, layout, output, screen, force=given["force"])
    if given["route_file"] is not None:
        _write_route(found, given["route_file"], force=given["force"])
    if given["open_page"] and output is not None:
        click.launch(str(output))
    _exit_code(found, strict=given["strict"], fail_on_limit=given["fail_on_limit"])


def _with_local_times(found: Any) -> Any:
    """With a note on the chosen one's departure and arrival by the clocks of --zone."""
    from dataclasses import replace

    from passage.report.text.clocks import noted

    index = 0 if found.chosen is None else found.chosen
    words = noted(
        found.provenance, float(found.departure_s[index]), float(found.totals["eta_s"][index])
    )
    if not words or found.chosen is None:
        return found
    return replace(found, notes=(*words, *found.notes))


def _check_ending(path: Path) -> None:
    """Refuse an unknown suffix before the work, not after it."""
    if path.suffix.lower() not in (".rtz", ".xml", ".gpx", ".geojson", ".json", ".csv"):
        raise click.UsageError(
            f"--write-route {path}: the name must end in .rtz, .gpx, .geojson or .csv."
        )


def _write(found: Any, layout: str, output: Path | None, screen: Any, *, force: bool) -> None:
    if layout == "netcdf":
        from passage.files import write_with
        from passage.report.files.compare_netcdf import write_compare_netcdf

        assert output is not None
        write_with(output, lambda path: write_compare_netcdf(found, path), force=force)
        say(f"Wrote {output}")
        return
    if layout == "html":
        from passage.report.pages.compare import compare_page

        text = compare_page(found)
    else:
        from passage.report.text import compare as compare_text

        text = {
            "json": compare_text.compare_json,
            "csv": compare_text.compare_csv,
            "table": lambda made: compare_text.compare_table(made, screen),
        }[layout](found)
    emit(text, output, force=force)


def _write_route(found: Any, path: Path, *, force: bool) -> None:
    from passage.errors import OutputError
    from passage.planning.compare.route import write_chosen_route

    if found.chosen is None:
        raise OutputError(
            f"{path}: not written: no combination is allowed. Give --choose to write one that is "
            "over a limit all the same."
        )
    write_chosen_route(found, found.chosen, path, force=force)
    say(f"Wrote {path} (no. {found.chosen + 1})")


def _exit_code(found: Any, *, strict: bool, fail_on_limit: bool) -> None:
    from passage.errors import LimitExceeded, PartialCoverage
    from passage.planning.compare.choice import FLOW, UNKNOWN

    gaps = int(((found.closed & (UNKNOWN | FLOW)) > 0).sum())
    if strict and (gaps or found.lacks_flow.any()):
        from passage.planning.compare.gaps import strict_words

        gaps = max(gaps, int(found.lacks_flow.sum()))
        words = " ".join(
            [f"the forecast does not cover {gaps} of {len(found)} combinations.",
             *strict_words(found.cells)]
        )  # fmt: skip
        raise PartialCoverage(words)
    if fail_on_limit and not found.front_open:
        raise LimitExceeded("no combination is within the limits and constraints.")
