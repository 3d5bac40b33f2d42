"""Wave groups at points in lanes: the formulas of ``roll/wave_groups.py``, compiled.

The array form there is too slow for millions of points;
``tests/physics/tables/test_group_lanes.py`` compares the two. Fin outputs are
``(outputs, lanes, pairs)`` in the order of ``packing.FINS_OUT``.
"""

from __future__ import annotations

import math

from passage.physics.compiled import compile_loop, compile_part
from passage.physics.roll import wave_groups
from passage.physics.roll.packing import FINS_OUT, SHORTEST_LAG_S

_FALL = 10
_GAIN, _LAG, _LIFT_GAIN, _INFLOW_GAIN = (
    FINS_OUT.index(name) for name in ("gain", "lag", "lift_gain", "inflow_gain")
)
_TRAVEL, _BEYOND, _LIFT, _LIFT_MEAN = (
    FINS_OUT.index(name) for name in ("travel", "beyond", "lift", "lift_mean")
)
_SQUARES, _MEANS = wave_groups._SQUARES, wave_groups._MEANS
_FELT_FROM, _IN_FULL, _FULL_MOMENT = (
    wave_groups.FELT_FROM, wave_groups._IN_FULL, wave_groups._FULL_MOMENT,
)  # fmt: skip
_SPREAD, _RATE_SPREAD, _MORE_RATE_SPREAD, _SPREAD_FADES = (
    wave_groups.GROUP_SPREAD, wave_groups._RATE_SPREAD, wave_groups._MORE_RATE_SPREAD,
    wave_groups._SPREAD_FADES,
)  # fmt: skip
_STEEPEST = wave_groups._STEEPEST
_RATE_HIGH, _STALL_HIGH, _BOTH_HIGH, _BOTH_LOW = (
    wave_groups._RATE_HIGH, wave_groups._STALL_HIGH, wave_groups._BOTH_HIGH, wave_groups._BOTH_LOW,
)  # fmt: skip
_FITTED_TO, _MOST_FITTED = wave_groups._FITTED_TO, wave_groups._MOST_FITTED
_LESS_SHARE, _LESS_TRAVEL, _REACHED_AT = (
    wave_groups._LESS_SHARE, wave_groups._LESS_TRAVEL, wave_groups._REACHED_AT,
)  # fmt: skip
_LEFT_BEYOND, _BEYOND_FALL = wave_groups._LEFT_BEYOND, wave_groups._BEYOND_FALL


@compile_part
def _bell(own, lag):  # type: ignore[no-untyped-def]
    """Share of time at the rate limit for a Gaussian, and weight of the fit, 0 to 1."""
    bell = max(1.0 - max(own, SHORTEST_LAG_S) / lag, 0.0)
    much = 1.0 - math.exp(-bell / _REACHED_AT) if bell > 0.0 else 0.0
    return bell, much


@compile_loop
def weigh_groups(lanes, driven, pairs, fins, weight, spread, felt):  # type: ignore[no-untyped-def]
    """Fill ``felt`` with the lanes that need wave groups, with weight and spread; their number.

    As ``group_weight`` and ``group_spread``. ``pairs`` (11, n) with lags in [s].
    """
    count = 0
    for z in range(lanes):
        most = stopped = rated = stalled = 0.0
        for i in range(pairs.shape[1]):
            bell, much = _bell(pairs[4, i], fins[_LAG, z, i])
            angle = 1.0 - fins[_GAIN, z, i]
            stall = max((1.0 - fins[_INFLOW_GAIN, z, i]) / (1.0 + pairs[_FALL, i]), 0.0)
            share = max(angle, bell * (1.0 - _LESS_SHARE * much), stall)
            part = min(max((share - _FELT_FROM) / (_IN_FULL - _FELT_FROM), 0.0), 1.0)
            moment = pairs[0, i]
            if moment > 0.0:
                most = max(most, min(moment / _FULL_MOMENT, 1.0) * part)
            rated = max(rated, bell)
            # The largest of all pairs, which may be slightly negative by rounding.
            stopped = angle if i == 0 else max(stopped, angle)
            stalled = max(stalled, stall)
        if driven[z] or not most > 0.0:
            continue
        rules = rated / max(rated + stopped + stalled, 1e-12)
        rate = _RATE_SPREAD + _MORE_RATE_SPREAD * math.exp(-((rated / _SPREAD_FADES) ** 2))
        weight[z] = most
        spread[z] = (1.0 - rules) * _SPREAD + rules * rate
        felt[count] = z
        count += 1
    return count


@compile_part
def _fitted(z, pairs, fins):  # type: ignore[no-untyped-def]
    """As ``wave_groups.roll_fitted``."""
    sums = total = 0.0
    for i in range(pairs.shape[1]):
        gain, kept = fins[_GAIN, z, i], fins[_LIFT_GAIN, z, i]
        bell, much = _bell(pairs[4, i], fins[_LAG, z, i])
        rate = min(max(bell * (1.0 - _LESS_SHARE * much), 0.0), _FITTED_TO)
        lost = 1.0 - kept / gain if gain > 0.0 else 0.0
        lost = min(max(lost, 0.0), _FITTED_TO)
        angle = min(max(1.0 - gain, 0.0), _FITTED_TO)
        high = rate * (_RATE_HIGH * rate + _BOTH_HIGH * lost - _BOTH_LOW * angle)
        sums += pairs[0, i] * (high + _STALL_HIGH * lost * lost)
        total += pairs[0, i]
    if not total > 0.0:
        return 1.0
    mean = min(max(sums / total, -_MOST_FITTED), _MOST_FITTED)
    return math.exp(-2.0 * mean * min(total / _FULL_MOMENT, 1.0))


@compile_loop
def join_groups(felt, count, pairs, weight, spread, roll, fins):  # type: ignore[no-untyped-def]
    """Replace the results of the first sea by the mean over the three seas.

    As ``group_shares``, ``over_groups``, ``sums_over_groups`` and ``roll_fitted``. ``roll``
    (3, lanes, 6) begins with the variances of roll [rad2], roll rate and roll acceleration;
    ``fins`` (3, outputs, lanes, pairs).
    """
    for a in range(count):
        z = felt[a]
        own, greater = roll[0, z, 0], roll[2, z, 0]
        most = own * (1.0 + spread[z]) ** _STEEPEST
        there = (most - own) / (greater - own) if greater > most else 1.0
        half = 0.5 * weight[z]
        s0, s1, s2 = 1.0 - weight[z] + half * (1.0 - there), half, half * there
        for i in range(pairs.shape[1]):
            first, less, more = (
                fins[0, _LIFT_MEAN, z, i], fins[1, _LIFT_MEAN, z, i], fins[2, _LIFT_MEAN, z, i],
            )  # fmt: skip
            for q in _SQUARES:
                one, two, three = fins[0, q, z, i], fins[1, q, z, i], fins[2, q, z, i]
                fins[0, q, z, i] = math.sqrt(s0 * one * one + s1 * two * two + s2 * three * three)
            for q in _MEANS:
                fins[0, q, z, i] = (
                    s0 * fins[0, q, z, i] + s1 * fins[1, q, z, i] + s2 * fins[2, q, z, i]
                )
            fins[0, _LAG, z, i] = 1.0 / (
                s0 / fins[0, _LAG, z, i] + s1 / fins[1, _LAG, z, i] + s2 / fins[2, _LAG, z, i]
            )
            between = s0 * first * first + s1 * less * less + s2 * more * more
            between = max(between - fins[0, _LIFT_MEAN, z, i] ** 2, 0.0)
            if between > 0.0:
                fins[0, _LIFT, z, i] = math.sqrt(fins[0, _LIFT, z, i] ** 2 + between)
        for q in range(roll.shape[2]):
            roll[0, z, q] = s0 * roll[0, z, q] + s1 * roll[1, z, q] + s2 * roll[2, z, q]
        fitted = _fitted(z, pairs, fins[0])
        for q in range(3):
            roll[0, z, q] *= fitted


@compile_loop
def fit_lanes(lanes, pairs, fins):  # type: ignore[no-untyped-def]
    """As ``wave_groups.fit_to_time``, in place; fin outputs in their own units, rad and [rad/s]."""
    for i in range(pairs.shape[1]):
        for z in range(lanes):
            bell, much = _bell(pairs[4, i], fins[_LAG, z, i])
            fins[_TRAVEL, z, i] /= 1.0 + _LESS_TRAVEL * much
            less = _LEFT_BEYOND
            if bell > 0.0:
                less *= math.exp(-_BEYOND_FALL * bell)
            fins[_BEYOND, z, i] *= math.sqrt(less)
