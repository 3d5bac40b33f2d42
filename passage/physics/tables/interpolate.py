"""Fixed point of the roll equation on planes of tabulated variances: compiled loop.

The unknown is the rms roll rate. It gives the hull's damping, the command of the fins, and
their gains after angle limit, rate limit and stall; these are a position on the plane, and
the plane gives a new roll rate. Secant steps make the two agree. The equations are those of
``roll/response.py``. This module has the common parts and the case of centred fins;
``working.py`` has that of working fins.
"""

from __future__ import annotations

import math

import numpy as np

from passage.physics.compiled import compile_loop, compile_part
from passage.physics.roll.packing import FINS_OUT
from passage.physics.tables.levels import DAMPING_NODES

#: Use of the fins at a point: centred, active under way, driven at rest.
CENTRED, ACTIVE, AT_REST = 0, 1, 2
#: Order of the packed numbers of one speed, and of each pair.
SPEED_IN = ("omega0", "hull", "quadratic", "ratio", "rest_damping", "rest", "by_damping")
PAIR_IN = (
    "moment", "inflow", "limit", "rate_limit", "lag", "k1", "k2", "k3", "weight", "delay", "fall",
)  # fmt: skip
#: Order of the results of a point, and of a pair.
ROLL_OUT = ("m0", "m2", "m4", "held_heel", "damping", "steps")
PAIR_OUT = FINS_OUT
#: Relative change of roll rate below which the next secant value is final. There are at least
#: two steps, which is enough for nearly every point.
NEAR = 3e-3
#: The same where the rate limit has lengthened a fin's lag beyond a factor, so that commanded
#: and actual rate converge as well.
NEAR_LIMIT, LENGTHENED = 1e-3, 1.02
MAX_STEPS = 60
SMALLEST = 1e-9
#: Range to which secant slopes are limited.
SLOPES = (-4.0, 0.95)
#: Rate limit over rms demanded rate above which the limit has no effect.
RATE_FREE = 4.0

#: Factor on the mean square frequency of roll rate for the effect of the lag on fin rate,
#: whose energy is at higher frequencies; found by trial.
TAIL = 1.3

SIXTH = 1.0 / 6.0
ROOT_2_PI = math.sqrt(2.0 / math.pi)
ROOT_8_PI = math.sqrt(8.0 / math.pi)


@compile_part
def cubic(v):  # type: ignore[no-untyped-def]
    """Lagrange weights of four evenly spaced nodes, at v node steps from the first.

    [dimensionless]
    """
    a, b, c = v - 1.0, v - 2.0, v - 3.0
    bc, va = b * c, v * a
    return a * bc * -SIXTH, v * bc * 0.5, va * c * -0.5, va * b * SIXTH


@compile_loop
def start_node(damping, axes):  # type: ignore[no-untyped-def]
    """Column of roll variance at the node nearest a damping D [rad/s], with full feedback."""
    v = (1.0 / (damping + axes[0]) - axes[1]) / axes[2]
    nearest = min(max(int(v + 0.5), 0), DAMPING_NODES - 1)
    return DAMPING_NODES * (int(axes[3]) - 1) + nearest


@compile_part
def _along(rows, p, k, a, b, c, d):  # type: ignore[no-untyped-def]
    """Weighted sum of four values of a row from ``k`` on, along D."""
    return a * rows[p, k] + b * rows[p, k + 1] + c * rows[p, k + 2] + d * rows[p, k + 3]


@compile_loop
def centred_loop(rows, axes, speed, inflow, out):  # type: ignore[no-untyped-def]
    """Roll with the fins centred: ``rows`` (P, any) to ``out`` (P, 6).

    ``speed`` is in the order of ``SPEED_IN``, frequencies and damping in [rad/s]; ``inflow``
    is the sum of moment ratio x inflow time [s]; ``out`` is in the order of ``ROLL_OUT``.
    """
    shift, first, d_step, n_x, _ = axes
    w0, hull, b = speed[0], speed[1], speed[2]
    base = hull + w0 * w0 * inflow
    per_step = 1.0 / d_step
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
            damping = base + ROOT_8_PI * b * rate
            wa, wb, wc, wd = cubic((1.0 / (damping + shift) - first) * per_step)
            answer = math.sqrt(max(_along(rows, p, k2, wa, wb, wc, wd), 0.0))
            near = abs(answer - rate) <= NEAR * answer + SMALLEST
            slope = 0.0
            if step > 0 and rate != before:
                slope = (answer - before_answer) / (rate - before)
                slope = min(max(slope, SLOPES[0]), SLOPES[1])
            before, before_answer = rate, answer
            rate = (answer - slope * rate) / (1.0 - slope)
            if step > 0 and near:
                closing = (rate / max(answer, SMALLEST)) ** 2
                damping += ROOT_8_PI * b * (rate - before)
                break
        out[p, 0] = max(_along(rows, p, 0, wa, wb, wc, wd), 0.0) * closing
        out[p, 1] = answer * answer * closing
        out[p, 2] = max(_along(rows, p, k4, wa, wb, wc, wd), 0.0) * closing
        out[p, 3] = 0.0
        out[p, 4] = damping / (2.0 * w0)
        out[p, 5] = step + 1
