"""The least that any route over the grid takes, and how far the route found is from it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from passage.planning.suggest.search import Found, SearchOptions


@dataclass(frozen=True)
class Bound:
    """The price of the best route over the grid, by the grid's own prices.

    The search is exact for prices that add up, so no route over the same grid, at this
    speed and departure, takes less (litres, or degree hours of significant roll). Routes
    between the grid's lines are not bounded. ``roll_limit_deg`` is the roll limit of the
    search, if any.
    """

    value: float
    departure_s: float
    speed_kn: float
    roll_limit_deg: float | None = None


def bound_of(found: Found, options: SearchOptions) -> Bound | None:
    """The bound from the grid's answer with these options; None where there is no answer."""
    path = found.path
    if path is None:
        return None
    value = path.fuel_l if options.objective == "fuel" else path.roll_hours
    return Bound(value, options.departure_s, options.speed_kn, options.roll_limit_deg)


def gap_of(found: Found, options: SearchOptions) -> tuple[float, float] | None:
    """Price of the best along its track less the bound, and as a percentage of the bound.

    In litres or degree hours; negative where waypoints between the grid's nodes make it
    cheaper. None where there is no bound.
    """
    if found.bound is None or found.best not in found.candidates:
        return None
    gap = found.candidates[found.best].price(options.objective) - found.bound.value
    if not np.isfinite(gap):
        return None
    return gap, 100.0 * gap / max(found.bound.value, 1e-9)
