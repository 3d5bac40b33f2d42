"""Fine integration that fills the spectral tables."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from passage.physics.waves.kernel import (
    FINE_OMEGA_RAD_S,
    FINE_TURN_RAD,
    Kernel,
    KernelOperator,
    as_singles,
    frequency_widths,
    spreading_matrix,
)
from passage.physics.waves.seas import HEADINGS_RAD, PERIODS_S, levels_of_shape
from passage.physics.waves.spectrum import jonswap, spreading

FloatArray = NDArray[np.float64]


def integrated(kernel: Kernel, speed_m_s: float, shapes: Sequence[int]) -> NDArray[np.float32]:
    """Integrate a kernel over the spectra of some tabulated shapes at one speed.

    Parameters
    ----------
    kernel : Kernel
        Even in encounter angle.
    speed_m_s : float
        Speed through the water. [m/s]
    shapes : sequence of int
        Indices as in ``seas.levels_of_shape``.

    Returns
    -------
    ndarray, shape (shapes, periods, headings, channels)
        Response per square metre of significant height, in the kernel's unit.
    """
    operator = KernelOperator(kernel, speed_m_s)
    levels = [levels_of_shape(shape) for shape in shapes]
    widths = frequency_widths(FINE_OMEGA_RAD_S)
    energies = {gamma: _energy(gamma, widths) for gamma in sorted({g for g, _ in levels})}
    matrices = [_spreading_of(width) for _, width in levels]
    size = operator.channels * PERIODS_S.size
    sums = np.zeros((len(shapes), HEADINGS_RAD.size, size), np.float32)
    for part, matrix in operator.stretches():
        for gamma, energy in energies.items():
            by_direction = np.asarray(matrix @ energy).reshape(part.stop - part.start, size)
            for n, (own, _) in enumerate(levels):
                if own == gamma:
                    sums[n] += matrices[n][:, part] @ by_direction
    tables = sums.reshape(len(shapes), HEADINGS_RAD.size, operator.channels, PERIODS_S.size)
    return np.ascontiguousarray(tables.transpose(0, 3, 1, 2))


def _energy(gamma: float, widths: FloatArray) -> NDArray[np.float32]:
    """Variance by frequency at all tabulated periods, for a significant height of 1 m. [m2]"""
    energy = jonswap(FINE_OMEGA_RAD_S[:, None], 1.0, PERIODS_S, gamma) * widths[:, None]
    return as_singles(energy / (16.0 * energy.sum(axis=0)))


def _spreading_of(rad: float) -> NDArray[np.float32]:
    """Weights from directions to headings, for a circular width [rad]; dimensionless."""
    return as_singles(spreading_matrix(HEADINGS_RAD, spreading(FINE_TURN_RAD, rad)))
