"""Errors where a search has no answer, with the reason and what would help."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from passage.errors import NoCoverage, RouteError
from passage.planning.compare.daylight import dark_spans
from passage.planning.suggest.judge import (
    IN_THE_DARK,
    NOT_COVERED,
    OVER_BUDGET,
    TURNS_BACK,
    share_over,
)
from passage.units import HOUR_S, utc_text

if TYPE_CHECKING:
    from passage.inputs.forecast import Forecast
    from passage.planning.suggest.grid import Graph
    from passage.planning.suggest.judge import Judged
    from passage.planning.suggest.search import SearchOptions

_DAY_S = 24.0 * HOUR_S
#: Ways that a refusal names.
_NAMED = 4
_WINDOW = "a window with --from, --to and --every"


def none_is_open(found: Mapping[str, Judged], options: SearchOptions) -> RouteError | NoCoverage:
    """The error where no candidate may be chosen."""
    if not any(np.isfinite(one.fuel_l) for one in found.values()):
        # The remedy in the reason itself, where there is one.
        why = next((f for one in found.values() for f in one.faults if f"{NOT_COVERED} (" in f), "")
        remedy = f" {why[len(NOT_COVERED) + 2 : -1]}." if why else ""
        return NoCoverage("the forecast covers no route from end to end: check its area and hours "
                          f"with `passage check`.{remedy}")  # fmt: skip
    known = [one for one in found.values() if np.isfinite(one.fuel_l)]
    nearest = min(known, key=lambda one: (len(one.faults), one.price(options.objective)))
    if len(nearest.faults) == 1 and IN_THE_DARK in nearest.faults[0]:
        return RouteError(_dark_words(nearest, options))
    # The ways found are much alike; those nearest to what is asked say enough.
    some = sorted(
        found, key=lambda name: (len(found[name].faults), share_over(found[name], options))
    )
    lines = "; ".join(f"{name}: {', '.join(found[name].faults)}" for name in some[:_NAMED])
    return RouteError(
        f"no route found keeps the limits along its own track ({lines}). "
        f"{_advice([fault for one in known for fault in one.faults])}"
    )


def _dark_words(one: Judged, options: SearchOptions) -> str:
    arrives = one.departure_s + one.hours * HOUR_S
    last = one.route.waypoints[-1]
    words = f"she would arrive in the dark, {utc_text(arrives)} at {options.speed_kn:g} kn. "
    spans = dark_spans(arrives - _DAY_S, arrives + _DAY_S, last.lat_deg, last.lon_deg)
    night = next(((a, b) for a, b in spans if a <= arrives <= b), None)
    if night is None or night[0] <= arrives - _DAY_S or night[1] >= arrives + _DAY_S:
        return f"{words}Leave out --daylight, or give another departure or --speed."
    # To half an hour more: the time under way changes a little with the hour of leaving.
    later, earlier = (
        0.5 * np.ceil(2.0 * (seconds / HOUR_S + 0.25))
        for seconds in (night[1] - arrives, arrives - night[0])
    )
    return (
        f"{words}The sun rises there {utc_text(night[1])}: leave about {later:.1f} h later or "
        f"{earlier:.1f} h earlier (give {_WINDOW}), or give another --speed."
    )


def _advice(faults: list[str]) -> str:
    """What helps against the faults, in the order of their use."""
    helps = [
        words
        for sign, words in (
            ("over the limit of", "raise --roll-limit"),
            (OVER_BUDGET, "raise --budget"),
            ("later than the latest", "give a later --arrive-by or a higher --speed"),
            ("later than the longest", "allow more time with --longest"),
            (TURNS_BACK, "leave later"),
            (IN_THE_DARK, "leave at another hour"),
            ("touches the no-go", "widen the --corridor"),
            ("nearer to land", "take a smaller --land-margin"),
            ("shallow", "take a smaller --least-depth"),
        )
        if any(sign in fault for fault in faults)
    ]
    helps += [f"give {_WINDOW}", "take smaller cells with --cell"]
    text = ", ".join(helps[:-1]) + f", or {helps[-1]}."
    return text[0].upper() + text[1:]


def not_joined(graph: Graph, forecast: Forecast, options: SearchOptions) -> RouteError:
    """The error where what is closed lies between start and end."""
    if options.least_depth_m is not None:
        depth = forecast.sample(graph.lat_deg, graph.lon_deg, options.departure_s).depth_m
        ends = np.asarray(depth)[:2]
        if np.all(np.isnan(ends)):
            return RouteError(
                "--least-depth needs a depth, and the files give none at the start or the end. "
                "Give a depth grid of the whole way with --forecast, or leave out --least-depth."
            )
    return RouteError(
        "start and end are not joined within the corridor: land with its margin, no-go areas "
        "or depth close it. Give a wider --corridor, a smaller --land-margin or smaller cells "
        "(--cell), and check that start and end are at sea."
    )


def too_early(earliest_s: float, options: SearchOptions) -> RouteError:
    """The error where the latest arrival asked for is before any possible one."""
    assert options.arrive_by_s is not None
    return RouteError(
        f"--arrive-by {utc_text(options.arrive_by_s)} is too early: at {options.speed_kn:g} kn, "
        f"leaving {utc_text(options.departure_s)}, she arrives {utc_text(earliest_s)} at the "
        "earliest, even with the strongest current behind her all the way. Give a later "
        "--arrive-by, a higher --speed or an earlier departure."
    )


def over_budget(least: float, options: SearchOptions) -> RouteError:
    """The error where the calmest way is over the budget."""
    return RouteError(
        f"no route is within the budget of {options.budget:g} degree hours at "
        f"{options.speed_kn:g} kn, leaving {utc_text(options.departure_s)}: the calmest "
        f"found takes {least:.1f}. Raise --budget, or give {_WINDOW} or another --speed."
    )


def over_roll_limit(options: SearchOptions) -> RouteError:
    """The error where all water is closed by the limit of roll."""
    return RouteError(
        f"no route keeps the roll under {options.roll_limit_deg:g} deg significant at "
        f"{options.speed_kn:g} kn, leaving {utc_text(options.departure_s)}. Raise --roll-limit, "
        f"widen the --corridor, or give {_WINDOW} or another --speed."
    )


def unlikely(odds: float, tried: int, best: tuple[float, str] | None) -> RouteError:
    """The error where no finalist has the odds asked for, or they are not known."""
    if best is None:
        return RouteError(
            "the odds are not known: the forecast has neither members nor the time of its run, no "
            "draws were asked for, or some run beyond its hours. Give --draws, leave earlier, or "
            "leave out --odds."
        )
    pairs = "pair" if tried == 1 else f"{tried} best pairs"
    return RouteError(
        f"no finalist of the {pairs} of departure and speed keeps the vessel's limits and what is "
        f"asked in {odds:g} % of the draws: the likeliest does in {best[0]:.0f} % ({best[1]}). "
        f"Lower --odds, relax what is asked, or give {_WINDOW} or another --speed."
    )
