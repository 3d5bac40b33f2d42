"""Fixed point of the roll equation with working fins: compiled loops, see ``interpolate.py``.

Points are solved in groups of lanes. Each part of a step is one loop over all lanes without
branches, which the compiler turns into vector instructions: a step costs a tenth of what it does
point by point. A lane that has converged goes on with the others, but its result is kept, so
that no result depends on the other points of a group.
"""

from __future__ import annotations

import math

import numpy as np

from passage.physics.compiled import compile_loop
from passage.physics.roll.fin_gains import OFFSETS
from passage.physics.tables.fin_limits import feedback_lanes
from passage.physics.tables.interpolate import (
    AT_REST,
    MAX_STEPS,
    ROOT_8_PI,
    SLOPES,
    SMALLEST,
    cubic,
)
from passage.physics.tables.lanes import (
    ASKED,
    ASKED_NOW,
    BEFORE,
    BEFORE_ANSWER,
    DAMPED,
    DAMPING,
    DRIVEN,
    FEEDBACK,
    FIRST,
    LAG,
    LAG_NOW,
    LANES,
    LAST_SLOPE,
    M0,
    M2,
    M4,
    MARGIN,
    MORE,
    NEARNESS,
    NODE,
    OPEN,
    PAST,
    PER,
    PER0,
    PER4,
    PLACE,
    RATE,
    SIDE,
    SLOPE,
    STEPS,
    STIFF,
    WEIGHT,
    any_lane,
)
from passage.physics.tables.vector_math import exp_of, log_of

#: Largest secant slope with which a sea of more or less energy starts.
STEEPEST_START = 0.6
#: Rows of the weights: along D, along x, and sums over the planes.
ALONG_D, ALONG_X = 0, 4 * LANES
SUM0, SUM2, SUM4, SUM_SLOPE, SUM_OF, SUM_STIFF = range(0, 6 * LANES, LANES)
SUM_ROWS = 6


@compile_loop
def fill_lanes(rows, point, n_x, derivatives, t):  # type: ignore[no-untyped-def]
    """Planes and derivatives of the points in lanes, one row of lanes for each number. [any unit]

    Four lanes by four numbers at a time, which the compiler turns round in registers.
    """
    for quarter in range(LANES // 4):
        z = 4 * quarter
        a, b, c, d = rows[point[z]], rows[point[z + 1]], rows[point[z + 2]], rows[point[z + 3]]
        for node in range(3 * n_x):
            # Unsigned, so that no index is taken to count from the end.
            k = np.uint32(4 * node)
            a0, a1, a2, a3 = a[k], a[k + 1], a[k + 2], a[k + 3]
            b0, b1, b2, b3 = b[k], b[k + 1], b[k + 2], b[k + 3]
            c0, c1, c2, c3 = c[k], c[k + 1], c[k + 2], c[k + 3]
            d0, d1, d2, d3 = d[k], d[k + 1], d[k + 2], d[k + 3]
            q = np.uint32(4 * node * LANES + z)
            t[q], t[q + 1], t[q + 2], t[q + 3] = a0, b0, c0, d0
            q = np.uint32(4 * node * LANES + LANES + z)
            t[q], t[q + 1], t[q + 2], t[q + 3] = a1, b1, c1, d1
            q = np.uint32(4 * node * LANES + 2 * LANES + z)
            t[q], t[q + 1], t[q + 2], t[q + 3] = a2, b2, c2, d2
            q = np.uint32(4 * node * LANES + 3 * LANES + z)
            t[q], t[q + 1], t[q + 2], t[q + 3] = a3, b3, c3, d3
        for node in range(n_x):
            k = np.uint32(derivatives + node)
            q = np.uint32((12 * n_x + node) * LANES + z)
            t[q], t[q + 1], t[q + 2], t[q + 3] = a[k], b[k], c[k], d[k]


@compile_loop
def start_fins(point, pairs, offset, w):  # type: ignore[no-untyped-def]
    """Places of the fins' offsets in their tables. Angles in rad."""
    for i in range(pairs.shape[1]):
        u, per = w[i], (OFFSETS - 1) / pairs[2, i]
        for z in range(LANES):
            u[SIDE + z] = offset[point[z], i]
        for z in range(LANES):
            y = abs(u[SIDE + z]) * per
            node = float(min(int(y), OFFSETS - 2))
            u[NODE + z], u[PAST + z] = node, y - node
            u[SIDE + z] = 1.0 if u[SIDE + z] >= 0.0 else -1.0


@compile_loop
def start_lanes(point, free, n_x, use, pairs, offset, w0, centred, t, v, w):  # type: ignore[no-untyped-def]
    """Put points into lanes.

    The iteration starts from fins free of their limits under way, as in the full solver, and
    from centred fins where they are driven at rest; ``centred`` has the variances of roll
    [rad2], roll rate and roll acceleration for these. Angles in rad.
    """
    for z in range(LANES):
        v[DRIVEN + z] = 1.0 if use[point[z]] == AT_REST else 0.0
    roll, rate, fast = (
        t[free * LANES :], t[(free + 4 * n_x) * LANES :], t[(free + 8 * n_x) * LANES :],
    )  # fmt: skip
    for z in range(LANES):
        v[M0 + z], v[M2 + z], v[M4 + z] = roll[z], rate[z], fast[z]
    if any_lane(v, DRIVEN):
        for z in range(LANES):
            if v[DRIVEN + z] > 0.0:
                of = centred[point[z]]
                v[M0 + z], v[M2 + z], v[M4 + z] = of[0], of[1], of[2]
    for z in range(LANES):
        m0, m2, m4 = v[M0 + z], v[M2 + z], v[M4 + z]
        v[MORE + z], v[SLOPE + z] = 1.0, 0.0
        root = math.sqrt(m2)
        v[RATE + z] = v[BEFORE_ANSWER + z] = root
        # Without roll, fins are free of their limits. At rest their damping would be infinite.
        v[BEFORE + z] = root if v[DRIVEN + z] > 0.0 else 0.0
        felt = m2 > SMALLEST * SMALLEST
        size = m2 if felt else 1.0
        v[PER0 + z] = m0 / size if felt else 1.0 / (w0 * w0)
        v[PER4 + z] = m4 / size if felt else w0 * w0
    start_fins(point, pairs, offset, w)


@compile_loop
def start_groups(more, own, slope, w0, v):  # type: ignore[no-untyped-def]
    """Start lanes with ``more`` times the energy, from the result for the actual sea.

    ``own`` (6 x LANES,) has the variances of roll [rad2], roll rate and roll acceleration in the
    actual sea, ``slope`` (LANES,) its last secant slope.
    """
    root = math.sqrt(more)
    for z in range(LANES):
        last = min(slope[z], STEEPEST_START / root)
        m0, m2, m4 = own[z], own[LANES + z], own[2 * LANES + z]
        rate = math.sqrt(more * m2) * (1.0 - last) / (1.0 - root * last)
        v[MORE + z], v[SLOPE + z], v[DRIVEN + z] = more, root * last, 0.0
        v[RATE + z] = v[BEFORE + z] = v[BEFORE_ANSWER + z] = rate
        felt = m2 > SMALLEST * SMALLEST
        size = m2 if felt else 1.0
        v[PER0 + z] = m0 / size if felt else 1.0 / (w0 * w0)
        v[PER4 + z] = m4 / size if felt else w0 * w0


@compile_loop
def _weigh_nodes(axes, ratio, v, s):  # type: ignore[no-untyped-def]
    """Weights of the nodes along D and x at the damping and feedback of each lane."""
    shift, first, d_step, n_x, x_step = axes
    per_d, per_x = 1.0 / d_step, 1.0 / x_step
    for z in range(LANES):
        a, b, c, d = cubic((1.0 / (v[DAMPING + z] + shift) - first) * per_d)
        s[ALONG_D + z] = a
        s[ALONG_D + LANES + z] = b
        s[ALONG_D + 2 * LANES + z] = c
        s[ALONG_D + 3 * LANES + z] = d
        x = log_of(1.0 + max(v[FEEDBACK + z], 0.0) * ratio)
        y = min(max(x * per_x, 0.0), n_x - 1.0)
        low = min(max(float(int(y)) - 1.0, 0.0), n_x - 4.0)
        v[PLACE + z], v[FIRST + z] = y - low, low
    for j in range(int(n_x)):
        x_row = s[ALONG_X + j * LANES : ALONG_X + (j + 1) * LANES]
        for z in range(LANES):
            a, b, c, d = cubic(v[PLACE + z])
            k = j - v[FIRST + z]
            weight = a if k == 0.0 else 0.0
            weight = b if k == 1.0 else weight
            weight = c if k == 2.0 else weight
            weight = d if k == 3.0 else weight
            x_row[z] = weight


@compile_loop
def _read_planes(n_x, stiffness, s, t, total):  # type: ignore[no-untyped-def]
    """Sums over the planes, and over what stiffness changes, at the weights of each lane."""
    for z in range(SUM_ROWS * LANES):
        total[z] = np.float32(0.0)
    for j in range(n_x):
        x_row = s[ALONG_X + j * LANES : ALONG_X + (j + 1) * LANES]
        plane = t[4 * j * LANES :]
        rate = t[4 * (n_x + j) * LANES :]
        fast = t[4 * (2 * n_x + j) * LANES :]
        slope = t[(12 * n_x + j) * LANES :]
        stiff = np.float32(stiffness[j])
        for z in range(LANES):
            d0, d1, d2, d3 = s[z], s[LANES + z], s[2 * LANES + z], s[3 * LANES + z]
            x = x_row[z]
            total[SUM0 + z] += x * (
                (d0 * plane[z] + d1 * plane[LANES + z])
                + (d2 * plane[2 * LANES + z] + d3 * plane[3 * LANES + z])
            )
            total[SUM2 + z] += x * (
                (d0 * rate[z] + d1 * rate[LANES + z])
                + (d2 * rate[2 * LANES + z] + d3 * rate[3 * LANES + z])
            )
            total[SUM4 + z] += x * (
                (d0 * fast[z] + d1 * fast[LANES + z])
                + (d2 * fast[2 * LANES + z] + d3 * fast[3 * LANES + z])
            )
            total[SUM_SLOPE + z] += x * slope[z]
            total[SUM_OF + z] += x * rate[LANES + z]
            total[SUM_STIFF + z] += x * stiff


@compile_loop
def _step(step, b, w0, total, v):  # type: ignore[no-untyped-def]
    """Variances of each lane from the sums, and a secant step; results where not yet final."""
    for z in range(LANES):
        more, open_ = v[MORE + z], v[OPEN + z] > 0.0
        m0 = more * max(float(total[SUM0 + z]), 0.0)
        m2 = more * max(float(total[SUM2 + z]), 0.0)
        m4 = more * max(float(total[SUM4 + z]), 0.0)
        # Stiffness beyond that of the nodes, to first order, in a form that stays positive.
        felt = m2 > SMALLEST * SMALLEST
        stiffer = v[STIFF + z] - total[SUM_STIFF + z]
        change = stiffer / (w0 * w0) * total[SUM_SLOPE + z] / max(float(total[SUM_OF + z]), 1e-30)
        change = exp_of(min(max(change, -1.0), 1.0))
        change = change if felt and v[DRIVEN + z] == 0.0 else 1.0
        m0, m2, m4 = m0 * change, m2 * change, m4 * change
        rate, answer = v[RATE + z], math.sqrt(m2)
        size = m2 if felt else 1.0
        per4 = m4 / size if felt else v[PER4 + z]
        v[PER0 + z] = m0 / size if felt else v[PER0 + z]
        v[PER4 + z] = per4
        before, slope = v[BEFORE + z], v[SLOPE + z]
        apart = rate - before
        moved = apart != 0.0
        secant = (answer - v[BEFORE_ANSWER + z]) / (apart if moved else 1.0)
        slope = min(max(secant, SLOPES[0]), SLOPES[1]) if moved else slope
        v[BEFORE + z], v[BEFORE_ANSWER + z], v[SLOPE + z] = rate, answer, slope
        following = (answer - slope * rate) / (1.0 - slope)
        following = min(max(following, 0.1 * rate), 10.0 * rate + SMALLEST)
        away = max(abs(answer - rate), abs(following - rate))
        near = step > 0 and away <= v[NEARNESS + z] * answer + SMALLEST
        v[RATE + z] = following
        ahead = following / max(answer, SMALLEST)
        closing = ahead * ahead if near else 1.0
        more_damping = ROOT_8_PI * b * (following - rate) if near else 0.0
        ahead = following / max(rate, SMALLEST)
        v[M0 + z] = m0 * closing if open_ else v[M0 + z]
        v[M2 + z] = m2 * closing if open_ else v[M2 + z]
        v[M4 + z] = m4 * closing if open_ else v[M4 + z]
        v[PER + z] = per4 if open_ else v[PER + z]
        v[DAMPED + z] = v[DAMPING + z] + more_damping if open_ else v[DAMPED + z]
        v[LAST_SLOPE + z] = slope if open_ else v[LAST_SLOPE + z]
        v[STEPS + z] = step + 1.0 if open_ else v[STEPS + z]
        # How the rate asked of each fin changes with the last step; 0 in lanes that are final.
        v[WEIGHT + z] = (ahead * ahead if near else 1.0) if open_ else 0.0
        v[OPEN + z] = 1.0 if open_ and not near else 0.0


@compile_loop
def _keep(v, u):  # type: ignore[no-untyped-def]
    """Rate asked and lag of a pair, where not yet final."""
    for z in range(LANES):
        ahead, lag, asked = v[WEIGHT + z], u[LAG + z], u[ASKED + z]
        lag_now, asked_now = u[LAG_NOW + z], u[ASKED_NOW + z]
        u[LAG + z] = lag_now if ahead > 0.0 else lag
        u[ASKED + z] = asked_now * ahead if ahead > 0.0 else asked


@compile_loop
def solve_lanes(  # type: ignore[no-untyped-def]
    axes, speed, pairs, gains, nominal, turned, inflow, stiffness, v, w, s, t, total, at
):
    """Solve the lanes for their fixed points. Angles in rad, frequencies in [rad/s]."""
    for z in range(LANES):
        v[OPEN + z] = 1.0
    for i in range(w.shape[0]):
        for z in range(LANES):
            w[i, MARGIN + z] = 0.0
    for step in range(MAX_STEPS):
        feedback_lanes(speed, pairs, gains, nominal, turned, inflow, v, w, at)
        _weigh_nodes(axes, speed[3], v, s)
        _read_planes(int(axes[3]), stiffness, s, t, total)
        _step(step, speed[2], speed[0], total, v)
        for i in range(w.shape[0]):
            _keep(v, w[i])
        if not any_lane(v, OPEN):
            break
