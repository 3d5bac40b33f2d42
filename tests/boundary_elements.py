"""Motions by a boundary-element method, to hold strip theory against; needs capytaine.

At speed it solves the problem without a steady wave at the frequency of meeting, with the speed
terms of pressure and of the body's condition. Its coupling of modes then breaks the symmetry that
Timman and Newman proved (the force in one mode by another going ahead is the reverse going
astern). For a hull alike fore and aft that says that heave by pitch is the negative of pitch by
heave; the second of the two answers has both at half their difference.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import capytaine
import numpy as np
import wigley as tank
from capytaine.bem.airy_waves import froude_krylov_force

from passage.physics.hull.sections import Sections, fullness
from passage.physics.motions.strip_hull import StripHull, strip_hull
from passage.physics.waves.spectrum import bretschneider
from passage.units import G_M_S2, KNOT_M_S, RHO_SEA_KG_M3

#: Super-ellipses: length, beam, draught, GM; powers of section, waterline and keel.
HULLS = {
    "round": (45.0, 9.0, 2.8, 1.0, (2.0, 2.5, 4.0)),
    "full": (45.0, 9.0, 2.8, 1.0, (2.6, 3.0, 6.0)),
    "shallow": (60.0, 11.0, 2.6, 1.4, (2.2, 2.0, 3.0)),
}
#: Speed of the comparisons, and wavelengths over the length. [m/s]
SPEED_M_S = 12.0 * KNOT_M_S
RATIOS = np.array([0.8, 1.0, 1.15, 1.4, 1.7, 1.95, 2.4, 3.0])
#: Twenty-one long-crested seas: peak periods [s] and headings [rad].
SEA_PERIODS_S = np.array([5.0, 5.6, 6.2, 7.0, 8.0, 9.0, 10.0])
SEA_MU_RAD = np.deg2rad([135.0, 157.5, 180.0])
DOFS = ("Sway", "Heave", "Roll", "Pitch", "Yaw")
SWAY, HEAVE, ROLL, PITCH, YAW = range(5)


@dataclass(frozen=True)
class Reference:
    """A hull of panels with her weight: radii of roll, pitch and yaw, centre of gravity."""

    mesh: object
    volume_m3: float
    gravity_z_m: float
    radii_m: tuple[float, float, float]


def hull_of_panels(x_m, half_breadth, depth_m, *, gravity_z_m, radii_m) -> Reference:
    """From the starboard surface ``(n, m)`` on a grid along and round, keel first."""
    points = np.stack(
        [np.broadcast_to(x_m[:, None], half_breadth.shape), half_breadth, depth_m], axis=-1
    ).reshape(-1, 3)
    rows, n = half_breadth.shape
    faces = [
        [i * n + j, i * n + j + 1, (i + 1) * n + j + 1, (i + 1) * n + j]
        for i in range(rows - 1)
        for j in range(n - 1)
    ]
    half = capytaine.Mesh(vertices=points, faces=np.array(faces))
    whole = capytaine.ReflectionSymmetricMesh(half, plane="xOz")
    return Reference(whole, float(2.0 * half.volume), gravity_z_m, radii_m)


def _body(mesh, height, lid=None):
    centre = (0.0, 0.0, height)
    dofs = capytaine.rigid_body_dofs(rotation_center=centre)
    return capytaine.FloatingBody(mesh=mesh, lid_mesh=lid, dofs=dofs, center_of_mass=centre)


def stiffness(hull: Reference, height: float) -> np.ndarray:
    """Of the five modes about a centre of gravity at ``height``."""
    return (
        _body(hull.mesh.merged(), height)
        .compute_hydrostatic_stiffness(rho=RHO_SEA_KG_M3, g=G_M_S2)
        .sel(influenced_dof=list(DOFS), radiating_dof=list(DOFS))
        .values
    )


def metacentre_z_m(hull: Reference) -> float:
    """Height of the transverse metacentre above the waterline."""
    weight = RHO_SEA_KG_M3 * G_M_S2 * hull.volume_m3
    return float(stiffness(hull, 0.0)[ROLL, ROLL] / weight)


def answers(
    hull: Reference,
    omega_rad_s,
    mu_rad,
    speed_m_s: float,
    *,
    upright: bool = False,
) -> np.ndarray:
    """Heave, pitch and effective slope per metre of wave, complex, (2, 3, n, m).

    First as solved, then with heave and pitch coupled as symmetry asks. Pitch is bow *down*.
    ``upright`` leaves sway, roll and yaw out; the slope is then 0.
    """
    capytaine.set_logging("ERROR")
    restoring = stiffness(hull, hull.gravity_z_m)
    # Panels on the water inside the hull: without them water shut in there would slosh.
    body = _body(hull.mesh, hull.gravity_z_m, hull.mesh.generate_lid())
    mass = RHO_SEA_KG_M3 * hull.volume_m3
    inertia = mass * np.diag([1.0, 1.0, *(r**2 for r in hull.radii_m)])
    modes = (HEAVE, PITCH) if upright else range(5)
    solver = capytaine.BEMSolver()
    out = np.zeros((2, 3, len(omega_rad_s), len(mu_rad)), complex)
    for i, omega in enumerate(omega_rad_s):
        for j, heading in enumerate(mu_rad):
            case = {
                "body": body,
                "omega": float(omega),
                "rho": RHO_SEA_KG_M3,
                "g": G_M_S2,
                "water_depth": np.inf,
                "forward_speed": speed_m_s,
                "wave_direction": float(heading),
            }
            wave = capytaine.DiffractionProblem(**case)
            met = float(wave.encounter_omega)
            scattered, pressed = solver.solve(wave).forces, froude_krylov_force(wave)
            force = np.array([scattered[d] + pressed[d] for d in DOFS])
            radiation = np.zeros((5, 5), complex)
            for c in modes:
                found = solver.solve(capytaine.RadiationProblem(radiating_dof=DOFS[c], **case))
                for r, felt in enumerate(DOFS):
                    radiation[r, c] = (
                        met**2 * found.added_masses[felt]
                        + 1j * met * found.radiation_dampings[felt]
                    )
            operator = restoring - met**2 * inertia - radiation
            free = [HEAVE, PITCH]
            vertical = operator[np.ix_(free, free)]
            out[0, :2, i, j] = np.linalg.solve(vertical, force[free])
            turned = 0.5 * (vertical[0, 1] - vertical[1, 0])
            vertical[0, 1], vertical[1, 0] = turned, -turned
            out[1, :2, i, j] = np.linalg.solve(vertical, force[free])
            if not upright:
                side = [SWAY, YAW]
                share = np.linalg.solve(operator[np.ix_(side, side)].T, operator[ROLL, side])
                moment = force[ROLL] - share @ force[side]
                out[:, 2, i, j] = moment / restoring[ROLL, ROLL]
    return out


def strips_of(name: str, count: int = 24) -> StripHull:
    """One of ``HULLS`` as strips."""
    length, beam, draught, gm, (section, waterline, keel) = HULLS[name]
    step = length / count
    x = (np.arange(count) + 0.5) * step - length / 2.0
    t = np.abs(2.0 * x / length)
    b, d = beam * (1 - t**waterline), draught * (1 - t**keel)
    made = Sections(x, b, d, b * d * float(fullness(section)), step, -length / 2.0)
    return strip_hull(made, gm_m=gm, pitch_radius_m=0.25 * length)


def panels_of(name: str, along: int = 20, around: int = 8) -> Reference:
    """The same hull as panels."""
    length, beam, draught, gm, (section, waterline, keel) = HULLS[name]
    x = -np.cos(np.linspace(0.0, np.pi, along + 1)) * length / 2.0
    angle = np.linspace(0.0, np.pi / 2.0, around + 1)
    t = np.abs(2.0 * x / length)[:, None]
    y = beam / 2.0 * (1.0 - t**waterline) * np.sin(angle) ** (2.0 / section)
    z = -draught * (1.0 - t**keel) * np.cos(angle) ** (2.0 / section)
    radii = (0.38 * beam, 0.25 * length, 0.25 * length)
    capytaine.set_logging("ERROR")
    made = hull_of_panels(x, y, z, gravity_z_m=0.0, radii_m=radii)
    return replace(made, gravity_z_m=metacentre_z_m(made) - gm)


def tank_panels(name: str) -> Reference:
    """One of the hulls of ``wigley`` as panels."""
    x = -np.cos(np.linspace(0.0, np.pi, 31)) * tank.LENGTH_M / 2.0
    depth = np.cos(np.linspace(0.0, np.pi / 2.0, 9))
    y = tank.surface(name, x[:, None], depth)
    capytaine.set_logging("ERROR")
    return hull_of_panels(
        x,
        y,
        np.broadcast_to(-tank.DRAUGHT_M * depth, y.shape),
        gravity_z_m=tank.HULLS[name][2] - tank.DRAUGHT_M,
        radii_m=(0.1, tank.PITCH_RADIUS_M, tank.PITCH_RADIUS_M),
    )


def sea_omega(name: str) -> np.ndarray:
    """Wave frequencies that the seas are summed over: seven lengths to a third. [rad/s]"""
    return np.sqrt(2.0 * np.pi * G_M_S2 / (HULLS[name][0] * np.geomspace(7.0, 0.35, 20)))


def rms_in_seas(name: str, response: np.ndarray, rates: int = 0) -> np.ndarray:
    """Rms over ``SEA_PERIODS_S`` and ``SEA_MU_RAD``, (7, 3), of 1 m of significant height.

    ``response`` complex over ``sea_omega`` and the headings; ``rates`` times differentiated.
    """
    omega = sea_omega(name)
    met = omega[:, None] - omega[:, None] ** 2 / G_M_S2 * SPEED_M_S * np.cos(SEA_MU_RAD)
    power = np.abs(met**rates * response) ** 2
    step = np.gradient(omega)
    spectra = [bretschneider(omega, 1.0, period) * step for period in SEA_PERIODS_S]
    return np.sqrt([np.sum(s[:, None] * power, axis=0) for s in spectra])
