"""The fixed point of the roll equation on planes of tabulated variances: compiled loop.

The unknown is the rms roll rate. From it follow the hull's damping, the command of the
fins and what limit, rate limit and stall leave of it; these say where on the plane to
read, and the plane gives the roll rate again. Secant steps bring the two together. The
equations are those of ``roll_response.py``; ``roll_walk_numpy.py`` is the twin.
"""

from __future__ import annotations

import math

import numpy as np

from passage.physics.compiled import compile_loop
from passage.physics.fin_gains import (
    COLUMNS,
    COMMANDS,
    GAIN,
    INFLOW_GAIN,
    LIFT_GAIN,
    LIFT_MEAN,
    LOST,
    MEAN,
    OFFSETS,
    SHARE,
)
from passage.physics.roll_levels import DAMPING_NODES

#: What a point does: fins without work, under way, driven at rest.
CENTRED, ACTIVE, AT_REST = 0, 1, 2
#: Order of the packed numbers of one speed; per pair after them.
SPEED_IN = ("omega0", "hull", "quadratic", "ratio", "rest_damping", "rest", "by_damping")
PAIR_IN = (
    "moment", "inflow", "limit", "rate_limit", "lag", "k1", "k2", "k3", "weight",
)  # fmt: skip
#: Order of the answers of a point, and of a pair.
ROLL_OUT = ("m0", "m2", "m4", "held", "damping", "steps")
PAIR_OUT = (
    "command", "angle", "mean", "incidence", "lift_mean", "lift", "rate", "travel", "gain",
    "lag", "lift_gain", "inflow_gain",
)  # fmt: skip
#: Relative change of roll rate near enough for the secant's own answer to stand, and the
#: most steps. Never before the second: nearly every point then takes the same two.
NEAR = 3e-3
#: The same where the rate limit has lengthened a fin's lag by more than a share: what it
#: asks and what it gets must settle as well.
NEAR_LIMIT, LENGTHENED = 1e-4, 1.02
MAX_STEPS = 60
SMALLEST = 1e-9
#: Secant slopes believed in.
SLOPES = (-4.0, 0.95)
#: Rate limit over asked rate from which the limit is not felt.
RATE_FREE = 4.0

#: The frequencies that a fin's rate has most of lie above the mean of roll acceleration
#: over roll rate; by trial, for the share that the lag takes from them.
TAIL = 1.3

_ROOT2 = math.sqrt(2.0)
_ROOT_2_PI = math.sqrt(2.0 / math.pi)
_ROOT_8_PI = math.sqrt(8.0 / math.pi)


@compile_loop
def cubic(v):  # type: ignore[no-untyped-def]
    """Lagrange weights of four unit-spaced nodes at v from the first."""
    a, b, c = v - 1.0, v - 2.0, v - 3.0
    bc, va = b * c, v * a
    return -a * bc / 6.0, v * bc / 2.0, -va * c / 2.0, va * b / 6.0


@compile_loop
def _four(rows, p, k, w, d):  # type: ignore[no-untyped-def]
    """Sum of sixteen neighbours of a row from ``k`` on: four along x, each four along D."""
    a = (w[0] * rows[p, k] + w[1] * rows[p, k + 4]) + (
        w[2] * rows[p, k + 8] + w[3] * rows[p, k + 12]
    )
    b = (w[0] * rows[p, k + 1] + w[1] * rows[p, k + 5]) + (
        w[2] * rows[p, k + 9] + w[3] * rows[p, k + 13]
    )
    c = (w[0] * rows[p, k + 2] + w[1] * rows[p, k + 6]) + (
        w[2] * rows[p, k + 10] + w[3] * rows[p, k + 14]
    )
    e = (w[0] * rows[p, k + 3] + w[1] * rows[p, k + 7]) + (
        w[2] * rows[p, k + 11] + w[3] * rows[p, k + 15]
    )
    return max(float((d[0] * a + d[1] * b) + (d[2] * c + d[3] * e)), 0.0)


@compile_loop
def plane_at(rows, p, axes, damping, x):  # type: ignore[no-untyped-def]
    """Roll, rate and acceleration variance at D and x on the plane of a row.

    In singles, as the rows are: nearly twice as fast, and as exact as they are.
    """
    n_x = int(axes[3])
    a, b, c, d = cubic((1.0 / (damping + axes[0]) - axes[1]) / axes[2])
    y = min(max(x / axes[4], 0.0), n_x - 1.0)
    i = min(max(int(y) - 1, 0), n_x - 4)
    w0, w1, w2, w3 = cubic(y - i)
    along_d = (np.float32(a), np.float32(b), np.float32(c), np.float32(d))
    along_x = (np.float32(w0), np.float32(w1), np.float32(w2), np.float32(w3))
    k = 4 * i
    n = 4 * n_x
    return (
        _four(rows, p, k, along_x, along_d),
        _four(rows, p, k + n, along_x, along_d),
        _four(rows, p, k + n + n, along_x, along_d),
    )


@compile_loop
def start_node(damping, axes):  # type: ignore[no-untyped-def]
    """Column of roll variance at the node nearest a damping, the feedback whole."""
    v = (1.0 / (damping + axes[0]) - axes[1]) / axes[2]
    nearest = min(max(int(v + 0.5), 0), DAMPING_NODES - 1)
    return DAMPING_NODES * (int(axes[3]) - 1) + nearest


@compile_loop
def centred_loop(rows, axes, speed, inflow, out):  # type: ignore[no-untyped-def]
    """Roll with the fins centred: ``rows`` (P, any) to ``out`` (P, 6)."""
    shift, first, d_step, n_x, _ = axes
    w0, hull, b = speed[0], speed[1], speed[2]
    base = hull + w0 * w0 * inflow
    k2 = 4 * int(n_x)
    k4 = 2 * k2
    for p in range(rows.shape[0]):
        if not math.isfinite(rows[p, k2]):
            out[p, :] = np.nan
            continue
        rate = 0.0
        before = before_answer = 0.0
        damping = base
        closing = 1.0
        wa = wb = wc = wd = 0.0
        for step in range(MAX_STEPS):
            damping = base + _ROOT_8_PI * b * rate
            wa, wb, wc, wd = cubic((1.0 / (damping + shift) - first) / d_step)
            m2 = wa * rows[p, k2] + wb * rows[p, k2 + 1] + wc * rows[p, k2 + 2] + wd * rows[p, k2 + 3]
            answer = math.sqrt(max(m2, 0.0))
            near = abs(answer - rate) <= NEAR * answer + SMALLEST
            slope = 0.0
            if step > 0 and rate != before:
                slope = (answer - before_answer) / (rate - before)
                slope = min(max(slope, SLOPES[0]), SLOPES[1])
            before, before_answer = rate, answer
            rate = (answer - slope * rate) / (1.0 - slope)
            if step > 0 and near:
                closing = (rate / max(answer, SMALLEST)) ** 2
                damping += _ROOT_8_PI * b * (rate - before)
                break
        out[p, 0] = max(wa * rows[p, 0] + wb * rows[p, 1] + wc * rows[p, 2] + wd * rows[p, 3], 0.0) * closing
        out[p, 1] = answer * answer * closing
        m4 = wa * rows[p, k4] + wb * rows[p, k4 + 1] + wc * rows[p, k4 + 2] + wd * rows[p, k4 + 3]
        out[p, 2] = max(m4, 0.0) * closing
        out[p, 3] = 0.0
        out[p, 4] = damping / (2.0 * w0)
        out[p, 5] = step + 1


@compile_loop
def gains_at(gains, pair, command, limit, j, fy, at):  # type: ignore[no-untyped-def]
    """All columns of a table of gains at a command rms, ``fy`` past offset node ``j``."""
    x = command / (command + limit) * (COMMANDS - 1)
    i = min(int(x), COMMANDS - 2)
    fx = np.float32(x - i)
    full = np.float32(1.0)
    w00, w01 = (full - fx) * (full - fy), (full - fx) * fy
    w10, w11 = fx * (full - fy), fx * fy
    for q in range(COLUMNS):
        at[q] = (
            w00 * gains[pair, i, j, q] + w01 * gains[pair, i, j + 1, q]
            + w10 * gains[pair, i + 1, j, q] + w11 * gains[pair, i + 1, j + 1, q]
        )  # fmt: skip


@compile_loop
def working_loop(  # type: ignore[no-untyped-def]
    rows, axes, speed, pairs, gains, stiffness, derivatives, offset, use, out, fins_out
):
    """Roll with the fins as they work, for points whose ``use`` is not ``CENTRED``.

    Shapes: rows (P, any), pairs (9, n), gains (n, COMMANDS, OFFSETS, 8), stiffness
    (nodes,), offset (P, n), out (P, 6), which holds the answer with the fins centred,
    fins_out (12, P, n). ``derivatives`` is their first column in the rows. Points that
    are centred are left alone.
    """
    n_x, x_step = int(axes[3]), axes[4]
    w0, hull, b, ratio, rest_damping, rest, by_damping = speed
    n = pairs.shape[1]
    nominal = np.zeros(n)
    turned = np.zeros(n)
    lag = np.zeros(n)
    asked_rate = np.zeros(n)
    node = np.zeros(n, np.int64)
    past = np.zeros(n, np.float32)
    at = np.zeros(COLUMNS, np.float32)
    inflow = 0.0
    for i in range(n):
        c1 = pairs[5, i] - w0 * w0 * pairs[7, i]
        follow = 1.0 / (1.0 + (w0 * pairs[4, i]) ** 2)
        nominal[i] = (pairs[6, i] - c1 * pairs[4, i]) * follow
        turned[i] = (c1 + w0 * w0 * pairs[6, i] * pairs[4, i]) * follow
        inflow += w0 * w0 * pairs[0, i] * pairs[1, i]
    free = start_node(hull + inflow, axes)
    for p in range(rows.shape[0]):
        if use[p] == CENTRED:
            continue
        check = rows[p, 4 * n_x]
        for i in range(n):
            check += offset[p, i]
        if not math.isfinite(check):
            out[p, :] = np.nan
            fins_out[:, p, :] = np.nan
            continue
        driven = use[p] == AT_REST
        # Start under way from the fins free of their limits, as the full solver does;
        # driven at rest from the fins centred.
        m0, m2, m4 = float(rows[p, free]), float(rows[p, free + 4 * n_x]), float(rows[p, free + 8 * n_x])
        if driven:
            m0, m2, m4 = out[p, 0], out[p, 1], out[p, 2]
        rate = math.sqrt(m2)
        before, before_answer = 0.0, rate
        per_rate0, per_rate4 = 1.0 / (w0 * w0), w0 * w0
        if m2 > SMALLEST * SMALLEST:
            per_rate0, per_rate4 = m0 / m2, m4 / m2
        damping = hull
        for i in range(n):
            lag[i] = pairs[4, i]
            asked_rate[i] = 0.0
            y = abs(offset[p, i]) / pairs[2, i] * (OFFSETS - 1)
            node[i] = min(int(y), OFFSETS - 2)
            past[i] = y - node[i]
        for step in range(MAX_STEPS):
            damping = hull + _ROOT_8_PI * b * rate
            g = stiff = 0.0
            nearness = NEAR
            if driven:
                g = w0 * w0 * rest * _ROOT_2_PI / max(rate, SMALLEST) / rest_damping
                damping += inflow
            else:
                for i in range(n):
                    k1, k2, k3 = pairs[5, i], pairs[6, i], pairs[7, i]
                    square = k1 * k1 * per_rate0 + k2 * k2 - 2.0 * k1 * k3 + k3 * k3 * per_rate4
                    command = rate * math.sqrt(max(square, 0.0))
                    gains_at(gains, i, command, pairs[2, i], node[i], past[i], at)
                    factor, bend = 1.0, turned[i]
                    fast = k1 * k1 + (k2 * k2 - 2.0 * k1 * k3 + k3 * k3 * per_rate4) * per_rate4
                    fast = max(fast, 0.0) / (1.0 + TAIL * per_rate4 * lag[i] * lag[i])
                    asked = at[SHARE] * rate * math.sqrt(fast)
                    if asked * RATE_FREE > pairs[3, i]:
                        ran = max(asked_rate[i], asked)
                        kept = max(math.erf(pairs[3, i] / (_ROOT2 * ran)), 1e-9)
                        asked_rate[i] = asked / kept
                        lag[i] = pairs[4, i] / kept
                        c1 = k1 - w0 * w0 * k3
                        if LENGTHENED * kept < 1.0:
                            nearness = NEAR_LIMIT
                        follow = 1.0 / (1.0 + (w0 * lag[i]) ** 2)
                        bend = (c1 + w0 * w0 * k2 * lag[i]) * follow
                        if by_damping > 0.0:
                            factor = (k2 - c1 * lag[i]) * follow / nominal[i]
                    else:
                        asked_rate[i] = asked
                        lag[i] = pairs[4, i]
                    g += pairs[8, i] * at[LIFT_GAIN] * factor
                    stiff += pairs[0, i] * at[LIFT_GAIN] * bend
                    damping += w0 * w0 * pairs[0, i] * pairs[1, i] * at[INFLOW_GAIN]
            x_at = math.log(1.0 + max(g, 0.0) * ratio)
            m0, m2, m4 = plane_at(rows, p, axes, damping, x_at)
            if not driven and m2 > SMALLEST * SMALLEST:
                # Stiffness that the nodes do not hold: first order, kept positive.
                y = min(max(x_at / x_step, 0.0), n_x - 1.0)
                i = min(max(int(y) - 1, 0), n_x - 4)
                v0, v1, v2, v3 = cubic(y - i)
                more = stiff - (
                    v0 * stiffness[i] + v1 * stiffness[i + 1]
                    + v2 * stiffness[i + 2] + v3 * stiffness[i + 3]
                )  # fmt: skip
                if abs(more) > 1e-5:
                    k = derivatives + i
                    slope = v0 * rows[p, k] + v1 * rows[p, k + 1] + v2 * rows[p, k + 2] + v3 * rows[p, k + 3]
                    k = 4 * (n_x + i) + 1
                    of = v0 * rows[p, k] + v1 * rows[p, k + 4] + v2 * rows[p, k + 8] + v3 * rows[p, k + 12]
                    change = more / (w0 * w0) * slope / max(of, 1e-30)
                    change = math.exp(min(max(change, -1.0), 1.0))
                    m0, m2, m4 = m0 * change, m2 * change, m4 * change
            answer = math.sqrt(m2)
            if m2 > SMALLEST * SMALLEST:
                per_rate0, per_rate4 = m0 / m2, m4 / m2
            near = abs(answer - rate) <= nearness * answer + SMALLEST
            slope = 0.0
            # At rest the fins' damping has no end at no rolling: no secant from there.
            if (step > 0 or not driven) and rate != before:
                slope = (answer - before_answer) / (rate - before)
                slope = min(max(slope, SLOPES[0]), SLOPES[1])
            before, before_answer = rate, answer
            following = (answer - slope * rate) / (1.0 - slope)
            rate = min(max(following, 0.1 * rate), 10.0 * rate + SMALLEST)
            if step > 0 and near:
                closing = (rate / max(answer, SMALLEST)) ** 2
                m0, m2, m4 = m0 * closing, m2 * closing, m4 * closing
                damping += _ROOT_8_PI * b * (rate - before)
                for i in range(n):
                    asked_rate[i] *= rate / max(before, SMALLEST)
                break
        held = 0.0
        total = damping
        for i in range(n):
            r = pairs[1, i]
            seen = r * math.sqrt(m2)
            if driven:
                fins_out[:, p, i] = 0.0
                fins_out[3, p, i] = fins_out[5, p, i] = seen
                fins_out[8, p, i] = fins_out[10, p, i] = fins_out[11, p, i] = 1.0
                fins_out[9, p, i] = lag[i]
                continue
            k1, k2, k3 = pairs[5, i], pairs[6, i], pairs[7, i]
            square = k1 * k1 * m0 + (k2 * k2 - 2.0 * k1 * k3) * m2 + k3 * k3 * m4
            std = math.sqrt(max(square, 0.0))
            side = 1.0 if offset[p, i] >= 0.0 else -1.0
            gains_at(gains, i, std, pairs[2, i], node[i], past[i], at)
            gain, share, mean, lift_mean = at[GAIN], at[SHARE], at[MEAN], at[LIFT_MEAN]
            # Mean squares of the frequency of the command and of the roll rate.
            speed2 = (k1 * k1 * m2 + (k2 * k2 - 2.0 * k1 * k3) * m4) / max(square, 1e-30)
            if k3 != 0.0 or square <= 0.0:
                speed2 = per_rate4
            slow = lag[i] * lag[i]
            angle2 = square / (1.0 + speed2 * slow)
            cross = m2 * (k2 - (k1 - per_rate4 * k3) * lag[i]) / (1.0 + per_rate4 * slow)
            seen2 = max(share * share * angle2 + 2.0 * gain * r * cross + r * r * m2, 0.0)
            lift2 = seen2 + mean * mean + at[LOST] - lift_mean * lift_mean
            speed_ = asked_rate[i]
            travel = speed_ * _ROOT_2_PI
            ran = speed_
            if speed_ * RATE_FREE > pairs[3, i]:
                x = pairs[3, i] / speed_
                bell = math.exp(-0.5 * min(x * x, 1400.0))
                out_of = 1.0 - math.erf(x / _ROOT2)
                travel = travel * (1.0 - bell) + pairs[3, i] * out_of
                inner = 1.0 - out_of - 2.0 * x * bell / math.sqrt(2.0 * math.pi)
                ran = math.sqrt(max(speed_ * speed_ * inner + pairs[3, i] ** 2 * out_of, 0.0))
            held += pairs[0, i] * lift_mean * side
            total += w0 * w0 * pairs[0, i] * at[LIFT_GAIN] * nominal[i]
            fins_out[0, p, i] = std
            fins_out[1, p, i] = share * math.sqrt(angle2)
            fins_out[2, p, i] = side * mean
            fins_out[3, p, i] = math.sqrt(seen2)
            fins_out[4, p, i] = side * lift_mean
            fins_out[5, p, i] = math.sqrt(max(lift2, 0.0))
            fins_out[6, p, i] = ran
            fins_out[7, p, i] = travel
            fins_out[8, p, i] = gain
            fins_out[9, p, i] = lag[i]
            fins_out[10, p, i] = at[LIFT_GAIN]
            fins_out[11, p, i] = at[INFLOW_GAIN]
        out[p, 0] = m0
        out[p, 1] = m2
        out[p, 2] = m4
        out[p, 3] = held
        out[p, 4] = total / (2.0 * w0)
        out[p, 5] = step + 1
