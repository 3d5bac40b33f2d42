"""Roll with the fins centred at many points: compiled loop over lanes, see ``interpolate.py``."""

from __future__ import annotations

import math

import numpy as np

from passage.physics.compiled import compile_loop, compile_part
from passage.physics.tables.interpolate import (
    MAX_STEPS,
    NEAR,
    ROOT_8_PI,
    SLOPES,
    SMALLEST,
    cubic,
)
from passage.physics.tables.lanes import (
    BEFORE,
    BEFORE_ANSWER,
    DAMPED,
    LANES,
    M0,
    M2,
    M4,
    OPEN,
    POINT_ROWS,
    RATE,
    STEPS,
    any_lane,
)
from passage.physics.tables.levels import DAMPING_NODES, MOMENTS


@compile_part
def _along(t, k, z, a, b, c, d):  # type: ignore[no-untyped-def]
    """Weighted sum of the four values along D of moment ``k`` in a lane, 0 or more."""
    q = DAMPING_NODES * k * LANES + z
    total = a * t[q] + b * t[q + LANES] + c * t[q + 2 * LANES] + d * t[q + 3 * LANES]
    return max(total, 0.0)


@compile_loop
def _fill(rows, begin, count, n_x, t, v):  # type: ignore[no-untyped-def]
    """Variances at the first node along x in every lane; 0 where there are no data, and beyond."""
    for z in range(LANES):
        row = rows[min(begin + z, begin + count - 1)]
        known = math.isfinite(row[DAMPING_NODES * n_x])
        v[RATE + z] = v[BEFORE + z] = v[BEFORE_ANSWER + z] = 0.0
        v[OPEN + z] = 1.0 if known else 0.0
        for k in range(MOMENTS):
            for d in range(DAMPING_NODES):
                value = row[np.uint32(DAMPING_NODES * k * n_x + d)]
                q = np.uint32((DAMPING_NODES * k + d) * LANES + z)
                t[q] = value if known else np.float32(0.0)


@compile_loop
def _step(step, axes, base, b, t, v):  # type: ignore[no-untyped-def]
    """A secant step of every lane; results where not yet final."""
    shift, first, per_step = axes[0], axes[1], 1.0 / axes[2]
    for z in range(LANES):
        rate, before, open_ = v[RATE + z], v[BEFORE + z], v[OPEN + z] > 0.0
        m0, m2, m4 = v[M0 + z], v[M2 + z], v[M4 + z]
        damped, steps = v[DAMPED + z], v[STEPS + z]
        damping = base + ROOT_8_PI * b * rate
        wa, wb, wc, wd = cubic((1.0 / (damping + shift) - first) * per_step)
        answer = math.sqrt(_along(t, 1, z, wa, wb, wc, wd))
        apart = rate - before
        moved = apart != 0.0
        secant = (answer - v[BEFORE_ANSWER + z]) / (apart if moved else 1.0)
        slope = min(max(secant, SLOPES[0]), SLOPES[1]) if moved else 0.0
        following = (answer - slope * rate) / (1.0 - slope)
        near = step > 0 and abs(answer - rate) <= NEAR * answer + SMALLEST
        ahead = following / max(answer, SMALLEST)
        closing = ahead * ahead if near else 1.0
        damping += ROOT_8_PI * b * (following - rate) if near else 0.0
        v[BEFORE + z], v[BEFORE_ANSWER + z], v[RATE + z] = rate, answer, following
        v[M0 + z] = _along(t, 0, z, wa, wb, wc, wd) * closing if open_ else m0
        v[M2 + z] = answer * answer * closing if open_ else m2
        v[M4 + z] = _along(t, 2, z, wa, wb, wc, wd) * closing if open_ else m4
        v[DAMPED + z] = damping if open_ else damped
        v[STEPS + z] = step + 1.0 if open_ else steps
        v[OPEN + z] = 1.0 if open_ and not near else 0.0


@compile_loop
def centred_loop(rows, axes, speed, inflow, out):  # type: ignore[no-untyped-def]
    """Roll with the fins centred: ``rows`` (P, any) to ``out`` (P, 6).

    ``speed`` is in the order of ``SPEED_IN``, frequencies and damping in [rad/s]; ``inflow``
    is the sum of moment ratio x inflow time [s]; ``out`` is in the order of ``ROLL_OUT``.
    """
    w0, n_x = speed[0], int(axes[3])
    base = speed[1] + w0 * w0 * inflow
    t = np.zeros(MOMENTS * DAMPING_NODES * LANES, np.float32)
    v = np.zeros(POINT_ROWS * LANES)
    for begin in range(0, rows.shape[0], LANES):
        count = min(rows.shape[0] - begin, LANES)
        _fill(rows, begin, count, n_x, t, v)
        for step in range(MAX_STEPS):
            _step(step, axes, base, speed[2], t, v)
            if not any_lane(v, OPEN):
                break
        for z in range(count):
            to = out[begin + z]
            if math.isfinite(rows[begin + z, DAMPING_NODES * n_x]):
                to[0], to[1], to[2] = v[M0 + z], v[M2 + z], v[M4 + z]
                to[3], to[4], to[5] = 0.0, v[DAMPED + z] / (2.0 * w0), v[STEPS + z]
            else:
                to[:] = np.nan
