"""Statics of the heel problem against hand-worked cases."""

from __future__ import annotations

import numpy as np
import pytest
from heel_cases import problem, tank
from numpy.testing import assert_allclose

from passage.physics.hull.stability import free_surface_correction_m, is_slack
from passage.planning.heel.model import (
    SEA,
    lowest_stiffness_t_m,
    moved_bounds_m3,
    slack_tanks,
    stability,
)
from passage.planning.heel.moves import Move, carry_l, moved_by


def test_weight_shift_of_five_tonnes_over_four_metres():
    # tan(heel) = w d / (displacement GM), any stability text; 5 t, 4 m, 560 t, GM 1 m:
    # worked by hand, atan(20/560) = 2.0454 deg.
    tanks = (tank("port", -2.0, density=1.0), tank("starboard", 2.0, density=1.0))
    p = problem(1, tanks, list_moment_t_m=0.0)
    moved = moved_by(p, (Move(0, 0, 1, 5.0),))
    moment = moved @ p.tank_moment_per_m3
    assert_allclose(moment, 20.0, rtol=1e-12)
    assert_allclose(p.heel_deg(moment), 2.0454, atol=5e-5)


def test_one_degree_needs_the_hand_worked_transfer():
    # 560 tan(1 deg) / 4 m = 2.444 t, by hand: that much across 4 m puts her upright.
    moment = 560.0 * np.tan(np.radians(1.0))
    tanks = (tank("port", -2.0, density=1.0), tank("starboard", 2.0, density=1.0))
    p = problem(1, tanks, list_moment_t_m=moment)
    assert_allclose(p.heel_deg(p.moment_t_m), 1.0, rtol=1e-12)
    moved = moved_by(p, (Move(0, 1, 0, 2.444),)) @ p.tank_moment_per_m3
    # Half a unit of the printed digit is 0.0005 t x 4 m, 0.0002 degrees.
    assert_allclose(p.heel_deg(p.moment_t_m + moved), 0.0, atol=2.1e-4)


def test_free_surface_of_one_tank_made_slack():
    # density l b^3 / 12 / displacement; 4 x 3 m of fuel on 560 t: 0.01366 m, by hand.
    surface = 0.85 * 4.0 * 3.0**3 / 12.0
    full = tank("port", -2.0, density=0.85, content=10.0, free_surface_t_m=surface)
    p = problem(2, (full, tank("starboard", 2.0, density=0.85)))
    before = stability(p, np.zeros((2, 2)))[2]
    after = stability(p, moved_by(p, (Move(1, 0, 1, 2.0),)))[2]
    assert_allclose(before - after, [0.0, 0.01366], atol=1e-5)
    assert_allclose(
        before[1] - after[1], free_surface_correction_m(4.0, 3.0, 0.85, 560.0), rtol=1e-9
    )


def test_slack_agrees_with_the_statics_and_counts_tanks_being_drawn_down():
    tanks = tuple(tank(str(i), 1.0, capacity=10.0) for i in range(5))
    start = np.array([0.0, 0.1, 5.0, 9.7, 9.9])
    assert_allclose(slack_tanks(tanks, start), is_slack(start, 10.0), rtol=1e-7)
    drawn = slack_tanks(tanks, start, np.array([0.0, 0.0, 0.0, 0.0, 0.3]))
    assert drawn.tolist() == [False, False, True, True, True]


def test_a_tank_is_slack_while_the_pump_runs_even_if_it_ends_full():
    surface = {"free_surface_t_m": 5.6}
    p = problem(
        3,
        (
            tank("port", -2.0, content=10.0, **surface),
            tank("starboard", 2.0, content=0.0, **surface),
        ),
    )
    gm = stability(p, moved_by(p, (Move(1, 0, 1, 10.0),)))[2]
    assert_allclose(gm, [1.0, 0.98, 1.0], rtol=1e-12)


def test_burn_takes_moment_from_the_side_it_is_drawn_from():
    burn = np.array([[0.0, 1.0], [0.0, 2.0]])
    p = problem(2, burn_m3=burn)
    # Middle of the legs: half of 1 m3, then 1 + half of 2, times 0.845 t/m3 at 2.5 m.
    assert_allclose(p.burn_moment_t_m, [-0.5 * 0.845 * 2.5, -2.0 * 0.845 * 2.5], rtol=1e-12)
    assert_allclose(p.content_start_m3, [[5.0, 5.0], [5.0, 4.0]], rtol=1e-12)


def test_moments_add_up():
    p = problem(
        3,
        list_moment_t_m=4.0,
        wind_moment_t_m=np.array([1.0, -2.0, 3.0]),
        event_moment_t_m=np.array([0.0, 6.0, 6.0]),
    )
    assert_allclose(p.moment_t_m, [5.0, 8.0, 13.0], rtol=1e-12)


def test_bounds_hold_minimum_to_the_end_of_the_leg():
    p = problem(
        2,
        (tank("port", -2.5, minimum_m3=1.0), tank("starboard", 2.5), tank("alone", 0.0)),
        ((0, 1),),
        burn_m3=np.array([[1.0, 0.0, 0.0]] * 2),
    )
    low, high = moved_bounds_m3(p)
    assert_allclose(low, [[-3.0, -5.0, 0.0], [-2.0, -5.0, 0.0]], rtol=1e-12)
    assert_allclose(high, [[5.0, 5.0, 0.0], [6.0, 5.0, 0.0]], rtol=1e-12)


def test_ballast_taken_in_deepens_her_and_stiffens_her_by_its_lever():
    # Added weight stiffens by its lever under the waterline, 2.5 m here.
    spec = tank(
        "b", -3.0, holds="ballast", content=0.0, density=1.025, stiffness_t_m_per_m3=1.025 * 2.5
    )
    p = problem(1, (spec,), ((SEA, 0), (0, SEA)), carry_l_per_t=np.array([0.3]))
    moved = moved_by(p, (Move(0, SEA, 0, 4.0),))
    displacement, stiffness, gm = stability(p, moved)
    assert_allclose(displacement, 564.1, rtol=1e-12)
    assert_allclose(stiffness, 570.25, rtol=1e-12)
    assert_allclose(gm, 570.25 / 564.1, rtol=1e-12)
    assert_allclose(carry_l(p, moved), 0.3 * 4.1, rtol=1e-12)


@pytest.mark.parametrize("seed", range(20))
def test_no_moves_bring_the_stiffness_under_the_lowest(seed):
    rng = np.random.default_rng(seed)
    tanks = tuple(
        tank(
            str(i),
            float(i - 1),
            content=float(rng.choice([0.0, 4.0, 10.0])),
            free_surface_t_m=3.0,
            stiffness_t_m_per_m3=float(rng.uniform(-1, 3)),
        )
        for i in range(3)
    )
    p = problem(4, tanks)
    low, high = moved_bounds_m3(p)
    floor = lowest_stiffness_t_m(p)
    for _ in range(50):
        moved = rng.uniform(low, high)
        assert np.all(stability(p, moved)[1] >= floor - 1e-9)
