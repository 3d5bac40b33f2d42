"""What all candidates of one departure and speed have in common."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from passage.inputs.route import Route, Waypoint, build_route
from passage.inputs.route.geometry import great_circle_inverse
from passage.planning.suggest.cost import Shared
from passage.planning.suggest.judge import TURNS_BACK, Judged, judge
from passage.planning.suggest.search import SearchOptions, closed_for, grid_plan
from passage.planning.suggest.smooth import Smoother, places_of, turns_back
from passage.units import knots_to_m_s

if TYPE_CHECKING:
    from passage.inputs.forecast import Forecast
    from passage.planning.suggest.closed import Closed
    from passage.planning.voyage.yacht import Yacht


@dataclass
class Case:
    """Data common to all candidates."""

    yacht: Yacht
    forecast: Forecast
    options: SearchOptions
    given: Route
    minutes: float
    shared: Shared
    start: Waypoint = field(init=False)
    end: Waypoint = field(init=False)

    def __post_init__(self) -> None:
        self.start, self.end = self.given.waypoints[0], self.given.waypoints[-1]
        ends = ((self.start.lat_deg, self.start.lon_deg), (self.end.lat_deg, self.end.lon_deg))
        self.closed = closed_between(self.start, self.end, self.forecast, self.options)
        distance_m, _ = great_circle_inverse(*ends[0], *ends[1])
        seconds = (
            self.options.longest * float(distance_m) / float(knots_to_m_s(self.options.speed_kn))
        )
        self.latest_s = self.options.departure_s + seconds
        if self.options.arrive_by_s is not None:
            self.latest_s = min(self.latest_s, self.options.arrive_by_s)
        self.cell_nm = grid_plan(*ends, self.options).cell_nm

    def smoother(self) -> Smoother:
        """A smoother that prices lines of waypoints by the options."""
        return Smoother(
            self.yacht, self.forecast, self.options, self.closed, self.latest_s, self.minutes
        )

    def judged(self, route: Route, *, own: bool = False) -> Judged:
        """A route checked against the limits; with ``own`` margin and latest time do not apply."""
        one = judge(
            self.yacht, route, self.forecast, self.options, self.closed, minutes=self.minutes,
            own=self.given.legs if own else (), latest_s=None if own else self.latest_s,
        )[0]  # fmt: skip
        if own:
            return one
        back = turns_back(self.closed, *places_of(route))
        faults = tuple(f"{TURNS_BACK} at {route.waypoints[i].name}" for i in back[:1])
        return replace(one, faults=(*one.faults, *faults))


def closed_between(
    start: Waypoint, end: Waypoint, forecast: Forecast, options: SearchOptions
) -> Closed:
    """Areas that the options close for a passage between two waypoints."""
    ends = ((start.lat_deg, start.lon_deg), (end.lat_deg, end.lon_deg))
    return closed_for(ends, forecast, options)


def straight_route(start: Waypoint, end: Waypoint) -> Route:
    """The great circle between two waypoints."""
    return build_route(
        "great circle",
        "great circle",
        [
            Waypoint(name=start.name, lat_deg=start.lat_deg, lon_deg=start.lon_deg),
            Waypoint(name=end.name, lat_deg=end.lat_deg, lon_deg=end.lon_deg, kind="great circle"),
        ],
    )
