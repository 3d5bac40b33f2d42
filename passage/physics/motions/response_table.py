"""Heave and pitch from a table of response functions, in place of strip theory."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from passage.physics.motions.places import MotionKernel, station_patch_m
from passage.physics.motions.vertical_motion import HullForm, Motion, closed_form_motion
from passage.units import G_M_S2, KNOT_M_S

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

#: Range of validity beyond the speeds of a table. [m/s]
SPEED_TOLERANCE_M_S = 0.5 * KNOT_M_S


@dataclass(frozen=True, kw_only=True, eq=False)
class ResponseTable:
    """Complex heave and pitch on a grid; a provider for ``MotionKernel``.

    Attributes
    ----------
    speed_m_s : ndarray, shape (s,)
        Speeds, ascending. [m/s]
    omega_rad_s : ndarray, shape (n,)
        *Wave* frequencies, ascending, > 0. [rad/s]
    mu_rad : ndarray, shape (m,)
        Encounter angles, ascending from 0 (following) to pi (head). [rad]
    heave, pitch : ndarray of complex, shape (s, n, m)
        Motion per metre of wave amplitude, as in ``Motion``. [m/m], [rad/m]
    hull : HullForm
        Hull for sway, which comes from the closed form: sway in such a table includes the
        roll of a hull without viscous damping, which is far too large near the natural roll
        period.

    Notes
    -----
    Linear between grid points, in heave and pitch/k, so that below the lowest frequency they
    tend to the known long-wave limits (1 and -i cos(mu)). Above the highest frequency the
    response is zero; the reader of the file checks that little is lost there.
    More than half a knot outside the speeds of the table the result is NaN.
    """

    speed_m_s: FloatArray
    omega_rad_s: FloatArray
    mu_rad: FloatArray
    heave: ComplexArray
    pitch: ComplexArray
    hull: HullForm

    def covers(self, speed_m_s: Any) -> NDArray[np.bool_]:
        """Whether the table is valid at a speed. [m/s]"""
        speed = np.asarray(speed_m_s, dtype=float)
        inside: NDArray[np.bool_] = (speed >= self.speed_m_s[0] - SPEED_TOLERANCE_M_S) & (
            speed <= self.speed_m_s[-1] + SPEED_TOLERANCE_M_S
        )
        return inside

    def __call__(self, omega_rad_s: Any, mu_rad: Any, speed_m_s: Any) -> Motion:
        """Motion in waves [rad/s], [rad] that broadcast together, at one speed [m/s]."""
        omega, mu = np.broadcast_arrays(
            np.asarray(omega_rad_s, dtype=float), np.asarray(mu_rad, dtype=float)
        )
        speed = float(speed_m_s)
        # The hull is symmetric: bring the angle into [0, pi].
        folded = np.arccos(np.clip(np.cos(mu), -1.0, 1.0))
        wavenumber = omega**2 / G_M_S2
        sway = closed_form_motion(omega, mu, speed, self.hull).sway_acceleration
        if not bool(self.covers(speed)):
            blank = np.full(omega.shape, np.nan, dtype=complex)
            return Motion(heave=blank, pitch=blank, sway_acceleration=sway)

        grid_k = self.omega_rad_s**2 / G_M_S2
        zero = np.zeros((self.speed_m_s.size, 1, self.mu_rad.size))
        heave = np.concatenate([zero + 1.0, self.heave], axis=1)
        slope = np.concatenate(
            [zero - 1j * np.cos(self.mu_rad), self.pitch / grid_k[:, None]], axis=1
        )
        nodes = np.concatenate([[0.0], self.omega_rad_s])
        s, ws = _place(np.asarray(speed), self.speed_m_s)
        i, wi = _place(omega, nodes)
        j, wj = _place(folded, self.mu_rad)

        def value(table: ComplexArray) -> ComplexArray:
            at_speed = (1.0 - ws) * table[s] + ws * table[min(int(s) + 1, table.shape[0] - 1)]
            j2 = np.minimum(j + 1, self.mu_rad.size - 1)
            low = (1.0 - wj) * at_speed[i, j] + wj * at_speed[i, j2]
            high = (1.0 - wj) * at_speed[i + 1, j] + wj * at_speed[i + 1, j2]
            result: ComplexArray = (1.0 - wi) * low + wi * high
            return result

        held: FloatArray = np.where(omega > nodes[-1], 0.0, 1.0)
        return Motion(
            heave=held * value(heave),
            pitch=held * wavenumber * value(slope),
            sway_acceleration=sway,
        )


def _place(x: FloatArray, grid: FloatArray) -> tuple[NDArray[np.intp], FloatArray]:
    """Grid interval of x and position in it from 0 to 1; x outside counts as at the end.

    NaN stays NaN.
    """
    if grid.size == 1:
        return np.zeros(x.shape, dtype=np.intp), np.where(np.isnan(x), np.nan, 0.0)
    index = np.clip(np.searchsorted(grid, x, side="right") - 1, 0, grid.size - 2)
    weight: FloatArray = (np.clip(x, grid[0], grid[-1]) - grid[index]) / (
        grid[index + 1] - grid[index]
    )
    return index, weight


def response_kernel(
    table: ResponseTable,
    *,
    places_x_m: tuple[float, ...] = (),
    stations_x_m: tuple[float, ...] = (),
) -> MotionKernel:
    """Kernel from a table of response functions; channels and units as in ``MotionKernel``.

    Places and stations forward of midship. [m]
    """
    return MotionKernel(
        provider=table,
        places_x_m=tuple(float(x) for x in places_x_m),
        stations_x_m=tuple(float(x) for x in stations_x_m),
        patch_m=station_patch_m(table.hull),
        rough_phase=False,
    )
