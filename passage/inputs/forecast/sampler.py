"""Trilinear gather from blocks with the fields of a cell side by side.

A block is ``data[time, lat, lon, field]`` in float32. Field 0 is 1 where the cell
has no data and 0 elsewhere; the other fields are 0 there. So a masked corner shows in
the interpolated field 0 exactly when its weight is not zero, and no NaN ever enters
the sums. Everything stored is linear in what may be averaged: heights, energies,
energy times period, energy times unit vector of direction, components of velocity. Systems
are matched over the corners first: their names may change from cell to cell.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from passage.inputs.forecast.conditions import AFTER, BEFORE, GAP, OK, OUTSIDE, Codes
from passage.physics.waves.matching import match_cells

Floats = npt.NDArray[np.float64]
Singles = npt.NDArray[np.float32]
Integers = npt.NDArray[np.int64]

#: A point this close to the edge of the grid is on it: axes stored in single
#: precision are off by some millionths of a degree [deg].
EDGE_DEG = 2e-5
#: Times closer than this are the same [s].
SAME_TIME_S = 0.5
#: Weight of masked corners below which they do not count: rounding of the weights.
MASK_WEIGHT = 1e-5
#: Points worked on at a time, so that a corner's rows stay in the cache.
_CHUNK = 4096


@dataclass(frozen=True, eq=False)
class Axis:
    """An ascending axis and how to find a value in it."""

    values: Floats

    @cached_property
    def uniform_step(self) -> float:
        """Step when all are alike to a thousandth, else 0."""
        if self.values.size < 2:
            return 0.0
        step = np.diff(self.values)
        mean = (self.values[-1] - self.values[0]) / step.size
        nodes = self.values[0] + mean * np.arange(self.values.size)
        # Single-precision axes wobble; the node itself must still be hit closely.
        return float(mean) if np.abs(nodes - self.values).max() < 1e-9 * mean else 0.0

    def locate(self, x: Floats) -> tuple[Integers, Floats]:
        """Index of the interval and the fraction in it; x must lie within the axis."""
        n = self.values.size
        if n == 1:
            return np.zeros(x.shape, np.int64), np.zeros(x.shape)
        if self.uniform_step:
            position = (x - self.values[0]) / self.uniform_step
            index = np.clip(position.astype(np.int64), 0, n - 2)
            return index, np.clip(position - index, 0.0, 1.0)
        index = np.clip(np.searchsorted(self.values, x, side="right") - 1, 0, n - 2)
        left = self.values[index]
        fraction = (x - left) / (self.values[index + 1] - left)
        return index, np.clip(fraction, 0.0, 1.0)


@dataclass(frozen=True, eq=False)
class Frame:
    """The hours and the area a group of fields covers.

    ``lon_deg`` of a grid that goes round has its first column again at the end.
    ``gap`` marks time intervals that are too long to be bridged. ``hold_s`` is how far
    from a single time step its values may be used. A frame without times is constant.
    """

    time_s: Floats
    lat_deg: Floats
    lon_deg: Floats
    gap: npt.NDArray[np.bool_]
    hold_s: float = 0.0

    def east_of_west_edge(self, lon_deg: Floats) -> Floats:
        """Longitudes moved by whole turns to lie on or east of the first column."""
        west = self.lon_deg[0] - EDGE_DEG
        return west + np.mod(lon_deg - west, 360.0)

    def inside(self, lat_deg: Floats, east_deg: Floats) -> npt.NDArray[np.bool_]:
        """Whether places lie on the grid; ``east_deg`` from :meth:`east_of_west_edge`."""
        return (
            (lat_deg >= self.lat_deg[0] - EDGE_DEG)
            & (lat_deg <= self.lat_deg[-1] + EDGE_DEG)
            & (east_deg <= self.lon_deg[-1] + EDGE_DEG)
        )

    def coverage(self, lat_deg: Floats, lon_deg: Floats, time_s: Floats) -> Codes:
        """Codes by place and time alone; a time outside goes before a place outside."""
        code = np.full(lat_deg.shape, OK, np.int8)
        east = self.east_of_west_edge(lon_deg)
        with np.errstate(invalid="ignore"):
            inside = self.inside(lat_deg, east)
            code[~inside] = OUTSIDE
            if self.time_s.size:
                reach = SAME_TIME_S
                if self.time_s.size == 1:
                    reach = max(reach, self.hold_s)
                code[time_s < self.time_s[0] - reach] = BEFORE
                code[time_s > self.time_s[-1] + reach] = AFTER
                code[np.isnan(time_s)] = OUTSIDE
        if self.gap.any():
            index, fraction = Axis(self.time_s).locate(time_s)
            step = self.time_s[index + 1] - self.time_s[index]
            between = (fraction * step > SAME_TIME_S) & ((1 - fraction) * step > SAME_TIME_S)
            code[(code == OK) & self.gap[index] & between] = GAP
        return code


@dataclass(frozen=True, eq=False)
class Alike:
    """Wave systems among the fields of a cell, whose names may be swapped between cells.

    ``first`` field of each, and the ``width`` of each in fields; ``wind`` says whether the
    first of them is a wind sea, the others being swells.
    """

    first: Integers
    width: int
    wind: bool = False

    def matched(
        self, rows: Singles, corner: Integers, steps: list[int]
    ) -> tuple[npt.NDArray[np.intp], Integers]:
        """Points around which names change, and which system of each corner belongs where.

        Cells ``(cells, fields)`` and the first corner of each point ``(n,)``; the result
        has an order ``(points, corners, systems)``.
        """
        if self.first.size < 2:
            return np.zeros(0, np.intp), np.zeros((0, len(steps), 0), np.int64)
        boxes, of = np.unique(corner, return_inverse=True)
        order = np.zeros((boxes.size, len(steps), self.first.size), np.int64)
        mixed = np.zeros(boxes.size, np.bool_)
        steps_ = np.array(steps, np.int64)
        match_cells(rows, boxes, steps_, self.first, self.wind, order, mixed)
        places = np.flatnonzero(mixed[of])
        return places, order[of[places]]

    def reordered(self, fields: Singles, order: Integers) -> Singles:
        """Fields ``(n, fields)`` with the systems of ``order`` ``(n, systems)`` in their places."""
        out = fields.copy()
        span = np.arange(self.width)
        for g, start in enumerate(self.first):
            source = self.first[order[:, g]][:, None] + span
            out[:, start : start + self.width] = np.take_along_axis(fields, source, axis=1)
        return out


#: For fields without systems.
NONE_ALIKE = Alike(np.zeros(0, np.int64), 0)


@dataclass(frozen=True, eq=False)
class Block:
    """Fields in memory over part of a frame, see the module's first lines."""

    time: Axis
    lat: Axis
    lon: Axis
    data: Singles
    alike: Alike = NONE_ALIKE

    def gather(self, lat_deg: Floats, east_deg: Floats, time_s: Floats) -> Singles:
        """Interpolated fields ``(n, fields)`` at points ``(n,)`` inside the block."""
        n_fields = self.data.shape[-1]
        out = np.empty((lat_deg.size, n_fields), np.float32)
        for start in range(0, lat_deg.size, _CHUNK):
            part = slice(start, start + _CHUNK)
            self._gather(lat_deg[part], east_deg[part], time_s[part], out[part])
        return out

    def _gather(self, lat: Floats, east: Floats, time: Floats, out: Singles) -> None:
        nt, nlat, nlon, n_fields = self.data.shape
        rows = self.data.reshape(-1, n_fields)
        j, wj = self.lat.locate(lat)
        k, wk = self.lon.locate(east)
        corner = j * nlon + k
        layers: tuple[tuple[int, Floats | None], ...] = ((0, None),)
        if nt > 1:
            i, wi = self.time.locate(time)
            corner += i * (nlat * nlon)
            layers = ((0, 1.0 - wi), (nlat * nlon, wi))
        steps = [t + la + lo for t, _ in layers for la in (0, nlon) for lo in (0, 1)]
        places, order = self.alike.matched(rows, corner, steps)
        first = True
        taken = np.empty((lat.size, n_fields), np.float32)
        for step, weight_time in layers:
            for step_lat, weight_lat in ((0, 1.0 - wj), (nlon, wj)):
                for step_lon, weight_lon in ((0, 1.0 - wk), (1, wk)):
                    weight = weight_lat * weight_lon
                    if weight_time is not None:
                        weight = weight * weight_time
                    target = out if first else taken
                    index = corner + (step + step_lat + step_lon)
                    np.take(rows, index, axis=0, out=target, mode="clip")
                    if places.size:
                        at = steps.index(step + step_lat + step_lon)
                        target[places] = self.alike.reordered(target[places], order[:, at])
                    target *= weight.astype(np.float32)[:, None]
                    if not first:
                        out += taken
                    first = False
