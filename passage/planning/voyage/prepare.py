"""Preparing a passage from files and choices: speed, track, tables, forecast area."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np
import numpy.typing as npt

from passage.errors import RouteError
from passage.inputs.coast.coastline import LandCrossing, legs_over_land
from passage.inputs.forecast import Area, Forecast, box_around, open_forecast, read_map
from passage.inputs.forecast.harbour import Harbour
from passage.inputs.route import Route, Track, make_track, read_route
from passage.inputs.vessel import Vessel, read_vessel
from passage.physics.motions.vertical_motion import HullForm
from passage.planning.voyage.yacht import Yacht, bow_stations
from passage.units import HOUR_S, knots_to_m_s, m_s_to_knots

if TYPE_CHECKING:
    from passage.inputs.moves_file import Order
    from passage.physics.motions.places import MotionKernel


@dataclass(frozen=True)
class PlanOptions:
    """The user's choices for one plan, in the units of the command line.

    Without ``newest_run``, hours that two runs give are refused. ``moves`` is a file of
    transfers; without ``heel_given`` that file may decide what the fins do about heel, and
    without ``fins_given`` whether they rest. With ``rest_fins`` they stand centred where
    neither roll nor a list to hold needs them. ``draws`` is the number of draws of the error
    model for odds where the forecast has no members; 0 for none. ``forecast_error`` is an
    ``ErrorModel``; None for the default. ``record`` is a file of past passages for the bands.
    """

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
    harbour_nm: float | None = None
    harbour_sea: str = "sheltered"
    name_map: Path | None = None
    responses: Path | None = None
    single_time_h: float = 0.0
    weighting: bool = False
    moves: Path | None = None
    heel_given: bool = True
    fins_given: bool = True
    rest_fins: bool = False
    newest_run: bool = True
    draws: int = 0
    record: Path | None = None
    forecast_error: Any = None


@dataclass(frozen=True)
class Passage:
    """Inputs of one passage, read and checked."""

    vessel: Vessel
    route: Route
    yacht: Yacht
    track: Track
    speed_kn: float
    speed_note: str | None
    moves: tuple[Order, ...] = ()

    @cached_property
    def land(self) -> tuple[LandCrossing, ...]:
        """Legs that cross land by the coastline of the package."""
        return legs_over_land(self.route)


def prepare(
    vessel: Vessel,
    route: Route,
    options: PlanOptions,
    *,
    keep_tables: bool = True,
    moves: tuple[Order, ...] = (),
    slow: bool = False,
) -> Passage:
    """Prepare speed, track and tables of a passage; ``keep_tables`` as in :class:`Yacht`.

    ``slow`` allows legs below the speed-fuel points, by a power law down to idling.
    """
    speed_kn, note = passage_speed(vessel, route, options.speed_kn)
    if options.arrive_s is not None:
        # The speed is looked for; that of the track only cuts it.
        note = None
    yacht = Yacht(
        vessel,
        motion_kernel=response_kernel(vessel, options.responses),
        keep_tables=keep_tables,
    )
    seeks = options.hold == "fuel" or options.ease or options.arrive_s is not None
    words = allow_slow_legs(yacht, route, speed_kn, options.speed_kn) if slow and not seeks else ""
    if words:
        note = words if note is None else f"{note} {words}"
    check_speeds(yacht, route, speed_kn, options.speed_kn)
    if options.speed_kn is not None:
        # A speed given for the passage overrides those of the route.
        legs = tuple(replace(leg, speed_kn=None) for leg in route.legs)
        route = replace(route, legs=legs)
    track = make_track(route, speed_kn, options.minutes)
    yacht.pin(*np.unique(knots_to_m_s(track.speed_kn)))
    ready = Passage(vessel, route, yacht, track, speed_kn, note, moves)
    # Done now, because unpacking the coastline takes memory that the tables can use again.
    _ = ready.land
    return ready


def response_kernel(vessel: Vessel, file: Path | None) -> MotionKernel | None:
    """Heave and pitch from the user's response functions instead of strip theory."""
    if file is None:
        return None
    from passage.inputs.records.response_file import read_response_file
    from passage.physics.motions.response_table import response_kernel

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
    """Speed of legs that give none [kn], and a note where it had to be chosen."""
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
        note = f"No speed is given on {len(missing)} legs: {chosen:.3g} kn taken, {why}."
    return chosen, note


def allow_slow_legs(yacht: Yacht, route: Route, default_kn: float, ordered_kn: float | None) -> str:
    """Allow legs slower than the speed-fuel points; returns a note, empty if there are none.

    Only where a speed is held, not where the fuel rate is held or a speed is searched for.
    """
    low = float(m_s_to_knots(yacht.curve.slowest_m_s))
    speeds = [
        (number, ordered_kn or leg.speed_kn or default_kn)
        for number, leg in enumerate(route.legs, 1)
        if leg.kind != "stay"
    ]
    found = [f"leg {number}: {speed:g} kn" for number, speed in speeds if speed < low - 1e-9]
    if not found:
        return ""
    propulsion = yacht.vessel.propulsion
    idle = yacht.allow_slow()
    given = propulsion.idle_fuel_l_per_h is not None
    return (
        f"{', '.join(found)}: below the speed-fuel points (from {propulsion.speed_kn[0]:g} kn), "
        f"fuel by a power law down to {idle:.3g} l/h idling "
        f"({'given' if given else 'estimated; idle_fuel_l_per_h gives it'})."
    )


def check_speeds(yacht: Yacht, route: Route, default_kn: float, ordered_kn: float | None) -> None:
    """Refuse speeds that the speed-fuel points do not cover."""
    low, high = (float(m_s_to_knots(s)) for s in (yacht.curve.slowest_m_s, yacht.curve.fastest_m_s))
    least = low if yacht.curve.idle_l_per_h is None else 0.0
    bad = []
    for number, leg in enumerate(route.legs, 1):
        if leg.kind == "stay":
            continue
        speed = ordered_kn or leg.speed_kn or default_kn
        if not least - 1e-9 <= speed <= high + 1e-9:
            bad.append((number, speed))
    if bad:
        legs = ", ".join(f"leg {number}: {speed:g} kn" for number, speed in bad)
        raise RouteError(
            f"{route.path or route.name}: {legs}: outside the speed-fuel points of the vessel "
            f"file, {low:.1f} to {high:.1f} kn with 5 % at either end. "
            "Change the speed or add points to [propulsion]."
        )


def passage_seconds(track: Track) -> float:
    """Upper estimate of a passage's duration, to read enough of the forecast. [s]"""
    stays = float(np.sum(track.stay_s))
    return 1.5 * (steady_seconds(track) - stays) + stays + 6 * HOUR_S


def steady_seconds(track: Track) -> float:
    """Duration of a passage in still water at its speeds, stays included. [s]"""
    return float(np.sum(segment_seconds(track)))


def segment_seconds(track: Track) -> npt.NDArray[np.float64]:
    """The same by segment. [s]"""
    speed = knots_to_m_s(np.where(track.length_m > 0, track.speed_kn, 1.0))
    return np.asarray(track.length_m / speed + track.stay_s)


class ForecastChoices(Protocol):
    """The user's choices for reading forecast files."""

    @property
    def name_map(self) -> Path | None: ...
    @property
    def nearest_sea_cell_km(self) -> float | None: ...
    @property
    def harbour_nm(self) -> float | None: ...
    @property
    def harbour_sea(self) -> str: ...
    @property
    def single_time_h(self) -> float: ...


def forecast_names(vessel: Vessel, name_map: Path | None) -> dict[str, str] | None:
    """Names of variables given by the user: those of the vessel file, then of a map file."""
    names = dict(vessel.forecast_names)
    if name_map is not None:
        names |= read_map(name_map)
    return names or None


def as_vessel(given: Vessel | Path) -> Vessel:
    """Vessel; a file is read."""
    return given if isinstance(given, Vessel) else read_vessel(given)


def as_route(given: Route | Path) -> Route:
    """Route; a file is read."""
    return given if isinstance(given, Route) else read_route(given)


def open_for(
    area: Area,
    files: Sequence[Path] | Forecast,
    vessel: Vessel,
    time_from_s: float,
    time_to_s: float,
    choices: ForecastChoices,
    routes: Sequence[Route],
    passage_s: tuple[float, float],
) -> AbstractContextManager[Forecast]:
    """Open the forecast for an area and the hours of a passage. [s]

    ``passage_s`` is its beginning and end, for messages; the hours read extend beyond them. A
    forecast that is open already is used as it is and stays open. The rule for harbours holds
    at the ends of ``routes``.
    """
    harbour = None
    if choices.harbour_nm:
        harbour = Harbour(choices.harbour_nm, choices.harbour_sea, route_ends(routes))
    if isinstance(files, Forecast):
        return nullcontext(files.with_harbour(harbour))
    forecast = open_forecast(
        list(files),
        area=area,
        time_from_s=time_from_s,
        time_to_s=time_to_s,
        names=forecast_names(vessel, choices.name_map),
        nearest_sea_cell_km=choices.nearest_sea_cell_km,
        hold_single_step_s=choices.single_time_h * HOUR_S,
        newest_run=getattr(choices, "newest_run", True),
        passage_s=passage_s,
    )
    return forecast.with_harbour(harbour)


def route_ends(routes: Sequence[Route]) -> tuple[tuple[float, float], ...]:
    """First and last waypoint of each route, each place once. [deg]"""
    ends: list[tuple[float, float]] = []
    for route in routes:
        first, last = route.legs[0], route.legs[-1]
        ends.append((first.lat_from_deg, first.lon_from_deg))
        ends.append((last.lat_to_deg, last.lon_to_deg))
    return tuple(dict.fromkeys(ends))


def corridor(tracks: Sequence[Track], *, margin_deg: float = 0.0) -> Area:
    """Smallest box around the tracks; across the antimeridian west exceeds east.

    ``margin_deg`` is a margin on every side, for maps. [deg]
    """
    return box_around(
        np.concatenate([track.end_lat_deg for track in tracks]),
        np.concatenate([track.end_lon_deg for track in tracks]),
        margin_deg=margin_deg,
    )
