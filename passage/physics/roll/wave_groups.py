"""Effect of wave groups on fins at their limits.

Large waves come in groups. In a group the fins are at their limits and she rolls more than
for a Gaussian; between groups the fins have little to do. Away from the limits this changes
nothing, because the mean square of a linear response does not depend on groups. At the
limits the result is a weighted mean over three: the actual sea, one with less energy and one
with more, each solved as before. ``limit_fit.py`` then corrects what is left of the error;
docs/roll-validation.md gives its scatter on cases not fitted to.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passage.physics.roll.packing import FINS_OUT, SHORTEST_LAG_S

FloatArray = NDArray[np.float64]

#: Energy of the lower and of the higher sea over that of the actual one, and their shares in the
#: mean. The energy averaged over a few waves has about a gamma distribution; with a shape
#: parameter of 5 the mean over many seas is nearest to simulations in time, and these three
#: stand for it. Their mean energy is the actual one.
LESSER, GREATER = 0.57, 2.0
LESSER_SHARE = 0.25
GREATER_SHARE = LESSER_SHARE * (1.0 - LESSER) / (GREATER - 1.0)
#: Share of time at a limit or beyond the stall from which groups have full weight.
IN_FULL = 0.02
#: Share of time below which groups have no weight.
FELT_FROM = 1e-4
#: Moment of a pair over the righting moment, per radian, from which its groups have full
#: weight; below, their weight falls to zero with the moment (assumption: 20 deg of such a pair
#: hold 0.2 deg of heel, less than any fins fitted in practice).
FULL_MOMENT = 0.01
#: Reduction of the share of time at the rate limit in the middle of its range: fins that are often
#: there have a demand that is no longer Gaussian (fitted to simulations in time).
LESS_SHARE = 2.2

_ROW = {name: i for i, name in enumerate(FINS_OUT)}
#: Outputs that are averaged in the mean square, and those averaged directly.
_SQUARES = tuple(_ROW[n] for n in ("command", "angle", "incidence", "lift", "rate", "beyond"))
_MEANS = tuple(_ROW[n] for n in ("mean", "lift_mean", "travel", "gain", "lift_gain", "inflow_gain"))


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
        inside it; up to a third less from half of the time on (fitted).
    """
    own = np.maximum(np.asarray(lag_s, float), SHORTEST_LAG_S)
    bell = np.maximum(1.0 - own / np.asarray(effective_lag_s, float), 0.0)
    return np.asarray(bell * (1.0 - LESS_SHARE * bell**2 * (1.0 - bell)))


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
    part = np.clip((np.maximum.reduce(shares) - FELT_FROM) / (IN_FULL - FELT_FROM), 0.0, 1.0)
    moment = np.asarray(moment_ratio, float)
    counts = np.clip(moment / FULL_MOMENT, 0.0, 1.0)
    most = np.max(np.where(moment > 0.0, counts * part, 0.0), axis=-1)
    return np.where(np.isnan(most), 0.0, most)


def group_shares(weight: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Shares of the actual sea, the lower and the higher one in the mean; they sum to one.

    ``weight`` (P,) from :func:`group_weight`; three arrays (P,). [dimensionless]
    """
    lower, higher = LESSER_SHARE * weight, GREATER_SHARE * weight
    return 1.0 - lower - higher, lower, higher


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
