"""``passage check``: what was recognised in forecast files, and what would go wrong."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from passage.cli.harbour_options import harbour_options
from passage.cli.options import (
    PATH,
    SPEED,
    UTC_TIME,
    map_option,
    nearest_option,
    screen_layout,
    screen_options,
    show,
)
from passage.cli.outputs import command as passage_command

if TYPE_CHECKING:
    from passage.inputs.forecast import Forecast
    from passage.inputs.route.model import Route
    from passage.inputs.route.track import Track

_SPEED_KN = 12.0


@passage_command("check")
@click.argument("files", type=PATH, nargs=-1, metavar="[FILE]...")
@click.option("--route", type=PATH, help="Show this route, and with FILEs the coverage along it.")
@click.option("--vessel", type=PATH, help="Show what was read of this vessel file, and estimated.")
@map_option
@click.option(
    "--departure",
    "departure_s",
    type=UTC_TIME,
    metavar="TIME",
    help="Time of leaving, UTC; without it the first hour of the waves.",
)
@click.option(
    "--speed",
    "speed_kn",
    type=SPEED,
    metavar="KN",
    default=_SPEED_KN,
    show_default=True,
    help="Speed where the route gives none.",
)
@nearest_option
@harbour_options
@screen_options
def command(
    files: tuple[Path, ...],
    route: Path | None,
    vessel: Path | None,
    name_map: Path | None,
    departure_s: float | None,
    speed_kn: float,
    nearest_sea_cell_km: float | None,
    harbour_nm: float | None,
    harbour_sea: str,
    wide: bool,
    detail: str | None,
) -> None:
    """Show what was recognised in forecast FILEs, their hours, grids and conventions.

    With --route, also where along it the forecast holds, and the first problem. Exit
    code 4 when the files cannot be used together. With --vessel, what was read of her,
    what was estimated and how surely, and what looks odd.
    """
    screen = screen_layout(wide=wide, detail=detail)

    def put(text: str) -> None:
        from passage.report.text.layout import hung

        show(hung(text, screen))

    if vessel is not None:
        from passage.inputs.vessel import read_vessel
        from passage.report.text.vessel import vessel_facts, vessel_text

        put(vessel_text(vessel_facts(read_vessel(vessel))))
    if not files:
        if route is None and vessel is None:
            raise click.UsageError("Give forecast files, --vessel or --route.")
        if route is not None:
            _route_alone(route, speed_kn, put, after=vessel is not None)
        return
    from passage.errors import ForecastError
    from passage.inputs.forecast import open_forecast, read_map, recognise_files
    from passage.inputs.forecast.describe import describe_file
    from passage.inputs.forecast.gather import expanded

    names = read_map(name_map) if name_map is not None else None
    files = tuple(expanded(files)[0])
    track = None
    if route is not None:
        from passage.inputs.route import make_track, read_route

        way = read_route(route)
        track = make_track(way, speed_kn)
    refused: list[str] = []
    readable: list[Path] = []
    for path in files:
        try:
            found = recognise_files(path, names)[0]
        except ForecastError as err:
            refused.append(str(err))
            # What is wrong goes to stderr, once.
            continue
        if not screen.quiet:
            put("\n".join(describe_file(found)) + "\n")
        found.file.close()
        readable.append(path)
    if refused and not readable:
        raise ForecastError("\n".join(refused))
    try:
        forecast = open_forecast(
            readable,
            area=_area(track),
            names=names,
            nearest_sea_cell_km=nearest_sea_cell_km,
        )
    except ForecastError as err:
        raise ForecastError("\n".join(dict.fromkeys([*refused, str(err)]))) from err
    if harbour_nm is not None and track is not None:
        from passage.inputs.forecast.harbour import Harbour
        from passage.planning.voyage.prepare import route_ends

        forecast = forecast.with_harbour(Harbour(harbour_nm, harbour_sea, route_ends([way])))
    with forecast:
        trouble = ""
        lines: list[str] = []
        if track is not None:
            if departure_s is None:
                departure_s = forecast.time_from_s
            lines, trouble = _along(forecast, way, track, departure_s)
        put("\n".join(_together(forecast)) + "\n")
        if lines:
            put("\n".join(lines) + "\n")
        if not trouble and forecast.gaps:
            trouble = f"{forecast.gaps[0]}. {_gap_remedy()}"
        if trouble or track is not None:
            put(f"First problem: {trouble}" if trouble else "No problem found.")
        elif forecast.fully_read:
            put("No problem in the files; --route shows the coverage.")
        else:
            put(
                "Too large to read whole: values are checked where they are used. "
                "Give --route to check them along it."
            )
    if refused:
        raise ForecastError("\n".join(refused))


def _route_alone(path: Path, speed_kn: float, put: Callable[[str], None], *, after: bool) -> None:
    """Legs, distances, hours and what looks odd of a route."""
    from passage.inputs.coast.coastline import legs_over_land
    from passage.inputs.route import read_route
    from passage.units import m_to_nm

    route = read_route(path)
    lines = [*[""] * after, f"{route.name or path.name}, {path}"]
    total = hours = 0.0
    for number, leg in enumerate(route.legs, 1):
        where = f"  leg {number}  {leg.name_from} - {leg.name_to}"
        if leg.kind == "stay":
            lines.append(f"{where}: stay {leg.stay_h:g} h")
            hours += leg.stay_h
            continue
        distance, speed = float(m_to_nm(leg.distance_m)), leg.speed_kn or speed_kn
        total, hours = total + distance, hours + distance / speed
        lines.append(
            f"{where}: {leg.kind}, {leg.course_true_deg:03.0f} deg, {distance:.1f} nm at "
            f"{speed:g} kn"
        )
    lines.append(f"  in all {total:.1f} nm, {hours:.1f} h")
    lines += [f"  note  {note}" for note in route.notes]
    for crossing in legs_over_land(route):
        lines.append(
            f"  odd   leg {crossing.leg + 1} ({crossing.label}) runs over land for "
            f"{crossing.over_land_nm:.1f} nm by the coarse coastline"
        )
    put("\n".join(lines))


def _area(track: Track | None):  # type: ignore[no-untyped-def]
    """A box round a track with a margin of a degree, or None."""
    if track is None:
        return None
    from passage.inputs.forecast import box_around

    return box_around(track.end_lat_deg, track.end_lon_deg, margin_deg=1.0)


def _together(forecast: Forecast) -> list[str]:
    from passage.units import utc_text

    lines = [
        "Together",
        f"  waves     {utc_text(forecast.time_from_s)} to {utc_text(forecast.time_to_s)}: "
        f"{', '.join(forecast.system_names)}",
    ]
    for group, variables in forecast.used.items():
        lines.append(f"  uses      {group}: {', '.join(variables)}")
    if forecast.n_members > 1:
        lines.append(f"  members   {forecast.n_members}")
    lines += [f"  note      {note}" for note in forecast.notes]
    return lines


def _along(
    forecast: Forecast, route: Route, track: Track, departure_s: float
) -> tuple[list[str], str]:
    """Coverage by leg and the first trouble on the way."""
    import numpy as np

    from passage.units import knots_to_m_s, utc_text
    from passage.variables import COVERAGE, COVERAGE_WORDS

    speed = np.where(track.speed_kn > 0, knots_to_m_s(track.speed_kn), np.inf)
    spent = track.length_m / speed + track.stay_s
    middle = departure_s + np.cumsum(spent) - spent / 2
    sea = forecast.sample(track.lat_deg, track.lon_deg, middle)
    arrival = departure_s + float(spent.sum())
    lines = [
        f"Along {route.name or 'the route'}, leaving {utc_text(departure_s)}, "
        f"arriving {utc_text(arrival)} in still water"
    ]
    parts = [("waves", sea.coverage)]
    parts += [("wind", sea.wind_coverage)] if forecast.has_wind else []
    parts += [("current", sea.current_coverage)] if forecast.has_current else []
    for index, name in enumerate(track.leg_names):
        here = track.leg == index
        if not here.any():
            continue
        words = []
        for label, code in parts:
            shares = [
                f"{COVERAGE_WORDS[word]} {100 * np.mean(code[here] == i):.0f} %"
                for i, word in enumerate(COVERAGE)
                if np.any(code[here] == i)
            ]
            words.append(f"{label} {', '.join(shares)}")
        lines.append(f"  leg {index + 1}  {name}: {'; '.join(words)}")
    order = {}
    for label, code in parts:
        bad = np.flatnonzero(code != 0)
        if bad.size:
            order[label] = int(bad[0])
    if not order:
        return lines, ""
    label = min(order, key=lambda key: order[key])
    i = order[label]
    word = COVERAGE[int(dict(parts)[label][i])]
    where = f"{track.lat_deg[i]:.3f}, {track.lon_deg[i]:.3f}"
    remedy = _REMEDY[word] or _gap_remedy()
    times = forecast.groups[label if label in forecast.groups else "spectrum"].time_s
    if times.size == 1 and word in ("before_forecast", "after_forecast"):
        remedy = (
            f"It holds {utc_text(times[0])} only: give all hours of the run, or --single-time "
            "HOURS to the planning commands."
        )
    trouble = (
        f"{label} {COVERAGE_WORDS[word]} at {where}, {utc_text(middle[i])}, "
        f"leg {int(track.leg[i]) + 1} ({track.leg_names[int(track.leg[i])]}). {remedy}"
    )
    return lines, trouble


def _gap_remedy() -> str:
    from passage.inputs.forecast.gap_words import FETCH, RULE

    return f"{RULE}: {FETCH}."


_REMEDY = {
    "before_forecast": "Leave later, or fetch the run before.",
    "after_forecast": "Leave earlier, or fetch a longer or newer forecast.",
    "outside_area": "Fetch a forecast of a larger area.",
    "masked": "The grid has land or no data there: --nearest-sea-cell KM uses the nearest "
    "cell with data, --harbour NM takes the first and last miles as sheltered; or move the "
    "waypoint to sea.",
    "nearest_sea_cell": "Masked in the forecast; the nearest sea cell is used, as asked.",
    "sheltered": "Masked in the forecast; taken as sheltered water without waves, as asked.",
    "time_gap": "",
}
