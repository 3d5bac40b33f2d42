"""Responses to full two-dimensional spectra, as wave models write them."""

from __future__ import annotations

from collections import OrderedDict

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passage.physics.waves.kernel import (
    FINE_OMEGA_RAD_S,
    FINE_TURN_RAD,
    Kernel,
    KernelOperator,
    frequency_widths,
    spreading_matrix,
)
from passage.physics.waves.seas import HEADING_STEP_RAD, HEADINGS_RAD, fold_heading

FloatArray = NDArray[np.float64]
_KEPT = 2  # frequency grids kept; a plan has one, seldom two


class DensityTables:
    """Responses of a kernel at one speed to spectra on any grid.

    Parameters
    ----------
    kernel : Kernel
        Response, even in encounter angle.
    speed_m_s : float
        Speed through the water. [m/s]
    """

    def __init__(self, kernel: Kernel, speed_m_s: float) -> None:
        self._kernel = kernel
        self._speed = speed_m_s
        self._tables: OrderedDict[tuple[bytes, int], FloatArray] = OrderedDict()

    @property
    def nbytes(self) -> int:
        """Memory held. [bytes]"""
        return sum(a.nbytes for a in self._tables.values())

    def response(self, density: ArrayLike, omega_rad_s: ArrayLike, mu_rad: ArrayLike) -> FloatArray:
        """Response to spectra of shape P + (nw, nd); as ``SpectralTable.from_density``."""
        density = np.asarray(density, float)
        nd = density.shape[-1]
        table = self._table(np.asarray(omega_rad_s, float), nd)
        shape = (*density.shape[:-2], nd)
        position = np.broadcast_to(fold_heading(mu_rad) / HEADING_STEP_RAD, shape)
        known = np.where(np.isnan(position), 0.0, position)
        low = np.minimum(known.astype(np.intp), HEADINGS_RAD.size - 2)
        share = (position - low)[..., None, None]
        out = np.zeros((*shape[:-1], table.shape[-1]))
        for d in range(nd):
            near, far = table[low[..., d]], table[low[..., d] + 1]  # P + (nw, channels)
            mixed = near + share[..., d, :, :] * (far - near)
            out += np.einsum("...w,...wc->...c", density[..., d], mixed)
        return out

    def _table(self, omega: FloatArray, nd: int) -> FloatArray:
        """Response to unit density at one frequency and direction of a grid.

        Shape (headings, nw, channels). The density falls linearly to zero at the next
        frequency and direction of the grid.
        """
        key = (omega.tobytes(), nd)
        if key in self._tables:
            self._tables.move_to_end(key)
            return self._tables[key]
        if omega.ndim != 1 or omega.size < 2 or np.any(np.diff(omega) <= 0.0):
            raise ValueError("frequencies of a spectrum must be ascending, two or more")
        operator = KernelOperator(self._kernel, self._speed)
        hats = np.stack(
            [np.interp(FINE_OMEGA_RAD_S, omega, row, 0.0, 0.0) for row in np.eye(omega.size)],
            axis=1,
        )
        energy = hats * frequency_widths(FINE_OMEGA_RAD_S)[:, None]
        # Each hat function keeps its exact area, so that the total variance is the file's.
        gaps = np.diff(omega)
        area = 0.5 * (np.append(gaps, 0.0) + np.insert(gaps, 0, 0.0))
        total = energy.sum(axis=0)
        energy *= np.where(total > 0.0, area / np.where(total > 0.0, total, 1.0), 0.0)
        step = 2.0 * np.pi / nd
        away = np.minimum(FINE_TURN_RAD, 2.0 * np.pi - FINE_TURN_RAD)
        matrix = spreading_matrix(HEADINGS_RAD, np.maximum(1.0 - away / step, 0.0))
        table = (matrix @ operator.over_frequency(energy)).reshape(
            HEADINGS_RAD.size, operator.channels, omega.size
        )
        table = np.ascontiguousarray(table.transpose(0, 2, 1)) * step
        self._tables[key] = table
        while len(self._tables) > _KEPT:
            self._tables.popitem(last=False)
        return table
