"""Statistical linearisation against time-domain simulation without any.

Criteria for every case: roll rms within 5 %, induced drag (mean square of lift) within
10 %; mean heel within 0.1 degree or 3 %. All cases with their numbers are in
docs/roll-validation.md.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from roll_truth import Ship, System
from time_domain import simulate
from time_domain_cases import CASES, LATE, Case, compare, linearised, ship_of, simulated


def test_there_are_enough_cases_and_they_span_the_range():
    assert len(CASES) >= 24
    active = [c for c in CASES if c.fins == "active"]
    for name, at_least in (
        ("mu_deg", 6), ("period_s", 5), ("height_m", 5), ("rate_gain", 4), ("offset_deg", 4),
        ("speed_kn", 3),
    ):  # fmt: skip
        assert len({getattr(c, name) for c in active}) >= at_least, name


@pytest.mark.slow
@pytest.mark.parametrize("case", CASES, ids=lambda c: f"{c.fins}-{c.height_m}m-{c.mu_deg}deg")
def test_linearisation_agrees_with_time_domain(case):
    item = compare(case)
    assert item.answer.converged
    # The record itself must be known better than what it judges.
    assert item.run.roll_rms_error < 0.01 * item.run.roll_rms
    assert abs(item.roll_percent) <= item.roll_allowed_percent
    assert abs(item.heel_error_deg) <= item.heel_allowed_deg
    assert abs(item.drag_percent) <= 10.0


@pytest.mark.parametrize("case", LATE[::4], ids=lambda c: f"{c.rate_gain}s-{c.period_s}s")
def test_a_delayed_control_agrees_with_the_time_domain(case):
    item = compare(case)
    assert item.run.share_at_limit < 0.01
    # Free fins: the sum over frequencies is exact, the record known to a few in a thousand.
    assert abs(item.roll_percent) < 1.0
    assert abs(item.drag_percent) < 2.5
    # What the delay does is far above that: more roll in short waves, a little less in long.
    prompt = float(linearised(replace(case, delay_s=0.0)).roll_rms_rad)
    effect = 100.0 * (float(item.answer.roll_rms_rad) / prompt - 1.0)
    assert abs(effect) > 5.0 * abs(item.roll_percent)


def test_with_a_delay_more_gain_soon_rolls_her_more():
    def roll(gain, delay):
        one = linearised(Case(0.2, 5, 90, rate_gain=gain, delay_s=delay))
        return float(one.roll_rms_rad)

    gains = (2.5, 5.0, 10.0, 20.0, 40.0)
    free, late = ([roll(gain, delay) for gain in gains] for delay in (0.0, 0.6))
    assert np.all(np.diff(free) < 0.0)
    assert np.argmin(late[:4]) == 3
    # Just short of hunting each gain does less than half of its work; beyond there is no roll.
    assert late[3] > 2.0 * free[3]
    assert np.isnan(late[4])


def test_mild_case_agrees_closely():
    item = compare(CASES[0])
    assert abs(item.roll_percent) < 0.2
    assert abs(item.drag_percent) < 0.4


def test_simulator_of_a_linear_hull_gives_the_exact_variance():
    # Without any limit the periodic record has the variance of the linear sum.
    case = Case(1.0, 8, 90, quadratic=0.0, fins="absent")
    assert_allclose(simulated(case, 1).roll_rms, float(linearised(case).roll_rms_rad), rtol=2e-3)


def test_simulator_does_not_depend_on_its_step():
    case = Case(2.5, 8, 90, rate_gain=7.0, offset_deg=6, heel_deg=1.0)
    from time_domain_cases import sea_of

    coarse = simulate([sea_of(case)], ship_of(case), 0.017, records=1, step=0.1, seed=3)
    fine = simulate([sea_of(case)], ship_of(case), 0.017, records=2, step=0.05, seed=4)
    assert_allclose(coarse.roll_rms, fine.roll_rms, rtol=0.01)
    assert_allclose(coarse.mean_heel, fine.mean_heel, atol=2e-4)


def test_simulated_fin_obeys_its_limits():
    ship = Ship(
        0.8164, 0.03, 0.1, 9.0, 6.17, moment=0.125, inflow=0.58, limit=np.radians(20),
        rate_limit=np.radians(15), k2=20.0,
    )  # fmt: skip
    run = simulate([System(3.0, 8.0, np.pi / 2, 3.3, None)], ship, records=1)
    assert run.fin_rms <= np.radians(20)
    assert run.fin_rate_mean <= np.radians(15)
    assert run.share_at_limit > 0.3
