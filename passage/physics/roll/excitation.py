r"""What makes her roll: the spectrum of effective wave slope as met on board.

The roll moment of a wave is C44 times an effective slope, in long waves the slope
``k a sin(mu)`` across her, in shorter ones less, because she is wide, deep and long.
It comes from strip theory with sway and yaw free, at her speed and heading, or from a
formula ``r(k) k a sin(mu)`` in which ``r`` depends on the wavenumber alone.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passage.physics.waves.dispersion import encounter_frequency, wavenumber
from passage.physics.waves.kernel import Dealt

FloatArray = NDArray[np.float64]


class SlopeResponse(Protocol):
    """Effective wave slope by a theory of the whole hull."""

    def slope(self, omega_rad_s: Any, mu_rad: Any, speed_m_s: float) -> NDArray[np.complex128]:
        """Complex slope over wave frequency and encounter angle, per metre. [rad/m]"""
        ...


def wave_slope_coefficient(
    wavenumber_rad_m: ArrayLike, beam_m: float, constant: float | None = None
) -> FloatArray:
    """Share of the wave slope that rolls the hull.

    Parameters
    ----------
    wavenumber_rad_m : array_like
        Wavenumber k, >= 0. [rad/m]
    beam_m : float
        Beam on the waterline B. [m]
    constant : float, optional
        A measured or chosen value for long waves, 1 in the formula; towards short
        waves it falls off as the formula does.

    Returns
    -------
    ndarray
        ``exp(-0.42 k B) sin(kB/2)/(kB/2)`` times the constant; it turns
        negative for waves shorter than the beam, where only its square counts.

    Notes
    -----
    A fit to boundary-element results, sway free, for round-bilge yacht hulls.
    A constant without the fall-off would let short waves that she overtakes, met
    near her own period, roll her by 6 to 13 per cent more.
    Averaging of the slope along the hull in short quartering seas is left out,
    which overstates roll there: the safe side for comfort.
    """
    half = 0.5 * np.asarray(wavenumber_rad_m, float) * beam_m
    long_waves = 1.0 if constant is None else constant
    return np.asarray(long_waves * np.exp(-0.84 * half) * np.sinc(half / np.pi))


def encounter_nodes(
    natural_frequency_rad_s: float, count: int = 128, top_rad_s: float = 4.0
) -> FloatArray:
    """Encounter frequencies that resolve a roll resonance.

    Parameters
    ----------
    natural_frequency_rad_s : float
        Roll frequency omega_0 to cluster at. [rad/s]
    count : int
        Number of nodes.
    top_rad_s : float
        Highest node; raised to 3 omega_0 for a stiff vessel. [rad/s]

    Returns
    -------
    ndarray, shape (count,)
        From 0, spaced half a per cent of omega_0 there and growing away from
        it, so that sums against a resonance of damping ratio 0.02 converge and
        stay converged if omega_0 is some per cent off. [rad/s]
    """
    w0 = float(natural_frequency_rad_s)
    top = max(top_rad_s, 3.0 * w0)
    finest = 0.005 * w0

    def nodes_below_and_above(growth: float) -> tuple[float, float]:
        below = np.arcsinh(growth * w0 / finest) / growth
        above = np.arcsinh(growth * (top - w0) / finest) / growth
        return float(below), float(above)

    low, high = 1e-4, 10.0
    for _ in range(200):  # fewer nodes need faster growth: bisect
        growth = np.sqrt(low * high)
        if sum(nodes_below_and_above(growth)) > count - 1:
            low = growth
        else:
            high = growth
    below, above = nodes_below_and_above(growth)
    u = np.linspace(-below, above, count)
    nodes = w0 + finest / growth * np.sinh(growth * u)
    nodes[0], nodes[-1] = 0.0, top
    return np.asarray(nodes)


@dataclass(frozen=True)
class RollExcitation:
    """Kernel: variance of effective wave slope by encounter frequency.

    One channel per node of ``nodes_rad_s``. The energy of each wave component is
    dealt to the two nodes around its \\|omega_e\\| so that its amount and its mean
    frequency are kept; sums against a response then converge like interpolation
    of the response, and the fold of following seas needs no special case.

    Parameters
    ----------
    nodes_rad_s : ndarray, shape (channels,)
        Ascending from 0, see :func:`encounter_nodes`. What lies above the last
        node is put on it. [rad/s]
    beam_m : float
        Beam on the waterline. [m]
    slope_coefficient : float, optional
        With ``response`` a factor on it, without one on :func:`wave_slope_coefficient`:
        the value in very long waves, instead of 1.
    response : SlopeResponse, optional
        Where the slope comes from; None for the formula.
    """

    nodes_rad_s: FloatArray = field(repr=False)
    beam_m: float
    slope_coefficient: float | None = None
    response: SlopeResponse | None = None

    @property
    def channels(self) -> int:
        """Number of encounter frequency nodes."""
        return int(self.nodes_rad_s.size)

    def slope_response(
        self, omega_rad_s: FloatArray, mu_rad: FloatArray, speed_m_s: float = 0.0
    ) -> FloatArray:
        """Variance of effective slope per unit of wave variance, (nw, nm)."""
        if self.response is not None:
            factor = 1.0 if self.slope_coefficient is None else self.slope_coefficient
            slope = self.response.slope(omega_rad_s, mu_rad, speed_m_s)
            return np.asarray(factor**2 * np.abs(slope) ** 2)
        k = wavenumber(omega_rad_s)
        r = wave_slope_coefficient(k, self.beam_m, self.slope_coefficient)
        return np.asarray((r * k)[:, None] ** 2 * np.sin(mu_rad) ** 2)

    def deal(self, omega_rad_s: FloatArray, mu_rad: FloatArray, speed_m_s: float) -> Dealt:
        """Two nodes and amounts for each (omega, mu)."""
        nodes = self.nodes_rad_s
        met = np.abs(encounter_frequency(omega_rad_s[:, None], speed_m_s, mu_rad))
        met = np.minimum(met, nodes[-1])
        lower = np.clip(np.searchsorted(nodes, met, "right") - 1, 0, nodes.size - 2)
        share = (met - nodes[lower]) / (nodes[lower + 1] - nodes[lower])
        response = self.slope_response(omega_rad_s, mu_rad, speed_m_s)
        return Dealt(lower, response * (1.0 - share), response * share)

    def __call__(self, omega_rad_s: FloatArray, mu_rad: FloatArray, speed_m_s: float) -> FloatArray:
        """Dense form (channels, nw, nm) of the same, for small grids."""
        dealt = self.deal(omega_rad_s, mu_rad, speed_m_s)
        out = np.zeros((self.channels, *dealt.lower.shape))
        i, j = np.indices(dealt.lower.shape)
        out[dealt.lower, i, j] += dealt.amount_lower
        out[dealt.lower + 1, i, j] += dealt.amount_upper
        return out


def roll_excitation_kernel(
    natural_frequency_rad_s: float,
    beam_m: float,
    slope_coefficient: float | None = None,
    *,
    count: int = 128,
) -> RollExcitation:
    """Roll excitation with nodes clustered at the natural roll frequency.

    Frequency [rad/s], beam [m]; the coefficient of effective slope is dimensionless, by the
    formula where None.
    """
    nodes = encounter_nodes(natural_frequency_rad_s, count)
    return RollExcitation(nodes, float(beam_m), slope_coefficient)
