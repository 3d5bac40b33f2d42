"""Speeds chosen leg by leg, against trying every way."""

from itertools import product

import numpy as np
import pytest

from passage.planning.compare.speed_choice import LegChoices, SpeedPlan, best_plans, least_fuel


def random_legs(rng, legs, speeds, times=60, holes=0.0):
    made = []
    for _ in range(legs):
        shape = (times, speeds)
        fuel = rng.uniform(10.0, 100.0, shape)
        fuel[rng.random(shape) < holes] = np.nan
        made.append(
            LegChoices(
                0,
                rng.integers(1, 7, shape),
                fuel,
                # Few levels, so that ties are common.
                rng.integers(1, 9, shape).astype(float),
                rng.random(shape) >= holes,
            )
        )
    return made


def every_way(legs, start, combine, arrive_by=None, arrival_open=None):
    """Fuel, discomfort and arrival of every sequence of speeds."""
    ways = []
    for speeds in product(*(range(leg.fuel_l.shape[1]) for leg in legs)):
        time, fuel, rough = start, 0.0, 0.0
        for leg, s in zip(legs, speeds, strict=True):
            at = time - leg.first
            if not leg.allowed[at, s] or np.isnan(leg.fuel_l[at, s]):
                break
            fuel += leg.fuel_l[at, s]
            here = leg.rough[at, s]
            rough = max(rough, here) if combine == "max" else rough + here
            time += int(leg.steps[at, s])
        else:
            fine = arrive_by is None or time <= arrive_by
            fine = fine and (arrival_open is None or arrival_open[time])
            if fine:
                ways.append((fuel, rough, time, speeds))
    return ways


def front_of(ways):
    pairs = {(fuel, rough) for fuel, rough, _, _ in ways}
    return sorted(
        (f, r)
        for f, r in pairs
        if not any(a <= f and b <= r and (a, b) != (f, r) for a, b in pairs)
    )


@pytest.mark.parametrize("combine", ["max", "sum"])
@pytest.mark.parametrize("seed", range(12))
def test_front_is_that_of_every_way(seed, combine):
    rng = np.random.default_rng(seed)
    legs = random_legs(rng, 5, 4, holes=0.1)
    open_ = rng.random(60) < 0.7
    for by, arrival in ((None, None), (16, None), (None, open_), (18, open_)):
        ways = every_way(legs, 3, combine, by, arrival)
        plans = best_plans(legs, 3, combine=combine, arrive_by=by, arrival_open=arrival)
        found = [(plan.fuel_l, plan.rough) for plan in plans]
        np.testing.assert_allclose(found, front_of(ways) or np.empty((0,)), rtol=1e-12)
        for plan in plans:
            # Each plan is one of the ways, with the very values it claims.
            mine = [w for w in ways if w[3] == plan.speeds]
            assert len(mine) == 1
            np.testing.assert_allclose((plan.fuel_l, plan.rough), mine[0][:2], rtol=1e-12)
            assert plan.arrival == mine[0][2]


@pytest.mark.parametrize("seed", range(6))
def test_least_fuel_under_every_budget(seed):
    rng = np.random.default_rng(100 + seed)
    legs = random_legs(rng, 4, 5)
    ways = every_way(legs, 0, "sum")
    plans = best_plans(legs, 0, combine="sum")
    for budget in np.arange(0.0, 40.0, 0.5):
        within = [fuel for fuel, rough, _, _ in ways if rough <= budget]
        best = least_fuel(plans, budget)
        assert (best is None) == (not within)
        if within:
            np.testing.assert_allclose(best.fuel_l, min(within), rtol=1e-12)


def test_a_later_start_can_be_the_cheaper_one():
    # The fast first leg meets bad weather on the second: least fuel needs the slow one.
    first = LegChoices(
        0, np.array([[1, 3]]), np.array([[5.0, 6.0]]), np.ones((1, 2)), np.ones((1, 2), bool)
    )
    second = LegChoices(
        1,
        np.ones((3, 1), int),
        np.array([[90.0], [50.0], [10.0]]),
        np.ones((3, 1)),
        np.ones((3, 1), bool),
    )
    assert best_plans([first, second], 0) == [SpeedPlan((1, 0), 4, 16.0, 1.0)]


def test_no_choice_gives_none_and_nan_is_ruled_out():
    leg = LegChoices(
        0, np.ones((1, 2), int), np.array([[np.nan, 5.0]]), np.array([[1.0, np.nan]]),
        np.ones((1, 2), bool),
    )  # fmt: skip
    assert best_plans([leg], 0) == []


def test_a_table_that_is_too_short_is_refused():
    leg = LegChoices(0, np.ones((1, 1), int), np.ones((1, 1)), np.ones((1, 1)),
                     np.ones((1, 1), bool))  # fmt: skip
    with pytest.raises(ValueError, match="does not reach"):
        best_plans([leg, leg], 0)
