"""The advice never costs more than a pure policy that keeps the limit, as she really is."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from passage.planning.heel.model import stability
from passage.planning.heel.moves import moved_by
from passage.planning.heel.options import compare_policies
from passage.planning.heel.search import best_within_limit, real_price_l
from passage.planning.heel.sequence import best_sequence


@pytest.fixture(scope="module")
def cases(load_helper):
    return load_helper("heel_cases")


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("gm", [False, True])
def test_no_policy_within_the_limit_is_cheaper_than_the_advice(cases, seed, gm):
    problem = cases.random_problem(seed, gm=gm)
    # A surface in every tank, so that opening a pair costs stiffness and the limit moves.
    tanks = tuple(replace(tank, free_surface_t_m=6.0) for tank in problem.tanks)
    limit = np.full(problem.n_legs, 0.8)
    comparison = compare_policies(replace(problem, tanks=tanks, limit_deg=limit))
    plan = comparison.plan
    for other in comparison.policies[:-1]:
        if other.within_limit or not plan.within_limit:
            theirs = other.total_l + other.over_limit_charge_l
            assert plan.total_l + plan.over_limit_charge_l <= theirs + 0.02, other.name


@pytest.mark.parametrize("seed", range(6))
def test_without_free_surface_it_is_the_plain_search(cases, seed):
    problem = cases.random_problem(seed)
    tanks = tuple(
        replace(tank, free_surface_t_m=0.0, stiffness_t_m_per_m3=0.0) for tank in problem.tanks
    )
    problem = replace(problem, tanks=tanks)
    assert_allclose(
        best_within_limit(problem).cost_l, best_sequence(problem).cost_l, rtol=2e-4, atol=0.02
    )


@pytest.mark.parametrize("seed", range(6))
def test_heel_reported_keeps_the_limit_wherever_anything_can(cases, seed):
    problem = cases.random_problem(seed)
    tanks = tuple(replace(tank, free_surface_t_m=6.0) for tank in problem.tanks)
    problem = replace(problem, tanks=tanks, limit_deg=np.full(problem.n_legs, 0.8))
    found = best_within_limit(problem)
    assert_allclose(found.cost_l, real_price_l(problem, found.moves), rtol=1e-12)
    assert found.floor_l <= found.cost_l
    stiffness = stability(problem, moved_by(problem, found.moves))[1]
    assert np.all(stiffness > 0)
