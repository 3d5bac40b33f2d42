"""Statistics over departures: by route, speed and month.

A hindcast says what the sea did, so these are shares of past departures. Departures
that run off the data are counted, and stand in no percentile and no share.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.planning.season.departures import COLUMNS, UNKNOWN, WITHIN
from passage.units import HOUR_S

PERCENTILES: tuple[int, ...] = (10, 25, 50, 75, 90)


def months_of(time_s: npt.ArrayLike) -> npt.NDArray[np.int64]:
    """Month 1 to 12 (UTC) of times. [s since 1970]"""
    stamps = np.asarray(time_s, dtype=float).astype("int64").astype("datetime64[s]")
    return stamps.astype("datetime64[M]").astype(np.int64) % 12 + 1


def waits_h(
    departures_s: npt.ArrayLike, within: npt.ArrayLike
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.bool_]]:
    """Hours from each departure to the next one within limits, 0 if it is itself.

    Parameters
    ----------
    departures_s : array_like, (n,)
        Ascending. [s]
    within : array_like of int, (n,)
        1 within, 0 not, -1 not known.

    Returns
    -------
    hours : ndarray, (n,)
        NaN where the departure itself is not known. Where the data end, or a stretch
        that is not known comes first, the wait up to there.
    open_end : ndarray of bool, (n,)
        True where the wait is at least that long, and how much longer is not known.
    """
    time = np.asarray(departures_s, dtype=float)
    state = np.asarray(within)
    n = time.size
    index = np.arange(n)
    # Next departure that ends a wait: one within limits, or one that is not known.
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
) -> list[dict[str, Any]]:
    """One record for each passage (route and speed) and month, 0 standing for all year.

    Parameters
    ----------
    numbers : mapping
        Columns of ``departures.py``, each ``(passages, departures)``.
    departures_s : ndarray, (departures,)
        Ascending. [s]
    passages : sequence of mapping
        ``route`` and ``speed_kn`` of each passage, copied into its records.
    transfer_l : float or None
        Price of the transfer that would put her upright; None where there is nothing
        to choose. [l]
    """
    month = months_of(departures_s)
    records = []
    for p, passage in enumerate(passages):
        state = numbers["within_limits"][p]
        wait, open_end = waits_h(departures_s, state)
        for m in range(13):
            pick = np.ones(month.size, bool) if m == 0 else month == m
            if not pick.any():
                continue
            records.append(
                {
                    **passage,
                    "month": m,
                    **_record(numbers, p, pick, wait, open_end, transfer_l),
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


def _share(true: npt.NDArray[np.bool_], among: npt.NDArray[np.bool_]) -> float | None:
    """Percent of ``among`` that is ``true``; None when there is none."""
    count = int(among.sum())
    return 100.0 * float(np.sum(true & among)) / count if count else None
