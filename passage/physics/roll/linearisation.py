"""Statistical linearisation: equivalent linear gains of limits in a random sea.

For a Gaussian input, a limit, a stall or a quadratic damping is replaced by the linear gain of
least mean square error (random-input describing function) and, where the input has a mean, by
the mean of the output.

References
----------
Gelb and Vander Velde 1968, *Multiple-Input Describing Functions*; Roberts and
Spanos, *Random Vibration and Statistical Linearization* (both from memory; the formulas were
derived again and the tests check them by integration).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import erf

FloatArray = NDArray[np.float64]

#: The equivalent linear coefficient of b |p| p is this times b times the rms of p.
QUADRATIC_FACTOR = float(np.sqrt(8.0 / np.pi))
#: The equivalent linear gain of a sign function is this over the rms.
SIGN_FACTOR = float(np.sqrt(2.0 / np.pi))
#: The equivalent coefficient of b |p| p in regular rolling of rate amplitude p_a is this
#: times b p_a.
REGULAR_QUADRATIC_FACTOR = 8.0 / (3.0 * np.pi)

_SMALLEST = 1e-12  # a smaller rms counts as zero


def _edges(
    std: ArrayLike, mean: ArrayLike, limit: ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray]:
    s = np.maximum(np.asarray(std, float), _SMALLEST)
    m = np.asarray(mean, float)
    d = np.asarray(limit, float)
    return s, (d - m) / s, (d + m) / s


def limit_gain(std: ArrayLike, mean: ArrayLike, limit: ArrayLike) -> FloatArray:
    """Equivalent linear gain of a symmetric limit, equal to the share of time inside it.

    Parameters
    ----------
    std : array_like
        rms of the Gaussian signal about its mean. [any unit]
    mean : array_like
        Its mean. [same]
    limit : array_like
        The limit D, > 0; infinity means no limit. [same]

    Returns
    -------
    ndarray
        ``(erf((D-m)/(sqrt2 s)) + erf((D+m)/(sqrt2 s)))/2``, between 0 and 1. Dimensionless.
    """
    _, above, below = _edges(std, mean, limit)
    root = np.sqrt(2.0)
    return np.asarray(0.5 * (erf(above / root) + erf(below / root)))


def clipped_mean_std(
    std: ArrayLike, mean: ArrayLike, limit: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Mean of a Gaussian signal after a symmetric limit, and rms about that mean.

    Parameters as in :func:`limit_gain`, all in one unit, usually [rad], and broadcasting. NaN
    in gives NaN out.
    """
    s, above, below = _edges(std, mean, limit)
    m = np.asarray(mean, float)
    d = np.asarray(limit, float)
    root = np.sqrt(2.0)
    high = 0.5 * (1.0 - erf(above / root))  # share above the upper limit
    low = 0.5 * (1.0 - erf(below / root))
    inside = 1.0 - high - low
    norm = 1.0 / np.sqrt(2.0 * np.pi)
    pdf_high = norm * np.exp(-0.5 * np.minimum(above * above, 1400.0))
    pdf_low = norm * np.exp(-0.5 * np.minimum(below * below, 1400.0))
    unlimited = np.isinf(d)
    # An infinite limit is replaced by 0 to avoid 0 x inf; its result is set below.
    d, above, below = (np.where(unlimited, 0.0, a) for a in (d, above, below))
    # Moments about the mean before the limit, because a large offset would lose digits.
    first = (d - m) * high + (-d - m) * low + s * (pdf_low - pdf_high)
    second = (
        (d - m) ** 2 * high
        + (d + m) ** 2 * low
        + s * s * (inside - above * pdf_high - below * pdf_low)
    )
    first = np.where(unlimited, 0.0 * m, first)
    second = np.where(unlimited, s * s, second)
    return np.asarray(m + first), np.sqrt(np.maximum(second - first**2, 0.0))


def mean_absolute_clipped(std: ArrayLike, limit: ArrayLike) -> FloatArray:
    """Mean magnitude of a zero-mean Gaussian signal after a symmetric limit.

    Both in one unit, [rad/s] for the travel of a fin with a rate limit; broadcasting. Exact
    for a Gaussian signal.
    """
    s = np.maximum(np.asarray(std, float), _SMALLEST)
    x = np.asarray(limit, float) / s
    outside = 1.0 - erf(x / np.sqrt(2.0))
    over = np.where(outside > 0.0, np.asarray(limit, float), 0.0) * outside
    bell = 1.0 - np.exp(-0.5 * np.minimum(x * x, 1400.0))
    return np.asarray(s * SIGN_FACTOR * bell + over)


def rate_lag(lag_s: ArrayLike, rate_std: ArrayLike, rate_limit: ArrayLike) -> FloatArray:
    """Effective lag of a first-order actuator whose rate is limited. [s]

    Parameters
    ----------
    lag_s : array_like
        Lag tau of the actuator, >= 0. [s]
    rate_std : array_like
        rms of the rate without a limit, (commanded angle - actual angle)/tau. [rad/s]
    rate_limit : array_like
        Rate limit R. [rad/s]

    Returns
    -------
    ndarray
        tau over the linear gain of the limit, erf(R/(sqrt2 rate)). [s]
    """
    s = np.maximum(np.asarray(rate_std, float), _SMALLEST)
    gain = erf(np.asarray(rate_limit, float) / (np.sqrt(2.0) * s))
    return np.asarray(np.asarray(lag_s, float) / np.maximum(gain, 1e-9))
