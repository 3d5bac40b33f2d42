"""A route cut into short segments, each sailed at one speed on one course."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from passage.errors import RouteError
from passage.inputs.route.geometry import line_points
from passage.inputs.route.model import Leg, Route
from passage.units import HOUR_S, deg_to_rad, knots_to_m_s

#: More segments than this is a slip in the speed or the minutes, not a passage.
MAX_SEGMENTS = 200_000


@dataclass(frozen=True)
class Track:
    """Arrays over n segments; frozen, and the arrays are read-only.

    Attributes
    ----------
    leg : ndarray of int, (n,)
        Index of the leg in ``Route.legs``.
    lat_deg, lon_deg : ndarray, (n,)
        Middle of the segment, longitude in [-180, 180).
    course_rad : ndarray, (n,)
        True course at the middle; NaN in a stay, where she has none.
    length_m : ndarray, (n,)
        Length; 0 in a stay.
    stay_s : ndarray, (n,)
        Time spent; 0 under way, where it follows from length and speed.
    speed_kn : ndarray, (n,)
        Speed the segment was cut for: the leg's own, else the default; 0 in a stay.
    end_lat_deg, end_lon_deg : ndarray, (n + 1,)
        Ends of the segments, start of the route first.
    leg_names : tuple of str
        ``A to B`` or ``stay at B``, one per leg of the route.
    """

    leg: npt.NDArray[np.int64]
    lat_deg: npt.NDArray[np.float64]
    lon_deg: npt.NDArray[np.float64]
    course_rad: npt.NDArray[np.float64]
    length_m: npt.NDArray[np.float64]
    stay_s: npt.NDArray[np.float64]
    speed_kn: npt.NDArray[np.float64]
    end_lat_deg: npt.NDArray[np.float64]
    end_lon_deg: npt.NDArray[np.float64]
    leg_names: tuple[str, ...]

    def __len__(self) -> int:
        """Number of segments."""
        return int(self.leg.size)


def make_track(route: Route, speed_kn: float, minutes: float = 20.0) -> Track:
    """Cut every leg into equal segments of at most ``minutes`` at its speed.

    Parameters
    ----------
    route
        As `read_route` gives it.
    speed_kn
        Speed where a leg gives none, > 0. [kn]
    minutes
        Longest time on a segment, > 0. [min]

    Returns
    -------
    Track

    Raises
    ------
    RouteError
        A speed or time step that is not a positive number, or so small that the
        track would have more than `MAX_SEGMENTS` segments.
    """
    for word, value in (("speed", speed_kn), ("time step", minutes)):
        if not (math.isfinite(value) and value > 0.0):
            raise RouteError(f"{word} {value} cannot be used. Give a number above 0.")
    counts = [_segments(leg, speed_kn, minutes) for leg in route.legs]
    if sum(counts) > MAX_SEGMENTS:
        raise RouteError(
            f"{route.path or route.name}: {sum(counts):.3g} segments of {minutes:g} "
            f"minutes at {speed_kn:g} kn, more than {MAX_SEGMENTS}. "
            "Raise the speed or the minutes."
        )
    columns: dict[str, list[npt.NDArray[np.float64]]] = {
        key: [] for key in ("lat", "lon", "course", "length", "stay", "speed", "ends")
    }
    ends_lat = [np.array([route.legs[0].lat_from_deg])]
    ends_lon = [np.array([route.legs[0].lon_from_deg])]
    for leg, count_float in zip(route.legs, counts, strict=True):
        count = int(count_float)
        part = np.full(count, 1.0 / count)
        if leg.kind == "stay":
            middle_lat = end_lat = np.full(count, leg.lat_to_deg)
            middle_lon = end_lon = np.full(count, leg.lon_to_deg)
            course = np.full(count, np.nan)
        else:
            middle = _along(leg, (np.arange(count) + 0.5) / count)
            middle_lat, middle_lon, course = middle
            end_lat, end_lon, _ = _along(leg, np.arange(1, count + 1) / count)
            # The waypoint itself, not its neighbour in the last digit.
            end_lat[-1], end_lon[-1] = leg.lat_to_deg, leg.lon_to_deg
        columns["lat"].append(middle_lat)
        columns["lon"].append(middle_lon)
        columns["course"].append(deg_to_rad(course))
        columns["length"].append(part * leg.distance_m)
        columns["stay"].append(part * leg.stay_h * HOUR_S)
        columns["speed"].append(np.full(count, _speed_kn(leg, speed_kn)))
        ends_lat.append(end_lat)
        ends_lon.append(end_lon)
    index = np.repeat(np.arange(len(route.legs)), np.array(counts, dtype=np.int64))
    return Track(
        leg=_frozen(index),
        lat_deg=_frozen(np.concatenate(columns["lat"])),
        lon_deg=_frozen(np.concatenate(columns["lon"])),
        course_rad=_frozen(np.concatenate(columns["course"])),
        length_m=_frozen(np.concatenate(columns["length"])),
        stay_s=_frozen(np.concatenate(columns["stay"])),
        speed_kn=_frozen(np.concatenate(columns["speed"])),
        end_lat_deg=_frozen(np.concatenate(ends_lat)),
        end_lon_deg=_frozen(np.concatenate(ends_lon)),
        leg_names=tuple(leg.label for leg in route.legs),
    )


def _speed_kn(leg: Leg, default_kn: float) -> float:
    if leg.kind == "stay":
        return 0.0
    return default_kn if leg.speed_kn is None else leg.speed_kn


def _segments(leg: Leg, default_kn: float, minutes: float) -> float:
    """Number of segments, as a float so that absurd ones can be reported."""
    if leg.kind == "stay":
        hours = leg.stay_h
    else:
        hours = leg.distance_m / knots_to_m_s(_speed_kn(leg, default_kn)) / HOUR_S
    steps = hours * 60.0 / minutes
    # Rounding must not add a segment to a leg of exactly, say, 3 hours.
    return max(1.0, float(np.ceil(steps * (1.0 - 1e-9))))


def _along(leg: Leg, fraction: npt.NDArray[np.float64]) -> tuple[npt.NDArray[np.float64], ...]:
    points = line_points(
        leg.kind,
        leg.lat_from_deg,
        leg.lon_from_deg,
        leg.lat_to_deg,
        leg.lon_to_deg,
        fraction,
    )
    return points.lat_deg, points.lon_deg, points.course_deg


def _frozen(array: npt.NDArray) -> npt.NDArray:
    array.setflags(write=False)
    return array
