"""Rows of responses at points, directly from the cells of a hindcast.

The rows of ``response_rows.py`` are interpolated bilinearly and added over the systems of each
point. One loop samples, decodes and interpolates in a single pass over the data; spectral
shapes must be tabulated or between two that are.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from passage.physics.compiled import compile_loop, compile_part
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
from passage.physics.tables.lanes import LANES
from passage.physics.tables.response_rows import (
    HEADINGS,
    LOG_FIRST,
    LOG_STEP,
    PERIODS,
    ResponseRows,
)
from passage.physics.tables.vector_math import log_of
from passage.physics.waves.matching import match_rows

FloatArray = NDArray[np.float64]
Singles = NDArray[np.float32]
Codes = NDArray[np.int8]

#: Height squared below which a system is absent [m2], as in ``inputs/forecast``.
NO_ENERGY = 1e-9
_EDGE = 1e-6
#: Share of a second shape below which it is ignored: a hundredth of a percent of roll.
_PURE = np.float32(2e-4)
#: First lane of the rows of a decoded system: height [m], table and share of the one above, places
#: along its periods and headings.
HEIGHT, SHAPE, UPPER, PERIOD_AT, HEADING_AT = range(0, 5 * LANES, LANES)
SEA_ROWS = 5


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


@compile_part
def _corners(x, p, root):  # type: ignore[no-untyped-def]
    """Node of a table before (x, p), and the weights of its four corners times ``root``."""
    i = min(max(int(x), 0), PERIODS - 2)
    j = min(max(int(p), 0), HEADINGS - 2)
    fx, fy = np.float32(x - i), np.float32(p - j)
    one = np.float32(1.0)
    h = np.float32(root)
    w00, w01 = h * (one - fx) * (one - fy), h * (one - fx) * fy
    w10, w11 = h * fx * (one - fy), h * fx * fy
    return i, j, h, w00, w01, w10, w11


@compile_loop
def add_row(row, table, x, p, root, squares, used):  # type: ignore[no-untyped-def]
    """Add one system of height ``root`` [m] at position (x, p) of a table to a row."""
    i, j, h, w00, w01, w10, w11 = _corners(x, p, root)
    t00, t01, t10, t11 = table[i, j], table[i, j + 1], table[i + 1, j], table[i + 1, j + 1]
    for q in range(used):
        v = w00 * t00[q] + w01 * t01[q] + w10 * t10[q] + w11 * t11[q]
        row[q] += v * (v if q < squares else h)


@compile_loop
def _add_mixed_row(row, table, upper, share, x, p, root, squares, used):  # type: ignore[no-untyped-def]
    """Add a system whose shape has ``share`` of the energy from the table ``upper``.

    In one pass, which costs a third less than two rows.
    """
    i, j, h, w00, w01, w10, w11 = _corners(x, p, root)
    t00, t01, t10, t11 = table[i, j], table[i, j + 1], table[i + 1, j], table[i + 1, j + 1]
    u00, u01, u10, u11 = upper[i, j], upper[i, j + 1], upper[i + 1, j], upper[i + 1, j + 1]
    rest = np.float32(1.0) - share
    for q in range(used):
        v = w00 * t00[q] + w01 * t01[q] + w10 * t10[q] + w11 * t11[q]
        u = w00 * u00[q] + w01 * u01[q] + w10 * u10[q] + w11 * u11[q]
        row[q] += rest * v * (v if q < squares else h) + share * u * (u if q < squares else h)


@compile_loop
def _decode(field, north, east, slot, steps, sea, total):  # type: ignore[no-untyped-def]
    """Height, shape and place in the tables of one system in every lane, into ``sea``.

    ``field`` begins with the five rows of the system; ``total`` is the sum of energies, NaN where
    the system is outside the tables.
    """
    has_steps = 1.0 if steps > 0 else 0.0
    for z in range(LANES):
        energy = float(field[z])
        there = energy > NO_ENERGY
        size = energy if there else 1.0
        # A swell stores the place that it would have as a wind sea, for matching only.
        place = has_steps * field[4 * LANES + z] / size
        low = float(min(max(int(place), 0), max(steps - 1, 0)))
        x = (log_of(field[LANES + z] / size) - LOG_FIRST) * (1.0 / LOG_STEP)
        hn, he = north[z], east[z]
        cos, sin = float(field[2 * LANES + z]), float(field[3 * LANES + z])
        along, across = cos * hn + sin * he, abs(cos * he - sin * hn)
        p = (1.0 + along / (abs(along) + across)) * (0.5 * (HEADINGS - 1))
        good = x > -_EDGE and x < PERIODS - 1 + _EDGE and p >= -_EDGE
        counted = energy if good else np.nan
        total[z] += counted if there else 0.0
        sea[HEIGHT + z] = math.sqrt(size) if there else 0.0
        sea[SHAPE + z] = slot + low
        sea[UPPER + z] = place - low
        sea[PERIOD_AT + z] = max(x, 0.0)
        sea[HEADING_AT + z] = min(max(p, 0.0), HEADINGS - 1.0)


@compile_loop
def rows_from_cells_loop(  # type: ignore[no-untyped-def]
    data, time_s, step_s, gap, first_s, last_s, corner, weight, inside, alike, width, wind, places,
    t, north, east, first, slot, steps, tables, squares, used, rows, height2, code,
):  # fmt: skip
    """Compiled loop of :func:`rows_from_cells`.

    Places are sampled in groups of lanes, whose seas are decoded together; their rows are added
    afterwards. The inner loop runs along the track, where weather changes less than from
    departure to departure, so that more data are in the processor's cache.

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
    lanes = np.zeros(fields * LANES, np.float32)
    sea = np.zeros((systems, SEA_ROWS * LANES))
    total, bow_north, bow_east = np.zeros(LANES), np.zeros(LANES), np.zeros(LANES)
    one = np.float32(1.0)
    # With the padding, which is a whole number of vector instructions.
    whole = rows.shape[2]
    for m in range(departures):
        for begin in range(0, places.size, LANES):
            count = min(places.size - begin, LANES)
            for z in range(count):
                c = begin + z
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
                hn, he = north[m, c], east[m, c]
                if found == OK and not np.isfinite(hn):
                    # Bow to the waves: the sum of their unit vectors, weighted by energy.
                    hn = he = 0.0
                    for s in range(systems):
                        at = first[s]
                        size = np.hypot(f[at + 2], f[at + 3])
                        if f[at] > NO_ENERGY and size > 0.0:
                            hn += f[at] * f[at + 2] / size
                            he += f[at] * f[at + 3] / size
                bow_north[z], bow_east[z] = hn, he
                for q in range(fields):
                    lanes[q * LANES + z] = f[q]
            total[:] = 0.0
            for s in range(systems):
                _decode(
                    lanes[first[s] * LANES :], bow_north, bow_east, slot[s], steps[s], sea[s], total
                )  # fmt: skip
            for z in range(count):
                c = begin + z
                height2[m, c] = total[z] if code[m, c] == OK else np.nan
                row = rows[m, c]
                if not np.isfinite(height2[m, c]):
                    row[:used] = np.nan
                    continue
                row[:] = np.float32(0.0)
                for s in range(systems):
                    h = sea[s, HEIGHT + z]
                    if h <= 0.0:
                        continue
                    # Variances of two shapes mix by their shares.
                    at, share = int(sea[s, SHAPE + z]), np.float32(sea[s, UPPER + z])
                    x, p = sea[s, PERIOD_AT + z], sea[s, HEADING_AT + z]
                    if share < _PURE:
                        add_row(row, tables[at], x, p, h, squares, whole)
                    elif share > one - _PURE:
                        add_row(row, tables[at + 1], x, p, h, squares, whole)
                    else:
                        _add_mixed_row(
                            row, tables[at], tables[at + 1], share, x, p, h, squares, whole
                        )  # fmt: skip


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
