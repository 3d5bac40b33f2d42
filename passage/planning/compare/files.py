"""From files to a comparison: read, open the forecast once, judge, plan the named ones."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from passage.errors import NoCoverage, RouteError, VesselError
from passage.inputs.forecast import Forecast
from passage.inputs.forecast.gap_words import gap_words
from passage.inputs.route import Route, make_track
from passage.inputs.vessel import Vessel
from passage.planning.compare.compare import (
    CompareOptions,
    Comparison,
    Progress,
    compare,
)
from passage.planning.compare.size import check_size
from passage.planning.compare.tasks import make_tasks
from passage.planning.plan.plan import Passage, PlanOptions, plan
from passage.planning.plan.provenance import provenance
from passage.planning.plan.result import PlannedPassage
from passage.planning.plan.sea_frames import MAP_MARGIN_DEG, map_area
from passage.planning.voyage.events import refuse_unlike_events
from passage.planning.voyage.prepare import (
    as_route,
    as_vessel,
    corridor,
    open_for,
    passage_seconds,
    passage_speed,
    response_kernel,
    steady_seconds,
)
from passage.planning.voyage.steps import stage
from passage.planning.voyage.yacht import Yacht

if TYPE_CHECKING:
    from passage.planning.compare.cell import CellTask

Say = Callable[[str], None]


@dataclass(frozen=True)
class CompareFiles:
    """Files of a comparison and how to read them; objects already read are accepted too."""

    routes: tuple[Path | Route, ...]
    vessel: Path | Vessel
    forecasts: tuple[Path, ...] | Forecast
    nearest_sea_cell_km: float | None = None
    harbour_nm: float | None = None
    harbour_sea: str = "sheltered"
    name_map: Path | None = None
    responses: Path | None = None
    single_time_h: float = 0.0
    newest_run: bool = True


@dataclass(frozen=True)
class Wanted:
    """What is wanted of a comparison beyond its rows.

    ``choose`` is a word of ``Comparison.names`` or the number of a combination, from 1;
    None takes the default. ``by_leg`` adds speeds chosen leg by leg. ``map_times`` is the
    number of times at which the map shows the sea.
    """

    choose: str | None = None
    by_leg: bool = False
    map_times: int = 0


def read_routes(paths: Sequence[Path | Route]) -> list[Route]:
    """The routes, with a number added to a name that occurs before."""
    routes = [as_route(path) for path in paths]
    seen: dict[str, int] = {}
    named = []
    for route in routes:
        count = seen[route.name] = seen.get(route.name, 0) + 1
        named.append(route if count == 1 else replace(route, name=f"{route.name} ({count})"))
    return named


def _refuse_hours_of_nothing(
    vessel: Vessel, routes: Sequence[Route], options: CompareOptions
) -> None:
    """Refuse comfort by hours over a limit where no limit is set."""
    if options.comfort != "hours":
        return
    sets = {"stay": vessel.limits.at_rest}
    legs = [leg for route in routes for leg in route.legs]
    if not any(
        sets.get(leg.kind, vessel.limits.underway).roll_significant_deg is not None for leg in legs
    ):
        raise VesselError(
            f"{vessel.path}: [limits] roll_significant_deg: is not set, and comfort by hours "
            "counts the time over it. Set it, or judge comfort by roll or degree-hours."
        )


def compare_files(
    files: CompareFiles,
    options: CompareOptions,
    wanted: Wanted | None = None,
    *,
    say: Say = lambda text: None,
    progress: Progress | None = None,
    by_leg_progress: Progress | None = None,
) -> Comparison:
    """Read, judge, and plan the combinations that have a name or are chosen.

    Raises
    ------
    PassageError
        Something in the files is wrong, or the forecast covers nothing.
    """
    wanted = wanted or Wanted()
    vessel = as_vessel(files.vessel)
    for warning in vessel.warnings:
        say(warning)
    routes = read_routes(files.routes)
    refuse_unlike_events(vessel, routes)
    _refuse_hours_of_nothing(vessel, routes, options)
    yacht = Yacht(vessel, motion_kernel=response_kernel(vessel, files.responses))
    tasks, _ = make_tasks(yacht, routes, options)
    check_size(tasks, options)
    tracks = [task.track for task in tasks]
    longest = max(passage_seconds(track) for track in tracks)
    with open_for(
        map_area(
            np.concatenate([track.end_lat_deg for track in tracks]),
            np.concatenate([track.end_lon_deg for track in tracks]),
        )
        if wanted.map_times
        else corridor(tracks, margin_deg=MAP_MARGIN_DEG),
        files.forecasts,
        vessel,
        min(options.departures_s),
        max(options.departures_s) + longest,
        files,
        routes,
        (
            min(options.departures_s),
            max(options.departures_s) + max(steady_seconds(track) for track in tracks),
        ),
    ) as forecast:
        extra: Sequence[CellTask] = ()
        remarks: tuple[str, ...] = ()
        if wanted.by_leg:
            from passage.planning.compare.speeds import by_leg_tasks

            extra, remarks = by_leg_tasks(yacht, routes, forecast, options, by_leg_progress)
        found = compare(
            yacht, routes, forecast, options, progress=progress, extra=extra, tasks=tasks
        )
        if not any(
            np.any(np.isfinite(cell.legs["significant_height_m"])) or np.any(cell.known_h > 0.0)
            for cell in found.cells
        ):
            if forecast.gaps:
                raise NoCoverage(f"no leg of any combination has a sea: {gap_words(forecast)}")
            because = forecast.own_range or (
                "check its area and hours with `passage check FILE --route ROUTE`."
            )
            raise NoCoverage(f"the forecast covers no leg of any combination: {because}")
        chosen = choose(found, wanted.choose)
        numbers = set(found.names.values()) | ({chosen} if chosen is not None else set())
        plans = {}
        stage(progress, "named combinations, leg by leg")
        for done, index in enumerate(sorted(numbers), 1):
            plans[index] = plan_of(found, index, yacht, forecast, files)
            if progress:
                progress(done, len(numbers))
        passage, plan_options = passage_of(found, chosen or 0, yacht, files)
        sea: tuple[Any, ...] = ()
        if wanted.map_times:
            from passage.planning.plan.sea_frames import sea_at_times

            sea = sea_at_times(found, forecast, wanted.map_times, chosen)
        return replace(
            found,
            chosen=chosen,
            plans=plans,
            provenance=provenance(passage, forecast, plan_options),
            notes=(
                *found.notes,
                *remarks,
                *dict.fromkeys(
                    (
                        *(note for note in forecast.notes if note.startswith("harbour")),
                        *(
                            n
                            for p in plans.values()
                            for n in p.notes
                            if not any(own.endswith(f": {n}") for own in found.notes)
                        ),
                    )
                ),
            ),
            sea=sea,
        )


def choose(found: Comparison, word: str | None) -> int | None:
    """Index of the combination that a word or number means.

    Without a word: the least fuel of the open ones, since all of them are comfortable
    enough by the limits; None where nothing is open.

    Raises
    ------
    RouteError
        There is no such number or name.
    """
    if word is None:
        return found.names.get("least fuel") if found.front_open else None
    name = word.replace("-", " ")
    if name in found.names:
        return found.names[name]
    if word.isdigit() and 1 <= int(word) <= len(found):
        return int(word) - 1
    names = ", ".join(key.replace(" ", "-") for key in found.names) or "none"
    numbers = "1, the only one" if len(found) == 1 else f"a number from 1 to {len(found)}"
    raise RouteError(f"--choose {word}: no such combination. Give {numbers}, or one of: {names}.")


def passage_of(
    found: Comparison, index: int, yacht: Yacht, files: CompareFiles
) -> tuple[Passage, PlanOptions]:
    """The passage and options that plan one combination."""
    cell = found.cell_of(index)
    route, options = found.routes[cell.route], found.options
    speed, note = cell.speed_kn, None
    if cell.leg_speeds_kn is not None:
        legs = tuple(
            leg if leg.kind == "stay" else replace(leg, speed_kn=knots)
            for leg, knots in zip(route.legs, cell.leg_speeds_kn, strict=True)
        )
        route, default = replace(route, legs=legs), 1.0
    elif speed is None:
        default, note = passage_speed(yacht.vessel, route, None)
    else:
        default = speed
        route = replace(route, legs=tuple(replace(leg, speed_kn=None) for leg in route.legs))
    track = make_track(route, default, options.minutes)
    plan_options = PlanOptions(
        departure_s=float(found.departure_s[index]),
        speed_kn=speed,
        hold=options.hold,
        fins=cell.fins,
        heel=options.heel,
        minutes=options.minutes,
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
    return Passage(yacht.vessel, route, yacht, track, default, note), plan_options


def plan_of(
    found: Comparison, index: int, yacht: Yacht, forecast: Forecast, files: CompareFiles
) -> PlannedPassage:
    """The whole plan of one combination."""
    passage, options = passage_of(found, index, yacht, files)
    return plan(passage, forecast, options)
