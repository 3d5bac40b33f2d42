"""From files to a suggested route, and plans of it and of the routes to compare it with."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from passage.inputs.coast.coastline import legs_over_land
from passage.inputs.forecast import Forecast, box_around
from passage.inputs.route import Route, make_track
from passage.inputs.vessel import Vessel
from passage.planning.plan.plan import Passage, PlanOptions, plan
from passage.planning.plan.sea_frames import SeaAt, even_times, map_area, sea_frames
from passage.planning.suggest.case import straight_route
from passage.planning.suggest.closed import Array, areas_elsewhere
from passage.planning.suggest.grid import grid_nodes
from passage.planning.suggest.search import (
    LABEL,
    Found,
    Progress,
    SearchOptions,
    grid_plan,
)
from passage.planning.suggest.window import Window, best_of_window
from passage.planning.voyage.prepare import (
    allow_slow_legs,
    as_route,
    as_vessel,
    check_speeds,
    open_for,
    response_kernel,
)
from passage.planning.voyage.yacht import Yacht
from passage.units import HOUR_S, knots_to_m_s

if TYPE_CHECKING:
    from passage.planning.plan.result import PlannedPassage

Say = Callable[[str], None]


@dataclass(frozen=True)
class SearchFiles:
    """Files of a search; the route gives start and end, and is compared with the result.

    ``remarks`` on files already read are added to the notes of the result.
    """

    route: Path | Route
    vessel: Path | Vessel
    forecasts: tuple[Path, ...] | Forecast
    nearest_sea_cell_km: float | None = None
    harbour_nm: float | None = None
    harbour_sea: str = "sheltered"
    name_map: Path | None = None
    responses: Path | None = None
    single_time_h: float = 0.0
    minutes: float = 20.0
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Suggestion:
    """A found route and plans by name: the suggestion, the route given, the great circle.

    ``options`` are those asked for, with the chosen departure and speed; ``sea`` is the sea
    at a few times, with the yacht of each plan, for a map; ``routes`` are those of the plans.
    """

    found: Found
    plans: dict[str, PlannedPassage]
    options: SearchOptions
    sea: tuple[SeaAt, ...] = ()
    routes: dict[str, Route] = field(default_factory=dict)

    @property
    def given(self) -> str:
        """Name of the plan of the route given."""
        return next(name for name in self.plans if name.startswith("as given"))

    def route_of(self, name: str) -> Route:
        """The route of a plan, at the speed of the search; its name says what it is."""
        if name == "suggested":
            return self.found.route
        route, word = self.routes[name], "the route as given" if name == self.given else name
        legs = tuple(
            leg if leg.kind == "stay" else replace(leg, speed_kn=self.options.speed_kn)
            for leg in route.legs
        )
        return replace(route, name=f"{word}, {self.options.aim} ({LABEL})", legs=legs)


def suggest_files(
    files: SearchFiles,
    options: SearchOptions,
    *,
    window: Window | None = None,
    say: Say = lambda text: None,
    progress: Progress | None = None,
    map_times: int = 0,
) -> Suggestion:
    """Read the files, search, and plan the route found beside the route given.

    The departures and speeds of a ``window`` replace those of the options. ``map_times`` is
    the number of times for which the map shows the sea. Loading events of later legs are
    left out, with a note: the suggestion has legs of its own.

    Raises
    ------
    PassageError
        Something in the files is wrong, or no route is found.
    """
    vessel = as_vessel(files.vessel)
    for warning in vessel.warnings:
        say(warning)
    vessel, left_out = _without_leg_events(vessel)
    given = as_route(files.route)
    points = given.waypoints
    start, end = points[0], points[-1]
    yacht = Yacht(vessel, motion_kernel=response_kernel(vessel, files.responses))
    window = window or Window((options.departure_s,), (options.speed_kn,))
    slow = []
    for speed in window.speeds_kn:
        slow.append(allow_slow_legs(yacht, given, speed, speed))
        check_speeds(yacht, given, speed, speed)
    options = replace(options, departure_s=window.departures_s[0], speed_kn=window.speeds_kn[0])
    remarks = (*files.remarks, *areas_elsewhere(options.no_go, *_places(given, options)))
    with _open(files, vessel, given, options, window, for_map=map_times > 0) as forecast:
        own = _same_speed(given)
        found, options = best_of_window(
            yacht, own, forecast, options, window, minutes=files.minutes, progress=progress
        )
        routes = {"suggested": found.route, f"as given ({given.name})": own}
        straight = straight_route(start, end)
        if all(crossing.only_at_ends for crossing in legs_over_land(straight)):
            routes["great circle"] = straight
        plans = {
            name: _plan(yacht, route, forecast, files, options) for name, route in routes.items()
        }
        sea = _sea(forecast, routes, plans, map_times)
    return Suggestion(
        replace(found, notes=(*found.notes, *remarks, *left_out, *filter(None, slow))),
        plans,
        options,
        sea,
        routes,
    )


def _without_leg_events(vessel: Vessel) -> tuple[Vessel, tuple[str, ...]]:
    """The vessel without events of legs after the first, and a note that names them."""
    later = [event for event in vessel.loading.events if (event.leg or 1) > 1]
    if not later:
        return vessel, ()
    kept = tuple(event for event in vessel.loading.events if (event.leg or 1) <= 1)
    named = ", ".join(f"{event.what} (leg {event.leg})" for event in later)
    note = (
        f"Left out on every route here: {named}. The vessel file ties it to a leg of your route, "
        "and a suggested route has legs of its own."
    )
    return replace(vessel, loading=replace(vessel.loading, events=kept)), (note,)


def _sea(
    forecast: Forecast, routes: dict[str, Route], plans: dict[str, PlannedPassage], count: int
) -> tuple[SeaAt, ...]:
    """The sea from departure to the last arrival, with the yacht of each route."""
    if count < 1:
        return ()
    ends = []
    for made in plans.values():
        hours = np.array([leg["hours"] for leg in made.legs], dtype=float)
        ends.append(made.departure_s + np.r_[0.0, np.cumsum(hours) * HOUR_S])
    last = max((float(e[-1]) for e in ends if np.isfinite(e[-1])), default=np.nan)
    times = even_times(float(ends[0][0]), last, count)
    return sea_frames(forecast, list(routes.values()), times, ends)


def _same_speed(route: Route) -> Route:
    return replace(route, legs=tuple(replace(leg, speed_kn=None) for leg in route.legs))


def _plan(
    yacht: Yacht, route: Route, forecast: Forecast, files: SearchFiles, options: SearchOptions
) -> PlannedPassage:
    track = make_track(route, options.speed_kn, files.minutes)
    made = PlanOptions(
        departure_s=options.departure_s,
        speed_kn=options.speed_kn,
        fins=options.fins,
        heel=options.heel,
        minutes=files.minutes,
        wave_method=options.wave_method,
        nearest_sea_cell_km=files.nearest_sea_cell_km,
        harbour_nm=files.harbour_nm,
        harbour_sea=files.harbour_sea,
        name_map=files.name_map,
        responses=files.responses,
        single_time_h=files.single_time_h,
        draws=options.draws,
        forecast_error=options.forecast_error,
    )
    return plan(Passage(yacht.vessel, route, yacht, track, options.speed_kn, None), forecast, made)


def _places(given: Route, options: SearchOptions) -> tuple[Array, Array]:
    """Latitude and longitude of the grid's nodes and of the waypoints given. [deg]"""
    points = given.waypoints
    ends = [(point.lat_deg, point.lon_deg) for point in (points[0], points[-1])]
    lat, lon, _, _ = grid_nodes(grid_plan(ends[0], ends[1], options))
    return (
        np.r_[lat, [point.lat_deg for point in points]],
        np.r_[lon, [point.lon_deg for point in points]],
    )


def _open(
    files: SearchFiles,
    vessel: Vessel,
    given: Route,
    options: SearchOptions,
    window: Window,
    *,
    for_map: bool,
) -> AbstractContextManager[Forecast]:
    """Open the forecast for the grid, the route given, and the time allowed."""
    lat, lon = _places(given, options)
    stays = sum(leg.stay_h for leg in given.legs) * HOUR_S
    distance_m = max(given.distance_m, 1.0)
    steady = distance_m / float(knots_to_m_s(min(window.speeds_kn)))
    seconds = 2.0 * options.longest * steady + stays
    area = map_area(lat, lon) if for_map else box_around(lat, lon, margin_deg=0.1)
    first, last = min(window.departures_s), max(window.departures_s)
    asked = (first, last + steady + stays)
    return open_for(area, files.forecasts, vessel, first, last + seconds, files, [given], asked)
