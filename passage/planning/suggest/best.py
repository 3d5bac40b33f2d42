"""The best of a searched route, the route given and the great circle, each made smooth.

Every candidate is computed along its own track as in a plan and checked there against
every limit; the grid's prices do not count. Where the route of a search does not keep a
limit along its track, the search is repeated with a tighter one.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from passage.errors import NoCoverage, RouteError
from passage.inputs.route import Route
from passage.planning.odds.versions import versions_of
from passage.planning.suggest.bound import bound_of
from passage.planning.suggest.case import Case, straight_route
from passage.planning.suggest.cost import Shared
from passage.planning.suggest.expected import Expected, expected_of
from passage.planning.suggest.judge import (
    GIVEN,
    GRID,
    OVER_BUDGET,
    SMOOTH,
    STRAIGHT,
    TURNS_BACK,
    Judged,
    share_over,
)
from passage.planning.suggest.meet import calmest, limited
from passage.planning.suggest.refusals import none_is_open, over_budget
from passage.planning.suggest.search import (
    LABEL,
    WARNING,
    Found,
    Progress,
    SearchOptions,
    search_route,
)
from passage.planning.suggest.slide import ALONG, slid
from passage.planning.suggest.smooth import smooth
from passage.planning.voyage.list_drift import gm_ratio
from passage.planning.voyage.loading import loading_along
from passage.planning.voyage.steps import stage

if TYPE_CHECKING:
    from passage.inputs.forecast import Forecast
    from passage.inputs.vessel import Vessel
    from passage.planning.suggest.bound import Bound
    from passage.planning.voyage.yacht import Yacht

#: Most searches, each with tighter limits than the one before.
_TRIES = 4
#: Prices that differ by less than this share count as equal.
_SAME = 1e-4
#: Largest gain expected from making a route smooth, as a share of the price.
_MOST_GAIN = 0.01
#: The same for a route already made smooth, from another start or more finely.
_MORE_GAIN = 0.002
#: A way over what is asked by less than this factor may be moved to keep it.
_LITTLE_OVER = 1.1
#: A note where a way that passes time by turning back is left out.
_WAIT = (
    "The best way over the grid turns back to pass time, so it is left out. To pass time, leave "
    "later: give a window with --from, --to and --every."
)
#: Name of candidates from the search that avoids water over the limit.
CALMER = "within the limit of roll"


def best_route(
    yacht: Yacht,
    given: Route,
    forecast: Forecast,
    options: SearchOptions,
    *,
    minutes: float = 20.0,
    progress: Progress | None = None,
    weigh: bool = True,
    shared: Shared | None = None,
    beat: tuple[bool, bool, float] | None = None,
) -> Found:
    """The candidate of least price among those that keep every limit along their track.

    Parameters
    ----------
    given : Route
        Gives start and end, and is a candidate itself, at the speed of the options.
    weigh : bool
        Whether the candidates are compared over the forecast's doubt, as by :func:`weighed`.
    shared : Shared, optional
        Data from searches of other departures and speeds between the same ends.
    beat : tuple, optional
        The key of a route already found: where no candidate comes near its price, none is
        made smooth.

    Raises
    ------
    RouteError
        No candidate keeps the limits.
    NoCoverage
        The forecast covers no candidate.
    """
    case = Case(yacht, forecast, options, given, minutes, shared or Shared())
    found: dict[str, Judged] = {
        GIVEN: case.judged(given, own=True),
        STRAIGHT: case.judged(straight_route(case.start, case.end)),
    }
    grid, why = _searched(case, progress, found)
    bound = None if grid is None else grid.bound
    stage(progress, "making the route smooth")
    smoother = case.smoother()
    aim = f"{options.aim} ({LABEL})"
    starts = [found[GRID].route] if GRID in found else []
    near = _least({key: one for key, one in found.items() if key != GRID}, options)
    if near is not None:
        starts.append(found[near].route)
    rounds = [
        (number, fine) for number in range(len(starts)) for fine in (False, True)[: 2 - number]
    ]
    gain = _MOST_GAIN
    for number, fine in rounds:
        if beat is not None and not _near(found, beat, options, gain):
            break
        route = starts[number]
        if any(leg.kind == "stay" for leg in route.legs):
            continue
        made = replace(smooth(smoother, route, case.cell_nm, fine=fine), name=aim)
        start = f", from {near}" if number or GRID not in found else ""
        found[f"{SMOOTH}{start}{', finely' if fine else ''}"] = case.judged(made)
        gain = _MORE_GAIN
    if limited(options) and _least(found, options) is None and _may_beat(found, beat, options):

        def comfort(asked: SearchOptions) -> Found:
            return best_route(
                yacht, given, forecast, asked, minutes=minutes, weigh=False, shared=case.shared
            )

        stage(progress, "looking for a way within the limits")
        found |= calmest(case, found, comfort, aim)
    best = _least(found, options)
    if best is not None and limited(options):
        best = _along_limit(case, found, best, aim)
    if best is not None and _cheaper_over(found, best, beat, options):
        # The cheapest is over a limit: a search within the limit may find a route that is
        # cheaper than the candidates that happen to keep it.
        calmer, inner = _calmer(case, progress)
        found |= calmer
        best = _least(found, options)
        if inner is not None and best is not None and not found[best].over:
            bound = inner
    if best is None:
        raise _refusal(why, found, options)
    notes = grid.notes if grid is not None else (WARNING,)
    if GRID in found and any(fault.startswith(TURNS_BACK) for fault in found[GRID].faults):
        notes = (*notes, _WAIT)
    if case.yacht.vessel.loading.burn:
        notes = (*notes, _gm_held(case.yacht.vessel))
    made_of = Found(
        route=_named(found, best, options),
        path=None if grid is None else grid.path,
        nodes=0 if grid is None else grid.nodes,
        edges=0 if grid is None else grid.edges,
        cell_nm=case.cell_nm,
        notes=notes,
        candidates=found,
        best=best,
        bound=bound,
        no_bound="" if bound is not None else _why_no_bound(why),
    )
    if not weigh:
        return made_of
    return weighed(yacht, made_of, forecast, options, minutes=minutes, progress=progress)


def _along_limit(case: Case, found: dict[str, Judged], best: str, aim: str) -> str:
    """Adds the best candidate moved along the limits, if that is better; the name of the best.

    The cheapest of those a little over a limit is moved as well: on the limit it may be better.
    """
    options = case.options
    price = found[best].price(options.objective)
    cheaper = [
        name
        for name, one in found.items()
        if 1.0 < share_over(one, options) < _LITTLE_OVER and one.price(options.objective) < price
    ]
    cheaper = sorted(cheaper, key=lambda name: found[name].price(options.objective))[:1]
    for name in (best, *cheaper):
        if not name.endswith(ALONG) and (made := slid(case, found[name], aim)) is not found[name]:
            found[f"{name}, {ALONG}"] = made
    return _least(found, options) or best


def _may_beat(
    found: dict[str, Judged], beat: tuple[bool, bool, float] | None, options: SearchOptions
) -> bool:
    """Whether a way that keeps the limits might be better than the route already found."""
    if beat is None or beat[0]:
        return True
    return any(one.price(options.objective) < beat[2] for one in found.values())


def _refusal(
    why: RouteError | NoCoverage | None, found: dict[str, Judged], options: SearchOptions
) -> RouteError | NoCoverage:
    """The error where no candidate is open, by the calmest of all that were computed."""
    rolls = [
        one.roll_hours
        for one in found.values()
        if len(one.faults) == 1 and OVER_BUDGET in one.faults[0]
    ]
    if why is not None and rolls:
        return over_budget(min(rolls), options)
    return why or none_is_open(found, options)


def _why_no_bound(why: RouteError | NoCoverage | None) -> str:
    """Why the search over the grid gives none, though a route is found."""
    if isinstance(why, NoCoverage) or "covered by the forecast" in str(why):
        return "no way over the grid of the search is covered by the forecast from end to end"
    return "by the grid's own prices no way over it keeps what is asked"


def weighed(
    yacht: Yacht,
    found: Found,
    forecast: Forecast,
    options: SearchOptions,
    *,
    minutes: float = 20.0,
    progress: Progress | None = None,
) -> Found:
    """The candidate of least mean price over the draws or members; ``found`` without any."""
    versions = versions_of(forecast, options.departure_s, options.draws, options.forecast_error)
    if versions is None:
        return found
    stage(progress, f"{versions.what} of the finalists")
    # Ways along the grid's lines are not for sailing where anything better is known.
    sailed = {
        name: one
        for name, one in found.candidates.items()
        if name not in (GRID, CALMER) or name == found.best
    }
    expected = expected_of(yacht, sailed, forecast, options, versions, minutes)
    best = _least_expected(found.candidates, expected, options.odds) or found.best
    return replace(
        found,
        route=_named(found.candidates, best, options),
        best=best,
        expected=expected,
        odds_source=versions.words(options.departure_s),
    )


def _named(found: dict[str, Judged], best: str, options: SearchOptions) -> Route:
    """The route of a candidate; the route given and the great circle are named as such."""
    route = found[best].route
    if best not in (GIVEN, STRAIGHT):
        return route
    word = "the route as given" if best == GIVEN else "the great circle"
    return replace(route, name=f"{word}, {options.aim} ({LABEL})")


def _least_expected(
    found: dict[str, Judged], expected: dict[str, Expected], odds: float | None = None
) -> str | None:
    """Name of the finalist of least mean price; None where no finalist is covered in all draws.

    Finalists with the odds asked for come first, and of these the ones that keep every
    limit of the vessel file.
    """
    fine = {name: one for name, one in expected.items() if np.isfinite(one.price)}
    if not fine:
        return None
    likely = [name for name, one in fine.items() if holds(one, odds)] or list(fine)
    kept = [name for name in likely if not found[name].over] or likely
    most = min(fine[name].price for name in kept) * (1.0 + _SAME)
    alike = [name for name in kept if fine[name].price <= most]
    return min(alike, key=lambda name: len(found[name].route.legs))


def holds(one: Expected, odds: float | None) -> bool:
    """Whether a finalist has the odds asked for; False for unknown odds."""
    return odds is None or (one.odds is not None and one.odds >= odds)


def _least(found: dict[str, Judged], options: SearchOptions) -> str | None:
    """Name of the open candidate of least price.

    Those that keep every limit of the vessel file come before those that do not. Among
    prices within a ten-thousandth it is the one of fewest legs, among equals the first.
    """
    fine = {name: one for name, one in found.items() if not one.faults}
    if not fine:
        return None
    kept = {name: one for name, one in fine.items() if not one.over} or fine
    most = min(one.price(options.objective) for one in kept.values()) * (1.0 + _SAME)
    alike = [name for name, one in kept.items() if one.price(options.objective) <= most]
    return min(alike, key=lambda name: len(found[name].route.legs))


def _searched(
    case: Case, progress: Progress | None, found: dict[str, Judged], *, reason: bool = True
) -> tuple[Found | None, RouteError | NoCoverage | None]:
    """Search until the route keeps its limits along its track; adds it to ``found``.

    It is added even where it does not keep them: made smooth, it may.
    """
    options, last, bound = case.options, None, None
    for _ in range(_TRIES):
        try:
            grid = search_route(
                case.yacht, case.start, case.end, case.forecast, options, shared=case.shared,
                progress=progress, reason=reason,
            )  # fmt: skip
        except (RouteError, NoCoverage) as err:
            return last, None if last is not None else err
        # Only the search with the limits asked for gives a bound.
        bound = bound or bound_of(grid, options)
        last = replace(grid, bound=bound)
        one = case.judged(grid.route)
        found[GRID] = one
        roll, budget = case.options.roll_limit_deg, case.options.budget
        tighter = options
        if roll is not None and options.roll_limit_deg is not None and one.worst_roll_deg > roll:
            share = 0.99 * roll / one.worst_roll_deg
            tighter = replace(tighter, roll_limit_deg=share * options.roll_limit_deg)
        if budget is not None and options.budget is not None and one.roll_hours > budget:
            share = 0.995 * budget / one.roll_hours
            tighter = replace(tighter, budget=share * options.budget)
        if tighter is options:
            break
        options = tighter
    return last, None


def _near(
    found: dict[str, Judged], beat: tuple[bool, bool, float], options: SearchOptions, gain: float
) -> bool:
    """Whether a candidate, made smooth, might be better than the route already found."""
    most = beat[2] * (1.0 + gain)
    keys = [one.key(options.objective) for one in found.values()]
    return any(key[:2] < beat[:2] or (key[:2] == beat[:2] and key[2] <= most) for key in keys)


def _cheaper_over(
    found: dict[str, Judged], best: str, beat: tuple[bool, bool, float] | None,
    options: SearchOptions,
) -> bool:  # fmt: skip
    """Whether the best, or a cheaper open route, is over a limit of the vessel file.

    Where a route within the limits is found already, only routes that cost little more
    count: a route over a limit may have a calmer neighbour.
    """
    most = found[best].price(options.objective) * (1.0 - _SAME)
    near = np.inf if beat is None or beat[1] else beat[2] * (1.0 + _MOST_GAIN)
    prices = {name: one.price(options.objective) for name, one in found.items()}
    return any(
        one.over and not one.faults and prices[name] <= near
        and (name == best or prices[name] < most)
        for name, one in found.items()
    )  # fmt: skip


def _calmer(case: Case, progress: Progress | None) -> tuple[dict[str, Judged], Bound | None]:
    """Routes that avoid water where roll is over the vessel's limit; empty for none."""
    limit = case.yacht.vessel.limits.underway.roll_significant_deg
    asked = case.options.roll_limit_deg
    if limit is None or (asked is not None and asked <= limit):
        return {}, None
    inner = replace(case, options=replace(case.options, roll_limit_deg=limit))
    found: dict[str, Judged] = {}
    grid, _ = _searched(inner, progress, found, reason=False)
    if grid is None:
        return {}, None
    smoother = inner.smoother()
    made = replace(smooth(smoother, grid.route, inner.cell_nm), name=grid.route.name)
    routes = {CALMER: grid.route, f"{CALMER}, {SMOOTH}": made}
    judged = {name: case.judged(route) for name, route in routes.items()}
    smoothed = judged[f"{CALMER}, {SMOOTH}"]
    if limited(case.options) and not smoothed.over:
        along = slid(inner, smoothed, grid.route.name)
        if along is not smoothed:
            judged[f"{CALMER}, {ALONG}"] = case.judged(along.route)
    return judged, grid.bound


def _gm_held(vessel: Vessel) -> str:
    """A note that the search holds GM constant, and which way burnt fuel changes it."""
    falls = float(gm_ratio(vessel, loading_along(vessel, [0, 0], [1000.0, 0.0]))[-1]) < 1.0
    way = "falls (a little more heel and a longer roll period late on)"
    if not falls:
        way = "rises (a little less heel and a shorter roll period late on)"
    return (
        f"The search holds GM as in the vessel file; as fuel is burnt it {way}. The plans include "
        "that."
    )
