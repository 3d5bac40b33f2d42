"""Land: does a leg run over it, is a point on it, how far away is it.

The coastline is Natural Earth's at 1:10 million. It is **not for navigation**: rocks and
small islands are missing, harbours and narrow channels may be closed, and there are no
depths. It is for warning of legs that are plainly wrong, and for drawing maps.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from passage.inputs.coast.index import (
    Bools,
    Floats,
    Ints,
    cells_of_segments,
    load_coastline,
    spread,
    winding_number,
)
from passage.inputs.coast.rings import rings_in
from passage.inputs.route.along import points_on_legs
from passage.inputs.route.geometry import WGS84
from passage.inputs.route.model import Leg, Route
from passage.inputs.route.positions import format_position, wrap_longitude
from passage.units import NM_M, deg_to_rad, m_to_nm, rad_to_deg

if TYPE_CHECKING:
    from scipy.spatial import cKDTree

__all__ = [
    "LandCrossing",
    "distance_to_land_nm",
    "is_land",
    "is_near_land",
    "legs_over_land",
    "rings_in",
]

#: Legs are tested as chords of this length [m]; off a curved leg by under 10 m.
_STEP_M = 4.0 * NM_M
#: Share of a leg below which a piece is only rounding.
_NO_LENGTH = 1e-12
#: Samples along the coast for distances [nm].
_SAMPLE_NM = 1.0
#: Nearer to a pole, or with more pairs of points and edges, the whole coast is searched.
_POLAR_DEG, _PAIRS = 85.0, 1_000_000
_MEAN_RADIUS_NM = float(m_to_nm((2.0 * WGS84.a + WGS84.b) / 3.0))


@dataclass(frozen=True)
class LandCrossing:
    """One leg that runs over land.

    Attributes
    ----------
    leg : int
        Index in ``Route.legs``.
    label : str
        ``A to B``.
    lat_deg, lon_deg : float
        Where it is first over land.
    distance_nm : float
        From the start of the leg to that place.
    over_land_nm : float
        Length over land, all pieces together.
    starts_on_land, ends_on_land : bool
        The waypoint itself is on land by this coastline; in ports it often is.
    only_at_ends : bool
        Only the approach to such a waypoint is over land; the rest of the leg is clear.
    """

    leg: int
    label: str
    lat_deg: float
    lon_deg: float
    distance_nm: float
    over_land_nm: float
    starts_on_land: bool
    ends_on_land: bool
    only_at_ends: bool

    @property
    def text(self) -> str:
        """One line for a caution."""
        where = format_position(self.lat_deg, self.lon_deg)
        return (
            f"leg {self.leg + 1} ({self.label}) is over land for {self.over_land_nm:.1f} nm "
            f"from {where}, {self.distance_nm:.1f} nm into the leg, by a coarse coastline"
        )


def legs_over_land(route: Route) -> tuple[LandCrossing, ...]:
    """Legs of a route that run over land, in order; stays are tested as points.

    Returns
    -------
    tuple of LandCrossing
        Empty if no leg does, which does not make the route safe.
    """
    if not route.legs:
        return ()
    chords = _chords(route.legs)
    cut_leg, cut = _cuts(len(route.legs), chords)
    # Pieces without length have no middle to test.
    same = np.flatnonzero((cut_leg[1:] == cut_leg[:-1]) & (np.diff(cut) > _NO_LENGTH))
    piece_leg = cut_leg[same]
    over = is_land(*chords.at(piece_leg, 0.5 * (cut[same] + cut[same + 1])))
    found = []
    for index in np.unique(piece_leg[over]):
        mine = piece_leg == index
        shares = np.append(cut[same][mine], 1.0)
        found.append(_crossing(int(index), route.legs[index], chords, shares, over[mine]))
    return tuple(found)


def is_land(lat_deg: npt.ArrayLike, lon_deg: npt.ArrayLike) -> Bools:
    """Whether points are on land.

    Parameters
    ----------
    lat_deg, lon_deg : array_like
        Broadcast together; any longitude range. [deg]

    Returns
    -------
    ndarray of bool
        False where a coordinate is NaN.
    """
    lat, lon = np.broadcast_arrays(
        np.asarray(lat_deg, dtype=np.float64), np.asarray(lon_deg, dtype=np.float64)
    )
    known = np.isfinite(lat) & np.isfinite(lon)
    result = np.zeros(lat.shape, dtype=bool)
    inside = (lon[known] + 180.0) % 360.0 - 180.0
    result[known] = winding_number(inside, lat[known]) != 0
    return result


def distance_to_land_nm(lat_deg: npt.ArrayLike, lon_deg: npt.ArrayLike) -> Floats:
    """Distance to the nearest land, 0 on land, NaN where a coordinate is NaN. [nm]

    Parameters
    ----------
    lat_deg, lon_deg : array_like
        Broadcast together; any longitude range. [deg]

    Notes
    -----
    On a sphere of the earth's mean radius, which is within 0.6 % of the ellipsoid, to
    straight edges between the points of the coastline; long edges are sampled every
    mile, and the edges of the nearest samples are then measured. Against all edges this
    was within 0.011 nm at 719 random points less than 10 nm off four broken coasts. Cuts
    along the antimeridian lie within land and change nothing.
    """
    lat, lon = np.broadcast_arrays(
        np.asarray(lat_deg, dtype=np.float64), np.asarray(lon_deg, dtype=np.float64)
    )
    result = np.full(lat.shape, np.nan)
    known = np.isfinite(lat) & np.isfinite(lon)
    flat_lat, flat_lon = lat[known], lon[known]
    if flat_lat.size:
        nearest = _distance_to_coast_nm(flat_lat, flat_lon)
        result[known] = np.where(is_land(flat_lat, flat_lon), 0.0, nearest)
    return result


def is_near_land(lat_deg: npt.ArrayLike, lon_deg: npt.ArrayLike, within_nm: float) -> Bools:
    """Whether land is within so many miles of each point; False where a coordinate is NaN.

    As `distance_to_land_nm` would say, but only the edges around the points are looked at.
    [deg], [nm]
    """
    lat, lon = np.broadcast_arrays(
        np.asarray(lat_deg, dtype=np.float64), np.asarray(lon_deg, dtype=np.float64)
    )
    result = np.zeros(lat.shape, dtype=bool)
    known = np.isfinite(lat) & np.isfinite(lon)
    if not np.any(known):
        return result
    here_lat, here_lon = lat[known], lon[known]
    coast = load_coastline()
    room = 1.02 * float(rad_to_deg(within_nm / _MEAN_RADIUS_NM))
    low, high = here_lat.min() - room, here_lat.max() + room
    # East of the first point, so that the antimeridian is no edge of the box.
    first = here_lon[0]
    east, east1, east2 = (
        (x - first + 180.0) % 360.0 - 180.0 for x in (here_lon, coast.x1, coast.x2)
    )
    edge = np.zeros(0, dtype=np.int64)
    polar = max(abs(low), abs(high)) > _POLAR_DEG
    if not polar:
        wide = room / float(np.cos(deg_to_rad(max(abs(low), abs(high)))))
        edge = np.flatnonzero(
            (np.maximum(coast.y1, coast.y2) >= low)
            & (np.minimum(coast.y1, coast.y2) <= high)
            & (np.maximum(east1, east2) >= east.min() - wide)
            & (np.minimum(east1, east2) <= east.max() + wide)
        )
    if polar or edge.size * here_lat.size > _PAIRS:
        near = distance_to_land_nm(here_lat, here_lon) <= within_nm
    else:
        near = is_land(here_lat, here_lon)
        if edge.size:
            each = np.broadcast_to(edge, (here_lat.size, edge.size))
            near |= _to_edges_nm(_unit_vectors(here_lat, here_lon), each) <= within_nm
    result[known] = near
    return result


@dataclass(frozen=True)
class _Chords:
    """Legs as chains of short straight pieces; ``first`` is a leg's first point.

    Longitudes run on over the antimeridian within a leg.
    """

    leg: Ints
    share: Floats
    lat: Floats
    lon: Floats
    first: Ints
    count: Ints

    def at(self, leg: Ints, share: Floats) -> tuple[Floats, Floats]:
        """Latitude and longitude at shares of legs, along the chords."""
        place = share * self.count[leg]
        before = np.minimum(np.floor(place), self.count[leg] - 1).astype(np.int64)
        point = self.first[leg] + before
        part = place - before
        lat = self.lat[point] + part * (self.lat[point + 1] - self.lat[point])
        lon = self.lon[point] + part * (self.lon[point + 1] - self.lon[point])
        return lat, lon


def _chords(legs: Sequence[Leg]) -> _Chords:
    length_m = np.array([leg.distance_m for leg in legs])
    count = np.maximum(1, np.ceil(length_m / _STEP_M)).astype(np.int64)
    leg, place = spread(count + 1)
    share = place / count[leg]
    points = points_on_legs(legs, leg, share)
    # Unwrapped over all legs: each starts where the last one ended.
    lon = np.unwrap(points.lon_deg, period=360.0)
    return _Chords(leg, share, points.lat_deg, lon, np.cumsum(count + 1) - count - 1, count)


def _crossing(index: int, leg: Leg, chords: _Chords, shares: Floats, over: Bools) -> LandCrossing:
    first = shares[:-1][over][:1]
    lat, lon = chords.at(np.array([index]), first)
    length_nm = float(m_to_nm(leg.distance_m))
    leading = over.size if over.all() else int(np.argmin(over))
    trailing = 0 if over.all() else int(np.argmin(over[::-1]))
    at_ends = leading + trailing == np.count_nonzero(over)
    return LandCrossing(
        leg=index,
        label=leg.label,
        lat_deg=float(lat[0]),
        lon_deg=wrap_longitude(float(lon[0])),
        distance_nm=float(first[0]) * length_nm,
        over_land_nm=float(np.diff(shares)[over].sum()) * length_nm,
        starts_on_land=bool(over[0]),
        ends_on_land=bool(over[-1]),
        only_at_ends=bool(at_ends and (leg.kind == "stay" or not over.all())),
    )


def _cuts(legs: int, chords: _Chords) -> tuple[Ints, Floats]:
    """Shares at which legs begin, meet the coast and end, in order leg by leg."""
    coast = load_coastline()
    start = np.flatnonzero(chords.leg[1:] == chords.leg[:-1])
    x1, x2 = chords.lon[start], chords.lon[start + 1]
    turn = np.floor((np.minimum(x1, x2) + 180.0) / 360.0) * 360.0
    x1, x2 = x1 - turn, x2 - turn
    # A chord over the antimeridian is tested on both edges of the map.
    over = np.flatnonzero(np.maximum(x1, x2) > 180.0)
    x1, x2 = np.append(x1, x1[over] - 360.0), np.append(x2, x2[over] - 360.0)
    start = np.append(start, start[over])
    y1, y2 = chords.lat[start], chords.lat[start + 1]
    chord, cell = cells_of_segments(x1, y1, x2, y2)
    pair, place = spread(coast.cell_start[cell + 1] - coast.cell_start[cell])
    edge = coast.cell_edges[coast.cell_start[cell][pair] + place]
    chord = chord[pair]
    at = _intersections(
        (x1[chord], y1[chord], x2[chord], y2[chord]),
        (coast.x1[edge], coast.y1[edge], coast.x2[edge], coast.y2[edge]),
    )
    hit = np.isfinite(at)
    point = start[chord[hit]]
    step = chords.share[point + 1] - chords.share[point]
    share = chords.share[point] + at[hit] * step
    leg = np.concatenate([np.arange(legs), np.arange(legs), chords.leg[point]])
    cut = np.concatenate([np.zeros(legs), np.ones(legs), share])
    order = np.lexsort((cut, leg))
    return leg[order], cut[order]


def _intersections(chord: tuple[Floats, ...], edge: tuple[Floats, ...]) -> Floats:
    """Share of each chord at which it meets its edge, NaN if it does not."""
    ax, ay, bx, by = chord
    cx, cy, dx, dy = edge
    ux, uy, vx, vy, wx, wy = bx - ax, by - ay, dx - cx, dy - cy, cx - ax, cy - ay
    with np.errstate(divide="ignore", invalid="ignore"):
        bottom = ux * vy - uy * vx
        along_chord = (wx * vy - wy * vx) / bottom
        along_edge = (wx * uy - wy * ux) / bottom
        meets = (np.abs(along_chord - 0.5) <= 0.5) & (np.abs(along_edge - 0.5) <= 0.5)
    return np.where(meets, along_chord, np.nan)


def _unit_vectors(lat_deg: Floats, lon_deg: Floats) -> Floats:
    phi, lam = deg_to_rad(lat_deg), deg_to_rad(lon_deg)
    return np.column_stack([np.cos(phi) * np.cos(lam), np.cos(phi) * np.sin(lam), np.sin(phi)])


@cache
def _coast_samples() -> tuple[cKDTree, Ints]:
    """A tree over points along the coast, and the edge each of them lies on."""
    # Imported here: a plan needs no distances, and the import is slow.
    from scipy.spatial import cKDTree

    coast = load_coastline()
    north = coast.y2 - coast.y1
    east = (coast.x2 - coast.x1) * np.cos(deg_to_rad(0.5 * (coast.y1 + coast.y2)))
    length_nm = deg_to_rad(np.hypot(north, east)) * _MEAN_RADIUS_NM
    counts = np.maximum(1, np.ceil(length_nm / _SAMPLE_NM)).astype(np.int64)
    edge, place = spread(counts)
    share = (place + 0.5) / counts[edge]
    lat = coast.y1[edge] + share * north[edge]
    lon = coast.x1[edge] + share * (coast.x2 - coast.x1)[edge]
    return cKDTree(_unit_vectors(lat, lon)), edge


def _distance_to_coast_nm(lat: Floats, lon: Floats) -> Floats:
    """Distance to the nearest edge, measured on those of the nearest samples."""
    tree, edge_of = _coast_samples()
    here = _unit_vectors(lat, lon)
    _, near = tree.query(here, k=6)
    return _to_edges_nm(here, edge_of[near])


def _to_edges_nm(here: Floats, edge: Ints) -> Floats:
    """Distance of points, ``(n, 3)`` unit vectors, to the nearest of their edges, ``(n, m)``."""
    coast = load_coastline()
    start = _unit_vectors(coast.y1[edge].ravel(), coast.x1[edge].ravel())
    end = _unit_vectors(coast.y2[edge].ravel(), coast.x2[edge].ravel())
    start, end = start.reshape(*edge.shape, 3), end.reshape(*edge.shape, 3)
    # Foot of the perpendicular on the chord: edges are so short that the chord is enough.
    span = end - start
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.sum((here[:, None] - start) * span, -1) / np.sum(span * span, -1)
    foot = start + np.clip(np.nan_to_num(share), 0.0, 1.0)[..., None] * span
    foot /= np.linalg.norm(foot, axis=-1, keepdims=True)
    chord = np.linalg.norm(foot - here[:, None], axis=-1).min(axis=1)
    return np.asarray(2.0 * np.arcsin(np.minimum(chord / 2.0, 1.0)) * _MEAN_RADIUS_NM)
