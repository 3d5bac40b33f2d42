"""Points along many legs at once, whatever their kinds."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from passage.inputs.route.geometry import LinePoints, great_circle_points, rhumb_points
from passage.inputs.route.model import Leg


def points_on_legs(
    legs: Sequence[Leg],
    index: npt.NDArray[np.int64],
    fraction: npt.NDArray[np.float64],
) -> LinePoints:
    """Points at fractions of the length of the legs named by ``index``.

    Parameters
    ----------
    legs
        Legs of a route, stays included.
    index, fraction : ndarray, (n,)
        Leg of each point, and the share of its length before the point [0 to 1].

    Returns
    -------
    LinePoints
        (n,) each. In a stay the point is the place and the course NaN.
    """
    ends = np.array(
        [(leg.lat_from_deg, leg.lon_from_deg, leg.lat_to_deg, leg.lon_to_deg) for leg in legs],
        dtype=np.float64,
    ).reshape(-1, 4)
    kinds = np.array([leg.kind for leg in legs])[index] if len(legs) else np.empty(0, "U1")
    lat, lon = ends[index, 2], ends[index, 3]
    course = np.full(lat.shape, np.nan)
    for kind, solve in (("rhumb", rhumb_points), ("great circle", great_circle_points)):
        at = np.flatnonzero(kinds == kind)
        if at.size:
            from_lat, from_lon, to_lat, to_lon = ends[index[at]].T
            points = solve(from_lat, from_lon, to_lat, to_lon, fraction[at])
            lat[at], lon[at] = points.lat_deg, points.lon_deg
            course[at] = points.course_deg
    return LinePoints(lat_deg=lat, lon_deg=lon, course_deg=course)
