"""A route cut into short segments, each sailed at one speed on one course."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from passage.errors import RouteError
from passage.inputs.route.along import points_on_legs
from passage.inputs.route.model import Leg, Route
from passage.units import HOUR_S, deg_to_rad, knots_to_m_s

#: More segments than this come from a slip in the speed or the minutes.
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
    count = np.array(counts, dtype=np.int64)
    index = np.repeat(np.arange(count.size), count)
    first = np.cumsum(count) - count
    place = np.arange(index.size) - first[index]
    whole = count[index]
    middle = points_on_legs(route.legs, index, (place + 0.5) / whole)
    end = points_on_legs(route.legs, index, (place + 1.0) / whole)
    # Legs end on the waypoint itself, not on its neighbour in the last digit.
    last = first + count - 1
    end.lat_deg[last] = [leg.lat_to_deg for leg in route.legs]
    end.lon_deg[last] = [leg.lon_to_deg for leg in route.legs]
    distance_m = np.array([leg.distance_m for leg in route.legs])
    stay_s = np.array([leg.stay_h * HOUR_S for leg in route.legs])
    speeds_kn = np.array([_speed_kn(leg, speed_kn) for leg in route.legs])
    start = route.legs[0]
    return Track(
        leg=_frozen(index),
        lat_deg=_frozen(middle.lat_deg),
        lon_deg=_frozen(middle.lon_deg),
        course_rad=_frozen(deg_to_rad(middle.course_deg)),
        length_m=_frozen((distance_m / count)[index]),
        stay_s=_frozen((stay_s / count)[index]),
        speed_kn=_frozen(speeds_kn[index]),
        end_lat_deg=_frozen(np.concatenate([[start.lat_from_deg], end.lat_deg])),
        end_lon_deg=_frozen(np.concatenate([[start.lon_from_deg], end.lon_deg])),
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


def _frozen(array: npt.NDArray) -> npt.NDArray:
    array.setflags(write=False)
    return array
