"""The invented weather and sea behind the sample forecast.

Everything here is made up from a handful of moving pressure systems; nothing is
observed and nothing may be used for a real passage. The steps are

1. pressure: a sloping background, a ridge and one moving low, as Gaussians;
2. wind: gradient wind of that field, slowed and turned towards the low by
   surface friction (0.72 of the speed, 18 degrees; common practice over sea);
3. wind sea: the JONSWAP fetch relations (Hasselmann et al. 1973, from memory),
   `g Hs/U2 = 0.0016 sqrt(gX/U2)` and `g Tp/U = 0.286 (gX/U2)^(1/3)`, up to the
   Pierson-Moskowitz limits 0.22 and 7.69. Duration enters as the fetch that the
   peak's group velocity has covered (Shore Protection Manual 1984 gives the same
   law with 68.8 for our 65.9); the coast upwind bounds the fetch;
4. swell of the low: wind sea that the wind no longer holds, carried away at its
   group velocity;
5. swell of a distant storm: its spectrum dispersing along great circles, each
   frequency arriving after distance / group velocity.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from passage.units import DEG_RAD, G_M_S2, HOUR_S, RHO_AIR_KG_M3

Array = npt.NDArray[np.float64]

EARTH_RADIUS_M = 6371008.8
EARTH_ROTATION_RAD_S = 7.2921e-5
REFERENCE_LAT_DEG, REFERENCE_LON_DEG = 46.5, -7.0

FRICTION_SPEED = 0.72
FRICTION_TURN_DEG = 18.0

JONSWAP_HEIGHT = 0.0016
JONSWAP_PERIOD = 0.286
FULL_HEIGHT = 0.22
FULL_PERIOD = 7.69
FULL_FETCH = (FULL_HEIGHT / JONSWAP_HEIGHT) ** 2

#: Hours after the run, latitude, longitude, depth [Pa] of the moving low.
LOW_TRACK = np.array(
    [
        (-54.0, 44.0, -47.0, 450.0),
        (-18.0, 46.5, -33.0, 850.0),
        (6.0, 48.0, -24.5, 1200.0),
        (24.0, 49.2, -17.0, 1680.0),
        (37.0, 50.0, -10.0, 2050.0),
        (47.0, 50.8, -4.0, 1950.0),
        (62.0, 52.5, 6.0, 1400.0),
        (96.0, 56.0, 26.0, 700.0),
    ]
)
LOW_RADIUS_M = 390e3
#: The ridge that follows the low.
RIDGE_TRACK = np.array(
    [
        (-60.0, 42.0, -60.0, 900.0),
        (0.0, 43.0, -40.0, 1100.0),
        (48.0, 44.5, -22.0, 1500.0),
        (72.0, 45.5, -11.0, 1700.0),
        (96.0, 46.0, -4.0, 1700.0),
    ]
)
RIDGE_RADIUS_M = 900e3
#: Background: pressure falls to the north [Pa/m], a light westerly.
BACKGROUND_NORTH_PA_M = -4.0e-4

#: The distant storm: place, hours of the middle of its life, half length [h].
STORM_LAT_DEG, STORM_LON_DEG = 57.0, -42.0
STORM_MIDDLE_H, STORM_HALF_H, STORM_EDGE_H = -38.0, 24.0, 7.0
STORM_PEAK_S = 13.0
SWELL_AT_FULL_M = 1.7


@dataclass(frozen=True)
class Sea:
    """One system of waves on the grid: height [m], peak period [s], from [rad]."""

    height_m: Array
    period_s: Array
    from_rad: Array


def local_xy(lat_deg: Array, lon_deg: Array) -> tuple[Array, Array]:
    """Metres east and north of the reference position, on a flat patch."""
    scale = EARTH_RADIUS_M * DEG_RAD
    x = (lon_deg - REFERENCE_LON_DEG) * scale * np.cos(REFERENCE_LAT_DEG * DEG_RAD)
    return x, (lat_deg - REFERENCE_LAT_DEG) * scale


def wind(lat_deg: Array, lon_deg: Array, hours: float) -> tuple[Array, Array]:
    """Eastward and northward wind at 10 m [m/s], blowing towards."""
    x, y = local_xy(lat_deg, lon_deg)
    px = np.zeros(x.shape)
    py = np.full(x.shape, BACKGROUND_NORTH_PA_M)
    pxx, pyy, pxy = np.zeros(x.shape), np.zeros(x.shape), np.zeros(x.shape)
    for track, radius_m, sign in (
        (LOW_TRACK, LOW_RADIUS_M, -1.0),
        (RIDGE_TRACK, RIDGE_RADIUS_M, 1.0),
    ):
        lat, lon, depth = (np.interp(hours, track[:, 0], track[:, i]) for i in (1, 2, 3))
        cx, cy = local_xy(lat, lon)
        dx, dy = x - cx, y - cy
        square = radius_m**2
        bump = sign * depth * np.exp(-0.5 * (dx**2 + dy**2) / square)
        px -= bump * dx / square
        py -= bump * dy / square
        pxx += bump * (dx**2 / square - 1.0) / square
        pyy += bump * (dy**2 / square - 1.0) / square
        pxy += bump * dx * dy / square**2
    coriolis = 2.0 * EARTH_ROTATION_RAD_S * np.sin(lat_deg * DEG_RAD)
    slope = np.hypot(px, py)
    slope = np.maximum(slope, 1e-9)
    geostrophic = slope / (RHO_AIR_KG_M3 * coriolis)
    # Curvature of the isobars, positive round a low; near anticyclones the root
    # would go negative where no balanced flow exists, so it stops at zero.
    curvature = (pxx * py**2 - 2.0 * pxy * px * py + pyy * px**2) / slope**3
    root = np.sqrt(np.maximum(1.0 + 4.0 * curvature * geostrophic / coriolis, 0.0))
    speed = FRICTION_SPEED * 2.0 * geostrophic / (1.0 + root)
    along_u, along_v = -py / slope, px / slope
    turn = FRICTION_TURN_DEG * DEG_RAD
    u = speed * (along_u * np.cos(turn) - along_v * np.sin(turn))
    v = speed * (along_u * np.sin(turn) + along_v * np.cos(turn))
    return u, v


def open_water_m(
    lat_deg: Array, lon_deg: Array, land: npt.NDArray[np.bool_], bearings: int = 36
) -> Array:
    """Distance to the coast along each bearing [m], shape (bearings, lat, lon).

    Marches over the land mask in steps of 10 km up to 700 km; what lies outside
    the grid counts as open sea.
    """
    step_m, longest_m = 10e3, 700e3
    grid_lon, grid_lat = np.meshgrid(lon_deg, lat_deg)
    distance = np.full((bearings, *grid_lat.shape), longest_m)
    metres_per_deg = EARTH_RADIUS_M * DEG_RAD
    for b in range(bearings):
        bearing = 2.0 * np.pi * b / bearings
        reached = np.zeros(grid_lat.shape, dtype=bool)
        for far in np.arange(step_m, longest_m, step_m):
            lat = grid_lat + far * np.cos(bearing) / metres_per_deg
            lon = grid_lon + far * np.sin(bearing) / (metres_per_deg * np.cos(grid_lat * DEG_RAD))
            row = np.rint((lat - lat_deg[0]) / (lat_deg[1] - lat_deg[0])).astype(int)
            col = np.rint((lon - lon_deg[0]) / (lon_deg[1] - lon_deg[0])).astype(int)
            inside = (row >= 0) & (row < lat_deg.size) & (col >= 0) & (col < lon_deg.size)
            hit = np.zeros(grid_lat.shape, dtype=bool)
            hit[inside] = land[row[inside], col[inside]]
            new = hit & ~reached
            distance[b][new] = far - 0.5 * step_m
            reached |= hit
    return distance


def along_bearing(table: Array, bearing_rad: Array, half_width_rad: float) -> Array:
    """Mean of a (bearings, ...) table about a bearing, weighted by cos^2."""
    bearings = 2.0 * np.pi * np.arange(table.shape[0]) / table.shape[0]
    off = (bearings[:, None, None] - bearing_rad + np.pi) % (2.0 * np.pi) - np.pi
    inside = np.abs(off) < half_width_rad
    weight = np.where(inside, np.cos(off * 0.5 * np.pi / half_width_rad) ** 2, 0.0)
    return np.sum(weight * table, axis=0) / np.sum(weight, axis=0)


def group_speed_m_s(period_s: Array) -> Array:
    """Deep-water group velocity [m/s]."""
    return G_M_S2 * period_s / (4.0 * np.pi)


def distant_swell(lat_deg: Array, lon_deg: Array, hours: float, shelter: Array) -> Sea:
    """Swell of the distant storm; ``shelter`` is the open share of its directions."""
    distance, bearing = distant_storm(lat_deg, lon_deg)
    frequency = np.linspace(0.055, 0.125, 71)[:, None, None]
    ratio = 1.0 / (STORM_PEAK_S * frequency)
    spectrum = ratio**5 * np.exp(-1.25 * ratio**4)
    travel_h = distance / group_speed_m_s(1.0 / frequency) / HOUR_S
    age = np.abs(hours - travel_h - STORM_MIDDLE_H) - STORM_HALF_H
    here = spectrum / (1.0 + np.exp(np.clip(age / STORM_EDGE_H * 4.0, -60.0, 60.0)))
    share = here.sum(axis=0) / spectrum.sum(axis=0)
    sharp = here**4 + 1e-30
    period = sharp.sum(axis=0) / (sharp * frequency).sum(axis=0)
    height = SWELL_AT_FULL_M * np.sqrt(share * shelter)
    return Sea(height, period, bearing)


def distant_storm(lat_deg: Array, lon_deg: Array) -> tuple[Array, Array]:
    """Distance [m] to the storm and bearing [rad] at the grid point towards it."""
    lat, far = lat_deg * DEG_RAD, STORM_LAT_DEG * DEG_RAD
    dlon = (STORM_LON_DEG - lon_deg) * DEG_RAD
    cosine = np.sin(lat) * np.sin(far) + np.cos(lat) * np.cos(far) * np.cos(dlon)
    east = np.sin(dlon) * np.cos(far)
    north = np.cos(lat) * np.sin(far) - np.sin(lat) * np.cos(far) * np.cos(dlon)
    return EARTH_RADIUS_M * np.arccos(cosine), np.arctan2(east, north) % (2.0 * np.pi)


class LocalSea:
    """Wind sea and the swell it leaves, marched in time on one grid.

    Energies are variances [m2]. Directions are kept as unit vectors of the way
    the waves go. Call :meth:`step` once per time step, in order.
    """

    DIRECTION_LAG_S = 3.0 * HOUR_S
    SWELL_DECAY_S = 26.0 * HOUR_S

    def __init__(
        self,
        lat_deg: Array,
        lon_deg: Array,
        land: npt.NDArray[np.bool_],
        open_m: Array,
        interpolate: Callable[[Array, Array, Array], Array],
    ) -> None:
        self.lon, self.lat = np.meshgrid(lon_deg, lat_deg)
        self.land = land
        self.open_m = open_m
        self.interpolate = interpolate
        shape = self.lat.shape
        self.variance = np.zeros(shape)
        self.east, self.north = np.zeros(shape), np.zeros(shape)
        # Swell: variance, and variance times (period, east, north).
        self.swell = np.zeros((4, *shape))

    def step(self, u: Array, v: Array, seconds: float) -> None:
        """Advance by ``seconds`` under the wind (u, v) [m/s, towards]."""
        speed = np.maximum(np.hypot(u, v), 0.5)
        wind_east, wind_north = u / speed, v / speed
        # Direction follows the wind with a lag; what lags behind is left as swell.
        share = 1.0 - np.exp(-seconds / self.DIRECTION_LAG_S)
        east = self.east + share * (wind_east - self.east)
        north = self.north + share * (wind_north - self.north)
        length = np.maximum(np.hypot(east, north), 1e-6)
        east, north = east / length, north / length
        across = 1.0 - np.clip(east * wind_east + north * wind_north, 0.0, 1.0) ** 2
        left = self.variance * across * share
        full = (FULL_HEIGHT * speed**2 / G_M_S2) ** 2 / 16.0
        left += np.maximum(self.variance - left - full, 0.0) * share
        period = self._period(self.variance, speed)
        self.variance = self.variance - left
        self.swell += left * np.stack([np.ones_like(period), period, east, north])

        fetch = self._fetch_m(self.variance, speed)
        fetch = fetch + seconds * (65.0 / 65.9) * group_speed_m_s(
            self._period(self.variance, speed)
        )
        upwind = np.arctan2(-wind_east, -wind_north) % (2.0 * np.pi)
        bound = along_bearing(self.open_m, upwind, 45.0 * DEG_RAD)
        grown = self._variance(np.minimum(fetch, bound), speed)
        grown = np.maximum(grown, self.variance)
        self.variance = np.where(self.land, 0.0, grown)
        self.east, self.north = east, north
        self._carry_swell(seconds)

    def _fetch_m(self, variance: Array, speed: Array) -> Array:
        height = 4.0 * np.sqrt(variance) * G_M_S2 / speed**2
        scaled = np.minimum((height / JONSWAP_HEIGHT) ** 2, FULL_FETCH)
        return scaled * speed**2 / G_M_S2

    def _variance(self, fetch: Array, speed: Array) -> Array:
        scaled = np.clip(fetch * G_M_S2 / speed**2, 0.0, FULL_FETCH)
        height = JONSWAP_HEIGHT * np.sqrt(scaled) * speed**2 / G_M_S2
        return height**2 / 16.0

    def _period(self, variance: Array, speed: Array) -> Array:
        scaled = self._fetch_m(variance, speed) * G_M_S2 / speed**2
        period = JONSWAP_PERIOD * np.cbrt(scaled) * speed / G_M_S2
        # Waves higher than this wind could raise keep the steepness they were born
        # with: at the Pierson-Moskowitz limit g Hs / (g Tp)^2 = 0.22 / 7.69^2.
        height = 4.0 * np.sqrt(variance)
        born = np.sqrt(height / (FULL_HEIGHT / FULL_PERIOD**2 * G_M_S2))
        beyond = height * G_M_S2 / speed**2 > FULL_HEIGHT
        return np.clip(np.where(beyond, born, period), 1.0, 20.0)

    def _carry_swell(self, seconds: float) -> None:
        variance = np.maximum(self.swell[0], 1e-12)
        period = np.clip(self.swell[1] / variance, 3.0, 20.0)
        length = np.maximum(np.hypot(self.swell[2], self.swell[3]), 1e-12)
        metres = group_speed_m_s(period) * seconds
        per_deg = EARTH_RADIUS_M * DEG_RAD
        lat = self.lat - metres * self.swell[3] / length / per_deg
        lon = self.lon - metres * self.swell[2] / length / (per_deg * np.cos(self.lat * DEG_RAD))
        decay = np.exp(-seconds / self.SWELL_DECAY_S)
        moved = decay * self.interpolate(self.swell, lat, lon)
        self.swell = np.where(self.land, 0.0, moved)

    def wind_sea(self, u: Array, v: Array) -> Sea:
        """The wind sea as it stands, under the wind of the moment."""
        speed = np.maximum(np.hypot(u, v), 0.5)
        return Sea(
            4.0 * np.sqrt(self.variance),
            self._period(self.variance, speed),
            np.arctan2(-self.east, -self.north) % (2.0 * np.pi),
        )

    def left_swell(self) -> Sea:
        """The swell that the low has left."""
        variance = np.maximum(self.swell[0], 1e-12)
        return Sea(
            4.0 * np.sqrt(self.swell[0]),
            np.clip(self.swell[1] / variance, 1.0, 20.0),
            np.arctan2(-self.swell[2], -self.swell[3]) % (2.0 * np.pi),
        )


def bilinear(lat_deg: Array, lon_deg: Array) -> Callable[[Array, Array, Array], Array]:
    """Interpolator of (k, lat, lon) fields on a regular grid; nothing outside."""

    def interpolate(field: Array, lat: Array, lon: Array) -> Array:
        row = (lat - lat_deg[0]) / (lat_deg[1] - lat_deg[0])
        col = (lon - lon_deg[0]) / (lon_deg[1] - lon_deg[0])
        outside = (row < 0) | (col < 0) | (row > lat_deg.size - 1) | (col > lon_deg.size - 1)
        r = np.clip(row.astype(int), 0, lat_deg.size - 2)
        c = np.clip(col.astype(int), 0, lon_deg.size - 2)
        a, b = np.clip(row - r, 0, 1), np.clip(col - c, 0, 1)
        value = (1 - a) * ((1 - b) * field[:, r, c] + b * field[:, r, c + 1]) + a * (
            (1 - b) * field[:, r + 1, c] + b * field[:, r + 1, c + 1]
        )
        return np.where(outside, 0.0, value)

    return interpolate
