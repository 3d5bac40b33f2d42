"""The best sequence of transfers against enumeration, identities and its own rules."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from heel_cases import brute_force, cheaper, problem, random_problem, tank
from numpy.testing import assert_allclose

from passage.planning.heel.leg_cost import LegCost
from passage.planning.heel.model import SEA, stability
from passage.planning.heel.moves import Move, price_sequence
from passage.planning.heel.rules import broken_rules
from passage.planning.heel.sequence import best_amounts, best_sequence

# The planner proves its cost to 0.01 l or 1e-4 of it; the brute force takes leg costs
# from tables of a thousand fin moments (error below 1e-3 l on these legs).
PROOF_L = 0.02


def _check_against_enumeration(p, most):
    cost = LegCost.of(p)
    found = best_sequence(p)
    assert found.proven
    assert len(found.moves) <= most
    assert broken_rules(p, found.moves) == []
    truth, pattern = brute_force(p, cost.limit_t_m, most)
    assert_allclose(found.cost_l, truth, rtol=3e-4, atol=PROOF_L)
    assert found.floor_l <= truth + PROOF_L
    return found, pattern


@pytest.mark.parametrize("seed", range(6))
def test_four_legs_three_tanks_equal_enumeration_of_every_plan(seed):
    # Transfers so costly that three cannot pay, so that up to two is everything.
    p = random_problem(seed)
    p = replace(p, transfer_fixed_l=12.0)
    found = best_sequence(p)
    assert found.cost_l < 3 * p.transfer_fixed_l or len(found.moves) <= 2
    _check_against_enumeration(p, 2)


@pytest.mark.parametrize("seed", range(3))
def test_ballast_from_the_sea_equals_enumeration(seed):
    p = replace(random_problem(seed, ballast=True), transfer_fixed_l=9.0)
    _check_against_enumeration(p, 2)


@pytest.mark.parametrize("seed", range(3))
def test_gm_with_free_surfaces_equals_enumeration(seed):
    # One full and one empty tank: making both slack would take 18 t m of 560, so that
    # GM 0.968 m would be left against a minimum of 0.962 m; three slack are too many.
    p = replace(random_problem(seed, gm=True), transfer_fixed_l=9.0)
    _check_against_enumeration(p, 2)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(4))
def test_three_transfers_equal_enumeration(seed):
    p = random_problem(seed + 20, n=3, ballast=True)
    p = replace(p, transfer_fixed_l=3.0)
    _check_against_enumeration(p, 3)


def test_free_transfer_puts_the_drag_weighted_mean_moment_into_the_tanks():
    # Identity: least sum a_i (M_i + X)^2 is at X = -sum(a_i M_i) / sum(a_i), and the
    # fins hold M_i + X.
    rng = np.random.default_rng(3)
    n = 8
    a = rng.uniform(0.01, 0.2, n)
    p = problem(
        n,
        (
            tank("port", -2.5, capacity=40.0, content=20.0),
            tank("starboard", 2.5, capacity=40.0, content=20.0),
        ),
        list_moment_t_m=9.0,
        wind_moment_t_m=rng.normal(0.0, 5.0, n),
        fin_l_per_moment2=a,
        fin_moment_max_t_m=np.full(n, 80.0),
        limit_deg=np.zeros(n),
        transfer_allowed=np.arange(n) == 0,
        transfer_fixed_l=0.0,
    )
    found = best_sequence(p)
    moved = found.moved_m3[0] @ p.tank_moment_per_m3
    mean = (a * p.moment_t_m).sum() / a.sum()
    remainder = p.moment_t_m - mean
    least = (a * remainder**2).sum()
    assert_allclose(found.cost_l, least, rtol=1e-4, atol=0.01)
    # A cost within e of the least pins X within sqrt(e / sum(a)).
    assert_allclose(moved, -mean, atol=np.sqrt(0.02 / a.sum()))
    _, split = price_sequence(p, LegCost.of(p), found.moves)
    assert_allclose(split.fins_t_m, p.moment_t_m + moved, atol=1e-9)


@pytest.mark.parametrize("seed", range(4))
def test_higher_crew_cost_never_gives_more_transfers(seed):
    p = random_problem(seed + 40, n=8)
    counts, costs = [], []
    for factor in (0.2, 0.5, 1.0, 2.0, 5.0):
        found = best_sequence(cheaper(p, factor))
        assert found.proven
        counts.append(len(found.moves))
        costs.append(found.cost_l)
    # Plans within the proof of each other may tie, so a plan with more transfers must
    # at least not be cheaper by more than that; with these seeds none ties.
    assert counts == sorted(counts, reverse=True)
    assert all(later >= earlier - PROOF_L for earlier, later in itertools.pairwise(costs))


def test_ties_break_towards_fewer_transfers():
    # Two tanks to starboard that are as good as each other, transfers free: one will do.
    tanks = (tank("port", -2.5, capacity=20.0), tank("one", 2.5), tank("two", 2.5))
    p = problem(4, tanks, ((1, 0), (2, 0), (0, 1), (0, 2)), transfer_fixed_l=0.0)
    found = best_sequence(p)
    assert len(found.moves) == 1
    assert_allclose(found.moves[0].amount_m3, 10.0 / (0.845 * 5.0), atol=0.05)


def test_nothing_is_moved_when_she_is_upright():
    found = best_sequence(problem(5, list_moment_t_m=0.0))
    assert found.moves == ()
    assert found.proven
    assert found.cost_l == 0.0


def test_no_transfers_where_forbidden_and_none_without_pairs():
    allowed = np.array([False, False, True, False])
    found = best_sequence(problem(4, transfer_allowed=allowed))
    assert {move.point for move in found.moves} == {2}
    assert best_sequence(problem(4, transfer_allowed=np.zeros(4, dtype=bool))).moves == ()
    alone = best_sequence(problem(4, pairs=()))
    assert alone.moves == ()
    assert alone.proven


def test_pump_has_only_the_time_there_is():
    slow = problem(3, rate_m3_per_h=1.0, transfer_hours=np.array([0.5, 0.5, 0.5]))
    found = best_sequence(slow)
    assert found.moves
    for leg in range(3):
        assert sum(m.amount_m3 for m in found.moves if m.point == leg) <= 0.5 + 1e-6


def test_fins_are_never_offset_where_they_must_not_be():
    at_rest = problem(3, fin_moment_max_t_m=np.array([30.0, 0.0, 30.0]), pairs=())
    found = best_sequence(at_rest)
    _, split = price_sequence(at_rest, LegCost.of(at_rest), found.moves)
    assert split.fins_t_m[1] == 0.0
    assert abs(split.fins_t_m[0]) > 0.0


@pytest.mark.parametrize("minimum", [0.90, 0.97, 0.985])
def test_gm_is_never_brought_under_its_minimum(minimum):
    surface = {"free_surface_t_m": 6.0, "capacity": 10.0}
    tanks = (
        tank("port", -2.5, content=9.9, **surface),
        tank("starboard", 2.5, content=9.9, **surface),
        tank("port wing", -3.0, content=0.0, **surface),
    )
    p = problem(4, tanks, gm_minimum_m=minimum)
    found = best_sequence(p)
    gm = stability(p, found.moved_m3)[2]
    assert gm.min() >= minimum - 1e-9
    # 6 t m of 560 a tank is 0.0107 m of GM, and two tanks are slack while the pump runs,
    # even if one ends empty and the other full: 0.979 m passes 0.97, not 0.985.
    assert bool(found.moves) == (minimum < 0.98)


def test_ballast_is_not_taken_where_its_weight_costs_more_than_the_fins():
    tanks = (tank("ballast port", -3.0, holds="ballast", content=0.0, density=1.025),)
    pairs = ((SEA, 0), (0, SEA))
    cheap = problem(6, tanks, pairs, carry_l_per_t=np.full(6, 0.01))
    dear = problem(6, tanks, pairs, carry_l_per_t=np.full(6, 20.0))
    assert len(best_sequence(cheap).moves) == 1
    assert best_sequence(dear).moves == ()


def test_smallest_transfer_is_kept():
    free = problem(3, list_moment_t_m=1.0, smallest_transfer_m3=0.0, transfer_fixed_l=0.01)
    # Left to itself it would move less than the smallest amount.
    assert 0.0 < max(m.amount_m3 for m in best_sequence(free).moves) < 0.8
    moves = best_sequence(replace(free, smallest_transfer_m3=0.8)).moves
    assert moves
    assert min(m.amount_m3 for m in moves) >= 0.8 - 1e-6


def test_where_the_burn_breaks_a_minimum_moves_do_not_make_it_worse():
    # The burn plan alone runs a tank under its minimum; moves must not make it worse,
    # but the passage can still be planned.
    burn = np.zeros((3, 2))
    burn[:, 0] = 1.9
    tanks = (tank("port", -2.5, minimum_m3=1.0), tank("starboard", 2.5))
    found = best_sequence(problem(3, tanks, burn_m3=burn))
    assert found.proven
    low = 5.0 - burn[:, 0].cumsum() + found.moved_m3[:, 0]
    assert low[-1] >= min(1.0, 5.0 - burn[:, 0].sum()) - 1e-6


def test_gm_short_from_the_start_is_not_made_worse():
    tanks = (
        tank("port", -2.5, content=10.0, free_surface_t_m=9.0),
        tank("starboard", 2.5, content=10.0, free_surface_t_m=9.0),
        tank("wing", -3.0, content=0.0, free_surface_t_m=9.0),
    )
    p = problem(3, tanks, gm_minimum_m=1.05)
    assert best_sequence(p).moves == ()


def test_amounts_alone_can_be_made_to_suit():
    p = problem(4)
    wrong = (Move(0, 1, 0, 0.5),)
    right = best_amounts(p, wrong)
    assert right is not None
    assert_allclose(right[0].amount_m3, 10.0 / (0.845 * 5.0), atol=0.02)
    assert best_amounts(p, (Move(0, 0, SEA, 1.0),)) is None


@pytest.mark.parametrize("seed", range(3))
def test_sixty_legs_eight_tanks_are_proven(seed):
    # Size of the largest passages asked for; the shape is that of a season's crossing
    # with wind that swings over days.
    rng = np.random.default_rng(seed)
    n = 60
    tanks = (
        tank("fuel 1 port", -2.8, capacity=18.0, content=13.0, minimum_m3=1.5),
        tank("fuel 1 starboard", 2.8, capacity=18.0, content=15.0, minimum_m3=1.5),
        tank("fuel 2 port", -2.0, capacity=9.0, content=5.0),
        tank("fuel 2 starboard", 2.0, capacity=9.0, content=5.0),
        tank("water port", -2.2, holds="fresh water", capacity=8.0, content=4.0, density=1.0),
        tank("water starboard", 2.2, holds="fresh water", capacity=8.0, content=5.0, density=1.0),
        tank("ballast port", -3.0, holds="ballast", capacity=6.0, content=0.0, density=1.025),
        tank("ballast starboard", 3.0, holds="ballast", capacity=6.0, content=0.0, density=1.025),
    )
    pairs = (
        *((0, 1), (1, 0), (0, 3), (3, 0), (1, 2), (2, 1), (2, 3), (3, 2), (4, 5), (5, 4)),
        *((6, 7), (7, 6), (SEA, 6), (6, SEA), (SEA, 7), (7, SEA)),
    )
    wind = np.zeros(n)
    for i in range(1, n):
        wind[i] = 0.9 * wind[i - 1] + rng.normal(0.0, 2.2)
    hours = rng.uniform(1.0, 3.0, n)
    burn = np.zeros((n, 8))
    burn[:, 0], burn[:, 1] = 0.08 * hours, 0.09 * hours
    p = problem(
        n,
        tanks,
        pairs,
        hours=hours,
        list_moment_t_m=14.0,
        wind_moment_t_m=wind,
        limit_deg=np.full(n, 1.0),
        fin_l_per_moment2=0.043 * hours,
        fin_moment_max_t_m=np.full(n, 15.0),
        leave_l_per_deg2=0.1 * hours,
        comfort_l_per_deg=np.zeros(n),
        transfer_allowed=rng.random(n) > 0.3,
        transfer_hours=hours,
        burn_m3=burn,
        transfer_fixed_l=17.0,
        rate_m3_per_h=12.0,
        carry_l_per_t=0.24 * hours,
    )
    found = best_sequence(p, seconds=60.0)
    assert found.proven
    assert found.floor_l <= found.cost_l
    assert broken_rules(p, found.moves) == []
