"""The questions: read or take what is given, check the options, ask planning.

Vessel, route and forecast may each be a path or what was read from it. Times are as
``times.seconds_of`` takes them. Remarks that a command would print beside its answer are
Python warnings here, or go to ``say``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from passage.api import options as choices
from passage.api.given import (
    READING,
    all_there,
    departures_of,
    one,
    paths_of,
    plan_rules,
    reading_rules,
    sea_of,
    several,
    under_way,
    warn,
    with_model,
    with_paths,
)
from passage.api.options import PathLike, Say, check
from passage.api.results import (
    CompareResult,
    HeelResult,
    PlanResult,
    SuggestResult,
)
from passage.api.times import seconds_of
from passage.errors import PassageError

if TYPE_CHECKING:
    from typing import Unpack

    from passage.inputs.forecast import Forecast
    from passage.inputs.route import Route
    from passage.inputs.vessel import Vessel

    Routes = "PathLike | Route | Iterable[PathLike | Route]"


def plan(
    route: PathLike | Route,
    vessel: PathLike | Vessel,
    forecast: PathLike | Iterable[PathLike] | Forecast,
    *,
    departure: Any,
    start: tuple[float, float] | None = None,
    tanks: Mapping[str, float] | None = None,
    speed_kn: float | None = None,
    arrive: Any = None,
    map_times: int = 6,
    say: Say | None = None,
    **more: Unpack[choices.PlanChoices],
) -> PlanResult:
    """Plan one passage: the sea on each leg, roll, comfort, fuel and cautions.

    Parameters
    ----------
    start
        Where she is, latitude and longitude: the route is joined at its nearest point. [deg]
    tanks
        Contents now by the tank's name; the others are as in the vessel file. [m3]
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
        ``minutes``, ``wave_method``, ``responses``, ``weighting``, ``moves`` (a file of
        transfers), ``draws`` (64; 0 gives the plain plan without odds), ``forecast_error``
        (your numbers of the error model, see docs/odds.md), ``record`` (past passages,
        whose misses give the bands), and how files are read.

    Raises
    ------
    PassageError
        What is wrong with files or options, or that the forecast covers nothing.

    Examples
    --------
    >>> files = ["spring_waves.nc", "spring_wind.nc", "spring_current.nc"]
    >>> found = passage.plan("outside.csv", "brambling_may.toml", files,
    ...                      departure="2026-05-20T20:00Z", speed_kn=11, draws=0)
    >>> found.to_dataframe().distance_nm.round().tolist()
    [96.0, 137.0, 84.0, 20.0]
    """
    fins_given = "fins" in more
    rest = more.get("fins") == "needed"
    if rest:
        more["fins"] = "active"
    check({**more, "speed_kn": speed_kn}, (*choices.PlanChoices.__annotations__, "speed_kn"))
    leaves = seconds_of(departure, "departure")
    end = None if arrive is None else seconds_of(arrive, "arrive")
    plan_rules(leaves, end, speed_kn, more.get("hold"), ease=bool(more.get("ease")))
    reading_rules(forecast, more)
    sea = sea_of(forecast)
    all_there((one(route),), (one(vessel),), sea)
    if start is not None and more.get("moves") is not None:
        raise PassageError("moves counts the legs of the whole route; leave it out with start.")
    way, ship = under_way(one(route), one(vessel), start, tanks)
    from passage.planning.plan.plan import PlanOptions, plan_files

    made = PlanOptions(
        departure_s=leaves,
        speed_kn=speed_kn,
        arrive_s=end,
        heel_given="heel" in more,
        fins_given=fins_given,
        rest_fins=rest,
        **{"draws": choices.DRAWS, **with_paths(with_model(more))},
    )
    return PlanResult(plan_files(way, ship, sea, made, say or warn, map_times=map_times))


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
    """Compare routes over departures, speeds and fin use; name the best trade-offs.

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
    **more
        Options as on the command line; ``odds`` is the least chance [%] of keeping limits
        and constraints, by ``draws`` (64) of the forecast's and the model's errors or by the
        forecast's members.

    Raises
    ------
    PassageError
        As for ``plan``.

    Examples
    --------
    >>> files = ["spring_waves.nc", "spring_wind.nc", "spring_current.nc"]
    >>> found = passage.compare(["straight.csv", "outside.csv"], "brambling_may.toml", files,
    ...                         departures=["2026-05-20T08:00Z", "2026-05-20T20:00Z"],
    ...                         speeds_kn=[11])
    >>> found.to_dataframe().route.tolist()
    ['straight', 'straight', 'outside', 'outside']
    """
    speeds = tuple(dict.fromkeys(float(s) for s in speeds_kn))
    check({**more, "speeds_kn": speeds}, (*choices.CompareChoices.__annotations__, "speeds_kn"))
    times = departures_of(departures, window)
    if by_leg and len(speeds) < 2:
        raise PassageError("by_leg needs two speeds_kn or more.")
    reading_rules(forecast, more)
    ways, sea = several(routes), sea_of(forecast)
    all_there(ways, (one(vessel),), sea)
    from passage.planning.compare.compare import CompareOptions
    from passage.planning.compare.files import CompareFiles, Wanted, compare_files

    given = {"draws": choices.DRAWS, **with_paths(with_model(more))}
    names = (*READING, "responses", "newest_run")
    reading = {name: given.pop(name) for name in names if name in given}
    fins = given.pop("fins", "active")
    made = CompareOptions(
        departures_s=times,
        speeds_kn=speeds,
        fins=(fins,) if isinstance(fins, str) else tuple(fins),
        arrive_by_s=None if arrive_by is None else seconds_of(arrive_by, "arrive_by"),
        **given,
    )
    files = CompareFiles(ways, one(vessel), sea, **reading)
    wanted = Wanted(choose=choose, by_leg=by_leg, map_times=map_times)
    return CompareResult(
        compare_files(
            files,
            made,
            wanted,
            say=say or warn,
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
    start: tuple[float, float] | None = None,
    tanks: Mapping[str, float] | None = None,
    speed_kn: float | None = None,
    no_transfer_legs: Iterable[int] = (),
    transfer_every_h: float | None = None,
    hold: str = "water",
    seconds: float = 20.0,
    say: Say | None = None,
    **more: Unpack[choices.HeelChoices],
) -> HeelResult:
    """Decide about steady heel leg by leg: fins, tanks, ballast, or leave it.

    Parameters
    ----------
    start
        Where she is, latitude and longitude: the route is joined at its nearest point. [deg]
    tanks
        Contents now by the tank's name; the others are as in the vessel file. [m3]
    no_transfer_legs
        Numbers of legs, from 1, before which nothing may be moved.
    transfer_every_h
        Allow a transfer at this interval besides those before legs. [h]
    hold
        What stays constant, "water", "ground" or "fuel" as in ``plan``; with
        "fuel" an offset costs time, and its price is shown in minutes and miles.
    seconds
        Time the search for the best sequence may take. [s]
    **more
        What comfort and crew are worth (``HeelPrices``), ``minutes``, ``odds`` (least
        chance of keeping the heel limit that the advice may have, 80 %), ``draws``
        (64; 0 for none), ``forecast_error``, and how files are read.

    Raises
    ------
    PassageError
        As for ``plan``; a vessel with neither fins nor tanks.

    Examples
    --------
    >>> files = ["spring_waves.nc", "spring_wind.nc", "spring_current.nc"]
    >>> advice = passage.heel("outside.csv", "brambling_may.toml", files,
    ...                       departure="2026-05-20T20:00Z", speed_kn=11)
    >>> bool((advice.policies().fuel_l >= 0.0).all())
    True
    """
    options = {**more, "speed_kn": speed_kn, "seconds": seconds, "hold": hold}
    check(options, (*choices.HeelChoices.__annotations__, "speed_kn", "seconds", "hold"))
    leaves = seconds_of(departure, "departure")
    reading_rules(forecast, more)
    sea = sea_of(forecast)
    all_there((one(route),), (one(vessel),), sea)
    way, ship = under_way(one(route), one(vessel), start, tanks)
    from passage.planning.heel.heel import HeelPrices, heel_files
    from passage.planning.plan.plan import PlanOptions

    given = {"draws": choices.DRAWS, **with_paths(with_model(more))}
    doubt = (*READING, "minutes", "draws", "forecast_error")
    reading = {name: given.pop(name) for name in doubt if name in given}
    odds = given.pop("odds", None)
    return HeelResult(
        heel_files(
            way,
            ship,
            sea,
            PlanOptions(departure_s=leaves, speed_kn=speed_kn, hold=hold, **reading),
            HeelPrices(**given),
            no_transfer_legs=tuple(no_transfer_legs),
            transfer_every_h=transfer_every_h,
            say=say or warn,
            seconds=seconds,
            odds=odds,
        )
    )


def suggest(
    route: PathLike | Route,
    vessel: PathLike | Vessel,
    forecast: PathLike | Iterable[PathLike] | Forecast,
    *,
    departure: Any,
    speed_kn: float | Sequence[float],
    arrive_by: Any = None,
    no_go: PathLike | Iterable[PathLike] | None = None,
    say: Say | None = None,
    progress: Any = None,
    map_times: int = 6,
    **more: Unpack[choices.SuggestChoices],
) -> SuggestResult:
    """Search a route from the first to the last waypoint; a suggestion to appraise.

    Parameters
    ----------
    departure, speed_kn
        One or a list: every pair is tried along the route and the great circle, and the
        best are searched. [kn]
    no_go
        Files of GeoJSON polygons to keep out of, one or several.
    map_times : int
        Times at which the page's map shows the sea; 0 for none.
    **more
        ``objective`` "fuel" or "comfort", ``budget``, ``roll_limit_deg``, ``corridor_nm``,
        ``box``, ``margin_nm``, ``least_depth_m``, ``cell_nm``, ``longest``, ``fins``,
        ``heel``, ``wave_method``, ``daylight``, ``by_leg`` (speeds chosen leg by leg along what
        is found), ``odds`` (least chance to keep what is asked), ``draws`` (64: the
        finalist with the least mean over them is taken; 0: by the forecast alone),
        ``forecast_error``, and how files are read.

    Raises
    ------
    PassageError
        As for ``plan``; no way within the limits.
    """
    speeds = tuple(speed_kn) if isinstance(speed_kn, (list, tuple)) else (speed_kn,)
    if not speeds:
        raise PassageError("give one speed_kn or more.")
    for speed in speeds:
        check({**more, "speed_kn": speed}, (*choices.SuggestChoices.__annotations__, "speed_kn"))
    if more.get("budget") is not None and more.get("objective", "fuel") != "fuel":
        raise PassageError("budget goes with objective='fuel'.")
    if more.get("by_leg") and len(set(speeds)) < 2:
        raise PassageError("by_leg needs two speeds or more.")
    given_times = departure if isinstance(departure, (list, tuple)) else [departure]
    if not given_times:
        raise PassageError("give one departure or more.")
    times = tuple(seconds_of(one, "departure") for one in given_times)
    reading_rules(forecast, more)
    sea = sea_of(forecast)
    all_there((one(route),), (one(vessel),), sea)
    from passage.errors import RouteError
    from passage.planning.suggest.closed import read_no_go
    from passage.planning.suggest.files import SearchFiles, suggest_files
    from passage.planning.suggest.search import SearchOptions
    from passage.planning.suggest.window import Window

    given = {"draws": choices.DRAWS, **with_paths(with_model(more))}
    names = (*READING, "responses", "minutes")
    reading = {name: given.pop(name) for name in names if name in given}
    unused: list[str] = []
    made = SearchOptions(
        departure_s=times[0],
        speed_kn=speeds[0],
        arrive_by_s=None if arrive_by is None else seconds_of(arrive_by, "arrive_by"),
        no_go=tuple(
            area for path in paths_of(no_go or ()) for area in read_no_go(path, unused.append)
        ),
        **given,
    )
    files = SearchFiles(one(route), one(vessel), sea, remarks=tuple(unused), **reading)
    try:
        return SuggestResult(
            suggest_files(
                files,
                made,
                window=Window(times, speeds),
                say=say or warn,
                progress=progress,
                map_times=map_times,
            )
        )
    except ValueError as err:
        raise RouteError(f"{err}.") from err
