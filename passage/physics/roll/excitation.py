r"""Roll excitation: the spectrum of effective wave slope over encounter frequency.

The roll moment of a wave is C44 times an effective slope. In long waves that is the slope
``k a sin(mu)`` across her; in shorter ones it is less, because of her breadth, draught and
length. It comes from strip theory with sway and yaw free, at her speed and heading, or from
the formula ``r(k) k a sin(mu)`` in which ``r`` depends only on the wavenumber.
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
    """Effective wave slope from a theory of the whole hull."""

    def slope(self, omega_rad_s: Any, mu_rad: Any, speed_m_s: float) -> NDArray[np.complex128]:
        """Complex slope per metre of wave amplitude, (frequencies, angles). [rad/m]"""
        ...


def wave_slope_coefficient(
    wavenumber_rad_m: ArrayLike, beam_m: float, constant: float | None = None
) -> FloatArray:
    """Effective wave slope over wave slope, for the roll moment. Dimensionless.

    Parameters
    ----------
    wavenumber_rad_m : array_like
        Wavenumber k, >= 0. [rad/m]
    beam_m : float
        Beam on the waterline B. [m]
    constant : float, optional
        Measured or chosen value in long waves, in place of 1; towards short waves it falls
        as in the formula.

    Returns
    -------
    ndarray
        ``exp(-0.42 k B) sin(kB/2)/(kB/2)`` times the constant. It is negative for waves
        shorter than the beam, but only its square is used.

    Notes
    -----
    A fit to boundary-element results, sway free, for round-bilge yacht hulls
    (``docs/wave-slope-check.md``). With a constant value, short waves that she overtakes at
    an encounter period near her roll period would add 6 to 13 per cent of roll.
    The average of the slope along the hull in short quartering seas is left out, which
    overestimates roll there and is on the safe side for comfort.
    """
    half = 0.5 * np.asarray(wavenumber_rad_m, float) * beam_m
    long_waves = 1.0 if constant is None else constant
    return np.asarray(long_waves * np.exp(-0.84 * half) * np.sinc(half / np.pi))


def encounter_nodes(
    natural_frequency_rad_s: float, count: int = 128, top_rad_s: float = 4.0
) -> FloatArray:
    """Encounter frequencies spaced to resolve a roll resonance.

    Parameters
    ----------
    natural_frequency_rad_s : float
        Natural roll frequency omega_0, where the nodes are densest. [rad/s]
    count : int
        Number of nodes.
    top_rad_s : float
        Highest node; raised to 3 omega_0 for a stiff vessel. [rad/s]

    Returns
    -------
    ndarray, shape (count,)
        Ascending from 0. The spacing is 0.5 per cent of omega_0 there and grows on both
        sides, so that sums over a resonance of damping ratio 0.02 converge, also if omega_0
        is some per cent in error. [rad/s]
    """
    w0 = float(natural_frequency_rad_s)
    top = max(top_rad_s, 3.0 * w0)
    finest = 0.005 * w0

    def nodes_below_and_above(growth: float) -> tuple[float, float]:
        below = np.arcsinh(growth * w0 / finest) / growth
        above = np.arcsinh(growth * (top - w0) / finest) / growth
        return float(below), float(above)

    low, high = 1e-4, 10.0
    for _ in range(200):  # bisection: fewer nodes need faster growth
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

    One channel for each node of ``nodes_rad_s``. The energy of each wave component is split
    between the two nodes around its \\|omega_e\\| so that its sum and its mean frequency are
    kept. Sums over a response then converge as interpolation of the response does, and
    following seas, where several waves share one encounter frequency, need no special case.

    Parameters
    ----------
    nodes_rad_s : ndarray, shape (channels,)
        Ascending from 0, see :func:`encounter_nodes`. Energy above the last node counts
        at that node. [rad/s]
    beam_m : float
        Beam on the waterline. [m]
    slope_coefficient : float, optional
        Factor on ``response`` or, without one, the value of :func:`wave_slope_coefficient`
        in very long waves; 1 if None. Dimensionless.
    response : SlopeResponse, optional
        Effective slope by strip theory; None for the formula.
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
        """Variance of effective slope per unit of wave variance, (nw, nm). [rad2/m2]"""
        if self.response is not None:
            factor = 1.0 if self.slope_coefficient is None else self.slope_coefficient
            slope = self.response.slope(omega_rad_s, mu_rad, speed_m_s)
            return np.asarray(factor**2 * np.abs(slope) ** 2)
        k = wavenumber(omega_rad_s)
        r = wave_slope_coefficient(k, self.beam_m, self.slope_coefficient)
        return np.asarray((r * k)[:, None] ** 2 * np.sin(mu_rad) ** 2)

    def deal(self, omega_rad_s: FloatArray, mu_rad: FloatArray, speed_m_s: float) -> Dealt:
        """Split the slope variance at each (omega, mu) between two nodes."""
        nodes = self.nodes_rad_s
        met = np.abs(encounter_frequency(omega_rad_s[:, None], speed_m_s, mu_rad))
        met = np.minimum(met, nodes[-1])
        lower = np.clip(np.searchsorted(nodes, met, "right") - 1, 0, nodes.size - 2)
        share = (met - nodes[lower]) / (nodes[lower + 1] - nodes[lower])
        response = self.slope_response(omega_rad_s, mu_rad, speed_m_s)
        return Dealt(lower, response * (1.0 - share), response * share)

    def __call__(self, omega_rad_s: FloatArray, mu_rad: FloatArray, speed_m_s: float) -> FloatArray:
        """Slope variance in dense form, (channels, nw, nm), for small grids."""
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
    """Roll excitation by the formula, with nodes densest at the natural roll frequency.

    Frequency [rad/s], beam [m]; ``slope_coefficient`` as in :class:`RollExcitation`,
    dimensionless.
    """
    nodes = encounter_nodes(natural_frequency_rad_s, count)
    return RollExcitation(nodes, float(beam_m), slope_coefficient)
