"""A changed question is answered by a new search, and the value named is where the advice turns."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest
from heel_cases import problem, random_problem

from passage.planning.heel.asked import Asked, near_l
from passage.planning.heel.flip import _inputs, soonest_flip
from passage.planning.heel.moves import Move
from passage.planning.heel.options import compare_policies
from passage.planning.heel.search import best_within_limit
from passage.planning.heel.sensitivity import (
    change,
    same_moves,
    sensitivities,
    with_list,
    with_wind,
)


@pytest.mark.parametrize("seed", range(6))
def test_no_new_sequence_beats_the_answer_by_more_than_is_left_open(seed):
    p = random_problem(seed, 4)
    kept = best_within_limit(p).moves
    other = with_wind(p, 1.6)
    best = best_within_limit(other, seconds=10.0)
    quick = Asked(other).answer(kept)
    assert quick.best_l - quick.open_l <= near_l(best.cost_l)
    assert quick.floor_l <= best.cost_l + 1e-6
    searched = Asked(other).answer(kept, time.thread_time() + 10.0)
    assert searched.best_l <= near_l(best.cost_l)
    assert searched.open_l == 0.0


def test_a_sequence_of_two_is_found_where_the_advice_had_none():
    # Wind from either side in turn; in a third of it nothing is worth a transfer.
    wind = np.array([12.0, 12.0, -12.0, -12.0])
    p = problem(4, list_moment_t_m=0.0, wind_moment_t_m=wind, transfer_fixed_l=6.0)
    weak = with_wind(p, 0.1)
    assert best_within_limit(weak).moves == ()
    found = change("the wind as it may be", Asked(p), ())
    assert len(found.moves) == 2
    assert found.verdict == "other advice"


def test_the_threshold_is_where_the_advice_turns():
    p = problem(3, list_moment_t_m=6.0, transfer_fixed_l=9.0, comfort_l_per_deg=np.full(3, 30.0))
    comparison = compare_policies(p)
    moves = comparison.plan.moves
    assert moves
    flip = soonest_flip(comparison, sensitivities(p, moves))
    assert flip is not None
    assert "the list at departure is less than" in flip.words
    less = [Asked(with_list(p, -0.5 * by * flip.steps)).flips(moves) for by in (0.9, 1.0, 1.1)]
    assert less == [False, True, True]


def test_the_price_of_a_transfer_that_overturns_the_advice_is_that_of_the_ways_shown():
    # By hand: the fins hold 10 t m for 0.1 l per (t m)^2 and leg, 30 l over three legs.
    p = problem(3, limit_deg=np.full(3, 0.5), transfer_fixed_l=29.8)
    comparison = compare_policies(p)
    moves = comparison.plan.moves
    assert len(moves) == 1
    flip = soonest_flip(comparison, sensitivities(p, moves))
    assert flip is not None
    assert flip.words == "a transfer costs more than 30 l of crew time (30 l given)"
    assert flip.then == "fins hold all, 30 l"
    assert flip.lead == "Holds unless"


def test_another_departure_is_named_where_it_overturns_first():
    # So large a list, and transfers so cheap, that no usual doubt overturns them.
    p = problem(3, list_moment_t_m=15.0, transfer_fixed_l=0.2, comfort_l_per_deg=np.full(3, 30.0))
    comparison = compare_policies(p)
    moves = comparison.plan.moves
    later = replace(p, list_moment_t_m=-15.0)
    far = replace(change("leaving 6 h later", Asked(later), moves), name="departure")
    assert far.verdict == "other advice"
    flip = soonest_flip(comparison, [*sensitivities(p, moves), far])
    assert flip is not None
    assert flip.words == "she leaves 6 h later"


def test_moves_stay_before_their_legs_on_another_sailing():
    one = problem(4, leg=np.array([0, 0, 1, 1]), leg_names=("a", "b"))
    other = problem(5, leg=np.array([0, 0, 0, 1, 1]), leg_names=("a", "b"))
    moved = same_moves(one, other, (Move(2, 0, 1, 1.0), Move(1, 1, 0, 1.0)))
    assert [move.point for move in moved] == [3, 1]


def test_the_wind_that_overturns_the_advice_mirrors():
    """Wind as strong from both sides: the leg on which she leans most is named, either way."""
    wind = np.array([-8.0, 8.0 - 1e-9, 8.0])
    here = problem(3, wind_moment_t_m=wind, limit_deg=np.full(3, 1.2))
    there = replace(
        here,
        list_moment_t_m=-here.list_moment_t_m,
        wind_moment_t_m=-wind,
        tanks=tuple(replace(one, y_m=-one.y_m) for one in here.tanks),
    )
    named = []
    for one in (here, there):
        words = next(words for name, _, words in _inputs(one, np.full(3, 27.0)) if name == "wind")
        named.append(words(0.5))
    assert "from port on leg 2 " in named[0]
    assert named[1] == named[0].replace("port", "starboard")
