"""A window of departures and speeds: computed along known routes, and the best searched."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from passage.errors import NoCoverage, RouteError
from passage.inputs.route import Route
from passage.planning.suggest.best import (
    best_route,
    holds,
    weighed,
)
from passage.planning.suggest.by_leg import BY_LEG, by_leg
from passage.planning.suggest.case import Case, closed_between, straight_route
from passage.planning.suggest.cost import Shared
from passage.planning.suggest.judge import Judged, judge, share_over
from passage.planning.suggest.refusals import unlikely
from passage.planning.suggest.sailable import reasons, sailable
from passage.planning.suggest.search import Found, Progress, SearchOptions
from passage.planning.voyage.steps import stage
from passage.planning.voyage.threads import in_threads
from passage.units import knots_to_m_s, utc_text

if TYPE_CHECKING:
    from passage.inputs.forecast import Forecast
    from passage.planning.voyage.yacht import Yacht

#: Pairs of departure and speed that are searched.
SEARCHED = 3
#: Further pairs that are searched where the first give no answer, or their odds are too low.
WEIGHED = 9


@dataclass(frozen=True)
class Window:
    """Departures [s since 1970] and speeds [kn] to choose from."""

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

    Every pair is computed along the route given and the great circle, as in a comparison;
    the `SEARCHED` best pairs are then searched. So the answer never costs more than the
    best open departure and speed of the route given. Pairs that keep the vessel's limits
    come before others. With ``options.by_leg`` speeds are then chosen leg by leg; with
    ``options.odds`` results are computed over the draws in order of price until one has
    these odds.

    Raises
    ------
    RouteError, NoCoverage
        No search finds a route (with the reason of the first), or the odds are too low.
    """
    ranked = _ranked(yacht, given, forecast, options, window, minutes) if window.pairs > 1 else []
    pairs = [(one.departure_s, one.speed_kn) for one in ranked if np.isfinite(one.key[2])]
    if window.pairs == 1:
        pairs = [(window.departures_s[0], window.speeds_kn[0])]
    made: list[tuple[Found, SearchOptions]] = []
    first: RouteError | NoCoverage | None = None
    shared = Shared()

    def searched(pair: tuple[float, float]) -> tuple[Found, SearchOptions]:
        asked = replace(options, departure_s=pair[0], speed_kn=pair[1])
        found = best_route(
            yacht, given, forecast, asked, minutes=minutes, progress=progress, weigh=False,
            shared=shared,
            beat=min((one.key(options.objective) for one, _ in made), default=None),
        )  # fmt: skip
        return found, asked

    def case_of(asked: SearchOptions) -> Case:
        return Case(yacht, forecast, asked, given, minutes, Shared())

    def simple(one: tuple[Found, SearchOptions]) -> tuple[Found, SearchOptions]:
        if one[0].best == BY_LEG:
            return one
        stage(progress, "leaving out waypoints")
        return sailable(one[0], case_of(one[1])), one[1]

    for number, pair in enumerate(pairs[: SEARCHED + WEIGHED]):
        if number >= SEARCHED and made:
            break
        try:
            made.append(searched(pair))
        except (RouteError, NoCoverage) as err:
            first = first or err
    if not made:
        raise first or NoCoverage(
            "the forecast covers no departure of the window from end to end: check its area and "
            "hours with `passage check`."
        )
    made.sort(key=lambda one: one[0].key(options.objective))
    notes: tuple[str, ...] = ()
    if ranked:
        notes = (_window_words(ranked, window, options),)
    if options.by_leg:
        made[0] = simple(made[0])
        more, words = by_leg(yacht, given, made[0], forecast, window, minutes, progress)
        made = sorted([*more, *made], key=lambda one: one[0].key(options.objective))
        notes = (*notes, *words)

    def finish(one: tuple[Found, SearchOptions]) -> tuple[Found, SearchOptions]:
        one = simple(one)
        best = weighed(yacht, one[0], forecast, one[1], minutes=minutes, progress=progress)
        asked = one[1] if best.best == BY_LEG else replace(one[1], leg_speeds_kn=())
        words = reasons(best, case_of(asked))
        # What was chosen from, then the way, then what the search does not know.
        return replace(best, notes=(*notes, *words, *best.notes)), asked

    if options.odds is None:
        return finish(made[0])
    return _likely(options.odds, made, pairs[SEARCHED:], searched, finish)


def _likely(
    odds: float,
    made: Sequence[tuple[Found, SearchOptions]],
    others: Sequence[tuple[float, float]],
    searched: Callable[[tuple[float, float]], tuple[Found, SearchOptions]],
    finish: Callable[[tuple[Found, SearchOptions]], tuple[Found, SearchOptions]],
) -> tuple[Found, SearchOptions]:
    """The first result, by price, whose best finalist has the odds asked for.

    Raises
    ------
    RouteError
        None has, or the odds are not known.
    """
    best: tuple[float, str] | None = None
    tried = 0
    steps = [
        *(partial(finish, one) for one in made),
        *(partial(lambda pair: finish(searched(pair)), pair) for pair in others[:WEIGHED]),
    ]
    for step in steps:
        try:
            found, asked = step()
        except (RouteError, NoCoverage):
            continue
        tried += 1
        if found.best in found.expected and holds(found.expected[found.best], odds):
            return found, asked
        for name, one in found.expected.items():
            if one.odds is not None and (best is None or one.odds > best[0]):
                best = one.odds, f"{name}, leaving {utc_text(asked.departure_s)} at " \
                    f"{asked.speed_words}"  # fmt: skip
    raise unlikely(odds, tried, best)


@dataclass(frozen=True)
class _Ranked:
    """A pair of departure and speed, with the sort key of the better known route.

    ``over`` is the share by which it is over the budget or limit of roll asked for.
    """

    at_wrong_time: bool
    over: float
    key: tuple[bool, bool, float]
    departure_s: float
    speed_kn: float


def _window_words(ranked: Sequence[_Ranked], window: Window, options: SearchOptions) -> str:
    open_ = sum(not one.key[0] for one in ranked)
    within = sum(not one.key[0] and not one.key[1] for one in ranked)
    missing = sum(not np.isfinite(one.key[2]) for one in ranked)
    beyond = f", {missing} not known (not covered by the forecast)" if missing else ""
    speeds = "speeds by leg among them, " if options.by_leg else "one speed all the way, "
    return (
        f"{window.pairs} pairs of departure and speed were computed along your route and the great "
        f"circle, {open_} of them open, {within} within the vessel's limits{beyond}; the best "
        f"{min(SEARCHED, len(ranked))} were searched, {speeds}waiting only before leaving."
    )


def _ranked(
    yacht: Yacht,
    given: Route,
    forecast: Forecast,
    options: SearchOptions,
    window: Window,
    minutes: float,
) -> list[_Ranked]:
    """All pairs, the best first."""
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
            ways = [
                _Ranked(
                    one.at_wrong_time, share_over(one, options), one.key(options.objective),
                    one.departure_s, speed,
                )
                for one in column
            ]  # fmt: skip
            rows.append(min(ways, key=_order))
    return sorted(rows, key=lambda one: (*_order(one), one.departure_s, one.speed_kn))


def _order(one: _Ranked) -> tuple[bool, bool, float, tuple[bool, bool, float]]:
    """Open pairs first; of the others those nearest to what is asked, then by price.

    Another course may bring a way within a budget, but hardly mends a late arrival.
    """
    return one.key[0], one.at_wrong_time, one.over if one.key[0] else 0.0, one.key
