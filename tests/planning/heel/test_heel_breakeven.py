"""Break-even of fins and moved weight: check values, powers of speed, the trade's rule."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from passage.physics.fins.drag import FinPairDrag, fin_drag
from passage.planning.heel.breakeven import break_even, fin_l_per_h_per_moment2, fin_moment_max
from passage.units import G_M_S2, KNOT_M_S

SLOPE = 2.4435  # Whicker and Fehlner at aspect ratio 2, per rad
PAIR = FinPairDrag(area_m2=2.0, aspect_ratio=2.0, lift_slope_per_rad=SLOPE)


def _price(speed_kn, pairs=(PAIR,), lever=3.6):
    # 210 g/kWh at 0.845 t/m3, propulsive efficiency 0.6.
    return fin_l_per_h_per_moment2(
        np.asarray(speed_kn) * KNOT_M_S,
        pairs,
        lever,
        1.0,
        propulsive_efficiency=0.6,
        litres_per_kwh=0.210 / 0.845,
    )


def test_one_degree_at_twelve_knots():
    # Hand-worked case of docs/methods.md: 560 t, GM 1 m, list 1 deg, two fins of 2 m2 at
    # 3.6 m, e 0.9: 1604.4 N, 16.51 kW brake, 3.467 kg/h.
    moment = 560.0 * np.sin(np.radians(1.0))
    assert_allclose(_price(12.0) * moment**2 * 0.845, 3.467, rtol=2e-3)


def test_price_agrees_with_the_drag_of_fins_at_the_offset():
    speed = 9.0 * KNOT_M_S
    moment = 6.0
    pressure = 0.5 * 1025.0 * speed**2
    angle = moment * 1000.0 * G_M_S2 / (2 * pressure * 2.0 * SLOPE * 3.6)
    force = fin_drag(speed, angle, 0.0, PAIR).offset_n
    litres = force * speed / 0.6 / 1000.0 * 0.210 / 0.845
    assert_allclose(_price(9.0) * moment**2, litres, rtol=1e-9)


def test_offset_is_dearest_when_slow():
    slow, fast = _price([6.0, 12.0])
    assert_allclose(slow / fast, 2.0, rtol=1e-12)  # per hour, as 1/U
    assert_allclose((slow / 6.0) / (fast / 12.0), 4.0, rtol=1e-12)  # per mile, as 1/U^2
    assert np.isnan(_price(0.0))


def test_two_pairs_share_by_equal_angles():
    # Twice the fins at the same place: half the lift on each, half the drag in all.
    assert_allclose(_price(10.0, (PAIR, PAIR)), 0.5 * _price(10.0), rtol=1e-12)


def _curve(**changes):
    speeds = np.array([8.0, 10.0, 12.0])
    values = {
        "fin_l_per_h_per_moment2": _price(speeds),
        "fin_moment_max_t_m": 20.0 * (speeds / 12.0) ** 2,
        "displacement_t": 560.0,
        "gm_m": 1.0,
        "transfer_fixed_l": 17.0,
        "pump_l_per_m3": 0.07,
        "lever_m": 5.6,
        "density_t_m3": 0.845,
        "hull_fuel_l_per_h": np.array([62.0, 120.0, 205.0]),
        "ballast_lever_m": 3.0,
    }
    values.update(changes)
    return break_even(speeds, [0.1, 0.25, 0.5, 1.0, 2.0, 4.0], **values)


def test_fins_and_transfer_have_cost_the_same_at_the_break_even():
    curve = _curve()
    i, j = 2, 3  # 12 kn, 1 deg
    moment = 560.0 * np.tan(np.radians(1.0))
    by_fins = _price(12.0) * moment**2 * curve.hours[i, j]
    moved = moment / (0.845 * 5.6)
    assert_allclose(by_fins, 17.0 + 0.07 * moved, rtol=1e-9)
    assert_allclose(curve.distance_nm[i, j], curve.hours[i, j] * 12.0, rtol=1e-12)
    # The trade's rule with honest costs: fins for some hours, weight beyond.
    assert 2.0 < curve.hours[i, j] < 10.0


def test_larger_lists_and_slower_speeds_flip_sooner():
    curve = _curve()
    held = ~np.isnan(curve.hours)
    assert np.all(np.diff(curve.hours, axis=1)[held[:, 1:]] < 0.0)
    # Down the rows she goes faster, and the fins last longer, in miles more so.
    assert np.all(np.diff(curve.hours, axis=0)[held[:-1]] > 0.0)


def test_ballast_never_pays_for_a_small_list():
    curve = _curve()
    # Fins' price falls with the square of the list, ballast's in proportion: under
    # a fifth of a degree fins win at any distance.
    moment = 560.0 * np.tan(np.radians(0.1))
    fins = _price(12.0) * moment**2
    ballast = 2.0 / 3.0 * moment / 3.0 / 560.0 * 205.0
    assert fins < ballast
    assert curve.ballast_hours[2, 0] == np.inf
    assert np.isfinite(curve.ballast_hours[1, 3])
    assert curve.ballast_hours[1, 3] > curve.hours[1, 3]


def test_fins_that_cannot_hold_it_give_no_number():
    curve = _curve()
    assert np.isnan(curve.hours[0, 5])
    assert np.isnan(_curve(ballast_lever_m=None).ballast_nm).all()


def test_free_transfer_pays_at_once():
    assert_allclose(_curve(transfer_fixed_l=0.0, pump_l_per_m3=0.0).hours[2, :5], 0.0, atol=1e-12)


@pytest.mark.parametrize("left", [-0.1, 0.0])
def test_no_angle_left_is_no_moment(left):
    assert fin_moment_max(left, 687250.0) == 0.0
    # 687.25 kN m/rad at 25 deg is 299.9 kN m (docs/methods.md), 30.58 t m.
    assert_allclose(fin_moment_max(np.radians(25.0), 687250.0), 299.9 / G_M_S2, rtol=5e-4)
