"""The floor under every plan: below all of them, and reached when tanks never bind."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from heel_cases import bounds_of, problem, random_problem, tank
from numpy.testing import assert_allclose
from scipy.optimize import minimize_scalar

from passage.planning.heel.bound import shortest_path, worth_keeping
from passage.planning.heel.leg_cost import LegCost
from passage.planning.heel.sequence import best_sequence


@pytest.mark.parametrize("seed", range(4))
def test_floor_equals_every_cutting_tried_in_turn(seed):
    p = random_problem(seed, n=6)
    cost = LegCost.of(p)
    bounds, stages = bounds_of(p, -60.0, 60.0)
    value, stretches = shortest_path(bounds, p.transfer_fixed_l, stages.allowed)
    best = np.inf
    legs = [i for i in range(6) if p.transfer_allowed[i]]
    for count in range(len(legs) + 1):
        for cuts in itertools.combinations(legs, count):
            total = count * p.transfer_fixed_l
            edges = [*cuts, 6]
            first = edges[0] if edges else 6
            total += cost.best_split(p.moment_t_m).cost_l[:first].sum()
            for a, b in itertools.pairwise(edges):

                def stretch(x, a=a, b=b):
                    return cost.best_split(p.moment_t_m + x).cost_l[a:b].sum()

                found = minimize_scalar(
                    stretch, bounds=(-60, 60), options={"xatol": 1e-9}, method="bounded"
                )
                total += found.fun
            best = min(best, total)
    assert value <= best + 1e-6
    assert_allclose(value, best, rtol=2e-3)
    assert stretches[0][0] == 0
    assert stretches[-1][1] == stages.count


@pytest.mark.parametrize("seed", range(6))
def test_no_plan_is_below_the_floor(seed):
    p = random_problem(seed, n=5)
    bounds, stages = bounds_of(p, -90.0, 90.0)
    floor, _ = shortest_path(bounds, p.transfer_fixed_l, stages.allowed)
    found = best_sequence(p)
    assert floor <= found.cost_l + 1e-6


def test_floor_is_reached_when_tanks_never_bind():
    tanks = (
        tank("port", -2.5, capacity=80.0, content=40.0),
        tank("starboard", 2.5, capacity=80.0, content=40.0),
    )
    wind = np.array([8.0, 8.0, 8.0, -9.0, -9.0, -9.0])
    p = problem(6, tanks, wind_moment_t_m=wind, list_moment_t_m=0.0, transfer_fixed_l=4.0)
    bounds, stages = bounds_of(p, -169.0, 169.0)
    floor, _ = shortest_path(bounds, 4.0, stages.allowed)
    found = best_sequence(p)
    assert len(found.moves) == 2
    assert_allclose(found.cost_l, floor, rtol=1e-3, atol=0.02)


def test_stretches_thrown_away_are_in_no_better_plan():
    p = random_problem(5, n=5)
    bounds, stages = bounds_of(p, -60.0, 60.0)
    floor, stretches = shortest_path(bounds, p.transfer_fixed_l, stages.allowed)
    keep, calm = worth_keeping(bounds, p.transfer_fixed_l, stages.allowed, floor + 1e-6)
    for start, end, _ in stretches:
        assert keep[start, end] or (start == 0 and calm[end])
    none, never = worth_keeping(bounds, p.transfer_fixed_l, stages.allowed, floor - 1.0)
    assert not none.any()
    assert not never.any()
