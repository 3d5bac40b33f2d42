"""Roll with working fins at many points: the loop over the lanes of ``working.py``.

Where fins reach a limit the result is the mean over the actual sea, one with less energy and
one with more (``roll/wave_groups.py``), corrected by ``roll/limit_fit.py``. All three are solved
while the point's row is in the processor's cache.
"""

from __future__ import annotations

import math

import numpy as np

from passage.physics.compiled import compile_loop, compile_part
from passage.physics.roll.fin_gains import (
    BEYOND,
    COLUMNS,
    GAIN,
    INFLOW_GAIN,
    LIFT_GAIN,
    LIFT_MEAN,
    LOST,
    MEAN,
    SHARE,
)
from passage.physics.roll.steadiness import turned_gains
from passage.physics.roll.wave_groups import GREATER, LESSER
from passage.physics.tables.fin_limits import INSIDE, gains_at
from passage.physics.tables.group_lanes import join_groups, weigh_groups
from passage.physics.tables.interpolate import (
    AT_REST,
    CENTRED,
    MAX_STEPS,
    RATE_FREE,
    ROOT2,
    ROOT_2_PI,
    start_node,
)
from passage.physics.tables.levels import DAMPING_NODES
from passage.physics.tables.working import (
    ASKED,
    DAMPING,
    LAG,
    LANES,
    M0,
    M2,
    M4,
    MARGIN,
    MORE,
    PAST,
    PER4,
    SLOPE,
    STEPS,
    advance_lanes,
    feedback_lanes,
    five_of,
    read_lanes,
    start_group,
    start_lane,
)


@compile_part
def _answer(  # type: ignore[no-untyped-def]
    z, p, driven, node, pairs, gains, nominal, w0, offset, at, v, w, out, fins_out
):
    """Write the results of a lane, with the activity of its fins."""
    m0, m2, m4, per4 = v[M0, z], v[M2, z], v[M4, z], v[PER4, z]
    held, total = 0.0, v[DAMPING, z]
    for i in range(pairs.shape[1]):
        moment, r, limit, most, _ = five_of(pairs, i)
        k1, k2, k3 = pairs[5, i], pairs[6, i], pairs[7, i]
        lag = w[LAG, i, z]
        if driven:
            seen = r * math.sqrt(m2)
            fins_out[:, z, i] = 0.0
            fins_out[3, z, i] = fins_out[5, z, i] = seen
            fins_out[8, z, i] = fins_out[10, z, i] = fins_out[11, z, i] = 1.0
            fins_out[9, z, i] = lag
            continue
        tied = k2 * k2 - 2.0 * k1 * k3
        square = k1 * k1 * m0 + tied * m2 + k3 * k3 * m4
        std = math.sqrt(max(square, 0.0))
        side = 1.0 if offset[p, i] >= 0.0 else -1.0
        gains_at(gains, i, std, limit, node[i, z], w[PAST, i, z], at)
        gain, share, mean, lift_mean = at[GAIN], at[SHARE], at[MEAN], at[LIFT_MEAN]
        # Mean squares of the frequency of the command and of the roll rate.
        speed2 = (k1 * k1 * m2 + tied * m4) / max(square, 1e-30)
        if k3 != 0.0 or square <= 0.0:
            speed2 = per4
        angle2 = square / (1.0 + speed2 * lag * lag)
        c1, late = turned_gains(k1 - per4 * k3, k2, math.sqrt(max(per4, 0.0)), pairs[9, i])
        cross = m2 * (late - c1 * lag) / (1.0 + per4 * lag * lag)
        seen2 = max(share * share * angle2 + 2.0 * gain * r * cross + r * r * m2, 0.0)
        lift2 = seen2 + mean * mean + at[LOST] - lift_mean * lift_mean
        asked = math.sqrt(w[ASKED, i, z])
        travel = asked * ROOT_2_PI
        ran = asked
        if asked * RATE_FREE > most:
            x = most / asked
            bell = math.exp(-0.5 * min(x * x, 1400.0))
            out_of = 1.0 - math.erf(x / ROOT2)
            travel = travel * (1.0 - bell) + most * out_of
            inner = 1.0 - out_of - 2.0 * x * bell / math.sqrt(2.0 * math.pi)
            ran = math.sqrt(max(asked * asked * inner + most * most * out_of, 0.0))
        held += moment * lift_mean * side
        total += w0 * w0 * moment * at[LIFT_GAIN] * nominal[i]
        fins_out[0, z, i] = std
        fins_out[1, z, i] = share * math.sqrt(angle2)
        fins_out[2, z, i] = side * mean
        fins_out[3, z, i] = math.sqrt(seen2)
        fins_out[4, z, i] = side * lift_mean
        fins_out[5, z, i] = math.sqrt(max(lift2, 0.0))
        fins_out[6, z, i] = ran
        fins_out[7, z, i] = travel
        fins_out[8, z, i] = gain
        fins_out[9, z, i] = lag
        fins_out[10, z, i] = at[LIFT_GAIN]
        fins_out[11, z, i] = at[INFLOW_GAIN]
        fins_out[12, z, i] = math.sqrt(max(at[BEYOND], 0.0))
    out[z, 0], out[z, 1], out[z, 2] = m0, m2, m4
    out[z, 3] = held
    out[z, 4] = total / (2.0 * w0)
    out[z, 5] = v[STEPS, z]


@compile_loop
def _solve_lanes(  # type: ignore[no-untyped-def]
    alive, count, point, driven, node, slow, rows, axes, speed, pairs, gains, nominal, turned,
    inflow, stiffness, derivatives, offset, at, v, w, out, fins_out,
):  # fmt: skip
    """Solve the first ``count`` lanes of ``alive`` for their fixed points; write the results."""
    first = alive[:count].copy()
    for step in range(MAX_STEPS):
        if count == 0:
            break
        feedback_lanes(
            alive, count, driven, node, slow, pairs, gains, nominal, turned, speed, inflow,
            INSIDE, v, w,
        )  # fmt: skip
        read_lanes(alive, count, point, driven, rows, axes, speed, stiffness, derivatives, v)
        count = advance_lanes(step, alive, count, driven, pairs, speed[2], v, w)
    for z in first:
        _answer(
            z, point[z], driven[z], node, pairs, gains, nominal, speed[0], offset, at, v, w, out,
            fins_out,
        )  # fmt: skip


@compile_loop
def working_loop(  # type: ignore[no-untyped-def]
    rows, axes, speed, pairs, gains, stiffness, derivatives, offset, use, groups, out, fins_out,
):  # fmt: skip
    """Roll with working fins, at points whose ``use`` is not ``CENTRED``.

    Shapes: rows (P, any); pairs (11, n); gains (n, COMMANDS, OFFSETS, 8); stiffness (nodes,);
    offset (P, n); out (P, 6), with the result for centred fins on entry; fins_out (13, P, n).
    ``derivatives`` is the first column of derivatives in the rows. Points with centred fins are
    left unchanged. With ``groups``, wave groups are allowed for.

    Angles in rad, times in [s], frequencies in [rad/s]; orders as in ``interpolate.py``.
    """
    w0, n = speed[0], pairs.shape[1]
    nominal, turned = np.zeros(n), np.zeros(n)
    inflow = 0.0
    for i in range(n):
        c1, late = turned_gains(pairs[5, i] - w0 * w0 * pairs[7, i], pairs[6, i], w0, pairs[9, i])
        follow = 1.0 / (1.0 + (w0 * pairs[4, i]) ** 2)
        nominal[i] = (late - c1 * pairs[4, i]) * follow
        turned[i] = (c1 + w0 * w0 * late * pairs[4, i]) * follow
        inflow += w0 * w0 * pairs[0, i] * pairs[1, i]
    free = start_node(speed[1] + inflow, axes)
    v, w = np.zeros((MORE + 1, LANES)), np.zeros((MARGIN + 1, n, LANES))
    node = np.zeros((n, LANES), np.int64)
    point, felt = np.zeros(LANES, np.int64), np.zeros(LANES, np.int64)
    alive, slow = np.zeros(LANES, np.int64), np.zeros(LANES, np.int64)
    driven = np.zeros(LANES, np.bool_)
    at = np.zeros(COLUMNS, np.float32)
    # Results in the actual sea, the lower and the higher one.
    roll, fins = np.zeros((3, LANES, 6)), np.zeros((3, fins_out.shape[0], LANES, n))
    weight, slope = np.zeros(LANES), np.zeros(LANES)
    p = 0
    while p < rows.shape[0]:
        lanes = 0
        while p < rows.shape[0] and lanes < LANES:
            if use[p] != CENTRED:
                check = rows[p, DAMPING_NODES * int(axes[3])]
                for i in range(n):
                    check += offset[p, i]
                if math.isfinite(check):
                    point[lanes], alive[lanes] = p, lanes
                    driven[lanes] = use[p] == AT_REST
                    start_lane(
                        lanes, p, rows, axes, free, driven[lanes], pairs, offset, speed, out[p], v,
                        w, node,
                    )  # fmt: skip
                    lanes += 1
                else:
                    out[p, :] = np.nan
                    fins_out[:, p, :] = np.nan
            p += 1
        _solve_lanes(
            alive, lanes, point, driven, node, slow, rows, axes, speed, pairs, gains, nominal,
            turned, inflow, stiffness, derivatives, offset, at, v, w, roll[0], fins[0],
        )  # fmt: skip
        count = 0
        if groups:
            count = weigh_groups(lanes, driven, pairs, fins[0], weight, felt)
        if count > 0:
            for a in range(count):
                slope[felt[a]] = v[SLOPE, felt[a]]
            for sea in (1, 2):
                for a in range(count):
                    z = felt[a]
                    alive[a] = z
                    more = GREATER if sea == 2 else LESSER
                    start_group(z, more, roll[0, z], slope[z], v, w)
                _solve_lanes(
                    alive, count, point, driven, node, slow, rows, axes, speed, pairs, gains,
                    nominal, turned, inflow, stiffness, derivatives, offset, at, v, w, roll[sea],
                    fins[sea],
                )  # fmt: skip
            join_groups(felt, count, w0, pairs, weight, roll, fins)
        for q in range(fins.shape[1]):
            for z in range(lanes):
                for i in range(n):
                    fins_out[q, point[z], i] = fins[0, q, z, i]
        for z in range(lanes):
            for q in range(6):
                out[point[z], q] = roll[0, z, q]
