"""Wave groups at points in lanes: the formulas of ``roll/wave_groups.py``, compiled.

The array form there is too slow for millions of points, and so is the correction of
``roll/limit_fit.py`` point by point; ``tests/physics/tables/test_group_lanes.py`` compares them.
Outputs of fins are ``(pairs, outputs x LANES)`` as in ``answers.py``.
"""

from __future__ import annotations

import math

import numpy as np

from passage.physics.compiled import compile_loop
from passage.physics.roll import wave_groups
from passage.physics.roll.limit_fit import FURTHEST, INPUTS, LEAST_LIFT, OUTPUTS, STEERED_RAD
from passage.physics.roll.limit_fit_numbers import (
    CENTRES,
    HIDDEN,
    HIDDEN_START,
    LARGEST,
    OUTER,
    OUTER_START,
    SCALES,
    SMALLEST,
)
from passage.physics.roll.packing import SHORTEST_LAG_S
from passage.physics.tables.answers import (
    FLOWN,
    IN_LIMIT,
    INCIDENCE,
    LAGS,
    LIFT,
    LIFT_OFF,
    LIFTED,
    OFFSET,
    PAST_STALL,
    ROLLS,
    STD,
    TRAVEL,
)
from passage.physics.tables.lanes import (
    DRIVEN,
    LANES,
    WEIGHT,
)
from passage.physics.tables.vector_math import exp_of, log_of

_FALL = 10
_SQUARES = np.array(wave_groups._SQUARES) * LANES
_MEANS = np.array(wave_groups._MEANS) * LANES
_FELT_FROM, _IN_FULL, _FULL_MOMENT = (
    wave_groups.FELT_FROM, wave_groups.IN_FULL, wave_groups.FULL_MOMENT,
)  # fmt: skip
_LESS_SHARE = wave_groups.LESS_SHARE
_LESSER, _GREATER = wave_groups.LESSER, wave_groups.GREATER
_LESSER_SHARE, _GREATER_SHARE = wave_groups.LESSER_SHARE, wave_groups.GREATER_SHARE
_TINY = 1e-30
_PER_SCALE = 1.0 / SCALES
_INPUTS, _HIDDEN, _OUTPUTS = len(INPUTS), HIDDEN_START.size, len(OUTPUTS)
#: First lane of two working rows of ``join_groups`` after the answers: how far the correction of a
#: pair applies, and the sum of those of roll. Number of all working rows.
_BY = _OUTPUTS * LANES
_SUMS = _BY + LANES
JOIN_ROWS = _INPUTS + _HIDDEN + _OUTPUTS + 2


@compile_loop
def _weigh_pair(moment, lag, fall, f, v):  # type: ignore[no-untyped-def]
    own, counts = max(lag, SHORTEST_LAG_S), min(moment / _FULL_MOMENT, 1.0)
    for z in range(LANES):
        bell = max(1.0 - own / f[LAGS + z], 0.0)
        rated = bell * (1.0 - _LESS_SHARE * bell * bell * (1.0 - bell))
        stall = max((1.0 - f[FLOWN + z]) / (1.0 + fall), 0.0)
        share = max(1.0 - f[IN_LIMIT + z], max(rated, stall))
        part = min(max((share - _FELT_FROM) / (_IN_FULL - _FELT_FROM), 0.0), 1.0)
        part = counts * part if v[DRIVEN + z] == 0.0 else 0.0
        v[WEIGHT + z] = max(v[WEIGHT + z], part)


@compile_loop
def weigh_groups(pairs, v, fins):  # type: ignore[no-untyped-def]
    """Weight of wave groups in each lane, 0 without, in the row ``WEIGHT`` of ``v``.

    As ``group_weight``. ``pairs`` (11, n) with lags in [s].
    """
    for z in range(LANES):
        v[WEIGHT + z] = 0.0
    for i in range(pairs.shape[1]):
        if pairs[0, i] > 0.0:
            _weigh_pair(pairs[0, i], pairs[4, i], pairs[_FALL, i], fins[i], v)


@compile_loop
def _put_limits(own, f, angle, rate, stall):  # type: ignore[no-untyped-def]
    """Shares of time at the limits in one sea."""
    for z in range(LANES):
        gain = f[IN_LIMIT + z]
        angle[z] = 1.0 - gain
        rate[z] = 1.0 - own / f[LAGS + z]
        stall[z] = 1.0 - f[LIFTED + z] / max(gain, 1e-9)


@compile_loop
def _put_inputs(lag, limit, w0, actual, lesser, greater, f, work):  # type: ignore[no-untyped-def]
    """As ``limit_fit.put_inputs``, in the order of ``INPUTS``."""
    own = max(lag, SHORTEST_LAG_S)
    for z in range(LANES):
        m0, m2 = max(actual[z], _TINY), max(actual[LANES + z], _TINY)
        m4 = max(actual[2 * LANES + z], _TINY)
        work[z] = log_of(max(lesser[z], _TINY) / (_LESSER * m0))
        work[LANES + z] = log_of(max(greater[z], _TINY) / (_GREATER * m0))
        work[11 * LANES + z] = 1.0 - f[FLOWN + z]
        work[12 * LANES + z] = log_of(max(actual[4 * LANES + z], 1e-3))
        work[13 * LANES + z] = log_of(max(greater[4 * LANES + z], 1e-3))
        work[14 * LANES + z] = log_of(math.sqrt(m2 / m0) / w0)
        work[15 * LANES + z] = log_of(m4 * m0 / (m2 * m2))
        work[16 * LANES + z] = own * w0
        work[17 * LANES + z] = abs(f[OFFSET + z]) / limit


@compile_loop
def _answer_inputs(put, units, found):  # type: ignore[no-untyped-def]
    """As ``limit_fit.answer_inputs``."""
    for z in range(LANES):
        for j in range(_INPUTS):
            x = (put[j * LANES + z] - CENTRES[j]) * _PER_SCALE[j]
            put[j * LANES + z] = min(max(x, -FURTHEST), FURTHEST)
    for h in range(_HIDDEN):
        unit = units[h * LANES : (h + 1) * LANES]
        for z in range(LANES):
            total = HIDDEN_START[h]
            for j in range(_INPUTS):
                total += HIDDEN[j, h] * put[j * LANES + z]
            unit[z] = total / math.sqrt(1.0 + total * total)
    for q in range(_OUTPUTS):
        answer = found[q * LANES : (q + 1) * LANES]
        for z in range(LANES):
            total = OUTER_START[q]
            for h in range(_HIDDEN):
                total += OUTER[h, q] * units[h * LANES + z]
            answer[z] = min(max(total, SMALLEST[q]), LARGEST[q])


@compile_loop
def _sum_up(moment, weight, f, work):  # type: ignore[no-untyped-def]
    """How far a pair's correction applies, and the sum of those of roll over pairs."""
    for z in range(LANES):
        by = weight[z] * min(f[STD + z] / STEERED_RAD, 1.0)
        work[_BY + z] = by
        work[_SUMS + z] += moment * by * work[z]


@compile_loop
def _average(weight, f0, f1, f2):  # type: ignore[no-untyped-def]
    """As ``wave_groups.over_groups``, in place of the first."""
    for z in range(LANES):
        s1, s2 = _LESSER_SHARE * weight[z], _GREATER_SHARE * weight[z]
        s0 = 1.0 - s1 - s2
        one, two, three = f0[LIFT_OFF + z], f1[LIFT_OFF + z], f2[LIFT_OFF + z]
        mean = s0 * one + s1 * two + s2 * three
        between = max(s0 * one * one + s1 * two * two + s2 * three * three - mean * mean, 0.0)
        a, b, c = f0[LIFT + z], f1[LIFT + z], f2[LIFT + z]
        lift = math.sqrt(s0 * a * a + s1 * b * b + s2 * c * c + between)
        f0[LAGS + z] = 1.0 / (s0 / f0[LAGS + z] + s1 / f1[LAGS + z] + s2 / f2[LAGS + z])
        for q in _SQUARES:
            a, b, c = f0[q + z], f1[q + z], f2[q + z]
            f0[q + z] = math.sqrt(s0 * a * a + s1 * b * b + s2 * c * c)
        for q in _MEANS:
            f0[q + z] = s0 * f0[q + z] + s1 * f1[q + z] + s2 * f2[q + z]
        f0[LIFT + z] = lift


@compile_loop
def _correct(f, work):  # type: ignore[no-untyped-def]
    """As ``limit_fit.fit_to_time`` for one pair: lift, travel and incidence beyond stall."""
    for z in range(LANES):
        by = work[_BY + z]
        f[TRAVEL + z] *= exp_of(by * work[2 * LANES + z])
        f[PAST_STALL + z] *= exp_of(0.5 * by * work[3 * LANES + z])
        steady = f[LIFT_OFF + z] * f[LIFT_OFF + z]
        seen = f[INCIDENCE + z] * f[INCIDENCE + z] + f[OFFSET + z] * f[OFFSET + z]
        square = max(f[LIFT + z] * f[LIFT + z] + steady, LEAST_LIFT * seen)
        square = square * exp_of(by * work[LANES + z]) - steady
        f[LIFT + z] = math.sqrt(max(square, 0.0))


@compile_loop
def _mean_roll(weight, total, r0, r1, r2, work):  # type: ignore[no-untyped-def]
    """Mean of the results of roll over the seas, with its variances corrected."""
    per = min(total / _FULL_MOMENT, 1.0) / total if total > 0.0 else 0.0
    for z in range(LANES):
        work[_SUMS + z] = exp_of(work[_SUMS + z] * per)
    for q in range(ROLLS):
        a, b, c = r0[q * LANES :], r1[q * LANES :], r2[q * LANES :]
        for z in range(LANES):
            s1, s2 = _LESSER_SHARE * weight[z], _GREATER_SHARE * weight[z]
            a[z] = (1.0 - s1 - s2) * a[z] + s1 * b[z] + s2 * c[z]
        if q < 3:
            for z in range(LANES):
                a[z] *= work[_SUMS + z]


@compile_loop
def join_groups(w0, pairs, weight, roll, fins, work):  # type: ignore[no-untyped-def]
    """Replace the results of the first sea by the corrected mean over the three seas.

    As ``group_shares``, ``over_groups``, ``sums_over_groups`` and ``fit_to_time``. ``roll``
    (3, 6 x LANES) begins with the variances of roll [rad2], roll rate and roll acceleration;
    ``fins`` (3, n, outputs x LANES); ``weight`` (LANES,); ``work`` (JOIN_ROWS x LANES,); ``w0``
    is the natural frequency [rad/s].
    """
    total = 0.0
    put, units = work[: _INPUTS * LANES], work[_INPUTS * LANES : (_INPUTS + _HIDDEN) * LANES]
    work = work[(_INPUTS + _HIDDEN) * LANES :]
    for z in range(LANES):
        work[_SUMS + z] = 0.0
    for i in range(pairs.shape[1]):
        moment, lag, limit = pairs[0, i], pairs[4, i], pairs[2, i]
        total += moment
        own = max(lag, SHORTEST_LAG_S)
        for sea in range(3):
            first = (2 + sea) * LANES
            angle, rate, stall = put[first:], put[first + 3 * LANES :], put[first + 6 * LANES :]
            _put_limits(own, fins[sea, i], angle, rate, stall)
        _put_inputs(lag, limit, w0, roll[0], roll[1], roll[2], fins[0, i], put)
        _answer_inputs(put, units, work)
        _sum_up(moment, weight, fins[0, i], work)
        _average(weight, fins[0, i], fins[1, i], fins[2, i])
        _correct(fins[0, i], work)
    _mean_roll(weight, total, roll[0], roll[1], roll[2], work)
