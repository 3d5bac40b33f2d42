"""Rows of responses at points, directly from the cells of a hindcast.

The rows of ``response_rows.py`` are interpolated bilinearly and added over the systems of each
point. One loop samples, decodes and interpolates in a single pass over the data; spectral
shapes must be tabulated or between two that are.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from passage.physics.compiled import compile_loop
from passage.physics.tables.cell_sampling import (
    GAP,
    MASK_WEIGHT,
    MASKED,
    OK,
    OUTSIDE,
    CellRuns,
    add_matched,
    place_in_time,
)
from passage.physics.tables.response_rows import (
    HEADINGS,
    LOG_FIRST,
    LOG_STEP,
    PERIODS,
    ResponseRows,
)
from passage.physics.waves.matching import match_rows

FloatArray = NDArray[np.float64]
Singles = NDArray[np.float32]
Codes = NDArray[np.int8]

#: Height squared below which a system is absent [m2], as in ``inputs/forecast``.
NO_ENERGY = 1e-9
_EDGE = 1e-6
#: Share of a second shape below which it is ignored: a hundredth of a percent of roll.
_PURE = np.float32(2e-4)


@dataclass(frozen=True, eq=False)
class StoredSystems:
    """Fields of the wave systems in a cell, and their shapes in the rows.

    For each system: ``first`` of its five fields (energy, energy x peak period, energy x
    cosine and sine of the direction it comes from, energy x place of its shape); ``slot`` of
    its first shape in the rows; ``steps``, the number of shapes after that. The place runs
    from 0 to ``steps``, and its fraction is the share of the shape above.
    """

    first: NDArray[np.int64]
    slot: NDArray[np.int64]
    steps: NDArray[np.int64]


@compile_loop
def add_row(row, table, x, p, root, squares, used):  # type: ignore[no-untyped-def]
    """Add one system of height ``root`` [m] at position (x, p) of a table to a row."""
    i = min(int(x), PERIODS - 2)
    j = min(int(p), HEADINGS - 2)
    fx, fy = np.float32(x - i), np.float32(p - j)
    one = np.float32(1.0)
    h = np.float32(root)
    w00, w01 = h * (one - fx) * (one - fy), h * (one - fx) * fy
    w10, w11 = h * fx * (one - fy), h * fx * fy
    t00, t01, t10, t11 = table[i, j], table[i, j + 1], table[i + 1, j], table[i + 1, j + 1]
    for q in range(squares):
        v = w00 * t00[q] + w01 * t01[q] + w10 * t10[q] + w11 * t11[q]
        row[q] += v * v
    for q in range(squares, used):
        row[q] += h * (w00 * t00[q] + w01 * t01[q] + w10 * t10[q] + w11 * t11[q])


@compile_loop
def rows_from_cells_loop(  # type: ignore[no-untyped-def]
    data, time_s, step_s, gap, first_s, last_s, corner, weight, inside, alike, width, wind, places,
    t, north, east, first, slot, steps, tables, squares, used, rows, height2, code,
):  # fmt: skip
    """Compiled loop of :func:`rows_from_cells`.

    For each departure all seas are decoded first and their rows added afterwards, which is a
    fifth faster than one by one. The inner loop runs along the track, where weather changes
    less than from departure to departure, so that more data are in the processor's cache.

    Heights in [m], periods in [s], times in [s]; unit vectors dimensionless.
    """
    departures = t.shape[0]
    fields = data.shape[2]
    hours = data.shape[1]
    top = hours - 1
    flat = data.reshape(data.shape[0] * hours, fields)
    rows8 = np.zeros(8, np.int64)
    share8 = np.zeros(8, np.float32)
    order = np.zeros((8, alike.size), np.int64)
    mixed = False
    ja = jb = jc = jd = ji = -1
    systems = first.size
    f = np.empty(fields, np.float32)
    x = np.empty((places.size, systems))
    p = np.empty((places.size, systems))
    height = np.empty((places.size, systems), np.float32)
    shape = np.empty((places.size, systems), np.int64)
    upper = np.empty((places.size, systems), np.float32)
    one = np.float32(1.0)
    for m in range(departures):
        for c in range(places.size):
            k = places[c]
            ka, kb, kc, kd = corner[k, 0], corner[k, 1], corner[k, 2], corner[k, 3]
            wa, wb, wc, wd = weight[k, 0], weight[k, 1], weight[k, 2], weight[k, 3]
            found, i, late_ = place_in_time(t[m, c], time_s, step_s, gap, first_s, last_s)
            if (found in (OK, GAP)) and not inside[k]:
                found = OUTSIDE
            if found == OK:
                j = min(i + 1, top)
                late = np.float32(late_)
                soon = np.float32(1.0) - late
                sa, sb, sc, sd = soon * wa, soon * wb, soon * wc, soon * wd
                la, lb, lc, ld = late * wa, late * wb, late * wc, late * wd
                for q in range(fields):
                    f[q] = (
                        sa * data[ka, i, q] + sb * data[kb, i, q]
                        + sc * data[kc, i, q] + sd * data[kd, i, q]
                        + la * data[ka, j, q] + lb * data[kb, j, q]
                        + lc * data[kc, j, q] + ld * data[kd, j, q]
                    )  # fmt: skip
                if alike.size > 1:
                    # Neighbours on the track are mostly in the same box of cells and hours.
                    if i != ji or ka != ja or kb != jb or kc != jc or kd != jd:
                        ja, jb, jc, jd, ji = ka, kb, kc, kd, i
                        rows8[:] = (
                            ka * hours + i, kb * hours + i, kc * hours + i, kd * hours + i,
                            ka * hours + j, kb * hours + j, kc * hours + j, kd * hours + j,
                        )  # fmt: skip
                        mixed = match_rows(flat, rows8, alike, wind, order)
                    if mixed:
                        share8[:] = (sa, sb, sc, sd, la, lb, lc, ld)
                        add_matched(flat, rows8, share8, alike, width, order, f)
                if f[0] > MASK_WEIGHT:
                    found = MASKED
            code[m, c] = found
            height2[m, c] = np.nan
            if found != OK:
                continue
            hn, he = north[m, c], east[m, c]
            if not np.isfinite(hn):
                # Bow to the waves: the sum of their unit vectors, weighted by energy.
                hn = he = 0.0
                for s in range(systems):
                    at = first[s]
                    size = np.hypot(f[at + 2], f[at + 3])
                    if f[at] > NO_ENERGY and size > 0.0:
                        hn += f[at] * f[at + 2] / size
                        he += f[at] * f[at + 3] / size
            total = 0.0
            for s in range(systems):
                at = first[s]
                energy = f[at]
                height[c, s] = 0.0
                if not energy > NO_ENERGY:
                    continue
                height[c, s] = np.sqrt(energy)
                total += energy
                place = f[at + 4] / energy
                # A swell stores the place that it would have as a wind sea, for matching only.
                place = place if steps[s] > 0 else np.float32(0.0)
                low = min(int(place), max(steps[s] - 1, 0))
                shape[c, s] = slot[s] + low
                upper[c, s] = place - np.float32(low)
                x_ = (np.log(f[at + 1] / energy) - LOG_FIRST) / LOG_STEP
                along = f[at + 2] * hn + f[at + 3] * he
                across = abs(f[at + 2] * he - f[at + 3] * hn)
                p_ = (1.0 + along / (abs(along) + across)) * (0.5 * (HEADINGS - 1))
                if not (-_EDGE < x_ < PERIODS - 1 + _EDGE and p_ >= -_EDGE):
                    total = np.nan
                x[c, s] = max(x_, 0.0)
                p[c, s] = min(max(p_, 0.0), HEADINGS - 1.0)
            height2[m, c] = total
        for c in range(places.size):
            row = rows[m, c]
            if not np.isfinite(height2[m, c]):
                row[:used] = np.nan
                continue
            row[:used] = np.float32(0.0)
            for s in range(systems):
                if height[c, s] <= 0.0:
                    continue
                # Variances of two shapes mix by their shares, heights by the roots of these.
                h, at, share = height[c, s], shape[c, s], upper[c, s]
                if share < _PURE:
                    add_row(row, tables[at], x[c, s], p[c, s], h, squares, used)
                    continue
                if share > one - _PURE:
                    add_row(row, tables[at + 1], x[c, s], p[c, s], h, squares, used)
                    continue
                part = h * np.sqrt(one - share)
                add_row(row, tables[at], x[c, s], p[c, s], part, squares, used)
                part = h * np.sqrt(share)
                add_row(row, tables[at + 1], x[c, s], p[c, s], part, squares, used)


def rows_from_cells(
    runs: CellRuns,
    systems: StoredSystems,
    table: ResponseRows,
    places: NDArray[np.int64],
    time_s: FloatArray,
    heading_north: FloatArray,
    heading_east: FloatArray,
) -> tuple[Singles, FloatArray, Codes]:
    """Rows at some places of a track, directly from the data.

    Parameters
    ----------
    runs : CellRuns
        Data of the waves.
    systems : StoredSystems
        Fields of the wave systems.
    table : ResponseRows
        Rows at the speed of these places.
    places : ndarray of int, (n,)
        Indices of the places along the track.
    time_s, heading_north, heading_east : ndarray, (departures, n)
        Time [s], and heading as a unit vector; NaN means bow to the waves.

    Returns
    -------
    rows : ndarray of float32, (departures, n, width)
        Sums over systems; NaN where there are no data or they are outside the tables.
    height2 : ndarray, (departures, n)
        Sum of the squares of significant heights. [m2]
    code : ndarray of int8, (departures, n)
        Coverage.
    """
    shape = (time_s.shape[0], places.size)
    rows = np.empty((*shape, table.data.shape[-1]), np.float32)
    height2 = np.empty(shape)
    code = np.empty(shape, np.int8)
    rows_from_cells_loop(
        runs.data, runs.time_s, runs.step_s, runs.gap, runs.first_s, runs.last_s, runs.corner,
        runs.weight, runs.inside, runs.alike, runs.width, runs.wind, places,
        np.ascontiguousarray(time_s),
        np.ascontiguousarray(heading_north), np.ascontiguousarray(heading_east),
        systems.first, systems.slot, systems.steps, table.data, table.squares, table.used,
        rows, height2, code,
    )  # fmt: skip
    return rows, height2, code
