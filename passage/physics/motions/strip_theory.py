r"""Strip theory with forward speed: forces and motions of a hull in regular waves.

The theory of Salvesen, Tuck and Faltinsen (1970), with the terms of the after end where
that is not pointed. Compared with the ordinary strip method, its coupling of heave and pitch
at speed has the symmetry that potential flow requires, and its exciting forces follow from the
same section potentials by reciprocity.

The displacement of a strip in a mode is n(section) times 1 (sway, heave, roll) or times
x (yaw, pitch). With s = i omega_e, both the normal velocity and the pressure carry the
operator (s - U d/dx), which gives for strips and modes of shape p(x), q(x)

.. math::
    T_{pq} = -\int C (s p + U p')(s q - U q')\,dx - U\,p_A C_A (s q_A - U q')

with C = a + b/s of the section and A the after end; in this form no term divides by the
encounter frequency. In pitch on pitch the part :math:`U^2 b/s` is left out, as in the
ordinary theory, because model tests show no damping that grows with the square of speed
(Journee 1992, 2001; tests/physics/motions/test_strip_measured.py).

Signs: x forward of the centre of gravity, y to starboard, z up; pitch bow up, yaw bow to
starboard, roll starboard down; time factor exp(+i omega_e t), wave exp(-i k x cos mu) on
the centreline at midship, per metre of its amplitude. Deep water.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from passage.physics.motions.strip_hull import StripHull
from passage.physics.motions.strip_sections import HEAVE, ROLL, SWAY
from passage.units import G_M_S2, RHO_SEA_KG_M3

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]


#: Modes as (section mode, power of x): heave and pitch; sway, roll and yaw.
VERTICAL = ((HEAVE, 0), (HEAVE, 1))
LATERAL = ((SWAY, 0), (ROLL, 0), (SWAY, 1))
#: Least encounter frequency, over the root of gravity over length.
SLOWEST_MEETING = 1e-3


@dataclass(frozen=True, eq=False)
class Forces:
    """Radiation and excitation at one heading over frequency.

    Attributes
    ----------
    encounter_rad_s : ndarray, shape (n,)
        Signed encounter frequency. [rad/s]
    vertical : ndarray, shape (n, 2, 2)
        Radiation force per motion of heave and pitch, omega^2 A - i omega B, in [N/m], [N]
        and [N m].
    lateral : ndarray, shape (n, 3, 3)
        The same for sway, roll and yaw, about the centre of gravity.
    heave_pitch, sway_roll_yaw : ndarray, shape (n, 2) and (n, 3)
        Exciting forces [N] and moments [N m] about the centre of gravity, per metre of wave
        amplitude, with the phase of the wave at midship.
    """

    encounter_rad_s: FloatArray
    vertical: ComplexArray
    lateral: ComplexArray
    heave_pitch: ComplexArray
    sway_roll_yaw: ComplexArray


def slowest_meeting(hull: StripHull) -> float:
    """Least encounter frequency used for a hull, where sway and yaw stay bounded. [rad/s]"""
    length = hull.sections.strip_m * hull.sections.x_m.size
    return float(SLOWEST_MEETING * np.sqrt(G_M_S2 / length))


def strip_forces(
    hull: StripHull, omega_rad_s: FloatArray, mu_rad: float, speed_m_s: float
) -> Forces:
    """Radiation and exciting forces at one heading.

    Parameters
    ----------
    hull : StripHull
    omega_rad_s : ndarray, shape (n,)
        Wave frequency, > 0. [rad/s]
    mu_rad : float
        Encounter angle, 0 following, pi head; waves of mu between 0 and pi travel to
        starboard. [rad]
    speed_m_s : float
        Speed through the water. [m/s]

    References
    ----------
    Salvesen, Tuck and Faltinsen, "Ship motions and sea loads", Trans. SNAME 78 (1970)
    250-287 (theory; restated here for modes of any shape along the hull).
    """
    omega = np.asarray(omega_rad_s, float)
    k = omega**2 / G_M_S2
    met = omega - k * speed_m_s * np.cos(mu_rad)
    # At zero encounter frequency nothing limits sway and yaw, so a least value is used.
    slowest = slowest_meeting(hull)
    met = np.where(np.abs(met) < slowest, slowest, met)
    psi = hull.psi(met)
    section = hull.coefficients(met)
    s = 1j * met
    u = speed_m_s

    n = hull.sections.x_m.size
    x, dx = hull.x_m, hull.sections.strip_m
    end = hull.aft_x_m

    pressed, scattered = _section_excitation(hull, psi, k, omega, mu_rad)

    def exciting(modes: tuple[tuple[int, int], ...]) -> ComplexArray:
        out = np.empty((omega.size, len(modes)), complex)
        for i, (row, p) in enumerate(modes):
            shape = x**p
            total = np.sum(pressed[row, :, :n] * shape, axis=1) * dx
            moved = s[:, None] * shape + u * p
            total = total + np.sum(scattered[row, :, :n] * moved, axis=1) * dx
            if hull.has_end:
                total = total + u * end**p * scattered[row, :, -1]
            out[:, i] = total
        return out

    heave_pitch = exciting(VERTICAL)
    heave_pitch[:, 1] += _pushed_along(hull, k, mu_rad)
    vertical, lateral = (radiation(hull, section, s, u, modes) for modes in (VERTICAL, LATERAL))
    return Forces(met, vertical, lateral, heave_pitch, exciting(LATERAL))


def radiation(
    hull: StripHull,
    section: ComplexArray,
    s: ComplexArray,
    speed_m_s: float,
    modes: tuple[tuple[int, int], ...],
) -> ComplexArray:
    """Radiation force per motion, (n, modes, modes): omega^2 A - i omega B.

    ``section`` is the result of ``StripHull.coefficients`` at encounter frequencies omega, and
    ``s`` is i omega [rad/s]; ``modes`` is ``VERTICAL`` or ``LATERAL``; speed in [m/s]. Pitch
    damping that grows with the square of speed is left out.
    """
    n, u, end = hull.sections.x_m.size, speed_m_s, hull.aft_x_m
    x, dx = hull.x_m, hull.sections.strip_m
    out = np.empty((s.size, len(modes), len(modes)), complex)
    for i, (row, p) in enumerate(modes):
        for j, (column, q) in enumerate(modes):
            c = section[row, column]
            left = s[:, None] * x**p + u * p
            right = s[:, None] * x**q - u * q
            total = -np.sum(c[:, :n] * left * right, axis=1) * dx
            if hull.has_end:
                total = total - u * end**p * c[:, -1] * (s * end**q - u * q)
            if row == HEAVE and p == q == 1:
                # Model tests show no pitch damping that grows with the square of speed.
                still = np.sum(c[:, :n], axis=1) * dx
                if hull.has_end:
                    still = still + end * c[:, -1]
                total = total - 1j * u**2 * still.imag
            out[:, i, j] = total
    return out


def _pushed_along(hull: StripHull, k: FloatArray, mu: float) -> ComplexArray:
    """Pitching moment of the wave's longitudinal pressure gradient on the strips. [N m] per m.

    It is small and not in the original theory; without it the hull would pitch some per cent
    more than the slope of a very long wave.
    """
    area, height = hull.section_volume
    arm = height - hull.gravity_z_m
    wave = np.exp(k[:, None] * height - 1j * k[:, None] * hull.sections.x_m * np.cos(mu))
    push = RHO_SEA_KG_M3 * G_M_S2 * 1j * k * np.cos(mu)
    return np.asarray(-push * np.sum(area * arm * wave, axis=1) * hull.sections.strip_m)


def _section_excitation(
    hull: StripHull,
    psi: ComplexArray,
    k: FloatArray,
    omega: FloatArray,
    mu: float,
) -> tuple[ComplexArray, ComplexArray]:
    """Force of the undisturbed wave, and of scattering over i omega_e: (3, n, sections).

    Both per metre of hull and of wave amplitude. Scattering follows by reciprocity: the
    integral of the section's potential times the normal velocity of the wave. The
    longitudinal velocity of the wave is left out, as in the original theory.
    """
    contours = hull.potentials.contours
    y, _ = contours.mid
    ny, nz = contours.normal
    place = hull.sections.x_m
    if hull.has_end:
        place = np.append(place, hull.sections.aft_x_m)
    phase = np.exp(-1j * k[:, None] * place * np.cos(mu))
    across = np.sin(mu)
    turn = k[:, None, None] * (y * across)
    decay = hull.decay(k)
    even, odd = decay * np.cos(turn), decay * np.sin(turn)
    # Twice the starboard half; the port half is its mirror image, even or odd.
    rise = even * nz - odd * (ny * across)
    side = odd * nz + even * (ny * across)
    modes = contours.modes

    def over_section(a: NDArray[Any], b: NDArray[Any]) -> NDArray[Any]:
        return np.asarray(np.einsum("...sp,...sp->...s", a, b))

    gravity = 2.0 * RHO_SEA_KG_M3 * G_M_S2
    pressed = np.empty((3, omega.size, place.size), complex)
    scattered = np.empty_like(pressed)
    # Potential of the wave i g / omega, its gradient k; odd parts carry -i.
    amplitude = -2j * RHO_SEA_KG_M3 * omega[:, None]
    for mode in (SWAY, ROLL):
        pressed[mode] = 1j * gravity * over_section(odd, modes[mode])
        scattered[mode] = -1j * amplitude * over_section(psi[mode], side)
    pressed[HEAVE] = -gravity * over_section(even, modes[HEAVE])
    scattered[HEAVE] = amplitude * over_section(psi[HEAVE], rise)
    for force in (pressed, scattered):
        force[ROLL] -= hull.gravity_z_m * force[SWAY]
        force *= phase
    return pressed, scattered
