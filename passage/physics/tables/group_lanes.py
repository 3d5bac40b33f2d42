"""Wave groups at points in lanes: the formulas of ``roll/wave_groups.py``, compiled.

The array form there is too slow for millions of points;
``tests/physics/tables/test_group_lanes.py`` compares the two. The correction of
``roll/limit_fit.py`` is compiled there, once for both. Fin outputs are
``(outputs, lanes, pairs)`` in the order of ``packing.FINS_OUT``.
"""

from __future__ import annotations

import math

import numpy as np

from passage.physics.compiled import compile_loop, compile_part
from passage.physics.roll import wave_groups
from passage.physics.roll.limit_fit import (
    INPUTS,
    LEAST_LIFT,
    OUTPUTS,
    STEERED_RAD,
    answer_inputs,
    put_inputs,
)
from passage.physics.roll.limit_fit_numbers import HIDDEN_START
from passage.physics.roll.packing import FINS_OUT, SHORTEST_LAG_S

_FALL = 10
_GAIN, _LAG, _INFLOW_GAIN = (FINS_OUT.index(name) for name in ("gain", "lag", "inflow_gain"))
_TRAVEL, _BEYOND, _LIFT, _LIFT_MEAN, _COMMAND, _INCIDENCE, _MEAN = (
    FINS_OUT.index(name)
    for name in ("travel", "beyond", "lift", "lift_mean", "command", "incidence", "mean")
)
_SQUARES, _MEANS = wave_groups._SQUARES, wave_groups._MEANS
_FELT_FROM, _IN_FULL, _FULL_MOMENT = (
    wave_groups.FELT_FROM, wave_groups.IN_FULL, wave_groups.FULL_MOMENT,
)  # fmt: skip
_LESS_SHARE = wave_groups.LESS_SHARE
_LESSER_SHARE, _GREATER_SHARE = wave_groups.LESSER_SHARE, wave_groups.GREATER_SHARE


@compile_loop
def weigh_groups(lanes, driven, pairs, fins, weight, felt):  # type: ignore[no-untyped-def]
    """Fill ``felt`` with the lanes that need wave groups, with their weight; their number.

    As ``group_weight``. ``pairs`` (11, n) with lags in [s].
    """
    count = 0
    for z in range(lanes):
        most = 0.0
        for i in range(pairs.shape[1]):
            bell = max(1.0 - max(pairs[4, i], SHORTEST_LAG_S) / fins[_LAG, z, i], 0.0)
            rated = bell * (1.0 - _LESS_SHARE * bell * bell * (1.0 - bell))
            stall = max((1.0 - fins[_INFLOW_GAIN, z, i]) / (1.0 + pairs[_FALL, i]), 0.0)
            share = max(1.0 - fins[_GAIN, z, i], rated, stall)
            part = min(max((share - _FELT_FROM) / (_IN_FULL - _FELT_FROM), 0.0), 1.0)
            moment = pairs[0, i]
            if moment > 0.0:
                most = max(most, min(moment / _FULL_MOMENT, 1.0) * part)
        if driven[z] or not most > 0.0:
            continue
        weight[z] = most
        felt[count] = z
        count += 1
    return count


@compile_part
def _average(z, i, s0, s1, s2, fins):  # type: ignore[no-untyped-def]
    """As ``wave_groups.over_groups``, in place of the first."""
    first, less, more = (
        fins[0, _LIFT_MEAN, z, i], fins[1, _LIFT_MEAN, z, i], fins[2, _LIFT_MEAN, z, i],
    )  # fmt: skip
    for q in _SQUARES:
        one, two, three = fins[0, q, z, i], fins[1, q, z, i], fins[2, q, z, i]
        fins[0, q, z, i] = math.sqrt(s0 * one * one + s1 * two * two + s2 * three * three)
    for q in _MEANS:
        fins[0, q, z, i] = s0 * fins[0, q, z, i] + s1 * fins[1, q, z, i] + s2 * fins[2, q, z, i]
    fins[0, _LAG, z, i] = 1.0 / (
        s0 / fins[0, _LAG, z, i] + s1 / fins[1, _LAG, z, i] + s2 / fins[2, _LAG, z, i]
    )
    between = s0 * first * first + s1 * less * less + s2 * more * more
    between = max(between - fins[0, _LIFT_MEAN, z, i] ** 2, 0.0)
    if between > 0.0:
        fins[0, _LIFT, z, i] = math.sqrt(fins[0, _LIFT, z, i] ** 2 + between)


@compile_part
def _corrected(z, i, by, found, fins):  # type: ignore[no-untyped-def]
    """As ``limit_fit.fit_to_time`` for one pair: lift, travel and incidence beyond stall."""
    fins[0, _TRAVEL, z, i] *= math.exp(by * found[2])
    fins[0, _BEYOND, z, i] *= math.exp(0.5 * by * found[3])
    steady = fins[0, _LIFT_MEAN, z, i] ** 2
    seen = fins[0, _INCIDENCE, z, i] ** 2 + fins[0, _MEAN, z, i] ** 2
    square = max(fins[0, _LIFT, z, i] ** 2 + steady, LEAST_LIFT * seen)
    square = square * math.exp(by * found[1]) - steady
    fins[0, _LIFT, z, i] = math.sqrt(max(square, 0.0))


@compile_loop
def join_groups(felt, count, w0, pairs, weight, roll, fins):  # type: ignore[no-untyped-def]
    """Replace the results of the first sea by the corrected mean over the three seas.

    As ``group_shares``, ``over_groups``, ``sums_over_groups`` and ``fit_to_time``. ``roll``
    (3, lanes, 6) begins with the variances of roll [rad2], roll rate and roll acceleration;
    ``fins`` (3, outputs, lanes, pairs); ``w0`` is the natural frequency [rad/s].
    """
    put, hidden = np.zeros(len(INPUTS)), np.zeros(HIDDEN_START.size)
    found = np.zeros(len(OUTPUTS))
    for a in range(count):
        z = felt[a]
        s1, s2 = _LESSER_SHARE * weight[z], _GREATER_SHARE * weight[z]
        s0 = 1.0 - s1 - s2
        sums = total = 0.0
        for i in range(pairs.shape[1]):
            put_inputs(z, i, roll, fins, pairs[4, i], pairs[2, i], w0, put)
            answer_inputs(put, hidden, found)
            by = weight[z] * min(fins[0, _COMMAND, z, i] / STEERED_RAD, 1.0)
            sums += pairs[0, i] * by * found[0]
            total += pairs[0, i]
            _average(z, i, s0, s1, s2, fins)
            _corrected(z, i, by, found, fins)
        for q in range(roll.shape[2]):
            roll[0, z, q] = s0 * roll[0, z, q] + s1 * roll[1, z, q] + s2 * roll[2, z, q]
        if total > 0.0:
            fitted = math.exp(sums / total * min(total / _FULL_MOMENT, 1.0))
            for q in range(3):
                roll[0, z, q] *= fitted
