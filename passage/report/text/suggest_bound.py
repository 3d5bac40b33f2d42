"""The bound of a search and the gap to the route found, as text and for JSON."""

from __future__ import annotations

from typing import Any

import numpy as np

from passage.planning.suggest.bound import gap_of
from passage.planning.suggest.judge import PRICE_UNITS
from passage.planning.suggest.search import Found, SearchOptions
from passage.report.text.verdict import number, when
from passage.units import utc_text

#: Smaller differences count as none. [l] or [degree hours]
_SAME = 0.5
#: Meaning of the bound, for JSON.
MEANING = (
    "The least that any way over the grid of the search takes at this speed and departure, by the "
    "grid's own prices. It says nothing of ways between the grid's lines, so it is no bound on the "
    "sea. Where it does not hold, the route found takes less, between those lines."
)


def bound_lines(found: Found, options: SearchOptions) -> list[str]:
    """Bound, gap, and the gain over the grid's best route; without a bound the reason."""
    bound, gap = found.bound, gap_of(found, options)
    if bound is None:
        return [f"There is no bound: {found.no_bound}."] if found.no_bound else []
    unit = PRICE_UNITS[options.objective]
    asked = "" if bound.roll_limit_deg is None else f", under {bound.roll_limit_deg:g} deg of roll"
    if options.budget is not None:
        asked += f", within {options.budget:g} degree hours"
    where = f"({bound.speed_kn:g} kn, leaving {when(bound.departure_s)}{asked})"
    if holds(gap):
        lines = [
            f"Bound of the search: no way over its grid takes less than {number(bound.value)} "
            f"{unit} {where}. It holds for the grid as priced there, not for all the sea."
        ]
    else:
        # A bound above the route found would be none.
        lines = [
            f"The best way over the grid of the search takes {number(bound.value)} {unit} by the "
            f"grid's own prices {where}. That only guides the search."
        ]
    if gap is not None:
        lines.append(_gap_words(found, options, *gap))
    gain = _gain_words(found, options)
    return [*lines, gain] if gain else lines


def holds(gap: tuple[float, float] | None) -> bool:
    """Whether the grid's least is no more than the route found takes, within half a unit."""
    return gap is None or gap[0] > -_SAME


def bound_dict(found: Found, options: SearchOptions) -> dict[str, Any] | None:
    """The same for JSON."""
    bound, gap = found.bound, gap_of(found, options)
    if bound is None:
        return None
    return {
        "value": bound.value,
        "unit": "l" if options.objective == "fuel" else "degree h",
        "departure_utc": utc_text(bound.departure_s),
        "speed_kn": bound.speed_kn,
        "roll_limit_deg": bound.roll_limit_deg,
        "holds": holds(gap),
        "gap": None if gap is None else gap[0],
        "gap_percent": None if gap is None else gap[1],
        "meaning": MEANING,
    }


def _gap_words(found: Found, options: SearchOptions, gap: float, percent: float) -> str:
    best, unit = found.candidates[found.best], PRICE_UNITS[options.objective]
    takes = f"The route found takes {number(best.price(options.objective))} {unit} along its track"
    if abs(gap) < _SAME:
        return f"{takes}, as much as the bound."
    less = "more" if gap > 0.0 else "less"
    words = f"{takes}: {number(abs(gap))} {unit} ({abs(percent):.1f} %) {less}"
    if gap < 0.0:
        if options.leg_speeds_kn:
            return f"{words}, by speeds that differ from leg to leg."
        return f"{words}, because its waypoints need not be the grid's."
    grid = found.candidates.get("grid")
    limited = found.bound is not None and found.bound.roll_limit_deg is None
    if limited and grid is not None and grid.over and not best.over:
        return f"{words}, because it keeps the vessel's limits and the grid's best way does not."
    if grid is not None and grid.faults:
        return f"{words}: the grid's best way is ruled out along its track ({grid.faults[0]})."
    return f"{words}, because a track is priced finer than the grid."


def _gain_words(found: Found, options: SearchOptions) -> str:
    """Gain of the route found over the grid's best route, both along their tracks."""
    grid = found.candidates.get("grid")
    if grid is None or grid.faults or found.best == "grid" or options.leg_speeds_kn:
        return ""
    less = grid.price(options.objective) - found.candidates[found.best].price(options.objective)
    if not np.isfinite(less) or abs(less) < _SAME:
        return ""
    unit = PRICE_UNITS[options.objective]
    share = 100.0 * abs(less) / max(grid.price(options.objective), 1e-9)
    return (
        f"Along its own track the best way over the grid takes {number(abs(less))} "
        f"{unit} ({share:.1f} %) {'more' if less > 0.0 else 'less'} than the route found."
    )
