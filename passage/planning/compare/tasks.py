"""The tasks of a comparison: one for each route and speed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from passage.inputs.route import Route, make_track
from passage.planning.compare.cell import CellTask
from passage.planning.voyage.prepare import allow_slow_legs, check_speeds, passage_speed

if TYPE_CHECKING:
    from passage.planning.compare.compare import CompareOptions
    from passage.planning.voyage.yacht import Yacht


def make_tasks(
    yacht: Yacht, routes: Sequence[Route], options: CompareOptions
) -> tuple[list[CellTask], list[str]]:
    """One task for each route and speed, with notes about speeds that had to be chosen."""
    tasks, notes = [], []
    for index, route in enumerate(routes):
        for speed in options.speeds_kn or (None,):
            default, note = passage_speed(yacht.vessel, route, speed)
            if note:
                notes.append(f"{route.name}: {note}")
            if options.hold != "fuel" and (slow := allow_slow_legs(yacht, route, default, speed)):
                notes.append(f"{route.name}: {slow}")
            check_speeds(yacht, route, default, speed)
            own = route
            if speed is not None:
                own = replace(route, legs=tuple(replace(leg, speed_kn=None) for leg in route.legs))
            track = make_track(own, default, options.minutes)
            text = _speed_words(own, default)
            tasks.append(CellTask(index, own, track, speed, text))
    return tasks, notes


def _speed_words(route: Route, default_kn: float) -> str:
    """``12 kn`` where every leg under way has that speed, as in a plan of the route."""
    speeds = {
        default_kn if leg.speed_kn is None else leg.speed_kn
        for leg in route.legs
        if leg.kind != "stay"
    }
    return f"{speeds.pop():g} kn" if len(speeds) == 1 else "the route's speeds"
