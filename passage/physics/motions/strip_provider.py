"""Strip theory as a provider: heave, pitch, sway and effective wave slope at any speed."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from passage.physics.hull.sections import Sections
from passage.physics.motions.strip_hull import StripHull, solved_sections, strip_hull
from passage.physics.motions.strip_motion import roll_radiation
from passage.physics.motions.strip_table import StripTable, grid_omega_rad_s, strip_table
from passage.physics.motions.vertical_motion import Motion
from passage.physics.roll.radiation import RollRadiation
from passage.units import G_M_S2, KNOT_M_S

ComplexArray = NDArray[np.complex128]
Arrays = dict[str, NDArray[Any]]
#: ``(what, make) -> arrays``, from an earlier run or newly computed.
Keeper = Callable[[tuple[Any, ...], Callable[[], Arrays]], Mapping[str, NDArray[Any]]]

#: Bits of ``strip_doubt`` and their texts.
DOUBT_WORDS: dict[int, str] = {
    1: "speed above Froude number 0.4, where strip theory and the still waterline no longer hold",
    2: "waves shorter than half the waterline: strip theory gives only the order of magnitude",
    4: "following or quartering sea met at almost no frequency: she may be carried along by the "
    "waves, which linear motions do not show",
}
#: Froude number up to which strip theory is taken to hold (common practice, no source).
FROUDE_LIMIT = 0.4
#: Encounter frequency, times the root of length over gravity, below which she counts as
#: keeping pace with the waves (assumption).
SLOW_MEETING = 0.5
#: Step and number of the speeds for which radiation of roll is tabulated.
_RADIATION_STEP_M_S, _RADIATION_ROWS = 2.0 * KNOT_M_S, 41


@dataclass(frozen=True, eq=False)
class StripMotions:
    """Strip theory of one hull, solved for each speed when it is first needed.

    Attributes
    ----------
    sections : Sections
    gm_m, pitch_radius_m : float
        Metacentric height, and radius of gyration in pitch and in yaw. [m]
    """

    sections: Sections
    gm_m: float
    pitch_radius_m: float

    def keep_with(self, keeper: Keeper) -> StripMotions:
        """Keep solutions for other runs with ``keeper``; returns itself.

        The keeper is not a field, because the motions do not depend on it.
        """
        self.__dict__["_keeper"] = keeper
        return self

    def _kept(self, what: tuple[Any, ...], make: Callable[[], Arrays]) -> Mapping[str, Any]:
        keeper: Keeper | None = self.__dict__.get("_keeper")
        return make() if keeper is None else keeper(what, make)

    @cached_property
    def hull(self) -> StripHull:
        """The hull with her sections solved."""

        def make() -> Arrays:
            return {"psi": solved_sections(self.sections).psi}

        found = self._kept(("sections", self.sections), make)
        return strip_hull(
            self.sections,
            gm_m=self.gm_m,
            pitch_radius_m=self.pitch_radius_m,
            potentials=solved_sections(self.sections, psi=found["psi"]),
        )

    @cached_property
    def _tables(self) -> dict[float, StripTable]:
        return {}

    def table(self, speed_m_s: float) -> StripTable:
        """All quantities at one speed. [m/s]"""
        speed = round(float(speed_m_s), 9)
        if speed not in self._tables:
            found = self._kept(
                ("speed", self.sections, self.gm_m, self.pitch_radius_m, speed),
                lambda: {"values": strip_table(self.hull, speed).values},
            )
            for other in self._tables.values():
                other.forget()
            length = self.sections.strip_m * self.sections.x_m.size
            self._tables[speed] = StripTable(speed, grid_omega_rad_s(length), found["values"])
        return self._tables[speed]

    def __call__(self, omega_rad_s: Any, mu_rad: Any, speed_m_s: Any) -> Motion:
        """Heave, pitch and sway on a grid: ``omega`` ``(n, 1)`` or flat, ``mu`` ``(1, m)``."""
        found = self._found(omega_rad_s, mu_rad, speed_m_s, ("heave", "pitch", "sway"))
        return Motion(heave=found["heave"], pitch=found["pitch"], sway_acceleration=found["sway"])

    def lateral(
        self, omega_rad_s: Any, mu_rad: Any, speed_m_s: Any
    ) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
        """Accelerations of sway at midship and of yaw with roll held, and slope, (n, m).

        Per metre of wave amplitude: [m/s2], [rad/s2], [rad].
        """
        found = self._found(omega_rad_s, mu_rad, speed_m_s, ("sway", "yaw", "slope"))
        yaw = found["yaw"]
        return found["sway"] - self.hull.centre_x_m * yaw, yaw, found["slope"]

    def slope(self, omega_rad_s: Any, mu_rad: Any, speed_m_s: float) -> ComplexArray:
        """Effective wave slope on the same grid, (n, m). [rad/m]"""
        return self._found(omega_rad_s, mu_rad, speed_m_s, ("slope",))["slope"]

    def radiated(self, omega_rad_s: Any, mu_rad: Any, speed_m_s: float) -> NDArray[np.float64]:
        """Added resistance from radiated energy, per amplitude squared, (n, m). [N/m2]

        For waves from ahead of the beam; zero for waves from abaft it.
        """
        found = self._found(omega_rad_s, mu_rad, speed_m_s, ("resistance",))
        return np.asarray(found["resistance"].real)

    def roll_radiation(self, nodes_rad_s: NDArray[np.float64]) -> RollRadiation:
        """Radiation of roll at encounter frequencies [rad/s], for speeds up to 80 kn."""
        nodes = np.asarray(nodes_rad_s, float)

        def make() -> Arrays:
            speeds = np.asarray(_RADIATION_STEP_M_S * np.arange(_RADIATION_ROWS), float)
            return {"table": roll_radiation(self.hull, nodes, speeds)}

        found = self._kept(
            ("roll-radiation", self.sections, self.gm_m, self.pitch_radius_m, nodes), make
        )
        return RollRadiation(_RADIATION_STEP_M_S, nodes, found["table"])

    def _found(
        self, omega_rad_s: Any, mu_rad: Any, speed_m_s: Any, only: tuple[str, ...]
    ) -> dict[str, ComplexArray]:
        omega, mu = np.ravel(omega_rad_s).astype(float), np.ravel(mu_rad).astype(float)
        speed = float(speed_m_s)
        # An unknown speed has no table: its results are NaN, by the factor below.
        found = self.table(speed if np.isfinite(speed) else 0.0).at(omega, mu, only)
        blank = 1.0 if np.isfinite(speed) else np.nan
        return {name: values * blank for name, values in found.items()}


def strip_doubt(
    peak_period_s: Any, mu_rad: Any, speed_m_s: Any, length_m: float
) -> NDArray[np.int64]:
    """Flags where motions by strip theory are doubtful.

    Peak period [s], encounter angle [rad] (0 following, pi head) and speed [m/s] broadcast
    together; length on the waterline [m]. Returns the sum of bits of ``DOUBT_WORDS``; 0
    where no doubt is known or an input is NaN.
    """
    omega = 2.0 * np.pi / np.asarray(peak_period_s, dtype=float)
    mu, speed = np.asarray(mu_rad, dtype=float), np.asarray(speed_m_s, dtype=float)
    froude = np.abs(speed) / np.sqrt(G_M_S2 * length_m)
    wavelength = 2.0 * np.pi * G_M_S2 / omega**2
    met = omega - omega**2 / G_M_S2 * speed * np.cos(mu)
    slow = (np.abs(met) * np.sqrt(length_m / G_M_S2) < SLOW_MEETING) & (np.cos(mu) > 0.0)
    code = (
        1 * (froude > FROUDE_LIMIT)
        + 2 * (wavelength < 0.5 * length_m)
        + 4 * (slow & (froude > 0.0))
    )
    known = np.isfinite(omega + mu + speed)
    return np.where(known, code, 0).astype(np.int64)


def doubt_words(code: int) -> tuple[str, ...]:
    """Texts of one value of ``strip_doubt``, a dimensionless sum of bits."""
    return tuple(words for bit, words in DOUBT_WORDS.items() if code & bit)
