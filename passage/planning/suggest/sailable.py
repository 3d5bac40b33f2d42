"""The candidates of a search with no more waypoints than they need."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from passage.planning.suggest.best import _MOST_GAIN, CALMER, _least, _named
from passage.planning.suggest.case import Case
from passage.planning.suggest.judge import GIVEN, GRID, STRAIGHT
from passage.planning.suggest.search import Found
from passage.planning.suggest.waypoints import fewer_waypoints, waypoint_reasons


def sailable(found: Found, case: Case) -> Found:
    """The same with no more waypoints than the best ways need."""
    options, made = case.options, dict(found.candidates)
    limit = case.yacht.vessel.limits.underway.roll_significant_deg
    finalists = {name: one.key(options.objective) for name, one in made.items()}
    least = min(key for key in finalists.values())
    for name, key in finalists.items():
        if name in (GIVEN, STRAIGHT) or key[0] or key[1] != least[1]:
            continue
        if name in (GRID, CALMER) and name != found.best:
            # These are of the grid's lines; what was made smooth of them goes before.
            continue
        if key[2] > least[2] * (1.0 + _MOST_GAIN):
            continue
        smoother = case.smoother()
        if not made[name].over and limit is not None:
            most = min(limit, options.roll_limit_deg or np.inf)
            smoother = replace(smoother, options=replace(options, roll_limit_deg=most))
        made[name] = fewer_waypoints(made[name], smoother, case.judged)
    best = _least(made, options) or found.best
    return replace(found, candidates=made, best=best, route=_named(made, best, options))


def reasons(found: Found, case: Case) -> tuple[str, ...]:
    """A remark on each waypoint of the best that one would not expect."""
    if found.best in (GIVEN, STRAIGHT):
        return ()
    return waypoint_reasons(found.candidates[found.best], case.options.objective, case.judged)
