r"""Lateral acceleration felt at a place, with sway, yaw and roll in their phases.

With fins and quadratic damping the equation of roll depends on the sea, so the covariance of
roll with sway and yaw cannot be tabulated. Their covariance with the wave slope can: it is
kept for each sea, weighted towards the natural roll period, and the equation of roll then
gives the covariance with roll.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from passage.units import G_M_S2

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

#: Channels in addition to sway: variances, then covariances.
LATERAL_VARIANCES = ("yaw_acceleration", "slope", "slope_near", "slope_rate_near")
LATERAL_AMOUNTS = (
    "sway_yaw",
    "slope_sway",
    "slope_rate_sway",
    "slope_yaw",
    "slope_rate_yaw",
)
LATERAL_CHANNELS = (*LATERAL_VARIANCES, *LATERAL_AMOUNTS)
#: Damping ratio of the resonance used as weight near the natural roll period (chosen by trial
#: over headings, periods, places and fins; docs/motions.md).
_NEAR = 0.4


class LateralProvider(Protocol):
    """Sway, yaw and slope from a theory of the whole hull."""

    def lateral(
        self, omega_rad_s: Any, mu_rad: Any, speed_m_s: Any
    ) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
        """Accelerations of sway at midship and of yaw with roll held, and the effective slope,
        per metre of wave amplitude. [m/s2], [rad/s2], [rad]"""
        ...


def lateral_rows(
    sway: ComplexArray,
    yaw: ComplexArray,
    slope: ComplexArray,
    met_rad_s: FloatArray,
    natural_frequency_rad_s: float,
) -> list[FloatArray]:
    """``LATERAL_CHANNELS`` per unit of wave variance, on one grid of waves.

    Parameters
    ----------
    sway, yaw : ndarray of complex
        With roll held: acceleration at midship, + to starboard [m/s2 per m], and of yaw,
        + bow to starboard [rad/s2 per m].
    slope : ndarray of complex
        Effective wave slope. [rad/m]
    met_rad_s : ndarray
        Signed encounter frequency. [rad/s]
    natural_frequency_rad_s : float
        Natural roll frequency. [rad/s]

    Returns
    -------
    list of ndarray
        Variances of yaw acceleration [rad2/s4], slope [rad2] and slope rate [rad2/s2], and
        covariances such as that of sway and slope [m rad/s2]; each over [m2].
    """
    ratio = (met_rad_s / natural_frequency_rad_s) ** 2
    near = 1.0 / ((1.0 - ratio) ** 2 + (2.0 * _NEAR) ** 2 * ratio)
    size = np.abs(slope) ** 2
    common_sway, common_yaw = (slope * np.conj(v) for v in (sway, yaw))
    return [
        np.abs(yaw) ** 2,
        size,
        near * size,
        near * met_rad_s**2 * size,
        np.real(sway * np.conj(yaw)),
        near * common_sway.real,
        -near * met_rad_s * common_sway.imag,
        near * common_yaw.real,
        -near * met_rad_s * common_yaw.imag,
    ]


@dataclass(frozen=True)
class LateralSea:
    """Lateral variances and covariances of a sea, arrays P, in the units of ``lateral_rows``."""

    sway: FloatArray
    yaw_acceleration: FloatArray
    slope: FloatArray
    slope_near: FloatArray
    slope_rate_near: FloatArray
    sway_yaw: FloatArray
    slope_sway: FloatArray
    slope_rate_sway: FloatArray
    slope_yaw: FloatArray
    slope_rate_yaw: FloatArray

    @classmethod
    def of(cls, sway: FloatArray, channels: Sequence[FloatArray]) -> LateralSea:
        """From the sway channel [m2/s4] and ``LATERAL_CHANNELS`` in their order."""
        return cls(sway, *channels)


def lateral_acceleration_at(
    x_m: Any,
    z_above_axis_m: Any,
    roll_m0: Any,
    roll_m2: Any,
    roll_m4: Any,
    *,
    sea: LateralSea,
    slope_variance: Any,
    natural_frequency_rad_s: Any,
    damping_ratio: Any,
) -> FloatArray:
    r"""rms of the lateral acceleration felt at a place, with gravity's share due to roll.

    Parameters
    ----------
    x_m, z_above_axis_m : array_like
        Position forward of midship, and height above the roll axis. [m]
    roll_m0, roll_m2, roll_m4 : array_like
        Variance of roll [rad2], roll rate [rad2/s2] and roll acceleration [rad2/s4].
    sea : LateralSea
        Fields of shape P.
    slope_variance : array_like
        Variance of the effective wave slope that excites the roll. [rad2]
    natural_frequency_rad_s, damping_ratio : array_like
        Natural roll frequency [rad/s], and linear damping with fins as a share of critical.

    Returns
    -------
    ndarray
        Broadcast shape, rms. NaN in gives NaN out. [m/s2]

    Notes
    -----
    The acceleration felt is :math:`g\phi - z\ddot\phi - p` with :math:`p = \ddot s + x\ddot\psi`
    the acceleration of sway and yaw with roll held. Near the natural roll period p is taken as
    :math:`R\alpha + I\dot\alpha` of the slope, with R and I by least squares over the sea; the
    rest is uncorrelated with roll. Multiply the equation of roll by :math:`\phi`,
    :math:`\dot\phi` or :math:`\ddot\phi` and take the mean: with D twice the damping ratio
    times :math:`\omega_0`,
    :math:`E[\alpha\phi] = m_0 - m_2/\omega_0^2`,
    :math:`E[\alpha\ddot\phi] = m_4/\omega_0^2 - m_2`,
    :math:`E[\dot\alpha\phi] = -Dm_2/\omega_0^2` and
    :math:`E[\dot\alpha\ddot\phi] = Dm_4/\omega_0^2`. This leaves out the angle gain and the
    lag of fins.
    """
    m0, m2, m4 = (np.asarray(m, dtype=float) for m in (roll_m0, roll_m2, roll_m4))
    x, z = np.asarray(x_m, dtype=float), np.asarray(z_above_axis_m, dtype=float)
    square = np.asarray(natural_frequency_rad_s, dtype=float) ** 2
    drag = 2.0 * np.asarray(damping_ratio, dtype=float) / np.sqrt(square)
    # A user's coefficient or the end of a band may scale the slope that excites the roll.
    scale = np.sqrt(np.asarray(slope_variance, dtype=float) / _some(sea.slope))
    scale = _some(scale)
    in_phase = (sea.slope_sway + x * sea.slope_yaw) / _some(sea.slope_near) / scale
    ahead = (sea.slope_rate_sway + x * sea.slope_rate_yaw) / _some(sea.slope_rate_near) / scale
    with_roll = in_phase * (m0 - m2 / square) - ahead * drag * m2
    with_acceleration = in_phase * (m4 / square - m2) + ahead * drag * m4
    pushed = sea.sway + 2.0 * x * sea.sway_yaw + x**2 * sea.yaw_acceleration
    variance = G_M_S2**2 * m0 + 2.0 * G_M_S2 * z * m2 + z**2 * m4 + pushed
    variance = variance - 2.0 * (G_M_S2 * with_roll - z * with_acceleration)
    # Where all terms cancel, rounding can give -1e-18.
    return np.sqrt(np.maximum(variance, 0.0))


def _some(values: FloatArray) -> FloatArray:
    """Values, with 1 in place of 0: where there is no slope, all covariances are zero."""
    return np.asarray(np.where(values == 0.0, 1.0, values))
