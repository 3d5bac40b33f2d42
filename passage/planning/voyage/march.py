"""A track in time: her position, speed and conditions at every moment.

The time at a point depends on the speed at every point before it, and that speed depends on
the current and sea at their own times. All points are sampled at once with a first guess of
the times; speeds follow, and from them new times, until no time changes by more than a
second. In the worst case each round makes one more segment from the start right, but currents
change so little in the time differences that three to five rounds are enough. The result is
that of a loop over the segments, in a few vectorised rounds over all departures, speeds and
members.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from passage.physics.resistance.current import hold_speed_over_ground, hold_speed_through_water
from passage.units import HOUR_S

if TYPE_CHECKING:
    from passage.inputs.forecast import Conditions, Forecast
    from passage.inputs.route import Track

Array = npt.NDArray[np.float64]

#: Largest change of a time between the last two rounds [s].
TIME_TOLERANCE_S = 1.0
MAX_ROUNDS = 40

#: Speed through water from (conditions, heading, ordered speed); shapes P.
SpeedRule = Callable[["Conditions", Array, Array], Array]


@dataclass(frozen=True)
class Movement:
    """Times and speeds along a track; arrays of shape ``L + (n,)``.

    ``time_s`` is the time at the middle of each segment, ``hours`` its duration; speeds are in
    m/s; ``heading_rad`` is the true heading, ``course_rad`` the true course over the ground
    (NaN in a stay). ``no_way`` marks points where the course cannot be made good at the ordered
    speed; from there on times are NaN.
    """

    time_s: Array
    hours: Array
    speed_through_water_m_s: Array
    speed_over_ground_m_s: Array
    heading_rad: Array
    course_rad: Array
    no_way: npt.NDArray[np.bool_]


@dataclass(frozen=True)
class March(Movement):
    """Movement and conditions; in a stay the bow is to the wind or the waves.

    ``end_time_s`` is the end of each segment; ``sampled_s`` are the times of the conditions,
    equal to ``time_s`` within the tolerance.
    """

    end_time_s: Array
    conditions: Conditions
    rounds: int
    converged: bool
    sampled_s: Array | None = None


def march(
    track: Track,
    forecast: Forecast,
    departure_s: npt.ArrayLike,
    speed_m_s: npt.ArrayLike,
    *,
    hold: str = "water",
    rule: SpeedRule | None = None,
    member: Any = 0,
    at_rest_heading: str = "wind",
    first_s: Array | None = None,
) -> March:
    """Compute times, speeds and conditions along a track.

    Parameters
    ----------
    track : Track
        Track of n segments.
    forecast : Forecast
        Forecast, sampled at every point.
    departure_s : array_like
        Departures, shape broadcasting to L. [s]
    speed_m_s : array_like
        Ordered speed, broadcasting to ``L + (n,)``; ignored in stays. [m/s]
    hold : {"water", "ground"}
        Whether the ordered speed is through water or over ground. With a ``rule`` it must be
        "water".
    rule : callable, optional
        Speed through the water from conditions, heading and ordered speed, for policies that
        depend on sea and wind; the ordered speed holds where the rule gives NaN.
    member : int or array_like
        Ensemble member, broadcasting to L.
    at_rest_heading : {"wind", "waves"}
        Heading in a stay; to the waves where there is no wind.
    first_s : ndarray, optional
        First guess of the times at the points, such as ``sampled_s`` of a similar march; saves
        rounds. [s]
    """
    departure = np.asarray(departure_s, dtype=float)[..., None]
    members = np.asarray(member)[..., None]
    stay = track.length_m == 0.0
    ordered = np.where(stay, 0.0, np.asarray(speed_m_s, dtype=float))
    shape = np.broadcast_shapes(departure.shape, ordered.shape, members.shape, stay.shape)
    ordered = np.broadcast_to(ordered, shape)
    course = np.broadcast_to(np.where(stay, 0.0, track.course_rad), shape)
    members = np.broadcast_to(members, shape)
    lat, lon = (np.broadcast_to(x, shape) for x in (track.lat_deg, track.lon_deg))

    sog = np.where(stay, np.nan, ordered)
    end, middle, hours = _times(track, departure, sog, stay)
    if first_s is not None:
        middle = np.where(np.isfinite(first_s), first_s, middle)
    converged = False
    for rounds in range(1, MAX_ROUNDS + 1):  # noqa: B007 - reported
        conditions = forecast.sample(lat, lon, middle, member=members)
        water = _speeds(conditions, course, ordered, hold, rule, stay)
        new_end, new_middle, hours = _times(track, departure, water.speed_over_ground_m_s, stay)
        shift = np.abs(new_middle - middle)
        sampled = middle
        end, middle = new_end, new_middle
        if not np.any(shift > TIME_TOLERANCE_S):
            converged = True
            break
    moving_heading = water.heading_rad
    heading = np.where(stay, _rest_heading(conditions, at_rest_heading), moving_heading)
    return March(
        time_s=middle,
        end_time_s=end,
        hours=hours,
        speed_through_water_m_s=np.where(stay, 0.0, water.speed_through_water_m_s),
        speed_over_ground_m_s=np.where(stay, 0.0, water.speed_over_ground_m_s),
        heading_rad=heading,
        course_rad=np.where(stay, np.nan, course),
        conditions=conditions,
        no_way=~stay & np.isnan(water.speed_over_ground_m_s),
        rounds=rounds,
        converged=converged,
        sampled_s=sampled,
    )


def _times(
    track: Track, departure: Array, sog: Array, stay: npt.NDArray[np.bool_]
) -> tuple[Array, Array, Array]:
    """End and middle of each segment [s] and its duration [h]."""
    seconds = np.where(stay, track.stay_s, track.length_m / np.where(stay, 1.0, sog))
    end = departure + np.cumsum(seconds, axis=-1)
    return end, end - 0.5 * seconds, seconds / HOUR_S


def _speeds(
    conditions: Conditions,
    course: Array,
    ordered: Array,
    hold: str,
    rule: SpeedRule | None,
    stay: npt.NDArray[np.bool_],
) -> Any:
    # A missing current counts as none; the plan notes it by current_coverage.
    u = np.nan_to_num(conditions.current_u_m_s, nan=0.0)
    v = np.nan_to_num(conditions.current_v_m_s, nan=0.0)
    # A placeholder speed, so that stays are not marked as "no way".
    speed = np.where(stay, 1e3, ordered)
    if hold == "ground":
        return hold_speed_over_ground(course, speed, u, v)
    if rule is not None:
        # For the forces, the heading at the ordered speed is close enough.
        first = hold_speed_through_water(course, speed, u, v)
        ruled = rule(conditions, first.heading_rad, ordered)
        speed = np.where(stay | np.isnan(ruled), speed, ruled)
    return hold_speed_through_water(course, speed, u, v)


def _rest_heading(conditions: Conditions, prefer: str) -> Array:
    """Bow to the wind, or to the waves where asked or where there is no wind."""
    u, v = conditions.wind_u_m_s, conditions.wind_v_m_s
    wind = np.where(np.hypot(u, v) > 0.0, np.arctan2(-u, -v) % (2.0 * np.pi), np.nan)
    energy = np.nan_to_num(conditions.height_m, nan=0.0) ** 2
    from_rad = np.nan_to_num(conditions.from_rad, nan=0.0)
    east = np.sum(energy * np.sin(from_rad), axis=-1)
    north = np.sum(energy * np.cos(from_rad), axis=-1)
    waves = np.where((east != 0.0) | (north != 0.0), np.arctan2(east, north) % (2 * np.pi), np.nan)
    first, second = (waves, wind) if prefer == "waves" else (wind, waves)
    return np.where(np.isnan(first), second, first)
