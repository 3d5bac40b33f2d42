"""Roll damping: equivalent linear damping, decay, and hull lift.

The roll equation is

    phi'' + 2 zeta w0 phi' + b |phi'| phi' + w0^2 phi = forcing,

phi in radians, zeta the linear damping ratio, b the quadratic damping (per radian),
w0 the natural frequency. All functions broadcast; NaN in gives NaN out.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passage.units import G_M_S2, RHO_SEA_KG_M3, tonnes_to_kg

Floats = NDArray[np.float64]

#: Equivalent linear damping of |phi'| phi' for a sine of given rate amplitude.
REGULAR_FACTOR = 8.0 / (3.0 * math.pi)
#: The same for a Gaussian rate of given rms.
GAUSSIAN_FACTOR = math.sqrt(8.0 / math.pi)


def equivalent_ratio_regular(
    damping_ratio: ArrayLike,
    quadratic_damping: ArrayLike,
    amplitude_rad: ArrayLike,
    omega_over_natural: ArrayLike = 1.0,
) -> Floats:
    """Linear damping ratio that dissipates the same energy in regular rolling.

    Parameters
    ----------
    damping_ratio
        Linear part, zeta. Dimensionless.
    quadratic_damping
        b [1/rad].
    amplitude_rad
        Roll amplitude [rad].
    omega_over_natural
        Roll frequency over natural frequency. Dimensionless.

    Returns
    -------
    ndarray
        zeta + (4 / (3 pi)) b (w / w0) amplitude. Dimensionless.

    References
    ----------
    Y. Himeno, "Prediction of ship roll damping: state of the art", Univ. of Michigan
    report 239, 1981.
    """
    rate = np.asarray(omega_over_natural, float) * np.asarray(amplitude_rad, float)
    quadratic = 0.5 * REGULAR_FACTOR * np.asarray(quadratic_damping, float) * rate
    return np.asarray(np.asarray(damping_ratio, float) + quadratic)


def equivalent_ratio_gaussian(
    damping_ratio: ArrayLike,
    quadratic_damping: ArrayLike,
    rate_rms_rad_s: ArrayLike,
    natural_rad_s: ArrayLike,
) -> Floats:
    """Linear damping ratio that dissipates the same power in Gaussian roll.

    zeta + sqrt(8 / pi) b rate_rms / (2 w0): rms roll rate and natural frequency w0 in
    [rad/s], quadratic damping b in [1/rad], ratios dimensionless. All broadcast.

    References
    ----------
    J. B. Roberts, P. D. Spanos, *Random Vibration and Statistical Linearization*, 1990.
    """
    rate = np.asarray(rate_rms_rad_s, float) / np.asarray(natural_rad_s, float)
    quadratic = 0.5 * GAUSSIAN_FACTOR * np.asarray(quadratic_damping, float) * rate
    return np.asarray(np.asarray(damping_ratio, float) + quadratic)


def extinction_from_damping(
    damping_ratio: ArrayLike, quadratic_damping: ArrayLike
) -> tuple[Floats, Floats]:
    """Extinction coefficients (a, b_e) of d_phi = a phi_m + b_e phi_m^2 per half cycle.

    ``phi_m`` is the mean of two successive peaks [rad]; a = pi zeta, dimensionless, and
    b_e = (4/3) b, both in [1/rad]. Valid while the amplitude changes little in a half cycle.
    Himeno 1981.
    """
    a = math.pi * np.asarray(damping_ratio, float)
    return np.asarray(a), np.asarray(4.0 / 3.0 * np.asarray(quadratic_damping, float))


def equivalent_ratio_from_loss(amplitude_rad: ArrayLike, loss_rad: ArrayLike) -> Floats:
    """Equivalent damping ratio of one half cycle, loss / (pi amplitude). Dimensionless.

    Amplitude and loss of amplitude in [rad], broadcasting. Valid for light damping.
    """
    return np.asarray(np.asarray(loss_rad, float) / (math.pi * np.asarray(amplitude_rad, float)))


def decay_amplitude(
    half_cycles: ArrayLike,
    first_rad: ArrayLike,
    damping_ratio: ArrayLike,
    quadratic_damping: ArrayLike,
) -> Floats:
    """Roll amplitude after a number of half cycles of free decay.

    Parameters
    ----------
    half_cycles
        Half cycles since the first peak.
    first_rad
        Amplitude of the first peak [rad].
    damping_ratio, quadratic_damping
        zeta in [0, 1), dimensionless, and b >= 0 [1/rad].

    Returns
    -------
    ndarray
        Amplitude [rad].

    Notes
    -----
    The energy lost in a half cycle gives dA/dn = -pi zeta A - (4/3) b A^2, with the solution
    A0 E / (1 + (4/3) b A0 (1 - E) / (pi zeta)), E = exp(-pi zeta n). Here
    pi zeta / sqrt(1 - zeta^2) replaces pi zeta, which makes the linear part exact. The
    quadratic part is correct to first order in b A.
    """
    n, zeta = np.asarray(half_cycles, float), np.asarray(damping_ratio, float)
    decrement = math.pi * zeta / np.sqrt(1.0 - zeta**2)
    x = decrement * n
    # (1 - exp(-x)) / decrement, which is n where there is no linear damping.
    safe = np.where(x == 0.0, 1.0, x)
    spread = n * np.where(x == 0.0, 1.0 + 0.0 * x, -np.expm1(-safe) / safe)
    first = np.asarray(first_rad, float)
    quadratic = 4.0 / 3.0 * np.asarray(quadratic_damping, float) * first
    return np.asarray(first * np.exp(-x) / (1.0 + quadratic * spread))


def ratio_from_dimensionless(
    damping: ArrayLike,
    displacement_t: ArrayLike,
    beam_m: ArrayLike,
    stiffness_n_m: ArrayLike,
    natural_rad_s: ArrayLike,
) -> Floats:
    """Damping ratio from the dimensionless B44 sqrt(B / 2g) / (rho volume B^2).

    zeta = B44 w0 / (2 C44), with rho x volume the displacement [t], B the beam [m], C44 the
    righting moment per radian [N m/rad], w0 the natural frequency [rad/s]. Broadcasting.
    """
    beam = np.asarray(beam_m, float)
    mass = tonnes_to_kg(np.asarray(displacement_t, float))
    b44 = np.asarray(damping, float) * mass * beam**2 / np.sqrt(beam / (2 * G_M_S2))
    return ratio_from_moment_rate(b44, stiffness_n_m, natural_rad_s)


def ratio_from_moment_rate(
    b44_n_m_s: ArrayLike, stiffness_n_m: ArrayLike, natural_rad_s: ArrayLike
) -> Floats:
    """Damping ratio from moment per roll rate, B44 w0 / (2 C44). Dimensionless.

    B44 in [N m s], C44 in [N m/rad], w0 in [rad/s], broadcasting.
    """
    return np.asarray(
        np.asarray(b44_n_m_s, float)
        * np.asarray(natural_rad_s, float)
        / (2.0 * np.asarray(stiffness_n_m, float))
    )


def lift_slope_of_hull(
    length_m: ArrayLike, beam_m: ArrayLike, draught_m: ArrayLike, midship_coefficient: ArrayLike
) -> Floats:
    """Side-force slope k_N = 2 pi d / L + kappa (4.1 B / L - 0.045) of the yawed hull. [1/rad]

    kappa = 106 (Cm - 0.91)^2 - 700 (Cm - 0.91)^3, zero below Cm 0.91: a smooth form of the
    table 0, 0.1, 0.3, for Cm up to 0.99.

    Lengths in [m], broadcasting. Ikeda as in ITTC 7.5-02-07-04.5; the coefficients of kappa
    are a fit to the table, from memory.
    """
    over = np.maximum(np.asarray(midship_coefficient, float) - 0.91, 0.0)
    kappa = 106.0 * over**2 - 700.0 * over**3
    length = np.asarray(length_m, float)
    slender = 2.0 * math.pi * np.asarray(draught_m, float) / length
    return np.asarray(slender + kappa * (4.1 * np.asarray(beam_m, float) / length - 0.045))


def hull_lift_damping_n_m_s(
    length_m: ArrayLike,
    beam_m: ArrayLike,
    draught_m: ArrayLike,
    midship_coefficient: ArrayLike,
    og_m: ArrayLike,
    speed_m_s: ArrayLike,
) -> Floats:
    """Roll damping by lift on the hull, proportional to speed and zero at rest.

    Parameters
    ----------
    length_m, beam_m, draught_m
        Waterline dimensions [m].
    midship_coefficient
        Midship section coefficient. Dimensionless.
    og_m
        Depth of the roll axis below the waterline, positive *downward* [m].
    speed_m_s
        Speed through the water [m/s].

    Returns
    -------
    ndarray
        Moment per roll rate, B44 [N m s].

    References
    ----------
    Y. Ikeda's lift component as in ITTC 7.5-02-07-04.5.
    """
    d, og = np.asarray(draught_m, float), np.asarray(og_m, float)
    l0, lr = 0.3 * d, 0.5 * d
    slope = lift_slope_of_hull(length_m, beam_m, d, midship_coefficient)
    area = np.asarray(length_m, float) * d
    arms = l0 * lr * (1.0 - 1.4 * og / lr + 0.7 * og**2 / (l0 * lr))
    speed = np.abs(np.asarray(speed_m_s, float))
    return np.asarray(0.5 * RHO_SEA_KG_M3 * speed * area * slope * arms)
