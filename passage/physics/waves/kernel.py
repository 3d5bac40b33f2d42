"""Kernels: responses per unit of variance density, and their sums over a spectrum.

A kernel is a function of wave frequency, encounter angle and speed, even in the
angle (port equals starboard). Summed over a directional spectrum it gives a
variance or a mean force. It has one of two forms:

- dense: ``kernel(omega_rad_s (nw,), mu_rad (nm,), speed_m_s) -> (channels, nw, nm)``;
- dealt: an object with ``channels`` and ``deal(omega, mu, speed)``, which splits the response
  at each (omega, mu) between two neighbouring channels; all other channels are zero.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple, Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from scipy.sparse import csr_matrix

FloatArray = NDArray[np.float64]

#: Frequencies of the fine integration, log spaced. The lower end is about half the peak
#: frequency of the longest sea in the tables, below which a spectrum is zero; the upper end is
#: far above the frequencies that move a vessel. [rad/s]
FINE_OMEGA_RAD_S: FloatArray = np.geomspace(0.1, 16.0, 1000)
#: Directions of the fine integration over the half turn: 720 over the whole. [rad]
FINE_MU_RAD: FloatArray = np.linspace(0.0, np.pi, 361)
#: The same directions over the whole turn. [rad]
FINE_TURN_RAD: FloatArray = np.arange(2 * (FINE_MU_RAD.size - 1)) * FINE_MU_RAD[1]


#: Smaller values become zero in the tables (ends of a spectrum, very short waves). Their
#: products would be subnormal in single precision, and the sums would take three times as long.
NEGLIGIBLE = 1e-18


def as_singles(values: FloatArray) -> NDArray[np.float32]:
    """Single precision, in which sums are good to 1e-4; below ``NEGLIGIBLE`` set to zero.

    Values in the unit of the kernel, any shape [e.g. rad2].
    """
    return np.where(np.abs(values) < NEGLIGIBLE, 0.0, values).astype(np.float32)


class DenseKernel(Protocol):
    """Response per unit of variance density."""

    def __call__(self, omega_rad_s: FloatArray, mu_rad: FloatArray, speed_m_s: float) -> FloatArray:
        """Channels by frequency by encounter angle."""
        ...


class Dealt(NamedTuple):
    """Response at each (omega, mu), split between channel ``lower`` and the one above it.

    All of shape (nw, nm); the two amounts sum to the response, in its unit.
    """

    lower: NDArray[np.intp]
    amount_lower: FloatArray
    amount_upper: FloatArray


@runtime_checkable
class DealtKernel(Protocol):
    """Kernel whose response at one (omega, mu) is in two neighbouring channels."""

    @property
    def channels(self) -> int:
        """Number of channels."""
        ...

    def deal(self, omega_rad_s: FloatArray, mu_rad: FloatArray, speed_m_s: float) -> Dealt:
        """Split the response between two neighbouring channels."""
        ...


Kernel = DenseKernel | DealtKernel

#: Number of directions for which a kernel is evaluated at a time.
_STRETCH = 61


def channel_count(kernel: Kernel, speed_m_s: float) -> int:
    """Number of channels of a kernel; speed in [m/s]."""
    stated = getattr(kernel, "channels", None)
    if isinstance(stated, int):  # evaluating the kernel may solve a whole hull
        return stated
    assert not isinstance(kernel, DealtKernel)  # those have the attribute
    probe = np.array([0.5, 1.0])
    return int(np.shape(kernel(probe, probe, speed_m_s))[0])


def frequency_widths(omega_rad_s: FloatArray) -> FloatArray:
    """Trapezoidal widths of a frequency grid. [rad/s]"""
    edges = 0.5 * (omega_rad_s[1:] + omega_rad_s[:-1])
    ends = np.concatenate([omega_rad_s[:1], edges, omega_rad_s[-1:]])
    return np.asarray(np.diff(ends))


class KernelOperator:
    """A kernel on the fine grid, for sums over frequency.

    Parameters
    ----------
    kernel : Kernel
        The response.
    speed_m_s : float
        Speed through the water. [m/s]
    """

    def __init__(self, kernel: Kernel, speed_m_s: float) -> None:
        self._kernel = kernel
        self._speed_m_s = speed_m_s
        self.channels = channel_count(kernel, speed_m_s)

    def stretches(self) -> Iterator[tuple[slice, csr_matrix | NDArray[np.float32]]]:
        """Yield the kernel a few directions at a time, so that it is never whole in memory.

        Each item is a slice of ``FINE_MU_RAD`` and a matrix (channels x directions,
        frequencies), row = channel + channels * direction.
        """
        for start in range(0, FINE_MU_RAD.size, _STRETCH):
            part = slice(start, min(start + _STRETCH, FINE_MU_RAD.size))
            if isinstance(self._kernel, DealtKernel):
                yield part, self._dealt(self._kernel, FINE_MU_RAD[part], self._speed_m_s)
            else:
                yield part, self._dense(self._kernel, FINE_MU_RAD[part], self._speed_m_s)

    def _dealt(self, kernel: DealtKernel, mu_rad: FloatArray, speed_m_s: float) -> csr_matrix:
        """Kernel at some directions as a sparse matrix, rows as in :meth:`stretches`."""
        from scipy.sparse import csr_matrix

        nw, nm = FINE_OMEGA_RAD_S.size, mu_rad.size
        dealt = kernel.deal(FINE_OMEGA_RAD_S, mu_rad, speed_m_s)
        rows = (dealt.lower + self.channels * np.arange(nm)).astype(np.int32).ravel()
        columns = np.repeat(np.arange(nw, dtype=np.int32), nm)
        amounts = [dealt.amount_lower.ravel(), dealt.amount_upper.ravel()]
        return csr_matrix(
            (
                as_singles(np.concatenate(amounts)),
                (np.concatenate([rows, rows + 1]), np.concatenate([columns, columns])),
            ),
            shape=(nm * self.channels, nw),
        )

    def _dense(
        self, kernel: DenseKernel, mu_rad: FloatArray, speed_m_s: float
    ) -> NDArray[np.float32]:
        """Kernel at some directions as a matrix, rows as in :meth:`stretches`."""
        response = as_singles(np.asarray(kernel(FINE_OMEGA_RAD_S, mu_rad, speed_m_s), float))
        expected = (self.channels, FINE_OMEGA_RAD_S.size, mu_rad.size)
        if response.shape != expected:
            raise ValueError(f"kernel gave shape {response.shape}, expected {expected}")
        return np.ascontiguousarray(response.transpose(2, 0, 1)).reshape(-1, response.shape[1])

    def over_frequency(self, energy: FloatArray) -> NDArray[np.float32]:
        """Sum the kernel over frequency for several spectra at once.

        Parameters
        ----------
        energy : ndarray, shape (nw, n)
            Density times frequency width of n spectra. [m2]

        Returns
        -------
        ndarray, shape (directions, channels * n)
            Sums at every direction of the fine grid, in the unit of the kernel times m2.
        """
        single = np.ascontiguousarray(as_singles(energy))
        summed = np.empty((FINE_MU_RAD.size, self.channels * single.shape[1]), np.float32)
        for part, matrix in self.stretches():
            summed[part] = (matrix @ single).reshape(part.stop - part.start, -1)
        return summed


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
        Rows sum to 1, dimensionless. Port and starboard are added, since kernels are even.
    """
    step = float(FINE_MU_RAD[1] - FINE_MU_RAD[0])
    turn = FINE_TURN_RAD.size
    weights = density / density.sum()
    out = np.rint(mu_out_rad / step).astype(np.intp)
    inside = np.arange(FINE_MU_RAD.size)
    near = weights[(inside[None, :] - out[:, None]) % turn]
    far = weights[(-inside[None, :] - out[:, None]) % turn]
    far[:, [0, -1]] = 0.0  # dead ahead and dead astern occur once
    return np.asarray(near + far)
