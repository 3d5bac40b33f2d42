"""Fins and describing functions: check values, identities, integration."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.integrate import quad
from scipy.stats import norm

from passage.physics.fins.force import (
    boundary_layer_efficiency,
    fins_under_way,
    lift_slope,
    offset_for_heel_rad,
    pair_moment_n_m_per_rad,
    passive_damping_ratio,
    scheduled_gain,
    stall_angle_rad,
    static_capacity_rad,
    tandem_factor,
)
from passage.physics.roll.linearisation import (
    QUADRATIC_FACTOR,
    REGULAR_QUADRATIC_FACTOR,
    clipped_mean_std,
    limit_gain,
    mean_absolute_clipped,
    rate_lag,
)
from passage.units import KNOT_M_S

U12 = 12 * KNOT_M_S
C44 = 560e3 * 9.80665 * 1.0  # invented yacht of the check values


# Whicker and Fehlner 1958, by the formula in an independent script.
@pytest.mark.parametrize(
    ("aspect", "slope"),
    [(0.5, 0.7322), (1, 1.4011), (1.5, 1.9726), (2, 2.4435), (3, 3.1384), (6, 4.1761)],
)
def test_lift_slope(aspect, slope):
    assert_allclose(lift_slope(aspect), slope, atol=5.1e-5)


def test_lift_slope_limits():
    assert_allclose(lift_slope(1e9), 1.8 * np.pi, rtol=1e-6)
    assert_allclose(lift_slope(1e-6) / 1e-6, 1.8 * np.pi / 3.8, rtol=1e-5)  # 1.488 a
    # Others print 5.7 for the leading constant: 0.8 per cent apart.
    assert_allclose(lift_slope(2.0), 5.7 * 2 / (1.8 + np.sqrt(8)), rtol=0.01)
    assert lift_slope(2.0, np.radians(15)) < lift_slope(2.0)


@pytest.mark.parametrize(("aspect", "angle"), [(1, 39.0), (1.5, 31.6), (2, 26.4), (3, 22.3)])
def test_stall_angle(aspect, angle):
    # Lloyd 1989, from memory.
    assert_allclose(np.degrees(stall_angle_rad(aspect)), angle, atol=0.06)
    assert np.isnan(stall_angle_rad(np.nan))
    assert_allclose(stall_angle_rad(5.0), 0.39, rtol=1e-7)


def test_moment_and_capacity_of_the_invented_yacht():
    moment = pair_moment_n_m_per_rad(U12, 2.0, 2.4435, 3.6)
    assert_allclose(moment, 687.25e3, rtol=1e-3)
    assert_allclose(C44, 5491.7e3, rtol=1e-5)
    capacity = np.degrees(static_capacity_rad(np.radians(25), moment, C44))
    assert_allclose(capacity, 3.13, atol=0.01)
    slow = pair_moment_n_m_per_rad(U12 / 2, 2.0, 2.4435, 3.6)
    assert_allclose(slow / moment, 0.25, rtol=1e-12)
    assert_allclose(np.degrees(static_capacity_rad(np.radians(25), slow, C44)), 0.78, atol=0.005)
    assert_allclose(np.degrees(offset_for_heel_rad(np.radians(1), moment, C44)), 7.990, rtol=2e-3)
    # Hydrodynamic only, as printed: rho U A CL_a r^2 = 4.008e5 N m s.
    assert_allclose(moment * 3.6 / U12, 4.008e5, rtol=1e-3)
    assert_allclose(passive_damping_ratio(moment / C44, 3.6 / U12, 0.8164), 0.0298, rtol=0.01)


def test_boundary_layer_and_tandem():
    assert_allclose(boundary_layer_efficiency(20.0, U12, 1.4), 0.970, atol=5e-4)
    assert np.isnan(boundary_layer_efficiency(200.0, 0.5, 0.5))
    assert tandem_factor(2.44, 2.0, 0.0) == 1.0
    assert 0.0 <= tandem_factor(2.44, 2.0, 1.0) < tandem_factor(2.44, 2.0) < 1.0


def test_gain_schedule_keeps_the_moment_until_its_cap():
    speeds = np.array([6.0, 10.0, 12.0, 15.0]) * KNOT_M_S
    moment = pair_moment_n_m_per_rad(speeds, 2.0, 2.4435, 3.6)
    asked = scheduled_gain(5.0, speeds, U12) * moment
    assert_allclose(asked, asked[0], rtol=1e-12)
    assert_allclose(scheduled_gain(5.0, 1 * KNOT_M_S, U12, cap=4.0), 20.0, rtol=1e-7)


def test_fins_have_no_lift_at_rest_or_astern_and_nan_stays():
    fins = fins_under_way(
        np.array([0.0, -3.0, U12, np.nan]), C44, area_m2=[2.0], slope_per_rad=2.4435, lever_m=3.6,
        angle_limit_rad=0.4, reference_speed_m_s=U12, rate_gain_s=4.0,
    )  # fmt: skip
    ratio = np.asarray(fins.moment_ratio)
    assert_allclose(ratio[:2], 0.0, atol=0)
    assert_allclose(ratio[2], 0.12514, rtol=1e-3)
    assert np.isnan(ratio[3])


def test_linearisation_factors():
    assert_allclose(REGULAR_QUADRATIC_FACTOR, 0.84883, atol=5e-6)
    assert_allclose(QUADRATIC_FACTOR, 1.59577, atol=5e-6)


# Gelb and Vander Velde; figures by the formula in an independent script.
@pytest.mark.parametrize(
    ("std", "mean", "gain"),
    [(8, 0, 0.99822), (8, 8, 0.98319), (15, 0, 0.90442), (15, 8, 0.85756), (25, 0, 0.68269)],
)
def test_limit_gain(std, mean, gain):
    assert_allclose(limit_gain(std, mean, 25.0), gain, atol=6e-6)


@pytest.mark.parametrize(
    ("std", "mean", "mean_out", "std_out"),
    [(8, 8, 7.952, 7.880), (15, 0, 0.0, 13.734), (15, 8, 7.110, 13.167)],
)
def test_clipped_mean_and_std(std, mean, mean_out, std_out):
    ours = clipped_mean_std(std, mean, 25.0)
    assert_allclose(ours, (mean_out, std_out), atol=6e-4)


@given(st.floats(0.5, 30.0), st.floats(-30.0, 30.0), st.floats(2.0, 40.0))
def test_clipped_statistics_are_the_integrals(std, mean, limit):
    points = np.clip([-limit, limit], mean - 8 * std, mean + 8 * std)

    def integral(power):
        return quad(
            lambda x: np.clip(x, -limit, limit) ** power * norm.pdf(x, mean, std),
            mean - 9 * std, mean + 9 * std, points=points, limit=200,
        )[0]  # fmt: skip

    first = integral(1)
    m, s = clipped_mean_std(std, mean, limit)
    assert_allclose(m, first, atol=1e-6 * limit)
    assert_allclose(s**2, integral(2) - first**2, atol=1e-5 * limit**2)
    gain = limit_gain(std, mean, limit)
    cross = quad(
        lambda x: np.clip(x, -limit, limit) * (x - mean) * norm.pdf(x, mean, std),
        mean - 9 * std, mean + 9 * std, points=points, limit=200,
    )[0]  # fmt: skip
    assert_allclose(gain, cross / std**2, atol=1e-5 * max(1, limit / std))


def test_no_limit_and_no_signal():
    assert limit_gain(3.0, 1.0, np.inf) == 1.0
    assert_allclose(clipped_mean_std(3.0, 1.0, np.inf), (1.0, 3.0), rtol=1e-7)
    assert_allclose(clipped_mean_std(0.0, 30.0, 25.0), (25.0, 0.0), rtol=1e-7)
    assert_allclose(mean_absolute_clipped(2.0, np.inf), 2.0 * np.sqrt(2 / np.pi), rtol=1e-7)
    assert_allclose(mean_absolute_clipped(1e6, 3.0), 3.0, rtol=1e-5)
    assert_allclose(rate_lag(0.2, 1.0, np.inf), 0.2, rtol=1e-7)
    # Far beyond its rate a fin needs the time the rate takes, whatever its lag.
    assert_allclose(
        rate_lag(0.001, 5.0, 0.05), 0.001 / (0.05 / 5.0 * np.sqrt(2 / np.pi)), rtol=1e-3
    )


def test_nan_never_becomes_a_number():
    for out in (
        limit_gain(np.nan, 0.0, 1.0),
        clipped_mean_std(1.0, np.nan, 1.0),
        lift_slope(np.nan),
        scheduled_gain(1.0, np.nan, 5.0),
        pair_moment_n_m_per_rad(np.nan, 1.0, 1.0, 1.0),
        offset_for_heel_rad(np.nan, 1.0, 1.0),
    ):
        assert np.isnan(out).all()
