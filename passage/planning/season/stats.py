"""Statistics over departures: by route, speed and month.

A hindcast gives past seas, so these are shares of past departures. Departures that the
data do not cover are counted, but left out of percentiles and shares.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.planning.season.calendar import CALM, months_of, years_of
from passage.planning.season.departures import COLUMNS, LEG_PREFIXES, UNKNOWN, WITHIN
from passage.planning.season.spells import few, share_interval, spell_hours, spells_of
from passage.planning.voyage.limits import LIMIT_KEYS
from passage.units import HOUR_S

PERCENTILES: tuple[int, ...] = (10, 25, 50, 75, 90)
#: Keys of all limits that a vessel file can set.
EVERY_LIMIT: tuple[str, ...] = tuple(pair[1] for pair in LIMIT_KEYS)
#: Share of departures whose fuel the tanks should hold. [%]
TANK_PERCENT = 95
#: Fins that spend more of their working time than this at a limit of angle or rate are
#: counted as needing all they have (assumption). [%]
AT_LIMIT_PERCENT = 10.0


def waits_h(
    departures_s: npt.ArrayLike, within: npt.ArrayLike
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.bool_]]:
    """Hours from each departure to the next one within limits; 0 where it is itself within.

    Parameters
    ----------
    departures_s : array_like, (n,)
        Ascending. [s]
    within : array_like of int, (n,)
        1 within, 0 not, -1 not known.

    Returns
    -------
    hours : ndarray, (n,)
        NaN where the departure itself is not known. Where the data end, or an unknown
        departure comes first, the wait up to there.
    open_end : ndarray of bool, (n,)
        True where the wait is at least that long, but its end is not known.
    """
    time = np.asarray(departures_s, dtype=float)
    state = np.asarray(within)
    n = time.size
    index = np.arange(n)
    # A wait ends with the next departure that is within limits or not known.
    ends = np.where(state != 0, index, n)
    following = np.minimum.accumulate(ends[::-1])[::-1]
    last = np.minimum(following, n - 1)
    hours = (time[last] - time) / HOUR_S
    open_end = (following == n) | (state[last] == UNKNOWN)
    hours = np.where(state == UNKNOWN, np.nan, hours)
    return hours, open_end & (state != UNKNOWN)


def statistics(
    numbers: Mapping[str, npt.NDArray[Any]],
    departures_s: npt.NDArray[np.float64],
    passages: Sequence[Mapping[str, Any]],
    transfer_l: float | None,
    limits_set: Sequence[str] = EVERY_LIMIT,
) -> list[dict[str, Any]]:
    """One record for each passage (route and speed) and month; month 0 is the whole year.

    Parameters
    ----------
    numbers : mapping
        Columns of ``departures.py``, each ``(passages, departures)``.
    departures_s : ndarray, (departures,)
        Ascending. [s]
    passages : sequence of mapping
        ``route`` and ``speed_kn`` of each passage, copied into its records.
    transfer_l : float or None
        Price of the transfer that would put her upright; None where there is none. [l]
    limits_set
        Keys of the limits that the vessel file sets, each of which gets the share of
        departures that it rules out.
    """
    month, year = months_of(departures_s), years_of(departures_s)
    records = []
    for p, passage in enumerate(passages):
        state = numbers["within_limits"][p]
        wait, open_end = waits_h(departures_s, state)
        hours = spell_hours(numbers[CALM][p], departures_s, month)
        spell = spells_of(departures_s, hours)
        for m in range(13):
            pick = np.ones(month.size, bool) if m == 0 else month == m
            if not pick.any():
                continue
            records.append(
                {
                    **passage,
                    "month": m,
                    **_record(numbers, p, pick, wait, open_end, transfer_l),
                    "spell_h": hours,
                    **_spread(state[pick], spell[pick], year[pick]),
                    **closed_by(state[pick], numbers["limits_broken"][p][pick], limits_set),
                    **closed_where(numbers, p, pick, limits_set),
                    **_needs(numbers, p, pick),
                }
            )
    return records


def _record(
    numbers: Mapping[str, npt.NDArray[Any]],
    p: int,
    pick: npt.NDArray[np.bool_],
    wait: npt.NDArray[np.float64],
    open_end: npt.NDArray[np.bool_],
    transfer_l: float | None,
) -> dict[str, Any]:
    status, within = numbers["status"][p][pick], numbers["within_limits"][p][pick]
    covered = status == 0
    judged = within != UNKNOWN
    record: dict[str, Any] = {
        "departures": int(pick.sum()),
        "covered": int(covered.sum()),
        "off_data": int((~covered).sum()),
        "judged": int(judged.sum()),
        "within_limits": int((within == WITHIN).sum()),
        "within_limits_percent": _share(within == WITHIN, judged),
    }
    some = np.flatnonzero(pick & ~np.isnan(wait))
    if some.size:
        longest = some[np.argmax(wait[some])]
        record["longest_wait_h"] = float(wait[longest])
        record["longest_wait_open"] = bool(open_end[longest])
    else:
        record["longest_wait_h"], record["longest_wait_open"] = None, False
    record["fins_cheaper_percent"] = None
    if transfer_l is not None:
        litres = numbers["fuel_for_list_l"][p][pick]
        known = np.isfinite(litres)
        record["fins_cheaper_percent"] = _share(litres < transfer_l, known)
    for column in COLUMNS:
        values = numbers[column.name][p][pick]
        values = values[np.isfinite(values)].astype(float)
        if values.size:
            found = np.percentile(values, PERCENTILES)
            record[column.name] = [float(x) for x in found]
        else:
            record[column.name] = None
    return record


def _spread(
    state: npt.NDArray[np.int8], spell: npt.NDArray[np.int64], year: npt.NDArray[np.int64]
) -> dict[str, Any]:
    """How sure a share within limits is: number of spells, interval, and share by year."""
    judged = state != UNKNOWN
    within, which = state[judged] == WITHIN, spell[judged]
    spells = int(np.unique(which).size)
    interval = share_interval(within, which) if within.size else None
    by_year = []
    for one in np.unique(year[judged]):
        pick = year[judged] == one
        by_year.append(
            {
                "year": int(one),
                "judged": int(pick.sum()),
                "within_limits_percent": 100.0 * float(within[pick].mean()),
                "few": few(int(pick.sum()), np.unique(which[pick]).size),
            }
        )
    shares = [one["within_limits_percent"] for one in by_year]
    return {
        "spells": spells,
        "few": few(within.size, spells),
        "within_low_percent": None if interval is None else interval[0],
        "within_high_percent": None if interval is None else interval[1],
        "year_lowest_percent": min(shares) if len(shares) > 1 else None,
        "year_highest_percent": max(shares) if len(shares) > 1 else None,
        "by_year": by_year,
    }


def closed_by(
    state: npt.NDArray[np.int8], broken: npt.NDArray[np.int8], limits_set: Sequence[str]
) -> dict[str, Any]:
    """Share of the judged departures over each limit, and over that limit alone. [%]

    ``broken`` has bit i set where limit i of ``LIMIT_KEYS`` is exceeded. A departure may be
    over several limits, so the first shares may add up to more than the share ruled out.
    """
    judged = state != UNKNOWN
    bits = broken[judged].astype(np.int64)
    found: dict[str, float] = {}
    alone: dict[str, float] = {}
    for bit, (_, key) in enumerate(LIMIT_KEYS):
        if key in limits_set and bits.size:
            found[key] = 100.0 * float(np.mean(bits >> bit & 1))
            alone[key] = 100.0 * float(np.mean(bits == 1 << bit))
    return {"closed_percent": found, "closed_alone_percent": alone}


def closed_where(
    numbers: Mapping[str, npt.NDArray[Any]],
    p: int,
    pick: npt.NDArray[np.bool_],
    limits_set: Sequence[str],
) -> dict[str, Any]:
    """Share of the judged departures over each limit under way and at rest, and on which leg.

    A departure may be over a limit in both. ``closed_at_rest_only_percent`` are those over
    limits at rest and over none under way. Legs are counted from 1: the one on which most
    departures exceed the limit most, and its share of those that exceed it there.
    """
    judged = pick & (numbers["within_limits"][p] != UNKNOWN)
    shares: list[dict[str, float]] = [{}, {}]
    legs: list[dict[str, tuple[int, float]]] = [{}, {}]
    over = np.zeros((2, int(judged.sum())), bool)
    for at, prefix in enumerate(LEG_PREFIXES):
        for key in limits_set:
            if f"{prefix}{key}" not in numbers or not over.size:
                continue
            leg = numbers[f"{prefix}{key}"][p][judged]
            over[at] |= leg > 0
            shares[at][key] = 100.0 * float(np.mean(leg > 0))
            found, count = np.unique(leg[leg > 0], return_counts=True)
            if found.size:
                most = int(np.argmax(count))
                legs[at][key] = (int(found[most]), 100.0 * float(count[most] / count.sum()))
    return {
        "closed_under_way_percent": shares[0],
        "closed_at_rest_percent": shares[1],
        "closed_at_rest_only_percent": (
            100.0 * float(np.mean(over[1] & ~over[0])) if over.size else None
        ),
        "closed_leg_under_way": {key: leg for key, (leg, _) in legs[0].items()},
        "closed_leg_under_way_percent": {key: share for key, (_, share) in legs[0].items()},
        "closed_leg_at_rest": {key: leg for key, (leg, _) in legs[1].items()},
        "closed_leg_at_rest_percent": {key: share for key, (_, share) in legs[1].items()},
    }


def _needs(
    numbers: Mapping[str, npt.NDArray[Any]], p: int, pick: npt.NDArray[np.bool_]
) -> dict[str, Any]:
    """How often she needs what she carries: fins at their limit, slamming, fuel."""
    fuel, limit, slam = (
        numbers[name][p][pick].astype(float)
        for name in ("fuel_l", "fin_at_limit_percent", "slamming_hours")
    )
    fuel = fuel[np.isfinite(fuel)]
    return {
        "fins_at_limit_share_percent": _share(limit > AT_LIMIT_PERCENT, np.isfinite(limit)),
        "slamming_share_percent": _share(slam > 0.0, np.isfinite(slam)),
        "tank_fuel_l": float(np.percentile(fuel, TANK_PERCENT)) if fuel.size else None,
    }


def _share(true: npt.NDArray[np.bool_], among: npt.NDArray[np.bool_]) -> float | None:
    """Percentage of ``among`` that is ``true``; None where ``among`` is empty."""
    count = int(among.sum())
    return 100.0 * float(np.sum(true & among)) / count if count else None
