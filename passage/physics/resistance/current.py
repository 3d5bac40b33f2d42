"""Speed and heading in a current.

She makes good a course over the ground by steering a heading that allows for the set of the
current. Leeway (drift by wind) is not modelled.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class WaterTrack:
    """Speeds and heading at points, all of one shape.

    ``speed_through_water_m_s`` and ``speed_over_ground_m_s`` [m/s];
    ``heading_rad``, true heading through the water in [0, 2 pi) [rad];
    ``drift_angle_rad``, heading minus course, positive to starboard [rad]. NaN where
    the course cannot be made good.
    """

    speed_through_water_m_s: Array
    speed_over_ground_m_s: Array
    heading_rad: Array
    drift_angle_rad: Array


def along_and_across(
    course_rad: npt.ArrayLike, current_u_m_s: npt.ArrayLike, current_v_m_s: npt.ArrayLike
) -> tuple[Array, Array]:
    """Components of the current along the course and to starboard of it. [m/s]

    ``course_rad`` is true, clockwise from north; ``current_u_m_s`` and ``current_v_m_s`` are
    the components *towards* east and north.
    """
    course = np.asarray(course_rad, dtype=float)
    u = np.asarray(current_u_m_s, dtype=float)
    v = np.asarray(current_v_m_s, dtype=float)
    sine, cosine = np.sin(course), np.cos(course)
    return u * sine + v * cosine, u * cosine - v * sine


def _pack(course: npt.ArrayLike, stw: Array, sog: Array, drift: Array) -> WaterTrack:
    possible = np.isfinite(stw) & np.isfinite(sog) & np.isfinite(drift)
    heading = (np.asarray(course, dtype=float) + drift) % (2.0 * np.pi)
    nan = np.nan
    return WaterTrack(
        np.where(possible, stw, nan),
        np.where(possible, sog, nan),
        np.where(possible, heading, nan),
        np.where(possible, drift, nan),
    )


def hold_speed_through_water(
    course_rad: npt.ArrayLike,
    speed_m_s: npt.ArrayLike,
    current_u_m_s: npt.ArrayLike,
    current_v_m_s: npt.ArrayLike,
) -> WaterTrack:
    """Speed over ground along a course from a speed through the water.

    Parameters
    ----------
    course_rad : array_like
        True course to make good. [rad]
    speed_m_s : array_like
        Speed through the water, > 0. [m/s]
    current_u_m_s, current_v_m_s : array_like
        Current setting towards east and north. [m/s]

    Returns
    -------
    WaterTrack
        NaN where the current across the course is as fast as she is, or where she would make
        no way along the course.
    """
    along, across = along_and_across(course_rad, current_u_m_s, current_v_m_s)
    stw = np.asarray(speed_m_s, dtype=float) + 0.0 * along
    able = (stw > 0.0) & (np.abs(across) < stw)
    sine = np.where(able, -across / np.where(able, stw, 1.0), np.nan)
    drift = np.arcsin(sine)
    sog = stw * np.cos(drift) + along
    return _pack(course_rad, stw, np.where(sog > 0.0, sog, np.nan), drift)


def hold_speed_over_ground(
    course_rad: npt.ArrayLike,
    speed_m_s: npt.ArrayLike,
    current_u_m_s: npt.ArrayLike,
    current_v_m_s: npt.ArrayLike,
) -> WaterTrack:
    """Speed through the water that makes a speed over ground along a course.

    Parameters as in :func:`hold_speed_through_water`, with ``speed_m_s`` over the ground,
    > 0. NaN where the current alone carries her faster than that, as she does not go astern.

    Angles in rad, speeds in [m/s], current towards east (u) and north (v), broadcasting.
    Plane geometry.
    """
    along, across = along_and_across(course_rad, current_u_m_s, current_v_m_s)
    sog = np.asarray(speed_m_s, dtype=float) + 0.0 * along
    ahead = sog - along
    able = (sog > 0.0) & (ahead > 0.0)
    stw = np.where(able, np.hypot(ahead, across), np.nan)
    drift = np.arctan2(-across, ahead)
    return _pack(course_rad, stw, sog, drift)


def set_and_drift(
    current_u_m_s: npt.ArrayLike, current_v_m_s: npt.ArrayLike
) -> tuple[Array, Array]:
    """Direction the current sets *towards*, in [0, 2 pi), and its speed. [rad], [m/s]

    ``current_u_m_s`` and ``current_v_m_s`` are towards east and north. The direction is NaN
    where there is no current.
    """
    u = np.asarray(current_u_m_s, dtype=float)
    v = np.asarray(current_v_m_s, dtype=float)
    speed = np.hypot(u, v)
    to = np.arctan2(u, v) % (2.0 * np.pi)
    return np.where(speed > 0.0, to, np.nan), speed
