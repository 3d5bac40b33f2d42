"""``passage plan``: one passage from files to legs, totals, decisions and cautions."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from passage.errors import RouteError
from passage.inputs.forecast import Area, Forecast, open_forecast, read_map
from passage.inputs.route import Route, Track, make_track, read_route
from passage.inputs.vessel import Vessel, read_vessel
from passage.physics.vertical_motion import HullForm
from passage.planning.cautions import limits_exceeded, plan_cautions
from passage.planning.evaluate import Evaluation, evaluate
from passage.planning.legtable import leg_table
from passage.planning.list_drift import list_along
from passage.planning.march import March, march
from passage.planning.members import spread_of_members
from passage.planning.policy import arrival_speed, eased_rule, fuel_rule
from passage.planning.result import PlannedPassage, utc_text
from passage.planning.rolling import Choices
from passage.planning.totals import plan_totals
from passage.planning.yacht import Yacht, bow_stations
from passage.units import HOUR_S, deg_to_rad, knots_to_m_s, m_s_to_knots, m_to_nm

if TYPE_CHECKING:
    from passage.physics.motions import MotionKernel
    from passage.planning.march import SpeedRule

Array = npt.NDArray[np.float64]
Say = Callable[[str], None]


@dataclass(frozen=True)
class PlanOptions:
    """The user's choices for one plan, in the units of the command line."""

    departure_s: float
    speed_kn: float | None = None
    hold: str = "water"
    arrive_s: float | None = None
    fins: str = "active"
    heel: str = "fins"
    ease: bool = False
    minutes: float = 20.0
    wave_method: str = "all-heading"
    nearest_sea_cell_km: float | None = None
    name_map: Path | None = None
    responses: Path | None = None


@dataclass(frozen=True)
class Passage:
    """Inputs of one passage, read and ready."""

    vessel: Vessel
    route: Route
    yacht: Yacht
    track: Track
    speed_kn: float
    speed_note: str | None


def plan_files(
    route_file: Path,
    vessel_file: Path,
    forecast_files: Sequence[Path],
    options: PlanOptions,
    say: Say = lambda text: None,
) -> PlannedPassage:
    """Read the files and plan.

    Raises
    ------
    PassageError
        With what is wrong in the files, or that the forecast covers nothing.
    """
    passage = prepare(read_vessel(vessel_file), read_route(route_file), options)
    for warning in passage.vessel.warnings:
        say(warning)
    departure = options.departure_s
    with open_for(
        [passage.track],
        forecast_files,
        passage.vessel,
        departure,
        departure + passage_seconds(passage),
        options,
    ) as forecast:
        return plan(passage, forecast, options)


def prepare(vessel: Vessel, route: Route, options: PlanOptions) -> Passage:
    """Speed of the passage, track and tables."""
    speed_kn, note = passage_speed(vessel, route, options.speed_kn)
    yacht = Yacht(vessel, motion_kernel=_response_kernel(vessel, options.responses))
    check_speeds(yacht, route, speed_kn, options.speed_kn)
    if options.speed_kn is not None:
        # A speed given for the passage goes before the route's own.
        legs = tuple(replace(leg, speed_kn=None) for leg in route.legs)
        route = replace(route, legs=legs)
    track = make_track(route, speed_kn, options.minutes)
    yacht.pin(*np.unique(knots_to_m_s(track.speed_kn)))
    return Passage(vessel, route, yacht, track, speed_kn, note)


def _response_kernel(vessel: Vessel, file: Path | None) -> MotionKernel | None:
    """Heave and pitch from the user's response functions instead of the closed forms."""
    if file is None:
        return None
    from passage.inputs.response_file import read_response_file
    from passage.physics.response_table import response_kernel

    hull = vessel.particulars
    form = HullForm(
        length_m=hull.length_waterline_m,
        beam_m=hull.beam_waterline_m,
        draught_m=hull.draught_m,
        block_coefficient=hull.block_coefficient,
    )
    return response_kernel(
        read_response_file(file, form).table,
        places_x_m=tuple(place.x_m for place in vessel.places),
        stations_x_m=bow_stations(hull.length_waterline_m),
    )


def passage_speed(vessel: Vessel, route: Route, speed_kn: float | None) -> tuple[float, str | None]:
    """Speed for legs that give none, and a note where it had to be chosen. [kn]"""
    if speed_kn is not None:
        return speed_kn, None
    missing = [leg for leg in route.legs if leg.kind != "stay" and leg.speed_kn is None]
    if vessel.fins:
        chosen, why = vessel.fins[0].reference_speed_kn, "the fins' reference speed"
    else:
        speeds = vessel.propulsion.speed_kn
        chosen, why = float(np.median(speeds)), "the middle of the speed-fuel points"
    note = None
    if missing:
        note = f"No speed is given for {len(missing)} leg(s): {chosen:g} kn taken, {why}."
    return chosen, note


def check_speeds(yacht: Yacht, route: Route, default_kn: float, ordered_kn: float | None) -> None:
    """Refuse speeds that the speed-fuel points do not cover."""
    low, high = (float(m_s_to_knots(s)) for s in (yacht.curve.slowest_m_s, yacht.curve.fastest_m_s))
    bad = []
    for number, leg in enumerate(route.legs, 1):
        if leg.kind == "stay":
            continue
        speed = ordered_kn or leg.speed_kn or default_kn
        if not low - 1e-9 <= speed <= high + 1e-9:
            bad.append((number, speed))
    if bad:
        legs = ", ".join(f"leg {number}: {speed:g} kn" for number, speed in bad)
        raise RouteError(
            f"{route.path or route.name}: {legs}: outside the speed-fuel points of the vessel "
            f"file, {low:.1f} to {high:.1f} kn with 5 % at either end. "
            "Change the speed or add points to [propulsion]."
        )


def passage_seconds(passage: Passage) -> float:
    """Generous length of the passage, for reading enough of the forecast. [s]"""
    track = passage.track
    speed = knots_to_m_s(np.where(track.length_m > 0, track.speed_kn, 1.0))
    return float(1.5 * np.sum(track.length_m / speed) + np.sum(track.stay_s) + 6 * HOUR_S)


def open_for(
    tracks: Sequence[Track],
    files: Sequence[Path],
    vessel: Vessel,
    time_from_s: float,
    time_to_s: float,
    options: PlanOptions,
) -> Forecast:
    """Open the forecast for the corridor of the tracks and the hours of the passage."""
    names = dict(vessel.forecast_names)
    if options.name_map is not None:
        names |= read_map(options.name_map)
    return open_forecast(
        files,
        area=corridor(tracks),
        time_from_s=time_from_s,
        time_to_s=time_to_s,
        names=names or None,
        nearest_sea_cell_km=options.nearest_sea_cell_km,
    )


def corridor(tracks: Sequence[Track]) -> Area:
    """The smallest box around the tracks; across the antimeridian west exceeds east."""
    lat = np.concatenate([track.end_lat_deg for track in tracks])
    lon = np.concatenate([track.end_lon_deg for track in tracks])
    # The widest gap between longitudes is what the box leaves out.
    ordered = np.unique(lon % 360.0)
    gaps = np.diff(np.r_[ordered, ordered[0] + 360.0])
    widest = int(np.argmax(gaps))
    east = ordered[widest]
    west = ordered[(widest + 1) % len(ordered)]
    wrap = lambda x: float((x + 180.0) % 360.0 - 180.0)  # noqa: E731
    return Area(float(lat.min()), float(lat.max()), wrap(west), wrap(east))


def plan(passage: Passage, forecast: Forecast, options: PlanOptions) -> PlannedPassage:
    """Plan one passage on an open forecast."""
    way, evaluation, speed_words = walk(passage, forecast, options)
    legs = leg_table(
        passage.route, passage.track, way, evaluation, options.departure_s, options.fins
    )
    totals = plan_totals(passage.vessel, legs, evaluation, way)
    if forecast.n_members > 1:
        totals["members"] = spread_of_members(
            [
                legs,
                *(
                    _member_legs(passage, forecast, options, m)
                    for m in range(1, forecast.n_members)
                ),
            ]
        )
    exceeded = limits_exceeded(passage.vessel, legs, options.fins)
    cautions = plan_cautions(passage, way, evaluation, legs, options)
    points = _points(passage.track, way, evaluation)
    notes = [*forecast.notes, *passage.route.notes, *speed_words]
    if passage.speed_note:
        notes.append(passage.speed_note)
    return PlannedPassage(
        vessel_name=passage.vessel.name,
        route_name=passage.route.name,
        departure_s=options.departure_s,
        legs=tuple(legs),
        totals=totals,
        cautions=cautions,
        decisions=_decisions(passage, legs, options),
        provenance=provenance(passage, forecast, options),
        points=points,
        notes=tuple(notes),
        limits_exceeded=exceeded,
    )


def _member_legs(
    passage: Passage, forecast: Forecast, options: PlanOptions, member: int
) -> list[dict[str, Any]]:
    way, evaluation, _ = walk(passage, forecast, options, member)
    return leg_table(
        passage.route, passage.track, way, evaluation, options.departure_s, options.fins
    )


def walk(
    passage: Passage, forecast: Forecast, options: PlanOptions, member: int = 0
) -> tuple[March, Evaluation, list[str]]:
    """March and evaluate, twice where the fuel burnt on the way changes the list."""
    yacht, track = passage.yacht, passage.track
    words: list[str] = []
    rule: SpeedRule | None = None
    ordered = knots_to_m_s(track.speed_kn)
    if options.hold == "fuel":
        rule = fuel_rule(yacht, options.wave_method)
    if options.ease:
        rule = eased_rule(yacht, rule)

    def go(speed_m_s: npt.ArrayLike) -> March:
        return march(
            track,
            forecast,
            options.departure_s,
            speed_m_s,
            hold="ground" if options.hold == "ground" else "water",
            rule=rule,
            member=member,
            at_rest_heading=passage.vessel.particulars.anchored_heading,
        )

    if options.arrive_s is not None:
        ordered, text = arrival_speed(yacht, track, go, options.departure_s, options.arrive_s)
        words.append(text)
    way = go(ordered)
    if options.ease:
        slowed = way.speed_through_water_m_s < np.broadcast_to(ordered, way.hours.shape) - 0.05
        slowed &= track.length_m > 0
        if np.any(slowed):
            legs = sorted({int(i) + 1 for i in track.leg[slowed]})
            words.append(
                f"Eased on leg(s) {', '.join(map(str, legs))} for "
                f"{np.sum(way.hours[slowed]):.1f} h, down to "
                f"{m_s_to_knots(way.speed_through_water_m_s[slowed].min()):.1f} kn, to keep "
                "slamming and vertical acceleration within the limits."
            )
    list_rad = float(deg_to_rad(passage.vessel.loading.list_deg))
    choices = Choices(
        fins=options.fins,
        heel=options.heel,
        list_rad=list_rad,
        wave_method=options.wave_method,
    )
    evaluation = evaluate(yacht, way, choices)
    drift = list_along(passage.vessel, track, evaluation.values["fuel_l"])
    if np.any(np.abs(drift - list_rad) > deg_to_rad(0.01)):
        evaluation = evaluate(yacht, way, replace(choices, list_rad=drift))
    return way, evaluation, words


def _points(track: Track, way: March, evaluation: Evaluation) -> dict[str, npt.NDArray[Any]]:
    """Point values for NetCDF and charts."""
    points: dict[str, npt.NDArray[Any]] = {
        "time_s": way.time_s,
        "lat_deg": track.lat_deg,
        "lon_deg": track.lon_deg,
        "leg": track.leg + 1,
        "coverage": way.conditions.coverage,
    }
    points |= evaluation.values
    points["distance_nm"] = np.asarray(m_to_nm(track.length_m))
    return points


def _decisions(
    passage: Passage, legs: Sequence[dict[str, Any]], options: PlanOptions
) -> tuple[dict[str, Any], ...]:
    """What was decided about fins and heel, a line each."""
    vessel = passage.vessel
    if not vessel.fins:
        return ()
    uses: dict[str, list[int]] = {}
    for leg in legs:
        uses.setdefault(str(leg["fin_use"]), []).append(leg["leg"])
    rows: list[dict[str, Any]] = [
        {
            "kind": "fin_use",
            "legs": numbers,
            "choice": word,
            "text": f"Fins {word} on leg(s) {', '.join(map(str, numbers))}.",
        }
        for word, numbers in uses.items()
    ]
    offset = [leg for leg in legs if leg["fin_offset_deg"] not in (None, 0.0)]
    offset = [leg for leg in offset if leg["fin_offset_deg"] == leg["fin_offset_deg"]]
    litres = sum(leg["fuel_fins_offset_l"] or 0.0 for leg in offset)
    if offset and litres == litres:
        rows.append(
            {
                "kind": "heel",
                "legs": [leg["leg"] for leg in offset],
                "choice": "fins",
                "text": f"The fins hold the steady heel on leg(s) "
                f"{', '.join(str(leg['leg']) for leg in offset)} for {litres:.0f} l in all. "
                "`passage heel` weighs that against moving fuel or water.",
            }
        )
    elif options.heel == "leave" and abs(vessel.loading.list_deg) > 0:
        rows.append(
            {
                "kind": "heel",
                "legs": [leg["leg"] for leg in legs],
                "choice": "leave",
                "text": f"The list of {vessel.loading.list_deg:+.1f} deg is left as it is.",
            }
        )
    return tuple(rows)


def provenance(passage: Passage, forecast: Forecast, options: PlanOptions) -> dict[str, Any]:
    """Files, hashes, methods and estimates behind a result."""
    vessel = passage.vessel
    return {
        "forecasts": [
            {
                "file": source.file,
                "sha256": source.sha256,
                "hashed": source.hashed,
                "producer": source.producer,
                "run_utc": source.run_utc,
                "first_utc": source.first_utc,
                "last_utc": source.last_utc,
            }
            for source in forecast.sources
        ],
        "vessel_file": vessel.path,
        "vessel_sha256": vessel.sha256,
        "route_file": passage.route.path,
        "methods": methods(passage.yacht, options),
        "estimated": [
            f"{item.key} = {_figure(item.value)} {item.unit}".rstrip() + f": {item.method}"
            for item in vessel.estimated
        ],
        "departure_utc": utc_text(options.departure_s),
        "options": {
            "hold": options.hold,
            "fins": options.fins,
            "heel": options.heel,
            "minutes": options.minutes,
        },
    }


def _figure(value: float | str) -> str:
    return value if isinstance(value, str) else f"{value:.4g}"


def methods(yacht: Yacht, options: PlanOptions) -> list[str]:
    """Which methods ran, for the plan."""
    from passage.physics.wave_resistance import range_notes

    wind = yacht.vessel.windage
    lines = [
        "roll: one degree of freedom, statistical linearisation with bias; "
        "effective wave slope "
        + ("by formula" if yacht.excitation.slope_coefficient is None else "as given"),
        "heave and pitch: closed-form expressions (Jensen, Mansour & Olsen 2004)"
        if yacht.closed_form
        else f"heave and pitch: response functions of {options.responses}",
        {
            "all-heading": "waves: all-heading semi-empirical formula (SNNM), two variants",
            "stawave-1": "waves: STAWAVE-1, head sea, tapered with heading",
            "kreitner": "waves: Kreitner, head sea, tapered with heading",
        }[options.wave_method],
        f"wind: Blendermann's coefficients, class {wind.family or 'speed boat'} (from memory)"
        if wind
        else "wind: none, the vessel file has no [windage]",
        "still water: the vessel file's speed-fuel points, monotone through all of them",
        "roll band: GM 10 % either way",
    ]
    lines += list(range_notes(yacht.resistance_hull))
    return lines
