"""Which leg of the plan each span of the log belongs to.

The legs are sailed in order, so the spans are cut into one run for each leg, such that
they lie nearest to the planned track on the whole. Time decides only where position does
not, so a passage that left late or took another track is still matched to its legs.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from passage.inputs.records.plan_file import PlanFile
from passage.planning.review.spans import Spans
from passage.units import HOUR_S, wrap_180

Array = npt.NDArray[np.float64]

#: At rest below this [kn].
REST_KN = 1.0
#: Added to the square of the miles off the track: for a course across or against the leg's,
#: for rest on a leg or motion in a stay, for each squared hour outside the leg's planned
#: time. Assumptions; small beside any real distance off the track.
_AGAINST_NM2, _REST_NM2, _HOUR_NM2 = 0.25, 0.25, 1e-4
_BLOCK = 4000
_MINUTES_PER_DEGREE = 60.0


@dataclass(frozen=True, eq=False)
class Match:
    """Leg of each span (from 0), miles off its track, and miles along it; arrays (m,).

    ``by_time`` is True where the log has no positions.
    """

    leg: npt.NDArray[np.int64]
    off_nm: Array
    along_nm: Array
    by_time: bool


def match_legs(spans: Spans, plan: PlanFile) -> Match:
    """Match spans to legs by position, course, rest or motion and, last, time."""
    index = plan.leg_index
    count = int(index[-1]) + 1
    placed = np.isfinite(spans.lat_deg) & np.isfinite(spans.lon_deg)
    off = np.full((count, len(spans)), np.nan)
    along = np.full((count, len(spans)), np.nan)
    cost = np.zeros((count, len(spans)))
    speed = np.where(
        np.isfinite(spans.over_ground_kn), spans.over_ground_kn, spans.through_water_kn
    )
    course = spans_course(spans)
    late = spans.time_s[0] - plan.departure_s
    for leg in range(count):
        of_leg = index == leg
        stay = bool(np.all(plan.track["distance_nm"][of_leg] == 0.0))
        off[leg], along[leg] = _distance(spans, plan, of_leg, stay=stay)
        cost[leg] = np.where(placed, off[leg] ** 2, 0.0)
        resting = speed < REST_KN
        wrong = ~resting if stay else resting
        cost[leg] += np.where(wrong & np.isfinite(speed), _REST_NM2, 0.0)
        if not stay:
            ahead = plan.track["track_course_deg"][of_leg]
            mean = (
                np.angle(np.nanmean(np.exp(1j * np.deg2rad(ahead))))
                if np.any(np.isfinite(ahead))
                else np.nan
            )
            turned = 1.0 - np.cos(np.deg2rad(course) - mean)
            cost[leg] += _AGAINST_NM2 * np.where(np.isfinite(turned) & ~resting, turned, 0.0)
        hours, time = plan.track["hours"][of_leg], plan.track["time_s"][of_leg]
        begin = time[0] - 0.5 * hours[0] * HOUR_S + late
        end = time[-1] + 0.5 * hours[-1] * HOUR_S + late
        outside = np.maximum(np.maximum(begin - spans.time_s, spans.time_s - end), 0.0) / HOUR_S
        cost[leg] += (_HOUR_NM2 if np.any(placed) else 1.0) * outside**2
    chosen = _runs(cost)
    rows = np.arange(len(spans))
    return Match(chosen, off[chosen, rows], along[chosen, rows], not bool(np.any(placed)))


def _runs(cost: Array) -> npt.NDArray[np.int64]:
    """Leg of each span, never decreasing, with the least sum of ``cost`` (legs, spans)."""
    legs, spans = cost.shape
    sums = np.concatenate([np.zeros((legs, 1)), np.cumsum(cost, axis=1)], axis=1)
    starts = np.zeros((legs, spans + 1), dtype=np.int64)
    best = np.where(np.arange(spans + 1) == 0, 0.0, np.inf)
    for leg in range(legs):
        # If the leg begins after k spans: best of the legs before, less this leg's cost of them.
        gain = best - sums[leg]
        least = np.minimum.accumulate(gain)
        new = np.r_[True, gain[1:] < least[:-1]]
        starts[leg] = np.maximum.accumulate(np.where(new, np.arange(spans + 1), 0))
        best = sums[leg] + least
    out = np.zeros(spans, dtype=np.int64)
    end = spans
    for leg in reversed(range(legs)):
        start = int(starts[leg, end])
        out[start:end] = leg
        end = start
    return out


def spans_course(spans: Spans, *, headings: bool = True) -> Array:
    """Heading where logged and wanted, else course over the ground from positions. [deg]"""
    lat, lon = spans.lat_deg, spans.lon_deg
    course = np.full(len(spans), np.nan)
    if len(spans) > 1:
        reach = 1 if spans.averaged else 3
        ahead = np.minimum(np.arange(len(spans)) + reach, len(spans) - 1)
        back = np.maximum(np.arange(len(spans)) - reach, 0)
        north = lat[ahead] - lat[back]
        east = wrap_180(lon[ahead] - lon[back]) * np.cos(np.deg2rad(lat))
        moved = np.hypot(north, east) > 0.0
        course = np.where(moved, np.rad2deg(np.arctan2(east, north)) % 360.0, np.nan)
    if not headings:
        return course
    return np.where(np.isfinite(spans.heading_deg), spans.heading_deg, course)


def _distance(
    spans: Spans, plan: PlanFile, of_leg: npt.NDArray[np.bool_], *, stay: bool
) -> tuple[Array, Array]:
    """Miles off the leg's track and along it, on a plane at each segment."""
    at = np.flatnonzero(of_leg)
    ends = slice(at[0], at[-1] + 2)
    lat, lon = plan.track["end_lat_deg"][ends], plan.track["end_lon_deg"][ends]
    middle = np.cos(np.deg2rad(0.5 * (lat[:-1] + lat[1:])))
    dx = wrap_180(np.diff(lon)) * middle * _MINUTES_PER_DEGREE
    dy = np.diff(lat) * _MINUTES_PER_DEGREE
    length2 = np.maximum(dx**2 + dy**2, 1e-12)
    done = np.cumsum(plan.track["distance_nm"][at]) - plan.track["distance_nm"][at]
    off, along = np.full(len(spans), np.nan), np.full(len(spans), np.nan)
    for first in range(0, len(spans), _BLOCK):
        part = slice(first, first + _BLOCK)
        x = wrap_180(spans.lon_deg[part, None] - lon[:-1]) * middle * _MINUTES_PER_DEGREE
        y = (spans.lat_deg[part, None] - lat[:-1]) * _MINUTES_PER_DEGREE
        share = np.clip((x * dx + y * dy) / length2, 0.0, 1.0)
        away = np.hypot(x - share * dx, y - share * dy)
        near = np.argmin(np.where(np.isnan(away), np.inf, away), axis=1)
        rows = np.arange(near.size)
        off[part] = away[rows, near]
        along[part] = done[near] + share[rows, near] * plan.track["distance_nm"][at][near]
    return off, (np.where(np.isnan(off), np.nan, 0.0) if stay else along)
