"""Effect of wave groups on fins at their limits.

Large waves come in groups. In a group the fins are at their limits and she rolls more than
for a Gaussian; between groups the fins have little to do. Away from the limits this changes
nothing, because the mean square of a linear response does not depend on groups. At the
limits the result is the mean over two seas, one with less energy than the actual sea and one
with as much more, each solved as before. The distance between the two is fitted to
simulations in time; docs/roll-validation.md gives the fit and its scatter on other cases.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passage.physics.roll.packing import FINS_OUT, SHORTEST_LAG_S

FloatArray = NDArray[np.float64]

#: Difference in energy of either sea from the actual one, as a share, at the angle limit and
#: beyond the stall. Fitted to simulations in time (tests/time_domain.py).
GROUP_SPREAD = 0.43
#: The same at the rate limit: where fins are at it nearly always; the addition where only the
#: highest waves bring them there; and the share of time at which that addition fades.
_RATE_SPREAD, _MORE_RATE_SPREAD, _SPREAD_FADES = 0.30, 0.55, 0.22
#: Share of time at a limit or beyond the stall from which groups have full weight.
_IN_FULL = 0.02
#: Share of time below which groups have no weight.
FELT_FROM = 1e-4
#: Moment of a pair over the righting moment, per radian, from which its groups have full
#: weight; below, their weight falls to zero with the moment (assumption: 20 deg of such a pair
#: hold 0.2 deg of heel, less than any fins fitted in practice).
_FULL_MOMENT = 0.01
#: Largest power of the sea's energy with which the variance of roll may grow.
_STEEPEST = 4.0
#: Excess of roll over simulations, as a logarithm: coefficients of the rate limit, of the lift
#: lost to the stall, of both, and (with opposite sign) of rate and angle limit; then the
#: largest share of time and the largest correction.
_RATE_HIGH, _STALL_HIGH, _BOTH_HIGH, _BOTH_LOW = 0.14, 0.04, 1.18, 0.30
_FITTED_TO, _MOST_FITTED = 0.6, 0.15

_ROW = {name: i for i, name in enumerate(FINS_OUT)}
#: Outputs that are averaged in the mean square, and those averaged directly.
_SQUARES = tuple(_ROW[n] for n in ("command", "angle", "incidence", "lift", "rate", "beyond"))
_MEANS = tuple(_ROW[n] for n in ("mean", "lift_mean", "travel", "gain", "lift_gain", "inflow_gain"))


#: Fins that are often at the rate limit have a demand that is no longer Gaussian: they spend
#: less time at it, travel less and stall less than a Gaussian gives. Fitted to the same
#: simulations: largest reduction of the share of time, largest reduction of travel, and share
#: at which 63 % of both is reached.
_LESS_SHARE, _LESS_TRAVEL, _REACHED_AT = 0.30, 0.12, 0.12
#: Factor on the mean square beyond the stall, and its rate of fall with the share of time.
_LEFT_BEYOND, _BEYOND_FALL = 0.83, 2.5


def _rate_share(lag_s: ArrayLike, effective_lag_s: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Share of time at the rate limit for a Gaussian, and weight of the fit, 0 to 1."""
    own = np.maximum(np.asarray(lag_s, float), SHORTEST_LAG_S)
    bell = np.maximum(1.0 - own / np.asarray(effective_lag_s, float), 0.0)
    return np.asarray(bell), np.asarray(1.0 - np.exp(-bell / _REACHED_AT))


def share_rate_limited(lag_s: ArrayLike, effective_lag_s: ArrayLike) -> FloatArray:
    """Share of time that a fin turns at its rate limit. Dimensionless.

    Parameters
    ----------
    lag_s, effective_lag_s : array_like
        Lag of the actuator without and with its rate limit (``linearisation.rate_lag``). [s]

    Returns
    -------
    ndarray
        ``1 - lag/effective lag``, because the linear gain of a limit is the share of time
        inside it; up to 30 % less where it is large (fitted).
    """
    bell, much = _rate_share(lag_s, effective_lag_s)
    return np.asarray(bell * (1.0 - _LESS_SHARE * much))


def fit_to_time(fins_out: FloatArray, lag_s: ArrayLike) -> None:
    """Reduce travel and the incidence beyond stall to those of simulations, in place.

    Parameters
    ----------
    fins_out : ndarray, (answers, P, pairs)
        Outputs with wave groups, in the order of ``packing.FINS_OUT``.
    lag_s : array_like, (P, pairs) or (pairs,)
        Lag of each actuator. [s]
    """
    bell, much = _rate_share(lag_s, fins_out[_ROW["lag"]])
    fins_out[_ROW["travel"]] /= 1.0 + _LESS_TRAVEL * much
    fins_out[_ROW["beyond"]] *= np.sqrt(_LEFT_BEYOND * np.exp(-_BEYOND_FALL * bell))


def share_beyond_stall(inflow_gain: ArrayLike, post_stall_slope: ArrayLike) -> FloatArray:
    """Share of time beyond the stall, from the linear gain of lift for the inflow.

    Parameters
    ----------
    inflow_gain, post_stall_slope : array_like
        Gain of lift for the inflow with stall, and slope of the falling lift as a share of
        that before the stall. [dimensionless]

    Returns
    -------
    ndarray
        Share, 0 or more. [dimensionless]
    """
    lost = 1.0 - np.asarray(inflow_gain, float)
    return np.asarray(np.maximum(lost / (1.0 + np.asarray(post_stall_slope, float)), 0.0))


def group_weight(
    fins_out: FloatArray, lag_s: ArrayLike, fall: ArrayLike, moment_ratio: ArrayLike
) -> FloatArray:
    """Weight of wave groups at each point, 0 to 1. Dimensionless.

    Parameters
    ----------
    fins_out : ndarray, (outputs, P, pairs)
        Outputs of the solver, in the order of ``packing.FINS_OUT``.
    lag_s, fall, moment_ratio : array_like, (P, pairs) or (pairs,)
        Lag of each actuator [s], slope of the falling lift past its stall, and moment of the
        pair over the righting moment [dimensionless].

    Returns
    -------
    ndarray, (P,)
        Weight by the largest share of time at the angle limit, at the rate limit or beyond
        the stall; a pair of small moment has a small weight.
    """
    shares = [
        1.0 - fins_out[_ROW["gain"]],
        share_rate_limited(lag_s, fins_out[_ROW["lag"]]),
        share_beyond_stall(fins_out[_ROW["inflow_gain"]], fall),
    ]
    part = np.clip((np.maximum.reduce(shares) - FELT_FROM) / (_IN_FULL - FELT_FROM), 0.0, 1.0)
    moment = np.asarray(moment_ratio, float)
    counts = np.clip(moment / _FULL_MOMENT, 0.0, 1.0)
    most = np.max(np.where(moment > 0.0, counts * part, 0.0), axis=-1)
    return np.where(np.isnan(most), 0.0, most)


def group_spread(fins_out: FloatArray, lag_s: ArrayLike, fall: ArrayLike) -> FloatArray:
    """Difference of the two seas from the actual one, as a share of its energy, (P,).

    Parameters as in :func:`group_weight`, outputs without groups; lag in [s]. The value for
    the angle limit and stall and that for the rate limit are mixed by the share of time at
    each. Dimensionless.
    """
    bell = np.max(_rate_share(lag_s, fins_out[_ROW["lag"]])[0], axis=-1)
    other = np.max(1.0 - fins_out[_ROW["gain"]], axis=-1)
    other = other + np.max(share_beyond_stall(fins_out[_ROW["inflow_gain"]], fall), axis=-1)
    rules = bell / np.maximum(bell + other, 1e-12)
    rate = _RATE_SPREAD + _MORE_RATE_SPREAD * np.exp(-((bell / _SPREAD_FADES) ** 2))
    return np.asarray((1.0 - rules) * GROUP_SPREAD + rules * rate)


def group_shares(
    own: FloatArray, greater: FloatArray, spread: FloatArray, weight: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Shares of the actual sea, the lower and the higher one in the mean; they sum to one.

    Parameters
    ----------
    own, greater : ndarray, (P,)
        Variance of roll in the actual and in the higher sea. [rad2]
    spread, weight : ndarray, (P,)
        From :func:`group_spread` and :func:`group_weight`. [dimensionless]

    Returns
    -------
    three ndarrays, (P,)
        Shares, dimensionless.

    Notes
    -----
    Where fins lose their hold at once, the higher sea alone would make her roll several times
    as much, but a group is over before she reaches that. The variance of roll may therefore
    grow with the fourth power of the energy at most (fitted); for the rest of the share the
    actual sea counts.
    """
    most = own * (1.0 + spread) ** _STEEPEST
    with np.errstate(invalid="ignore", divide="ignore"):
        there = np.where(greater > most, (most - own) / (greater - own), 1.0)
    half = 0.5 * weight
    return 1.0 - weight + half * (1.0 - there), half, half * there


def over_groups(
    answers: tuple[FloatArray, FloatArray, FloatArray],
    shares: tuple[FloatArray, FloatArray, FloatArray],
) -> FloatArray:
    """Mean of the fin outputs over the actual sea, the lower and the higher one.

    Parameters
    ----------
    answers : three ndarrays, (outputs, P, pairs)
        Outputs of the three seas, in the order of ``packing.FINS_OUT``.
    shares : three ndarrays, (P,)
        From :func:`group_shares`. [dimensionless]

    Returns
    -------
    ndarray, (outputs, P, pairs)
        Each in its own unit, in the same order.
    """
    found = np.empty_like(answers[0])

    def mean(values: list[FloatArray]) -> FloatArray:
        return np.asarray(sum(s[:, None] * v for s, v in zip(shares, values, strict=True)))

    for row in _SQUARES:
        found[row] = np.sqrt(mean([one[row] ** 2 for one in answers]))
    for row in _MEANS:
        found[row] = mean([one[row] for one in answers])
    # 1/lag is proportional to the share of time below the rate limit, so it is averaged.
    lag = _ROW["lag"]
    found[lag] = 1.0 / mean([1.0 / one[lag] for one in answers])
    # The mean lift differs between the seas; its scatter adds to the rms.
    lift = _ROW["lift_mean"]
    between = mean([one[lift] ** 2 for one in answers]) - found[lift] ** 2
    found[_ROW["lift"]] = np.sqrt(found[_ROW["lift"]] ** 2 + np.maximum(between, 0.0))
    return found


def sums_over_groups(
    answers: tuple[FloatArray, FloatArray, FloatArray],
    shares: tuple[FloatArray, FloatArray, FloatArray],
) -> FloatArray:
    """Mean over the three seas of variances of roll, heel and damping, (any, P). [any unit]"""
    return np.asarray(sum(share * one for share, one in zip(shares, answers, strict=True)))


def roll_fitted(fins_out: FloatArray, lag_s: ArrayLike, moment_ratio: ArrayLike) -> FloatArray:
    """Factor on the variance of roll where fins are often at their limits. Dimensionless.

    Parameters as in :func:`group_weight`, outputs with groups. She rolls less than the mean of
    the two seas at the rate limit alone and at the rate limit with stall, and more where fins
    are at both the rate and the angle limit. Fitted to simulations in time.

    Returns
    -------
    ndarray, (P,)
        Factor on the variance.
    """
    gain, kept = fins_out[_ROW["gain"]], fins_out[_ROW["lift_gain"]]
    with np.errstate(invalid="ignore", divide="ignore"):
        lost = np.where(gain > 0.0, 1.0 - kept / gain, 0.0)
    rate = np.clip(share_rate_limited(lag_s, fins_out[_ROW["lag"]]), 0.0, _FITTED_TO)
    angle, lost = np.clip(1.0 - gain, 0.0, _FITTED_TO), np.clip(lost, 0.0, _FITTED_TO)
    high = rate * (_RATE_HIGH * rate + _BOTH_HIGH * lost - _BOTH_LOW * angle)
    high = high + _STALL_HIGH * lost**2
    moment = np.broadcast_to(np.asarray(moment_ratio, float), high.shape)
    total = moment.sum(axis=-1)
    mean = np.sum(moment * high, axis=-1) / np.where(total > 0.0, total, 1.0)
    mean = np.clip(mean, -_MOST_FITTED, _MOST_FITTED) * np.clip(total / _FULL_MOMENT, 0.0, 1.0)
    return np.asarray(np.exp(-2.0 * np.where(np.isnan(mean), 0.0, mean)))
