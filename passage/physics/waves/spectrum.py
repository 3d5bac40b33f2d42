"""Wave spectra, directional spreading, ratios of periods and statistics of extremes.

Spectra S(omega) are one-sided, in m2 s/rad, with ``integral S domega = Hs^2/16``.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passage.physics.curves import Curve, smooth_curve
from passage.physics.special import erfc, gammaln

FloatArray = NDArray[np.float64]
PeriodKind = Literal["peak", "energy", "mean", "zero-crossing"]

#: Valid range of the peak enhancement factor.
GAMMA_RANGE = (1.0, 10.0)
#: Circular width sqrt(2 (1 - m1)) of cos^2 spreading over +-90 degrees, whose
#: first circular moment m1 is 8/(3 pi). [rad]
COS2_WIDTH_RAD = float(np.sqrt(2.0 * (1.0 - 8.0 / (3.0 * np.pi))))
#: Spread exponent of swell when the forecast gives no spread (Goda and
#: Mitsuyasu's middle class, from memory) and its circular width.
SWELL_S = 25.0
SWELL_WIDTH_RAD = float(np.sqrt(2.0 / (SWELL_S + 1.0)))

_SIGMA_LOW, _SIGMA_HIGH = 0.07, 0.09


def _shape(x: FloatArray) -> FloatArray:
    """Bretschneider shape over x = omega/omega_p; its integral over x is 1."""
    safe = np.where(x > 0.0, x, 1.0)
    inverse4 = np.minimum(safe**-4.0, 500.0)  # exp(-625) is already zero
    return np.where(x > 0.0, 5.0 * safe**-5.0 * np.exp(-1.25 * inverse4), 0.0)


def _peakedness(x: FloatArray) -> FloatArray:
    """Exponent of gamma in the JONSWAP form, between 0 and 1."""
    sigma = np.where(x <= 1.0, _SIGMA_LOW, _SIGMA_HIGH)
    return np.asarray(np.exp(-0.5 * ((x - 1.0) / sigma) ** 2))


def _unnormalised_moment(order: int, gamma: FloatArray) -> FloatArray:
    """Moment of ``_shape(x) gamma^r`` over x.

    The Bretschneider part is a gamma function; only the excess around the peak is integrated
    numerically, so that the infinite tail is exact for orders below 4.
    """
    broad = 1.25 ** (order / 4.0) * math.gamma(1.0 - order / 4.0)
    nodes, weights = np.polynomial.legendre.leggauss(80)
    total = np.full(gamma.shape, broad)
    for low, high in ((0.3, 1.0), (1.0, 2.0)):
        x = 0.5 * (high - low) * (nodes + 1.0) + low
        bump = gamma[..., None] ** _peakedness(x) - 1.0
        total = total + 0.5 * (high - low) * np.sum(weights * x**order * _shape(x) * bump, axis=-1)
    return np.asarray(total)


@lru_cache(maxsize=8)
def _moment_spline(order: int) -> Curve:
    gamma = np.linspace(GAMMA_RANGE[0], GAMMA_RANGE[1], 361)
    return smooth_curve(gamma, _unnormalised_moment(order, gamma))


def _moment(order: int, gamma: ArrayLike) -> FloatArray:
    gamma = np.asarray(gamma, float)
    inside = (gamma >= GAMMA_RANGE[0]) & (gamma <= GAMMA_RANGE[1])
    return np.asarray(_moment_spline(order)(np.where(inside, gamma, np.nan)))


def jonswap_normaliser(gamma: ArrayLike) -> FloatArray:
    """Factor A_gamma that keeps the JONSWAP variance at Hs^2/16.

    Parameters
    ----------
    gamma : array_like
        Peak enhancement factor, 1 to 10; NaN is returned outside. Dimensionless.

    Returns
    -------
    ndarray
        Factor by integration, dimensionless. The usual fit ``1 - 0.287 ln(gamma)`` is within
        0.3 per cent of it up to a gamma of 5.
    """
    return np.asarray(1.0 / _moment(0, gamma))


def jonswap(
    omega_rad_s: ArrayLike,
    height_m: ArrayLike,
    peak_period_s: ArrayLike,
    gamma: ArrayLike = 3.3,
) -> FloatArray:
    """JONSWAP spectrum; gamma 1 is the Bretschneider form.

    Parameters
    ----------
    omega_rad_s : array_like
        Frequencies, >= 0. [rad/s]
    height_m : array_like
        Significant height Hm0. [m]
    peak_period_s : array_like
        Peak period, > 0. [s]
    gamma : array_like
        Peak enhancement factor, 1 to 10.

    Returns
    -------
    ndarray
        Variance density, zero at zero frequency. [m2 s/rad]

    References
    ----------
    Hasselmann et al. 1973 for the shape; sigma is 0.07 below and 0.09 above the peak.
    All arguments broadcast.
    """
    omega_p = 2.0 * np.pi / np.asarray(peak_period_s, float)
    gamma = np.asarray(gamma, float)
    x = np.asarray(omega_rad_s, float) / omega_p
    variance = np.asarray(height_m, float) ** 2 / 16.0
    return np.asarray(
        variance / omega_p * jonswap_normaliser(gamma) * _shape(x) * gamma ** _peakedness(x)
    )


def bretschneider(
    omega_rad_s: ArrayLike, height_m: ArrayLike, peak_period_s: ArrayLike
) -> FloatArray:
    """Bretschneider (ITTC two-parameter) spectrum. [m2 s/rad]

    ``(5/16) Hs^2 wp^4 w^-5 exp[-1.25 (wp/w)^4]``; ITTC 7.5-02-07-02.1.
    """
    return jonswap(omega_rad_s, height_m, peak_period_s, 1.0)


def ochi_hubble(
    omega_rad_s: ArrayLike,
    heights_m: ArrayLike,
    peak_periods_s: ArrayLike,
    shapes: ArrayLike,
) -> FloatArray:
    """Ochi and Hubble's spectrum: a sum of parts, each with its own peakedness.

    Parameters
    ----------
    omega_rad_s : array_like, shape (...)
        Frequencies, >= 0. [rad/s]
    heights_m, peak_periods_s, shapes : array_like, shape (parts,)
        Significant height [m], peak period [s] and shape lambda of each part;
        lambda 1 is Bretschneider.

    Returns
    -------
    ndarray, shape (...)
        Variance density. [m2 s/rad]

    References
    ----------
    Ochi and Hubble 1976, Coastal Engineering Conference (from memory); checked against
    Bretschneider at lambda = 1 and by the variance of each part.
    """
    omega = np.asarray(omega_rad_s, float)[..., None]
    lam = np.asarray(shapes, float)
    peak = 2.0 * np.pi / np.asarray(peak_periods_s, float)
    height = np.asarray(heights_m, float)
    safe = np.where(omega > 0.0, omega, 1.0)
    c = (4.0 * lam + 1.0) / 4.0
    log_density = (
        lam * np.log(c * peak**4)
        - gammaln(lam)
        - (4.0 * lam + 1.0) * np.log(safe)
        - c * (peak / safe) ** 4
    )
    part = 0.25 * height**2 * np.exp(np.maximum(log_density, -700.0))
    return np.asarray(np.sum(np.where(omega > 0.0, part, 0.0), axis=-1))


def spreading_cos2s(theta_rad: ArrayLike, s: ArrayLike) -> FloatArray:
    """Half-angle spreading ``cos^2s(theta/2)``, integral 1 over a turn. [1/rad]

    Parameters
    ----------
    theta_rad : array_like
        Direction relative to the mean; full turns may be added. [rad]
    s : array_like
        Exponent, >= 0; 0 is the same from all sides. Dimensionless.
    """
    s = np.asarray(s, float)
    norm = np.exp(gammaln(s + 1.0) - gammaln(s + 0.5)) / (2.0 * np.sqrt(np.pi))
    return np.asarray(norm * (np.cos(0.5 * np.asarray(theta_rad, float)) ** 2) ** s)


def spreading_cosn(theta_rad: ArrayLike, n: ArrayLike) -> FloatArray:
    """Full-angle spreading ``cos^n(theta)`` within 90 degrees, else 0. [1/rad]

    Its integral is 1; theta [rad] is relative to the mean direction, n dimensionless.
    """
    n = np.asarray(n, float)
    theta = np.asarray(theta_rad, float)
    norm = np.exp(gammaln(0.5 * n + 1.0) - gammaln(0.5 * n + 0.5)) / np.sqrt(np.pi)
    # np.maximum keeps NaN; np.where on the sign would turn it into zero.
    return np.asarray(norm * np.maximum(np.cos(theta), 0.0) ** n)


def s_from_width(spread_rad: ArrayLike) -> FloatArray:
    """Exponent of the cos-2s form from its circular width, ``s = 2/width^2 - 1``.

    ``spread_rad`` in rad, 0 to sqrt(2), any shape; s is dimensionless. The relation follows
    from the first Fourier coefficient of the form.
    """
    return np.asarray(2.0 / np.asarray(spread_rad, float) ** 2 - 1.0)


def width_from_s(s: ArrayLike) -> FloatArray:
    """Circular width sqrt(2/(s + 1)) of the cos-2s form. [rad]"""
    return np.asarray(np.sqrt(2.0 / (np.asarray(s, float) + 1.0)))


def spreading(theta_rad: ArrayLike, spread_rad: float) -> FloatArray:
    """Spreading of a given circular width. [1/rad]

    ``COS2_WIDTH_RAD`` gives cos^2 over +-90 degrees, the default for wind sea and total sea;
    any other width gives the cos-2s form.
    """
    if abs(spread_rad - COS2_WIDTH_RAD) < 1e-9:
        return spreading_cosn(theta_rad, 2.0)
    return spreading_cos2s(theta_rad, s_from_width(spread_rad))


def period_ratio(kind: PeriodKind, gamma: ArrayLike) -> FloatArray:
    """Ratio of a mean period to the peak period of a JONSWAP spectrum.

    Parameters
    ----------
    kind : {"peak", "energy", "mean", "zero-crossing"}
        Tp, T-10, T01 or T02.
    gamma : array_like
        Peak enhancement factor, 1 to 10.

    Returns
    -------
    ndarray
        Ratio over the whole spectrum, dimensionless. A wave model that cuts its spectrum off
        at high frequency reports a longer zero-crossing period than this.
    """
    gamma = np.asarray(gamma, float)
    m0 = _moment(0, gamma)
    if kind == "peak":
        return np.asarray(np.where(np.isnan(m0), np.nan, 1.0))
    if kind == "energy":
        return np.asarray(_moment(-1, gamma) / m0)
    if kind == "mean":
        return np.asarray(m0 / _moment(1, gamma))
    if kind == "zero-crossing":
        return np.asarray(np.sqrt(m0 / _moment(2, gamma)))
    raise ValueError(f"period kind {kind!r} is not one of peak, energy, mean, zero-crossing")


def peak_period_from(kind: PeriodKind, period_s: ArrayLike, gamma: ArrayLike = 3.3) -> FloatArray:
    """Peak period from a period of another kind, of a JONSWAP spectrum. [s]

    Parameters
    ----------
    kind : {"peak", "energy", "mean", "zero-crossing"}
        What ``period_s`` is.
    period_s : array_like
        The period. [s]
    gamma : array_like
        Peak enhancement factor of the assumed spectrum, 1 to 10. Dimensionless.
    """
    return np.asarray(np.asarray(period_s, float) / period_ratio(kind, gamma))


def gamma_from_steepness(
    height_m: ArrayLike, peak_period_s: ArrayLike, largest: float = 3.3
) -> FloatArray:
    """Peak enhancement factor of a total sea from its steepness.

    ``gamma = exp(5.75 - 1.15 Tp/sqrt(Hs))``, limited to 1 and ``largest``: a young steep sea
    is peaked, an old long one is not. NaN in, NaN out.

    Height in [m], period in [s], broadcasting; gamma is dimensionless.

    References
    ----------
    DNV-RP-C205 (from memory), which goes up to 5 at Tp/sqrt(Hs) = 3.6. The lower ceiling of
    3.3 is an assumption, because a total sea mixes several systems.
    """
    height = np.asarray(height_m, float)
    period = np.asarray(peak_period_s, float)
    calm = height <= 0.0
    ratio = period / np.sqrt(np.where(calm, 1.0, height))
    exponent = np.clip(5.75 - 1.15 * ratio, 0.0, np.log(largest))
    return np.asarray(np.where(calm & ~np.isnan(period), 1.0, np.exp(exponent)))


def rayleigh_mean_of_highest(fraction: ArrayLike) -> FloatArray:
    """Mean of the highest fraction of amplitudes, in units of the rms.

    Parameters
    ----------
    fraction : array_like
        1/3 (significant), 1/10, 1/100 and so on; 1 is the mean of all. Dimensionless.

    Returns
    -------
    ndarray
        Amplitude over rms of a narrow-band Gaussian process, dimensionless; crest to trough
        is twice this. NaN outside (0, 1]. Longuet-Higgins 1952.
    """
    fraction = np.asarray(fraction, float)
    fraction = np.where((fraction > 0.0) & (fraction <= 1.0), fraction, np.nan)
    threshold = np.sqrt(-2.0 * np.log(fraction))
    tail = np.sqrt(np.pi / 2.0) * erfc(threshold / np.sqrt(2.0))
    return np.asarray(threshold + tail / fraction)


def rayleigh_largest(cycles: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Most probable and expected largest amplitude in N cycles, in units of the rms.

    Parameters
    ----------
    cycles : array_like
        Number of cycles: duration over the zero-crossing period. Dimensionless.

    Returns
    -------
    most_probable, expected : ndarray
        ``sqrt(2 ln N)``, and ``sqrt(2 ln N) + 0.5772/sqrt(2 ln N)``; dimensionless. NaN for
        N of 1 or less. Longuet-Higgins 1952.
    """
    n = np.asarray(cycles, float)
    probable = np.sqrt(2.0 * np.log(np.where(n > 1.0, n, np.nan)))
    return np.asarray(probable), np.asarray(probable + np.euler_gamma / probable)
