"""Strip theory on a grid of waves at one speed, with cubic interpolation."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from passage.physics.motions.spline import CubicSpline
from passage.physics.motions.strip_hull import StripHull
from passage.physics.motions.strip_motion import strip_motion
from passage.units import G_M_S2

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

#: Quantities of a table, in order: heave, pitch, slope, accelerations of sway and yaw, and
#: added resistance from radiation, only for waves from ahead of the beam.
QUANTITIES: tuple[str, ...] = ("heave", "pitch", "slope", "sway", "yaw", "resistance")
#: Divided by wavenumber in the table, so that they have a limit in long waves.
_OVER_WAVENUMBER = ("pitch", "slope", "sway", "yaw")
_SIDED = ("slope", "sway", "yaw")
#: Headings of the grid, following to head. [rad]
GRID_MU_RAD: FloatArray = np.linspace(0.0, np.pi, 41)
#: Longest and shortest wave of the grid, wavenumber times length.
_LONGEST, _SHORTEST = 0.03, 60.0


def grid_omega_rad_s(length_m: float) -> FloatArray:
    """Wave frequencies of the grid for a hull, even in log k, then even in k. [rad/s]

    Forces vary with the number of waves along the hull, so short waves need even steps of
    wavenumber k; long waves only approach a limit. Waterline length in [m].
    """
    turn = 3.0
    long = np.geomspace(_LONGEST, turn, 22, endpoint=False)
    short = np.arange(turn, _SHORTEST + 0.1, 0.6)
    return np.asarray(np.sqrt(np.concatenate([long, short]) * G_M_S2 / length_m))


@dataclass(frozen=True, eq=False)
class StripTable:
    """Results of strip theory at one speed.

    Attributes
    ----------
    speed_m_s : float
        Speed through the water. [m/s]
    omega_rad_s : ndarray, shape (n,)
        Wave frequencies, ascending. [rad/s]
    values : ndarray of complex, shape (6, n, m)
        ``QUANTITIES`` over wave frequency and ``GRID_MU_RAD``.
    """

    speed_m_s: float
    omega_rad_s: FloatArray
    values: ComplexArray

    @cached_property
    def _columns(self) -> dict[str, tuple[FloatArray, ComplexArray]]:
        return {}

    def _over_frequency(self, name: str, log_omega: FloatArray) -> ComplexArray:
        """One quantity at given frequencies, on the headings of the grid, (n, m).

        The result is kept for the next call with the same frequencies, because a spectrum is
        integrated a few headings at a time.
        """
        kept = self._columns.get(name)
        if kept is None or not np.array_equal(kept[0], log_omega):
            spline = CubicSpline(np.log(self.omega_rad_s), self.values[QUANTITIES.index(name)])
            kept = self._columns[name] = (log_omega, spline(log_omega))
        return kept[1]

    def forget(self) -> None:
        """Free the memory of interpolated values, which can be computed again."""
        self._columns.clear()

    def at(
        self,
        omega_rad_s: FloatArray,
        mu_rad: FloatArray,
        only: tuple[str, ...] = QUANTITIES,
    ) -> dict[str, ComplexArray]:
        """Quantities on the grid of frequencies ``(nw,)`` and headings ``(nm,)``.

        Units as in ``StripMotion``, per metre of wave amplitude. Waves longer than the table's
        follow the limit; shorter ones give zero. Headings may have any range; port and
        starboard differ in the sign of slope, sway and yaw. NaN stays NaN. The resistance is
        real and zero for waves from abaft the beam.
        """
        omega, mu = np.asarray(omega_rad_s, float), np.asarray(mu_rad, float)
        held = np.clip(omega, self.omega_rad_s[0], self.omega_rad_s[-1])
        known = np.nan_to_num(held, nan=float(self.omega_rad_s[0]))
        columns = [self._over_frequency(name, np.log(known)) for name in only]
        folded = np.arccos(np.clip(np.cos(mu), -1.0, 1.0))
        by_heading = CubicSpline(GRID_MU_RAD, np.moveaxis(np.stack(columns), 2, 0))
        grid = np.moveaxis(by_heading(np.nan_to_num(folded)), 0, 2)
        shape = np.where(omega > self.omega_rad_s[-1], 0.0, 1.0)[:, None] * np.ones(mu.size)
        shape = np.where(np.isnan(omega)[:, None] | np.isnan(mu), np.nan, shape)
        wavenumber = (omega**2 / G_M_S2)[:, None]
        side = np.where(np.sin(mu) < 0.0, -1.0, 1.0)
        found = {}
        for name, part in zip(only, grid, strict=True):
            part = part * shape
            if name in _OVER_WAVENUMBER:
                part = part * wavenumber
            found[name] = part * side if name in _SIDED else part
        return found


def strip_table(hull: StripHull, speed_m_s: float) -> StripTable:
    """Solve a hull at one speed [m/s] on the whole grid; units and signs as in ``StripMotion``."""
    length = hull.sections.strip_m * hull.sections.x_m.size
    omega = grid_omega_rad_s(length)
    motion = strip_motion(hull, omega, GRID_MU_RAD, speed_m_s)
    k = (omega**2 / G_M_S2)[:, None]
    values: list[Any] = []
    for name in QUANTITIES:
        part = getattr(motion, name)
        if name == "resistance":
            # For waves from abaft the beam the method fails: it gives far too large a push.
            part = np.where(np.cos(GRID_MU_RAD) < 0.0, part, 0.0)
        values.append(part / k if name in _OVER_WAVENUMBER else part + 0j)
    return StripTable(float(speed_m_s), omega, np.stack(values))
