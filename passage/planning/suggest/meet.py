"""Ways that keep a budget or roll limit where the grid's own prices find none.

The grid prices an edge to a percent or two of roll, and its headings are 48: it can be over
a limit that a way between its lines keeps. So nothing is refused by the grid. The calmest
ways that can be made without the limit are held against it along their own tracks.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from passage.errors import NoCoverage, RouteError
from passage.planning.suggest.judge import GIVEN, STRAIGHT, Judged, share_over
from passage.planning.suggest.search import SearchOptions, search_route
from passage.planning.suggest.slide import ALONG, slid
from passage.planning.suggest.smooth import smooth

if TYPE_CHECKING:
    from passage.planning.suggest.case import Case
    from passage.planning.suggest.search import Found

#: Begins the names of candidates that were searched for without the limit asked for.
LOOSER, COMFORT, NO_LIMIT = "from a looser limit", "for comfort", "for comfort, any roll"
#: The grid's limit of roll is loosened by these factors. Where the last still gives no way,
#: or a way over the budget by more, nothing between the grid's lines can keep what is asked.
_LOOSER = (1.04, 1.15, 1.4)
#: So many of the candidates nearest to keeping the limits are moved towards them.
_NEAREST = 3


def limited(options: SearchOptions) -> bool:
    """Whether a budget or a limit of roll is asked for."""
    return options.budget is not None or options.roll_limit_deg is not None


def calmest(
    case: Case,
    found: dict[str, Judged],
    search_comfort: Callable[[SearchOptions], Found],
    aim: str,
) -> dict[str, Judged]:
    """More candidates, tried in turn until one keeps the limits.

    First ways over the grid with the roll limit loosened, made smooth within the limits
    (where there are none, nothing more is tried);
    then every candidate of the search for comfort without the limits (``search_comfort``);
    then the nearest of all of them moved on to the limits.
    """
    options, made = case.options, dict[str, Judged]()

    def open_() -> bool:
        return any(not one.faults for one in made.values())

    smoother = case.smoother()
    for number, asked in enumerate(_looser(options)):
        try:
            grid = search_route(
                case.yacht, case.start, case.end, case.forecast, asked, shared=case.shared,
                reason=False,
            )  # fmt: skip
        except (RouteError, NoCoverage):
            continue
        if options.budget is not None and _rolled(grid) > _LOOSER[-1] * options.budget:
            continue
        route = replace(smooth(smoother, grid.route, case.cell_nm), name=aim)
        made[f"{LOOSER}, {number + 1}"] = case.judged(route)
        if open_():
            break
    if not made:
        return made
    loose = [replace(options, objective="comfort", budget=None)]
    if options.roll_limit_deg is not None:
        loose.append(replace(loose[0], roll_limit_deg=None))
    for number, asked in enumerate(loose):
        # A budget may be kept for less fuel by what the search for comfort finds.
        if asked == options or (open_() and (number or options.budget is None)):
            continue
        try:
            comfort = search_comfort(asked)
        except (RouteError, NoCoverage):
            continue
        for name, one in comfort.candidates.items():
            if name not in (GIVEN, STRAIGHT):
                key = f"{NO_LIMIT if number else COMFORT}: {name}"
                made[key] = case.judged(replace(one.route, name=aim))
    if not open_():
        near = {**found, **made}
        for name in sorted(near, key=lambda key: share_over(near[key], options))[:_NEAREST]:
            if np.isfinite(near[name].price(options.objective)):
                moved = slid(case, near[name], aim)
                if moved is not near[name]:
                    made[f"{name}, {ALONG}"] = moved
            if open_():
                break
    return made


def _looser(options: SearchOptions) -> list[SearchOptions]:
    calm = replace(options, budget=None)
    if options.budget is not None:
        calm = replace(calm, objective="comfort")
    if options.roll_limit_deg is None:
        return [calm]
    caps = [factor * options.roll_limit_deg for factor in _LOOSER]
    return [replace(calm, roll_limit_deg=cap) for cap in caps]


def _rolled(grid: Found) -> float:
    """Degree hours of the grid's way by its own prices."""
    return np.inf if grid.path is None else grid.path.roll_hours
