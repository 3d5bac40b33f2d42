"""The nearest cell with data for points beside land; only when the user asks."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from passage.inputs.forecast.conditions import MASKED, OK, Floats
from passage.units import NM_M

_KM_PER_DEG = 60.0 * NM_M / 1000.0


def nearest_sea(
    group: Any, lat: Floats, lon: Floats, time: Floats, member: int, within_km: float
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
    frame = group.frame
    east = frame.east_of_west_edge(lon)
    reach_lat = within_km / _KM_PER_DEG
    n_lat, n_lon = frame.lat_deg.size, frame.lon_deg.size
    for p in range(lat.size):
        shrink = max(np.cos(np.radians(min(abs(lat[p]) + reach_lat, 89.0))), 0.02)
        a, b = np.searchsorted(frame.lat_deg, [lat[p] - reach_lat, lat[p] + reach_lat + 1e-9])
        reach_lon = reach_lat / shrink
        c, d = np.searchsorted(frame.lon_deg, [east[p] - reach_lon, east[p] + reach_lon + 1e-9])
        a, b, c, d = max(a, 0), min(b, n_lat), max(c, 0), min(d, n_lon)
        if a >= b or c >= d:
            continue
        cell_lat, cell_lon = (
            x.reshape(-1)
            for x in np.meshgrid(frame.lat_deg[a:b], frame.lon_deg[c:d], indexing="ij")
        )
        distance = great_circle_km(lat[p], east[p], cell_lat, cell_lon)
        close = np.flatnonzero(distance <= within_km)
        order = close[np.argsort(distance[close], kind="stable")]
        if order.size == 0:
            continue
        when = np.full(order.size, time[p])
        _, code = group.sample(cell_lat[order], cell_lon[order], when, member)
        sea = np.flatnonzero(code == OK)
        if sea.size:
            best = order[sea[0]]
            found[p] = True
            new_lat[p], new_lon[p] = cell_lat[best], cell_lon[best]
        assert np.all((code == OK) | (code == MASKED))
    return found, new_lat, new_lon


def great_circle_km(lat1: float, lon1: float, lat2: Floats, lon2: Floats) -> Floats:
    """Distance on the sphere by the haversine. [km]"""
    a, b = np.radians(lat1), np.radians(lat2)
    half = np.sin((b - a) / 2) ** 2
    half = half + np.cos(a) * np.cos(b) * np.sin(np.radians(lon2 - lon1) / 2) ** 2
    angle = 2.0 * np.degrees(np.arcsin(np.sqrt(np.minimum(half, 1.0))))
    return np.asarray(angle * _KM_PER_DEG)
