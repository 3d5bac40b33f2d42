"""What certainty costs: the least fuel at each level of odds, at once or after waiting."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from passage.planning.compare.choice import ODDS
from passage.units import HOUR_S

if TYPE_CHECKING:
    from passage.planning.compare.compare import Comparison

Bools = npt.NDArray[np.bool_]

#: Levels of odds that are priced. [%]
LEVELS: tuple[float, ...] = (50.0, 60.0, 70.0, 80.0, 90.0, 95.0)


@dataclass(frozen=True)
class Step:
    """A level of odds: how many combinations reach it, and the cheapest of them.

    ``soon`` is the cheapest that leaves no later than the one it is compared with, ``later``
    the cheapest that leaves after it, ``cheapest`` the cheaper of the two; None where there
    is none.
    """

    percent: float
    count: int
    cheapest: int | None
    soon: int | None
    later: int | None


def candidates(found: Comparison) -> Bools:
    """Combinations that only their odds can rule out, (C,)."""
    if found.odds is None:
        return np.zeros(len(found), dtype=bool)
    return ((found.closed & ~ODDS) == 0) & np.isfinite(found.odds.asked)


def steps(found: Comparison, lead: int) -> tuple[Step, ...]:
    """A step for every level, compared with ``lead``; empty without odds."""
    if found.odds is None:
        return ()
    among = candidates(found)
    soon = found.departure_s <= found.departure_s[lead]
    made = []
    for percent in sorted({*LEVELS, *([found.options.odds] if found.options.odds else [])}):
        here = among & found.odds.reach(percent)
        made.append(
            Step(
                percent,
                int(here.sum()),
                _cheapest(found, here),
                _cheapest(found, here & soon),
                _cheapest(found, here & ~soon),
            )
        )
    return tuple(made)


def surest(found: Comparison) -> int | None:
    """The candidate with the highest odds, among equals the one of least fuel."""
    rows = np.flatnonzero(candidates(found))
    if found.odds is None or rows.size == 0:
        return None
    order = np.lexsort((found.totals["fuel_l"][rows], -found.odds.asked[rows]))
    return int(rows[order[0]])


def extra_l(found: Comparison, index: int, lead: int) -> float:
    """Fuel of one combination beyond that of another. [l]"""
    return float(found.totals["fuel_l"][index] - found.totals["fuel_l"][lead])


def wait_h(found: Comparison, index: int, lead: int) -> float:
    """Hours that one combination leaves after another."""
    return float(found.departure_s[index] - found.departure_s[lead]) / HOUR_S


def _cheapest(found: Comparison, here: Bools) -> int | None:
    rows = np.flatnonzero(here)
    if rows.size == 0:
        return None
    order = np.lexsort((found.comfort[rows], found.totals["fuel_l"][rows]))
    return int(rows[order[0]])
