"""Planned and logged along the planned track, on the plan's segments."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from passage.planning.review.legs import roll_by_span_deg
from passage.planning.review.review import Review

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Strips:
    """Values on the segments under way, arrays (k,), NaN where there are none.

    ``way_nm`` is the middle of each segment in miles along the planned track, ``ends_nm``
    the first and last mile of each leg under way, ``legs`` their numbers. Fuel rates are of
    the main engines [l/h], roll is rms [deg], speeds are through the water [kn].
    """

    way_nm: Array
    legs: tuple[int, ...]
    ends_nm: tuple[tuple[float, float], ...]
    fuel_planned: Array
    fuel_low: Array
    fuel_high: Array
    fuel_logged: Array
    roll_planned: Array
    roll_low: Array
    roll_high: Array
    roll_logged: Array
    speed_planned: Array
    speed_logged: Array


def strips_of(found: Review) -> Strips:
    """Assign the log to the plan's segments, each span by its distance along its leg."""
    track, index = found.plan.track, found.plan.leg_index
    moving = np.flatnonzero(track["distance_nm"] > 0.0)
    length, hours = track["distance_nm"], track["hours"]
    ends = np.cumsum(np.where(length > 0.0, length, 0.0))
    segment = _segments(found)
    spans = found.spans

    def logged(values: Array, power: float = 1.0) -> Array:
        known = np.isfinite(values) & (segment >= 0)
        where = segment[known]
        weight = np.bincount(where, spans.hours[known], minlength=length.size)
        sums = np.bincount(
            where, values[known] ** power * spans.hours[known], minlength=length.size
        )
        mean = np.divide(sums, weight, out=np.full(length.size, np.nan), where=weight > 0.0)
        return np.asarray(mean ** (1.0 / power))[moving]

    speed = np.where(
        np.isfinite(spans.through_water_kn), spans.through_water_kn, spans.over_ground_kn
    )
    active = found.plan.options.get("fins", "active") == "active"
    roll = track["roll_active_rms_deg" if active else "roll_centred_rms_deg"]
    others = track["fuel_l"] - track["fuel_main_engines_l"]
    under_way = [int(n) for n in np.unique(index[moving])]

    def rate(values: Array) -> Array:
        return np.asarray(values / hours)[moving]

    return Strips(
        way_nm=(ends - 0.5 * length)[moving],
        legs=tuple(n + 1 for n in under_way),
        ends_nm=tuple(
            (
                float(ends[index == n][-1] - np.sum(length[index == n])),
                float(ends[index == n][-1]),
            )
            for n in under_way
        ),
        fuel_planned=rate(track["fuel_main_engines_l"]),
        fuel_low=rate(track["fuel_low_l"] - others),
        fuel_high=rate(track["fuel_high_l"] - others),
        fuel_logged=logged(spans.fuel_l_per_h),
        roll_planned=roll[moving],
        roll_low=track["roll_active_low_rms_deg"][moving],
        roll_high=track["roll_active_high_rms_deg"][moving],
        roll_logged=logged(roll_by_span_deg(spans), 2.0),
        speed_planned=track["speed_through_water_kn"][moving],
        speed_logged=logged(speed),
    )


def _segments(found: Review) -> npt.NDArray[np.int64]:
    """Segment of the plan that each span lies on; -1 where not known."""
    track, index = found.plan.track, found.plan.leg_index
    out = np.full(len(found.spans), -1, dtype=np.int64)
    for leg in np.unique(found.match.leg):
        own = np.flatnonzero(index == leg)
        mine = found.match.leg == leg
        done = np.cumsum(track["distance_nm"][own])
        if done[-1] == 0.0:
            continue
        along = found.match.along_nm[mine]
        if found.match.by_time:
            # Without positions: the distance that she would have made at the planned speeds.
            time = found.spans.time_s[mine]
            ends = track["time_s"][own] + 1800.0 * track["hours"][own]
            start = track["time_s"][own[0]] - 1800.0 * track["hours"][own[0]]
            along = np.interp(time, np.r_[start, ends], np.r_[0.0, done])
        at = np.clip(np.searchsorted(done, along), 0, own.size - 1)
        out[mine] = np.where(np.isfinite(along), own[at], -1)
    return out
