"""Strip theory against what was measured in towing tanks: hulls at speed, hulls at rest, cylinders.

Journee 1992 (see ``wigley.py``) and Vugts, "The hydrodynamic coefficients for swaying, heaving
and rolling cylinders in a free surface" (1970) as plotted in Delft report 1213 (2001). The
numbers were taken as public code quotes them, those of Vugts read off that report's figures.
"""

from __future__ import annotations

import numpy as np
import pytest
from wigley import HEAVE_AT_SPEED, HULLS, LENGTH_M, wigley

from passage.physics.motions.strip_motion import strip_motion
from passage.physics.motions.strip_sections import (
    HEAVE,
    SWAY,
    Contours,
    section_potentials,
)
from passage.physics.motions.strip_theory import strip_forces
from passage.units import G_M_S2, RHO_SEA_KG_M3

HEAD = np.array([np.pi])
#: Wavelength over length: heave, and pitch over 2 pi/L, at rest (tables 10-III and 10-IV).
AT_REST = {
    "III": {
        1.0: (0.29, 0.57),
        1.25: (0.45, 0.63),
        1.5: (0.57, 0.57),
        1.75: (0.67, 0.54),
        2.0: (0.74, 0.50),
    },
    "IV": {
        0.75: (0.10, 0.33),
        1.0: (0.30, 0.57),
        1.25: (0.43, 0.62),
        1.5: (0.65, 0.69),
        1.75: (0.71, 0.60),
        2.0: (0.79, 0.54),
    },
}


def omega_of(ratios):
    return np.sqrt(2.0 * np.pi * G_M_S2 / (np.asarray(list(ratios)) * LENGTH_M))


#: Greatest added resistance over rho g (wave amplitude)^2 B^2/L, by Froude number.
PEAK_RESISTANCE = {
    ("I", 0.2): 31.8,
    ("III", 0.2): 22.2,
    ("IV", 0.2): 13.5,
    ("I", 0.3): 27.6,
    ("III", 0.3): 20.2,
    ("IV", 0.3): 19.3,
}


@pytest.fixture(scope="module")
def hulls():
    return {name: wigley(name) for name in ("I", "III", "IV")}


def test_hulls_by_formula_displace_what_was_reported(hulls):
    for name, hull in hulls.items():
        assert hull.mass_kg / RHO_SEA_KG_M3 == pytest.approx(HULLS[name][3], rel=5e-3)


@pytest.mark.parametrize("case", HEAVE_AT_SPEED, ids=str)
def test_heave_at_speed_in_head_waves_as_measured(hulls, case):
    """Froude numbers 0.2 and 0.3; ours is 0 to 8 % above the tank, never below by more than 1 %."""
    name, froude = case
    measured = HEAVE_AT_SPEED[case]
    found = strip_motion(hulls[name], omega_of(measured), HEAD, froude * np.sqrt(G_M_S2 * LENGTH_M))
    ratio = np.abs(found.heave[:, 0]) / np.array(list(measured.values()))
    assert ratio == pytest.approx(np.ones(ratio.size), abs=0.10)
    assert ratio.min() > 0.98


@pytest.mark.parametrize("name", AT_REST)
def test_heave_and_pitch_at_rest_as_measured(hulls, name):
    """Heave within 15 %, pitch within 25 %: the tank's pitch of IV at 1.5 lengths lies 12 % off
    the curve through its neighbours. Pitch of ours is the lower everywhere."""
    rows = AT_REST[name]
    found = strip_motion(hulls[name], omega_of(rows), HEAD, 0.0)
    heave, pitch = np.array(list(rows.values())).T
    assert np.abs(found.heave[:, 0]) == pytest.approx(heave, rel=0.15)
    ratio = np.abs(found.pitch[:, 0]) * LENGTH_M / (2.0 * np.pi) / pitch
    assert np.all((ratio > 0.75) & (ratio < 1.01))
    assert 0.84 < ratio.mean() < 0.93


def test_loads_on_a_held_hull_at_speed_as_measured(hulls):
    """Hull III at Froude number 0.3: force over stiffness, moment over k times stiffness."""
    hull, omega = hulls["III"], omega_of((1.25, 1.5, 1.75, 2.0))
    forces = strip_forces(hull, omega, np.pi, 0.3 * np.sqrt(G_M_S2 * LENGTH_M))
    size = np.abs(forces.heave_pitch) / np.diag(hull.vertical_stiffness)
    assert size[:, 0] == pytest.approx([0.345, 0.454, 0.515, 0.577], rel=0.10)
    k = omega**2 / G_M_S2
    assert size[:, 1] / k == pytest.approx([0.444, 0.546, 0.600, 0.658], rel=0.15)


def test_forced_heave_and_pitch_damping_at_speed_as_measured(hulls):
    """Hull III at Froude number 0.3, heave coefficients within 15 %.

    The tank's damping of pitch does not grow with speed, and nor does ours (the report's author
    found that strip theory's does: Delft report 1275, 2001); ours is a fifth to two fifths higher.
    """
    hull = hulls["III"]
    mass, root = hull.mass_kg, np.sqrt(LENGTH_M / G_M_S2)

    def forced(froude, scaled):
        met, speed = np.asarray(scaled) / root, froude * np.sqrt(G_M_S2 * LENGTH_M)
        slow = speed / G_M_S2
        omega = (np.sqrt(1.0 + 4.0 * slow * met) - 1.0) / (2.0 * slow)
        return met, strip_forces(hull, omega, np.pi, speed).vertical

    met, radiation = forced(0.3, [2.22, 2.78, 3.34, 3.88, 4.45])
    added = radiation[:, 0, 0].real / met**2 / mass
    damping = -radiation[:, 0, 0].imag / met / mass * root
    assert added == pytest.approx([0.707, 0.537, 0.465, 0.425, 0.421], rel=0.15)
    assert damping == pytest.approx([1.963, 1.994, 1.854, 1.706, 1.518], rel=0.15)
    for froude, measured in {0.2: 0.074, 0.3: 0.073, 0.4: 0.066}.items():
        met, radiation = forced(froude, [2.2])
        of_pitch = -radiation[0, 1, 1].imag / met[0] / mass / LENGTH_M**2 * root
        assert 1.15 < of_pitch / measured < 1.45


def test_radiated_energy_beside_the_measured_peak_of_added_resistance(hulls):
    """0.6 to 1.0 of the tank at Froude number 0.2; at 0.3 twice it on the slender hulls.

    A second opinion in the band of fuel, and this is why it is not the main answer.
    """
    ratios = np.linspace(0.8, 1.6, 17)
    beam = {name: row[0] for name, row in HULLS.items()}
    for (name, froude), measured in PEAK_RESISTANCE.items():
        speed = froude * np.sqrt(G_M_S2 * LENGTH_M)
        force = strip_motion(hulls[name], omega_of(ratios), HEAD, speed).resistance[:, 0]
        peak = force.max() / (RHO_SEA_KG_M3 * G_M_S2 * beam[name] ** 2 / LENGTH_M)
        least, most = ((0.5, 1.05), (0.6, 2.2))[froude == 0.3]
        assert least < peak / measured < most, (name, froude)


#: Shape, quantity: frequency times the root of B/2g, value over that of the displaced water.
VUGTS = {
    ("circle", "a22"): ((0.389, 1.173), (0.811, 0.756), (1.247, 0.280)),
    ("circle", "b22"): ((0.382, 0.045), (0.811, 0.787), (1.247, 0.736)),
    ("circle", "a33"): ((0.424, 1.053), (0.797, 0.609), (1.170, 0.669)),
    ("circle", "b33"): ((0.424, 0.544), (0.797, 0.502), (1.177, 0.293)),
    ("box", "a22"): ((0.355, 1.505), (0.787, 0.544), (1.219, 0.124)),
    ("box", "b22"): ((0.355, 0.042), (0.787, 1.077), (1.219, 0.804)),
    ("box", "a33"): ((0.494, 0.813), (0.787, 0.801), (1.184, 1.065)),
    ("box", "b33"): ((0.431, 0.390), (0.717, 0.294), (1.010, 0.142)),
}


@pytest.mark.parametrize("case", VUGTS, ids=str)
def test_cylinders_in_two_dimensions_as_measured(case):
    """A half circle and a box twice as wide as deep, within 15 % of the largest of each kind."""
    shape, quantity = case
    if shape == "circle":
        angle = np.linspace(0.0, np.pi / 2.0, 37)
        y, z = 0.5 * np.sin(angle), -0.5 * np.cos(angle)
        area = np.pi / 8.0
    else:
        # Panels finer towards the bilge and the corners of symmetry and surface.
        share = 0.5 * np.sin(np.linspace(0.0, np.pi / 2.0, 19))
        y = np.concatenate([share, np.full(18, 0.5)])
        z = np.concatenate([np.full(19, -0.5), -share[::-1][1:]])
        area = 0.5
    scaled, measured = np.array(VUGTS[case]).T
    root = np.sqrt(0.5 / G_M_S2)
    omega = scaled / root
    mode = SWAY if quantity[1] == "2" else HEAVE
    solved = section_potentials(Contours(y[None], z[None]), omega)
    found = solved.coefficients()[mode, mode, :, 0] / (RHO_SEA_KG_M3 * area)
    value = found.real if quantity[0] == "a" else -found.imag * omega * root
    assert value == pytest.approx(measured, abs=0.15 * measured.max())
