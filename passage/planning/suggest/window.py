"""A window of departures and speeds: weighed along known routes, the best of them searched."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from passage.errors import NoCoverage, RouteError
from passage.inputs.route import Route
from passage.planning.compare.work import in_threads
from passage.planning.suggest.best import (
    best_route,
    closed_between,
    straight_route,
    weighed,
)
from passage.planning.suggest.cost import Shared
from passage.planning.suggest.judge import Judged, judge
from passage.planning.suggest.search import Found, Progress, SearchOptions
from passage.units import knots_to_m_s

if TYPE_CHECKING:
    from passage.inputs.forecast import Forecast
    from passage.planning.voyage.yacht import Yacht

#: Pairs of departure and speed that get a search of their own.
SEARCHED = 3


@dataclass(frozen=True)
class Window:
    """Times of leaving and speeds to choose from; one of each is no window."""

    departures_s: tuple[float, ...]
    speeds_kn: tuple[float, ...]

    @property
    def pairs(self) -> int:
        """Number of combinations."""
        return len(self.departures_s) * len(self.speeds_kn)


def best_of_window(
    yacht: Yacht,
    given: Route,
    forecast: Forecast,
    options: SearchOptions,
    window: Window,
    *,
    minutes: float = 20.0,
    progress: Progress | None = None,
) -> tuple[Found, SearchOptions]:
    """The best route of the best departures and speeds, with its departure and speed.

    Every pair is computed along the route given and the great circle, as a comparison
    would; the `SEARCHED` best pairs are then searched. So the answer is never dearer than
    the best open departure and speed of the route given.

    Raises
    ------
    RouteError, NoCoverage
        None of those searched has a way; the reason of the first.
    """
    if window.pairs == 1:
        return best_route(
            yacht, given, forecast, options, minutes=minutes, progress=progress
        ), options
    ranked = _ranked(yacht, given, forecast, options, window, minutes)
    made: list[tuple[Found, SearchOptions]] = []
    first: RouteError | NoCoverage | None = None
    shared = Shared()
    for _, price, departure, speed in ranked[:SEARCHED]:
        if not np.isfinite(price):
            continue
        asked = replace(options, departure_s=departure, speed_kn=speed)
        try:
            found = best_route(
                yacht, given, forecast, asked, minutes=minutes, progress=progress, weigh=False,
                shared=shared, beat=min((one.price(options.objective) for one, _ in made),
                                        default=np.inf),
            )  # fmt: skip
        except (RouteError, NoCoverage) as err:
            first = first or err
            continue
        made.append((found, asked))
    if not made:
        raise first or NoCoverage(
            "the forecast covers no departure of the window from end to end: check its area and "
            "hours with `passage check`."
        )
    best, asked = min(made, key=lambda one: one[0].price(options.objective))
    best = weighed(yacht, best, forecast, asked, minutes=minutes, progress=progress)
    open_ = sum(not shut for shut, *_ in ranked)
    note = (
        f"{window.pairs} pairs of departure and speed were computed along your route and the great "
        f"circle, {open_} of them open; the best {min(SEARCHED, len(ranked))} were searched, one "
        "speed all the way, waiting only before leaving."
    )
    return replace(best, notes=(*best.notes, note)), asked


def _ranked(
    yacht: Yacht,
    given: Route,
    forecast: Forecast,
    options: SearchOptions,
    window: Window,
    minutes: float,
) -> list[tuple[bool, float, float, float]]:
    """Closed, price, departure and speed of every pair, the best first."""
    start, end = given.waypoints[0], given.waypoints[-1]
    closed = closed_between(start, end, forecast, options)
    asked = [replace(options, speed_kn=speed) for speed in window.speeds_kn]
    yacht.pin(*(float(knots_to_m_s(speed)) for speed in window.speeds_kn))
    routes = (given, straight_route(start, end))

    def sail(pair: tuple[SearchOptions, Route]) -> list[Judged]:
        return judge(
            yacht, pair[1], forecast, pair[0], closed, departures_s=window.departures_s,
            minutes=minutes, own=given.legs,
        )  # fmt: skip

    made = in_threads([(one, route) for one in asked for route in routes], sail)
    rows = []
    for i, speed in enumerate(window.speeds_kn):
        by_route = made[i * len(routes) : (i + 1) * len(routes)]
        for column in zip(*by_route, strict=True):
            best = min((bool(one.faults), _price(one, options)) for one in column)
            rows.append((*best, column[0].departure_s, speed))
    return sorted(rows)


def _price(one: Judged, options: SearchOptions) -> float:
    price = one.price(options.objective)
    return price if np.isfinite(price) else np.inf
