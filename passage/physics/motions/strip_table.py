"""Strip theory on a grid of waves at one speed, and smooth between its points."""

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

#: What a table holds, in order: heave, pitch, slope, accelerations of sway and yaw, and
#: the radiated added resistance, which is kept for waves from ahead of the beam only.
QUANTITIES: tuple[str, ...] = ("heave", "pitch", "slope", "sway", "yaw", "resistance")
#: Divided by wavenumber in the table, so that long waves run into a limit.
_OVER_WAVENUMBER = ("pitch", "slope", "sway", "yaw")
_SIDED = ("slope", "sway", "yaw")
#: Headings of the grid, following to head. [rad]
GRID_MU_RAD: FloatArray = np.linspace(0.0, np.pi, 41)
#: Longest and shortest wave of the grid, wavenumber times length.
_LONGEST, _SHORTEST = 0.03, 60.0


def grid_omega_rad_s(length_m: float) -> FloatArray:
    """Wave frequencies of the grid for a hull: even in logarithm, then in wavenumber. [rad/s]

    Forces on a hull change with the number of waves along her, so that short waves need
    even steps of wavenumber; very long ones only have to run into their limit.
    """
    turn = 3.0
    long = np.geomspace(_LONGEST, turn, 22, endpoint=False)
    short = np.arange(turn, _SHORTEST + 0.1, 0.6)
    return np.asarray(np.sqrt(np.concatenate([long, short]) * G_M_S2 / length_m))


@dataclass(frozen=True, eq=False)
class StripTable:
    """Answers of strip theory at one speed.

    Attributes
    ----------
    speed_m_s : float
    omega_rad_s : ndarray, shape (n,)
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
        """One quantity at frequencies, on the headings of the grid, (n, m).

        The last frequencies are kept: a spectrum is worked through a few headings at a time.
        """
        kept = self._columns.get(name)
        if kept is None or not np.array_equal(kept[0], log_omega):
            spline = CubicSpline(np.log(self.omega_rad_s), self.values[QUANTITIES.index(name)])
            kept = self._columns[name] = (log_omega, spline(log_omega))
        return kept[1]

    def forget(self) -> None:
        """Give back the memory of what can be worked out again."""
        self._columns.clear()

    def at(
        self,
        omega_rad_s: FloatArray,
        mu_rad: FloatArray,
        only: tuple[str, ...] = QUANTITIES,
    ) -> dict[str, ComplexArray]:
        """Quantities on the grid of frequencies ``(nw,)`` and headings ``(nm,)``.

        Per metre of wave amplitude, as in ``StripMotion``. Waves longer than the
        table's follow their limit, shorter ones move nothing. Headings of any range;
        port and starboard differ in the sign of slope, sway and yaw. NaN stays NaN. The
        resistance is real, in N/m2, zero from abaft the beam.
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
    """Solve a hull at one speed [m/s] on the whole grid; units and signs as in ``StripTable``."""
    length = hull.sections.strip_m * hull.sections.x_m.size
    omega = grid_omega_rad_s(length)
    motion = strip_motion(hull, omega, GRID_MU_RAD, speed_m_s)
    k = (omega**2 / G_M_S2)[:, None]
    values: list[Any] = []
    for name in QUANTITIES:
        part = getattr(motion, name)
        if name == "resistance":
            # From astern the method fails: it gives a push many times too large.
            part = np.where(np.cos(GRID_MU_RAD) < 0.0, part, 0.0)
        values.append(part / k if name in _OVER_WAVENUMBER else part + 0j)
    return StripTable(float(speed_m_s), omega, np.stack(values))
