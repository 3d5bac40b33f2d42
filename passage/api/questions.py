"""The questions: read or take what is given, check the options, ask planning.

Vessel, route and forecast may each be a path or what was read from it. Times as
``times.seconds_of`` takes them. Words that a command would print beside its answer are
Python warnings here, or go to ``say``.
"""

from __future__ import annotations

import os
import tempfile
import warnings
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from passage.api import options as choices
from passage.api.options import PathLike, Say, check
from passage.api.results import (
    CompareResult,
    HeelResult,
    PlanResult,
    SeasonResult,
    SuggestResult,
)
from passage.api.times import first_of, last_of, seconds_of
from passage.errors import PassageError

if TYPE_CHECKING:
    from typing import Unpack

    from passage.inputs.forecast import Forecast
    from passage.inputs.route import Route
    from passage.inputs.vessel import Vessel

    Routes = "PathLike | Route | Iterable[PathLike | Route]"

_READING = tuple(choices.ReadingOptions.__annotations__)


def read_vessel(path: PathLike) -> Vessel:
    """Read and check a vessel file; what is unusual in it is warned of.

    Raises
    ------
    VesselError
        Everything wrong in the file at once.
    """
    from passage.inputs.vessel import read_vessel as read

    vessel = read(Path(path))
    for text in vessel.warnings:
        warnings.warn(text, stacklevel=2)
    return vessel


def read_route(path: PathLike) -> Route:
    """Read and check a route: CSV, GPX, GeoJSON or route exchange.

    Raises
    ------
    RouteError
        Everything wrong in the file at once.
    """
    from passage.inputs.route import read_route as read

    return read(Path(path))


def open_forecast(
    paths: PathLike | Iterable[PathLike],
    *,
    names: Mapping[str, str] | None = None,
    nearest_sea_cell_km: float | None = None,
    single_time_h: float = 0.0,
) -> Forecast:
    """Open forecast files as one; close it, or use it in a ``with`` statement.

    Parameters
    ----------
    paths : path or paths
        NetCDF, GRIB or Zarr; waves, wind, current and depth in any split.
    names : mapping, optional
        The user's word on variables, ``{"file variable": "our name"}``.
    nearest_sea_cell_km : float, optional
        Give points beside land the nearest sea cell within this distance. [km]
    single_time_h : float
        How long either side a file of one time may stand for. [h]

    Raises
    ------
    ForecastError
        Everything wrong with the files.
    """
    given = {"nearest_sea_cell_km": nearest_sea_cell_km, "single_time_h": single_time_h}
    check(given, given)
    from passage.inputs.forecast import open_forecast as open_files
    from passage.units import HOUR_S

    return open_files(
        _paths(paths),
        names=names,
        nearest_sea_cell_km=nearest_sea_cell_km,
        hold_single_step_s=single_time_h * HOUR_S,
    )


def plan(
    route: PathLike | Route,
    vessel: PathLike | Vessel,
    forecast: PathLike | Iterable[PathLike] | Forecast,
    *,
    departure: Any,
    speed_kn: float | None = None,
    arrive: Any = None,
    map_times: int = 6,
    say: Say | None = None,
    **more: Unpack[choices.PlanChoices],
) -> PlanResult:
    """Plan one passage: the sea on each leg, roll, comfort, fuel and cautions.

    Parameters
    ----------
    route, vessel, forecast
        Paths, or what ``read_route``, ``read_vessel`` and ``open_forecast`` gave.
    departure, arrive
        Time of leaving; with ``arrive`` the one speed that gets there then is found.
    speed_kn : float, optional
        For the whole passage, instead of the route's own. [kn]
    map_times : int
        Times of the sea drawn under the map of the page; 0 saves some time.
    **more
        Options as on the command line: ``hold``, ``fins``, ``heel``, ``ease``,
        ``minutes``, ``wave_method``, ``responses``, ``weighting``, and how files are read.

    Raises
    ------
    PassageError
        What is wrong with files or options, or that the forecast covers nothing.
    """
    check({**more, "speed_kn": speed_kn}, (*choices.PlanChoices.__annotations__, "speed_kn"))
    start = seconds_of(departure, "departure")
    end = None if arrive is None else seconds_of(arrive, "arrive")
    _plan_rules(start, end, speed_kn, more.get("hold"), ease=bool(more.get("ease")))
    _reading_rules(forecast, more)
    from passage.planning.plan.plan import PlanOptions, plan_files

    made = PlanOptions(departure_s=start, speed_kn=speed_kn, arrive_s=end, **_with_paths(more))
    return PlanResult(
        plan_files(
            _one(route), _one(vessel), _sea(forecast), made, say or _warn, map_times=map_times
        )
    )


def compare(
    routes: PathLike | Route | Iterable[PathLike | Route],
    vessel: PathLike | Vessel,
    forecast: PathLike | Iterable[PathLike] | Forecast,
    *,
    departures: Any = (),
    window: tuple[Any, Any, float] | None = None,
    speeds_kn: Iterable[float] = (),
    by_leg: bool = False,
    choose: str | None = None,
    arrive_by: Any = None,
    map_times: int = 6,
    say: Say | None = None,
    progress: Any = None,
    by_leg_progress: Any = None,
    **more: Unpack[choices.CompareChoices],
) -> CompareResult:
    """Compare routes over departures, speeds and fin use; name what cannot be bettered.

    Parameters
    ----------
    departures
        One time of leaving, or several.
    window
        First and last departure and the hours between: ``(first, last, 3.0)``.
    speeds_kn
        Speeds to compare; none: the routes' own. [kn]
    by_leg
        Also choose speeds leg by leg from ``speeds_kn``.
    choose
        The one to show in full: its number, or "least-fuel", "most-comfortable",
        "balanced".
    arrive_by
        Latest arrival.

    Raises
    ------
    PassageError
        As for ``plan``.
    """
    speeds = tuple(dict.fromkeys(float(s) for s in speeds_kn))
    check({**more, "speeds_kn": speeds}, (*choices.CompareChoices.__annotations__, "speeds_kn"))
    times = _departures(departures, window)
    if by_leg and len(speeds) < 2:
        raise PassageError("by_leg needs two speeds_kn or more.")
    _reading_rules(forecast, more)
    from passage.planning.compare.compare import CompareOptions
    from passage.planning.compare.files import CompareFiles, Wanted, compare_files

    given = _with_paths(more)
    reading = {name: given.pop(name) for name in (*_READING, "responses") if name in given}
    fins = given.pop("fins", "active")
    made = CompareOptions(
        departures_s=times,
        speeds_kn=speeds,
        fins=(fins,) if isinstance(fins, str) else tuple(fins),
        arrive_by_s=None if arrive_by is None else seconds_of(arrive_by, "arrive_by"),
        **given,
    )
    files = CompareFiles(_several(routes), _one(vessel), _sea(forecast), **reading)
    wanted = Wanted(choose=choose, by_leg=by_leg, map_times=map_times)
    return CompareResult(
        compare_files(
            files,
            made,
            wanted,
            say=say or _warn,
            progress=progress,
            by_leg_progress=by_leg_progress,
        )
    )


def heel(
    route: PathLike | Route,
    vessel: PathLike | Vessel,
    forecast: PathLike | Iterable[PathLike] | Forecast,
    *,
    departure: Any,
    speed_kn: float | None = None,
    no_transfer_legs: Iterable[int] = (),
    seconds: float = 20.0,
    say: Say | None = None,
    **more: Unpack[choices.HeelChoices],
) -> HeelResult:
    """Decide about steady heel leg by leg: fins, tanks, ballast, or leave it.

    Parameters
    ----------
    no_transfer_legs
        Numbers of legs, from 1, before which nothing may be moved.
    seconds
        Time the search for the best sequence may take. [s]
    **more
        What comfort and crew are worth (``HeelPrices``), ``minutes``, and how files are
        read.

    Raises
    ------
    PassageError
        As for ``plan``; a vessel with neither fins nor tanks.
    """
    said = {**more, "speed_kn": speed_kn, "seconds": seconds}
    check(said, (*choices.HeelChoices.__annotations__, "speed_kn", "seconds"))
    start = seconds_of(departure, "departure")
    _reading_rules(forecast, more)
    from passage.planning.heel.heel import HeelPrices, heel_files
    from passage.planning.plan.plan import PlanOptions

    given = _with_paths(more)
    reading = {name: given.pop(name) for name in (*_READING, "minutes") if name in given}
    return HeelResult(
        heel_files(
            _one(route),
            _one(vessel),
            _sea(forecast),
            PlanOptions(departure_s=start, speed_kn=speed_kn, **reading),
            HeelPrices(**given),
            no_transfer_legs=tuple(no_transfer_legs),
            say=say or _warn,
            seconds=seconds,
        )
    )


def season(
    routes: PathLike | Route | Iterable[PathLike | Route],
    vessel: PathLike | Vessel,
    hindcast: PathLike | Iterable[PathLike] | Forecast,
    *,
    first: Any,
    last: Any,
    every_h: float = 6.0,
    speeds_kn: Iterable[float] = (),
    folder: PathLike | None = None,
    name_map: PathLike | None = None,
    processes: int = 1,
    scheduler: str | None = None,
    say: Say | None = None,
    progress: Any = None,
    **more: Unpack[choices.SeasonChoices],
) -> SeasonResult:
    """Thousands of departures over past years: which months, which route, what odds.

    Parameters
    ----------
    routes, vessel, hindcast
        Paths, or what was read from them unchanged: workers read the files again.
    first, last
        First and last departure, as times or days ("2004-01-01").
    every_h
        Hours between departures. [h]
    folder
        Where finished blocks lie, so that a stopped run goes on; none: nowhere.
    processes
        Processes on this machine. With more than one, call it from under
        ``if __name__ == "__main__":``.

    Raises
    ------
    PassageError
        As for ``plan``; a folder that holds another run.
    """
    speeds = tuple(float(s) for s in speeds_kn)
    given = {**more, "speeds_kn": speeds, "every_h": every_h, "processes": processes}
    check(given, (*choices.SeasonChoices.__annotations__, "speeds_kn", "every_h", "processes"))
    from passage.planning.season.season import run_season
    from passage.planning.season.setup import SeasonFiles, SeasonOptions

    files = SeasonFiles(
        routes=tuple(_file_of(route) for route in _several(routes)),
        vessel=_file_of(_one(vessel)),
        forecasts=tuple(_file_of(path) for path in _sea_files(hindcast)),
        name_map=None if name_map is None else os.path.abspath(name_map),  # noqa: PTH100
    )
    made = SeasonOptions(
        from_s=first_of(first, "first"),
        to_s=last_of(last, "last"),
        every_h=every_h,
        speeds_kn=speeds,
        **more,
    )
    with tempfile.TemporaryDirectory(prefix="passage-season-") as own:
        where = Path(own) / "run" if folder is None else Path(folder)
        return SeasonResult(
            run_season(
                files,
                made,
                where,
                processes=processes,
                scheduler=scheduler,
                say=say or _warn,
                progress=progress,
            )
        )


def suggest(
    route: PathLike | Route,
    vessel: PathLike | Vessel,
    forecast: PathLike | Iterable[PathLike] | Forecast,
    *,
    departure: Any,
    speed_kn: float,
    arrive_by: Any = None,
    no_go: PathLike | None = None,
    say: Say | None = None,
    progress: Any = None,
    **more: Unpack[choices.SuggestChoices],
) -> SuggestResult:
    """Search a route from the first to the last waypoint; a suggestion to appraise.

    Parameters
    ----------
    no_go
        GeoJSON polygons to keep out of.
    **more
        ``objective`` "fuel" or "comfort", ``budget``, ``roll_limit_deg``, ``corridor_nm``,
        ``box``, ``margin_nm``, ``least_depth_m``, ``cell_nm``, ``longest``, ``fins``,
        ``heel``, ``wave_method``, and how files are read.

    Raises
    ------
    PassageError
        As for ``plan``; no way within the limits.
    """
    check({**more, "speed_kn": speed_kn}, (*choices.SuggestChoices.__annotations__, "speed_kn"))
    if more.get("budget") is not None and more.get("objective", "fuel") != "fuel":
        raise PassageError("budget goes with objective='fuel'.")
    start = seconds_of(departure, "departure")
    _reading_rules(forecast, more)
    from passage.errors import RouteError
    from passage.planning.suggest.closed import read_no_go
    from passage.planning.suggest.files import SearchFiles, suggest_files
    from passage.planning.suggest.search import SearchOptions

    given = _with_paths(more)
    names = (*_READING, "responses", "minutes")
    reading = {name: given.pop(name) for name in names if name in given}
    made = SearchOptions(
        departure_s=start,
        speed_kn=speed_kn,
        arrive_by_s=None if arrive_by is None else seconds_of(arrive_by, "arrive_by"),
        no_go=() if no_go is None else read_no_go(Path(no_go)),
        **given,
    )
    files = SearchFiles(_one(route), _one(vessel), _sea(forecast), **reading)
    try:
        return SuggestResult(suggest_files(files, made, say=say or _warn, progress=progress))
    except ValueError as err:
        raise RouteError(f"{err}.") from err


def _warn(text: str) -> None:
    warnings.warn(text, stacklevel=4)


def _is_path(given: Any) -> bool:
    return isinstance(given, (str, os.PathLike))


def _one(given: Any) -> Any:
    """A path as such, anything read as it is."""
    return Path(given) if _is_path(given) else given


def _several(given: Any) -> tuple[Any, ...]:
    """One or several paths or routes."""
    from passage.inputs.route import Route

    if _is_path(given) or isinstance(given, Route):
        given = (given,)
    return tuple(_one(one) for one in given)


def _paths(given: Any) -> list[Path]:
    return [Path(given)] if _is_path(given) else [Path(one) for one in given]


def _sea(given: Any) -> Any:
    """An open forecast as it is, else the paths of its files."""
    from passage.inputs.forecast import Forecast

    return given if isinstance(given, Forecast) else tuple(_paths(given))


def _sea_files(given: Any) -> list[Path]:
    from passage.inputs.forecast import Forecast

    if isinstance(given, Forecast):
        return [file.file.path for file in given.files]
    return _paths(given)


def _file_of(given: Any) -> str:
    """The file that something was read from, if it still says the same.

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


def _with_paths(more: Mapping[str, Any]) -> dict[str, Any]:
    """Options with their files as paths."""
    return {
        name: Path(value) if name in ("name_map", "responses") and value is not None else value
        for name, value in more.items()
    }


def _reading_rules(forecast: Any, more: Mapping[str, Any]) -> None:
    from passage.inputs.forecast import Forecast

    wrong = [name for name in _READING if more.get(name)]
    if isinstance(forecast, Forecast) and wrong:
        raise PassageError(
            f"{', '.join(wrong)}: say this to open_forecast; the forecast given is open already."
        )


def _plan_rules(
    start: float, end: float | None, speed_kn: float | None, hold: str | None, *, ease: bool
) -> None:
    if ease and hold == "ground":
        raise PassageError("ease changes the speed; it does not go with hold='ground'.")
    if end is not None and (speed_kn is not None or hold == "ground"):
        raise PassageError("arrive finds the speed; leave out speed_kn and hold='ground'.")
    if end is not None and end <= start:
        raise PassageError("arrive is not after departure.")


def _departures(given: Any, window: tuple[Any, Any, float] | None) -> tuple[float, ...]:
    """Times of leaving, in order."""
    single = isinstance(given, str) or not hasattr(given, "__iter__")
    times = {seconds_of(one, "departures") for one in ((given,) if single else given)}
    if window is not None:
        from passage.planning.compare.compare import MAX_COMBINATIONS
        from passage.planning.compare.route import departures
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
