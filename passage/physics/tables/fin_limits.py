"""Effect of its limits on a fin pair at a point: parts of the compiled loop of ``working.py``."""

from __future__ import annotations

import math

import numpy as np

from passage.physics.compiled import compile_part
from passage.physics.roll.fin_gains import (
    COLUMNS,
    COMMANDS,
    INFLOW_GAIN,
    LIFT_GAIN,
    SHARE,
)
from passage.physics.tables.interpolate import RATE_FREE, ROOT2

#: Share of time that a Gaussian is inside a limit of x rms, at even steps of x up to
#: ``RATE_FREE``, and the square of its slope at x = 0.
INSIDE_PER = 256.0
INSIDE = np.array(
    [math.erf(i / INSIDE_PER / ROOT2) for i in range(int(RATE_FREE * INSIDE_PER) + 2)]
)
FLATTEST = 2.0 / math.pi


@compile_part
def _corners(command, limit, fy):  # type: ignore[no-untyped-def]
    """Command node below a command rms, and weights of it and the next at both offset nodes.

    Command and limit in rad; weights dimensionless.
    """
    x = command / (command + limit) * (COMMANDS - 1)
    i = min(int(x), COMMANDS - 2)
    fx = np.float32(x - i)
    gy = np.float32(fy)
    full = np.float32(1.0)
    w00, w01 = (full - fx) * (full - gy), (full - fx) * gy
    w10, w11 = fx * (full - gy), fx * gy
    return i, w00, w01, w10, w11


@compile_part
def three_gains(gains, pair, command, limit, j, fy):  # type: ignore[no-untyped-def]
    """Columns of :func:`gains_at` for the fixed point: share, gains of lift and of inflow.

    Command and limit in rad; results dimensionless.
    """
    i, w00, w01, w10, w11 = _corners(command, limit, fy)
    a, b, c, d = (
        gains[pair, i, j],
        gains[pair, i, j + 1],
        gains[pair, i + 1, j],
        gains[pair, i + 1, j + 1],
    )
    return (
        w00 * a[SHARE] + w01 * b[SHARE] + w10 * c[SHARE] + w11 * d[SHARE],
        w00 * a[LIFT_GAIN] + w01 * b[LIFT_GAIN] + w10 * c[LIFT_GAIN] + w11 * d[LIFT_GAIN],
        w00 * a[INFLOW_GAIN] + w01 * b[INFLOW_GAIN] + w10 * c[INFLOW_GAIN] + w11 * d[INFLOW_GAIN],
    )


@compile_part
def gains_at(gains, pair, command, limit, j, fy, at):  # type: ignore[no-untyped-def]
    """All columns of a table of gains at a command rms, ``fy`` of a step past offset node ``j``.

    Command and limit in rad; gains dimensionless.
    """
    i, w00, w01, w10, w11 = _corners(command, limit, fy)
    for q in range(COLUMNS):
        at[q] = (
            w00 * gains[pair, i, j, q] + w01 * gains[pair, i, j + 1, q]
            + w10 * gains[pair, i + 1, j, q] + w11 * gains[pair, i + 1, j + 1, q]
        )  # fmt: skip


@compile_part
def inside_share(table, x):  # type: ignore[no-untyped-def]
    """Share of time inside a limit of ``x`` rms, and its slope, from ``INSIDE``; dimensionless."""
    y = x * INSIDE_PER
    i = min(int(y), INSIDE.size - 2)
    slope = table[i + 1] - table[i]
    return table[i] + (y - i) * slope, slope * INSIDE_PER


@compile_part
def rate_margin(table, square, lag2, start):  # type: ignore[no-untyped-def]
    """Rate limit over the rms rate that a fin would have without it, x, at their fixed point.

    ``square`` is the square of (commanded rate of a fin without lag / limit); the actuator's
    own lag reduces that square by ``1/(1 + lag2)``. With k the share of time inside the limit,
    the limit lengthens the lag and increases the rate without a limit by 1/k, so that
    ``k^2 + lag2 = square x^2``. Newton's method starts above the root, with k = 1 or k's slope
    at 0, and does not pass it. [dimensionless]
    """
    x2 = (1.0 + lag2) / square
    if square - FLATTEST > 0.0:
        x2 = min(x2, lag2 / (square - FLATTEST))
    x = math.sqrt(x2)
    if start > 0.0:
        x = min(x, start)
    for _ in range(20):
        kept, slope = inside_share(table, x)
        fall = 2.0 * (square * x - kept * slope)
        if fall <= 0.0:
            x = math.sqrt(x2)
            continue
        step = (kept * kept + lag2 - square * x * x) / fall
        x = min(x + step, 1.2 * x)
        if abs(step) < 1e-5 * x:
            break
    return x
