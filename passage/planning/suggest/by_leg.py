"""Speeds chosen leg by leg along the best route of a search and along the route given."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from passage.inputs.route import Route
from passage.planning.compare import choice
from passage.planning.compare.compare import CompareOptions, compare
from passage.planning.compare.speeds import by_leg_tasks
from passage.planning.suggest.best import GIVEN
from passage.planning.suggest.case import closed_between
from passage.planning.suggest.judge import Judged, judge
from passage.planning.suggest.search import LABEL, Found, Progress, SearchOptions
from passage.planning.voyage.steps import stage

if TYPE_CHECKING:
    from passage.inputs.forecast import Forecast
    from passage.planning.suggest.window import Window
    from passage.planning.voyage.yacht import Yacht

#: Name of the candidate.
BY_LEG = "speeds by leg"
#: Combinations checked against the limits of the search, by rising price.
_TRIED = 6
#: Reasons that rule a combination out; limits are checked again later.
_SHUT = choice.UNKNOWN | choice.LAND | choice.NO_WAY | choice.HUNT


def by_leg(
    yacht: Yacht,
    given: Route,
    found: tuple[Found, SearchOptions],
    forecast: Forecast,
    window: Window,
    minutes: float,
    progress: Progress | None = None,
) -> tuple[list[tuple[Found, SearchOptions]], tuple[str, ...]]:
    """The best speeds leg by leg over the departures of the window, if any, and remarks.

    Speeds are chosen as by `passage compare --by-leg`: exact on its grid of times and
    proven along the tracks, with comfort in degree hours. Each result is judged again.
    """
    best, options = found
    mine = replace(best.route, name="the route found")
    routes = [mine, given] if best.best != GIVEN else [given]
    stage(progress, "speeds leg by leg")
    asked = CompareOptions(
        departures_s=window.departures_s,
        speeds_kn=tuple(sorted(window.speeds_kn)),
        fins=(options.fins,),
        comfort="degree-hours",
        budget=options.budget,
        arrive_by_s=options.arrive_by_s,
        daylight=options.daylight,
        heel=options.heel,
        minutes=minutes,
        wave_method=options.wave_method,
    )
    routes = [
        replace(route, legs=tuple(replace(leg, speed_kn=None) for leg in route.legs))
        for route in routes
    ]
    tasks, notes = by_leg_tasks(yacht, routes, forecast, asked)
    if not tasks:
        return [], notes
    table = compare(yacht, routes, forecast, asked, tasks=tasks)
    price = table.totals["fuel_l"] if options.objective == "fuel" else table.comfort
    order = np.lexsort((price, table.closed > 0, (table.closed & _SHUT) > 0))
    closed = closed_between(given.waypoints[0], given.waypoints[-1], forecast, options)

    def judged(route: Route, departure_s: float, mine: SearchOptions) -> Judged:
        leave = replace(mine, departure_s=departure_s)
        return judge(yacht, route, forecast, leave, closed, minutes=minutes, own=given.legs)[0]

    made: list[tuple[Found, SearchOptions]] = []
    for index in order[:_TRIED]:
        speeds = table.cell_of(int(index)).leg_speeds_kn or ()
        base = routes[table.cell_of(int(index)).route]
        along = " along your own route" if base is routes[-1] else ""
        route = replace(
            base,
            name=f"{options.aim}, {BY_LEG}{along} ({LABEL})",
            legs=tuple(
                replace(leg, speed_kn=speed or None)
                for leg, speed in zip(base.legs, speeds, strict=True)
            ),
        )
        moving = tuple(s for s, leg in zip(speeds, base.legs, strict=True) if leg.kind != "stay")
        leave = float(table.departure_s[index])
        own = replace(options, departure_s=leave, leg_speeds_kn=moving)
        candidates = {BY_LEG: judged(route, leave, own), GIVEN: judged(given, leave, own)}
        if candidates[BY_LEG].faults:
            continue
        made.append((replace(best, route=route, candidates=candidates, best=BY_LEG), own))
    return made, notes
