"""Correction at the limits: nothing without control or moment, the same for a pair in halves."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from passage.physics.fins.force import Fins
from passage.physics.roll import limit_fit
from passage.physics.roll.packing import FINS_OUT
from passage.physics.roll.response import HullRoll, solve_roll

W0 = 0.8
NODES = np.linspace(0.2, 2.5, 128)
SEA = 4e-4 * np.exp(-(((NODES - W0) / 0.15) ** 2))
HULL = HullRoll(W0, 0.05, 0.1)
FINS = Fins([0.12], 0.6, np.radians(25), np.radians(30), 0.2, np.radians(26), 0.5, 0.5, 4.0)
ROW = {name: i for i, name in enumerate(FINS_OUT)}


def at_limits(points=5, pairs=2):
    """Inputs, variances of roll and fin outputs with random values."""
    rng = np.random.default_rng(3)
    rolls = rng.uniform(0.1, 1.0, (5, points))
    fins = rng.uniform(0.1, 0.5, (len(FINS_OUT), points, pairs))
    inputs = limit_fit.CENTRES + limit_fit.SCALES * rng.normal(size=(points, pairs, 18))
    return rolls, fins, inputs


def corrected(weight=1.0, command=0.3, moment=(0.1, 0.05)):
    rolls, fins, inputs = at_limits()
    before = rolls.copy(), fins.copy()
    given = np.full(5, weight), np.full((5, 2), command), np.array(moment)
    limit_fit.fit_to_time(rolls, fins, inputs, *given)
    return before, (rolls, fins)


def test_the_spread_of_roll_holds_nine_of_ten_simulated_seas_in_every_class():
    """The page's tables of cases that nothing was fitted to, by share of time at a limit [%]."""
    page = (Path(__file__).parents[3] / "docs" / "roll-validation.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| (\d+) to (\d+) \| \d+ \| [\d.]+ \| ([\d.]+) \|", page, re.M)
    assert len(rows) == 10
    low, high, nine_of_ten = np.array(rows, dtype=float).T / 100.0
    # Least within a class, at its lower end; in the first, where there may be none, in its middle.
    at = np.where(low > 0.0, low, high / 2.0)
    spread = limit_fit.roll_spread(at[:, None], np.zeros((10, 1)))
    assert np.all(spread >= nine_of_ten)
    assert_allclose(limit_fit.roll_spread(np.zeros((10, 1)), at[:, None]), spread, rtol=1e-12)
    assert limit_fit.roll_spread(np.zeros((1, 0)), np.zeros((1, 0))) == 0.0


def test_without_groups_or_control_there_is_no_correction():
    for none in ({"weight": 0.0}, {"command": 0.0}):
        before, after = corrected(**none)
        assert_allclose(after[0], before[0], rtol=1e-12)
        for name in ("travel", "beyond"):
            assert_allclose(after[1][ROW[name]], before[1][ROW[name]], rtol=1e-12)


def test_a_pair_without_moment_leaves_roll_alone():
    before, after = corrected(moment=(0.0, 0.0))
    assert_allclose(after[0], before[0], rtol=1e-12)
    # The other pair alone decides; roll, rate and acceleration share one factor.
    before, after = corrected(moment=(0.1, 0.0))
    factor = after[0][:3] / before[0][:3]
    assert_allclose(factor, np.broadcast_to(factor[0], factor.shape), rtol=1e-12)
    found = np.empty((5, 2, 4))
    limit_fit.all_answers(at_limits()[2], found)
    assert_allclose(factor[0], np.exp(found[:, 0, 0]), rtol=1e-9)
    assert np.ptp(found[:, 0, 0]) > 0.01


def test_a_pair_in_two_halves_is_the_same_pair():
    halves = replace(FINS, moment_ratio=[0.06, 0.06])
    for size in (0.2, 0.4, 0.8):
        one, two = (solve_roll(size * SEA, NODES, HULL, fins) for fins in (FINS, halves))
        assert float(one.share_at_limit[0]) > 0.01
        assert_allclose(two.roll_rms_rad, one.roll_rms_rad, rtol=1e-6)
        for name in ("lift_rms_rad", "travel_rad_s", "beyond_stall_rms_rad"):
            both = getattr(two, name)
            assert_allclose(both, np.full(2, getattr(one, name)[0]), rtol=1e-5)


def test_nothing_is_made_of_what_is_missing():
    put = np.full((1, 1, 18), np.nan)
    found = np.zeros((1, 1, 4))
    limit_fit.all_answers(put, found)
    assert np.isnan(found).all()


@pytest.mark.parametrize("size", [0.02, 0.2, 2.0])
def test_answers_stay_within_those_of_the_simulations(size):
    found = np.empty((200, 1, 4))
    rng = np.random.default_rng(1)
    limit_fit.all_answers(size * rng.normal(size=(200, 1, 18)), found)
    assert np.all(found >= limit_fit.SMALLEST)
    assert np.all(found <= limit_fit.LARGEST)
