"""Weighing of roll angle, rate and acceleration."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.testing import assert_allclose

from passage.physics.fins.force import Fins
from passage.physics.roll.excitation import encounter_nodes
from passage.physics.roll.fin_margins import LEAST_GAIN_MARGIN, loop_margins
from passage.physics.roll.fin_weighting import advise_gains, check_gains
from passage.physics.roll.response import HullRoll, solve_roll

W0 = 0.8164
NODES = encounter_nodes(W0)
D = np.radians
FINS = Fins([0.12514], [0.58315], D(25), D(30), 0.2, D(26.4), rate_gain_s=4.0)
HULL = HullRoll(W0, 0.05, 0.1)


def sea(centre, size=2e-3, width=0.08):
    """Excitation met around one frequency."""
    return size * np.exp(-0.5 * ((NODES - centre * W0) / (width * W0)) ** 2) * np.gradient(NODES)


def test_long_encounter_periods_call_for_angle_resonance_for_rate():
    # Direction of the published table of feedback by encounter frequency: angle
    # below resonance, rate at it.
    points = np.stack([sea(0.35), sea(1.0)])
    advice = advise_gains(points, NODES, HULL, FINS)
    angle_to_rate = advice.angle_gain / (advice.rate_gain_s * W0)
    assert angle_to_rate[0] > 1.0
    assert angle_to_rate[1] < 0.8
    assert angle_to_rate[0] > 2 * angle_to_rate[1]


def test_advice_rolls_as_little_as_it_says_at_the_effort_it_says():
    points = np.stack([sea(0.4), sea(0.8), sea(1.2)])
    advice = advise_gains(points, NODES, HULL, FINS)
    steered = replace(
        FINS,
        angle_gain=advice.angle_gain[:, None],
        rate_gain_s=advice.rate_gain_s[:, None],
        acceleration_gain_s2=advice.acceleration_gain_s2[:, None],
    )
    again = solve_roll(points, NODES, HULL, steered)
    given = solve_roll(points, NODES, HULL, FINS)
    assert_allclose(again.roll_rms_rad, advice.roll_rms_rad, rtol=1e-6)
    assert_allclose(again.fin_rms_rad[:, 0], given.fin_rms_rad[:, 0], rtol=2e-3)
    assert (advice.roll_rms_rad <= given.roll_rms_rad).all()
    assert_allclose(advice.roll_saved, 1 - again.roll_rms_rad / given.roll_rms_rad, atol=1e-6)


def test_more_effort_buys_less_roll():
    points = np.broadcast_to(sea(0.9), (3, NODES.size))
    advice = advise_gains(points, NODES, HULL, FINS, effort_rad=D([2.0, 4.0, 8.0]))
    assert (np.diff(advice.roll_rms_rad) < 0).all()


def test_effort_that_no_gain_reaches_has_no_advice():
    advice = advise_gains(sea(0.9, 1e-9), NODES, HULL, FINS, effort_rad=D(20.0))
    assert np.isnan(advice.roll_rms_rad)
    assert np.isnan(advice.rate_gain_s)


def test_nan_never_becomes_advice():
    advice = advise_gains(sea(0.9) * np.nan, NODES, HULL, FINS)
    for value in (advice.angle_gain, advice.rate_gain_s, advice.roll_rms_rad, advice.roll_saved):
        assert np.isnan(value)
    assert not check_gains(sea(0.9) * np.nan, NODES, HULL, FINS).too_high


def test_gain_beyond_the_rate_limit_is_called_too_high():
    slow = replace(FINS, rate_limit_rad_s=D(15), lag_s=0.3)
    points = np.broadcast_to(sea(1.0, 1e-2), (2, NODES.size))
    check = check_gains(points, NODES, HULL, replace(slow, rate_gain_s=np.array([[1.0], [25.0]])))
    assert check.too_high.tolist() == [False, True]
    assert check.half_roll_rms_rad[1] <= check.roll_rms_rad[1]


def test_unstable_gains_are_too_high():
    wild = replace(FINS, angle_gain=50.0, lag_s=0.5)
    check = check_gains(sea(1.0), NODES, HULL, wild)
    half = solve_roll(sea(1.0), NODES, HULL, replace(wild, angle_gain=25.0, rate_gain_s=2.0))
    assert np.isnan(check.roll_rms_rad)
    assert bool(check.too_high) == bool(half.stable)


def test_centred_fins_have_no_gain_to_be_too_high():
    assert not check_gains(sea(1.0), NODES, HULL, FINS.centred()).too_high


def test_no_advice_has_less_than_its_margin():
    # Gains near to hunting: free of the delay the search would go on beyond the margin.
    points = np.stack([sea(0.8, 1e-5), sea(1.2, 1e-5), sea(1.6, 1e-5)])
    strong = replace(FINS, rate_gain_s=60.0)
    late = replace(strong, delay_s=0.3)

    def left(advice):
        advised = replace(
            late,
            angle_gain=advice.angle_gain[:, None],
            rate_gain_s=advice.rate_gain_s[:, None],
            acceleration_gain_s2=advice.acceleration_gain_s2[:, None],
        )
        return loop_margins(HULL, advised).gain_factor

    # The effort is asked for, so that the gains given are no way out.
    effort = advise_gains(points, NODES, HULL, strong).effort_rad
    free = advise_gains(points, NODES, HULL, strong, effort_rad=effort)
    bounded = advise_gains(points, NODES, HULL, late, effort_rad=effort)
    assert np.any(left(free) < LEAST_GAIN_MARGIN)
    # Every mix of that effort hunts too soon: then there is no advice.
    assert np.all((left(bounded) >= LEAST_GAIN_MARGIN) | np.isnan(bounded.rate_gain_s))
