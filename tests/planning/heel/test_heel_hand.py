"""The five cases of docs/heel.md, worked by hand, against the program."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from passage.inputs.vessel import read_vessel
from passage.planning.heel.breakeven import break_even
from passage.planning.heel.curve import fin_price
from passage.planning.heel.tanks import condition
from passage.planning.voyage.list_drift import gm_held_note
from passage.planning.voyage.loading import loading_along
from passage.planning.voyage.yacht import Yacht
from passage.units import knots_to_m_s

FILE = Path(__file__).parents[3] / "sample_forecasts" / "brambling.toml"
DEPARTURE = np.array([13.0, 15.0, 12.0, 4.0, 5.0, 0.0, 0.0])


@pytest.fixture(scope="module")
def vessel():
    """The invented yacht Brambling."""
    return read_vessel(FILE)


def test_two_cubic_metres_across(vessel):
    after = condition(vessel, np.add(DEPARTURE, [2.0, -2.0, 0, 0, 0, 0, 0]))
    moment = 550.0 * np.tan(np.radians(1.5)) - 2.0 * 0.845 * 5.6
    assert_allclose(moment, 4.94, atol=0.005)
    assert_allclose(after.list_deg, 0.514, atol=0.001)
    assert_allclose(after.gm_m, 1.0, rtol=1e-12)
    assert_allclose(after.trim_m, 0.0, atol=1e-12)


def test_twelve_cubic_metres_burnt(vessel):
    after = condition(vessel, DEPARTURE - [5.4, 6.6, 0, 0, 0, 0, 0])
    assert_allclose(after.displacement_t, 550.0 - 10.14, rtol=1e-12)
    assert_allclose(after.gm_m, (550.0 - 10.14 * 1.2) / 539.86, rtol=1e-12)
    assert_allclose(after.gm_m, 0.996, atol=5e-4)
    assert_allclose(after.list_deg, 1.23, atol=0.005)


def test_gm_falls_over_a_long_passage_from_low_tanks(vessel):
    burnt_l = 19.4 / 0.845 * 1000.0
    along = loading_along(vessel, np.zeros(100, dtype=int), np.full(100, burnt_l / 99.5))
    # The middle of the last point is 99.5 points from departure.
    assert_allclose(along.displacement_t[-1], 530.6, rtol=1e-9)
    assert_allclose(along.gm_m[-1], 526.72 / 530.6, rtol=1e-6)
    assert along.gm_m[-1] < vessel.particulars.gm_m
    assert_allclose(along.short_m3, 0.0, rtol=1e-7)


def test_four_cubic_metres_of_ballast(vessel):
    after = condition(vessel, np.add(DEPARTURE, [0, 0, 0, 0, 0, 4.0, 0]))
    surface = 1.025 * 3.0 * 1.2**3 / 12.0
    stiffness = 550.0 + 4.1 * 1.0 - surface
    assert_allclose(after.gm_m, stiffness / 554.1, rtol=1e-12)
    assert_allclose(after.list_deg, 0.2176, atol=5e-4)
    # Waterplane |1 - |2x/L|^n| with Cwp 0.76: n 3.167, inertia 32 807 m4; volume 536.6 m3;
    # KB 1.739 m, KG 3.6 m: longitudinal GM 59.28 m.
    assert_allclose(after.trim_m, 4.1 * 10.0 * 44.0 / (550.0 * 59.28), rtol=2e-3)
    assert_allclose(after.draught_fore_m - after.draught_aft_m, -0.4 + after.trim_m, rtol=1e-9)


def test_half_a_degree_held_in_a_calm(vessel):
    speed = float(knots_to_m_s(12.0))
    price = float(fin_price(Yacht(vessel), speed))
    pressure = 0.5 * 1025.0 * speed**2
    per_radian = pressure * 4.0 * 2.4435 * 3.6 * 0.9
    angle = 4.8 * 9806.65 / per_radian
    drag = pressure * 4.0 * 2.4435**2 / (np.pi * 2.0 * 0.9) * angle**2
    hourly = drag * speed / 0.58 / 1000.0 * 212.0 / 845.0
    assert_allclose(hourly, 1.276, rtol=5e-3)
    assert_allclose(price * 4.8**2, hourly, rtol=2e-3)
    work = 8.0 * vessel.hotel.generator_specific_fuel_g_per_kwh / 845.0
    assert_allclose(work, 2.272, rtol=1e-3)
    curve = break_even(
        12.0,
        0.5,
        fin_l_per_h_per_moment2=price,
        fin_moment_max_t_m=20.0,
        displacement_t=550.0,
        gm_m=1.0,
        transfer_fixed_l=17.05,
        pump_l_per_m3=0.0,
        lever_m=5.6,
        density_t_m3=0.845,
        hull_fuel_l_per_h=205.0,
        work_l_per_h=work,
        limit_deg=0.2,
    )
    assert_allclose(curve.hours, 17.05 / (hourly + work), rtol=2e-3)
    # Held only beyond 0.2 degrees the square falls to (0.3 / 0.5)^2, the work does not.
    assert_allclose(curve.beyond_hours, 17.05 / (hourly * 0.36 + work), rtol=2e-3)


def test_what_a_season_leaves_out_of_gm_is_reported_with_its_sign(vessel):
    # Third case: 526.7 / 550 is 4.2 % less stiffness, so heel 4.4 % more; GM 0.993 m, 0.7 %
    # less, so the period 0.4 % longer.
    note = gm_held_note(vessel, 23000.0)
    assert note is not None
    assert "GM is 0.7 % less" in note
    assert "heel is 4.4 % more" in note
    assert "roll period 0.4 % longer" in note
    assert gm_held_note(vessel, 2000.0) is None
