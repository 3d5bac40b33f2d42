"""Strip theory: limits, symmetry and energy that hold for any hull at any speed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from passage.physics.hull.sections import Form, Sections, fullness, sections_from_form
from passage.physics.motions.strip_hull import strip_hull
from passage.physics.motions.strip_motion import roll_alone, strip_motion
from passage.physics.motions.strip_table import QUANTITIES, strip_table
from passage.physics.motions.strip_theory import strip_forces
from passage.units import G_M_S2, KNOT_M_S

LENGTH, SPEED = 44.0, 12.0 * KNOT_M_S
FORM = Form(
    length_m=LENGTH,
    beam_m=9.0,
    draught_m=2.8,
    block_coefficient=0.484,
    midship_coefficient=0.85,
    waterplane_coefficient=0.76,
    entrance_m=17.5,
    run_m=13.5,
)
OMEGA = np.sqrt(2.0 * np.pi * G_M_S2 / (LENGTH * np.array([20.0, 5.0, 2.0, 1.2, 0.8, 0.5])))
MU = np.deg2rad([0.0, 30.0, 60.0, 90.0, 120.0, 150.0, 180.0])


@pytest.fixture(scope="module")
def yacht():
    """A hull with a transom, made from main dimensions."""
    return strip_hull(sections_from_form(FORM), gm_m=1.0, pitch_radius_m=11.0)


@pytest.fixture(scope="module")
def double_ended():
    """The same forward and aft, pointed ends."""
    n, step = 24, LENGTH / 24
    x = (np.arange(n) + 0.5) * step - LENGTH / 2.0
    breadth, draught = 9.0 * (1 - (2 * x / LENGTH) ** 2), 2.8 * (1 - (2 * x / LENGTH) ** 4)
    sections = Sections(
        x, breadth, draught, breadth * draught * float(fullness(2.0)), step, -LENGTH / 2.0
    )
    return strip_hull(sections, gm_m=1.0, pitch_radius_m=11.0)


def test_very_long_waves_carry_her_along(yacht):
    """Heave 1, pitch and effective slope those of the water, sway its acceleration."""
    omega = np.array([0.05])
    k = omega**2 / G_M_S2
    found = strip_motion(yacht, omega, MU, 0.0)
    np.testing.assert_allclose(found.heave[0], 1.0, atol=0.01)
    np.testing.assert_allclose(found.pitch[0] / k, -1j * np.cos(MU), atol=0.01)
    np.testing.assert_allclose(found.slope[0] / k, 1j * np.sin(MU), atol=0.01)
    np.testing.assert_allclose(found.sway[0] / omega**2, 1j * np.sin(MU), atol=0.01)


def test_long_waves_at_speed_lift_her_as_at_rest(yacht):
    """The wave met is still long: quasi-static heave, whatever the speed."""
    found = strip_motion(yacht, np.array([0.1]), MU, SPEED)
    np.testing.assert_allclose(np.abs(found.heave), 1.0, atol=0.03)


def test_port_mirrors_starboard(yacht):
    port, starboard = (strip_motion(yacht, OMEGA, s * MU[1:-1], SPEED) for s in (-1.0, 1.0))
    for name in ("heave", "pitch"):
        np.testing.assert_allclose(getattr(port, name), getattr(starboard, name), rtol=1e-10)
    for name in ("slope", "sway", "yaw"):
        np.testing.assert_allclose(getattr(port, name), -getattr(starboard, name), rtol=1e-9)


def test_double_ended_hull_at_rest_is_the_same_bow_to_or_stern_to(double_ended):
    found = strip_motion(double_ended, OMEGA, MU, 0.0)
    np.testing.assert_allclose(np.abs(found.heave), np.abs(found.heave[:, ::-1]), rtol=1e-9)
    np.testing.assert_allclose(found.pitch, -found.pitch[:, ::-1], atol=1e-9)
    np.testing.assert_allclose(np.abs(found.slope), np.abs(found.slope[:, ::-1]), atol=1e-9)


def test_coupling_turns_with_the_speed(double_ended):
    """Pointed ends: force in j by motion in k ahead is that in k by j astern (Timman, Newman)."""
    ahead = strip_forces(double_ended, OMEGA, np.pi / 2, SPEED)
    astern = strip_forces(double_ended, OMEGA, np.pi / 2, -SPEED)
    for name in ("vertical", "lateral"):
        a, b = getattr(ahead, name), np.swapaxes(getattr(astern, name), 1, 2)
        # Sway-roll of a polygon is symmetric to two per cent only.
        np.testing.assert_allclose(a, b, rtol=0.03, atol=1e-3 * np.abs(a).max())


def test_radiation_takes_energy_at_rest(yacht):
    """The damping matrix has no negative eigenvalue."""
    forces = strip_forces(yacht, OMEGA, np.pi / 2, 0.0)
    for radiation in (forces.vertical, forces.lateral):
        damping = -radiation.imag
        symmetric = 0.5 * (damping + np.swapaxes(damping, 1, 2))
        lowest = np.linalg.eigvalsh(symmetric)
        assert np.all(lowest > -1e-3 * lowest.max(axis=1, keepdims=True))


def test_roll_left_over_takes_energy(yacht):
    forces = strip_forces(yacht, OMEGA, np.pi / 2, 0.0)
    _, radiation = roll_alone(yacht, forces)
    assert np.all(-radiation.imag > 0.0)


def test_a_beam_wave_gives_back_the_damping_by_haskind(double_ended):
    """b = |X|^2 omega/(rho g^2 L) for a prism in a beam wave, more for the strips of a hull."""
    forces = strip_forces(double_ended, OMEGA, np.pi / 2, 0.0)
    damping = -forces.vertical[:, 0, 0].imag / OMEGA
    uniform = np.abs(forces.heave_pitch[:, 0]) ** 2 * OMEGA / (1025.0 * G_M_S2**2 * LENGTH)
    # By Cauchy and Schwarz the sum over strips is at least that of a uniform one.
    assert np.all(damping >= 0.98 * uniform)
    assert np.all(damping < 2.5 * uniform)


def test_overtaken_waves_are_the_mirror_in_time(yacht):
    """Met at minus the frequency: the forces are conjugates, so that motions stay real."""
    psi = yacht.psi(np.array([-0.7, 0.7]))
    np.testing.assert_allclose(psi[:, 0], np.conj(psi[:, 1]), rtol=1e-12)


def test_moving_the_strips_apart_changes_little(yacht):
    fine = strip_hull(sections_from_form(FORM, 40), gm_m=1.0, pitch_radius_m=11.0)
    for speed in (0.0, SPEED):
        a, b = (strip_motion(h, OMEGA[:5], MU, speed) for h in (yacht, fine))
        k = (OMEGA[:5] ** 2 / G_M_S2)[:, None]
        assert np.max(np.abs(a.heave - b.heave)) < 0.06
        assert np.max(np.abs(a.pitch - b.pitch) / k) < 0.06
        assert np.max(np.abs(a.slope - b.slope) / k) < 0.06


def test_lengths_scale_by_froude(yacht):
    """Twice the ship in waves of twice the length at root two of the speed moves alike."""
    names = ("length_m", "beam_m", "draught_m", "entrance_m", "run_m")
    double = replace(FORM, **{n: 2.0 * getattr(FORM, n) for n in names})
    big = strip_hull(sections_from_form(double), gm_m=2.0, pitch_radius_m=22.0)
    small = strip_motion(yacht, OMEGA, MU, SPEED)
    large = strip_motion(big, OMEGA / np.sqrt(2.0), MU, SPEED * np.sqrt(2.0))
    np.testing.assert_allclose(large.heave, small.heave, rtol=1e-6, atol=1e-9)
    np.testing.assert_allclose(2.0 * large.slope, small.slope, rtol=1e-6, atol=1e-9)


def test_table_gives_back_what_it_was_made_from(yacht):
    table = strip_table(yacht, SPEED)
    rng = np.random.default_rng(5)
    omega = np.exp(rng.uniform(np.log(0.3), np.log(2.6), 30))
    mu = np.concatenate([rng.uniform(0.0, np.pi, 12), -rng.uniform(0.0, np.pi, 4)])
    exact = strip_motion(yacht, omega, mu, SPEED)
    read = table.at(omega, mu)
    k = (omega**2 / G_M_S2)[:, None]
    for name in QUANTITIES[:-1]:
        scale = 1.0 if name == "heave" else k
        error = np.abs(read[name] - getattr(exact, name)) / scale
        # Near the waves she rides with, forces change like a logarithm; elsewhere 1e-3.
        assert np.sqrt(np.mean(error**2)) < 0.015, name
        assert np.median(error) < 1e-3, name


def test_table_gives_back_the_radiated_resistance(yacht):
    ahead = np.array([2.0, 2.5, 3.0])
    table = strip_table(yacht, SPEED)
    omega = np.linspace(0.5, 2.5, 40)
    exact = strip_motion(yacht, omega, ahead, SPEED).resistance
    read = table.at(omega, ahead)["resistance"].real
    assert np.max(np.abs(read - exact)) < 0.02 * exact.max()
    astern = table.at(omega, np.array([0.5]))["resistance"]
    assert np.max(np.abs(astern)) < 1e-6 * exact.max()


def test_radiated_energy_holds_her_back_from_ahead_and_does_nothing_abeam(yacht):
    """Strips that radiate take their energy from the way she makes."""
    found = strip_motion(yacht, OMEGA, np.deg2rad([90.0, 120.0, 150.0, 180.0]), 4.0)
    assert np.all(found.resistance[:, 1:] > 0.0)
    np.testing.assert_allclose(found.resistance[:, 0], 0.0, atol=1e-9)
    # Very long waves carry her along: nothing is radiated.
    long = strip_motion(yacht, np.array([0.15]), np.array([np.pi]), 4.0)
    assert long.resistance[0, 0] < 0.01 * found.resistance[:, 3].max()


def test_table_gives_nan_for_unknown_input(yacht):
    table = strip_table(yacht, 0.0)
    read = table.at(np.array([np.nan, 0.6, 50.0]), np.array([1.0, np.nan]))
    for name in QUANTITIES:
        assert np.isnan(read[name][0]).all()
        assert np.isnan(read[name][1, 1])
        assert read[name][2, 0] == 0.0
