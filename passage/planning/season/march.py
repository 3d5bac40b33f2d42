"""Times and movement of many departures along one track, current included.

``voyage/march.py`` works in rounds over all points; here a loop over the segments does it
in one pass. On each segment the current is read at the middle of its time, until that
changes by less than a fifth of `TIME_TOLERANCE_S`.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from passage.inputs.route import Track
from passage.physics.compiled import compile_loop
from passage.physics.tables.cell_sampling import (
    GAP,
    MASK_WEIGHT,
    MASKED,
    OK,
    OUTSIDE,
    CellRuns,
    place_in_time,
)
from passage.planning.voyage.march import TIME_TOLERANCE_S, Movement
from passage.units import HOUR_S, knots_to_m_s

Array = npt.NDArray[np.float64]
Codes = npt.NDArray[np.int8]


def one_row(values: Array) -> Array:
    """One row of an array that is broadcast over the departures; others unchanged."""
    return values[:1] if values.strides[0] == 0 else values


def track_speeds_m_s(track: Track) -> Array:
    """Speed through the water on each segment; 0 where she stays. [m/s]"""
    return np.where(track.length_m == 0.0, 0.0, knots_to_m_s(track.speed_kn))


def march_departures(
    track: Track, departures_s: Array, current: CellRuns | None
) -> tuple[Movement, Codes | None]:
    """Sail a track at its own speeds through the water.

    Parameters
    ----------
    track : Track
        n segments.
    departures_s : ndarray, (departures,)
        Leaving times. [s]
    current : CellRuns or None
        Fields: no data, eastward, northward; its places are the track's.

    Returns
    -------
    movement : Movement
        Arrays ``(departures, n)``; the heading is NaN in stays.
    current_code : ndarray of int8, (departures, n), or None
        Coverage of the current; None where none is given.
    """
    stay = track.length_m == 0.0
    speed = knots_to_m_s(track.speed_kn)
    shape = (departures_s.size, len(track))
    course = np.where(stay, 0.0, track.course_rad)
    stw = np.broadcast_to(np.where(stay, 0.0, speed), shape)
    if current is None:
        seconds = np.where(stay, track.stay_s, track.length_m / np.where(stay, 1.0, speed))
        end = departures_s[:, None] + np.cumsum(seconds)
        heading = np.broadcast_to(np.where(stay, np.nan, course), shape)
        movement = Movement(
            time_s=end - 0.5 * seconds,
            hours=np.broadcast_to(seconds / HOUR_S, shape),
            speed_through_water_m_s=stw,
            speed_over_ground_m_s=stw,
            heading_rad=heading,
            course_rad=np.broadcast_to(np.where(stay, np.nan, course), shape),
            no_way=np.zeros(shape, bool),
        )
        return movement, None
    middle, seconds = np.empty(shape), np.empty(shape)
    sog, drift = np.empty(shape), np.empty(shape)
    code = np.empty(shape, np.int8)
    _march_loop(
        current.data, current.time_s, current.step_s, current.gap, current.first_s,
        current.last_s, current.corner, current.weight, current.inside,
        departures_s, track.length_m, track.stay_s, speed, course, middle, seconds, sog, drift,
        code,
    )  # fmt: skip
    no_way = ~stay & np.isnan(sog)
    movement = Movement(
        time_s=middle,
        hours=seconds / HOUR_S,
        speed_through_water_m_s=np.where(no_way, np.nan, stw),
        speed_over_ground_m_s=np.where(stay, 0.0, sog),
        heading_rad=np.where(stay, np.nan, (course + drift) % (2.0 * np.pi)),
        course_rad=np.broadcast_to(np.where(stay, np.nan, course), middle.shape),
        no_way=no_way,
    )
    return movement, code


@compile_loop
def _march_loop(  # type: ignore[no-untyped-def]
    data, time_s, step_s, gap, first_s, last_s, corner, weight, inside, departures, length,
    stay_s, speed, course, middle, seconds, sog, drift, code,
):  # fmt: skip
    top = data.shape[1] - 1
    n = length.size
    clock = departures.copy()
    for k in range(n):
        sine, cosine = math.sin(course[k]), math.cos(course[k])
        a, b, c, d = corner[k, 0], corner[k, 1], corner[k, 2], corner[k, 3]
        wa, wb, wc, wd = weight[k, 0], weight[k, 1], weight[k, 2], weight[k, 3]
        stay = length[k] == 0.0
        for m in range(departures.size):
            over = speed[k]
            lasted = stay_s[k] if stay else length[k] / over
            off = 0.0
            for _ in range(8):
                t = clock[m] + 0.5 * lasted
                found, i, late = place_in_time(t, time_s, step_s, gap, first_s, last_s)
                if (found in (OK, GAP)) and not inside[k]:
                    found = OUTSIDE
                east = north = 0.0
                if found == OK:
                    j = min(i + 1, top)
                    soon = 1.0 - late
                    missing = wa * (soon * data[a, i, 0] + late * data[a, j, 0])
                    missing += wb * (soon * data[b, i, 0] + late * data[b, j, 0])
                    missing += wc * (soon * data[c, i, 0] + late * data[c, j, 0])
                    missing += wd * (soon * data[d, i, 0] + late * data[d, j, 0])
                    if missing > MASK_WEIGHT:
                        found = MASKED
                    else:
                        east = wa * (soon * data[a, i, 1] + late * data[a, j, 1])
                        east += wb * (soon * data[b, i, 1] + late * data[b, j, 1])
                        east += wc * (soon * data[c, i, 1] + late * data[c, j, 1])
                        east += wd * (soon * data[d, i, 1] + late * data[d, j, 1])
                        north = wa * (soon * data[a, i, 2] + late * data[a, j, 2])
                        north += wb * (soon * data[b, i, 2] + late * data[b, j, 2])
                        north += wc * (soon * data[c, i, 2] + late * data[c, j, 2])
                        north += wd * (soon * data[d, i, 2] + late * data[d, j, 2])
                code[m, k] = found
                if stay:
                    over = np.nan
                    break
                along = east * sine + north * cosine
                across = east * cosine - north * sine
                over = np.nan
                if abs(across) < speed[k]:
                    off = math.asin(-across / speed[k])
                    over = speed[k] * math.cos(off) + along
                if not over > 0.0:
                    over = np.nan
                    lasted = np.nan
                    break
                before = lasted
                lasted = length[k] / over
                if abs(lasted - before) < 0.2 * TIME_TOLERANCE_S:
                    break
            middle[m, k] = clock[m] + 0.5 * lasted
            seconds[m, k] = lasted
            sog[m, k] = over
            drift[m, k] = off
            clock[m] += lasted
