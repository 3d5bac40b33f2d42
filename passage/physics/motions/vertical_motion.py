"""Heave, pitch and sway of a hull in regular waves by closed-form expressions.

The expressions need four numbers of the hull and no lines plan. They come from strip theory
for a box-shaped hull of the same draught and reduced beam, so their order of magnitude is
right but not their detail; ``closed_form_doubt`` flags where they are doubtful. All results
are complex, per metre of wave amplitude at midship, with the time factor exp(+i omega_e t), so
that a wave of unit amplitude is ``exp(-i k x cos(mu))`` at a distance x forward.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from passage.units import G_M_S2

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

#: Largest Froude number of the expressions.
FROUDE_LIMIT = 0.3
#: Range of breadth over draught of the expressions.
BREADTH_TO_DRAUGHT_RANGE = (1.0, 6.0)

#: Bits of ``closed_form_doubt`` and their texts.
DOUBT_WORDS: dict[int, str] = {
    1: "speed above Froude number 0.3, beyond the range of the closed-form motions",
    2: "breadth to draught outside 1 to 6, beyond the range of the closed-form motions",
    4: "waves shorter than half the waterline: closed-form motions give an order of magnitude",
    8: "bow or head sea at speed: closed-form motions are too small, vertical acceleration by a "
    "factor of up to four",
}


@dataclass(frozen=True, kw_only=True)
class HullForm:
    """Main dimensions for the closed-form motions.

    ``length_m``, ``beam_m`` and ``draught_m`` at the waterline; ``block_coefficient``
    dimensionless, in (0, 1].
    """

    length_m: float
    beam_m: float
    draught_m: float
    block_coefficient: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Motion:
    """Complex motion per metre of wave amplitude, phase relative to the wave at midship.

    Attributes
    ----------
    heave : ndarray
        Vertical displacement at midship, up positive. [m/m]
    pitch : ndarray
        Rotation, *bow up* positive, so the vertical displacement at x forward
        of midship is ``heave + x pitch``. [rad/m]
    sway_acceleration : ndarray
        Lateral acceleration, positive to the side the waves travel to. [m/s2 per m]
    """

    heave: ComplexArray
    pitch: ComplexArray
    sway_acceleration: ComplexArray


def encounter_frequency_deep(omega_rad_s: Any, mu_rad: Any, speed_m_s: Any) -> FloatArray:
    """Signed encounter frequency in deep water; negative where she overtakes the waves. [rad/s]

    ``omega - omega^2 U cos(mu) / g``: wave frequency omega [rad/s], encounter angle mu, 0
    following and pi head [rad], speed U through the water [m/s]. All broadcast.
    """
    omega = np.asarray(omega_rad_s, dtype=float)
    frequency: FloatArray = omega - omega**2 / G_M_S2 * np.asarray(speed_m_s) * np.cos(mu_rad)
    return frequency


def _sinc(x: FloatArray) -> FloatArray:
    """sin(x)/x with its limit 1 at x = 0."""
    result: FloatArray = np.sinc(x / np.pi)
    return result


def _moment_shape(x: FloatArray) -> FloatArray:
    """3 (sin x - x cos x)/x^3 with its limit 1 at x = 0.

    Below x = 0.05, where the difference of the two terms would lose half its digits, the
    series is used; the first term left out is 2e-8 there.
    """
    small = np.abs(x) < 0.05
    safe = np.where(small, 1.0, x)
    closed = 3.0 * (np.sin(safe) - safe * np.cos(safe)) / safe**3
    result: FloatArray = np.where(small, 1.0 - x**2 / 10.0, closed)
    return result


def closed_form_motion(omega_rad_s: Any, mu_rad: Any, speed_m_s: Any, hull: HullForm) -> Motion:
    r"""Heave, pitch and sway of a mono-hull in regular deep-water waves.

    Parameters
    ----------
    omega_rad_s, mu_rad, speed_m_s : array_like
        Wave frequency (> 0) [rad/s], encounter angle (0 following, pi head) [rad] and
        speed through the water [m/s]; they broadcast together.
    hull : HullForm

    Returns
    -------
    Motion
        Arrays of the broadcast shape, per metre of wave amplitude: heave [m/m], pitch
        [rad/m], sway acceleration [m/s2 per m]. NaN in gives NaN out.

    Notes
    -----
    With :math:`\alpha = \omega_e/\omega`, :math:`B = B_0 C_B`, :math:`k_e = |k\cos\mu|`,
    the heave amplitude is :math:`\eta|F|` and the pitch amplitude
    :math:`\eta|G|`, both with the same dynamic factor :math:`\eta`, as published.

    The published ratio :math:`A^2/(kB\alpha^3)` looks singular where the hull keeps pace
    with the waves (:math:`\alpha\to0`). It is not: with
    :math:`A = 2\sin(\alpha^2kB/2)e^{-\alpha^2kT}` it equals
    :math:`\alpha kB\,\mathrm{sinc}^2(\alpha^2kB/2)e^{-2\alpha^2kT}`, the form used here,
    which gives the quasi-static limit in following seas.

    The publication has no phases. They follow from its equation of motion: damping acts on
    the difference of the water's vertical velocity (at the wave frequency) and the section's
    (at the encounter frequency), so the excitation has the phase of
    :math:`1-kT+i|\alpha|kB(\dots)` and the response that of the dynamic factor. Heave follows
    the even part of the wave along the hull and pitch the odd part, so they differ by 90
    degrees.

    Sway is that of the water around the hull, :math:`\omega^2\sin\mu\,e^{-0.75kT}`,
    averaged over length and breadth. The depth factor is a fit to
    boundary-element results for two yacht hulls in beam seas
    (``docs/wave-slope-check.md``); the long-wave limit is exact.

    Valid for slender mono-hulls, linear motion, Froude number to about 0.3, deep
    water. See ``closed_form_doubt``.

    References
    ----------
    Jensen, Mansour and Olsen, "Estimation of ship motions using closed-form
    expressions", Ocean Engineering 31 (2004) 61-85 (heave and pitch).
    """
    omega = np.asarray(omega_rad_s, dtype=float)
    cos_mu = np.cos(np.asarray(mu_rad, dtype=float))
    wavenumber = omega**2 / G_M_S2
    alpha = 1.0 - omega * np.asarray(speed_m_s, dtype=float) * cos_mu / G_M_S2
    beam = hull.beam_m * hull.block_coefficient
    k_draught = wavenumber * hull.draught_m
    half = 0.5 * np.abs(wavenumber * cos_mu) * hull.length_m

    squared = alpha**2
    radiated = (
        wavenumber
        * beam
        * _sinc(0.5 * squared * wavenumber * beam) ** 2
        * np.exp(-2.0 * squared * k_draught)
    )
    excitation = np.exp(-k_draught) * (1.0 - k_draught + 1j * np.abs(alpha) * radiated)
    # Damping opposes velocity, whose sign relative to the wave changes when she overtakes it.
    dynamic = 1.0 - 2.0 * k_draught * squared + 1j * np.sign(alpha) * squared * radiated
    # NaN passes through; complex division would give a warning.
    with np.errstate(invalid="ignore"):
        section = excitation / dynamic

    heave = section * _sinc(half)
    # The slope of the wave along x at midship is -i k cos(mu); the shape factor averages it.
    pitch = section * (-1j * wavenumber * cos_mu) * _moment_shape(half)
    sin_mu = np.sin(np.asarray(mu_rad, dtype=float))
    # Water under a crest has no lateral acceleration; it has most where the surface is
    # steepest, a quarter period later.
    sway = (
        -1j
        * omega**2
        * sin_mu
        * np.exp(-0.75 * k_draught)
        * _sinc(half)
        * _sinc(0.5 * wavenumber * hull.beam_m * sin_mu)
    )
    heave, pitch, sway = np.broadcast_arrays(heave, pitch, sway)
    return Motion(heave=heave, pitch=pitch, sway_acceleration=sway)


def closed_form_doubt(
    peak_period_s: Any, mu_rad: Any, speed_m_s: Any, hull: HullForm
) -> NDArray[np.int64]:
    """Flags where the closed-form motions are doubtful.

    Parameters
    ----------
    peak_period_s, mu_rad, speed_m_s : array_like
        Peak period of the sea [s], encounter angle [rad] and speed through the water
        [m/s]; they broadcast together.
    hull : HullForm

    Returns
    -------
    ndarray of int
        Sum of the bits in ``DOUBT_WORDS``; 0 where no doubt is known or an input is NaN.
        Dimensionless.

    Notes
    -----
    Bit 8 marks mu beyond 120 degrees at Froude number 0.15 or more (assumption). At 0.29
    vertical acceleration forward was 0.23 to 0.72 of boundary elements' in seas of 5 to
    10 s from 135 to 180 degrees (docs/motions.md).
    """
    omega = 2.0 * np.pi / np.asarray(peak_period_s, dtype=float)
    mu = np.asarray(mu_rad, dtype=float)
    speed = np.asarray(speed_m_s, dtype=float)
    froude = speed / np.sqrt(G_M_S2 * hull.length_m)
    ratio = hull.beam_m / hull.draught_m
    low, high = BREADTH_TO_DRAUGHT_RANGE
    wavelength = 2.0 * np.pi * G_M_S2 / omega**2
    bow = np.cos(mu) < np.cos(2.0 * np.pi / 3.0)
    code = (
        1 * (froude > FROUDE_LIMIT)
        + 2 * bool(not low <= ratio <= high)
        + 4 * (wavelength < 0.5 * hull.length_m)
        + 8 * (bow & (froude >= 0.15))
    )
    known = np.isfinite(omega + mu + speed)
    result: NDArray[np.int64] = np.where(known, code, 0).astype(np.int64)
    return result


def doubt_words(code: int) -> tuple[str, ...]:
    """Texts of one value of ``closed_form_doubt``, a dimensionless sum of bits."""
    return tuple(words for bit, words in DOUBT_WORDS.items() if code & bit)
