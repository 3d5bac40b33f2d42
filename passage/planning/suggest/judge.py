"""A candidate route computed as in a plan and checked against every limit and budget."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from passage.inputs.route import Leg, Route, make_track
from passage.planning.compare.cell import CellTask, make_cells
from passage.planning.compare.choice import check_limits, limit_words
from passage.planning.compare.daylight import is_daylight
from passage.planning.plan.partial import remedy_words
from passage.units import HOUR_S, knots_to_m_s, utc_text

if TYPE_CHECKING:
    from passage.inputs.forecast import Forecast
    from passage.planning.suggest.closed import Closed
    from passage.planning.suggest.search import SearchOptions
    from passage.planning.voyage.yacht import Yacht


#: Names of candidates.
GIVEN, STRAIGHT, GRID, SMOOTH = "as given", "great circle", "grid", "smoothed"
#: Unit of the price by each objective.
PRICE_UNITS = {"fuel": "l", "comfort": "degree hours"}
#: Part of the reason of a way over the budget.
OVER_BUDGET = "over the budget of"
#: Ends the reason of an arrival without daylight.
IN_THE_DARK = "in the dark"
#: Begins the reason of a way that passes time by turning back.
TURNS_BACK = "turns back to pass time"
#: Reason where the forecast does not cover a route; a remedy may follow in brackets.
NOT_COVERED = "is not covered by the forecast from end to end"


@dataclass(frozen=True)
class Judged:
    """One route at one departure, computed along its track.

    ``roll_hours`` are degree hours of significant roll, ``worst_roll_deg`` its largest
    value at any point; ``faults`` are the reasons why it is closed, empty where it may be
    chosen. ``over`` are the limits of the vessel file that it exceeds or may exceed.
    """

    route: Route
    departure_s: float
    hours: float
    fuel_l: float
    roll_hours: float
    worst_roll_deg: float
    faults: tuple[str, ...]
    over: tuple[str, ...] = ()

    def price(self, objective: str) -> float:
        """The price by the objective: litres, or degree hours."""
        return self.fuel_l if objective == "fuel" else self.roll_hours

    @property
    def at_wrong_time(self) -> bool:
        """Whether she arrives late or in the dark, which another course hardly mends."""
        return any(fault.startswith("arrives ") for fault in self.faults)

    def key(self, objective: str) -> tuple[bool, bool, float]:
        """Sort key, better routes first: closed, over a limit, price."""
        price = self.price(objective)
        return bool(self.faults), bool(self.over), price if np.isfinite(price) else np.inf


def share_over(one: Judged, options: SearchOptions) -> float:
    """Share of the limit asked for that is broken most: 1 is on it; infinite where not known."""
    shares = [
        value / max(limit, 1e-9)
        for value, limit in (
            (one.roll_hours, options.budget),
            (one.worst_roll_deg, options.roll_limit_deg),
        )
        if limit is not None
    ]
    worst = max(shares, default=1.0)
    return worst if np.isfinite(worst) else np.inf


def judge(
    yacht: Yacht,
    route: Route,
    forecast: Forecast,
    options: SearchOptions,
    closed: Closed,
    *,
    departures_s: Sequence[float] | None = None,
    minutes: float = 20.0,
    own: Collection[Leg] = (),
    latest_s: float | None = None,
) -> list[Judged]:
    """Compute and check a route at each departure.

    Legs without a speed take that of the options. ``own`` are legs that need keep no margin
    from land; ``latest_s`` is the latest arrival [s].
    """
    track = make_track(route, options.speed_kn, minutes)
    yacht.pin(*np.unique(knots_to_m_s(track.speed_kn[track.length_m > 0.0])))
    times = np.array(departures_s or (options.departure_s,), dtype=float)
    task = CellTask(0, route, track, None, "")
    cell = make_cells(
        yacht, task, forecast, times, (options.fins,), heel=options.heel,
        wave_method=options.wave_method,
    )[0]  # fmt: skip
    shut = closed.faults(route, own)
    checks = check_limits(yacht.vessel, route, cell)
    found = []
    for i, departure in enumerate(times):
        one = Judged(
            route,
            float(departure),
            float((cell.end_s[i, -1] - departure) / HOUR_S),
            float(np.sum(cell.legs["fuel_l"][i])),
            float(cell.roll_degree_hours[i]),
            float(cell.worst_roll_deg[i]),
            (),
        )
        faults = _faults(one, options, latest_s, cell.reach_km)
        over = tuple(
            limit_words(check.name, float(np.nanmax(check.limit)))
            for check in checks
            if np.any(check.exceeded[i] | check.unknown[i])
        )
        found.append(replace(one, faults=(*shut, *faults), over=over))
    return found


def _faults(
    one: Judged, options: SearchOptions, latest_s: float | None, reach_km: float | None = None
) -> tuple[str, ...]:
    """Limits and budgets that the route does not keep along its track, in words."""
    if not np.isfinite(one.fuel_l + one.roll_hours + one.hours):
        remedy = remedy_words(reach_km).strip().removesuffix(".")
        return (f"{NOT_COVERED} ({remedy})" if remedy else NOT_COVERED,)
    found = []
    if options.roll_limit_deg is not None and one.worst_roll_deg > options.roll_limit_deg:
        found.append(
            f"rolls {one.worst_roll_deg:.2f} deg significant at its worst, over the limit of "
            f"{options.roll_limit_deg:g}"
        )
    if options.budget is not None and one.roll_hours > options.budget:
        found.append(f"takes {one.roll_hours:.1f} degree hours, {OVER_BUDGET} "
                     f"{options.budget:g}")  # fmt: skip
    arrival = one.departure_s + one.hours * HOUR_S
    for latest, words in ((options.arrive_by_s, "the latest asked for"),
                          (latest_s, "the longest time allowed")):  # fmt: skip
        if latest is not None and arrival > latest + 1.0:
            found.append(f"arrives {utc_text(arrival)}, later than {words}")
    last = one.route.waypoints[-1]
    if options.daylight and not is_daylight(arrival, last.lat_deg, last.lon_deg):
        found.append(f"arrives {utc_text(arrival)}, {IN_THE_DARK}")
    return tuple(found)
