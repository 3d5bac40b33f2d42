"""What groups of waves do to fins at their limits.

Large waves come in groups. In a group the fins are out of reach and she rolls more than
a bell curve knows; between groups they are idle. Where the fins are free, that changes
nothing, because the mean square of a linear response does not know groups. Where they
are not, the answer is the mean of two seas, one with less energy than the sea at hand and
one with as much more, each solved as before. How far apart the two lie is fitted to
simulations in time; the fit and its scatter on other cases are in
docs/roll-validation.md.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passage.physics.roll.packing import FINS_OUT, SHORTEST_LAG_S

FloatArray = NDArray[np.float64]

#: Share of the sea's energy by which the two seas lie apart from it, at the angle limit and
#: beyond the stall. Fitted to simulations in time (tests/time_domain.py).
GROUP_SPREAD = 0.43
#: The same at the rate limit, which is met at the highest waves alone first: most that comes
#: on top of what is left where it is met nearly always, and the share where that fades.
_RATE_SPREAD, _MORE_RATE_SPREAD, _SPREAD_FADES = 0.30, 0.55, 0.22
#: Share of time at a limit or beyond the stall from which groups count in full; below it
#: their part grows from nothing.
_IN_FULL = 0.02
#: Below this share nothing is left of them.
FELT_FROM = 1e-4
#: Moment of a pair over the righting moment, per radian, from which its groups count in
#: full; below it their part goes to nothing with the pair (assumption: 20 deg of such a pair
#: hold 0.2 deg of heel, less than any fins that are fitted for use).
_FULL_MOMENT = 0.01
#: Steepest that the variance of roll counts as growing with the energy of the sea.
_STEEPEST = 4.0
#: Logarithm of roll in excess of simulations, by the share of time at the rate limit, the
#: share of lift lost to the stall, both, and (less roll) the angle and the rate limit; the
#: largest share and the largest correction.
_RATE_HIGH, _STALL_HIGH, _BOTH_HIGH, _BOTH_LOW = 0.14, 0.04, 1.18, 0.30
_FITTED_TO, _MOST_FITTED = 0.6, 0.15

_ROW = {name: i for i, name in enumerate(FINS_OUT)}
#: Of these the mean square is taken, of the others the mean.
_SQUARES = tuple(_ROW[n] for n in ("command", "angle", "incidence", "lift", "rate", "beyond"))
_MEANS = tuple(_ROW[n] for n in ("mean", "lift_mean", "travel", "gain", "lift_gain", "inflow_gain"))


#: Where the rate limit is felt often, the demand on it is no bell curve any more: less
#: time at it, less travel and less beyond the stall than one gives. Fitted to the same
#: simulations: most that is taken off the share of time, most that is taken off travel,
#: and the share at which 63 % of both is reached.
_LESS_SHARE, _LESS_TRAVEL, _REACHED_AT = 0.30, 0.12, 0.12
#: Mean square beyond the stall that is left, and how fast it falls with the share.
_LEFT_BEYOND, _BEYOND_FALL = 0.83, 2.5


def _rate_share(lag_s: ArrayLike, effective_lag_s: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Share of time at the rate limit by the bell curve, and how far the fit counts."""
    own = np.maximum(np.asarray(lag_s, float), SHORTEST_LAG_S)
    bell = np.maximum(1.0 - own / np.asarray(effective_lag_s, float), 0.0)
    return np.asarray(bell), np.asarray(1.0 - np.exp(-bell / _REACHED_AT))


def share_rate_limited(lag_s: ArrayLike, effective_lag_s: ArrayLike) -> FloatArray:
    """Share of time a fin runs at its rate limit.

    Parameters
    ----------
    lag_s, effective_lag_s : array_like
        Lag of the actuator, and with its rate limit (``linearisation.rate_lag``). [s]

    Returns
    -------
    ndarray
        ``1 - lag/effective lag``, for the linear gain that a limit leaves is the share of
        time inside it; up to 30 % less where it is large (fitted).
    """
    bell, much = _rate_share(lag_s, effective_lag_s)
    return np.asarray(bell * (1.0 - _LESS_SHARE * much))


def fit_to_time(fins_out: FloatArray, lag_s: ArrayLike) -> None:
    """Take off travel, and off what lies beyond the stall, what simulations lack; in place.

    Parameters
    ----------
    fins_out : ndarray, (answers, P, pairs)
        In the order of ``packing.FINS_OUT``, groups counted.
    lag_s : array_like, (P, pairs) or (pairs,)
        Lag of each actuator. [s]
    """
    bell, much = _rate_share(lag_s, fins_out[_ROW["lag"]])
    fins_out[_ROW["travel"]] /= 1.0 + _LESS_TRAVEL * much
    fins_out[_ROW["beyond"]] *= np.sqrt(_LEFT_BEYOND * np.exp(-_BEYOND_FALL * bell))


def share_beyond_stall(inflow_gain: ArrayLike, post_stall_slope: ArrayLike) -> FloatArray:
    """Share of time beyond the stall, from the gain it leaves to the inflow.

    Parameters
    ----------
    inflow_gain, post_stall_slope : array_like
        Gain that the stall leaves to the inflow, and fall of the lift past it as a share of
        its slope. [dimensionless]

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
    """How far groups count at each point, 0 to 1.

    Parameters
    ----------
    fins_out : ndarray, (answers, P, pairs)
        Answers of the solver, in the order of ``packing.FINS_OUT``.
    lag_s, fall, moment_ratio : array_like, (P, pairs) or (pairs,)
        Lag of each actuator [s], fall of the lift past its stall, and moment of the pair over
        the righting moment [dimensionless]: one with next to none counts for next to nothing.

    Returns
    -------
    ndarray, (P,)
        From the largest share at the angle limit, at the rate limit or beyond the stall.
        [dimensionless]
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
    """How far the two seas lie apart from the sea at hand, as a share of its energy, (P,).

    Parameters as in :func:`group_weight`, answers without groups; lag in [s]. Between the value for
    the angle limit and the stall and that for the rate limit, by which of them rules.
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
    """How much the sea itself, the lesser and the greater one count, adding up to one.

    Parameters
    ----------
    own, greater : ndarray, (P,)
        Variance of roll in the sea itself and in the greater one. [rad2]
    spread, weight : ndarray, (P,)
        From :func:`group_spread` and :func:`group_weight`. [dimensionless]

    Returns
    -------
    three ndarrays, (P,)
        [dimensionless]

    Notes
    -----
    Where fins give way all at once, the greater sea alone would make her roll several times
    as much. A group is over before she gets there: variance of roll counts up to the fourth
    power of the energy (fitted), and for the rest of the time the sea itself counts.
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
    """Fin answers of the sea itself, the lesser and the greater one, brought together.

    Parameters
    ----------
    answers : three ndarrays, (answers, P, pairs)
        In the order of ``packing.FINS_OUT``.
    shares : three ndarrays, (P,)
        From :func:`group_shares`. [dimensionless]

    Returns
    -------
    ndarray, (answers, P, pairs)
        Each in its own unit, as in ``packing.FINS_OUT``.
    """
    found = np.empty_like(answers[0])

    def mean(values: list[FloatArray]) -> FloatArray:
        return np.asarray(sum(s[:, None] * v for s, v in zip(shares, values, strict=True)))

    for row in _SQUARES:
        found[row] = np.sqrt(mean([one[row] ** 2 for one in answers]))
    for row in _MEANS:
        found[row] = mean([one[row] for one in answers])
    # The lag goes by the share of time that the rate limit leaves free.
    lag = _ROW["lag"]
    found[lag] = 1.0 / mean([1.0 / one[lag] for one in answers])
    # Lift about its own mean, which differs between the seas.
    lift = _ROW["lift_mean"]
    between = mean([one[lift] ** 2 for one in answers]) - found[lift] ** 2
    found[_ROW["lift"]] = np.sqrt(found[_ROW["lift"]] ** 2 + np.maximum(between, 0.0))
    return found


def sums_over_groups(
    answers: tuple[FloatArray, FloatArray, FloatArray],
    shares: tuple[FloatArray, FloatArray, FloatArray],
) -> FloatArray:
    """The same for variances of roll, mean heel and damping, ``(any, P)``. [any unit]"""
    return np.asarray(sum(share * one for share, one in zip(shares, answers, strict=True)))


def roll_fitted(fins_out: FloatArray, lag_s: ArrayLike, moment_ratio: ArrayLike) -> FloatArray:
    """What to multiply the variance of roll by where fins are at limits much of the time.

    Parameters as in :func:`group_weight`, groups counted. At the rate limit alone, and where
    it and the stall come together, she rolls less than the two seas say; where the angle limit
    is met by fins that turn as fast as they can, more. Fitted to simulations in time.

    Returns
    -------
    ndarray, (P,)
        [dimensionless]
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
