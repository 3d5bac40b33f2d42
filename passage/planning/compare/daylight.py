"""The sun's altitude at a place and time, and the dark hours of a time window.

Low-precision formulae for the Sun from the Astronomical Almanac (section C): apparent
place within about 0.01 degree from 1950 to 2050. At sunrise and sunset the upper limb is
on the horizon with standard refraction, so the centre is 50 minutes of arc below it.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import numpy.typing as npt

from passage.units import HOUR_S, deg_to_rad, rad_to_deg, wrap_180

Array = npt.NDArray[np.float64]

#: Altitude of the sun's centre at sunrise and sunset: 34' refraction and 16' radius.
SUNRISE_ALTITUDE_DEG = -50.0 / 60.0
_DAY_S = 24.0 * HOUR_S
#: Seconds since 1970 of the epoch J2000.0, 2000-01-01T12:00Z.
_J2000_S = 946728000.0


def sun_altitude_deg(
    time_s: npt.ArrayLike, lat_deg: npt.ArrayLike, lon_deg: npt.ArrayLike
) -> Array:
    """Altitude of the sun's centre above the horizon, without refraction. [deg]

    Parameters
    ----------
    time_s : array_like
        Seconds since 1970-01-01T00:00Z; broadcasts with the position. [s]
    lat_deg, lon_deg : array_like
        Position, north and east positive. [deg]

    Returns
    -------
    ndarray
        NaN in gives NaN out.

    References
    ----------
    The Astronomical Almanac, section C, "Low precision formulas for the Sun"; sidereal
    time by the linear expression of the U.S. Naval Observatory.
    """
    days = (np.asarray(time_s, dtype=float) - _J2000_S) / _DAY_S
    right_ascension, declination = _sun_place(days)
    sidereal_deg = 15.0 * (18.697374558 + 24.06570982441908 * days)
    hour_angle = deg_to_rad(wrap_180(sidereal_deg + np.asarray(lon_deg, dtype=float)))
    hour_angle = hour_angle - right_ascension
    lat = deg_to_rad(np.asarray(lat_deg, dtype=float))
    height = np.sin(lat) * np.sin(declination)
    height = height + np.cos(lat) * np.cos(declination) * np.cos(hour_angle)
    return np.asarray(rad_to_deg(np.arcsin(np.clip(height, -1.0, 1.0))))


def _sun_place(days: Array) -> tuple[Array, Array]:
    """Right ascension and declination of the sun. [rad]"""
    mean_longitude = 280.460 + 0.9856474 * days
    anomaly = deg_to_rad(357.528 + 0.9856003 * days)
    longitude = deg_to_rad(mean_longitude + 1.915 * np.sin(anomaly) + 0.020 * np.sin(2 * anomaly))
    obliquity = deg_to_rad(23.439 - 0.0000004 * days)
    right_ascension = np.arctan2(np.cos(obliquity) * np.sin(longitude), np.cos(longitude))
    return right_ascension, np.arcsin(np.sin(obliquity) * np.sin(longitude))


def is_daylight(
    time_s: npt.ArrayLike, lat_deg: npt.ArrayLike, lon_deg: npt.ArrayLike
) -> npt.NDArray[np.bool_]:
    """Between sunrise and sunset; False where the time is not known."""
    return np.asarray(sun_altitude_deg(time_s, lat_deg, lon_deg) >= SUNRISE_ALTITUDE_DEG)


def dark_spans(
    from_s: float, to_s: float, lat_deg: float, lon_deg: float
) -> list[tuple[float, float]]:
    """Spans of a time window when the sun is down, to about a second. [s since 1970]"""
    if not to_s > from_s:
        return []
    grid = np.linspace(from_s, to_s, max(2, int((to_s - from_s) / 600.0) + 1))
    up = is_daylight(grid, lat_deg, lon_deg)
    edges = []
    for i in np.flatnonzero(up[1:] != up[:-1]):
        low, high = float(grid[i]), float(grid[i + 1])
        while high - low > 1.0:
            middle = 0.5 * (low + high)
            same = bool(is_daylight(middle, lat_deg, lon_deg)) == bool(up[i])
            low, high = (middle, high) if same else (low, middle)
        edges.append(0.5 * (low + high))
    marks = [from_s, *edges, to_s]
    first_dark = not bool(up[0])
    return [(a, b) for i, (a, b) in enumerate(pairwise(marks)) if (i % 2 == 0) == first_dark]
