"""Speeds chosen leg by leg on a forecast, as further combinations of a comparison."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from passage.errors import RouteError
from passage.inputs.route import Route, make_track
from passage.planning.compare_cell import CellTask, make_cells
from passage.planning.compare_choice import check_limits, non_dominated
from passage.planning.compare_daylight import is_daylight
from passage.planning.speed_choice import LegChoices, SpeedPlan, best_plans, least_fuel
from passage.units import HOUR_S, knots_to_m_s

if TYPE_CHECKING:
    from passage.inputs.forecast import Forecast
    from passage.planning.compare import CompareOptions
    from passage.planning.yacht import Yacht

Array = npt.NDArray[np.float64]

#: Step of the grid of starting times. [s]
STEP_S = 1200.0
#: Plans taken from the front of one route and fin use into the comparison.
MOST_PLANS = 8
#: How the measures of comfort add up over legs; others depend on more than the leg.
COMBINE: dict[str, str] = {"roll": "max", "lateral": "max", "hours": "sum"}


def by_leg_tasks(
    yacht: Yacht, routes: Sequence[Route], forecast: Forecast, options: CompareOptions
) -> list[CellTask]:
    """Cells for the best of the speeds chosen leg by leg, for every route.

    For each route, use of the fins and departure the front is searched exactly; of the
    front over all departures up to `MOST_PLANS` are taken, with both ends and the least
    fuel under the budget among them.

    Raises
    ------
    RouteError
        The measure of comfort is not one that legs add up to.
    """
    if options.comfort not in COMBINE:
        raise RouteError(
            f"--by-leg does not work with --comfort {options.comfort}: what a leg adds to it "
            f"depends on the other legs. Use one of: {', '.join(COMBINE)}."
        )
    yacht.pin(*(knots_to_m_s(speed) for speed in options.speeds_kn))
    tasks: list[CellTask] = []
    for index, route in enumerate(routes):
        chosen: dict[tuple[float, ...], None] = {}
        for fins in options.fins:
            for plan in route_front(yacht, route, forecast, options, fins):
                chosen[_speeds_of(route, plan, options)] = None
        for speeds in chosen:
            moving = {s for s, leg in zip(speeds, route.legs, strict=True) if leg.kind != "stay"}
            if len(moving) > 1:
                tasks.append(_task(index, route, speeds, options))
    return tasks


def _speeds_of(route: Route, plan: SpeedPlan, options: CompareOptions) -> tuple[float, ...]:
    return tuple(
        0.0 if leg.kind == "stay" else options.speeds_kn[choice]
        for leg, choice in zip(route.legs, plan.speeds, strict=True)
    )


def _task(index: int, route: Route, speeds: tuple[float, ...], options: CompareOptions) -> CellTask:
    legs = tuple(
        leg if leg.kind == "stay" else replace(leg, speed_kn=speed)
        for leg, speed in zip(route.legs, speeds, strict=True)
    )
    own = replace(route, legs=legs)
    track = make_track(own, 1.0, options.minutes)
    shown = ", ".join(f"{s:g}" for s, leg in zip(speeds, legs, strict=True) if leg.kind != "stay")
    return CellTask(index, own, track, None, f"by leg {shown} kn", speeds)


def route_front(
    yacht: Yacht, route: Route, forecast: Forecast, options: CompareOptions, fins: str
) -> list[SpeedPlan]:
    """The front over all departures of one route, within the limits if that is possible."""
    origin = options.departures_s[0]
    starts = [round((time - origin) / STEP_S) for time in options.departures_s]
    last = route.legs[-1]
    made = leg_choices(yacht, route, forecast, options, fins, starts)
    if made is None:
        return []
    tables, within_limits = made
    limited = [
        replace(leg, allowed=leg.allowed & fine)
        for leg, fine in zip(tables, within_limits, strict=True)
    ]
    for legs in (limited, tables):
        end = legs[-1].first + legs[-1].fuel_l.shape[0] + int(np.max(legs[-1].steps))
        open_ = None
        if options.daylight:
            times = origin + STEP_S * np.arange(end + 1)
            open_ = is_daylight(times, last.lat_to_deg, last.lon_to_deg)
        by = None
        if options.arrive_by_s is not None:
            by = int(np.floor((options.arrive_by_s - origin) / STEP_S))
        found: list[SpeedPlan] = []
        for start in starts:
            found += best_plans(
                legs,
                start,
                combine=COMBINE[options.comfort],
                arrive_by=by,
                arrival_open=open_,
            )
        if found:
            return _thinned(found, options.budget)
    return []


def _thinned(found: list[SpeedPlan], budget: float | None) -> list[SpeedPlan]:
    fuel = np.array([plan.fuel_l for plan in found])
    rough = np.array([plan.rough for plan in found])
    rows = np.flatnonzero(non_dominated(fuel, rough))
    rows = rows[np.argsort(fuel[rows])]
    picked = rows
    if rows.size > MOST_PLANS:
        picked = rows[np.unique(np.linspace(0, rows.size - 1, MOST_PLANS).round().astype(int))]
    plans = [found[i] for i in picked]
    if budget is not None:
        best = least_fuel([found[i] for i in rows], budget)
        if best is not None and best not in plans:
            plans.append(best)
    return plans


def leg_choices(
    yacht: Yacht,
    route: Route,
    forecast: Forecast,
    options: CompareOptions,
    fins: str,
    starts: Sequence[int],
) -> tuple[list[LegChoices], list[npt.NDArray[np.bool_]]] | None:
    """Tables of every leg, over the times at which it can start; None if there is no way.

    With them, where the options are within the limits, of the shape of the tables.
    The list is that of departure: what the fuel burnt before changes is left to the
    computation of the chosen plans, and so is motion sickness, which looks back.
    """
    origin = options.departures_s[0]
    reach = np.unique(np.asarray(starts))
    legs: list[LegChoices] = []
    within: list[npt.NDArray[np.bool_]] = []
    for leg in route.legs:
        first, last = int(reach[0]), int(reach[-1])
        times = np.asarray(origin + STEP_S * np.arange(first, last + 1), dtype=float)
        single = replace(route, legs=(leg,))
        speeds = (0.0,) if leg.kind == "stay" else options.speeds_kn
        columns = []
        for speed in speeds:
            own = single
            if speed:
                own = replace(single, legs=(replace(leg, speed_kn=speed),))
            track = make_track(own, speed or 1.0, options.minutes)
            task = CellTask(0, own, track, speed or None, "")
            cell = make_cells(
                yacht,
                task,
                forecast,
                times,
                (fins,),
                hold=options.hold,
                heel=options.heel,
                wave_method=options.wave_method,
            )[0]
            columns.append(_column(yacht, own, cell, options.comfort))
        hours, fuel, rough, allowed, fine = (
            np.stack(parts, axis=-1) for parts in zip(*columns, strict=True)
        )
        within.append(fine.astype(bool))
        steps = np.maximum(np.nan_to_num(np.rint(hours * HOUR_S / STEP_S), nan=1.0), 1.0)
        legs.append(LegChoices(first, steps.astype(int), fuel, rough, allowed.astype(bool)))
        at = reach - first
        good = legs[-1].allowed[at] & np.isfinite(fuel[at]) & np.isfinite(rough[at])
        arrivals = (reach[:, None] + legs[-1].steps[at])[good]
        if arrivals.size == 0:
            return None
        reach = np.unique(arrivals)
    return legs, within


def _column(
    yacht: Yacht, route: Route, cell: Any, comfort: str
) -> tuple[Array, Array, Array, Array, Array]:
    """Hours, fuel, discomfort, whether there is way and whether it is within the limits."""
    rough = {
        "roll": cell.legs[cell.roll_name][:, 0],
        "lateral": cell.legs["lateral_acceleration_rms_g"][:, 0],
        "hours": cell.hours_over_limit,
    }[comfort]
    fine = np.ones(cell.departure_s.shape, dtype=bool)
    for check in check_limits(yacht.vessel, route, cell):
        if check.name != "motion_sickness_percent":
            fine &= ~check.exceeded[:, 0] & ~check.unknown[:, 0]
    return cell.legs["hours"][:, 0], cell.legs["fuel_l"][:, 0], rough, ~cell.no_way, fine
