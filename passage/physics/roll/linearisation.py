"""Statistical linearisation: gains that stand for limits in a random sea.

A limit, a stall or a quadratic damping met by a Gaussian signal is replaced by
the linear gain that errs least in the mean square (random-input describing
function), together with the mean that gets through when the signal is offset.

References
----------
Gelb and Vander Velde 1968, *Multiple-Input Describing Functions*; Roberts and
Spanos, *Random Vibration and Statistical Linearization* (both from memory, the
formulas derived again and checked by integration in the tests).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import erf

FloatArray = NDArray[np.float64]

#: Equivalent linear coefficient of b |p| p is this times b times the rms of p.
QUADRATIC_FACTOR = float(np.sqrt(8.0 / np.pi))
#: Equivalent linear gain of a sign function is this over the rms.
SIGN_FACTOR = float(np.sqrt(2.0 / np.pi))
#: Equivalent of b |p| p for regular rolling of amplitude p_a: this times b p_a.
REGULAR_QUADRATIC_FACTOR = 8.0 / (3.0 * np.pi)

_SMALLEST = 1e-12  # rms below this is none at all


def _edges(
    std: ArrayLike, mean: ArrayLike, limit: ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray]:
    s = np.maximum(np.asarray(std, float), _SMALLEST)
    m = np.asarray(mean, float)
    d = np.asarray(limit, float)
    return s, (d - m) / s, (d + m) / s


def limit_gain(std: ArrayLike, mean: ArrayLike, limit: ArrayLike) -> FloatArray:
    """Linear gain left by a symmetric limit; also the share of time inside it.

    Parameters
    ----------
    std : array_like
        rms of the Gaussian signal about its mean. [any unit]
    mean : array_like
        Its mean. [same]
    limit : array_like
        The limit D, > 0; infinity is none. [same]

    Returns
    -------
    ndarray
        ``(erf((D-m)/(sqrt2 s)) + erf((D+m)/(sqrt2 s)))/2``, between 0 and 1.
    """
    _, above, below = _edges(std, mean, limit)
    root = np.sqrt(2.0)
    return np.asarray(0.5 * (erf(above / root) + erf(below / root)))


def clipped_mean_std(
    std: ArrayLike, mean: ArrayLike, limit: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Mean and rms about it of a Gaussian signal after a symmetric limit.

    Parameters as in :func:`limit_gain`.

    All in one unit, usually [rad], and broadcasting; an infinite limit is none. NaN in gives NaN
    out.
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
    # An infinite limit is never met; a finite stand-in keeps 0 x inf out.
    d, above, below = (np.where(unlimited, 0.0, a) for a in (d, above, below))
    # Moments about the unclipped mean, which lose no digits to a large offset.
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

    Used for the travel of a fin whose rate is limited.

    Both in one unit, for a rate [rad/s], broadcasting. Exact for a Gaussian signal.
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
        rms of the rate it would run at without the limit, (asked - is)/tau.
        [rad/s]
    rate_limit : array_like
        Rate limit R. [rad/s]

    Returns
    -------
    ndarray
        tau over the linear gain of the limit, erf(R/(sqrt2 rate)).
    """
    s = np.maximum(np.asarray(rate_std, float), _SMALLEST)
    gain = erf(np.asarray(rate_limit, float) / (np.sqrt(2.0) * s))
    return np.asarray(np.asarray(lag_s, float) / np.maximum(gain, 1e-9))
