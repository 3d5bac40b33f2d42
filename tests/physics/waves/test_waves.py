"""Waves and encounter: check values by Airy theory, IMO form, identities."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from passage.physics.waves.dispersion import (
    encounter_angle,
    encounter_frequency,
    encounter_period,
    fold,
    group_speed_m_s,
    imo_encounter_period,
    phase_speed_m_s,
    wave_frequencies_meeting,
    wavelength_m,
    wavenumber,
)
from passage.units import G_M_S2, KNOT_M_S

U12 = 12 * KNOT_M_S

angles = st.floats(-7.0, 7.0)
speeds = st.floats(0.0, 12.0)
periods = st.floats(1.5, 25.0)


# Airy theory, computed from the formula by an independent script.
@pytest.mark.parametrize(
    ("period", "length", "speed"),
    [(4, 24.97, 6.243), (5, 39.02, 7.804), (6, 56.19, 9.365), (8, 99.89, 12.486),
     (10, 156.08, 15.608), (12, 224.75, 18.729)],
)  # fmt: skip
def test_deep_water_wavelength_and_speed(period, length, speed):
    assert_allclose(wavelength_m(period), length, atol=0.005)
    assert_allclose(phase_speed_m_s(period), speed, atol=0.0005)


@pytest.mark.parametrize(
    ("period", "depth", "length", "speed"),
    [(8, 10, 70.88, 8.860), (10, 10, 92.36, 9.236), (12, 20, 152.33, 12.694),
     (10, 50, 151.25, 15.125)],
)  # fmt: skip
def test_finite_depth_wavelength_and_speed(period, depth, length, speed):
    assert_allclose(wavelength_m(period, depth), length, atol=0.005)
    assert_allclose(phase_speed_m_s(period, depth), speed, atol=0.0005)


def test_finite_depth_limits():
    # Shallow: c = cg = sqrt(g h). Deep: k = omega^2/g, cg = c/2.
    assert_allclose(phase_speed_m_s(300.0, 2.0), np.sqrt(G_M_S2 * 2.0), rtol=1e-3)
    assert_allclose(group_speed_m_s(300.0, 2.0), np.sqrt(G_M_S2 * 2.0), rtol=2e-3)
    assert_allclose(wavenumber(1.0, np.inf), 1 / G_M_S2, rtol=1e-14)
    assert_allclose(group_speed_m_s(6.0, 4000.0), 0.5 * phase_speed_m_s(6.0), rtol=1e-12)


@given(st.floats(0.05, 6.0), st.floats(0.3, 5000.0))
def test_wavenumber_solves_the_dispersion_relation(omega, depth):
    k = wavenumber(omega, depth)
    assert_allclose(G_M_S2 * k * np.tanh(k * depth), omega**2, rtol=1e-12)


# T = 8 s, 12 kn, deep, by the formula in an independent script.
@pytest.mark.parametrize(
    ("mu", "omega_e", "period"),
    [(180, 1.17371, 5.353), (135, 1.05997, 5.928), (90, 0.78540, 8.000), (45, 0.51082, 12.300),
     (0, 0.39709, 15.823)],
)  # fmt: skip
def test_encounter_at_eight_seconds(mu, omega_e, period):
    met = encounter_frequency(2 * np.pi / 8, U12, np.radians(mu))
    assert_allclose(met, omega_e, atol=6e-6)
    assert_allclose(encounter_period(8.0, U12, np.radians(mu)), period, atol=6e-4)


@given(periods, speeds)
def test_beam_sea_is_met_at_its_own_period(period, speed):
    assert_allclose(encounter_period(period, speed, np.pi / 2), period, rtol=1e-9)


@given(periods, speeds, angles)
def test_encounter_is_the_same_from_either_side_and_after_a_turn(period, speed, mu):
    omega = 2 * np.pi / period
    met = encounter_frequency(omega, speed, mu)
    assert_allclose(encounter_frequency(omega, speed, -mu), met, rtol=1e-12, atol=1e-12)
    assert_allclose(encounter_frequency(omega, speed, mu + 2 * np.pi), met, rtol=1e-9, atol=1e-9)


def test_encounter_period_is_infinite_when_wave_and_hull_match():
    speed = float(phase_speed_m_s(4.0))
    omega = 2 * np.pi / 4.0
    assert abs(encounter_frequency(omega, speed, 0.0)) < 1e-12
    assert encounter_period(4.0, 0.0, 0.0) == pytest.approx(4.0, rel=1e-6)
    assert encounter_frequency(2 * np.pi / 3.0, speed, 0.0) < 0  # overtaken


def test_fold_at_twelve_knots():
    omega, top, zero = fold(U12, 0.0)
    assert_allclose(omega, 0.79428, atol=1e-4)
    assert_allclose(top, 0.39714, atol=1e-4)
    assert_allclose(2 * np.pi / zero, 3.955, atol=1e-3)
    assert np.isinf(fold(U12, np.pi)[0])
    assert np.isnan(fold(np.nan, 0.0)[0])


def test_three_wave_frequencies_share_one_encounter_frequency():
    roots = wave_frequencies_meeting(0.3, U12, 0.0)
    assert_allclose(roots, [0.40145, 1.18710, 1.84662], atol=1e-4)


@given(st.floats(0.05, 2.5), speeds, st.floats(0.0, np.pi))
@example(1.0, 1.077e-10, 0.0)
def test_every_root_is_met_at_the_frequency_asked(omega_e, speed, mu):
    roots = wave_frequencies_meeting(omega_e, speed, mu)
    found = roots[~np.isnan(roots)]
    assert found.size in (1, 3)
    met = np.abs(encounter_frequency(found, speed, mu))
    # Close to 90 degrees the far root is at a huge frequency and loses digits.
    keep = found < 1e4
    assert_allclose(met[keep], omega_e, rtol=1e-6)


def test_imo_form():
    # MSC.1/Circ.1228, from memory: rounded constant, alpha 0 is head.
    assert_allclose(imo_encounter_period(8, 12, 0.0), 5.333, atol=5e-4)
    assert_allclose(imo_encounter_period(8, 12, np.pi), 16.0, atol=5e-3)
    exact = encounter_period(8.0, U12, np.pi)
    assert_allclose(imo_encounter_period(8, 12, 0.0), exact, rtol=0.01)


@pytest.mark.parametrize(
    ("wave_from", "heading", "mu", "side"),
    [(90, 0, 90, 1), (270, 0, 90, -1), (0, 0, 180, 0), (180, 0, 0, 0), (350, 10, 160, -1),
     (10, 350, 160, 1), (225, 270, 135, -1), (45, 0, 135, 1)],
)  # fmt: skip
def test_encounter_angle_and_side(wave_from, heading, mu, side):
    angle, where = encounter_angle(np.radians(wave_from), np.radians(heading))
    assert_allclose(np.degrees(angle), mu, atol=1e-9)
    assert where == side


def test_nan_never_becomes_a_number():
    for out in (
        wavenumber(np.nan),
        wavenumber(1.0, np.nan),
        encounter_frequency(np.nan, 1.0, 1.0),
        encounter_frequency(1.0, np.nan, 1.0),
        encounter_frequency(1.0, 1.0, np.nan),
        *encounter_angle(np.nan, 0.0),
        *encounter_angle(0.0, np.nan),
    ):
        assert np.isnan(out)


def test_shapes_broadcast_and_empty_stays_empty():
    assert encounter_frequency(np.ones((3, 1)), 5.0, np.ones(4)).shape == (3, 4)
    assert wavenumber(np.ones(0)).shape == (0,)
    assert wavenumber(1.0).shape == ()
