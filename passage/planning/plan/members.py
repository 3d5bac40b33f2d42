"""Spread over the members of an ensemble forecast: percentiles for legs and for the passage."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from passage.planning.odds.count import PERCENTILES, percentiles

#: Quantities with a spread.
SPREAD_NAMES: tuple[str, ...] = (
    "hours",
    "significant_height_m",
    "roll_centred_significant_deg",
    "roll_active_significant_deg",
    "fuel_l",
    "motion_sickness_percent",
    "vertical_acceleration_rms_g",
)


def spread_of_members(
    members: Sequence[Sequence[dict[str, Any]]], gaps: Sequence[int] = ()
) -> dict[str, Any]:
    """Percentiles of the leg values over the members, and of the passage's fuel and hours.

    ``members`` has the leg table of each member. Members in ``gaps`` miss values that others
    have and are left out. Where some of the rest have no value, the percentiles have none:
    a member that arrives after the end of the forecast is no member at random.
    """
    count = len(members)
    members = [one for i, one in enumerate(members) if i not in gaps]
    legs = []
    for rows in zip(*members, strict=True):
        spread = {name: _percentiles([row[name] for row in rows]) for name in SPREAD_NAMES}
        legs.append({"leg": rows[0]["leg"], **spread})
    totals = {
        name: _percentiles([_total(member, name) for member in members])
        for name in ("hours", "fuel_l")
    }
    return {
        "count": count,
        "whole": len(members),
        "percentiles": list(PERCENTILES),
        "legs": legs,
        **totals,
    }


def _total(legs: Sequence[dict[str, Any]], name: str) -> float:
    return float(sum(np.nan if leg[name] is None else leg[name] for leg in legs))


def _percentiles(values: Sequence[float | None]) -> list[float | None]:
    numbers = np.array([np.nan if value is None else value for value in values], dtype=float)
    return list(percentiles(numbers))
