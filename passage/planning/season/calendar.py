"""Shares by month, year, week and hour of the day, and their ranking."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.planning.season.departures import UNKNOWN, WITHIN
from passage.planning.season.spells import few, share_interval
from passage.units import HOUR_S

Ints = npt.NDArray[np.int64]
#: Column that ranks departures where no limit is set.
CALM = "worst_window_roll_significant_deg"


def months_of(time_s: npt.ArrayLike) -> Ints:
    """Month 1 to 12 (UTC) of times. [s since 1970]"""
    return _days(time_s).astype("datetime64[M]").astype(np.int64) % 12 + 1


def years_of(time_s: npt.ArrayLike) -> Ints:
    """Calendar year (UTC) of times. [s since 1970]"""
    return _days(time_s).astype("datetime64[Y]").astype(np.int64) + 1970


def weeks_of(time_s: npt.ArrayLike) -> Ints:
    """Week of the year 1 to 52 counted from 1 January (UTC); the last has eight or nine days."""
    days = _days(time_s)
    day = (days - days.astype("datetime64[Y]").astype("datetime64[D]")).astype(np.int64)
    return np.minimum(day // 7, 51) + 1


def hours_of(time_s: npt.ArrayLike) -> Ints:
    """Hour of the day 0 to 23 (UTC) of times. [s since 1970]"""
    return np.asarray(np.asarray(time_s, float) // HOUR_S % 24, dtype=np.int64)


def _days(time_s: npt.ArrayLike) -> npt.NDArray[np.datetime64]:
    stamps = np.asarray(time_s, dtype=float).astype("int64").astype("datetime64[s]")
    return stamps.astype("datetime64[D]")


def grouped(
    numbers: Mapping[str, npt.NDArray[Any]], p: int, group: Ints, spell: Ints
) -> list[dict[str, Any]]:
    """Share within limits with its interval, median worst roll and fuel of each group.

    ``few`` marks a share from too few departures or spells.
    """
    within = numbers["within_limits"][p]
    found = []
    for one in np.unique(group):
        pick = group == one
        judged = pick & (within != UNKNOWN)
        count = int(judged.sum())
        ends = share_interval(within[judged] == WITHIN, spell[judged]) if count else None
        found.append(
            {
                "group": int(one),
                "departures": int(pick.sum()),
                "judged": count,
                "within_limits_percent": (
                    100.0 * float(np.mean(within[judged] == WITHIN)) if count else None
                ),
                "few": few(count, np.unique(spell[judged]).size),
                "within_low_percent": None if ends is None else ends[0],
                "within_high_percent": None if ends is None else ends[1],
                CALM: _median(numbers[CALM][p][pick]),
                "fuel_l": _median(numbers["fuel_l"][p][pick]),
            }
        )
    return found


def ranked(groups: list[dict[str, Any]], *, limits_set: bool) -> list[dict[str, Any]]:
    """Groups from best to worst: by share within limits and then roll; without limits by roll.

    Groups of too few departures or spells come last.
    """
    key = "within_limits_percent" if limits_set else CALM
    known = [g for g in groups if g[key] is not None]

    def order(g: dict[str, Any]) -> tuple[bool, float, float]:
        share = -g["within_limits_percent"] if limits_set else 0.0
        roll = g[CALM]
        return (g["few"] and limits_set, share, np.inf if roll is None else roll)

    return sorted(known, key=order)


def _median(values: npt.NDArray[Any]) -> float | None:
    known = values[np.isfinite(values)]
    return float(np.median(known.astype(float))) if known.size else None
