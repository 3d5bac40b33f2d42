"""From what a user gives to what planning takes: paths, objects, times, options."""

from __future__ import annotations

import os
import warnings
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from passage.api.options import ReadingOptions, check
from passage.api.times import seconds_of
from passage.errors import PassageError

#: Options about reading files; not for a forecast that is open already.
READING = tuple(ReadingOptions.__annotations__)


def warn(text: str) -> None:
    warnings.warn(text, stacklevel=4)


def _is_path(given: Any) -> bool:
    return isinstance(given, (str, os.PathLike))


def one(given: Any) -> Any:
    """A path as a Path; anything already read, unchanged."""
    return Path(given) if _is_path(given) else given


def several(given: Any) -> tuple[Any, ...]:
    """One or several paths or routes."""
    from passage.inputs.route import Route

    if _is_path(given) or isinstance(given, Route):
        given = (given,)
    return tuple(one(each) for each in given)


def paths_of(given: Any) -> list[Path]:
    return [Path(given)] if _is_path(given) else [Path(one) for one in given]


def sea_of(given: Any) -> Any:
    """An open forecast as it is, else the paths of its files."""
    from passage.inputs.forecast import Forecast

    return given if isinstance(given, Forecast) else tuple(paths_of(given))


def files_of_sea(given: Any) -> list[Path]:
    from passage.inputs.forecast import Forecast

    if isinstance(given, Forecast):
        return [file.file.path for file in given.files]
    return paths_of(given)


def file_of(given: Any) -> str:
    """The file that something was read from, if it still holds the same.

    Raises
    ------
    PassageError
        It was changed after reading, or was never a file.
    """
    if isinstance(given, Path):
        return str(given.absolute())
    from passage.inputs.route import Route
    from passage.inputs.route import read_route as route_of
    from passage.inputs.vessel import read_vessel as vessel_of

    read = route_of if isinstance(given, Route) else vessel_of
    if not given.path or not Path(given.path).exists() or read(Path(given.path)) != given:
        raise PassageError(
            f"{given.path or given.name}: was changed after it was read, and a season reads its "
            "files again. Write it to a file and give that."
        )
    return str(Path(given.path).absolute())


def all_there(routes: Iterable[Any], vessels: Iterable[Any], sea: Any) -> None:
    """Several files that do not exist in one message; the reader of a single one has its own.

    ``sea`` is the forecast as ``sea_of`` gives it. Patterns are left to its reader.

    Raises
    ------
    RouteError, VesselError, ForecastError
        By the first of the files that are missing.
    """
    from passage.errors import ForecastError, Problem, RouteError, VesselError, join_problems
    from passage.files import is_collection, named_part

    named: list[tuple[Any, type[PassageError]]] = [(each, RouteError) for each in routes]
    named += [(each, VesselError) for each in vessels]
    if isinstance(sea, tuple):
        named += [(each, ForecastError) for each in sea]

    def missing(path: Any) -> bool:
        try:
            return (
                isinstance(path, Path)
                and not is_collection(path)
                and not named_part(path)[0].exists()
            )
        except (OSError, ValueError):  # A name that no file can have: its reader says so.
            return False

    gone = {str(path): kind for path, kind in named if missing(path)}
    if len(gone) > 1:
        fix = "Check the name and the folder."
        problems = [Problem(file=name, what="does not exist", fix=fix) for name in gone]
        raise gone[problems[0].file](join_problems(problems))


def with_paths(more: Mapping[str, Any]) -> dict[str, Any]:
    """Options with their files as paths."""
    return {
        name: Path(value)
        if name in ("name_map", "responses", "moves", "record") and value is not None
        else value
        for name, value in more.items()
    }


def with_model(more: Mapping[str, Any]) -> dict[str, Any]:
    """Options with the user's numbers as an error model; checked."""
    if more.get("forecast_error") is None:
        return dict(more)
    from passage.planning.odds.own_numbers import own_model

    table = more["forecast_error"]
    if not isinstance(table, Mapping):
        raise PassageError("forecast_error must be a table of numbers; see docs/odds.md.")
    return {**more, "forecast_error": own_model(table)}


def reading_rules(forecast: Any, more: Mapping[str, Any]) -> None:
    from passage.inputs.forecast import Forecast

    wrong = [
        name for name in READING if more.get(name) and name not in ("harbour_nm", "harbour_sea")
    ]
    if isinstance(forecast, Forecast) and wrong:
        raise PassageError(
            f"{', '.join(wrong)}: belongs to open_forecast; the forecast given is already open."
        )


def plan_rules(
    start: float, end: float | None, speed_kn: float | None, hold: str | None, *, ease: bool
) -> None:
    if ease and hold == "ground":
        raise PassageError("ease changes the speed; it does not go with hold='ground'.")
    if end is not None and (speed_kn is not None or hold == "ground"):
        given = {"speed_kn": speed_kn is not None, "hold='ground'": hold == "ground"}
        named = " and ".join(name for name, there in given.items() if there)
        raise PassageError(f"arrive finds the speed; leave out {named}.")
    if end is not None and end <= start:
        raise PassageError("arrive is not after departure.")


def departures_of(given: Any, window: tuple[Any, Any, float] | None) -> tuple[float, ...]:
    """Times of leaving, in order."""
    single = isinstance(given, str) or not hasattr(given, "__iter__")
    times = {seconds_of(one, "departures") for one in ((given,) if single else given)}
    if window is not None:
        from passage.planning.compare.route import departures
        from passage.planning.compare.size import MAX_COMBINATIONS
        from passage.units import HOUR_S

        first, last = (seconds_of(part, "window") for part in window[:2])
        every_h = window[2]
        check({"every_h": every_h}, ("every_h",))
        if last < first:
            raise PassageError("window: the last departure is before the first.")
        if (last - first) / (HOUR_S * every_h) > MAX_COMBINATIONS:
            raise PassageError("window: too many departures. Give a longer step.")
        times |= set(departures(first, last, every_h))
    if not times:
        raise PassageError("no departure is given. Give departures or a window.")
    return tuple(sorted(times))


def under_way(
    route: Any, vessel: Any, start: tuple[float, float] | None, tanks: Mapping[str, float] | None
) -> tuple[Any, Any]:
    """Route and vessel as given; with a start or tanks, those of the rest of the passage."""
    if start is None and not tanks:
        return route, vessel
    from passage.planning.voyage.prepare import as_route, as_vessel
    from passage.planning.voyage.underway import from_here

    ship, way = from_here(as_vessel(vessel), as_route(route), start, tuple((tanks or {}).items()))
    return way, ship
