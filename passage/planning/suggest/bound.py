"""The least that any way over the grid of a search takes, and how far what is found is from it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from passage.planning.suggest.search import Found, SearchOptions


@dataclass(frozen=True)
class Bound:
    """The price of the best way over the grid, by the grid's own prices.

    The search is exact for what adds up, so no way over the same grid, at this speed and
    departure, takes less (litres, or degree hours of significant roll). Nothing is said of
    ways between its lines. ``roll_limit_deg`` is the roll that closed water to it, if any.
    """

    value: float
    departure_s: float
    speed_kn: float
    roll_limit_deg: float | None = None


def bound_of(found: Found, options: SearchOptions) -> Bound | None:
    """The bound of the grid's answer, made by these options; None where there is none."""
    path = found.path
    if path is None:
        return None
    value = path.fuel_l if options.objective == "fuel" else path.roll_hours
    return Bound(value, options.departure_s, options.speed_kn, options.roll_limit_deg)


def gap_of(found: Found, options: SearchOptions) -> tuple[float, float] | None:
    """What the best takes along its track beyond the bound, and as a percentage of the bound.

    Below 0 where it takes less, which waypoints between the grid's may. In litres, or degree
    hours; None where there is no bound.
    """
    if found.bound is None or found.best not in found.candidates:
        return None
    gap = found.candidates[found.best].price(options.objective) - found.bound.value
    if not np.isfinite(gap):
        return None
    return gap, 100.0 * gap / max(found.bound.value, 1e-9)
