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
#: Relative change of roll rate below which a point is done, and the most steps.
TOLERANCE = 1e-4
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
def plane_at(row, shift, first, step, n_x, x_step, damping, x):  # type: ignore[no-untyped-def]
    """Roll, rate and acceleration variance at D and x on one plane."""
    a, b, c, d = cubic((1.0 / (damping + shift) - first) / step)
    y = min(max(x / x_step, 0.0), n_x - 1.0)
    i = min(max(int(y) - 1, 0), n_x - 4)
    w0, w1, w2, w3 = cubic(y - i)
    n = 4 * n_x
    k = 4 * i
    m0 = w0 * (a * row[k] + b * row[k + 1] + c * row[k + 2] + d * row[k + 3])
    m0 += w1 * (a * row[k + 4] + b * row[k + 5] + c * row[k + 6] + d * row[k + 7])
    m0 += w2 * (a * row[k + 8] + b * row[k + 9] + c * row[k + 10] + d * row[k + 11])
    m0 += w3 * (a * row[k + 12] + b * row[k + 13] + c * row[k + 14] + d * row[k + 15])
    k += n
    m2 = w0 * (a * row[k] + b * row[k + 1] + c * row[k + 2] + d * row[k + 3])
    m2 += w1 * (a * row[k + 4] + b * row[k + 5] + c * row[k + 6] + d * row[k + 7])
    m2 += w2 * (a * row[k + 8] + b * row[k + 9] + c * row[k + 10] + d * row[k + 11])
    m2 += w3 * (a * row[k + 12] + b * row[k + 13] + c * row[k + 14] + d * row[k + 15])
    k += n
    m4 = w0 * (a * row[k] + b * row[k + 1] + c * row[k + 2] + d * row[k + 3])
    m4 += w1 * (a * row[k + 4] + b * row[k + 5] + c * row[k + 6] + d * row[k + 7])
    m4 += w2 * (a * row[k + 8] + b * row[k + 9] + c * row[k + 10] + d * row[k + 11])
    m4 += w3 * (a * row[k + 12] + b * row[k + 13] + c * row[k + 14] + d * row[k + 15])
    return max(m0, 0.0), max(m2, 0.0), max(m4, 0.0)


@compile_loop
def centred_loop(rows, axes, speed, inflow, out):  # type: ignore[no-untyped-def]
    """Roll with the fins centred: ``rows`` (P, any) to ``out`` (P, 6)."""
    shift, first, d_step, n_x, _ = axes
    w0, hull, b = speed[0], speed[1], speed[2]
    base = hull + w0 * w0 * inflow
    k2 = 4 * int(n_x)
    k4 = 2 * k2
    for p in range(rows.shape[0]):
        row = rows[p]
        if not math.isfinite(row[k2]):
            out[p, :] = np.nan
            continue
        rate = 0.0
        before = before_answer = 0.0
        damping = base
        wa = wb = wc = wd = 0.0
        for step in range(MAX_STEPS):
            damping = base + _ROOT_8_PI * b * rate
            wa, wb, wc, wd = cubic((1.0 / (damping + shift) - first) / d_step)
            m2 = wa * row[k2] + wb * row[k2 + 1] + wc * row[k2 + 2] + wd * row[k2 + 3]
            answer = math.sqrt(max(m2, 0.0))
            if abs(answer - rate) <= TOLERANCE * answer + SMALLEST:
                break
            slope = 0.0
            if step > 1 and rate != before:
                slope = (answer - before_answer) / (rate - before)
                slope = min(max(slope, SLOPES[0]), SLOPES[1])
            before, before_answer = rate, answer
            rate = (answer - slope * rate) / (1.0 - slope)
        out[p, 0] = max(wa * row[0] + wb * row[1] + wc * row[2] + wd * row[3], 0.0)
        out[p, 1] = answer * answer
        out[p, 2] = max(wa * row[k4] + wb * row[k4 + 1] + wc * row[k4 + 2] + wd * row[k4 + 3], 0.0)
        out[p, 3] = 0.0
        out[p, 4] = damping / (2.0 * w0)
        out[p, 5] = step + 1


@compile_loop
def left_of(table, command, limit, offset, column):  # type: ignore[no-untyped-def]
    """One column of a table of gains at a command rms and an offset's size."""
    x = command / (command + limit) * (COMMANDS - 1)
    y = offset / limit * (OFFSETS - 1)
    i = min(int(x), COMMANDS - 2)
    j = min(int(y), OFFSETS - 2)
    fx, fy = x - i, y - j
    low = table[i, j, column] + fy * (table[i, j + 1, column] - table[i, j, column])
    high = table[i + 1, j, column] + fy * (table[i + 1, j + 1, column] - table[i + 1, j, column])
    return low + fx * (high - low)


@compile_loop
def working_loop(  # type: ignore[no-untyped-def]
    rows, axes, speed, pairs, gains, stiffness, derivatives, offset, use, out, fins_out
):
    """Roll with the fins as they work, for points whose ``use`` is not ``CENTRED``.

    Shapes: rows (P, any), pairs (9, n), gains (n, COMMANDS, OFFSETS, 8), stiffness
    (nodes,), offset (P, n), out (P, 6), fins_out (12, P, n). ``derivatives`` is their
    first column in the rows. Points that are centred are left alone.
    """
    shift, first, d_step, n_x_, x_step = axes
    n_x = int(n_x_)
    w0, hull, b, ratio, rest_damping, rest, by_damping = speed
    n = pairs.shape[1]
    nominal = np.zeros(n)
    lag = np.zeros(n)
    asked_rate = np.zeros(n)
    command = np.zeros(n)
    for i in range(n):
        c1 = pairs[5, i] - w0 * w0 * pairs[7, i]
        nominal[i] = (pairs[6, i] - c1 * pairs[4, i]) / (1.0 + (w0 * pairs[4, i]) ** 2)
    for p in range(rows.shape[0]):
        if use[p] == CENTRED:
            continue
        row = rows[p]
        check = row[4 * n_x]
        for i in range(n):
            check += offset[p, i]
        if not math.isfinite(check):
            out[p, :] = np.nan
            fins_out[:, p, :] = np.nan
            continue
        driven = use[p] == AT_REST
        # Start from the fins free of their limits, as the full solver does.
        rate = 0.0
        before = before_answer = 0.0
        per_rate0, per_rate4 = 1.0 / (w0 * w0), w0 * w0
        m0 = m2 = m4 = 0.0
        damping = hull
        for i in range(n):
            lag[i] = pairs[4, i]
            asked_rate[i] = 0.0
        for step in range(MAX_STEPS):
            damping = hull + _ROOT_8_PI * b * rate
            g = stiff = 0.0
            if driven:
                g = 0.0
                if step > 0:
                    g = w0 * w0 * rest * _ROOT_2_PI / max(rate, SMALLEST) / rest_damping
                for i in range(n):
                    damping += w0 * w0 * pairs[0, i] * pairs[1, i]
            else:
                for i in range(n):
                    k1, k2, k3 = pairs[5, i], pairs[6, i], pairs[7, i]
                    square = k1 * k1 * per_rate0 + k2 * k2 - 2.0 * k1 * k3 + k3 * k3 * per_rate4
                    command[i] = rate * math.sqrt(max(square, 0.0))
                    size = abs(offset[p, i])
                    x = command[i] / (command[i] + pairs[2, i]) * (COMMANDS - 1)
                    y = size / pairs[2, i] * (OFFSETS - 1)
                    ix = min(int(x), COMMANDS - 2)
                    jy = min(int(y), OFFSETS - 2)
                    fx, fy = x - ix, y - jy
                    w00, w01 = (1.0 - fx) * (1.0 - fy), (1.0 - fx) * fy
                    w10, w11 = fx * (1.0 - fy), fx * fy
                    one, two = gains[i, ix, jy], gains[i, ix, jy + 1]
                    three, four = gains[i, ix + 1, jy], gains[i, ix + 1, jy + 1]
                    left = (
                        w00 * one[LIFT_GAIN]
                        + w01 * two[LIFT_GAIN]
                        + w10 * three[LIFT_GAIN]
                        + w11 * four[LIFT_GAIN]
                    )
                    through = (
                        w00 * one[INFLOW_GAIN]
                        + w01 * two[INFLOW_GAIN]
                        + w10 * three[INFLOW_GAIN]
                        + w11 * four[INFLOW_GAIN]
                    )
                    factor = 1.0
                    if step > 0:
                        share = (
                            w00 * one[SHARE]
                            + w01 * two[SHARE]
                            + w10 * three[SHARE]
                            + w11 * four[SHARE]
                        )
                        fast = k1 * k1 + (k2 * k2 - 2.0 * k1 * k3 + k3 * k3 * per_rate4) * per_rate4
                        fast = max(fast, 0.0) / (1.0 + TAIL * per_rate4 * lag[i] * lag[i])
                        asked = share * rate * math.sqrt(fast)
                        if asked * RATE_FREE > pairs[3, i]:
                            ran = max(asked_rate[i], asked)
                            kept = max(math.erf(pairs[3, i] / (_ROOT2 * ran)), 1e-9)
                            asked_rate[i] = asked / kept
                            lag[i] = pairs[4, i] / kept
                            if by_damping > 0.0:
                                c1 = k1 - w0 * w0 * k3
                                imag = (k2 - c1 * lag[i]) / (1.0 + (w0 * lag[i]) ** 2)
                                factor = imag / nominal[i]
                        else:
                            asked_rate[i] = asked
                            lag[i] = pairs[4, i]
                    g += pairs[8, i] * left * factor
                    c1 = k1 - w0 * w0 * k3
                    turned = (c1 + w0 * w0 * k2 * lag[i]) / (1.0 + (w0 * lag[i]) ** 2)
                    stiff += pairs[0, i] * left * turned
                    damping += w0 * w0 * pairs[0, i] * pairs[1, i] * through
            x_at = math.log(1.0 + max(g, 0.0) * ratio)
            m0, m2, m4 = plane_at(row, shift, first, d_step, n_x, x_step, damping, x_at)
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
                    slope = v0 * row[k] + v1 * row[k + 1] + v2 * row[k + 2] + v3 * row[k + 3]
                    k = 4 * (n_x + i) + 1
                    of = v0 * row[k] + v1 * row[k + 4] + v2 * row[k + 8] + v3 * row[k + 12]
                    change = more / (w0 * w0) * slope / max(of, 1e-30)
                    change = math.exp(min(max(change, -1.0), 1.0))
                    m0, m2, m4 = m0 * change, m2 * change, m4 * change
            answer = math.sqrt(m2)
            if m2 > SMALLEST * SMALLEST:
                per_rate0, per_rate4 = m0 / m2, m4 / m2
            if abs(answer - rate) <= TOLERANCE * answer + SMALLEST:
                break
            slope = 0.0
            if step > 1 and rate != before:
                slope = (answer - before_answer) / (rate - before)
                slope = min(max(slope, SLOPES[0]), SLOPES[1])
            before, before_answer = rate, answer
            following = (answer - slope * rate) / (1.0 - slope)
            if step > 0:
                following = min(max(following, 0.1 * rate), 10.0 * rate + SMALLEST)
            rate = following
        held = 0.0
        total = damping
        for i in range(n):
            fins_out[:, p, i] = 0.0
            fins_out[9, p, i] = lag[i]
            fins_out[10, p, i] = 1.0
            fins_out[11, p, i] = 1.0
            fins_out[8, p, i] = 1.0
            seen = pairs[1, i] * math.sqrt(m2)
            fins_out[3, p, i] = seen
            fins_out[5, p, i] = seen
            if driven:
                continue
            k1, k2, k3 = pairs[5, i], pairs[6, i], pairs[7, i]
            square = k1 * k1 * m0 + (k2 * k2 - 2.0 * k1 * k3) * m2 + k3 * k3 * m4
            std = math.sqrt(max(square, 0.0))
            table, limit, size = gains[i], pairs[2, i], abs(offset[p, i])
            side = 1.0 if offset[p, i] >= 0.0 else -1.0
            gain = left_of(table, std, limit, size, GAIN)
            share = left_of(table, std, limit, size, SHARE)
            mean = left_of(table, std, limit, size, MEAN)
            lift_mean = left_of(table, std, limit, size, LIFT_MEAN)
            left = left_of(table, std, limit, size, LIFT_GAIN)
            through = left_of(table, std, limit, size, INFLOW_GAIN)
            lost = left_of(table, std, limit, size, LOST)
            # Mean squares of the frequency of the command and of the roll rate.
            speed2 = (k1 * k1 * m2 + (k2 * k2 - 2.0 * k1 * k3) * m4) / max(square, 1e-30)
            if k3 != 0.0 or square <= 0.0:
                speed2 = per_rate4
            slow = lag[i] * lag[i]
            angle2 = square / (1.0 + speed2 * slow)
            cross = m2 * (k2 - (k1 - per_rate4 * k3) * lag[i]) / (1.0 + per_rate4 * slow)
            r = pairs[1, i]
            seen2 = max(share * share * angle2 + 2.0 * gain * r * cross + r * r * m2, 0.0)
            lift2 = seen2 + mean * mean + lost - lift_mean * lift_mean
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
            total += w0 * w0 * pairs[0, i] * left * nominal[i]
            fins_out[0, p, i] = std
            fins_out[1, p, i] = share * math.sqrt(angle2)
            fins_out[2, p, i] = side * mean
            fins_out[3, p, i] = math.sqrt(seen2)
            fins_out[4, p, i] = side * lift_mean
            fins_out[5, p, i] = math.sqrt(max(lift2, 0.0))
            fins_out[6, p, i] = ran
            fins_out[7, p, i] = travel
            fins_out[8, p, i] = gain
            fins_out[10, p, i] = left
            fins_out[11, p, i] = through
        out[p, 0] = m0
        out[p, 1] = m2
        out[p, 2] = m4
        out[p, 3] = held
        out[p, 4] = total / (2.0 * w0)
        out[p, 5] = step + 1
