"""Wave groups: nothing where the fins are free, no jump where they begin to be felt."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.testing import assert_allclose

from passage.physics.fins.force import Fins
from passage.physics.roll.response import HullRoll, solve_roll
from passage.physics.roll.wave_groups import GREATER, LESSER, group_shares

W0 = 0.8
NODES = np.linspace(0.2, 2.5, 128)
SEA = 4e-4 * np.exp(-(((NODES - W0) / 0.15) ** 2))
HULL = HullRoll(W0, 0.05, 0.1)
FINS = Fins([0.12], 0.6, np.radians(25), np.radians(30), 0.2, np.radians(26), 0.5, 0.5, 4.0)


def test_unlimited_fins_have_no_effect_of_groups():
    sea = 1e-3 * SEA
    with_, without = (solve_roll(sea, NODES, HULL, FINS, groups=g) for g in (True, False))
    assert float(with_.share_at_limit[0]) < 1e-4
    assert_allclose(with_.roll_rms_rad, without.roll_rms_rad, rtol=1e-12)


def test_at_their_limit_fins_roll_more_and_travel_less_than_gaussian():
    with_, without = (solve_roll(0.3 * SEA, NODES, HULL, FINS, groups=g) for g in (True, False))
    assert 0.02 < float(without.share_at_limit[0]) < 0.5
    assert with_.roll_rms_rad > without.roll_rms_rad
    assert with_.lift_rms_rad[0] < without.lift_rms_rad[0]


def test_roll_grows_with_the_sea_without_a_jump():
    sizes = np.geomspace(0.05, 1.0, 400)
    roll = solve_roll(sizes[:, None] * SEA, NODES, HULL, FINS).roll_rms_rad
    steps = np.diff(np.log(roll)) / np.diff(np.log(sizes))
    assert np.all(steps > 0.45)
    assert np.all(np.abs(np.diff(steps)) < 0.05)


def test_a_slow_fin_is_at_its_rate_limit_and_the_share_at_a_limit_holds_both():
    slow = replace(FINS, rate_limit_rad_s=np.radians(6))
    answer = solve_roll(0.05 * SEA, NODES, HULL, slow)
    angle, rate = answer.share_at_angle_limit[0], answer.share_rate_limited[0]
    assert rate > 0.2 > angle
    assert_allclose(answer.share_at_limit[0], 1.0 - (1.0 - angle) * (1.0 - rate), rtol=1e-7)


def test_the_three_seas_have_the_energy_of_the_actual_one():
    weight = np.array([0.0, 0.3, 1.0])
    own, lower, higher = group_shares(weight)
    assert_allclose(own + lower + higher, 1.0, rtol=1e-12)
    assert_allclose(own + LESSER * lower + GREATER * higher, 1.0, rtol=1e-12)
    assert_allclose(lower / weight[2], lower[2] * weight, rtol=1e-12)
