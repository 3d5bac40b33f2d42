"""Fixed point of the roll equation with working fins: compiled loop, see ``interpolate.py``.

Points are solved in groups, and each part of a step is done for the whole group before the
next part. The processor then computes logarithms and error functions of several points at
once, which saves a fifth of the time.
"""

from __future__ import annotations

import math

from passage.physics.compiled import compile_loop, compile_part
from passage.physics.roll.fin_gains import (
    OFFSETS,
)
from passage.physics.roll.steadiness import turned_gains
from passage.physics.tables.fin_limits import (
    inside_share,
    rate_margin,
    three_gains,
)
from passage.physics.tables.interpolate import (
    LENGTHENED,
    NEAR,
    NEAR_LIMIT,
    RATE_FREE,
    ROOT_2_PI,
    ROOT_8_PI,
    SIXTH,
    SLOPES,
    SMALLEST,
    TAIL,
    cubic,
    plane_at,
)

#: Points in a group; each has one lane of the work arrays.
LANES = 64
#: Largest secant slope with which a sea of more or less energy starts.
STEEPEST_START = 0.6
#: Rows of the work arrays: of a point, then of each of its pairs.
RATE, SLOPE, BEFORE, BEFORE_ANSWER, PER0, PER4, DAMPING, FEEDBACK, STIFF, NEARNESS = range(10)
X, M0, M2, M4, STEPS, MORE = range(10, 16)
LAG, ASKED, PAST, LEFT, FACTOR, BEND, NOW, MARGIN = range(8)


@compile_part
def five_of(pairs, i):  # type: ignore[no-untyped-def]
    """Moment ratio, inflow time [s], angle limit, rate limit [rad/s] and lag [s] of a pair."""
    return pairs[0, i], pairs[1, i], pairs[2, i], pairs[3, i], pairs[4, i]


@compile_part
def start_lane(z, p, rows, axes, free, driven, pairs, offset, speed, centred, v, w, node):  # type: ignore[no-untyped-def]
    """Put point ``p`` into a lane.

    The iteration starts from fins free of their limits under way, as in the full solver, and
    from centred fins where they are driven at rest; ``centred`` has the variances of roll
    [rad2], roll rate and roll acceleration for these. Angles in rad.
    """
    n_x, w0 = int(axes[3]), speed[0]
    m0, m2, m4 = rows[p, free], rows[p, free + 4 * n_x], rows[p, free + 8 * n_x]
    if driven:
        m0, m2, m4 = centred[0], centred[1], centred[2]
    v[MORE, z] = 1.0
    v[SLOPE, z] = 0.0
    v[RATE, z] = v[BEFORE, z] = v[BEFORE_ANSWER, z] = math.sqrt(m2)
    if not driven:
        # Without roll, fins are free of their limits. At rest their damping would be infinite.
        v[BEFORE, z] = 0.0
    v[PER0, z], v[PER4, z] = 1.0 / (w0 * w0), w0 * w0
    if m2 > SMALLEST * SMALLEST:
        v[PER0, z], v[PER4, z] = m0 / m2, m4 / m2
    for i in range(pairs.shape[1]):
        w[LAG, i, z] = pairs[4, i]
        w[ASKED, i, z] = w[MARGIN, i, z] = 0.0
        y = abs(offset[p, i]) / pairs[2, i] * (OFFSETS - 1)
        node[i, z] = min(int(y), OFFSETS - 2)
        w[PAST, i, z] = y - node[i, z]


@compile_part
def start_group(z, more, own, slope, v, w):  # type: ignore[no-untyped-def]
    """Start a lane again with ``more`` times the energy, from the result for the actual sea.

    ``own`` has the variances of roll [rad2], roll rate and roll acceleration in the actual sea,
    ``slope`` its last secant slope.
    """
    root = math.sqrt(more)
    slope = min(slope, STEEPEST_START / root)
    rate = math.sqrt(more * own[1]) * (1.0 - slope) / (1.0 - root * slope)
    v[MORE, z] = more
    v[SLOPE, z] = root * slope
    v[RATE, z] = v[BEFORE, z] = v[BEFORE_ANSWER, z] = rate
    if own[1] > SMALLEST * SMALLEST:
        v[PER0, z], v[PER4, z] = own[0] / own[1], own[2] / own[1]
    for i in range(w.shape[1]):
        w[MARGIN, i, z] = 0.0


@compile_loop
def feedback_lanes(  # type: ignore[no-untyped-def]
    alive, count, driven, node, slow, pairs, gains, nominal, turned, speed, inflow, inside, v, w
):
    """Damping [rad/s], feedback and stiffness [dimensionless] of each lane at its roll rate."""
    w0, hull, b, _, rest_damping, rest, by_damping = speed
    for a in range(count):
        z = alive[a]
        v[DAMPING, z] = hull + ROOT_8_PI * b * v[RATE, z]
        v[FEEDBACK, z] = v[STIFF, z] = 0.0
        v[NEARNESS, z] = NEAR
        if driven[z]:
            push = w0 * w0 * rest * ROOT_2_PI / max(v[RATE, z], SMALLEST)
            v[FEEDBACK, z] = push / rest_damping
            v[DAMPING, z] += inflow
    for i in range(pairs.shape[1]):
        moment, flow, limit, most, own = five_of(pairs, i)
        k1, k2, k3, weight = pairs[5, i], pairs[6, i], pairs[7, i], pairs[8, i]
        c1, late = turned_gains(k1 - w0 * w0 * k3, k2, w0, pairs[9, i])
        tied = k2 * k2 - 2.0 * k1 * k3
        drag = w0 * w0 * moment * flow
        lagging, least = TAIL * own * own, 1.0 / (most * most)
        felt = 0
        for a in range(count):
            z = alive[a]
            if driven[z]:
                continue
            rate, per4 = v[RATE, z], v[PER4, z]
            square = k1 * k1 * v[PER0, z] + tied + k3 * k3 * per4
            command = rate * math.sqrt(max(square, 0.0))
            share, lift_gain, inflow_gain = three_gains(
                gains, i, command, limit, node[i, z], w[PAST, i, z]
            )
            fast = max(k1 * k1 + (tied + k3 * k3 * per4) * per4, 0.0)
            asked = share * share * rate * rate * fast
            free = asked / (1.0 + lagging * per4)
            w[LEFT, i, z], w[FACTOR, i, z], w[BEND, i, z] = lift_gain, 1.0, turned[i]
            v[DAMPING, z] += drag * inflow_gain
            w[ASKED, i, z] = free
            w[LAG, i, z] = own
            w[NOW, i, z] = asked * least
            slow[felt] = z
            if free * least * (RATE_FREE * RATE_FREE) > 1.0:
                felt += 1
        for a in range(felt):
            z = slow[a]
            x = rate_margin(inside, w[NOW, i, z], lagging * v[PER4, z], w[MARGIN, i, z])
            kept, _ = inside_share(inside, x)
            w[MARGIN, i, z] = x
            w[ASKED, i, z] = (most / x) ** 2
            lag = own / kept
            w[LAG, i, z] = lag
            if LENGTHENED * kept < 1.0:
                v[NEARNESS, z] = NEAR_LIMIT
            follow = 1.0 / (1.0 + (w0 * lag) ** 2)
            w[BEND, i, z] = (c1 + w0 * w0 * late * lag) * follow
            if by_damping > 0.0:
                w[FACTOR, i, z] = (late - c1 * lag) * follow / nominal[i]
        for a in range(count):
            z = alive[a]
            if not driven[z]:
                v[FEEDBACK, z] += weight * w[LEFT, i, z] * w[FACTOR, i, z]
                v[STIFF, z] += moment * w[LEFT, i, z] * w[BEND, i, z]


@compile_part
def _grown(x):  # type: ignore[no-untyped-def]
    """exp(x), by its series where that is exact to 1e-8."""
    if abs(x) > 0.06:
        return math.exp(x)
    return 1.0 + x * (1.0 + x * (0.5 + x * (SIXTH + x * (0.25 * SIXTH))))


@compile_loop
def read_lanes(alive, count, point, driven, rows, axes, speed, stiffness, derivatives, v):  # type: ignore[no-untyped-def]
    """Variances [rad2 and so on] of each lane from its plane, at its damping and feedback."""
    n_x, x_step = int(axes[3]), axes[4]
    w0, ratio = speed[0], speed[3]
    for a in range(count):
        z = alive[a]
        v[X, z] = math.log(1.0 + max(v[FEEDBACK, z], 0.0) * ratio)
    for a in range(count):
        z = alive[a]
        p = point[z]
        m0, m2, m4 = plane_at(rows, p, axes, v[DAMPING, z], v[X, z])
        more = v[MORE, z]
        m0, m2, m4 = more * m0, more * m2, more * m4
        if not driven[z] and m2 > SMALLEST * SMALLEST:
            # Stiffness beyond that of the nodes, to first order, in a form that stays positive.
            y = min(max(v[X, z] * (1.0 / x_step), 0.0), n_x - 1.0)
            i = min(max(int(y) - 1, 0), n_x - 4)
            v0, v1, v2, v3 = cubic(y - i)
            stiffer = v[STIFF, z] - (
                v0 * stiffness[i] + v1 * stiffness[i + 1]
                + v2 * stiffness[i + 2] + v3 * stiffness[i + 3]
            )  # fmt: skip
            if abs(stiffer) > 1e-5:
                k = derivatives + i
                slope = v0 * rows[p, k] + v1 * rows[p, k + 1]
                slope += v2 * rows[p, k + 2] + v3 * rows[p, k + 3]
                k = 4 * (n_x + i) + 1
                of = v0 * rows[p, k] + v1 * rows[p, k + 4]
                of += v2 * rows[p, k + 8] + v3 * rows[p, k + 12]
                change = stiffer * (1.0 / (w0 * w0)) * slope / max(of, 1e-30)
                change = _grown(min(max(change, -1.0), 1.0))
                m0, m2, m4 = m0 * change, m2 * change, m4 * change
        v[M0, z], v[M2, z], v[M4, z] = m0, m2, m4


@compile_loop
def advance_lanes(step, alive, count, driven, pairs, b, v, w):  # type: ignore[no-untyped-def]
    """Take a secant step in each lane; returns the number of lanes that have not converged.

    Those are moved to the front of ``alive``. Roll rate in [rad/s].
    """
    left = 0
    for a in range(count):
        z = alive[a]
        m0, m2, m4 = v[M0, z], v[M2, z], v[M4, z]
        rate, answer = v[RATE, z], math.sqrt(m2)
        if m2 > SMALLEST * SMALLEST:
            v[PER0, z], v[PER4, z] = m0 / m2, m4 / m2
        slope = v[SLOPE, z]
        if rate != v[BEFORE, z]:
            slope = (answer - v[BEFORE_ANSWER, z]) / (rate - v[BEFORE, z])
            slope = min(max(slope, SLOPES[0]), SLOPES[1])
        v[BEFORE, z], v[BEFORE_ANSWER, z], v[SLOPE, z] = rate, answer, slope
        following = (answer - slope * rate) / (1.0 - slope)
        following = min(max(following, 0.1 * rate), 10.0 * rate + SMALLEST)
        away = max(abs(answer - rate), abs(following - rate))
        near = away <= v[NEARNESS, z] * answer + SMALLEST
        v[RATE, z] = following
        v[STEPS, z] = step + 1
        if step > 0 and near:
            closing = (following / max(answer, SMALLEST)) ** 2
            v[M0, z], v[M2, z], v[M4, z] = m0 * closing, m2 * closing, m4 * closing
            v[DAMPING, z] += ROOT_8_PI * b * (following - rate)
            for i in range(pairs.shape[1]):
                w[ASKED, i, z] *= (following / max(rate, SMALLEST)) ** 2
        else:
            alive[left] = z
            left += 1
    return left
