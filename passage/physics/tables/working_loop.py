"""Roll with working fins at many points: the loop over groups of lanes of ``working.py``.

Where fins reach a limit the result is the mean over the actual sea, one with less energy and
one with more (``roll/wave_groups.py``), corrected by ``roll/limit_fit.py``. Points that need it
are collected until they fill the lanes; the two seas are then solved, from the actual one.
"""

from __future__ import annotations

import math

import numpy as np

from passage.physics.compiled import compile_loop
from passage.physics.roll.steadiness import turned_gains
from passage.physics.roll.wave_groups import GREATER, LESSER
from passage.physics.tables.answers import OUTPUTS, ROLLS, answer_lanes
from passage.physics.tables.group_lanes import JOIN_ROWS, join_groups, weigh_groups
from passage.physics.tables.interpolate import CENTRED, start_node
from passage.physics.tables.lanes import (
    LANES,
    LAST_SLOPE,
    PAIR_ROWS,
    POINT_ROWS,
    WEIGHT,
)
from passage.physics.tables.levels import DAMPING_NODES
from passage.physics.tables.working import (
    ALONG_X,
    SUM_ROWS,
    fill_lanes,
    solve_lanes,
    start_fins,
    start_groups,
    start_lanes,
)


@compile_loop
def _write(count, point, roll, fins, out, fins_out):  # type: ignore[no-untyped-def]
    """Results of the first lanes to their points."""
    for q in range(OUTPUTS):
        for i in range(fins.shape[0]):
            for z in range(count):
                fins_out[q, point[z], i] = fins[i, q * LANES + z]
    for z in range(count):
        for q in range(ROLLS):
            out[point[z], q] = roll[q * LANES + z]


@compile_loop
def _read(point, out, fins_out, roll, fins):  # type: ignore[no-untyped-def]
    """The results of points back to their lanes."""
    for q in range(OUTPUTS):
        for i in range(fins.shape[0]):
            for z in range(LANES):
                fins[i, q * LANES + z] = fins_out[q, point[z], i]
    for z in range(LANES):
        for q in range(ROLLS):
            roll[q * LANES + z] = out[point[z], q]


@compile_loop
def _fill_up(point, count):  # type: ignore[no-untyped-def]
    """Put the first point into the lanes left over, so that all have numbers."""
    for z in range(count, LANES):
        point[z] = point[0]


@compile_loop
def working_loop(  # type: ignore[no-untyped-def]
    rows, axes, speed, pairs, gains, stiffness, derivatives, offset, use, groups, out, fins_out,
):  # fmt: skip
    """Roll with working fins, at points whose ``use`` is not ``CENTRED``.

    Shapes: rows (P, any); pairs (11, n); gains (n, COMMANDS x OFFSETS x 8); stiffness (nodes,);
    offset (P, n); out (P, 6), with the result for centred fins on entry; fins_out (13, P, n).
    ``derivatives`` is the first column of derivatives in the rows. Points with centred fins are
    left unchanged. With ``groups``, wave groups are allowed for.

    Angles in rad, times in [s], frequencies in [rad/s]; orders as in ``interpolate.py``.
    """
    w0, n, n_x = speed[0], pairs.shape[1], int(axes[3])
    nominal, turned = np.zeros(n), np.zeros(n)
    inflow = 0.0
    for i in range(n):
        c1, late = turned_gains(pairs[5, i] - w0 * w0 * pairs[7, i], pairs[6, i], w0, pairs[9, i])
        follow = 1.0 / (1.0 + (w0 * pairs[4, i]) ** 2)
        nominal[i] = (late - c1 * pairs[4, i]) * follow
        turned[i] = (c1 + w0 * w0 * late * pairs[4, i]) * follow
        inflow += w0 * w0 * pairs[0, i] * pairs[1, i]
    free = start_node(speed[1] + inflow, axes)
    v, w = np.zeros(POINT_ROWS * LANES), np.zeros((n, PAIR_ROWS * LANES))
    s = np.zeros(ALONG_X + n_x * LANES, np.float32)
    t = np.zeros(13 * n_x * LANES, np.float32)
    total, at = np.zeros(SUM_ROWS * LANES, np.float32), np.zeros(8 * LANES, np.float32)
    # Results in the actual sea, the lower and the higher one.
    roll, fins = np.zeros((3, ROLLS * LANES)), np.zeros((3, n, OUTPUTS * LANES))
    work = np.zeros(JOIN_ROWS * LANES)
    # Unsigned, so that no index is taken to count from the end.
    point, felt = np.zeros(LANES, np.uint32), np.zeros(2 * LANES, np.uint32)
    slopes, weights = np.zeros(rows.shape[0]), np.zeros(rows.shape[0])
    weight, slope = np.zeros(LANES), np.zeros(LANES)
    waiting = p = 0
    while p < rows.shape[0] or waiting > 0:
        lanes = 0
        while p < rows.shape[0] and lanes < LANES:
            if use[p] != CENTRED:
                check = rows[p, DAMPING_NODES * n_x]
                for i in range(n):
                    check += offset[p, i]
                if math.isfinite(check):
                    point[lanes] = p
                    lanes += 1
                else:
                    out[p, :] = np.nan
                    fins_out[:, p, :] = np.nan
            p += 1
        if lanes > 0:
            _fill_up(point, lanes)
            fill_lanes(rows, point, n_x, derivatives, t)
            start_lanes(point, free, n_x, use, pairs, offset, w0, out, t, v, w)
            solve_lanes(
                axes, speed, pairs, gains, nominal, turned, inflow, stiffness, v, w, s, t,
                total, at,
            )  # fmt: skip
            answer_lanes(speed, pairs, gains, nominal, v, w, at, roll[0], fins[0])
            _write(lanes, point, roll[0], fins[0], out, fins_out)
            if groups:
                weigh_groups(pairs, v, fins[0])
                for z in range(lanes):
                    if v[WEIGHT + z] > 0.0:
                        felt[waiting] = point[z]
                        slopes[point[z]] = v[LAST_SLOPE + z]
                        weights[point[z]] = v[WEIGHT + z]
                        waiting += 1
        ended = p >= rows.shape[0]
        while waiting >= LANES or (ended and waiting > 0):
            count = min(waiting, LANES)
            for z in range(count):
                point[z] = felt[z]
            for z in range(count, waiting):
                felt[z - count] = felt[z]
            waiting -= count
            _fill_up(point, count)
            fill_lanes(rows, point, n_x, derivatives, t)
            _read(point, out, fins_out, roll[0], fins[0])
            start_fins(point, pairs, offset, w)
            for z in range(LANES):
                weight[z], slope[z] = weights[point[z]], slopes[point[z]]
            for sea in range(1, 3):
                more = GREATER if sea == 2 else LESSER
                start_groups(more, roll[0], slope, w0, v)
                solve_lanes(
                    axes, speed, pairs, gains, nominal, turned, inflow, stiffness, v, w, s,
                    t, total, at,
                )  # fmt: skip
                answer_lanes(speed, pairs, gains, nominal, v, w, at, roll[sea], fins[sea])
            join_groups(w0, pairs, weight, roll, fins, work)
            _write(count, point, roll[0], fins[0], out, fins_out)
