"""Statics of heel against hand-worked cases and the 2008 IS Code."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from passage.physics.hull import stability
from passage.units import G_M_S2

DEG = np.pi / 180.0


def test_roll_period_coefficient_and_period_of_2008_is_code():
    # 2008 IS Code, Part A 2.3, hand-worked: 0.373 + 0.023 x 9 / 2.8 - 0.043 x 0.45.
    assert_allclose(stability.roll_period_coefficient(45.0, 9.0, 2.8), 0.42758, atol=5e-6)
    assert_allclose(stability.roll_period_is_code_s(45.0, 9.0, 2.8, 1.0), 7.696, atol=1e-3)


def test_roll_period_from_gyradius():
    # 2 pi x 3.6 / sqrt(9.80665), hand-worked.
    assert_allclose(stability.roll_period_from_gyradius_s(3.6, 1.0), 7.223, atol=2e-3)


def test_code_coefficient_is_nearly_gyradius_over_beam():
    # Identity of the two forms: k / B = C sqrt(g) / pi.
    c = stability.roll_period_coefficient(45.0, 9.0, 2.8)
    period = stability.roll_period_from_gyradius_s(c * np.sqrt(G_M_S2) / np.pi * 9.0, 0.8)
    assert_allclose(period, stability.roll_period_is_code_s(45.0, 9.0, 2.8, 0.8), rtol=1e-12)


def test_weight_shift_of_five_tonnes_over_four_metres():
    # atan(20 / 560) = 2.0454 deg, hand-worked.
    heel = stability.heel_from_weight_shift(5.0, 4.0, 560.0, 1.0)
    assert_allclose(heel / DEG, 2.0454, atol=1e-4)


def test_mass_to_move_for_one_degree():
    # 560 tan(1 deg) / 4 = 2.444 t, hand-worked.
    assert_allclose(stability.transfer_mass_t(DEG, 4.0, 560.0, 1.0), 2.444, atol=1e-3)


def test_free_surface_of_a_rectangular_tank():
    # 0.85 x 4 x 27 / 12 / 560 = 0.01366 m, hand-worked.
    assert_allclose(stability.free_surface_correction_m(4.0, 3.0, 0.85, 560.0), 0.01366, atol=1e-5)


@pytest.mark.parametrize("parts", [2, 3, 5])
def test_free_surface_falls_with_the_square_of_longitudinal_divisions(parts):
    # n equal compartments leave 1 / n^2 of the correction (derived: n (b/n)^3 = b^3 / n^2).
    whole = stability.free_surface_correction_m(4.0, 3.0, 1.0, 560.0)
    each = stability.free_surface_correction_m(4.0, 3.0 / parts, 1.0, 560.0)
    assert_allclose(parts * each, whole / parts**2, rtol=1e-12)


def test_wind_lever_of_the_weather_criterion():
    # 504 x 320 x 4.5 / (1000 x 9.81 x 560) = 0.1321 m: 2008 IS Code, Part A 2.3.2.
    lever = stability.wind_heeling_lever_m(320.0, 4.5, 560.0)
    assert_allclose(lever, 0.1321, atol=1e-4)
    heel = np.arctan(lever / 1.0) / DEG
    assert_allclose(heel, 7.526, atol=0.005)


def test_fluid_gm_takes_off_only_slack_tanks():
    gm = stability.fluid_gm_m(
        solid_gm_m=[1.0, 1.0],
        length_m=[4.0, 4.0],
        breadth_m=[3.0, 3.0],
        density_t_m3=[0.85, 0.85],
        displacement_t=[560.0, 560.0],
        slack=[[True, True], [True, False]],
    )
    assert_allclose(gm, [1.0 - 2 * 0.0136607, 1.0 - 0.0136607], atol=1e-6)


def test_tanks_nearly_empty_or_pressed_up_are_not_slack():
    slack = stability.is_slack([0.0, 0.1, 5.0, 9.9, 10.0, np.nan], 10.0)
    assert slack.tolist() == [False, False, True, False, False, False]


def test_wall_sided_agrees_with_its_own_righting_arm():
    # The equilibrium must balance: GZ x weight = moment x cos(heel).
    moment = np.array([2e5, -8e5, 3e6, 1e7])
    heel = stability.heel_wall_sided(moment, 560.0, 1.0, 2.6)
    arm = stability.wall_sided_arm(heel, 1.0, 2.6)
    assert_allclose(arm * 560e3 * G_M_S2, moment * np.cos(heel), rtol=1e-9)


def test_wall_sided_angle_of_loll_is_the_textbook_one():
    # tan(loll) = sqrt(-2 GM / BM): any naval architecture text, from memory.
    heel = stability.heel_wall_sided(0.0, 560.0, -0.1, 2.6)
    assert_allclose(np.tan(heel), np.sqrt(0.2 / 2.6), rtol=1e-9)


def test_wall_sided_is_the_small_angle_form_for_small_moments():
    heel = stability.heel_wall_sided(1.0, 560.0, 1.0, 2.6)
    assert_allclose(heel, stability.heel_from_moment(1.0, 560.0, 1.0), rtol=1e-9)


@given(st.floats(-2e7, 2e7), st.floats(-0.3, 3.0), st.floats(0.5, 10.0))
def test_wall_sided_heel_balances_and_never_exceeds_the_small_angle_form(moment, gm, bm):
    heel = stability.heel_wall_sided(moment, 560.0, gm, bm)
    arm = stability.wall_sided_arm(heel, gm, bm) * 560e3 * G_M_S2
    assert_allclose(arm, moment * np.cos(heel), rtol=1e-6, atol=1e-2)
    if gm > 0.01:
        assert abs(heel) <= abs(stability.heel_from_moment(moment, 560.0, gm)) + 1e-12


@given(st.floats(-0.3, 0.3), st.floats(0.2, 3.0))
def test_moment_to_hold_is_the_inverse_of_heel(heel, gm):
    moment = stability.moment_to_hold(heel, 560.0, gm)
    assert_allclose(stability.heel_from_moment(moment, 560.0, gm), heel, atol=1e-12)


@given(st.floats(-0.3, 0.3), st.floats(1.0, 8.0))
def test_moving_the_mass_asked_for_gives_the_heel(heel, distance):
    mass = stability.transfer_mass_t(heel, distance, 560.0, 1.0)
    assert_allclose(stability.heel_from_weight_shift(mass, distance, 560.0, 1.0), heel, atol=1e-12)


def test_port_and_starboard_are_mirror_images():
    moment = np.linspace(1e4, 1e7, 7)
    for function in (
        lambda m: stability.heel_from_moment(m, 560.0, 1.0),
        lambda m: stability.heel_wall_sided(m, 560.0, 1.0, 2.6),
    ):
        assert_allclose(function(-moment), -function(moment), rtol=1e-14)


def test_without_stability_the_answer_is_nan():
    assert np.isnan(stability.heel_from_moment(1e5, 560.0, 0.0))
    assert np.isnan(stability.roll_period_is_code_s(45.0, 9.0, 2.8, -0.1))
    assert np.isnan(stability.transfer_mass_t(DEG, 0.0, 560.0, 1.0))


FUNCTIONS = {
    "heel": lambda x: stability.heel_from_moment(x, 560.0, 1.0),
    "wall-sided": lambda x: stability.heel_wall_sided(x, 560.0, 1.0, 2.6),
    "shift": lambda x: stability.heel_from_weight_shift(x, 4.0, 560.0, 1.0),
    "mass": lambda x: stability.transfer_mass_t(x, 4.0, 560.0, 1.0),
    "free surface": lambda x: stability.free_surface_correction_m(x, 3.0, 0.85, 560.0),
    "wind": lambda x: stability.wind_heeling_lever_m(x, 4.5, 560.0),
    "period": lambda x: stability.roll_period_is_code_s(45.0, 9.0, 2.8, x),
    "gyradius": lambda x: stability.roll_period_from_gyradius_s(x, 1.0),
    "inertia": lambda x: stability.roll_inertia_kg_m2(560.0, 1.0, x),
}


@pytest.mark.parametrize("name", FUNCTIONS)
@pytest.mark.parametrize("shape", [(), (0,), (3,), (2, 3)], ids=["scalar", "empty", "1-d", "2-d"])
def test_shapes_go_through_and_nan_stays_nan(name, shape):
    x = np.full(shape, 1.7)
    result = FUNCTIONS[name](x)
    assert np.shape(result) == shape
    assert np.isfinite(result).all()
    assert np.isnan(FUNCTIONS[name](np.full(shape, np.nan))).all()


def test_inertia_and_period_agree():
    # C44 / I = w0^2 by definition.
    stiffness = stability.righting_stiffness_n_m(560.0, 1.0)
    assert_allclose(stiffness, 5491.7e3, rtol=1e-5)  # methods note, reference yacht
    inertia = stability.roll_inertia_kg_m2(560.0, 1.0, 7.7)
    assert_allclose(2 * np.pi * np.sqrt(inertia / stiffness), 7.7, rtol=1e-12)
