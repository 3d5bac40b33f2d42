r"""Lateral acceleration felt at a place, with sway, yaw and roll in their phases.

Fins and quadratic damping make roll from the wave slope by an equation that is not known
before the sea is. So what sway and yaw have in common with the slope is kept for each sea, near
her own period, where roll is made; the equation of roll then gives what they have in common
with roll.
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

#: Channels beside that of sway: variances, then amounts of either sign.
LATERAL_VARIANCES = ("yaw_acceleration", "slope", "slope_near", "slope_rate_near")
LATERAL_AMOUNTS = (
    "sway_yaw",
    "slope_sway",
    "slope_rate_sway",
    "slope_yaw",
    "slope_rate_yaw",
)
LATERAL_CHANNELS = (*LATERAL_VARIANCES, *LATERAL_AMOUNTS)
#: Damping ratio of the resonance that says what is near her own period (chosen by trial
#: over headings, periods, places and fins; docs/motions.md).
_NEAR = 0.4


class LateralProvider(Protocol):
    """Sway, yaw and slope by a theory of the whole hull."""

    def lateral(
        self, omega_rad_s: Any, mu_rad: Any, speed_m_s: Any
    ) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
        """Accelerations of sway at midship and of yaw, roll held, and the slope, per metre."""
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
        Acceleration at midship to starboard [m/s2 per m], of yaw, bow to starboard
        [rad/s2 per m], roll held.
    slope : ndarray of complex
        Effective wave slope. [rad/m]
    met_rad_s : ndarray
        Signed frequency of meeting. [rad/s]
    natural_frequency_rad_s : float
        Of roll. [rad/s]

    Returns
    -------
    list of ndarray
        In [rad2/s4] (yaw), [m rad/s4], [rad2] (slope), [rad2/s2], [m rad/s2] and so on;
        each over [m2].
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
    """What a sea does to a hull across her; each an array P, as ``lateral_rows`` has them."""

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
    r"""Lateral acceleration felt at a place, rms, with the part of gravity that roll brings.

    Parameters
    ----------
    x_m, z_above_axis_m : array_like
        Place forward of midship, and above the roll axis. [m]
    roll_m0, roll_m2, roll_m4 : array_like
        Variance of roll [rad2], roll rate [rad2/s2] and roll acceleration [rad2/s4].
    sea : LateralSea
        Fields of shape P.
    slope_variance : array_like
        Variance of effective wave slope that made the roll. [rad2]
    natural_frequency_rad_s, damping_ratio : array_like
        Of roll [rad/s], and its linear damping with fins, share of critical.

    Returns
    -------
    ndarray
        Broadcast shape, rms. NaN in gives NaN out. [m/s2]

    Notes
    -----
    Felt is :math:`g\phi - z\ddot\phi - p` with :math:`p = \ddot s + x\ddot\psi`, the
    acceleration that sway and yaw bring with roll held. Near her own period p is taken as
    :math:`R\alpha + I\dot\alpha` of the slope, R and I by least squares over the sea; what is
    left has nothing in common with roll. Multiply the equation of roll by :math:`\phi`,
    :math:`\dot\phi` or :math:`\ddot\phi` and take the mean: with D the damping ratio times
    :math:`2\omega_0`,
    :math:`E[\alpha\phi] = m_0 - m_2/\omega_0^2`,
    :math:`E[\alpha\ddot\phi] = m_4/\omega_0^2 - m_2`,
    :math:`E[\dot\alpha\phi] = -Dm_2/\omega_0^2` and
    :math:`E[\dot\alpha\ddot\phi] = Dm_4/\omega_0^2`. The angle gain and lag of fins are left
    out there.
    """
    m0, m2, m4 = (np.asarray(m, dtype=float) for m in (roll_m0, roll_m2, roll_m4))
    x, z = np.asarray(x_m, dtype=float), np.asarray(z_above_axis_m, dtype=float)
    square = np.asarray(natural_frequency_rad_s, dtype=float) ** 2
    drag = 2.0 * np.asarray(damping_ratio, dtype=float) / np.sqrt(square)
    # A user's number or a doubt may scale the slope that made the roll.
    scale = np.sqrt(np.asarray(slope_variance, dtype=float) / _some(sea.slope))
    scale = _some(scale)
    in_phase = (sea.slope_sway + x * sea.slope_yaw) / _some(sea.slope_near) / scale
    ahead = (sea.slope_rate_sway + x * sea.slope_rate_yaw) / _some(sea.slope_rate_near) / scale
    with_roll = in_phase * (m0 - m2 / square) - ahead * drag * m2
    with_acceleration = in_phase * (m4 / square - m2) + ahead * drag * m4
    pushed = sea.sway + 2.0 * x * sea.sway_yaw + x**2 * sea.yaw_acceleration
    variance = G_M_S2**2 * m0 + 2.0 * G_M_S2 * z * m2 + z**2 * m4 + pushed
    variance = variance - 2.0 * (G_M_S2 * with_roll - z * with_acceleration)
    # Rounding can leave a point where all cancels at -1e-18.
    return np.sqrt(np.maximum(variance, 0.0))


def _some(values: FloatArray) -> FloatArray:
    """Values, 1 where they are 0: no slope has nothing in common with anything."""
    return np.asarray(np.where(values == 0.0, 1.0, values))
