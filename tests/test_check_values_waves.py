"""Dispersion and encounter against Airy theory worked independently (tests/reference)."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from reference_rows import Printed, cases

from passage.physics import encounter_cautions, waves
from passage.units import G_M_S2, KNOT_M_S

SPEED = 12.0 * KNOT_M_S


@pytest.mark.parametrize(
    ("period_s", "depth_m", "wavelength_m", "phase_speed_m_s"),
    cases("waves_dispersion.csv", "period_s", "depth_m", "wavelength_m", "phase_speed_m_s"),
)
def test_dispersion_table(period_s, depth_m, wavelength_m, phase_speed_m_s):
    depth = float(depth_m) if depth_m else None
    assert Printed(wavelength_m).holds(waves.wavelength_m(float(period_s), depth))
    assert Printed(phase_speed_m_s).holds(waves.phase_speed_m_s(float(period_s), depth))


@pytest.mark.parametrize(
    ("mu_deg", "omega_e_rad_s", "encounter_period_s"),
    cases("waves_encounter.csv", "mu_deg", "omega_e_rad_s", "encounter_period_s"),
)
def test_encounter_table(mu_deg, omega_e_rad_s, encounter_period_s):
    mu = np.deg2rad(float(mu_deg))
    found = waves.encounter_frequency(2 * np.pi / 8.0, SPEED, mu)
    assert Printed(omega_e_rad_s).holds(found)
    assert Printed(encounter_period_s).holds(waves.encounter_period(8.0, SPEED, mu))


def test_beam_sea_is_met_at_the_waves_own_period():
    periods = np.linspace(2.0, 20.0, 19)
    met = waves.encounter_period(periods, SPEED, np.pi / 2)
    assert_allclose(met, periods, rtol=1e-9)  # identity


def test_fold_and_the_three_waves_met_alike():
    # 1/(2a) and 1/(4a) with a = U/g at 12 kn; period there 7.911 s, met at 15.821 s;
    # omega_e is nought for 3.955 s. Worked independently, as printed.
    omega, highest, zero = waves.fold(SPEED, 0.0)
    assert Printed("0.79428").holds(omega)
    assert Printed("0.39714").holds(highest)
    assert Printed("7.911").holds(2 * np.pi / omega)
    assert Printed("15.821").holds(2 * np.pi / highest)
    assert Printed("3.955").holds(2 * np.pi / zero)
    roots = waves.wave_frequencies_meeting(0.3, SPEED, 0.0)
    for root, printed in zip(roots, ("0.40145", "1.18710", "1.84662"), strict=True):
        assert Printed(printed).holds(root)
    met = np.abs(waves.encounter_frequency(roots, SPEED, 0.0))
    assert_allclose(met, 0.3, rtol=1e-12)  # all three are met at what was asked


@pytest.mark.parametrize("mu_deg", [95.0, 135.0, 180.0])
def test_from_ahead_one_wave_is_met_at_each_frequency(mu_deg):
    roots = waves.wave_frequencies_meeting(0.9, SPEED, np.deg2rad(mu_deg))
    assert np.isfinite(roots).sum() == 1
    met = waves.encounter_frequency(np.nanmin(roots), SPEED, np.deg2rad(mu_deg))
    assert_allclose(met, 0.9, rtol=1e-10)


def test_variance_is_the_same_met_or_seen_from_the_shore():
    """The fold is singular in the density but not in the variance (identity).

    Each stretch between folds is integrated over the encounter frequency with the
    Jacobian |1 - 2 omega U cos(mu)/g|; together they hold the variance over omega.
    """
    a = SPEED / G_M_S2

    def density(omega):
        return np.exp(-(((omega - 0.7) / 0.25) ** 2))

    whole = 0.25 * np.sqrt(np.pi) / 2 * (1 + 0.9999247)  # erf(2.8) below, all above
    total = 0.0
    # Quadratic spacing from the fold takes the root singularity out of the integrand.
    step = np.linspace(0.0, 1.0, 20001)
    fold = 1 / (2 * a)
    for end in (0.0, 3.0):
        omega = fold + (end - fold) * step
        met = omega - a * omega**2
        middle = 0.5 * (omega[1:] + omega[:-1])
        jacobian = np.abs(1 - 2 * a * middle)
        total += np.sum(density(middle) / jacobian * np.abs(np.diff(met)))
    assert_allclose(met[-1], waves.encounter_frequency(3.0, SPEED, 0.0), rtol=1e-12)
    assert_allclose(total, whole, rtol=1e-4)


def test_depth_limits_of_phase_and_group_speed():
    # Shallow: both sqrt(g h); deep: group half of phase (Airy).
    assert_allclose(waves.phase_speed_m_s(200.0, 2.0), np.sqrt(G_M_S2 * 2.0), rtol=1e-3)
    assert_allclose(waves.group_speed_m_s(200.0, 2.0), np.sqrt(G_M_S2 * 2.0), rtol=1e-3)
    for depth in (None, 5000.0):
        assert_allclose(waves.group_speed_m_s(8.0, depth), 0.5 * 12.486, rtol=1e-4)
    # (c/2)(1 + 2kh/sinh 2kh) at 10 s over 10 m: kh = 2 pi 10/92.36, by hand 8.0684.
    assert_allclose(waves.group_speed_m_s(10.0, 10.0), 8.0684, atol=1e-3)


def test_finite_depth_is_met_with_its_own_wavenumber():
    # 2 pi/10 + (2 pi/92.36) 6.17333 from ahead over 10 m, by hand: 1.04829.
    met = waves.encounter_frequency(2 * np.pi / 10, SPEED, np.pi, 10.0)
    assert_allclose(met, 1.04829, rtol=1e-4)


def test_rounded_period_of_the_circular():
    # MSC.1/Circ.1228 (from memory): 8 s at 12 kn, 5.333 s ahead and 16.00 s astern.
    found = waves.imo_encounter_period(8.0, 12.0, np.array([0.0, np.pi]))
    assert_allclose(found, [5.333, 16.0], rtol=0, atol=5e-4)
    other = encounter_cautions.imo_encounter_period_s(8.0, 12.0, np.array([0.0, np.pi]))
    assert_allclose(found, other, rtol=1e-12)


@pytest.mark.parametrize(
    ("from_deg", "heading_deg", "mu_deg", "side"),
    # By the definition: 0 from astern, 180 from ahead, +1 from starboard.
    [
        (0, 0, 180, 0),
        (180, 0, 0, 0),
        (90, 0, 90, 1),
        (270, 0, 90, -1),
        (10, 350, 160, 1),
        (350, 10, 160, -1),
        (45, 180, 45, -1),
    ],
)
def test_encounter_angle_and_side(from_deg, heading_deg, mu_deg, side):
    mu, found = waves.encounter_angle(np.deg2rad(from_deg), np.deg2rad(heading_deg))
    assert_allclose(np.rad2deg(mu), mu_deg, atol=1e-9)
    assert found == side


FUNCTIONS = {
    "wavenumber": lambda x: waves.wavenumber(x, 12.0),
    "deep": waves.wavenumber,
    "length": waves.wavelength_m,
    "group": lambda x: waves.group_speed_m_s(x, 9.0),
    "met": lambda x: waves.encounter_frequency(x, 6.0, 0.4),
    "period": lambda x: waves.encounter_period(x, 6.0, 2.0, 15.0),
    "angle": lambda x: waves.encounter_angle(x, 0.3)[0],
    "circular": lambda x: waves.imo_encounter_period(x, 10.0, 0.3),
}


@pytest.mark.parametrize("name", FUNCTIONS)
@pytest.mark.parametrize("shape", [(), (0,), (3,), (2, 3)], ids=["scalar", "empty", "1-d", "2-d"])
def test_shapes_go_through_and_nan_stays_nan(name, shape):
    assert np.shape(FUNCTIONS[name](np.full(shape, 1.3))) == shape
    assert np.isfinite(FUNCTIONS[name](np.full(shape, 1.3))).all()
    assert np.isnan(FUNCTIONS[name](np.full(shape, np.nan))).all()


@pytest.mark.parametrize("depth", [np.nan, 0.0, -3.0])
def test_no_depth_gives_no_number(depth):
    assert np.isnan(waves.wavenumber(0.8, depth))
