"""``passage season``: routes, speeds and departures over years of hindcast."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from passage.cli.harbour_options import harbour_options
from passage.cli.options import (
    PATH,
    Number,
    emit,
    heel_option,
    map_option,
    minutes_option,
    number,
    say,
    screen_layout,
    screen_options,
    speeds_option,
    waves_option,
    zone_option,
)
from passage.cli.outputs import OUTPUT_FOLDER
from passage.cli.outputs import command as passage_command
from passage.cli.progress import Progress
from passage.cli.season_parts import Day, Weight, explained_when_stopped
from passage.cli.word import Word

#: Options that only turn litres into prices: another run needs no new folder for them.
_PRICES = (
    "passages_per_year", "ballast_cost", "ballast_years", "fuel_price_per_l",
    "crew_cost_per_hour",
)  # fmt: skip


@passage_command("season")
@click.argument("routes", type=PATH, nargs=-1, required=True, metavar="ROUTE...")
@click.option(
    "--vessel",
    type=PATH,
    multiple=True,
    required=True,
    help="Vessel file (TOML); give the option again to set two vessels side by side.",
)
@click.option(
    "--forecast",
    "forecasts",
    type=PATH,
    multiple=True,
    required=True,
    help="Hindcast, NetCDF or Zarr; give the option again for more files.",
)
@map_option
@click.option(
    "--from",
    "from_s",
    type=Day(last=False),
    required=True,
    metavar="DAY",
    help="First departure, as 2004-01-01 (UTC).",
)
@click.option(
    "--to",
    "to_s",
    type=Day(last=True),
    required=True,
    metavar="DAY",
    help="Last day of departures.",
)
@click.option(
    "--every",
    "every_h",
    type=Number(0.25, 8784.0, "h"),
    default=6.0,
    show_default=True,
    metavar="HOURS",
    help="Hours between departures.",
)
@zone_option
@speeds_option("Speed instead of the routes' own")
@heel_option
@minutes_option
@harbour_options
@waves_option
@click.option(
    "--list",
    "lists_deg",
    type=number("lists_deg"),
    multiple=True,
    metavar="DEG",
    help="Standing list (+ starboard) whose cures are priced over the season: the fins, for "
    "all of it or down to the owner's limit, liquid moved before each passage, permanent ballast, "
    "leaving it; give the option again for more. [standing] in the vessel file can set all of it.",
)
@click.option(
    "--ballast",
    type=Weight(),
    metavar="T,Y,Z",
    help="Weight carried for good against the list: tonnes, metres to starboard of the "
    "centreline, metres above the waterline.",
)
@click.option(
    "--passages",
    "passages_per_year",
    type=number("passages_per_year"),
    metavar="N",
    help="Passages a year, for prices per year.",
)
@click.option(
    "--ballast-cost",
    type=number("ballast_cost"),
    metavar="MONEY",
    help="What the ballast costs once.",
)
@click.option(
    "--ballast-years",
    type=number("ballast_years"),
    metavar="YEARS",
    help="Years over which that cost is written off, 10 unless given.",
)
@click.option(
    "--fuel-price",
    "fuel_price_per_l",
    type=number("fuel_price_per_l"),
    help="Price of a litre of fuel instead of the vessel file's.",
)
@click.option(
    "--crew-cost",
    "crew_cost_per_hour",
    type=number("crew_cost_per_hour"),
    help="Cost of an hour of crew work instead of the vessel file's.",
)
@click.option(
    "-o",
    "--output",
    "folder",
    type=OUTPUT_FOLDER,
    required=True,
    metavar="FOLDER",
    help="Folder of the run: finished blocks, departures, statistics. A run that was "
    "stopped goes on from there.",
)
@click.option(
    "--processes",
    type=number("processes"),
    default=1,
    show_default=True,
    help="Processes on this machine.",
)
@click.option(
    "--scheduler",
    metavar="ADDRESS",
    help="Address of a running dask scheduler, to work on several machines.",
)
@click.option(
    "--memory",
    "block_mb",
    type=number("block_mb"),
    default=200.0,
    show_default=True,
    metavar="MB",
    help="Memory that the data of one block may take, in each process.",
)
@click.option(
    "--exact",
    is_flag=True,
    help="Compute every departure as `passage plan` does: some forty times slower, "
    "without the tables' small error.",
)
@click.option(
    "--dry-run",
    is_flag=True,
    help="Print points, memory, time and disk of the run, and stop.",
)
@click.option(
    "--format",
    "layout",
    type=Word(["table", "csv", "json", "html"]),
    default="table",
    show_default=True,
    help="Format of the statistics; html writes season.html into the folder.",
)
@screen_options
@click.option(
    "--strict",
    is_flag=True,
    help="Exit 5 if any departure runs off the data, or lacks wind or current on much of a leg.",
)
def command(routes: tuple[Path, ...], folder: Path, layout: str, **given: Any) -> None:
    """Thousands of departures over past years: which months, which route, with what odds.

    Statistics go to the screen, progress to stderr; the folder keeps every departure. A hindcast
    is not a forecast. Decision support only: the master decides.
    """
    if given["scheduler"] is not None and given["processes"] > 1:
        raise click.UsageError("--processes and --scheduler exclude each other.")
    from passage.api.given import all_there
    from passage.api.seasons import season as ask
    from passage.api.seasons import season_size

    same = (
        "every_h", "speeds_kn", "name_map", "processes", "heel", "minutes", "wave_method",
        "block_mb", "exact", "lists_deg", "ballast", "harbour_nm", "harbour_sea",
    )  # fmt: skip
    asked = {
        "first": given["from_s"],
        "last": given["to_s"],
        **{name: given[name] for name in same},
    }
    vessels: tuple[Path, ...] = given["vessel"]
    all_there(routes, vessels, given["forecasts"])
    folders = _folders(vessels, folder)
    screen = screen_layout(wide=given["wide"], detail=given["detail"])
    if given["dry_run"]:
        from passage.planning.season.estimate import estimate_text, took_words

        found = [season_size(routes, one, given["forecasts"], **asked) for one in vessels]
        titles = [f"{one}:\n" if len(vessels) > 1 else "" for one in vessels]
        texts = [title + estimate_text(one) for title, one in zip(titles, found, strict=True)]
        if len(vessels) > 1:
            texts.append(f"together: {took_words(found)}, one after the other\n")
        emit("".join(texts), None, force=False)
        return
    results = []
    for vessel, place in zip(vessels, folders, strict=True):
        with (
            explained_when_stopped(place),
            Progress("blocks", resumed="{} of {} blocks are already done.") as progress,
        ):
            results.append(
                ask(
                    routes,
                    vessel,
                    given["forecasts"],
                    folder=place,
                    scheduler=given["scheduler"],
                    say=say,
                    progress=progress,
                    **asked | {name: given[name] for name in _PRICES},
                ).answer
            )
    results = [_with_local_times(result) for result in results]
    several = len(results) > 1
    for result, place in zip(results, folders, strict=True):
        _write(result, place, layout, screen, show=not several)
    if several:
        _write_pair(results, folder, layout, screen)
    if given["strict"]:
        for result in results:
            _strict(result)


def _with_local_times(result: Any) -> Any:
    """With a note on the first and last departure by the clocks of --zone."""
    from dataclasses import replace

    from passage.report.text.clocks import departures_words, zones_shown

    if not zones_shown():
        return result
    result.provenance["zone"] = ", ".join(map(str, zones_shown()))
    words = departures_words(float(result.departures_s[0]), float(result.departures_s[-1]))
    return replace(result, notes=(words, *result.notes))


def _folders(vessels: tuple[Path, ...], folder: Path) -> list[Path]:
    """A folder for each vessel; of several, each its own within, named after its file."""
    if len(vessels) == 1:
        return [folder]
    names = [vessel.stem for vessel in vessels]
    if len(set(names)) < len(names):
        raise click.UsageError(
            "--vessel: two files have the same name, which names their folders. Rename one."
        )
    return [folder / name for name in names]


def _write_pair(results: list[Any], folder: Path, layout: str, screen: Any) -> None:
    """The vessels side by side: to the screen, and into the folder above their own."""
    from passage.files import write_text
    from passage.report.text.season_pair import pair_csv, pair_json, pair_table

    write_text(folder / "differences.json", pair_json(results), force=True)
    write_text(folder / "differences.csv", pair_csv(results), force=True)
    if layout == "html":
        from passage.report.pages.season_pair import pair_page

        write_text(folder / "season.html", pair_page(results), force=True)
        say(f"Wrote {folder / 'season.html'}")
        return
    texts = {
        "table": lambda made: pair_table(made, screen),
        "csv": pair_csv,
        "json": pair_json,
    }
    emit(texts[layout](results), None, force=False)


def _write(result: Any, folder: Path, layout: str, screen: Any, *, show: bool = True) -> None:
    from passage.files import write_text
    from passage.report.files.season_files import write_departures
    from passage.report.text.season import season_csv, season_json, season_table

    written = write_departures(result, folder)
    for name, text in (("statistics.json", season_json), ("statistics.csv", season_csv)):
        write_text(folder / name, text(result), force=True)
        written.append(folder / name)
    if layout == "html":
        from passage.report.pages.season import season_page

        write_text(folder / "season.html", season_page(result), force=True)
        written.append(folder / "season.html")
    elif show:
        texts = {
            "table": lambda made: season_table(made, screen),
            "csv": season_csv,
            "json": season_json,
        }
        emit(texts[layout](result), None, force=False)
    say("Wrote " + ", ".join(str(path) for path in written))
    if result.report.bad:
        say(
            f"{len(result.report.bad)} block(s) are missing: no figure counts their departures. "
            "Correct what they report and give the same command again."
        )


def _strict(result: Any) -> None:
    import numpy as np

    from passage.errors import PartialCoverage
    from passage.planning.season.departures import STATUS
    from passage.planning.voyage.flows import FLOW_SHARE, unknown_words

    words = []
    off = int((result.numbers["status"] != 0).sum())
    if off:
        words.append(f"{off} departures run off the data or could not be computed.")
    for flow in ("wind", "current"):
        # Departures that run off the data lack everything there.
        on = np.isin(result.numbers["status"], [0, STATUS.index(f"{flow}_missing")])
        gaps = result.numbers[f"{flow}_gap_percent"][on]
        short = int(np.sum(gaps > 100.0 * FLOW_SHARE))
        if short:
            where = f"up to {np.nanmax(gaps):.0f} % of a leg in {short} of {gaps.size} departures"
            text = unknown_words(flow, where)
            words.append(f"{text[0].upper()}{text[1:]}")
    if words:
        raise PartialCoverage(" ".join(words))
