"""Pieces of the coastline for maps: cut to a frame and thinned."""

from __future__ import annotations

import numpy as np

from passage.inputs.coast.index import Floats, load_coastline


def rings_in(
    south_deg: float,
    north_deg: float,
    west_deg: float,
    east_deg: float,
    *,
    tolerance_deg: float = 0.0,
) -> list[Floats]:
    """Land within a frame, as closed rings of longitude and latitude, largest first.

    Parameters
    ----------
    south_deg, north_deg, west_deg, east_deg : float
        The frame; west greater than east means across the antimeridian.
    tolerance_deg : float
        Rings are thinned so that no point moves by more than this, and rings smaller
        than it are left out; 0 keeps every point.

    Returns
    -------
    list of ndarray, (n, 2)
        Longitudes run on from ``west_deg`` and pass 180 across the antimeridian. Land
        cut by the frame is closed along it. Waters within land (the Caspian Sea) come
        as rings of the opposite direction: fill by the non-zero or the even-odd rule.

    Raises
    ------
    ValueError
        South is not below north.
    """
    if not south_deg < north_deg:
        raise ValueError(f"south {south_deg} must be below north {north_deg}")
    coast = load_coastline()
    width = (east_deg - west_deg) % 360.0 or 360.0
    west = (west_deg + 180.0) % 360.0 - 180.0
    found = []
    for shift in (-360.0, 0.0, 360.0):
        box = coast.box + np.array([shift, 0.0, shift, 0.0])
        touches = (
            (box[:, 0] < west + width)
            & (box[:, 2] > west)
            & (box[:, 1] < north_deg)
            & (box[:, 3] > south_deg)
            & (np.maximum(box[:, 2] - box[:, 0], box[:, 3] - box[:, 1]) >= tolerance_deg)
        )
        for number in np.flatnonzero(touches):
            ring = coast.ring(int(number)) + np.array([shift, 0.0])
            for axis, limit, sign in (
                (0, west, 1.0),
                (0, west + width, -1.0),
                (1, south_deg, 1.0),
                (1, north_deg, -1.0),
            ):
                ring = clip_half_plane(ring, axis, limit, sign)
            ring = thin_ring(ring, tolerance_deg)
            if len(ring) >= 4:
                found.append(ring + np.array([west_deg - west, 0.0]))
    return sorted(found, key=lambda ring: -float(np.ptp(ring[:, 0]) * np.ptp(ring[:, 1])))


def clip_half_plane(ring: Floats, axis: int, limit: float, sign: float) -> Floats:
    """The part of a closed ring (n, 2) where ``sign * (ring[:, axis] - limit) >= 0``.

    Closed along the limit where cut; empty if nothing is left.
    """
    if len(ring) == 0:
        return ring
    side = sign * (ring[:, axis] - limit)
    if np.all(side >= 0.0):
        return ring
    if np.all(side < 0.0):
        return ring[:0]
    inside = side >= 0.0
    crosses = np.flatnonzero(inside[:-1] != inside[1:])
    share = side[crosses] / (side[crosses] - side[crosses + 1])
    cut = ring[crosses] + share[:, None] * (ring[crosses + 1] - ring[crosses])
    cut[:, axis] = limit
    kept = np.flatnonzero(inside[:-1])
    # A cut comes after the point it follows.
    place = np.concatenate([kept, crosses + 0.5])
    points = np.concatenate([ring[kept], cut])[np.argsort(place, kind="stable")]
    return np.concatenate([points, points[:1]])


def thin_ring(ring: Floats, tolerance: float) -> Floats:
    """A closed ring with the points left out that lie within ``tolerance`` of it.

    References
    ----------
    D. H. Douglas and T. K. Peucker, Algorithms for the reduction of the number of
    points required to represent a digitized line, Cartographica 10, 1973.
    """
    if len(ring) < 4 or tolerance <= 0.0:
        return ring
    # A closed ring is two lines, split at the point farthest from its start.
    far = int(np.argmax(np.hypot(*(ring - ring[0]).T)))
    if np.hypot(*(ring[far] - ring[0])) < tolerance:
        return ring[:0]
    keep = np.zeros(len(ring), dtype=bool)
    keep[[0, far, len(ring) - 1]] = True
    stack = [(0, far), (far, len(ring) - 1)]
    while stack:
        first, last = stack.pop()
        if last - first < 2:
            continue
        offset = _distances(ring[first + 1 : last], ring[first], ring[last])
        worst = int(np.argmax(offset))
        if offset[worst] > tolerance:
            middle = first + 1 + worst
            keep[middle] = True
            stack += [(first, middle), (middle, last)]
    return ring[keep]


def _distances(points: Floats, start: Floats, end: Floats) -> Floats:
    """Distance of points from a straight piece, ends included."""
    span = end - start
    square = float(span @ span)
    share = (points - start) @ span / square if square > 0.0 else np.zeros(len(points))
    foot = start + np.clip(share, 0.0, 1.0)[:, None] * span
    return np.asarray(np.hypot(*(points - foot).T))
