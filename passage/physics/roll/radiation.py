r"""Change of added inertia and radiation damping of roll with encounter frequency.

The measured period and damping include the water's share at the natural frequency. At other
encounter frequencies that share differs, and only the *difference* is added: nothing counts
twice, and the measured numbers hold where she rolls most.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passage.physics.compiled import compile_loop

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class RollRadiation:
    r"""Radiation of roll with sway and yaw free, over the righting moment per radian.

    Attributes
    ----------
    step_m_s : float
        Step of speed from row to row; the first row is at 0. [m/s]
    nodes_rad_s : ndarray, shape (n,)
        Encounter frequencies, ascending. [rad/s]
    table : ndarray, shape (K, 2, n)
        Added inertia times frequency squared [dimensionless], and damping [s], by strip
        theory.
    """

    step_m_s: float
    nodes_rad_s: FloatArray
    table: FloatArray

    def place(self, speed_m_s: ArrayLike) -> FloatArray:
        """Row, with its fraction, of speeds [m/s]; NaN beyond the last row."""
        place = np.abs(np.asarray(speed_m_s, float)) / self.step_m_s
        return np.where(place > self.table.shape[0] - 1, np.nan, place)

    def beside(
        self,
        speed_m_s: float,
        natural_frequency_rad_s: float,
        damping_ratio: float,
        righting_ratio: float = 1.0,
    ) -> tuple[FloatArray, FloatArray]:
        """Stiffness [dimensionless] and damping [s] to add at one speed [m/s], (n,) each.

        Natural frequency [rad/s] and damping ratio (dimensionless) are the hull's measured
        ones at that speed; ``righting_ratio`` is her righting moment over that of the table.
        NaN for a speed beyond the table. Formula: ``radiation_at``.
        """
        more = np.full((2, self.nodes_rad_s.size), np.nan)
        row, w0 = float(self.place(speed_m_s)), float(natural_frequency_rad_s)
        if np.isfinite(row):
            over, damping = 1.0 / righting_ratio, 2.0 * damping_ratio / w0
            radiation_at(self.table, self.nodes_rad_s, row, over, w0, damping, more)
        return more[0], more[1]


def no_radiation(nodes_rad_s: FloatArray) -> RollRadiation:
    """Radiation without change over frequency [rad/s] and speed: nothing is added."""
    return RollRadiation(np.inf, nodes_rad_s, np.zeros((2, 2, nodes_rad_s.size)))


@compile_loop
def radiation_at(radiation, nodes, row, over, w0, damping, more):  # type: ignore[no-untyped-def]
    r"""Fill ``more`` (2, n) with the stiffness and damping to add at one point.

    Parameters
    ----------
    radiation, nodes, row
        Table and frequencies [rad/s] of ``RollRadiation``, and a row with its fraction.
    over : float
        Righting moment of the table over that of the point. [dimensionless]
    w0, damping : float
        Natural frequency [rad/s], and the hull's linear damping over the righting moment,
        2 zeta/w0. [s]

    Notes
    -----
    With :math:`\omega^2A` and B over the righting moment, stiffness at :math:`\omega` grows
    by :math:`(\omega/\omega_0)^2\,\omega_0^2A(\omega_0) - \omega^2A(\omega)` and
    damping by :math:`B(\omega) - B(\omega_0)`, both at one speed: the growth of damping with
    speed is in the vessel file. Where the hull's damping is less than :math:`B(\omega_0)`,
    B is scaled down to it, so that damping is not negative at any frequency.
    """
    if nodes.size < 2:
        # A single frequency gives no difference.
        more[0, 0] = more[1, 0] = 0.0
        return
    k = min(int(row), radiation.shape[0] - 2)
    part = row - k
    at = min(max(np.searchsorted(nodes, w0) - 1, 0), nodes.size - 2)
    along = (w0 - nodes[at]) / (nodes[at + 1] - nodes[at])
    for q in range(2):
        for j in range(nodes.size):
            more[q, j] = (1.0 - part) * radiation[k, q, j] + part * radiation[k + 1, q, j]
            more[q, j] *= over
    inertia = ((1.0 - along) * more[0, at] + along * more[0, at + 1]) / (w0 * w0)
    natural = (1.0 - along) * more[1, at] + along * more[1, at + 1]
    share = 1.0
    if natural > damping:
        share = damping / natural
    for j in range(nodes.size):
        more[0, j] = nodes[j] * nodes[j] * inertia - more[0, j]
        more[1, j] = share * (more[1, j] - natural)
