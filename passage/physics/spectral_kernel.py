"""Kernels: responses per unit of variance density, and how they are summed.

A kernel is a function of wave frequency, encounter angle and speed, even in the
angle (port equals starboard). Summed over a directional spectrum it gives a
variance or a mean force. Two forms are understood:

- dense: ``kernel(omega_rad_s (nw,), mu_rad (nm,), speed_m_s) -> (channels, nw, nm)``;
- dealt: an object with ``channels`` and ``deal(omega, mu, speed)`` that puts each
  (omega, mu) into two neighbouring channels. It is the sparse form of the same.
"""

from __future__ import annotations

from typing import NamedTuple, Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

FloatArray = NDArray[np.float64]

#: Frequencies of the fine integration, log spaced. The lower end is half the
#: peak frequency of the longest sea in the tables, below which a spectrum is
#: nothing; the upper end is far above what moves a vessel. [rad/s]
FINE_OMEGA_RAD_S: FloatArray = np.geomspace(0.1, 16.0, 1000)
#: Directions of the fine integration over the half turn: 720 over the whole. [rad]
FINE_MU_RAD: FloatArray = np.linspace(0.0, np.pi, 361)
#: The same directions over the whole turn. [rad]
FINE_TURN_RAD: FloatArray = np.arange(2 * (FINE_MU_RAD.size - 1)) * FINE_MU_RAD[1]


class DenseKernel(Protocol):
    """Response per unit of variance density."""

    def __call__(self, omega_rad_s: FloatArray, mu_rad: FloatArray, speed_m_s: float) -> FloatArray:
        """Channels by frequency by encounter angle."""
        ...


class Dealt(NamedTuple):
    """Where each (omega, mu) falls: channel ``lower`` and the one above it.

    All of shape (nw, nm); the two amounts already carry the response.
    """

    lower: NDArray[np.intp]
    amount_lower: FloatArray
    amount_upper: FloatArray


@runtime_checkable
class DealtKernel(Protocol):
    """Kernel whose response falls on two neighbouring channels at a time."""

    @property
    def channels(self) -> int:
        """Number of channels."""
        ...

    def deal(self, omega_rad_s: FloatArray, mu_rad: FloatArray, speed_m_s: float) -> Dealt:
        """Two neighbouring channels and their amounts."""
        ...


Kernel = DenseKernel | DealtKernel


def channel_count(kernel: Kernel, speed_m_s: float) -> int:
    """How many channels a kernel has."""
    if isinstance(kernel, DealtKernel):
        return kernel.channels
    probe = np.array([0.5, 1.0])
    return int(np.shape(kernel(probe, probe, speed_m_s))[0])


def frequency_widths(omega_rad_s: FloatArray) -> FloatArray:
    """Trapezoidal widths of a frequency grid. [rad/s]"""
    edges = 0.5 * (omega_rad_s[1:] + omega_rad_s[:-1])
    ends = np.concatenate([omega_rad_s[:1], edges, omega_rad_s[-1:]])
    return np.asarray(np.diff(ends))


class KernelOperator:
    """A kernel on the fine grid, ready to be summed over frequency.

    Parameters
    ----------
    kernel : Kernel
        The response.
    speed_m_s : float
        Speed through the water. [m/s]
    """

    def __init__(self, kernel: Kernel, speed_m_s: float) -> None:
        omega, mu = FINE_OMEGA_RAD_S, FINE_MU_RAD
        nw, nm = omega.size, mu.size
        if isinstance(kernel, DealtKernel):
            self.channels = kernel.channels
            dealt = kernel.deal(omega, mu, speed_m_s)
            # Row = channel + channels * direction; column = frequency.
            rows = dealt.lower + self.channels * np.arange(nm)
            columns = np.broadcast_to(np.arange(nw)[:, None], (nw, nm)).ravel()
            self._matrix: csr_matrix | FloatArray = csr_matrix(
                (
                    np.concatenate([dealt.amount_lower.ravel(), dealt.amount_upper.ravel()]).astype(
                        np.float32
                    ),
                    (
                        np.concatenate([rows.ravel(), rows.ravel() + 1]),
                        np.concatenate([columns, columns]),
                    ),
                ),
                shape=(nm * self.channels, nw),
            )
        else:
            response = np.asarray(kernel(omega, mu, speed_m_s), float)
            if response.ndim != 3 or response.shape[1:] != (nw, nm):
                raise ValueError(
                    f"kernel gave shape {response.shape}, expected (channels, {nw}, {nm})"
                )
            self.channels = response.shape[0]
            self._matrix = np.ascontiguousarray(
                response.transpose(2, 0, 1).reshape(nm * self.channels, nw)
            )

    def over_frequency(self, energy: FloatArray) -> FloatArray:
        """Sum over frequency for several spectra at once.

        Parameters
        ----------
        energy : ndarray, shape (nw, n)
            Density times frequency width of n spectra. [m2]

        Returns
        -------
        ndarray, shape (directions, channels * n)
            For every direction of the fine grid.
        """
        if isinstance(self._matrix, csr_matrix):
            summed = self._matrix @ np.ascontiguousarray(energy, np.float32)
        else:
            summed = self._matrix @ energy
        return np.asarray(summed).reshape(FINE_MU_RAD.size, -1)


def spreading_matrix(mu_out_rad: FloatArray, density: FloatArray) -> FloatArray:
    """Weights that turn responses by direction into responses by mean heading.

    Parameters
    ----------
    mu_out_rad : ndarray, shape (m,)
        Mean headings wanted. They must lie on the fine grid. [rad]
    density : ndarray, shape (720,)
        Spreading sampled at ``FINE_TURN_RAD``. [1/rad]

    Returns
    -------
    ndarray, shape (m, fine directions)
        Rows sum to 1. Both sides are folded together, since kernels are even.
    """
    step = float(FINE_MU_RAD[1] - FINE_MU_RAD[0])
    turn = FINE_TURN_RAD.size
    weights = density / density.sum()
    out = np.rint(mu_out_rad / step).astype(np.intp)
    inside = np.arange(FINE_MU_RAD.size)
    near = weights[(inside[None, :] - out[:, None]) % turn]
    far = weights[(-inside[None, :] - out[:, None]) % turn]
    far[:, [0, -1]] = 0.0  # dead ahead and dead astern are there once
    return np.asarray(near + far)
