"""Speeds chosen leg by leg on a forecast, as further combinations of a comparison."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from passage.errors import RouteError
from passage.inputs.route import Leg, Route, make_track
from passage.planning.compare.cell import Cell, CellTask, make_cells
from passage.planning.compare.choice import check_limits, limit_share, non_dominated
from passage.planning.compare.daylight import is_daylight
from passage.planning.compare.proof import Computed, Proof, SpeedChoices, all_ways, prove
from passage.planning.compare.speed_choice import LegChoices, SpeedPlan, best_plans, least_fuel
from passage.planning.compare.work import run_tasks
from passage.planning.voyage.threads import cores
from passage.units import HOUR_S, knots_to_m_s

if TYPE_CHECKING:
    from passage.inputs.forecast import Forecast
    from passage.planning.compare.compare import CompareOptions
    from passage.planning.voyage.yacht import Yacht

Array = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

#: Step of the grid of starting times. [s]
STEP_S = 1200.0
#: Most plans taken into the comparison from the front of one route and fin use.
MOST_PLANS = 8
#: How the measures of comfort combine over legs; others depend on more than the leg.
COMBINE: dict[str, str] = {"roll": "max", "lateral": "max", "hours": "sum", "degree-hours": "sum"}


def by_leg_tasks(
    yacht: Yacht,
    routes: Sequence[Route],
    forecast: Forecast,
    options: CompareOptions,
    progress: Callable[[int, int], None] | None = None,
) -> tuple[list[CellTask], tuple[str, ...]]:
    """Cells for the best speeds leg by leg, for every route, with remarks.

    For each route, use of the fins and departure the front is searched exactly on a grid
    of starting times; of the front over all departures up to `MOST_PLANS` are taken, both
    ends among them. The open plan of least fuel is proven along the tracks
    (`passage.planning.compare.proof`) and is always among them.

    Raises
    ------
    RouteError
        The measure of comfort cannot be combined from those of the legs.
    """
    if options.comfort not in COMBINE:
        raise RouteError(
            f"--by-leg does not work with --comfort {options.comfort}: what a leg adds to it "
            f"depends on the other legs. Use one of: {', '.join(COMBINE)}."
        )
    yacht.pin(*(knots_to_m_s(speed) for speed in options.speeds_kn))
    tasks: list[CellTask] = []
    notes: list[str] = []
    total, done = sum(len(route.legs) for route in routes), 0

    def step() -> None:
        nonlocal done
        done += 1
        if progress:
            progress(done, total)

    best_l = np.inf
    starts = [round((time - options.departures_s[0]) / STEP_S) for time in options.departures_s]
    for index, route in enumerate(routes):
        chosen: dict[tuple[float, ...], None] = {}
        made = leg_choices(yacht, route, forecast, options, starts, step)
        for fins, tables in made.items():
            # There are fewer tables than legs where she cannot reach the end.
            if len(tables[0]) < len(route.legs):
                continue
            plans, size = _front(route, options, starts, *tables)
            if len(plans) < size:
                notes.append(
                    f"{route.name}, fins {fins}: speeds leg by leg, {len(plans)} of {size} best "
                    "trade-offs shown."
                )
            for plan in plans:
                chosen[_speeds_of(route, plan.speeds, options)] = None
            proof, ways = _proven(yacht, route, forecast, options, fins, tables, starts, best_l)
            if proof is None or ways is None:
                notes.append(
                    f"{route.name}, fins {fins}: too many combinations of speeds to prove the best "
                    "one; give fewer speeds or departures."
                )
                continue
            if proof.way is not None:
                best_l = proof.fuel_l
                chosen[_speeds_of(route, tuple(ways.speeds[proof.way]), options)] = None
            notes.append(_proof_words(route, fins, proof, ways.speeds.shape[0], options.odds))
        for speeds in chosen:
            moving = {s for s, leg in zip(speeds, route.legs, strict=True) if leg.kind != "stay"}
            if len(moving) > 1:
                tasks.append(_task(index, route, speeds, options))
    return tasks, tuple(notes)


def _proof_words(
    route: Route, fins: str, proof: Proof, ways: int, odds: float | None = None
) -> str:
    # The search uses the forecast as it is; odds are counted afterwards.
    by = "" if odds is None else " by the forecast as it is"
    if not proof.proven:
        return (
            f"{route.name}, fins {fins}: the least fuel leg by leg is the best of {proof.computed} "
            f"computed of {ways} combinations of speeds; a cheaper one is not excluded."
        )
    return (
        f"{route.name}, fins {fins}: {proof.computed} of {ways} combinations of speeds computed "
        f"along the track; none of the others can take less fuel and be allowed{by}."
    )


def _proven(
    yacht: Yacht,
    route: Route,
    forecast: Forecast,
    options: CompareOptions,
    fins: str,
    tables: tuple[list[LegChoices], list[Array]],
    starts: Sequence[int],
    best_l: float,
    cell_of: Callable[[CellTask], list[Cell]] | None = None,
) -> tuple[Proof | None, SpeedChoices | None]:
    """The open plan of least fuel, computed along the tracks (by ``cell_of`` if given)."""
    from passage.planning.compare.compare import judge

    ways = all_ways(*tables, starts, COMBINE[options.comfort])
    if ways is None:
        return None, None
    departures = np.array(options.departures_s, dtype=float)

    def cell(task: CellTask) -> list[Cell]:
        return make_cells(
            yacht, task, forecast, departures, (fins,), hold=options.hold, heel=options.heel,
            wave_method=options.wave_method,
        )  # fmt: skip

    def compute(some: list[int]) -> list[Computed]:
        tasks = [
            _task(0, route, _speeds_of(route, tuple(ways.speeds[way]), options), options)
            for way in some
        ]
        made = []
        for group in run_tasks(yacht, tasks, cell_of or cell):
            found = judge(yacht.vessel, [route], options, group)
            made.append(Computed(found.totals["fuel_l"], found.comfort, found.open))
        return made

    def late(arrival: npt.NDArray[np.int_]) -> Bools:
        if options.arrive_by_s is None:
            return np.zeros(arrival.shape, dtype=bool)
        # Each leg's time was rounded to whole steps.
        room = STEP_S * (1.0 + 0.5 * len(route.legs))
        early = options.departures_s[0] + STEP_S * arrival - room
        return np.asarray(early > options.arrive_by_s)

    proof = prove(
        ways, compute, budget=options.budget, late=late, hours=options.comfort == "hours",
        best_l=best_l, batch=cores(),
    )  # fmt: skip
    return proof, ways


def _speeds_of(route: Route, picks: Sequence[int], options: CompareOptions) -> tuple[float, ...]:
    return tuple(
        0.0 if leg.kind == "stay" else options.speeds_kn[choice]
        for leg, choice in zip(route.legs, picks, strict=True)
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


def _front(
    route: Route,
    options: CompareOptions,
    starts: Sequence[int],
    tables: list[LegChoices],
    shares: list[Array],
) -> tuple[list[SpeedPlan], int]:
    """Up to `MOST_PLANS` of the front, and its size; within the limits if possible."""
    origin, last = options.departures_s[0], route.legs[-1]
    limited = [
        replace(leg, allowed=leg.allowed & (share <= 1.0))
        for leg, share in zip(tables, shares, strict=True)
    ]
    end = tables[-1].first + tables[-1].fuel_l.shape[0] + int(np.max(tables[-1].steps))
    open_ = None
    if options.daylight:
        times = origin + STEP_S * np.arange(end + 1)
        open_ = is_daylight(times, last.lat_to_deg, last.lon_to_deg)
    by = None
    if options.arrive_by_s is not None:
        by = int(np.floor((options.arrive_by_s - origin) / STEP_S))
    for legs in (limited, tables):
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
    return [], 0


def _thinned(found: list[SpeedPlan], budget: float | None) -> tuple[list[SpeedPlan], int]:
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
    return plans, int(rows.size)


def leg_choices(
    yacht: Yacht,
    route: Route,
    forecast: Forecast,
    options: CompareOptions,
    starts: Sequence[int],
    step: Callable[[], None] = lambda: None,
) -> dict[str, tuple[list[LegChoices], list[Array]]]:
    """Tables of every leg over the times at which it can start, by use of the fins.

    With them come arrays of the same shape: the largest ratio of a value to its limit.
    Empty where she cannot reach the end. The list is that at departure: changes by fuel
    burnt earlier, and motion sickness, which depends on the hours before, are computed
    only for the chosen plans.
    """
    origin = options.departures_s[0]
    reach = np.unique(np.asarray(starts))
    made: dict[str, tuple[list[LegChoices], list[Array]]] = {
        fins: ([], []) for fins in options.fins
    }
    for leg in route.legs:
        first, last = int(reach[0]), int(reach[-1])
        times = np.asarray(origin + STEP_S * np.arange(first, last + 1), dtype=float)
        speeds = (0.0,) if leg.kind == "stay" else options.speeds_kn
        tasks = [_leg_task(route, leg, speed, options) for speed in speeds]

        def cells(task: CellTask, times: Array = times) -> list[Cell]:
            return make_cells(
                yacht,
                task,
                forecast,
                times,
                options.fins,
                hold=options.hold,
                heel=options.heel,
                wave_method=options.wave_method,
            )

        found = run_tasks(yacht, tasks, cells)
        arrivals = []
        for at, fins in enumerate(options.fins):
            columns = [
                _column(yacht, task.route, group[at], options.comfort)
                for task, group in zip(tasks, found, strict=True)
            ]
            hours, fuel, rough, allowed, share = (
                np.stack(parts, axis=-1) for parts in zip(*columns, strict=True)
            )
            steps = np.maximum(np.nan_to_num(np.rint(hours * HOUR_S / STEP_S), nan=1.0), 1.0)
            table = LegChoices(first, steps.astype(int), fuel, rough, allowed.astype(bool))
            made[fins][0].append(table)
            made[fins][1].append(share)
            rows = reach - first
            good = table.allowed[rows] & np.isfinite(fuel[rows]) & np.isfinite(rough[rows])
            arrivals.append((reach[:, None] + table.steps[rows])[good])
        step()
        reach = np.unique(np.concatenate(arrivals))
        if reach.size == 0:
            return {}
    return made


def _leg_task(route: Route, leg: Leg, speed: float, options: CompareOptions) -> CellTask:
    """One leg alone, at one speed."""
    own = replace(route, legs=(replace(leg, speed_kn=speed) if speed else leg,))
    return CellTask(0, own, make_track(own, speed or 1.0, options.minutes), speed or None, "")


def _column(
    yacht: Yacht, route: Route, cell: Cell, comfort: str
) -> tuple[Array, Array, Array, Bools, Array]:
    """Hours, fuel, discomfort, whether she makes way, and the largest share of a limit."""
    rough = {
        "roll": cell.legs["window_roll_significant_deg"][:, 0],
        "lateral": cell.legs["window_lateral_acceleration_rms_g"][:, 0],
        "hours": cell.hours_over_limit,
        "degree-hours": cell.roll_degree_hours,
    }[comfort]
    checks = [
        check
        for check in check_limits(yacht.vessel, route, cell)
        if check.name != "motion_sickness_percent"
    ]
    # Without a limit the share is NaN, which would rule out every plan; 0 is meant.
    share = limit_share(checks, cell.departure_s.size) if checks else np.zeros(len(rough))
    return cell.legs["hours"][:, 0], cell.legs["fuel_l"][:, 0], rough, ~cell.no_way, share
