"""The nearest cell with data for points beside land; only when the user asks."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from passage.inputs.forecast.conditions import OK, Floats
from passage.inputs.forecast.group import Group
from passage.units import NM_M

#: A minute of latitude is a nautical mile on this sphere.
_KM_PER_DEG = 60.0 * NM_M / 1000.0
#: Candidate cells looked at in one call.
_AT_ONCE = 200_000


def nearest_sea(
    group: Group, lat: Floats, lon: Floats, time: Floats, member: int, within_km: float
) -> tuple[npt.NDArray[np.bool_], Floats, Floats]:
    """Position of the nearest sea cell of masked points.

    Parameters
    ----------
    group : Group
        Fields with a mask.
    lat, lon : ndarray (n,)
        Points. [deg]
    time : ndarray (n,)
        Their times; the cell must have data then. [s]
    member : int
        Ensemble member.
    within_km : float
        Farthest a cell may be, on the sphere. [km]

    Returns
    -------
    tuple
        Whether one was found, and its latitude and longitude (the point's own where
        none was).
    """
    found = np.zeros(lat.size, bool)
    new_lat, new_lon = lat.copy(), lon.copy()
    for batch in _batches(group, lat, lon, within_km):
        point, cell_lat, cell_lon = batch
        _, code = group.sample(cell_lat, cell_lon, time[point], member)
        sea = code == OK
        # Candidates come sorted by distance: the first of each point is the nearest.
        points, first = np.unique(point[sea], return_index=True)
        found[points] = True
        new_lat[points] = cell_lat[sea][first]
        new_lon[points] = cell_lon[sea][first]
    return found, new_lat, new_lon


def cover_km(group: Group, lat: Floats, lon: Floats, time: Floats, most_km: float) -> float | None:
    """Smallest round distance (multiples of 5) at which all points find a cell; None if none.

    Points ``(n,)`` as in :func:`nearest_sea`, of the first member. [km]
    """
    found, to_lat, to_lon = nearest_sea(group, lat, lon, time, 0, most_km)
    if not found.all():
        return None
    farthest = max(
        float(great_circle_km(lat[i], lon[i], to_lat[i : i + 1], to_lon[i : i + 1])[0])
        for i in range(lat.size)
    )
    return 5.0 * float(np.ceil(farthest / 5.0 + 1e-9))


def _batches(
    group: Group, lat: Floats, lon: Floats, within_km: float
) -> Iterator[tuple[npt.NDArray[np.int64], Floats, Floats]]:
    """Candidate cells of the points, nearest first for each, some points at a time."""
    kept: list[tuple[npt.NDArray[np.int64], Floats, Floats]] = []
    size = 0
    for p in range(lat.size):
        cell_lat, cell_lon = cells_within(group, lat[p], lon[p], within_km)
        kept.append((np.full(cell_lat.size, p), cell_lat, cell_lon))
        size += cell_lat.size
        if size > _AT_ONCE or (p == lat.size - 1 and size):
            point, one, two = (np.concatenate(part) for part in zip(*kept, strict=True))
            yield point, one, two
            kept, size = [], 0


def cells_within(
    group: Group, lat_deg: float, lon_deg: float, within_km: float
) -> tuple[Floats, Floats]:
    """Grid points within a distance of a position, nearest first."""
    frame = group.frame
    east = float(frame.east_of_west_edge(np.array([lon_deg]))[0])
    reach = within_km / _KM_PER_DEG
    shrink = max(float(np.cos(np.radians(min(abs(lat_deg) + reach, 89.0)))), 0.02)
    rows = np.flatnonzero(np.abs(frame.lat_deg - lat_deg) <= reach * (1 + 1e-9))
    across = np.abs((frame.lon_deg - east + 180.0) % 360.0 - 180.0)
    columns = np.flatnonzero(across <= reach / shrink)
    cell_lat, cell_lon = (
        x.reshape(-1)
        for x in np.meshgrid(frame.lat_deg[rows], frame.lon_deg[columns], indexing="ij")
    )
    distance = great_circle_km(lat_deg, east, cell_lat, cell_lon)
    order = np.argsort(distance, kind="stable")
    order = order[distance[order] <= within_km]
    return cell_lat[order], cell_lon[order]


def great_circle_km(lat1: float, lon1: float, lat2: Floats, lon2: Floats) -> Floats:
    """Distance on the sphere by the haversine. [km]"""
    a, b = np.radians(lat1), np.radians(lat2)
    half = np.sin((b - a) / 2) ** 2
    half = half + np.cos(a) * np.cos(b) * np.sin(np.radians(lon2 - lon1) / 2) ** 2
    angle = 2.0 * np.degrees(np.arcsin(np.sqrt(np.minimum(half, 1.0))))
    return np.asarray(angle * _KM_PER_DEG)
