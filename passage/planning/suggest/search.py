"""Search for a route: the time-dependent least-cost path within a corridor.

The answer is exact on its graph (`suggest.paths`), which is a grid: routes between its
lines are not considered. The coast is only as fine as the coastline data, and rocks,
traffic schemes and restricted waters are not taken into account: the result is a
suggestion to appraise on the chart, not navigated water.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from passage.errors import NoCoverage, RouteError
from passage.inputs.coast.coastline import legs_over_land
from passage.inputs.forecast.soundings import LeastDepth, depth_grid_words
from passage.inputs.route import Route, Waypoint, build_route
from passage.inputs.route.geometry import great_circle_inverse
from passage.planning.plan.partial import reach_of_masked_km, remedy_words
from passage.planning.suggest.closed import STEP_NM, Closed, NoGo
from passage.planning.suggest.cost import EdgeTable, Shared, edge_table, plan_choices
from passage.planning.suggest.grid import GRID_ERROR, Graph, GridPlan, make_graph
from passage.planning.suggest.paths import STEP_S, Path, Search, earliest_and_latest
from passage.planning.suggest.refusals import (
    not_joined,
    over_budget,
    over_roll_limit,
    too_early,
)
from passage.planning.voyage.steps import Progress, stage
from passage.units import HOUR_S, knots_to_m_s, m_to_nm
from passage.variables import COVERAGE

if TYPE_CHECKING:
    from passage.inputs.forecast import Forecast
    from passage.planning.suggest.bound import Bound
    from passage.planning.suggest.expected import Expected
    from passage.planning.suggest.judge import Judged
    from passage.planning.voyage.yacht import Yacht

Array = npt.NDArray[np.float64]

#: Part of the name of every suggested route.
LABEL = "suggestion to appraise, not navigated water"
WARNING = (
    "A suggestion to appraise on the chart, not navigated water: it knows no rocks, shoals, "
    "traffic schemes or restricted areas, and only a coarse coast."
)
#: Longest leg made from straight pieces, so that rhumb lines stay near the grid's line. [nm]
_LONGEST_LEG_NM = 60.0
#: Number of cells from start to end, unless the cell size is given.
_CELLS = 40


@dataclass(frozen=True)
class SearchOptions:
    """Options of a search.

    ``objective`` is "fuel" (with ``budget``, in degree hours of significant roll, the least
    within it) or "comfort" (least degree hours). ``roll_limit_deg`` closes water where she
    would roll more. ``longest`` is the longest time allowed, as a multiple of the great
    circle's. With ``daylight`` she arrives between sunrise and sunset; with ``odds`` [%] a
    finalist must keep what is asked with that chance; with ``by_leg`` the speeds of the
    best route are chosen leg by leg, and ``leg_speeds_kn`` holds the result.
    """

    departure_s: float
    speed_kn: float
    objective: str = "fuel"
    budget: float | None = None
    roll_limit_deg: float | None = None
    corridor_nm: float = 60.0
    box: tuple[float, float, float, float] | None = None
    margin_nm: float = 3.0
    cell_nm: float | None = None
    longest: float = 1.3
    arrive_by_s: float | None = None
    fins: str = "active"
    heel: str = "fins"
    wave_method: str = "all-heading"
    least_depth_m: float | None = None
    no_go: tuple[NoGo, ...] = ()
    draws: int = 0
    forecast_error: Any = None
    odds: float | None = None
    daylight: bool = False
    by_leg: bool = False
    leg_speeds_kn: tuple[float, ...] = ()

    @property
    def speed_words(self) -> str:
        """``10 kn``, or the speeds of the legs."""
        if self.leg_speeds_kn:
            return f"{', '.join(f'{s:g}' for s in self.leg_speeds_kn)} kn by leg"
        return f"{self.speed_kn:g} kn"

    @property
    def aim(self) -> str:
        """The objective in words."""
        if self.objective == "comfort":
            return "least roll"
        if self.budget is not None:
            return f"least fuel within {self.budget:g} degree hours of roll"
        return "least fuel"


@dataclass(frozen=True, eq=False)
class Found:
    """The route found, the candidates, and the size of the search.

    ``path`` is the grid's answer, None where there is none. ``candidates`` are all routes
    computed along their tracks, ``best`` the name of the chosen one; ``expected`` are the
    finalists over the draws or members of ``odds_source``; ``bound`` is the least that any
    path over the grid takes; where there is none ``no_bound`` is the reason.
    """

    route: Route
    path: Path | None
    nodes: int
    edges: int
    cell_nm: float
    notes: tuple[str, ...]
    candidates: dict[str, Judged] = field(default_factory=dict)
    best: str = ""
    expected: dict[str, Expected] = field(default_factory=dict)
    odds_source: str = ""
    bound: Bound | None = None
    no_bound: str = ""

    def price(self, objective: str) -> float:
        """Mean price of the best over the draws; without draws, by the forecast as it is."""
        if self.best in self.expected:
            return self.expected[self.best].price
        return self.candidates[self.best].price(objective)

    def key(self, objective: str) -> tuple[bool, bool, float]:
        """Sort key of the best, by the forecast as it is (see `Judged.key`)."""
        return self.candidates[self.best].key(objective)


def grid_plan(
    start: tuple[float, float], end: tuple[float, float], options: SearchOptions
) -> GridPlan:
    """Position and size of the grid for these options."""
    distance_m, _ = great_circle_inverse(*start, *end)
    distance_nm = float(m_to_nm(distance_m))
    cell = options.cell_nm or max(distance_nm / _CELLS, 1.0)
    return GridPlan(start, end, cell, options.corridor_nm, options.box)


def search_route(
    yacht: Yacht,
    start: Waypoint,
    end: Waypoint,
    forecast: Forecast,
    options: SearchOptions,
    *,
    shared: Shared | None = None,
    progress: Progress | None = None,
    reason: bool = True,
) -> Found:
    """Search a route from start to end on an open forecast.

    ``shared`` has data from searches of other departures, speeds and limits.
    Without ``reason`` it is not found out why there is no way, which takes further searches.

    Raises
    ------
    RouteError
        There is no route within the corridor, the time, the roll limit or the budget.
    NoCoverage
        The forecast has no sea on the grid.
    """
    ends = ((start.lat_deg, start.lon_deg), (end.lat_deg, end.lon_deg))
    plan = grid_plan(*ends, options)
    shared = shared or Shared()
    if shared.graph is None:
        shared.graph = make_graph(plan, closed_for(ends, forecast, options))
    graph = shared.graph
    stage(progress, "prices of the grid")
    search, table = prepare_search(
        yacht, graph, forecast, options, shared=shared, progress=progress
    )
    stage(progress, "searching the grid")
    path = _solve(search, options) if _joined(graph, table, options) else None
    if path is None and not reason:
        raise RouteError("no way within the limits.")
    if path is None:
        raise _no_way(graph, table, search, options, forecast)
    route = route_of(graph, path, start, end, options)
    notes = [WARNING, _quality(graph, plan, path)]
    if options.least_depth_m is not None and (words := depth_grid_words(forecast)):
        notes.append(words)
    for crossing in legs_over_land(route):
        if not crossing.only_at_ends:
            notes.append(f"{crossing.text}: move the waypoints before using it.")
    return Found(route, path, int(graph.lat_deg.size), graph.edges, plan.cell_nm, tuple(notes))


def closed_for(
    ends: tuple[tuple[float, float], tuple[float, float]],
    forecast: Forecast,
    options: SearchOptions,
) -> Closed:
    """Water closed by the options: land with its margin, no-go areas, shallows."""
    # Lines are tested at points `STEP_NM` apart.
    depths = None
    if options.least_depth_m is not None:
        depths = LeastDepth(forecast, 0.5 * STEP_NM)
    return Closed(options.margin_nm, ends, options.no_go, options.least_depth_m, depths)


def prepare_search(
    yacht: Yacht,
    graph: Graph,
    forecast: Forecast,
    options: SearchOptions,
    *,
    shared: Shared | None = None,
    progress: Progress | None = None,
) -> tuple[Search, EdgeTable]:
    """Prices of all edges over the times she may be on them, ready to search.

    Raises
    ------
    RouteError
        Start and end are not joined by the graph.
    """
    key = replace(options, roll_limit_deg=None, budget=None, objective="fuel")
    if shared is not None and shared.last is not None and shared.last[0] == key:
        return shared.last[1]
    speed = float(knots_to_m_s(options.speed_kn))
    yacht.pin(speed)
    distance_m, _ = great_circle_inverse(
        graph.lat_deg[0], graph.lon_deg[0], graph.lat_deg[1], graph.lon_deg[1]
    )
    most_s = options.longest * float(distance_m) / speed
    arrive = options.departure_s + most_s
    if options.arrive_by_s is not None:
        arrive = min(arrive, options.arrive_by_s)
    fastest = speed + _strongest_current(graph, forecast, options.departure_s, arrive)
    if graph.edges:
        # Rounding to whole steps may make her faster by this factor.
        fastest *= 1.0 + 0.5 * STEP_S * fastest / float(graph.length_m.min())
    earliest, latest = earliest_and_latest(graph, options.departure_s, arrive, fastest)
    if not np.isfinite(earliest[1]):
        raise not_joined(graph, forecast, options)
    if options.arrive_by_s is not None and earliest[1] > options.arrive_by_s:
        raise too_early(float(earliest[1]), options)
    table = edge_table(
        yacht,
        graph,
        forecast,
        departure_s=options.departure_s,
        speed_m_s=speed,
        earliest_s=earliest,
        latest_s=latest,
        choices=plan_choices(yacht, options.fins, options.heel, options.wave_method),
        lattice_nm=options.cell_nm or max(float(m_to_nm(distance_m)) / _CELLS, 1.0),
        end_s=_covered_until(graph, forecast, options.departure_s, arrive),
        shared=shared,
        progress=progress,
    )
    last_step = max(0, int(np.floor((arrive - options.departure_s) / STEP_S)))
    made = Search(graph, table, last_step, earliest, latest), table
    if shared is not None:
        shared.last = (key, made)
    return made


def _strongest_current(graph: Graph, forecast: Forecast, from_s: float, to_s: float) -> float:
    """The strongest current on the graph, with a tenth more for places between. [m/s]"""
    times = np.arange(from_s, to_s + HOUR_S, HOUR_S)
    sky = forecast.sample(graph.lat_deg[None, :], graph.lon_deg[None, :], times[:, None])
    drift = np.hypot(sky.current_u_m_s, sky.current_v_m_s)
    return 1.1 * float(np.nanmax(drift)) if np.any(np.isfinite(drift)) else 0.0


def _covered_until(graph: Graph, forecast: Forecast, from_s: float, to_s: float) -> float:
    """Time to which the forecast reaches at the start, to a minute; infinite past ``to_s``. [s]"""
    times = np.arange(from_s, to_s + STEP_S, STEP_S)
    code = forecast.sample(graph.lat_deg[:1], graph.lon_deg[:1], times).coverage
    after = np.asarray(code) == COVERAGE.index("after_forecast")
    return float(times[np.argmax(after)] - STEP_S) if after.any() else np.inf


def _joined(graph: Graph, table: EdgeTable, options: SearchOptions) -> bool:
    """Whether start and end are joined by edges that keep the roll limit at some time."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import breadth_first_order

    if options.roll_limit_deg is None:
        return True
    worst = table.roll_deg if table.worst_deg is None else table.worst_deg
    rows = np.repeat(np.arange(graph.edges), np.diff(table.offset))
    good = np.unique(rows[worst <= options.roll_limit_deg])
    size = graph.lat_deg.size
    ends = (graph.tail[good], graph.head[good])
    net = coo_array((np.ones(good.size), ends), shape=(size, size)).tocsr()
    return 1 in breadth_first_order(net, 0, return_predecessors=False)


def _solve(search: Search, options: SearchOptions) -> Path | None:
    cap = np.inf if options.roll_limit_deg is None else options.roll_limit_deg
    if options.objective == "comfort":
        # The small weight of fuel only settles ties between paths of equal roll.
        return search.best(1e-5, 1.0, cap)
    if options.budget is None:
        return search.best(1.0, 1e-9, cap)
    return search.within_budget(options.budget, cap)


def _ends_words(graph: Graph, forecast: Forecast, options: SearchOptions) -> str:
    """The remedy where the forecast has no sea at start or end; else empty."""
    lat, lon = graph.lat_deg[:2], graph.lon_deg[:2]
    code = forecast.sample(lat, lon, options.departure_s).coverage
    reach_km = reach_of_masked_km(forecast, lat, lon, code, np.full(2, options.departure_s))
    words = remedy_words(reach_km)
    return f" It has no sea at the start or the end:{words}" if words else ""


def _no_way(
    graph: Graph, table: EdgeTable, search: Search, options: SearchOptions, forecast: Forecast
) -> RouteError | NoCoverage:
    if not np.any(np.isfinite(table.fuel_l)):
        because = forecast.own_range or "check its area and hours with `passage check FILE`."
        return NoCoverage(f"the forecast gives nothing on the grid: {because}")
    if search.best(1.0, 0.0) is None:
        by = ", and --arrive-by" if options.arrive_by_s is not None else ""
        return RouteError(
            "no route is covered by the forecast from end to end within the time allowed "
            f"({options.longest:g} times the great circle's{by}). Allow more time, or fetch a "
            f"larger or longer forecast.{_ends_words(graph, forecast, options)}"
        )
    cap = np.inf if options.roll_limit_deg is None else options.roll_limit_deg
    smoothest = search.best(0.0, 1.0, cap)
    if smoothest is None:
        return over_roll_limit(options)
    return over_budget(smoothest.roll_hours, options)


def _quality(graph: Graph, plan: GridPlan, path: Path) -> str:
    return (
        f"Exact on a grid of {graph.lat_deg.size} nodes, {plan.cell_nm:.1f} nm apart, with 48 "
        f"headings (at most {100 * (GRID_ERROR - 1):.1f} % longer than the straight line). Fuel "
        f"and roll are summed over every mile of its {len(path.edges)} edges, from values at "
        "places as far apart, every 15 degrees of heading and every 3 hours. No waiting on the "
        "way."
    )


def route_of(
    graph: Graph, path: Path, start: Waypoint, end: Waypoint, options: SearchOptions
) -> Route:
    """The path as a route of rhumb legs; straight pieces are joined up to 60 nm."""
    keep = []
    run_nm = 0.0
    for before, after in zip(path.edges[:-1], path.edges[1:], strict=True):
        run_nm += float(m_to_nm(graph.length_m[before]))
        next_nm = float(m_to_nm(graph.length_m[after]))
        straight = graph.move[before] == graph.move[after] != 0
        if not straight or run_nm + next_nm > _LONGEST_LEG_NM:
            keep.append(int(graph.head[before]))
            run_nm = 0.0
    points = [
        Waypoint(
            name=f"{i}",
            lat_deg=round(float(graph.lat_deg[n]), 5),
            lon_deg=round(float(graph.lon_deg[n]), 5),
            speed_kn=options.speed_kn,
        )
        for i, n in enumerate(keep, 1)
    ]
    first = Waypoint(name=start.name, lat_deg=start.lat_deg, lon_deg=start.lon_deg)
    last = Waypoint(
        name=end.name, lat_deg=end.lat_deg, lon_deg=end.lon_deg, speed_kn=options.speed_kn
    )
    return build_route(
        "suggested route", f"{options.aim} ({LABEL})", [first, *points, last], notes=(WARNING,)
    )
