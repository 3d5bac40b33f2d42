"""The owner's limits on many departures, in one pass along each passage.

Windows and rules are those of ``voyage/limits.py``, but only the worst of each passage is
found, not that of each leg.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from passage.inputs.route import Track
from passage.inputs.vessel import Vessel
from passage.physics.compiled import compile_loop
from passage.planning.season.march import one_row
from passage.planning.voyage.limits import LIMIT_KEYS, WINDOWED, slack

Array = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Legs = npt.NDArray[np.int16]

#: A shorter time is rounding, as in ``voyage/windows.py``. [h]
_NOTHING_H = 1e-7


@dataclass(frozen=True, eq=False)
class PassageLimits:
    """Whether each departure exceeds a limit, and whether it can be judged.

    ``roll_deg`` is the worst window of significant roll, NaN where part of the roll is not
    known and the rest keeps the limit; ``roll_over_h`` the hours over the limit. ``broken``
    has bit i set where limit i of ``LIMIT_KEYS`` is exceeded. ``leg_under_way`` and
    ``leg_at_rest``, ``(limits, departures)``, have the leg, counted from 1, on which each limit is
    exceeded most (that of the largest value), 0 where it is not exceeded under way or at rest.
    """

    exceeded: Bools
    judged: Bools
    roll_deg: Array
    roll_over_h: Array
    broken: npt.NDArray[np.int8]
    leg_under_way: Legs
    leg_at_rest: Legs


def limits_set(vessel: Vessel) -> list[str]:
    """Keys of the limits that the vessel file sets, under way or at rest."""
    sets = (vessel.limits.underway, vessel.limits.at_rest)
    return [key for _, key in LIMIT_KEYS if any(getattr(s, key) is not None for s in sets)]


def passage_limits(vessel: Vessel, track: Track, values: Mapping[str, Array]) -> PassageLimits:
    """Check many passages along one track against the limits of the vessel file.

    An unknown value may be over a limit, so such a departure is not judged, unless a limit
    is exceeded elsewhere. Without any limit none is judged.

    Parameters
    ----------
    vessel, track
        Vessel and track of the points.
    values : mapping
        Names of ``variables.py`` to arrays ``(departures, n)``; roll with the fins active.
    """
    at_rest = track.length_m == 0.0
    cuts = np.r_[0, np.flatnonzero(at_rest[1:] != at_rest[:-1]) + 1, at_rest.size]
    hours = np.ascontiguousarray(one_row(values["hours"]))
    rows = values["roll_active_rms_deg"].shape[0]
    unknown, bits = np.zeros(rows, bool), np.zeros(rows, np.int8)
    roll, roll_over = np.zeros(rows), np.zeros(rows)
    # Row 0 under way, row 1 at rest.
    legs = np.zeros((2, len(LIMIT_KEYS), rows), np.int16)
    lost: Bools
    any_limit = False
    for bit, (_, limit_key) in enumerate(LIMIT_KEYS):
        name, power = WINDOWED.get(limit_key, (limit_key, 0))
        name = name.format(fins="active")
        is_roll = limit_key == "roll_significant_deg"
        most = np.full((2, rows), -np.inf)
        for first, last in pairwise(cuts.tolist()):
            limits = vessel.limits.at_rest if at_rest[first] else vessel.limits.underway
            limit = getattr(limits, limit_key)
            if name not in values or (limit is None and not is_roll):
                continue
            any_limit |= limit is not None
            level = np.inf if limit is None else limit + float(slack(limit_key, limit))
            scale = 2.0 if is_roll else 1.0
            if power:
                points = np.ascontiguousarray(values[name], dtype=float)
                worst, over, lost = sweep(
                    points, hours, first, last, vessel.limits.window_h, power, level / scale
                )
                worst = scale * worst
            else:
                part = np.abs(values[name][:, first:last])
                worst = np.fmax.reduce(part, axis=-1)
                lost = np.any(np.isnan(part), axis=-1)
            with np.errstate(invalid="ignore"):
                broken = worst > level
            bits |= np.where(broken, 1 << bit, 0).astype(np.int8)
            rest = int(at_rest[first])
            over_most = np.flatnonzero(broken & (worst > most[rest]))
            if over_most.size:
                most[rest, over_most] = worst[over_most]
                part = np.abs(values[name][over_most, first:last])
                at = np.argmax(np.where(np.isnan(part), -np.inf, part), axis=-1)
                legs[rest, bit, over_most] = track.leg[first + at] + 1
            if limit is not None:
                unknown |= lost & ~broken
            if is_roll:
                roll = np.maximum(roll, np.where(lost & ~broken, np.nan, worst))
                roll_over += over
    exceeded = bits != 0
    judged = (exceeded | ~unknown) & any_limit
    return PassageLimits(exceeded, judged, roll, roll_over, bits, legs[0], legs[1])


def sweep(
    values: Array,
    hours: Array,
    first: int,
    last: int,
    window_h: float,
    power: int,
    level: float,
) -> tuple[Array, Array, Bools]:
    """Worst window, hours over a level and whether a window is unknown, (departures,).

    Parameters
    ----------
    values : ndarray, (departures, n)
        Not negative; NaN for unknown.
    hours : ndarray, (departures or 1, n)
        Duration of the segments.
    first, last : int
        The segments from ``first`` up to, but without, ``last``.
    window_h, power, level
        As in ``voyage.windows.Running``.
    """
    worst, over = np.empty(values.shape[0]), np.empty(values.shape[0])
    unknown = np.empty(values.shape[0], np.bool_)
    _sweep(values, hours, first, last, window_h, power == 2, level**power, worst, over, unknown)
    worst = np.where(np.isneginf(worst), np.nan, worst)
    return worst ** (1.0 / power), over, unknown


@compile_loop
def _sweep(  # type: ignore[no-untyped-def]
    values, hours, first, last, window, squared, level, worst, over, unknown
):
    """Move both ends of the window along the passage, from one segment's end to the next."""
    for m in range(values.shape[0]):
        row = m if hours.shape[0] > 1 else 0
        whole = 0.0
        lacks = False
        for k in range(first, last):
            if np.isnan(hours[row, k]):
                lacks = True
            else:
                whole += hours[row, k]
        length = min(window, whole)
        best = -np.inf
        above = 0.0
        if length > 0.0:
            total = 0.0
            lost = 0.0
            j = first
            left_j = 0.0 if np.isnan(hours[row, j]) else hours[row, j]
            need = length
            while True:
                step = min(left_j, need)
                v = values[m, j]
                if np.isnan(v):
                    lost += step
                else:
                    total += step * (v * v if squared else v)
                need -= step
                left_j -= step
                if need <= 1e-12 or j == last - 1:
                    break
                j += 1
                left_j = 0.0 if np.isnan(hours[row, j]) else hours[row, j]
            i = first
            left_i = 0.0 if np.isnan(hours[row, i]) else hours[row, i]
            remaining = whole - length
            mean = max(total, 0.0) / length
            known = lost <= _NOTHING_H
            if known:
                best = mean
                if mean > level:
                    above += 0.5 * length
            else:
                lacks = True
            while remaining > 1e-12:
                if left_i <= 1e-15:
                    if i == last - 1:
                        break
                    i += 1
                    left_i = 0.0 if np.isnan(hours[row, i]) else hours[row, i]
                    continue
                if left_j <= 1e-15:
                    if j == last - 1:
                        break
                    j += 1
                    left_j = 0.0 if np.isnan(hours[row, j]) else hours[row, j]
                    continue
                step = min(left_i, left_j, remaining)
                v = values[m, i]
                if np.isnan(v):
                    lost -= step
                else:
                    total -= step * (v * v if squared else v)
                v = values[m, j]
                if np.isnan(v):
                    lost += step
                else:
                    total += step * (v * v if squared else v)
                new = max(total, 0.0) / length
                fine = lost <= _NOTHING_H
                if fine:
                    best = max(best, new)
                    if known:
                        low = min(mean, new)
                        high = max(mean, new)
                        if low > level:
                            above += step
                        elif high > level:
                            above += step * (high - level) / (high - low)
                else:
                    lacks = True
                mean = new
                known = fine
                left_i -= step
                left_j -= step
                remaining -= step
            if known and mean > level:
                above += 0.5 * length
        else:
            lacks = True
        worst[m] = best
        over[m] = above
        unknown[m] = lacks
