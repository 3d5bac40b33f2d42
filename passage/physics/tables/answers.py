"""Results of points in lanes from their fixed points: compiled loops, see ``working.py``."""

from __future__ import annotations

import math

from passage.physics.compiled import compile_loop
from passage.physics.roll.fin_gains import (
    BEYOND,
    GAIN,
    INFLOW_GAIN,
    LIFT_GAIN,
    LIFT_MEAN,
    LOST,
    MEAN,
    SHARE,
)
from passage.physics.roll.packing import FINS_OUT
from passage.physics.tables.fin_limits import look_up_gains
from passage.physics.tables.interpolate import RATE_FREE, ROOT_2_PI
from passage.physics.tables.lanes import (
    ASKED,
    COMMAND,
    DAMPED,
    DRIVEN,
    HELD,
    LAG,
    LANES,
    M0,
    M2,
    M4,
    PER,
    SIDE,
    STEPS,
    TOTAL,
    TURNED1,
    TURNED2,
    five_of,
)
from passage.physics.tables.vector_math import cos_sin_of, inside_of

#: First lane of each output of a pair, and their number.
OUTPUTS = len(FINS_OUT)
(
    STD, ANGLE, OFFSET, INCIDENCE, LIFT_OFF, LIFT, RAN, TRAVEL, IN_LIMIT, LAGS, LIFTED, FLOWN,
    PAST_STALL,
) = range(0, OUTPUTS * LANES, LANES)  # fmt: skip
ROLLS = 6


@compile_loop
def _commands(k1, k2, k3, delay, v, u):  # type: ignore[no-untyped-def]
    """Rms angle asked of a pair [rad], and its gains turned by the delay."""
    tied = k2 * k2 - 2.0 * k1 * k3
    for z in range(LANES):
        square = k1 * k1 * v[M0 + z] + tied * v[M2 + z] + k3 * k3 * v[M4 + z]
        u[COMMAND + z] = math.sqrt(max(square, 0.0))
        u[TURNED1 + z] = k1 - v[PER + z] * k3
        u[TURNED2 + z] = k2
    if delay != 0.0:
        for z in range(LANES):
            # As ``steadiness.turned_gains``.
            c1, per4 = u[TURNED1 + z], max(v[PER + z], 0.0)
            omega = math.sqrt(per4)
            cos, sin = cos_sin_of(omega * delay)
            sin = sin / omega if omega > 0.0 else delay
            u[TURNED1 + z] = c1 * cos + per4 * k2 * sin
            u[TURNED2 + z] = k2 * cos - c1 * sin


@compile_loop
def _activity(pair, k1, k2, k3, lift_by, v, u, at, f):  # type: ignore[no-untyped-def]
    """All outputs of a pair in every lane; heel held and damping are added to the point's."""
    moment, r, _, most, _ = pair
    tied = k2 * k2 - 2.0 * k1 * k3
    for z in range(LANES):
        m2, m4, per4 = v[M2 + z], v[M4 + z], v[PER + z]
        lag, std, side = u[LAG + z], u[COMMAND + z], u[SIDE + z]
        gain, share, mean = at[GAIN * LANES + z], at[SHARE * LANES + z], at[MEAN * LANES + z]
        lift_gain, inflow_gain = at[LIFT_GAIN * LANES + z], at[INFLOW_GAIN * LANES + z]
        lift_mean, lost, beyond = (
            at[LIFT_MEAN * LANES + z],
            at[LOST * LANES + z],
            at[BEYOND * LANES + z],
        )
        # Mean squares of the frequency of the command and of the roll rate.
        square = std * std
        speed2 = (k1 * k1 * m2 + tied * m4) / max(square, 1e-30)
        speed2 = per4 if k3 != 0.0 or square <= 0.0 else speed2
        angle2 = square / (1.0 + speed2 * lag * lag)
        c1, late = u[TURNED1 + z], u[TURNED2 + z]
        cross = m2 * (late - c1 * lag) / (1.0 + per4 * lag * lag)
        seen2 = max(share * share * angle2 + 2.0 * gain * r * cross + r * r * m2, 0.0)
        lift2 = seen2 + mean * mean + lost - lift_mean * lift_mean
        asked = math.sqrt(u[ASKED + z])
        limited = asked * RATE_FREE > most
        x = min(most / max(asked, 1e-30), RATE_FREE)
        inside, bell = inside_of(x)
        inner = inside - x * bell
        travel = asked * ROOT_2_PI
        slowed = travel * (1.0 - bell / ROOT_2_PI) + most * (1.0 - inside) if limited else travel
        ran = math.sqrt(max(asked * asked * inner + most * most * (1.0 - inside), 0.0))
        free = v[DRIVEN + z] == 0.0
        streaming = r * math.sqrt(m2)
        v[HELD + z] += moment * lift_mean * side if free else 0.0
        v[TOTAL + z] += lift_by * lift_gain if free else 0.0
        f[STD + z] = std if free else 0.0
        f[ANGLE + z] = share * math.sqrt(angle2) if free else 0.0
        f[OFFSET + z] = side * mean if free else 0.0
        f[INCIDENCE + z] = math.sqrt(seen2) if free else streaming
        f[LIFT_OFF + z] = side * lift_mean if free else 0.0
        f[LIFT + z] = math.sqrt(max(lift2, 0.0)) if free else streaming
        ran = ran if limited else asked
        f[RAN + z] = ran if free else 0.0
        f[TRAVEL + z] = slowed if free else 0.0
        f[IN_LIMIT + z] = gain if free else 1.0
        f[LAGS + z] = lag
        f[LIFTED + z] = lift_gain if free else 1.0
        f[FLOWN + z] = inflow_gain if free else 1.0
        past = math.sqrt(max(float(beyond), 0.0))
        f[PAST_STALL + z] = past if free else 0.0


@compile_loop
def answer_lanes(speed, pairs, gains, nominal, v, w, at, roll, fins):  # type: ignore[no-untyped-def]
    """Results of every lane: ``roll`` (6 x LANES,), ``fins`` (n, 13 x LANES).

    Angles in rad, times in [s]; orders as in ``interpolate.py``.
    """
    w0 = speed[0]
    for z in range(LANES):
        v[HELD + z] = 0.0
        v[TOTAL + z] = v[DAMPED + z]
    for i in range(pairs.shape[1]):
        pair = five_of(pairs, i)
        k1, k2, k3 = pairs[5, i], pairs[6, i], pairs[7, i]
        u = w[i]
        _commands(k1, k2, k3, pairs[9, i], v, u)
        look_up_gains(gains[i], pair[2], u, at)
        _activity(
            pair, k1, k2, k3, w0 * w0 * pair[0] * nominal[i], v, u, at, fins[i]
        )  # fmt: skip
    for z in range(LANES):
        roll[z] = v[M0 + z]
        roll[LANES + z] = v[M2 + z]
        roll[2 * LANES + z] = v[M4 + z]
        roll[3 * LANES + z] = v[HELD + z]
        roll[4 * LANES + z] = v[TOTAL + z] / (2.0 * w0)
        roll[5 * LANES + z] = v[STEPS + z]
