"""Two-dimensional added mass and damping: exact limits, energy and reciprocity."""

from __future__ import annotations

import numpy as np
import pytest

from passage.physics.hull.sections import contour_points
from passage.physics.motions.strip_sections import (
    HEAVE,
    ROLL,
    SWAY,
    Contours,
    SectionGeometry,
    section_potentials,
)
from passage.units import G_M_S2, RHO_SEA_KG_M3

#: Breadth, draught, fullness: half circle, box-like, vee, shallow stern, hollow bow.
SHAPES = np.array(
    [
        [2.0, 1.0, np.pi / 4.0],
        [2.0, 1.0, 0.96],
        [3.0, 2.0, 0.5],
        [6.0, 0.8, 0.7],
        [1.0, 2.0, 0.35],
    ]
)
KA = np.array([0.02, 0.1, 0.3, 0.6, 1.0, 1.7, 2.5, 4.0])


def contours(panels=24):
    breadth, draught, full = SHAPES.T
    return Contours(*contour_points(breadth, draught, breadth * draught * full, panels))


def half_circle(ka, panels=24):
    """Sway and heave of a half circle of radius 1 over rho pi/2: added mass, b/omega."""
    angle = np.linspace(0.0, np.pi / 2.0, panels + 1)
    circle = Contours(np.sin(angle)[None], -np.cos(angle)[None])
    omega = np.sqrt(np.asarray(ka) * G_M_S2)
    solved = section_potentials(circle, omega).coefficients()[..., 0]
    return solved / (RHO_SEA_KG_M3 * np.pi / 2.0)


def test_half_circle_has_its_exact_limits():
    """Double body and mirror flow: textbook potential theory, no free surface left."""
    slow, fast = half_circle([1e-4])[..., 0], half_circle([60.0], 60)[..., 0]
    assert slow[SWAY, SWAY].real == pytest.approx(1.0, abs=0.01)
    assert fast[HEAVE, HEAVE].real == pytest.approx(1.0, abs=0.01)
    # Sway against a surface that gives way: (4/pi)^2/4 of the displaced mass.
    assert fast[SWAY, SWAY].real == pytest.approx(4.0 / np.pi**2, abs=0.02)
    # A circle that turns about its centre moves no water.
    assert np.abs(half_circle(KA)[ROLL]).max() < 1e-12


def test_half_circle_heave_has_its_well_known_minimum():
    """From memory of the figures after Ursell (1949): about 0.6 of the mass near Ka 0.8."""
    ka = np.linspace(0.3, 2.0, 35)
    added = half_circle(ka)[HEAVE, HEAVE].real
    assert added.min() == pytest.approx(0.60, abs=0.01)
    assert ka[np.argmin(added)] == pytest.approx(0.8, abs=0.1)


def test_slow_heave_makes_waves_as_a_pulsating_line():
    """Damping at low frequency is 4 rho a^2 omega by the wave of a line source."""
    c = half_circle([1e-4])[HEAVE, HEAVE, 0] * np.pi / 2.0
    assert -c.imag == pytest.approx(4.0, rel=0.01)


def exciting_by_contour(shape, wavenumber, psi):
    """Forces of a beam wave of unit height on the starboard half and its mirror, (3, sections)."""
    y, z = shape.mid
    ny, nz = shape.normal
    phi = np.exp(wavenumber * z) * shape.length_m
    even, odd = phi * np.cos(wavenumber * y), phi * np.sin(wavenumber * y)
    omega = np.sqrt(wavenumber * G_M_S2)
    amplitude = 1j * G_M_S2 / omega
    velocity = wavenumber * np.stack(
        [-1j * (odd * nz + even * ny), even * nz - odd * ny, -1j * (odd * nz + even * ny)]
    )
    pressed = np.stack([-1j * odd, even, -1j * odd]) * shape.modes * 1j * omega
    scattered = -1j * omega * psi * velocity
    return 2.0 * RHO_SEA_KG_M3 * amplitude * np.sum(pressed + scattered, axis=2)


@pytest.mark.parametrize("ka", KA)
def test_damping_is_the_energy_that_waves_carry_away(ka):
    """b = X^2 omega/(rho g^2), X the force of a beam wave: reciprocity and energy at once."""
    shape = contours()
    omega = np.sqrt(ka * G_M_S2)
    solved = section_potentials(shape, np.array([omega]))
    damping = -solved.coefficients()[:, :, 0].imag * omega
    force = exciting_by_contour(shape, ka, solved.psi[:, 0])
    for mode in (SWAY, HEAVE, ROLL):
        expected = np.abs(force[mode]) ** 2 * omega / (RHO_SEA_KG_M3 * G_M_S2**2)
        actual = damping[mode, mode]
        # Little is left of the damping of a deep section in short waves.
        floor = (
            2e-3 * RHO_SEA_KG_M3 * omega * np.abs(shape.y_m[:, -1]) ** (4 if mode == ROLL else 2)
        )
        np.testing.assert_allclose(actual, expected, rtol=0.03, atol=float(floor.max()))
        assert np.all(actual > -floor)


@pytest.mark.parametrize("ka", KA)
def test_exciting_force_by_reciprocity_is_that_of_the_scattered_wave(ka):
    shape = contours()
    omega = np.sqrt(ka * G_M_S2)
    solved = section_potentials(shape, np.array([omega]))
    geometry = SectionGeometry(shape)
    y, z = shape.mid
    ny, nz = shape.normal
    phi = 1j * G_M_S2 / omega * np.exp(ka * z)
    even, odd = phi * np.cos(ka * y), phi * np.sin(ka * y)
    rise = ka * (even * nz - odd * ny)
    side = -1j * ka * (odd * nz + even * ny)
    for mode, velocity, sign in ((HEAVE, rise, 1.0), (SWAY, side, -1.0)):
        scattered = geometry.scattered(ka, -velocity[None], sign)[0]
        weight = 2j * RHO_SEA_KG_M3 * omega * shape.length_m
        direct = np.sum(weight * scattered * shape.modes[mode], axis=1)
        reciprocal = -np.sum(weight * solved.psi[mode, 0] * velocity, axis=1)
        size = np.abs(direct).max()
        np.testing.assert_allclose(reciprocal, direct, rtol=0.02, atol=0.01 * size)


def test_coupling_of_sway_and_roll_is_symmetric():
    c = section_potentials(contours(), np.sqrt(KA * G_M_S2)).coefficients()
    size = np.sqrt(np.abs(c[SWAY, SWAY]) * np.abs(c[ROLL, ROLL]))
    assert np.max(np.abs(c[SWAY, ROLL] - c[ROLL, SWAY]) / size) < 0.02


def test_no_frequency_at_which_shut_in_water_sloshes():
    """A box of breadth 2, draught 1 would fail at Ka = (pi/2) coth(pi/2) = 1.71."""
    ka = np.linspace(1.5, 1.95, 46)
    box = Contours(*contour_points([2.0], [1.0], [2.0 * 0.98], 24))
    c = section_potentials(box, np.sqrt(ka * G_M_S2)).coefficients()[HEAVE, HEAVE, :, 0]
    bend = np.abs(np.diff(c, 2)) / np.abs(c).mean()
    assert bend.max() < 1e-3


def test_more_panels_change_little():
    coarse = section_potentials(contours(18), np.sqrt(KA * G_M_S2)).coefficients()
    fine = section_potentials(contours(40), np.sqrt(KA * G_M_S2)).coefficients()
    for mode in (SWAY, HEAVE):
        ratio = np.abs(coarse[mode, mode] - fine[mode, mode]) / np.abs(fine[mode, mode])
        # The sharp edge of a plain vee at the waterline is the slowest: 4 %.
        assert ratio.max() < 0.05
        assert np.sort(ratio.ravel())[-4:].mean() < 0.03
