"""Linear waves, and the frequency at which a moving vessel meets them.

The physics gives wave directions as encounter angles mu: 0 following, 90 beam, 180 degrees
head, and the side the waves come from as a separate number (+1 starboard, -1 port).
Frequencies are angular, in rad/s. Linear (Airy) theory throughout: small steepness, no
current.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passage.units import G_M_S2

FloatArray = NDArray[np.float64]

#: Newton steps for the finite-depth dispersion relation. From Eckart's start value four reach
#: machine precision at any depth; two more are a margin.
_NEWTON_STEPS = 6


def wavenumber(omega_rad_s: ArrayLike, depth_m: ArrayLike | None = None) -> FloatArray:
    """Wavenumber of a wave of given frequency.

    Parameters
    ----------
    omega_rad_s : array_like
        Angular frequency over the ground, >= 0. [rad/s]
    depth_m : array_like, optional
        Water depth, > 0; None or infinity is deep water. Broadcasts. [m]

    Returns
    -------
    ndarray
        Wavenumber k solving ``omega^2 = g k tanh(k h)``. NaN where an input is
        NaN or the depth is not positive. [rad/m]

    References
    ----------
    Airy theory, any text. Start value: Eckart's approximation (from memory);
    Newton's method then removes its error.
    """
    omega = np.asarray(omega_rad_s, float)
    deep = omega**2 / G_M_S2
    if depth_m is None:
        return np.asarray(deep)
    deep, depth = np.broadcast_arrays(deep, np.asarray(depth_m, float))
    finite = np.isfinite(depth) & (depth > 0.0) & (deep > 0.0)
    a = np.where(finite, deep * np.where(finite, depth, 1.0), 1.0)
    x = a / np.sqrt(np.tanh(a))
    for _ in range(_NEWTON_STEPS):
        t = np.tanh(x)
        x = x - (x * t - a) / (t + x * (1.0 - t * t))
    k = np.where(finite, x / np.where(finite, depth, 1.0), deep)
    return np.where(np.isnan(depth) | (depth <= 0.0), np.nan, k)


def wavelength_m(period_s: ArrayLike, depth_m: ArrayLike | None = None) -> FloatArray:
    """Wavelength of a wave of given period. [m]

    Parameters
    ----------
    period_s : array_like
        Period over the ground, > 0. [s]
    depth_m : array_like, optional
        Water depth; None is deep water. [m]

    Returns
    -------
    ndarray
        ``2 pi / k``. [m]
    """
    omega = 2.0 * np.pi / np.asarray(period_s, float)
    return np.asarray(2.0 * np.pi / wavenumber(omega, depth_m))


def phase_speed_m_s(period_s: ArrayLike, depth_m: ArrayLike | None = None) -> FloatArray:
    """Speed of the wave crests: wavelength over period. [m/s]"""
    return np.asarray(wavelength_m(period_s, depth_m) / np.asarray(period_s, float))


def group_speed_m_s(period_s: ArrayLike, depth_m: ArrayLike | None = None) -> FloatArray:
    """Speed of the wave energy, ``(c/2) (1 + 2kh / sinh 2kh)``. [m/s]

    Half the phase speed in deep water, all of it in shallow water.
    """
    speed = phase_speed_m_s(period_s, depth_m)
    if depth_m is None:
        return np.asarray(0.5 * speed)
    omega = 2.0 * np.pi / np.asarray(period_s, float)
    kh2 = 2.0 * wavenumber(omega, depth_m) * np.asarray(depth_m, float)
    # sinh overflows; the quotient is zero to machine precision long before.
    ratio = kh2 / np.sinh(np.minimum(kh2, 500.0))
    return np.asarray(0.5 * speed * (1.0 + np.where(kh2 < 500.0, ratio, 0.0)))


def encounter_frequency(
    omega_rad_s: ArrayLike,
    speed_m_s: ArrayLike,
    mu_rad: ArrayLike,
    depth_m: ArrayLike | None = None,
) -> FloatArray:
    r"""Signed frequency at which a moving vessel meets waves.

    Parameters
    ----------
    omega_rad_s : array_like
        Wave frequency over the ground, >= 0. [rad/s]
    speed_m_s : array_like
        Speed through the water, ahead positive. [m/s]
    mu_rad : array_like
        Encounter angle: 0 following, pi/2 beam, pi head. Either sign. [rad]
    depth_m : array_like, optional
        Water depth; None is deep water. [m]

    Returns
    -------
    ndarray
        :math:`\omega_e = \omega - k U \cos\mu`. Negative: the vessel overtakes
        that wave. Zero: she keeps pace with it. [rad/s]

    Examples
    --------
    >>> import numpy as np
    >>> w_e = encounter_frequency(2 * np.pi / 8, 6.17333, np.radians([180, 90, 0]))
    >>> np.round(w_e, 4).tolist()
    [1.1737, 0.7854, 0.3971]
    """
    omega = np.asarray(omega_rad_s, float)
    k = wavenumber(omega, depth_m)
    # cos(pi/2) is not exactly zero in floating point, and in a beam sea the encounter
    # frequency must equal the wave's exactly.
    cosine = np.cos(np.asarray(mu_rad, float))
    cosine = np.where(np.abs(cosine) < 1e-15, 0.0, cosine)
    return np.asarray(omega - k * np.asarray(speed_m_s, float) * cosine)


def encounter_period(
    period_s: ArrayLike,
    speed_m_s: ArrayLike,
    mu_rad: ArrayLike,
    depth_m: ArrayLike | None = None,
) -> FloatArray:
    """Time from one crest to the next on board, ``2 pi / |omega_e|``. [s]

    Infinite when the vessel keeps pace with the wave. Parameters as in
    :func:`encounter_frequency`, with the wave period [s] in place of the frequency.
    """
    omega = 2.0 * np.pi / np.asarray(period_s, float)
    omega_e = np.abs(encounter_frequency(omega, speed_m_s, mu_rad, depth_m))
    with np.errstate(divide="ignore"):
        return np.asarray(2.0 * np.pi / omega_e)


def encounter_angle(
    wave_from_rad: ArrayLike, heading_rad: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Encounter angle and side from compass directions.

    Parameters
    ----------
    wave_from_rad : array_like
        Direction the waves come from, clockwise from true north. [rad]
    heading_rad : array_like
        Heading of the vessel, clockwise from true north. [rad]

    Returns
    -------
    mu_rad : ndarray
        In [0, pi]: 0 following, pi/2 beam, pi head. [rad]
    side : ndarray
        +1 where they come from starboard, -1 from port, 0 from dead ahead or astern.

    Examples
    --------
    >>> import numpy as np
    >>> mu, side = encounter_angle(np.radians(90.0), np.radians(0.0))
    >>> float(np.round(np.degrees(mu))), float(side)
    (90.0, 1.0)
    """
    bearing = np.asarray(wave_from_rad, float) - np.asarray(heading_rad, float)
    bearing = np.remainder(bearing + np.pi, 2.0 * np.pi) - np.pi
    side = np.where(np.abs(bearing) == np.pi, 0.0, np.sign(bearing))
    return np.asarray(np.pi - np.abs(bearing)), np.asarray(side)


def fold(speed_m_s: ArrayLike, mu_rad: ArrayLike) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Wave frequency at which the encounter frequency has its maximum in following seas.

    Deep water. With ``a = U cos(mu) / g`` the signed encounter frequency rises to ``1/(4a)``
    at ``omega = 1/(2a)``, then falls, through zero at ``1/a``.

    Parameters
    ----------
    speed_m_s, mu_rad : array_like
        As in :func:`encounter_frequency`.

    Returns
    -------
    omega_fold, omega_e_max, omega_zero : ndarray
        Wave frequency of the maximum, the maximum itself, and the wave frequency of zero
        encounter. Infinite where there is no maximum (beam and head seas, at rest). [rad/s]
    """
    a = np.asarray(speed_m_s, float) * np.cos(np.asarray(mu_rad, float)) / G_M_S2
    folded = a > 1e-12
    safe = np.where(folded, a, 1.0)
    nan = np.isnan(a)
    out = [np.where(nan, np.nan, np.where(folded, x / safe, np.inf)) for x in (0.5, 0.25, 1.0)]
    return out[0], out[1], out[2]


def wave_frequencies_meeting(
    omega_e_rad_s: ArrayLike, speed_m_s: ArrayLike, mu_rad: ArrayLike
) -> FloatArray:
    """All wave frequencies that give one encounter frequency, deep water.

    Parameters
    ----------
    omega_e_rad_s : array_like
        Encounter frequency, magnitude, > 0. [rad/s]
    speed_m_s, mu_rad : array_like
        As in :func:`encounter_frequency`.

    Returns
    -------
    ndarray, shape (..., 3)
        Ascending; NaN where there are fewer than three. One in head and beam seas and above
        the maximum of :func:`fold`, three below it. [rad/s]
    """
    a = np.asarray(speed_m_s, float) * np.cos(np.asarray(mu_rad, float)) / G_M_S2
    a, omega_e = np.broadcast_arrays(a, np.asarray(omega_e_rad_s, float))
    following = a >= 1e-12
    safe = np.where(following, a, 1.0)
    inner = 1.0 - 4.0 * a * omega_e
    root = np.sqrt(np.where(inner >= 0.0, inner, np.nan))
    outer = np.sqrt(1.0 + 4.0 * np.abs(a) * omega_e)
    # Head seas: omega + |a| omega^2 = omega_e has one positive root. The small root is written
    # as a quotient, because the difference of two nearly equal numbers loses digits.
    first = 2.0 * omega_e / (1.0 + np.where(following, root, outer))
    second = np.where(following, (1.0 + root) / (2.0 * safe), np.nan)
    third = np.where(following, (1.0 + outer) / (2.0 * safe), np.nan)
    return np.sort(np.stack([first, second, third], axis=-1), axis=-1)


def imo_encounter_period(
    period_s: ArrayLike, speed_kn: ArrayLike, alpha_rad: ArrayLike
) -> FloatArray:
    """Encounter period in the rounded form of IMO MSC.1/Circ.1228. [s]

    ``T_E = 3 T_W^2 / (3 T_W + V cos(alpha))`` with T_W in s, V in knots and alpha 0 in a head
    sea, pi in a following one. The exact constant in place of 3 is 3.034, so the form is about
    one per cent off; it serves only to compare with the circular, and
    :func:`encounter_period` everything else. Formula from memory.
    """
    t = np.asarray(period_s, float)
    v = np.asarray(speed_kn, float)
    below = 3.0 * t + v * np.cos(np.asarray(alpha_rad, float))
    with np.errstate(divide="ignore"):
        return np.asarray(3.0 * t**2 / below)
