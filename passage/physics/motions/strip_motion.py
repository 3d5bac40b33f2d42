r"""Motions of a hull from the forces of strip theory, and her effective wave slope.

Heave and pitch follow from their two equations. Sway and yaw are free; eliminating them
leaves an equation of roll alone with the exciting moment :math:`M`. M over the righting moment
per radian is the *effective wave slope*. Signs as in ``strip_theory``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passage.physics.motions.strip_hull import StripHull
from passage.physics.motions.strip_sections import HEAVE
from passage.physics.motions.strip_theory import (
    LATERAL,
    Forces,
    radiation,
    slowest_meeting,
    strip_forces,
)
from passage.units import G_M_S2

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]


@dataclass(frozen=True, eq=False)
class StripMotion:
    """Results over wave frequency and heading, per metre of wave amplitude.

    Attributes
    ----------
    heave, pitch : ndarray of complex, shape (n, m)
        Heave at *midship* [m/m] and pitch, bow up [rad/m].
    slope : ndarray of complex, shape (n, m)
        Effective wave slope with sway and yaw free; +i k sin(mu) in long waves. [rad/m]
    sway, yaw : ndarray of complex, shape (n, m)
        *Accelerations* with roll held: of the centre of gravity, + to starboard [m/s2 per m],
        and of yaw, + bow to starboard [rad/s2 per m]. They stay finite where she keeps pace
        with the wave; displacements do not.
    resistance : ndarray, shape (n, m)
        Added resistance from radiated energy, per amplitude squared. [N/m2]
    """

    heave: ComplexArray
    pitch: ComplexArray
    slope: ComplexArray
    sway: ComplexArray
    yaw: ComplexArray
    resistance: FloatArray


def strip_motion(
    hull: StripHull, omega_rad_s: ArrayLike, mu_rad: ArrayLike, speed_m_s: float
) -> StripMotion:
    """Motions on a grid of wave frequencies ``(n,)`` and headings ``(m,)`` at one speed.

    Frequencies in [rad/s]; headings in [rad], 0 following, pi head, with waves between 0 and
    pi travelling to starboard; speed in [m/s]. Signs and units of the result: ``StripMotion``;
    source and range: ``strip_theory``.
    """
    omega, mu = np.asarray(omega_rad_s, float), np.asarray(mu_rad, float)
    columns = [_at_heading(hull, omega, float(m), speed_m_s) for m in mu]
    return StripMotion(*(np.stack(parts, axis=1) for parts in zip(*columns, strict=True)))


def _at_heading(
    hull: StripHull, omega: FloatArray, mu: float, speed: float
) -> tuple[NDArray[Any], ...]:
    forces = strip_forces(hull, omega, mu, speed)
    square = (forces.encounter_rad_s**2)[:, None, None]
    mass = hull.mass_kg
    inertia = mass * np.diag([1.0, hull.pitch_radius_m**2])
    vertical = hull.vertical_stiffness - square * inertia - forces.vertical
    heave, pitch = np.linalg.solve(vertical, forces.heave_pitch[..., None])[..., 0].T
    moment, _ = roll_alone(hull, forces)
    held = forces.sway_roll_yaw[:, [0, 2]]
    turned = -(forces.encounter_rad_s**2)
    sway, yaw = (
        turned
        * np.linalg.solve(_sway_yaw(hull, forces.encounter_rad_s, forces.lateral), held[..., None])[
            ..., 0
        ].T
    )
    lost = radiated_resistance(hull, omega, mu, speed, heave, pitch)
    slope = moment / hull.roll_stiffness
    return heave - hull.centre_x_m * pitch, pitch, slope, sway, yaw, lost


def radiated_resistance(
    hull: StripHull,
    omega_rad_s: FloatArray,
    mu_rad: float,
    speed_m_s: float,
    heave: ComplexArray,
    pitch: ComplexArray,
) -> FloatArray:
    r"""Added resistance from the energy that the strips radiate, per amplitude squared. [N/m2]

    Parameters
    ----------
    omega_rad_s : ndarray, shape (n,)
        Wave frequency. [rad/s]
    mu_rad : float
        Encounter angle, 0 following, pi head. [rad]
    speed_m_s : float
        Speed through the water. [m/s]
    heave, pitch : ndarray of complex, shape (n,)
        Motion of the centre of gravity, per metre of wave. [m/m], [rad/m]

    Returns
    -------
    ndarray, shape (n,)
        Resistance; negative where the waves push her. Zero in beam seas. [N/m2]

    Notes
    -----
    :math:`R = -\frac{k\cos\mu}{2\omega_e}\int (b - U\,da/dx)|V|^2dx`, V the strip's
    vertical velocity relative to the water, with the wave elevation as its undisturbed force
    over the strip's stiffness. Reflection by the hull without motion is left out, so the
    result is low in waves shorter than about half her length.

    References
    ----------
    Gerritsma and Beukelman, "Analysis of the resistance increase in waves of a fast cargo
    ship", International Shipbuilding Progress 19 (1972) 285-293 (head waves; the
    extension by cos(mu) is common practice).
    """
    k = omega_rad_s**2 / G_M_S2
    met = omega_rad_s - k * speed_m_s * np.cos(mu_rad)
    n = hull.sections.x_m.size
    vertical = hull.coefficients(met)[HEAVE, HEAVE]
    size = np.abs(met)[:, None]
    added, damping = vertical.real, np.abs(vertical.imag) * size
    # Added mass is zero at the bow, and at the after end where that is pointed.
    end = added[:, -1:] if hull.has_end else 0.0 * added[:, :1]
    faces = np.concatenate(
        [end, 0.5 * (added[:, 1:n] + added[:, : n - 1]), 0.0 * added[:, :1]], axis=1
    )
    lost = damping[:, :n] - speed_m_s * np.diff(faces, axis=1) / hull.sections.strip_m
    x = hull.x_m
    wave = hull.wave_at_strips(k, mu_rad)
    strip = (1j * met * heave - speed_m_s * pitch)[:, None] + 1j * met[:, None] * pitch[:, None] * x
    relative = strip - 1j * omega_rad_s[:, None] * wave
    power = np.sum(lost * np.abs(relative) ** 2, axis=1) * hull.sections.strip_m
    with np.errstate(divide="ignore", invalid="ignore"):
        force = -k * np.cos(mu_rad) * power / (2.0 * met)
    return np.asarray(np.where(met == 0.0, 0.0, force))


def _sway_yaw(hull: StripHull, met: FloatArray, lateral: ComplexArray) -> ComplexArray:
    square = (met**2)[:, None, None]
    inertia = hull.mass_kg * np.diag([1.0, hull.yaw_radius_m**2])
    return np.asarray(-square * inertia - lateral[:, [0, 2]][:, :, [0, 2]])


def roll_alone(hull: StripHull, forces: Forces) -> tuple[ComplexArray, ComplexArray]:
    """Exciting moment and radiation of roll with sway and yaw free.

    Returns
    -------
    moment : ndarray of complex, shape (n,)
        Exciting moment per metre of wave amplitude. [N m] per metre.
    radiation : ndarray of complex, shape (n,)
        omega^2 A - i omega B of roll alone. [N m]
    """
    share, left = _left_to_roll(hull, forces.encounter_rad_s, forces.lateral)
    free = forces.sway_roll_yaw[:, [0, 2]]
    return forces.sway_roll_yaw[:, 1] - np.sum(share * free, axis=1), left


def _left_to_roll(
    hull: StripHull, met: FloatArray, lateral: ComplexArray
) -> tuple[ComplexArray, ComplexArray]:
    """Share of the sway and yaw forces that acts on roll, (n, 2), and radiation of roll alone."""
    inner = _sway_yaw(hull, met, lateral)
    coupling = -lateral[:, 1][:, [0, 2]]
    share = np.linalg.solve(np.swapaxes(inner, 1, 2), coupling[..., None])[..., 0]
    back = -lateral[:, [0, 2]][:, :, 1]
    left = lateral[:, 1, 1] + np.sum(share * back, axis=1)
    return np.asarray(share, dtype=complex), np.asarray(left)


def roll_radiation(hull: StripHull, met_rad_s: FloatArray, speeds_m_s: FloatArray) -> FloatArray:
    """Radiation of roll with sway and yaw free, over the righting moment per radian.

    Parameters
    ----------
    met_rad_s : ndarray, shape (n,)
        Encounter frequencies, >= 0. [rad/s]
    speeds_m_s : ndarray, shape (K,)
        Speeds through the water. [m/s]

    Returns
    -------
    ndarray, shape (K, 2, n)
        Added inertia times frequency squared [dimensionless], and damping [s].
    """
    met = np.maximum(np.asarray(met_rad_s, float), slowest_meeting(hull))
    section = hull.coefficients(met)
    left = []
    for speed in speeds_m_s:
        lateral = radiation(hull, section, 1j * met, float(speed), LATERAL)
        left.append(_left_to_roll(hull, met, lateral)[1])
    over = np.stack(left) / hull.roll_stiffness
    return np.stack([over.real, -over.imag / met], axis=1)
