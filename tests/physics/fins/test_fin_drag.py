"""Drag of fins and of a heeled hull: check values of the methods note, identities."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from passage.physics.fins.drag import (
    FinPairDrag,
    Rudder,
    fin_drag,
    fin_side_force,
    heel_drag_share,
    heel_drag_share_high,
    mean_drag_coefficient,
    profile_drag,
    rudder_drag,
)
from passage.physics.fuel.propulsion import (
    Engine,
    brake_power_from_force,
    fuel_from_brake_power,
)
from passage.units import G_M_S2, RHO_SEA_KG_M3

SPEED = 12 * 1852 / 3600
# Whicker & Fehlner, effective aspect ratio 2 (methods note section 4).
PAIR = FinPairDrag(area_m2=2.0, aspect_ratio=2.0, lift_slope_per_rad=2.4435)
STALLING = replace(PAIR, stall_angle_rad=np.deg2rad(26.4))


def offset_for_list(list_deg, displacement_t=560.0, gm_m=1.0, lever_m=3.6):
    """Fin offset that holds a list: moment of a pair, methods note section 5."""
    moment = displacement_t * 1000 * G_M_S2 * gm_m * np.sin(np.deg2rad(list_deg))
    return moment / (RHO_SEA_KG_M3 * 2.0 * SPEED**2 * 2.4435 * lever_m)


def test_drag_of_holding_one_degree_of_list():
    # Methods note section 5: 7.990 deg, 1604.4 N, 16.51 kW, 3.467 kg/h; 0.2 %.
    offset = offset_for_list(1.0)
    assert_allclose(np.rad2deg(offset), 7.990, rtol=0.002)
    drag = fin_drag(SPEED, offset, 0.0, PAIR)
    assert_allclose(drag.offset_n, 1604.4, rtol=0.002)
    assert_allclose(drag.active_n, 0.0, rtol=0, atol=0)
    engine = Engine(
        propulsive_efficiency=0.6, specific_fuel_g_per_kwh=210.0, fuel_density_t_m3=0.845
    )
    power = brake_power_from_force(drag.offset_n, SPEED, engine)
    assert_allclose(power, 16510.0, rtol=0.002)
    mass = fuel_from_brake_power(power, engine) * 0.845
    assert_allclose(mass, 3.467, rtol=0.002)


def test_offset_and_activity_add():
    # Methods note section 5: 8 deg rms alone 1608.2 N, with the offset 3212.6 N.
    offset, rms = offset_for_list(1.0), np.deg2rad(8.0)
    both = fin_drag(SPEED, offset, rms, PAIR)
    assert_allclose(both.active_n, 1608.2, rtol=0.002)
    assert_allclose(both.active_n + both.offset_n, 3212.6, rtol=0.002)
    alone = fin_drag(SPEED, 0.0, rms, PAIR).active_n
    alone = alone + fin_drag(SPEED, offset, 0.0, PAIR).offset_n
    assert_allclose(both.active_n + both.offset_n, alone, rtol=1e-9)


@given(mean=st.floats(-0.7, 0.7), rms=st.floats(0.0, 0.5), speed=st.floats(0.0, 12.0))
def test_drag_is_even_in_the_offset_and_never_negative(mean, rms, speed):
    for pair in (PAIR, STALLING):
        one = fin_drag(speed, mean, rms, pair)
        other = fin_drag(speed, -mean, rms, pair)
        assert_allclose(one.offset_n, other.offset_n, rtol=1e-12, atol=1e-9)
        assert one.offset_n >= -1e-9
        assert one.active_n >= 0.0


def test_no_offset_costs_nothing():
    assert fin_drag(SPEED, 0.0, 0.2, STALLING).offset_n == 0.0


def test_drag_grows_steadily_through_stall():
    incidence = np.deg2rad(np.linspace(0, 45, 200))
    drag = mean_drag_coefficient(incidence, 0.0, STALLING)
    assert np.all(np.diff(drag) > 0)
    plain = mean_drag_coefficient(incidence, 0.0, PAIR)
    below = incidence <= STALLING.stall_angle_rad
    assert_allclose(drag[below], plain[below], rtol=1e-12)
    assert np.all(drag[~below] > plain[~below])


def test_growth_beyond_stall_meets_a_flat_plate():
    # Normal force coefficient of a plate about 1.2 (common practice, from memory).
    angle = np.deg2rad(40.0)
    found = mean_drag_coefficient(angle, 0.0, STALLING)
    assert_allclose(found, 1.2 * np.sin(angle), rtol=0.02)


def test_mean_over_stall_against_random_numbers():
    # Independent: a million Gaussian incidences; the standard error is 0.2 %.
    rng = np.random.default_rng(11)
    mean, rms = np.deg2rad(12.0), np.deg2rad(14.0)
    draws = mean + rms * rng.standard_normal(1_000_000)
    instant = mean_drag_coefficient(draws, 0.0, STALLING)
    found = mean_drag_coefficient(mean, rms, STALLING)
    assert_allclose(found, instant.mean(), rtol=0.006)


def test_holding_a_list_costs_most_when_slow():
    # Offset ~ U^-2, so force ~ U^-2 (methods note section 5): a quarter at double speed.
    slow = fin_drag(SPEED / 2, offset_for_list(1.0) * 4, 0.0, PAIR).offset_n
    fast = fin_drag(SPEED, offset_for_list(1.0), 0.0, PAIR).offset_n
    assert_allclose(slow / fast, 4.0, rtol=1e-9)


def test_profile_drag_and_flow_fraction():
    # rho U^2 A CD0 for a pair, by hand: 1025 * 6.17333^2 * 2 * 0.010.
    assert_allclose(profile_drag(SPEED, PAIR), 781.26, rtol=1e-4)
    slowed = replace(PAIR, flow_fraction=0.9)
    ratio = profile_drag(SPEED, slowed) / profile_drag(SPEED, PAIR)
    assert_allclose(ratio, 0.81, rtol=1e-12)


def test_fins_of_no_area_cost_nothing():
    none = fin_drag(SPEED, 0.3, 0.2, replace(STALLING, area_m2=0.0))
    assert (none.profile_n, none.active_n, none.offset_n) == (0.0, 0.0, 0.0)


def test_rudder_drag_balances_the_yawing_couple():
    rudder = Rudder(area_m2=3.0, aspect_ratio=1.5, x_m=-20.0)
    # By hand: force 10 kN * 5 m / 20 m = 2.5 kN; drag F^2/(q A pi a e).
    q = 0.5 * 1025 * SPEED**2
    expected = 2500.0**2 / (q * 3.0 * np.pi * 1.5 * 0.9)
    assert_allclose(rudder_drag(SPEED, [10e3], [5.0], rudder), expected, rtol=1e-9)
    # Pairs that pull the bow opposite ways leave nothing to the rudder.
    assert rudder_drag(SPEED, [10e3, 5e3], [5.0, -10.0], rudder) == 0.0
    assert rudder_drag(0.0, [10e3], [5.0], rudder) == 0.0
    assert np.isnan(rudder_drag(np.nan, [10e3], [5.0], rudder))


def test_rudder_share_of_holding_a_list_is_small_amidships():
    # By hand: 7.99 degrees on two fins of 2 m2 is 26.6 kN of lift, half of it sideways
    # at 30 degrees of cant; 1.5 m ahead of midship against a rudder 21.15 m aft.
    side = fin_side_force(SPEED, offset_for_list(1.0), PAIR)
    assert_allclose(side, 26624 * 0.5, rtol=2e-3)
    rudder = Rudder.estimate(45.0, 2.8)
    drag = rudder_drag(SPEED, [side], [1.5], rudder)
    force = 13312 * 1.5 / 21.15
    assert_allclose(drag, force**2 / (19531 * 3.78 * np.pi * 1.5 * 0.9), rtol=5e-3)
    assert drag < 0.01 * fin_drag(SPEED, offset_for_list(1.0), 0.0, PAIR).offset_n


def test_drag_of_a_heeled_hull():
    # Keuning & Sonnenberg 1998 shape, relative to 20 degrees; methods note
    # (confirmations) section 9.
    heel = np.deg2rad([1, 2, 3, 5, 10, 20])
    relative = heel_drag_share(heel, at_20_deg=1.0)
    expected = [0.006, 0.020, 0.040, 0.095, 0.309, 1.0025]
    assert_allclose(relative, expected, rtol=0, atol=6e-4)
    assert_allclose(heel_drag_share(-heel), heel_drag_share(heel), rtol=1e-12)
    assert heel_drag_share(0.0) == 0.0
    # The band: 0 to 1 % up to 5 degrees.
    assert_allclose(heel_drag_share_high(np.deg2rad(5.0)), 0.01, rtol=1e-12)
    assert np.all(heel_drag_share_high(heel) >= heel_drag_share(heel))


@pytest.mark.parametrize("shape", [(), (4,), (2, 3), (0,)])
def test_input_forms(shape):
    drag = fin_drag(np.full(shape, 6.0), np.full(shape, 0.1), 0.1, STALLING)
    for part in (drag.profile_n, drag.active_n, drag.offset_n):
        assert part.shape == shape
        assert np.all(np.isfinite(part))


def test_nan_in_nan_out():
    assert np.isnan(fin_drag(6.0, np.nan, 0.1, STALLING).offset_n)
    assert np.isnan(fin_drag(6.0, 0.1, np.nan, STALLING).active_n)
    assert np.isnan(fin_drag(np.nan, 0.1, 0.1, PAIR).profile_n)
