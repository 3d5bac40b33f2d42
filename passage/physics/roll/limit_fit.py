"""Correction of roll, lift and travel where fins are at their limits, fitted to simulations.

With fins at a limit, roll is not Gaussian: it is small most of the time, with bursts in the
wave groups (kurtosis up to 10; that of a Gaussian is 3). The mean over three seas
(``wave_groups.py``) holds most of this. The rest depends on how steeply roll grows with the
sea, on the share of time at each limit in each of the three seas, and on damping and lag. A small
network of one hidden layer takes these numbers, all dimensionless, and gives the logarithm
of a factor on roll, lift, travel and incidence beyond stall.

Its coefficients are in ``limit_fit_numbers.py``, made by ``tests/benchmarks/fit_limits.py`` from
simulations in time; docs/roll-validation.md gives the errors on cases it was not fitted to.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passage.physics.compiled import compile_loop, compile_part
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
from passage.physics.roll.packing import FINS_OUT, SHORTEST_LAG_S
from passage.physics.roll.wave_groups import FULL_MOMENT, GREATER, LESSER

FloatArray = NDArray[np.float64]

#: Inputs, for one pair of fins. ``growth``: logarithm of roll variance per energy in the lower and
#: the higher sea over that in the actual one. Then in each of the three seas share of time at
#: the angle limit, at the rate limit, and share of lift lost to stall.
INPUTS = (
    "growth_lower", "growth_higher",
    "angle", "angle_lower", "angle_higher",
    "rate", "rate_lower", "rate_higher",
    "stall", "stall_lower", "stall_higher",
    "inflow_stalled", "damping", "damping_higher", "crossing", "bandwidth", "lag", "offset",
)  # fmt: skip
#: Outputs: logarithms of factors on the variance of roll, the mean square of lift, the travel
#: and the mean square beyond stall.
OUTPUTS = ("roll", "lift", "travel", "beyond")
#: Inputs are cut off at this many standard deviations of the cases fitted to.
FURTHEST = 4.0
#: Rms of the angle asked for, from which fins count as controlled. [rad]
STEERED_RAD = 0.05
#: Least lift as a share of the incidence, both mean squares: deep in the stall the Gaussian
#: leaves none.
LEAST_LIFT = 0.15
#: Share of time at a limit or beyond the stall, and half the width of the band of roll there: 90 of
#: 100 seas simulated that nothing was fitted to lie within it (docs/roll-validation.md). Beyond
#: 80 % nothing was simulated: the last number is an assumption. [dimensionless]
BUSY_SHARE = (0.0, 0.02, 0.10, 0.30, 0.50, 0.80, 1.0)
BUSY_SPREAD = (0.0, 0.02, 0.03, 0.04, 0.05, 0.05, 0.10)
_TINY = 1e-30
_PER_SCALE = 1.0 / SCALES

(_MEAN, _INCIDENCE, _LIFT_MEAN, _LIFT, _TRAVEL, _GAIN, _LAG, _LIFT_GAIN, _INFLOW_GAIN, _BEYOND) = (
    FINS_OUT.index(name)
    for name in (
        "mean", "incidence", "lift_mean", "lift", "travel", "gain", "lag", "lift_gain",
        "inflow_gain", "beyond",
    )
)  # fmt: skip


@compile_part
def put_inputs(z, i, rolls, fins, lag, limit, w0, put):  # type: ignore[no-untyped-def]
    """Inputs of point z and pair i into ``put``, in the order of ``INPUTS``; dimensionless.

    ``rolls`` (3, P, any) has the actual, the lower and the higher sea, with the variances of
    roll, rate and acceleration in columns 0 to 2 and the damping ratio in column 4; ``fins``
    (3, outputs, P, pairs) as in ``packing.FINS_OUT``. Lag [s], limit [rad], w0 [rad/s].
    """
    own = max(lag, SHORTEST_LAG_S)
    m0, m2, m4 = max(rolls[0, z, 0], _TINY), max(rolls[0, z, 1], _TINY), max(rolls[0, z, 2], _TINY)
    put[0] = math.log(max(rolls[1, z, 0], _TINY) / (LESSER * m0))
    put[1] = math.log(max(rolls[2, z, 0], _TINY) / (GREATER * m0))
    for sea in range(3):
        gain = fins[sea, _GAIN, z, i]
        put[2 + sea] = 1.0 - gain
        put[5 + sea] = 1.0 - own / fins[sea, _LAG, z, i]
        put[8 + sea] = 1.0 - fins[sea, _LIFT_GAIN, z, i] / max(gain, 1e-9)
    put[11] = 1.0 - fins[0, _INFLOW_GAIN, z, i]
    put[12] = math.log(max(rolls[0, z, 4], 1e-3))
    put[13] = math.log(max(rolls[2, z, 4], 1e-3))
    put[14] = math.log(math.sqrt(m2 / m0) / w0)
    put[15] = math.log(m4 * m0 / (m2 * m2))
    put[16] = own * w0
    put[17] = abs(fins[0, _MEAN, z, i]) / limit


@compile_part
def answer_inputs(put, hidden, found):  # type: ignore[no-untyped-def]
    """Outputs of the network into ``found``, ``hidden`` for working. [dimensionless]"""
    for h in range(hidden.size):
        hidden[h] = HIDDEN_START[h]
    for j in range(put.size):
        x = min(max((put[j] - CENTRES[j]) * _PER_SCALE[j], -FURTHEST), FURTHEST)
        for h in range(hidden.size):
            hidden[h] += x * HIDDEN[j, h]
    for q in range(found.size):
        found[q] = OUTER_START[q]
    for h in range(hidden.size):
        bent = hidden[h] / math.sqrt(1.0 + hidden[h] * hidden[h])
        for q in range(found.size):
            found[q] += bent * OUTER[h, q]
    for q in range(found.size):
        found[q] = min(max(found[q], SMALLEST[q]), LARGEST[q])


@compile_loop
def all_inputs(rolls, fins, lag, limit, w0, put):  # type: ignore[no-untyped-def]
    """:func:`put_inputs` for all points and pairs, into ``put`` (P, pairs, inputs).

    ``lag`` [s] and ``limit`` [rad] (P, pairs), ``w0`` (P,) in [rad/s].
    """
    for z in range(put.shape[0]):
        for i in range(put.shape[1]):
            put_inputs(z, i, rolls, fins, lag[z, i], limit[z, i], w0[z], put[z, i])


@compile_loop
def all_answers(put, found):  # type: ignore[no-untyped-def]
    """:func:`answer_inputs` for ``put`` (P, pairs, inputs), into ``found`` (P, pairs, outputs).

    [dimensionless]
    """
    hidden = np.zeros(HIDDEN_START.size)
    for z in range(put.shape[0]):
        for i in range(put.shape[1]):
            answer_inputs(put[z, i], hidden, found[z, i])


def limit_inputs(
    rolls: FloatArray,
    fins: FloatArray,
    lag_s: ArrayLike,
    angle_limit_rad: ArrayLike,
    omega0: ArrayLike,
) -> FloatArray:
    """Inputs of all points and pairs, (P, pairs, inputs), dimensionless.

    Parameters
    ----------
    rolls : ndarray, (3, P, any)
        Of the actual sea, the lower and the higher one: variances of roll, its rate and
        acceleration in columns 0 to 2, damping ratio in column 4.
    fins : ndarray, (3, outputs, P, pairs)
        The same, in the order of ``packing.FINS_OUT``.
    lag_s, angle_limit_rad : array_like, (P, pairs) or (pairs,)
        Lag of each actuator [s] and angle limit [rad].
    omega0 : array_like, (P,)
        Natural frequency. [rad/s]
    """
    shape = fins.shape[2:]
    put = np.empty((*shape, len(INPUTS)))
    lag, limit = (
        np.array(np.broadcast_to(np.asarray(one, float), shape)) for one in (lag_s, angle_limit_rad)
    )
    w0 = np.array(np.broadcast_to(np.asarray(omega0, float), shape[:1]))
    all_inputs(np.ascontiguousarray(rolls), np.ascontiguousarray(fins), lag, limit, w0, put)
    return put


def roll_spread(share_at_limit: ArrayLike, share_beyond_stall: ArrayLike) -> FloatArray:
    """How far the roll computed may be out, either way, where fins are at their limits.

    Parameters
    ----------
    share_at_limit, share_beyond_stall : array_like, P + (pairs,)
        Shares of time at a limit of angle or rate, and beyond the stall. [dimensionless]

    Returns
    -------
    ndarray, P
        Half-width of the band over the roll, of the pair that is at a limit most. NaN in gives
        NaN out. [dimensionless]
    """
    shares = (np.asarray(one, dtype=float) for one in (share_at_limit, share_beyond_stall))
    busy = np.maximum(*(np.max(one, axis=-1, initial=0.0) for one in shares))
    return np.asarray(np.interp(busy, BUSY_SHARE, BUSY_SPREAD))


def lift_square(fins: FloatArray) -> FloatArray:
    """Mean square of lift over its slope, (P, pairs), before the correction. [rad2]

    ``fins`` (outputs, P, pairs) in the order of ``packing.FINS_OUT``.
    """
    lift = fins[_LIFT] ** 2 + fins[_LIFT_MEAN] ** 2
    incidence = fins[_INCIDENCE] ** 2 + fins[_MEAN] ** 2
    return np.asarray(np.maximum(lift, LEAST_LIFT * incidence))


def fit_to_time(
    rolls: FloatArray,
    fins: FloatArray,
    inputs: FloatArray,
    weight: FloatArray,
    command_rad: FloatArray,
    moment_ratio: ArrayLike,
) -> None:
    """Correct the mean over three seas to simulations in time; ``rolls``, ``fins`` in place.

    Parameters
    ----------
    rolls : ndarray, (any, P)
        Rows 0 to 2 variance of roll, its rate and acceleration. [rad2], [rad2/s2], [rad2/s4]
    fins : ndarray, (outputs, P, pairs)
        In the order of ``packing.FINS_OUT``.
    inputs : ndarray, (P, pairs, inputs)
        From :func:`limit_inputs`. [dimensionless]
    weight : ndarray, (P,)
        Weight of groups, from ``wave_groups.group_weight``. [dimensionless]
    command_rad : ndarray, (P, pairs)
        Rms of the angle asked for in the actual sea; without any there is no correction. [rad]
    moment_ratio : array_like, (P, pairs) or (pairs,)
        Moment of the pair over the righting moment. [dimensionless]

    Notes
    -----
    The factor on roll is the mean over the pairs, weighted by their moments.
    """
    found = np.empty((*inputs.shape[:2], len(OUTPUTS)))
    all_answers(inputs, found)
    found *= (weight[:, None] * np.clip(command_rad / STEERED_RAD, 0.0, 1.0))[:, :, None]
    roll, lift, travel, beyond = np.moveaxis(found, -1, 0)
    moment = np.broadcast_to(np.asarray(moment_ratio, float), roll.shape)
    total = moment.sum(axis=-1)
    mean = np.sum(moment * roll, axis=-1) / np.where(total > 0.0, total, 1.0)
    rolls[:3] *= np.exp(mean * np.clip(total / FULL_MOMENT, 0.0, 1.0))
    fins[_TRAVEL] *= np.exp(travel)
    fins[_BEYOND] *= np.exp(0.5 * beyond)
    steady = fins[_LIFT_MEAN] ** 2
    fins[_LIFT] = np.sqrt(np.maximum(lift_square(fins) * np.exp(lift) - steady, 0.0))
