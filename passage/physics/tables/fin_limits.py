"""Effect of its limits on a fin pair at points in lanes: compiled loops, see ``working.py``."""

from __future__ import annotations

import math

import numpy as np

from passage.physics.compiled import compile_loop, compile_part
from passage.physics.roll.fin_gains import (
    COLUMNS,
    COMMANDS,
    INFLOW_GAIN,
    LIFT_GAIN,
    OFFSETS,
    SHARE,
)
from passage.physics.roll.steadiness import turned_gains
from passage.physics.tables.interpolate import (
    LENGTHENED,
    NEAR,
    NEAR_LIMIT,
    RATE_FREE,
    ROOT_2_PI,
    ROOT_8_PI,
    SMALLEST,
    TAIL,
)
from passage.physics.tables.lanes import (
    ASKED_NOW,
    BEND,
    COMMAND,
    DAMPING,
    DRIVEN,
    FACTOR,
    FAST,
    FEEDBACK,
    GOING,
    LAG_NOW,
    LAGGING,
    LANES,
    LEFT,
    MARGIN,
    NEARNESS,
    NODE,
    PAST,
    PER0,
    PER4,
    RATE,
    SQUARE,
    STIFF,
    any_lane,
    five_of,
)
from passage.physics.tables.vector_math import inside_of

#: Square of the slope at 0 of the share of time inside a limit.
FLATTEST = 2.0 / math.pi
#: Most steps of the search for the effect of a rate limit.
_MOST_STEPS = 20
#: Relative step after which the search ends: the error left is its square.
_CLOSE = 1e-3


@compile_part
def _corners(z, limit, u):  # type: ignore[no-untyped-def]
    """Place of a lane in a table of gains: two corners, and the weights of all four."""
    full = np.float32(1.0)
    command = u[COMMAND + z]
    x = command / (command + limit) * (COMMANDS - 1)
    i = min(max(int(x), 0), COMMANDS - 2)
    fx, gy = np.float32(x - i), np.float32(u[PAST + z])
    w00, w01 = (full - fx) * (full - gy), (full - fx) * gy
    w10, w11 = fx * (full - gy), fx * gy
    # Unsigned, so that no index is taken to count from the end.
    c = np.uint32((i * OFFSETS + int(u[NODE + z])) * COLUMNS)
    return c, np.uint32(c + OFFSETS * COLUMNS), w00, w01, w10, w11


@compile_part
def _mixed(gains, c, b, w00, w01, w10, w11, q):  # type: ignore[no-untyped-def]
    return (
        w00 * gains[c + q] + w01 * gains[c + COLUMNS + q]
        + w10 * gains[b + q] + w11 * gains[b + COLUMNS + q]
    )  # fmt: skip


@compile_loop
def look_up_gains(gains, limit, u, at):  # type: ignore[no-untyped-def]
    """All columns of a pair's table of gains at the commands and offsets of its lanes.

    ``gains`` (COMMANDS x OFFSETS x COLUMNS,); ``at`` (COLUMNS x LANES,). Command and limit in
    rad; gains dimensionless.
    """
    for z in range(LANES):
        c, b, w00, w01, w10, w11 = _corners(z, limit, u)
        for q in range(COLUMNS):
            at[q * LANES + z] = _mixed(gains, c, b, w00, w01, w10, w11, q)


@compile_loop
def _three_gains(gains, limit, u, at):  # type: ignore[no-untyped-def]
    """The columns of :func:`look_up_gains` that a reading needs."""
    for z in range(LANES):
        c, b, w00, w01, w10, w11 = _corners(z, limit, u)
        at[SHARE * LANES + z] = _mixed(gains, c, b, w00, w01, w10, w11, SHARE)
        at[LIFT_GAIN * LANES + z] = _mixed(gains, c, b, w00, w01, w10, w11, LIFT_GAIN)
        at[INFLOW_GAIN * LANES + z] = _mixed(gains, c, b, w00, w01, w10, w11, INFLOW_GAIN)


@compile_loop
def _begin_reading(speed, inflow, v):  # type: ignore[no-untyped-def]
    """Damping [rad/s] and feedback of each lane without that of fins under way."""
    w0, hull, b, _, rest_damping, rest, _ = speed
    push = w0 * w0 * rest * ROOT_2_PI / rest_damping
    for z in range(LANES):
        rate, driven = v[RATE + z], v[DRIVEN + z]
        v[DAMPING + z] = hull + ROOT_8_PI * b * rate + driven * inflow
        v[FEEDBACK + z] = driven * (push / max(rate, SMALLEST))
        v[STIFF + z] = 0.0
        v[NEARNESS + z] = NEAR


@compile_loop
def _ask(k1, k3, tied, v, u):  # type: ignore[no-untyped-def]
    """Rms angle [rad] asked of a pair, and the square of its frequency over the gains."""
    for z in range(LANES):
        per4 = v[PER4 + z]
        square = k1 * k1 * v[PER0 + z] + tied + k3 * k3 * per4
        u[COMMAND + z] = v[RATE + z] * math.sqrt(max(square, 0.0))
        u[FAST + z] = max(k1 * k1 + (tied + k3 * k3 * per4) * per4, 0.0)


@compile_loop
def _ask_rate(pair, drag, turned, at, v, u):  # type: ignore[no-untyped-def]
    """Rate asked of a pair without its limit, and where the search for its effect starts.

    Sought is the rate limit over the rms rate that a fin would have without it, x, at their fixed
    point. ``SQUARE`` is the square of (commanded rate of a fin without lag / limit); the
    actuator's own lag reduces that square by ``1/(1 + lag2)``. With k the share of time inside the
    limit, the limit lengthens the lag and increases the rate without a limit by 1/k, so that
    ``k^2 + lag2 = square x^2``. Newton's method starts above the root, with k = 1 or k's slope at
    0, and does not pass it. ``GOING`` is 1 where the limit matters, ``MARGIN`` x there and 0
    elsewhere.
    """
    most, own = pair
    lagging, least = TAIL * own * own, 1.0 / (most * most)
    for z in range(LANES):
        rate = v[RATE + z]
        share = float(at[SHARE * LANES + z])
        lift_gain, inflow_gain = at[LIFT_GAIN * LANES + z], at[INFLOW_GAIN * LANES + z]
        asked = share * share * rate * rate * u[FAST + z]
        lag2 = lagging * v[PER4 + z]
        free = asked / (1.0 + lag2)
        kept = 1.0 - v[DRIVEN + z]
        u[LEFT + z] = kept * lift_gain
        u[FACTOR + z] = 1.0
        u[BEND + z] = turned
        v[DAMPING + z] += kept * drag * inflow_gain
        u[ASKED_NOW + z] = kept * free
        u[LAG_NOW + z] = own
        limited = kept * free * least * (RATE_FREE * RATE_FREE) > 1.0
        square = asked * least if limited else 1.0
        x2 = (1.0 + lag2) / square
        steep = square - FLATTEST
        x2 = min(x2, lag2 / steep) if steep > 0.0 else x2
        x = min(math.sqrt(x2), RATE_FREE)
        last = u[MARGIN + z]
        u[SQUARE + z], u[LAGGING + z] = square, lag2
        start = min(x, last) if last > 0.0 else x
        u[MARGIN + z] = start if limited else 0.0
        u[GOING + z] = 1.0 if limited else 0.0


@compile_loop
def _search_margin(u):  # type: ignore[no-untyped-def]
    """One step of Newton's method for x in each lane that goes on; see ``_ask_rate``."""
    for z in range(LANES):
        x, square, lag2 = u[MARGIN + z], u[SQUARE + z], u[LAGGING + z]
        kept, slope = inside_of(x)
        fall = 2.0 * (square * x - kept * slope)
        step = (kept * kept + lag2 - square * x * x) / max(fall, 1e-30)
        following = min(x + step, 1.2 * x)
        x2 = (1.0 + lag2) / square
        steep = square - FLATTEST
        x2 = min(x2, lag2 / steep) if steep > 0.0 else x2
        following = following if fall > 0.0 else min(math.sqrt(x2), RATE_FREE)
        going = u[GOING + z] > 0.0
        u[MARGIN + z] = following if going else x
        near = abs(step) < _CLOSE * following and fall > 0.0
        u[GOING + z] = 1.0 if going and not near else 0.0


@compile_loop
def _limit_rate(speed, pair, c1, late, nominal, v, u):  # type: ignore[no-untyped-def]
    """Lag [s] and feedback of a pair whose rate limit matters."""
    w0, by_damping = speed[0], speed[6]
    most, own = pair
    per = by_damping / nominal if by_damping > 0.0 else 0.0
    for z in range(LANES):
        x, asked, before = u[MARGIN + z], u[ASKED_NOW + z], v[NEARNESS + z]
        lag, bend, factor = u[LAG_NOW + z], u[BEND + z], u[FACTOR + z]
        kept, _ = inside_of(x)
        limited = x > 0.0
        longer = own / kept
        follow = 1.0 / (1.0 + (w0 * longer) * (w0 * longer))
        turned = (c1 + w0 * w0 * late * longer) * follow
        lost = 1.0 + by_damping * ((late - c1 * longer) * follow * per - 1.0)
        u[ASKED_NOW + z] = (most / x) * (most / x) if limited else asked
        u[LAG_NOW + z] = longer if limited else lag
        u[BEND + z] = turned if limited else bend
        u[FACTOR + z] = lost if limited else factor
        v[NEARNESS + z] = NEAR_LIMIT if limited and LENGTHENED * kept < 1.0 else before


@compile_loop
def _feed_back(weight, moment, v, u):  # type: ignore[no-untyped-def]
    """Add the feedback and stiffness [dimensionless] of a pair to those of its lanes."""
    for z in range(LANES):
        left = u[LEFT + z]
        v[FEEDBACK + z] += weight * left * u[FACTOR + z]
        v[STIFF + z] += moment * left * u[BEND + z]


@compile_loop
def feedback_lanes(speed, pairs, gains, nominal, turned, inflow, v, w, at):  # type: ignore[no-untyped-def]
    """Damping [rad/s], feedback and stiffness [dimensionless] of each lane at its roll rate."""
    _begin_reading(speed, inflow, v)
    w0 = speed[0]
    for i in range(pairs.shape[1]):
        moment, flow, limit, most, own = five_of(pairs, i)
        k1, k2, k3, weight = pairs[5, i], pairs[6, i], pairs[7, i], pairs[8, i]
        c1, late = turned_gains(k1 - w0 * w0 * k3, k2, w0, pairs[9, i])
        u = w[i]
        _ask(k1, k3, k2 * k2 - 2.0 * k1 * k3, v, u)
        _three_gains(gains[i], limit, u, at)
        _ask_rate((most, own), w0 * w0 * moment * flow, turned[i], at, v, u)
        if any_lane(u, GOING):
            for _ in range(_MOST_STEPS):
                _search_margin(u)
                if not any_lane(u, GOING):
                    break
            _limit_rate(speed, (most, own), c1, late, nominal[i], v, u)
        _feed_back(weight, moment, v, u)
