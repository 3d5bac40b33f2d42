"""The least depth near places: of all soundings of the cells they touch, never between them.

Between two soundings the sea floor may be anything; a depth interpolated there would pass a
shoal of one sounding half-way to the next.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from passage.inputs.forecast.conditions import OK
from passage.units import deg_to_rad

if TYPE_CHECKING:
    from passage.inputs.forecast.forecast import Forecast
    from passage.inputs.forecast.group import Group

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
#: South, north, first column and last column of an area. [deg]
_Box = tuple[float, float, float, float]


@dataclass(eq=False)
class LeastDepth:
    """Least sounding of a forecast's depth grid around places.

    ``within_nm`` is added around each place, in latitude and longitude: half the distance of
    places on a line, so that no cell of the line is left out.
    """

    forecast: Forecast
    within_nm: float
    # What is loaded; replaced as a whole, since lines are tested in threads.
    _area: _Loaded | None = field(init=False, default=None)

    def __call__(self, lat_deg: Array, lon_deg: Array) -> Array:
        """Least depth [m], positive down; NaN where a sounding is missing or dry, or off the grid.

        Parameters
        ----------
        lat_deg, lon_deg : ndarray, (n,)
            Positions, any longitude convention. [deg]
        """
        group = self.forecast.groups.get("depth")
        if group is None:
            return np.asarray(self.forecast.sample(lat_deg, lon_deg, 0.0).depth_m)
        shape = np.shape(lat_deg)
        lat, lon = np.ravel(lat_deg), np.ravel(lon_deg)
        frame, out = group.frame, np.full(lat.shape, np.nan)
        east = frame.east_of_west_edge(lon)
        ok = frame.inside(lat, east)
        if not ok.any():
            return out.reshape(shape)
        lat, east = lat[ok], east[ok]
        box = (float(lat.min()), float(lat.max()), float(east.min()), float(east.max()))
        area = self._area
        if area is None or not _holds(area.box, box):
            area = self._area = _load(group, _both(area, box), self.within_nm)
        rows = _starts(frame.lat_deg, lat, area.reach[0], area.first[0])
        columns = _starts(frame.lon_deg, east, area.reach[1], area.first[1])
        # Two windows of one length cover the soundings around a place, one or two cells.
        out[ok] = np.min([area.least[j, k] for j in rows for k in columns], axis=0)
        return out.reshape(shape)


@dataclass(frozen=True, eq=False)
class _Loaded:
    """Least sounding of windows over an area, by first row and column.

    ``reach`` is what is added around places in latitude and longitude [deg], ``first`` the
    row and column of the grid at which ``least`` begins.
    """

    box: _Box
    reach: tuple[float, float]
    first: tuple[int, int]
    least: Array


def _load(group: Group, box: _Box, within_nm: float) -> _Loaded:
    lats, lons = group.frame.lat_deg, group.frame.lon_deg
    north = min(max(abs(box[0]), abs(box[1])), 87.0)
    reach = within_nm / 60.0, within_nm / 60.0 / float(np.cos(deg_to_rad(north)))
    rows, columns = _window(lats, reach[0]), _window(lons, reach[1])
    at_j = _area(lats, box[0] - reach[0], box[1] + reach[0], rows)
    at_k = _area(lons, box[2] - reach[1], box[3] + reach[1], columns)
    lat, lon = np.meshgrid(lats[at_j], lons[at_k], indexing="ij")
    fields, code = group.sample(lat.ravel(), lon.ravel(), np.zeros(lat.size), 0)
    depth = np.where(code == OK, fields[:, 1].astype(float), np.nan).reshape(lat.shape)
    # NaN spreads: the least of cells with a missing sounding is not known.
    least = _least_from(_least_from(depth, rows - 1, 0), columns - 1, 1)
    return _Loaded(box, reach, (int(at_j[0]), int(at_k[0])), least)


def _starts(axis: Array, value: Array, reach: float, first: int) -> tuple[Ints, Ints]:
    """Where the first and the last window around places begin, counted from ``first``."""
    last = _after(axis, value + reach) - _window(axis, reach) + 1
    return _before(axis, value - reach) - first, np.maximum(last - first, 0)


def _both(area: _Loaded | None, box: _Box) -> _Box:
    """A box that holds one loaded before as well."""
    if area is None:
        return box
    old = area.box
    return (min(old[0], box[0]), max(old[1], box[1]), min(old[2], box[2]), max(old[3], box[3]))


def depth_grid_words(forecast: Forecast) -> str:
    """Which soundings the least depth is of; empty without a depth grid."""
    group = forecast.groups.get("depth")
    if group is None or group.frame.lat_deg.size < 2:
        return ""
    apart_nm = 60.0 * float(np.max(np.diff(group.frame.lat_deg)))
    files = dict.fromkeys(
        Path(piece.file).name for one in group.series.values() for piece in one.pieces
    )
    return (
        f"Depths are soundings of {', '.join(files)}, {apart_nm:.2g} nm apart in latitude: each "
        "leg keeps the least depth at every sounding of the cells it touches. A shoal between "
        "soundings, tide and swell are not known."
    )


def _before(axis: Array, value: Array) -> Ints:
    """Index of the last value of an ascending axis that is not above; 0 before the first."""
    found = np.searchsorted(axis, value + 1e-9, side="right") - 1
    return np.asarray(np.clip(found, 0, axis.size - 1), dtype=np.int64)


def _after(axis: Array, value: Array) -> Ints:
    """Index of the first value of an ascending axis that is not below; the last past the end."""
    found = np.searchsorted(axis, value - 1e-9, side="left")
    return np.asarray(np.clip(found, 0, axis.size - 1), dtype=np.int64)


def _window(axis: Array, reach: float) -> int:
    """Soundings along an axis that surely lie around a place."""
    if axis.size < 2:
        return 1
    return min(int(np.ceil(2.0 * reach / float(np.max(np.diff(axis))))) + 1, axis.size)


def _area(axis: Array, low: float, high: float, window: int) -> Ints:
    """Indices that the windows of an area use."""
    first = max(int(_before(axis, np.array(low))) - window, 0)
    return np.arange(first, min(int(_after(axis, np.array(high))) + window + 1, axis.size))


def _least_from(values: Array, steps: int, axis: int) -> Array:
    """Least of each value and so many after it along an axis; the last ones see fewer."""
    out = values.copy()
    size = values.shape[axis]
    for shift in range(1, min(steps, size - 1) + 1):
        part = [slice(None), slice(None)]
        part[axis] = slice(0, size - shift)
        later = [slice(None), slice(None)]
        later[axis] = slice(shift, None)
        out[tuple(part)] = np.minimum(out[tuple(part)], values[tuple(later)])
    return out


def _holds(box: _Box, other: _Box) -> bool:
    return box[0] <= other[0] and box[1] >= other[1] and box[2] <= other[2] and box[3] >= other[3]
