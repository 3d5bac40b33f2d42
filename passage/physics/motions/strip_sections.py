r"""Added mass and damping of ship sections, two-dimensional, in deep water.

A close-fit method: the contour is a polygon, and the velocity potential on it follows
directly from Green's identity with the Green function of the free surface. Points on the
waterplane inside the section, where the identity must give zero, add equations; without
them the method fails near the frequencies at which water inside the section would slosh.

Signs: y to starboard, z up from the waterline, normal *into the water*, time factor
exp(+i omega t). :math:`\psi_j` is the potential of unit velocity in mode j, so that
:math:`\partial\psi_j/\partial n = n_j`, and

.. math:: a_{jk} + b_{jk}/(i\omega) = -\rho\int n_j\psi_k\,dl .
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from passage.units import G_M_S2, RHO_SEA_KG_M3

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

#: Modes in the order of every array: sway, heave, roll about the waterline (starboard down).
SWAY, HEAVE, ROLL = 0, 1, 2
#: Points on the waterplane inside a section, over its half breadth.
_INSIDE = np.array([0.13, 0.41, 0.72])


@dataclass(frozen=True, eq=False)
class Contours:
    """Starboard halves of sections as polygons, from the keel to the waterline.

    Attributes
    ----------
    y_m, z_m : ndarray, shape (sections, panels + 1)
        Corner points; z from the keel (negative) up to 0. [m]
    """

    y_m: FloatArray
    z_m: FloatArray

    @property
    def mid(self) -> tuple[FloatArray, FloatArray]:
        """Middle of each panel, y and z. [m]"""
        return (
            0.5 * (self.y_m[:, 1:] + self.y_m[:, :-1]),
            0.5 * (self.z_m[:, 1:] + self.z_m[:, :-1]),
        )

    @property
    def length_m(self) -> FloatArray:
        """Length of each panel. [m]"""
        return np.hypot(np.diff(self.y_m, axis=1), np.diff(self.z_m, axis=1))

    @property
    def normal(self) -> tuple[FloatArray, FloatArray]:
        """Unit normal into the water, y and z."""
        dy, dz = np.diff(self.y_m, axis=1), np.diff(self.z_m, axis=1)
        length = np.hypot(dy, dz)
        return dz / length, -dy / length

    @property
    def modes(self) -> FloatArray:
        """Normal of sway, heave and roll about the waterline, shape (3, sections, panels)."""
        y, z = self.mid
        ny, nz = self.normal
        return np.stack([ny, nz, z * ny - y * nz])


@dataclass(frozen=True, eq=False)
class SectionPotentials:
    """Potentials on the contours over frequency.

    Attributes
    ----------
    omega_rad_s : ndarray, shape (n,)
        Frequencies of oscillation, ascending. [rad/s]
    psi : ndarray of complex, shape (3, n, sections, panels)
        Potential of unit velocity [m], of unit rate for roll [m2], on the starboard half; on
        the port half sway and roll have the opposite sign.
    """

    contours: Contours
    omega_rad_s: FloatArray
    psi: ComplexArray

    def coefficients(self) -> ComplexArray:
        """a + b/(i omega) per metre of length, shape (3, 3, n, sections).

        [kg/m], [kg], [kg m]; zero between heave and the other two.
        """
        return section_coefficients(self.contours, self.psi)


def section_coefficients(contours: Contours, psi: ComplexArray) -> ComplexArray:
    """a + b/(i omega) from potentials ``(3, ..., sections, panels)``: (3, 3, ..., sections).

    Added mass a and damping b per metre of length: [kg/m], with roll [kg] and [kg m].
    """
    weight = contours.modes * contours.length_m
    result = -2.0 * RHO_SEA_KG_M3 * np.einsum("jsp,k...sp->jk...s", weight, psi)
    result[HEAVE, [SWAY, ROLL]] = 0.0
    result[[SWAY, ROLL], HEAVE] = 0.0
    return np.asarray(result)


def section_potentials(contours: Contours, omega_rad_s: FloatArray) -> SectionPotentials:
    r"""Solve every section at every frequency for its potentials.

    Parameters
    ----------
    contours : Contours
    omega_rad_s : ndarray, shape (n,)
        Frequency of oscillation, > 0. [rad/s]

    Notes
    -----
    Green function of a pulsating source under the free surface, with
    :math:`u = K(z+\zeta) + iK(y-\eta)`:

    .. math:: G = \frac{1}{2\pi}\Big[\ln\frac{r}{r'}
              - 2\,\mathrm{Re}\,e^u\big(E_1(u) + i\pi\,\mathrm{sgn\,Im}\,u\big)\Big]
              + i\,\mathrm{Re}\,e^u .

    The term with :math:`E_1` is analytic in the left half plane and its derivative is itself
    less 1/u, so that its integral over a straight panel has a closed form.

    References
    ----------
    Frank, "Oscillation of cylinders in or below the free surface of deep fluids",
    NSRDC report 2375 (1967): Green function and method. Wehausen & Laitone, "Surface waves"
    (1960), eq. 13.31. Lee & Sclavounos, J. Fluid Mech. 207 (1989): remedies such as the
    points inside.
    """
    geometry = SectionGeometry(contours)
    solved = [geometry.solve(float(w) ** 2 / G_M_S2) for w in omega_rad_s]
    return SectionPotentials(contours, np.asarray(omega_rad_s, float), np.stack(solved, axis=1))


class SectionGeometry:
    """Terms that do not depend on frequency, and the solution at one frequency."""

    def __init__(self, contours: Contours) -> None:
        self.contours = contours
        y, z = contours.mid
        sections, self.panels = y.shape
        half = contours.y_m[:, -1:]
        py = np.concatenate([y, half * _INSIDE], axis=1)
        pz = np.concatenate([z, np.zeros((sections, _INSIDE.size))], axis=1)
        self.points = py.shape[1]
        # Effect of the port half: that of the starboard half at the mirrored point.
        field_y = np.concatenate([py, -py], axis=1)[:, :, None]
        field_z = np.concatenate([pz, pz], axis=1)[:, :, None]
        corner_y, corner_z = contours.y_m[:, None, :], contours.z_m[:, None, :]
        dy, dz = np.diff(contours.y_m, axis=1), np.diff(contours.z_m, axis=1)
        # Conjugate of each panel's unit tangent, as a complex number.
        self.turn = ((dy - 1j * dz) / contours.length_m)[:, None, :]
        #: (z + zeta) + i (y - eta): times K it is u.
        self.below = (field_z + corner_z) + 1j * (field_y - corner_y)
        direct = (corner_y - field_y) + 1j * (corner_z - field_z)
        image = (corner_y - field_y) + 1j * (corner_z + field_z)
        log_direct, angle_direct = self._logs(direct)
        log_image, angle_image = self._logs(image)
        own = np.arange(self.panels)
        angle_direct[:, own, own] = 0.0  # the panel itself: its 1/2 is added in _even_or_odd
        self.still = (log_direct - log_image) / (2.0 * np.pi)
        self.still_normal = (angle_direct - angle_image) / (2.0 * np.pi)
        self.log_below = np.log(-self.below)

    def _logs(self, corner: ComplexArray) -> tuple[FloatArray, FloatArray]:
        """Integral of ln r over each panel, and of its normal derivative."""
        first, last = corner[:, :, :-1] * self.turn, corner[:, :, 1:] * self.turn
        ln_first, ln_last = np.log(first), np.log(last)
        integral = (last * (ln_last - 1.0) - first * (ln_first - 1.0)).real
        # A panel subtends at most half a turn. For points in line with it both logarithms lie
        # on their cut, where the last bit, which differs by machine, could add a full turn.
        angle = np.remainder(ln_last.imag - ln_first.imag + np.pi, 2.0 * np.pi) - np.pi
        return integral, angle

    def solve(self, wavenumber: float) -> ComplexArray:
        """Potentials of the three modes at one frequency, (3, sections, panels)."""
        modes = self.contours.modes
        single, double = self._influence(wavenumber)
        out = np.empty(modes.shape, dtype=complex)
        out[[HEAVE]] = self._even_or_odd(single, double, 1.0, modes[[HEAVE]])
        out[[SWAY, ROLL]] = self._even_or_odd(single, double, -1.0, modes[[SWAY, ROLL]])
        return out

    def scattered(self, wavenumber: float, velocity: ComplexArray, sign: float) -> ComplexArray:
        """Potential of a normal velocity ``(n, sections, panels)``, even (+1) or odd (-1) in y."""
        single, double = self._influence(wavenumber)
        return self._even_or_odd(single, double, sign, velocity)

    def _influence(self, wavenumber: float) -> tuple[ComplexArray, ComplexArray]:
        """Integrals of the Green function and of its normal derivative over each panel."""
        from scipy.special import exp1

        u = wavenumber * self.below
        wave = np.exp(u)
        side = np.where(u.imag >= 0.0, 1.0, -1.0)
        # Adding 0 makes -0 positive: on the cut the library's value is that of the upper side.
        term = wave * (exp1(u + 0.0) + 1j * np.pi * side)
        along = 1j * self.turn / wavenumber
        potential = self.still - (along * np.diff(term + self.log_below, axis=2)).real / np.pi
        normal = self.still_normal - np.diff(term, axis=2).imag / np.pi
        waves = np.diff(wave, axis=2)
        return potential + 1j * (along * waves).real, normal + 1j * waves.imag

    def _even_or_odd(
        self, single: ComplexArray, double: ComplexArray, sign: float, velocity: NDArray[Any]
    ) -> ComplexArray:
        """Potentials ``(n, sections, panels)`` of normal velocities of one symmetry."""
        half = self.points
        single = single[:, :half] + sign * single[:, half:]
        double = double[:, :half] + sign * double[:, half:]
        own = np.arange(self.panels)
        double[:, own, own] += 0.5
        right = np.einsum("spq,jsq->spj", single, velocity)
        # The points inside give more equations than unknowns: least squares.
        back = np.conj(np.swapaxes(double, 1, 2))
        return np.asarray(np.moveaxis(np.linalg.solve(back @ double, back @ right), 2, 0))
