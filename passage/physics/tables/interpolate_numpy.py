"""Numpy twin of ``roll_walk.py`` and ``roll_working.py``: the same steps, all points at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import erf

from passage.physics.roll.fin_gains import (
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
from passage.physics.tables.interpolate import (
    AT_REST,
    CENTRED,
    LENGTHENED,
    MAX_STEPS,
    NEAR,
    NEAR_LIMIT,
    RATE_FREE,
    ROOT2,
    ROOT_2_PI,
    ROOT_8_PI,
    SLOPES,
    SMALLEST,
    TAIL,
    start_node,
)

FloatArray = NDArray[np.float64]


def _cubic(v: FloatArray) -> FloatArray:
    return np.stack(
        [
            -(v - 1) * (v - 2) * (v - 3) / 6,
            v * (v - 2) * (v - 3) / 2,
            -v * (v - 1) * (v - 3) / 2,
            v * (v - 1) * (v - 2) / 6,
        ]
    )


def _plane(planes: FloatArray, axes, damping: FloatArray, x: FloatArray) -> FloatArray:  # type: ignore[no-untyped-def]
    """Variances ``(3, P)`` at D and x of planes ``(P, 3, nodes, 4)``."""
    shift, first, step, _, x_step = axes
    n_x = planes.shape[2]
    d = _cubic((1.0 / (damping + shift) - first) / step)
    y = np.clip(x / x_step, 0.0, n_x - 1.0)
    i = np.clip(y.astype(np.intp) - 1, 0, n_x - 4)
    w = _cubic(y - i)
    points = np.arange(planes.shape[0])
    total = np.zeros((3, planes.shape[0]))
    for m in range(3):
        for a in range(4):
            total[m] += w[a] * np.sum(d.T * planes[points, m, i + a], axis=-1)
    return np.maximum(total, 0.0)


def _stiffer(planes, slopes, axes, x, stiff, stiffness, w0):  # type: ignore[no-untyped-def]
    """Factor on the variances for stiffness that the nodes do not hold."""
    n_x = planes.shape[2]
    y = np.clip(x / axes[4], 0.0, n_x - 1.0)
    i = np.clip(y.astype(np.intp) - 1, 0, n_x - 4)
    v = _cubic(y - i)
    points = np.arange(planes.shape[0])
    more = stiff - sum(v[a] * stiffness[i + a] for a in range(4))
    slope = sum(v[a] * slopes[points, i + a] for a in range(4))
    of = sum(v[a] * planes[points, 1, i + a, 1] for a in range(4))
    change = np.clip(more / (w0 * w0) * slope / np.maximum(of, 1e-30), -1.0, 1.0)
    return np.where(np.abs(more) > 1e-5, np.exp(change), 1.0)


def _secant(rate, answer, before, before_answer, known):  # type: ignore[no-untyped-def]
    change = rate - before
    moved = known & (change != 0.0)
    slope = np.where(moved, (answer - before_answer) / np.where(moved, change, 1.0), 0.0)
    slope = np.clip(slope, *SLOPES)
    return (answer - slope * rate) / (1.0 - slope)


def centred_numpy(rows, axes, speed, inflow, out):  # type: ignore[no-untyped-def]
    """See ``roll_walk.centred_loop``."""
    shift, first, d_step, n_x, _ = axes
    planes = rows[:, : 12 * int(n_x)].astype(float).reshape(-1, 3, int(n_x), 4)[:, :, 0]
    w0, hull, b = speed[0], speed[1], speed[2]
    base = hull + w0 * w0 * inflow
    good = np.isfinite(planes[:, 1, 0])
    planes = planes[good]
    rate = np.zeros(planes.shape[0])
    before = before_answer = rate
    done = np.zeros(rate.size, bool)
    moments = np.zeros((rate.size, 3))
    steps = np.zeros(rate.size)
    damping = np.full(rate.size, base)
    for step in range(MAX_STEPS):
        now = base + ROOT_8_PI * b * rate
        d = _cubic((1.0 / (now + shift) - first) / d_step).T
        found = np.maximum(np.sum(planes * d[:, None, :], axis=-1), 0.0)
        answer = np.sqrt(found[:, 1])
        near = (step > 0) & (np.abs(answer - rate) <= NEAR * answer + SMALLEST)
        following = _secant(rate, answer, before, before_answer, step > 0)
        going = ~done
        closing = np.where(near, (following / np.maximum(answer, SMALLEST)) ** 2, 1.0)
        moments[going] = (found * closing[:, None])[going]
        damping[going] = np.where(near, now + ROOT_8_PI * b * (following - rate), now)[going]
        steps[going] = step + 1
        done |= near
        if done.all():
            break
        before, before_answer = rate, answer
        rate = following
    out[...] = np.nan
    out[good, :3] = moments
    out[good, 3] = 0.0
    out[good, 4] = damping / (2.0 * w0)
    out[good, 5] = steps


def _left(gains, command, limit, offset):  # type: ignore[no-untyped-def]
    """All columns ``(P, 8)`` of one pair's table."""
    x = command / (command + limit) * (COMMANDS - 1)
    y = offset / limit * (OFFSETS - 1)
    i = np.minimum(x.astype(np.intp), COMMANDS - 2)
    j = np.minimum(y.astype(np.intp), OFFSETS - 2)
    fx, fy = (x - i)[:, None], (y - j)[:, None]
    low = (1 - fy) * gains[i, j] + fy * gains[i, j + 1]
    high = (1 - fy) * gains[i + 1, j] + fy * gains[i + 1, j + 1]
    return (1 - fx) * low + fx * high


def working_numpy(  # type: ignore[no-untyped-def]
    rows, axes, speed, pairs, gains, stiffness, derivatives, offset, use, out, fins_out
):
    """See ``roll_working.working_loop``."""
    n_x = int(axes[3])
    works = use != CENTRED
    known = np.isfinite(rows[:, 4 * n_x]) & np.isfinite(offset).all(axis=1)
    out[works & ~known] = np.nan
    fins_out[:, works & ~known] = np.nan
    at = np.flatnonzero(works & known)
    if at.size == 0:
        return
    w0, hull, b, ratio, rest_damping, rest, by_damping = speed
    planes = rows[at, : 12 * n_x].astype(float).reshape(-1, 3, n_x, 4)
    slopes = rows[at, derivatives : derivatives + n_x].astype(float)
    driven = use[at] == AT_REST
    shift, n, count = offset[at], pairs.shape[1], at.size
    moment, inflow, limit, most, own_lag, k1, k2, k3, weight = pairs
    c1 = k1 - w0 * w0 * k3
    nominal = (k2 - c1 * own_lag) / (1.0 + (w0 * own_lag) ** 2)
    free = start_node(hull + float(np.sum(w0 * w0 * moment * inflow)), axes)
    start = rows[at][:, [free, free + 4 * n_x, free + 8 * n_x]].astype(float)
    start = np.where(driven[:, None], out[at, :3], start).T
    rate = np.sqrt(start[1])
    before, before_answer = np.zeros(count), rate
    some = start[1] > SMALLEST * SMALLEST
    per0 = np.where(some, start[0] / np.where(some, start[1], 1.0), 1.0 / (w0 * w0))
    per4 = np.where(some, start[2] / np.where(some, start[1], 1.0), w0 * w0)
    lag = np.broadcast_to(own_lag, (count, n)).copy()
    asked_rate = np.zeros((count, n))
    done = np.zeros(count, bool)
    kept = {
        "m": np.zeros((3, count)), "damping": np.zeros(count), "steps": np.zeros(count),
        "lag": lag.copy(), "asked": asked_rate.copy(), "per4": per4.copy(),
    }  # fmt: skip
    for step in range(MAX_STEPS):
        damping = hull + ROOT_8_PI * b * rate
        g = w0 * w0 * rest * ROOT_2_PI / np.maximum(rate, SMALLEST) / rest_damping
        g = np.where(driven, g, 0.0)
        stiff = np.zeros(count)
        for i in range(n):
            square = k1[i] ** 2 * per0 + k2[i] ** 2 - 2 * k1[i] * k3[i] + k3[i] ** 2 * per4
            command = rate * np.sqrt(np.maximum(square, 0.0))
            left = _left(gains[i], command, limit[i], np.abs(shift[:, i]))
            factor = np.ones(count)
            fast = k1[i] ** 2 + (k2[i] ** 2 - 2 * k1[i] * k3[i] + k3[i] ** 2 * per4) * per4
            fast = np.maximum(fast, 0.0) / (1.0 + TAIL * per4 * lag[:, i] ** 2)
            asked = left[:, SHARE] * rate * np.sqrt(fast)
            felt = asked * RATE_FREE > most[i]
            ran = np.where(felt, np.maximum(asked_rate[:, i], asked), 1.0)
            share = np.where(felt, np.maximum(erf(most[i] / (ROOT2 * ran)), 1e-9), 1.0)
            asked_rate[:, i] = np.where(driven, 0.0, asked / share)
            lag[:, i] = np.where(driven, own_lag[i], own_lag[i] / share)
            if by_damping > 0.0:
                imag = (k2[i] - c1[i] * lag[:, i]) / (1.0 + (w0 * lag[:, i]) ** 2)
                factor = np.where(felt, imag / nominal[i], 1.0)
            g = g + np.where(driven, 0.0, weight[i] * left[:, LIFT_GAIN] * factor)
            turned = (c1[i] + w0 * w0 * k2[i] * lag[:, i]) / (1.0 + (w0 * lag[:, i]) ** 2)
            stiff = stiff + moment[i] * left[:, LIFT_GAIN] * turned
            through = np.where(driven, 1.0, left[:, INFLOW_GAIN])
            damping = damping + w0 * w0 * moment[i] * inflow[i] * through
        x = np.log(1.0 + np.maximum(g, 0.0) * ratio)
        found = _plane(planes, axes, damping, x)
        change = _stiffer(planes, slopes, axes, x, stiff, stiffness, w0)
        found = found * np.where(driven | ~(found[1] > SMALLEST * SMALLEST), 1.0, change)
        answer = np.sqrt(found[1])
        slow = (lag > LENGTHENED * own_lag).any(axis=1)
        nearness = np.where(slow, NEAR_LIMIT, NEAR)
        near = (step > 0) & (np.abs(answer - rate) <= nearness * answer + SMALLEST)
        following = _secant(rate, answer, before, before_answer, (step > 0) | ~driven)
        following = np.clip(following, 0.1 * rate, 10.0 * rate + SMALLEST)
        closing = np.where(near, (following / np.maximum(answer, SMALLEST)) ** 2, 1.0)
        faster = np.where(near, following / np.maximum(rate, SMALLEST), 1.0)
        more = np.where(near, ROOT_8_PI * b * (following - rate), 0.0)
        some = found[1] > SMALLEST * SMALLEST
        per0 = np.where(some, found[0] / np.where(some, found[1], 1.0), per0)
        per4 = np.where(some, found[2] / np.where(some, found[1], 1.0), per4)
        going = ~done
        kept["m"][:, going] = (found * closing)[:, going]
        kept["damping"][going] = (damping + more)[going]
        kept["steps"][going] = step + 1
        kept["lag"][going] = lag[going]
        kept["asked"][going] = (asked_rate * faster[:, None])[going]
        kept["per4"][going] = per4[going]
        done |= near
        if done.all():
            break
        before, before_answer = rate, answer
        rate = following
    m0, m2, m4 = kept["m"]
    held, total = np.zeros(count), kept["damping"].copy()
    slots = np.zeros((12, count, n))
    for i in range(n):
        seen = inflow[i] * np.sqrt(m2)
        square = k1[i] ** 2 * m0 + (k2[i] ** 2 - 2 * k1[i] * k3[i]) * m2 + k3[i] ** 2 * m4
        std = np.sqrt(np.maximum(square, 0.0))
        left = _left(gains[i], std, limit[i], np.abs(shift[:, i]))
        side = np.where(shift[:, i] >= 0.0, 1.0, -1.0)
        per4 = kept["per4"]
        speed2 = (k1[i] ** 2 * m2 + (k2[i] ** 2 - 2 * k1[i] * k3[i]) * m4) / np.maximum(
            square, 1e-30
        )
        if k3[i] != 0.0:
            speed2 = per4
        speed2 = np.where(square > 0.0, speed2, per4)
        own = kept["lag"][:, i]
        angle2 = square / (1.0 + speed2 * own**2)
        cross = m2 * (k2[i] - (k1[i] - per4 * k3[i]) * own) / (1.0 + per4 * own**2)
        share, gain, mean = left[:, SHARE], left[:, GAIN], left[:, MEAN]
        seen2 = share**2 * angle2 + 2 * gain * inflow[i] * cross + inflow[i] ** 2 * m2
        seen2 = np.maximum(seen2, 0.0)
        lift2 = seen2 + mean**2 + left[:, LOST] - left[:, LIFT_MEAN] ** 2
        asked = kept["asked"][:, i]
        felt = asked * RATE_FREE > most[i]
        x = most[i] / np.where(felt, asked, 1.0)
        x = np.where(felt, x, 1.0)
        bell = np.exp(-0.5 * np.minimum(x * x, 1400.0))
        beyond = 1.0 - erf(x / ROOT2)
        top = np.where(felt, most[i], 0.0)
        travel = asked * ROOT_2_PI
        travel = np.where(felt, travel * (1.0 - bell) + top * beyond, travel)
        inner = 1.0 - beyond - 2.0 * x * bell / np.sqrt(2.0 * np.pi)
        ran = np.sqrt(np.maximum(asked**2 * inner + top**2 * beyond, 0.0))
        ran = np.where(felt, ran, asked)
        held += np.where(driven, 0.0, moment[i] * left[:, LIFT_MEAN] * side)
        total += np.where(driven, 0.0, w0 * w0 * moment[i] * left[:, LIFT_GAIN] * nominal[i])
        answers = (
            std, share * np.sqrt(angle2), side * mean, np.sqrt(seen2), side * left[:, LIFT_MEAN],
            np.sqrt(np.maximum(lift2, 0.0)), ran, travel, gain, own, left[:, LIFT_GAIN],
            left[:, INFLOW_GAIN],
        )  # fmt: skip
        rest_answers = (0.0, 0.0, 0.0, seen, 0.0, seen, 0.0, 0.0, 1.0, own, 1.0, 1.0)
        for q, (one, other) in enumerate(zip(answers, rest_answers, strict=True)):
            slots[q, :, i] = np.where(driven, other, one)
    out[at] = np.stack([m0, m2, m4, held, total / (2.0 * w0), kept["steps"]], axis=-1)
    fins_out[:, at] = slots
