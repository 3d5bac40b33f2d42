"""Fuel, roll and current over place, heading and time, from which edges are priced.

Values are computed as in a plan at the corners of a lattice of latitude and longitude, at
headings 15 degrees apart and every three hours. Edges are priced from them mile by mile,
by linear interpolation. This only guides the search: routes found are computed again
along their own tracks.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from passage.physics.compiled import compile_loop, compile_part
from passage.planning.voyage.evaluate import evaluate
from passage.planning.voyage.march import March
from passage.planning.voyage.rolling import Choices
from passage.planning.voyage.threads import in_threads
from passage.units import deg_to_rad, wrap_180, wrap_360

if TYPE_CHECKING:
    from passage.inputs.forecast import Forecast
    from passage.planning.voyage.yacht import Yacht

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

#: Headings of the table.
HEADINGS = 24
#: Time between its columns. [s]
COLUMN_S = 10_800.0
#: Points evaluated at once: enough for speed, few enough for memory.
_BATCH = 24_000


@dataclass(frozen=True, eq=False)
class Lattice:
    """Corners of latitude and longitude around points; ``number`` is -1 where unused."""

    south_deg: float
    west_deg: float
    step_lat_deg: float
    step_lon_deg: float
    number: Ints
    lat_deg: Array
    lon_deg: Array

    def place(self, lat_deg: Array, lon_deg: Array) -> tuple[Array, Array]:
        """Fractional row and column of points."""
        row = (lat_deg - self.south_deg) / self.step_lat_deg
        return row, np.asarray(wrap_360(lon_deg - self.west_deg)) / self.step_lon_deg


def lattice_around(lat_deg: Array, lon_deg: Array, step_nm: float) -> Lattice:
    """The corners of all cells that contain a point; cells are ``step_nm`` each way."""
    step_lat = step_nm / 60.0
    step_lon = step_lat / max(float(np.cos(deg_to_rad(np.max(np.abs(lat_deg))))), 0.05)
    middle = float(lon_deg[0])
    turned = wrap_180(lon_deg - middle)
    south = float(np.min(lat_deg)) - 0.01 * step_lat
    west = middle + float(np.min(turned)) - 0.01 * step_lon
    row = np.floor((lat_deg - south) / step_lat).astype(np.int64)
    column = np.floor((turned + middle - west) / step_lon).astype(np.int64)
    shape = (int(row.max()) + 2, int(column.max()) + 2)
    used = np.zeros(shape, dtype=bool)
    for a in (0, 1):
        for b in (0, 1):
            used[row + a, column + b] = True
    number = np.full(shape, -1, dtype=np.int64)
    number[used] = np.arange(np.count_nonzero(used))
    rows, columns = np.nonzero(used)
    lon = np.asarray(wrap_180(west + columns * step_lon), dtype=float)
    lat = np.asarray(south + rows * step_lat, dtype=float)
    return Lattice(south, west, step_lat, step_lon, number, lat, lon)


@dataclass(frozen=True, eq=False)
class Field:
    """Fuel, roll and current at the corners of a lattice over time.

    ``rate`` [l/h] and ``roll`` [deg, significant] have shape ``(corners, columns,
    headings)``; ``east`` and ``north`` are the current [m/s], ``(corners, columns)``, 0
    where the files have none. Column c is at ``origin_s + c * column_s``.
    """

    lattice: Lattice
    origin_s: float
    column_s: float
    rate: Array
    roll: Array
    east: Array
    north: Array


#: Whether a corner is known, fuel and roll by heading, and current.
Column = tuple[npt.NDArray[np.bool_], Array, Array, Array, Array]


@dataclass(eq=False)
class Known:
    """Columns already computed for one lattice at one speed, by time, shared by searches.

    Departures a multiple of `COLUMN_S` apart use the same columns.
    """

    columns: dict[float, Column] = field(default_factory=dict)

    def at(self, time_s: float, corners: int) -> Column:
        """The column of all corners at a time, to be filled in."""
        if time_s not in self.columns:
            self.columns[time_s] = (
                np.zeros(corners, dtype=bool),
                np.full((corners, HEADINGS), np.nan),
                np.full((corners, HEADINGS), np.nan),
                np.zeros(corners),
                np.zeros(corners),
            )
        return self.columns[time_s]


def make_field(
    yacht: Yacht,
    forecast: Forecast,
    lattice: Lattice,
    *,
    from_s: Array,
    to_s: Array,
    origin_s: float,
    speed_m_s: float,
    choices: Choices,
    column_s: float = COLUMN_S,
    known: Known | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Field:
    """Fuel and roll at every corner over the times she may be near it, computed as in a plan.

    Parameters
    ----------
    from_s, to_s : ndarray, (corners,)
        First and last time at which a corner is needed; columns around them are filled. [s]
    speed_m_s : float
        Speed through the water. [m/s]
    column_s : float
        Time between columns. [s]
    """
    first = np.floor((from_s - origin_s) / column_s)
    last = np.ceil((to_s - origin_s) / column_s)
    columns = max(2, int(np.max(last[np.isfinite(last)], initial=1.0)) + 1)
    at = np.arange(columns)
    wanted = (at >= first[:, None]) & (at <= last[:, None])
    known = Known() if known is None else known
    memory = [known.at(float(origin_s + column_s * k), lattice.lat_deg.size) for k in at]
    corner, column = np.nonzero(wanted & ~np.stack([one[0] for one in memory], axis=1))
    size = max(1, _BATCH // HEADINGS)

    def compute(low: int) -> None:
        c, k = corner[low : low + size], column[low : low + size]
        found = _corner_values(
            yacht, forecast, lattice.lat_deg[c], lattice.lon_deg[c],
            np.asarray(origin_s + column_s * k, dtype=float),
            speed_m_s, choices,
        )  # fmt: skip
        for one in np.unique(k):
            rows = k == one
            for array, values in zip(memory[one], found, strict=True):
                array[c[rows]] = values[rows]

    in_threads(range(0, corner.size, size), compute, progress)
    rate = np.stack([one[1] for one in memory], axis=1)
    roll = np.stack([one[2] for one in memory], axis=1)
    east = np.stack([one[3] for one in memory], axis=1)
    north = np.stack([one[4] for one in memory], axis=1)
    rate[~wanted] = np.nan
    return Field(lattice, origin_s, column_s, rate, roll, east, north)


def _corner_values(
    yacht: Yacht,
    forecast: Forecast,
    lat_deg: Array,
    lon_deg: Array,
    time_s: Array,
    speed_m_s: float,
    choices: Choices,
) -> Column:
    """True, fuel and roll by heading, and current, at places and times."""
    lat, lon, time = (
        np.broadcast_to(x[:, None, None], (x.size, HEADINGS, 1)) for x in (lat_deg, lon_deg, time_s)
    )
    heading = 2.0 * np.pi * np.arange(HEADINGS) / HEADINGS
    sky = forecast.sample(lat, lon, time)
    course = np.broadcast_to(heading[None, :, None], lat.shape)
    speed = np.full(lat.shape, speed_m_s)
    way = March(
        time_s=time,
        end_time_s=time,
        hours=np.ones(lat.shape),
        speed_through_water_m_s=speed,
        speed_over_ground_m_s=speed,
        heading_rad=course,
        course_rad=course,
        conditions=sky,
        no_way=np.zeros(lat.shape, dtype=bool),
        rounds=1,
        converged=True,
    )
    values = evaluate(yacht, way, choices, fuel_only=True).values
    word = "active" if choices.fins == "active" else "centred"
    return (
        np.ones(lat_deg.size, dtype=bool),
        values["fuel_l"][..., 0],
        values[f"roll_{word}_significant_deg"][..., 0],
        np.nan_to_num(sky.current_u_m_s[:, 0, 0]),
        np.nan_to_num(sky.current_v_m_s[:, 0, 0]),
    )


@compile_part
def _corner(number, rate, i, j, a, b, k, n):  # type: ignore[no-untyped-def]
    """Corner ``n`` of a cell and its weight, which is 0 where the corner has no value."""
    di, dj = n // 2, n % 2
    c = number[i + di, j + dj]
    w = 0.0
    if c >= 0:
        one = rate[c, k, 0]
        two = rate[c, k + 1, 0]
        if one == one and two == two:
            w = (a if di else 1.0 - a) * (b if dj else 1.0 - b)
    return c, w


@compile_loop
def price_edges(  # type: ignore[no-untyped-def]
    edge, time_s, first_point, row, column, course, lag, length_m, number, origin_s, column_s,
    rate, roll, east, north, speed, out,
):  # fmt: skip
    """Hours, litres, mean and worst roll of edges by summing over their points.

    ``first_point[e]`` to ``first_point[e + 1]`` are the points of edge ``e``; each
    represents ``length_m`` of it and is passed ``lag`` seconds after the middle. Corners
    without a value are left out of a point's mean; where none has a value the edge is NaN.
    """
    headings = rate.shape[2]
    columns = rate.shape[1]
    for r in range(edge.size):
        e = edge[r]
        hours = 0.0
        litres = 0.0
        rolled = 0.0
        worst = 0.0
        good = True
        for p in range(first_point[e], first_point[e + 1]):
            at = (time_s[r] + lag[p] - origin_s) / column_s
            k = int(np.floor(at))
            part = at - k
            if k == -1 and part > 0.999999:
                k, part = 0, 0.0
            if k == columns - 1 and part < 1e-6:
                k, part = k - 1, 1.0
            if k < 0 or k + 1 >= columns:
                good = False
                break
            i = int(row[p])
            j = int(column[p])
            a = row[p] - i
            b = column[p] - j
            u = 0.0
            v = 0.0
            known = 0.0
            for n in range(4):
                c, w = _corner(number, rate, i, j, a, b, k, n)
                if w == 0.0:
                    continue
                known += w
                u += w * ((1.0 - part) * east[c, k] + part * east[c, k + 1])
                v += w * ((1.0 - part) * north[c, k] + part * north[c, k + 1])
            if known < 1e-6:
                good = False
                break
            u /= known
            v /= known
            s, q = np.sin(course[p]), np.cos(course[p])
            cross = u * q - v * s
            if abs(cross) >= speed:
                good = False
                break
            made = np.sqrt(speed * speed - cross * cross) + u * s + v * q
            if made <= 0.0:
                good = False
                break
            turn = (course[p] - np.arcsin(cross / speed)) / (2.0 * np.pi) * headings
            h = int(np.floor(turn))
            share = turn - h
            h0 = h % headings
            h1 = (h + 1) % headings
            f = 0.0
            g = 0.0
            for n in range(4):
                c, w = _corner(number, rate, i, j, a, b, k, n)
                if w == 0.0:
                    continue
                f += w * (
                    (1.0 - part) * ((1.0 - share) * rate[c, k, h0] + share * rate[c, k, h1])
                    + part * ((1.0 - share) * rate[c, k + 1, h0] + share * rate[c, k + 1, h1])
                )
                g += w * (
                    (1.0 - part) * ((1.0 - share) * roll[c, k, h0] + share * roll[c, k, h1])
                    + part * ((1.0 - share) * roll[c, k + 1, h0] + share * roll[c, k + 1, h1])
                )
            f /= known
            g /= known
            dt = length_m[p] / made / 3600.0
            hours += dt
            litres += f * dt
            rolled += g * dt
            worst = max(worst, g)
        if good and hours > 0.0:
            out[0, r] = hours
            out[1, r] = litres
            out[2, r] = rolled / hours
            out[3, r] = worst
