"""A hull for strip theory: her strips, weight, stiffness and section potentials."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from passage.physics.hull.sections import Sections, contour_points
from passage.physics.motions.spline import CubicSpline
from passage.physics.motions.strip_sections import (
    ROLL,
    SWAY,
    Contours,
    SectionPotentials,
    section_potentials,
)
from passage.units import G_M_S2, RHO_SEA_KG_M3

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

#: Frequencies of the section potentials, times the root of length over gravity.
_SCALED = (0.25, 14.0, 44)
#: Panels on half a section.
PANELS = 18


@dataclass(frozen=True, eq=False)
class StripHull:
    """Strips of one hull at one loading.

    Attributes
    ----------
    sections : Sections
    gm_m : float
        Metacentric height. The centre of gravity is that far below the metacentre of the
        sections, so that stiffness and exciting moment agree in long waves. [m]
    pitch_radius_m, yaw_radius_m : float
        Radii of gyration. [m]
    potentials : SectionPotentials
        Potentials of the strips and, where it is not pointed, of the after end as the last
        section.
    """

    sections: Sections
    gm_m: float
    pitch_radius_m: float
    yaw_radius_m: float
    potentials: SectionPotentials

    @cached_property
    def _hydrostatics(self) -> tuple[float, float, float, float]:
        """Volume, centre of buoyancy x and z, and metacentre z, of the polygons."""
        dx = self.sections.strip_m
        area, height = self.section_volume
        volume = float(np.sum(area) * dx)
        x = float(np.sum(self.sections.x_m * area) * dx / volume)
        z = float(np.sum(height * area) * dx / volume)
        across = float(np.sum(self.sections.breadth_m**3) * dx / 12.0)
        return volume, x, z, z + across / volume

    @cached_property
    def section_volume(self) -> tuple[FloatArray, FloatArray]:
        """Area of each strip's polygon [m2] and height of its centroid [m]."""
        contours = self.strips
        top, bottom = contours.z_m[:, :-1], contours.z_m[:, 1:]
        dy = np.diff(contours.y_m, axis=1)
        area = -np.sum((top + bottom) * dy, axis=1)
        moment = -np.sum((top**2 + top * bottom + bottom**2) / 3.0 * dy, axis=1)
        return np.asarray(area), np.asarray(moment / area)

    @property
    def strips(self) -> Contours:
        """Contours of the strips, without the after end."""
        n = self.sections.x_m.size
        all_ = self.potentials.contours
        return Contours(all_.y_m[:n], all_.z_m[:n])

    @property
    def mass_kg(self) -> float:
        """Displacement. [kg]"""
        return RHO_SEA_KG_M3 * self._hydrostatics[0]

    @property
    def centre_x_m(self) -> float:
        """Centre of buoyancy, and of gravity, forward of midship. [m]"""
        return self._hydrostatics[1]

    @property
    def gravity_z_m(self) -> float:
        """Centre of gravity above the waterline. [m]"""
        return self._hydrostatics[3] - self.gm_m

    @property
    def x_m(self) -> FloatArray:
        """Positions of the strips forward of the centre of gravity. [m]"""
        return self.sections.x_m - self.centre_x_m

    @property
    def aft_x_m(self) -> float:
        """Position of the after end forward of the centre of gravity. [m]"""
        return self.sections.aft_x_m - self.centre_x_m

    @property
    def has_end(self) -> bool:
        """Whether the after end has a section of its own."""
        return bool(self.potentials.contours.y_m.shape[0] > self.sections.x_m.size)

    @cached_property
    def vertical_stiffness(self) -> FloatArray:
        """Stiffness of heave and pitch about the centre of gravity, (2, 2). [N/m], [N], [N m]"""
        x, dx, b = self.x_m, self.sections.strip_m, self.sections.breadth_m
        volume, _, z, _ = self._hydrostatics
        gravity = RHO_SEA_KG_M3 * G_M_S2
        heave, cross = np.sum(b) * dx, np.sum(x * b) * dx
        # A strip acts at its middle, as in the exciting moment.
        pitch = np.sum(x**2 * b) * dx + volume * (z - self.gravity_z_m)
        return gravity * np.array([[heave, cross], [cross, pitch]])

    @property
    def roll_stiffness(self) -> float:
        """Righting moment per radian. [N m]"""
        return self.mass_kg * G_M_S2 * self.gm_m

    @cached_property
    def _psi_spline(self) -> CubicSpline:
        psi = np.moveaxis(self.potentials.psi, 1, 0)
        return CubicSpline(np.log(self.potentials.omega_rad_s), psi)

    @cached_property
    def _coefficient_spline(self) -> CubicSpline:
        values = self.potentials.coefficients()
        # Roll about the centre of gravity: roll less height of the centre times sway.
        values[ROLL] -= self.gravity_z_m * values[SWAY]
        values[:, ROLL] -= self.gravity_z_m * values[:, SWAY]
        return CubicSpline(np.log(self.potentials.omega_rad_s), np.moveaxis(values, 2, 0))

    def _signed(self, spline: CubicSpline, encounter_rad_s: FloatArray, axis: int) -> ComplexArray:
        """Cubic over log frequency, constant beyond the ends; conjugate where negative."""
        nodes = self.potentials.omega_rad_s
        size = np.clip(np.abs(encounter_rad_s), nodes[0], nodes[-1])
        found = spline(np.log(size))
        overtaken = encounter_rad_s < 0.0
        found[overtaken] = np.conj(found[overtaken])
        return np.moveaxis(found, 0, axis)

    def psi(self, encounter_rad_s: FloatArray) -> ComplexArray:
        """Section potentials at signed encounter frequencies ``(n,)``: (3, n, sections, panels).

        Beyond the lowest and the highest frequency the value is that of the end. A negative
        frequency gives the conjugate.
        """
        return self._signed(self._psi_spline, encounter_rad_s, 1)

    def coefficients(self, encounter_rad_s: FloatArray) -> ComplexArray:
        """a + b/(i omega), roll about the centre of gravity, (3, 3, n, sections)."""
        return self._signed(self._coefficient_spline, encounter_rad_s, 2)

    def decay(self, wavenumber: FloatArray) -> FloatArray:
        """Length of each panel times exp(k z) at its middle, (n, sections, panels). [m]

        The result is kept for the next call, because every heading has the same wavenumbers.
        """
        kept = self._kept
        if kept and np.array_equal(kept[0], wavenumber):
            return kept[1]
        contours = self.potentials.contours
        _, z = contours.mid
        found = np.exp(wavenumber[:, None, None] * z) * contours.length_m
        self._kept[:] = [wavenumber, found]
        return np.asarray(found)

    def wave_at_strips(self, wavenumber: FloatArray, mu_rad: float) -> ComplexArray:
        """Effective elevation at each strip: vertical force over rho g breadth, (n, strips)."""
        contours = self.strips
        y, _ = contours.mid
        _, nz = contours.normal
        n = self.sections.x_m.size
        k = wavenumber[:, None, None]
        decay = self.decay(wavenumber)[:, :n]
        felt = -2.0 * np.sum(decay * np.cos(k * y * np.sin(mu_rad)) * nz, axis=2)
        along = np.exp(-1j * wavenumber[:, None] * self.sections.x_m * np.cos(mu_rad))
        return np.asarray(felt / self.sections.breadth_m * along)

    @cached_property
    def _kept(self) -> list[FloatArray]:
        return []


def solved_sections(sections: Sections, *, psi: ComplexArray | None = None) -> SectionPotentials:
    """Potentials of the sections of a hull, and of her after end where that is not pointed.

    Potentials per unit velocity [m], of roll per unit rate [m2]. ``psi``, if given, is an
    earlier solution for the same sections.
    """
    breadth, draught, area = sections.breadth_m, sections.draught_m, sections.area_m2
    end = np.array(sections.aft)
    if np.all(end > 0.0):
        breadth, draught, area = (
            np.append(v, e) for v, e in zip((breadth, draught, area), end, strict=True)
        )
    contours = Contours(*contour_points(breadth, draught, area, PANELS))
    length = sections.strip_m * sections.x_m.size
    low, high, count = _SCALED
    omega = np.geomspace(low, high, count) * np.sqrt(G_M_S2 / length)
    if psi is not None:
        return SectionPotentials(contours, omega, psi)
    return section_potentials(contours, omega)


def strip_hull(
    sections: Sections,
    *,
    gm_m: float,
    pitch_radius_m: float,
    yaw_radius_m: float | None = None,
    potentials: SectionPotentials | None = None,
) -> StripHull:
    """Hull for strip theory; solves the sections unless ``potentials`` is given.

    GM and radii of gyration in [m]; the yaw radius is the pitch radius where not given (common
    practice).
    """
    return StripHull(
        sections,
        gm_m,
        pitch_radius_m,
        pitch_radius_m if yaw_radius_m is None else yaw_radius_m,
        solved_sections(sections) if potentials is None else potentials,
    )
