r"""Motions of a hull from the forces of strip theory, and what rolls her.

Heave and pitch follow from their two equations. Sway and yaw are free; the equation of
roll left when they are eliminated has the moment :math:`M`, and M over the righting
moment per radian is the *effective wave slope*, what a hull that had only roll would
have to feel. Signs as in ``strip_theory``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passage.physics.motions.strip_hull import StripHull
from passage.physics.motions.strip_theory import Forces, strip_forces

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]


@dataclass(frozen=True, eq=False)
class StripMotion:
    """Answers over wave frequency and heading, per metre of wave amplitude.

    Attributes
    ----------
    heave, pitch : ndarray of complex, shape (n, m)
        Heave at *midship* [m/m] and pitch, bow up [rad/m].
    slope : ndarray of complex, shape (n, m)
        Effective wave slope with sway and yaw free; the long wave gives +i k sin(mu).
        [rad/m]
    sway, yaw : ndarray of complex, shape (n, m)
        *Accelerations* with roll held: of the centre of gravity to starboard [m/s2 per m]
        and of yaw [rad/s2 per m]. Where she rides with the wave the displacement has no
        bound, the acceleration has.
    """

    heave: ComplexArray
    pitch: ComplexArray
    slope: ComplexArray
    sway: ComplexArray
    yaw: ComplexArray


def strip_motion(
    hull: StripHull, omega_rad_s: ArrayLike, mu_rad: ArrayLike, speed_m_s: float
) -> StripMotion:
    """Motions on a grid of wave frequencies ``(n,)`` and headings ``(m,)`` at one speed."""
    omega, mu = np.asarray(omega_rad_s, float), np.asarray(mu_rad, float)
    columns = [_at_heading(hull, strip_forces(hull, omega, float(m), speed_m_s)) for m in mu]
    return StripMotion(*(np.stack(parts, axis=1) for parts in zip(*columns, strict=True)))


def _at_heading(hull: StripHull, forces: Forces) -> tuple[ComplexArray, ...]:
    square = (forces.encounter_rad_s**2)[:, None, None]
    mass = hull.mass_kg
    inertia = mass * np.diag([1.0, hull.pitch_radius_m**2])
    vertical = hull.vertical_stiffness - square * inertia - forces.vertical
    heave, pitch = np.linalg.solve(vertical, forces.heave_pitch[..., None])[..., 0].T
    moment, _ = roll_alone(hull, forces)
    held = forces.sway_roll_yaw[:, [0, 2]]
    square = -(forces.encounter_rad_s**2)
    sway, yaw = square * np.linalg.solve(_sway_yaw(hull, forces), held[..., None])[..., 0].T
    return heave - hull.centre_x_m * pitch, pitch, moment / hull.roll_stiffness, sway, yaw


def _sway_yaw(hull: StripHull, forces: Forces) -> ComplexArray:
    square = (forces.encounter_rad_s**2)[:, None, None]
    inertia = hull.mass_kg * np.diag([1.0, hull.yaw_radius_m**2])
    operator = -square * inertia - forces.lateral[:, [0, 2]][:, :, [0, 2]]
    # A hull that rides with the wave is held by nothing; the moment left does not mind.
    tiny = 1e-9 * hull.mass_kg * np.diag([1.0, hull.yaw_radius_m**2])
    return np.asarray(operator - tiny * (np.abs(square) < 1e-9))


def roll_alone(hull: StripHull, forces: Forces) -> tuple[ComplexArray, ComplexArray]:
    """Exciting moment and radiation of roll with sway and yaw free.

    Returns
    -------
    moment : ndarray of complex, shape (n,)
        [N m] per metre.
    radiation : ndarray of complex, shape (n,)
        omega^2 A - i omega B of the roll left. [N m]
    """
    inner = _sway_yaw(hull, forces)
    coupling = -forces.lateral[:, 1][:, [0, 2]]
    share = np.linalg.solve(np.swapaxes(inner, 1, 2), coupling[..., None])[..., 0]
    free = forces.sway_roll_yaw[:, [0, 2]]
    moment = forces.sway_roll_yaw[:, 1] - np.sum(share * free, axis=1)
    back = -forces.lateral[:, [0, 2]][:, :, 1]
    radiation = forces.lateral[:, 1, 1] + np.sum(share * back, axis=1)
    return moment, radiation
