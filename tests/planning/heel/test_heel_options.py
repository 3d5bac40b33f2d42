"""Policies priced alike, rules checked move by move, and what would change the advice."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from heel_cases import problem, random_problem, tank
from numpy.testing import assert_allclose

from passage.planning.heel.alternatives import fin_alternatives, without_moves_before
from passage.planning.heel.leg_cost import LegCost
from passage.planning.heel.moves import Move, moved_by
from passage.planning.heel.options import (
    POLICIES,
    compare_policies,
    fins_by_rule,
    price,
)
from passage.planning.heel.rules import broken_rules
from passage.planning.heel.sailed import within_tanks
from passage.planning.heel.sensitivity import sensitivities, with_gm, with_list
from passage.planning.heel.single import useless_addition


def test_policies_are_priced_by_hand():
    p = problem(
        2,
        limit_deg=np.full(2, 0.5),
        comfort_l_per_deg=np.full(2, 3.0),
        fin_l_per_moment2=np.array([0.1, 0.2]),
    )
    found = compare_policies(p)
    # The best mixture is the single transfer, and is shown under that name, last.
    never, full, limit, best = found.policies
    assert tuple(one.name for one in found.policies) == POLICIES[:4]
    degree = np.degrees(1.0 / 560.0)
    assert_allclose(never.total_l, 2 * 3.0 * 10.0 * degree, rtol=1e-12)
    assert never.legs_over_limit == (1, 2)
    assert_allclose(full.fin_drag_l, [10.0, 20.0], rtol=1e-12)
    assert_allclose(full.heel_deg, 0.0, atol=1e-12)
    held = 10.0 - 560.0 * np.tan(np.radians(0.5))
    assert_allclose(limit.fin_drag_l, [0.1 * held**2, 0.2 * held**2], rtol=1e-9)
    assert_allclose(limit.heel_deg, 0.5, rtol=1e-6)
    assert best.within_limit
    assert_allclose(best.total_l, 5.0, atol=0.02)  # one transfer, nothing left to hold


@pytest.mark.parametrize("seed", range(5))
def test_the_mixture_is_never_dearer_than_a_pure_policy(seed):
    found = compare_policies(random_problem(seed, n=6, ballast=seed % 2 == 1))
    best = found.plan.weighed_l + found.plan.over_limit_charge_l
    # A simple use of the fins is advised where it costs half a litre or 1 % at most.
    near = max(0.5, 0.01 * best) + 0.02
    for one in found.policies:
        assert best <= one.weighed_l + one.over_limit_charge_l + near
        assert broken_rules(found.problem, one.moves) == []
        parts = one.fuel_l + one.crew_l.sum() + one.roll_worth_l.sum() + one.heel_worth_l.sum()
        assert_allclose(one.total_l, parts, rtol=1e-12)
    assert found.sequence.cost_l - 1e-6 <= best <= found.sequence.cost_l + near
    singles = [one for one in found.policies if one.name == "best single transfer"]
    assert all(len(one.moves) == 1 for one in singles)


@pytest.mark.parametrize("fixed_l", [0.1, 4.0, 1e3])
def test_no_transfer_is_shown_that_only_adds_itself_to_the_fins(fixed_l):
    # Fins so cheap that every cubic metre moved is money lost.
    p = problem(
        3,
        limit_deg=np.full(3, 0.5),
        fin_l_per_moment2=np.full(3, 1e-5),
        transfer_fixed_l=fixed_l,
        smallest_transfer_m3=0.5,
    )
    found = compare_policies(p)
    assert not found.plan.moves
    fins = next(one for one in found.policies if one.rule == "to the limit")
    for one in found.policies:
        spent = float((one.crew_l + one.pump_l).sum())
        assert not one.moves or fins.total_l + spent - one.total_l > 0.1 * fins.total_l
    # By hand: a litre of crew that spares the fins one of their hundred is no way of its own.
    parts = ("fin_drag_l", "fin_work_l", "ballast_l", "pump_l", "crew_l", "roll_worth_l")
    none = {name: np.zeros(3) for name in (*parts, "heel_worth_l")}
    whole = replace(fins, **none | {"heel_drag_l": np.array([100.0, 0.0, 0.0])})
    small = replace(
        whole,
        moves=(Move(0, 1, 0, 0.9),),
        heel_drag_l=np.array([99.0, 0.0, 0.0]),
        crew_l=np.array([5.0, 0.0, 0.0]),
    )
    words = useless_addition(small, whole)
    assert words == "the best transfer (0.9 m3) would cost 5 l and spare the fins only 1 l"
    large = replace(small, heel_drag_l=np.array([80.0, 0.0, 0.0]), crew_l=np.array([50.0, 0, 0]))
    assert useless_addition(large, whole) == ""
    assert useless_addition(replace(small, crew_l=np.zeros(3)), whole) == ""


def test_money_is_litres_at_the_fuel_price():
    p = replace(problem(2), fuel_price_per_l=1.1, currency="EUR")
    plan = compare_policies(p).plan
    assert plan.money is not None
    assert_allclose(plan.money, 1.1 * plan.total_l, rtol=1e-12)
    assert compare_policies(problem(2)).plan.money is None


def test_broken_rules_are_named():
    tanks = (
        tank("port", -2.5, capacity=6.0, content=5.0, free_surface_t_m=9.0),
        tank("starboard", 2.5, capacity=10.0, content=2.0, minimum_m3=1.0, free_surface_t_m=9.0),
    )
    p = problem(
        2,
        tanks,
        transfer_allowed=np.array([True, False]),
        transfer_hours=np.full(2, 0.1),
        rate_m3_per_h=30.0,
    )
    assert broken_rules(p, (Move(0, 1, 0, 0.9),)) == []
    words = " / ".join(broken_rules(p, (Move(0, 1, 0, 1.5), Move(1, 0, 1, 4.0))))
    assert "starboard lacks content for 1.5 m3 before leg 1" in words
    assert "port lacks room for 1.5 m3 before leg 1" in words
    assert "no transfer is allowed before leg 2" in words
    assert "the pump cannot move 4.0 m3 in the time before leg 2" in words
    full = replace(
        p,
        tanks=(replace(tanks[0], content_m3=6.0), tanks[1]),
        gm_minimum_m=0.99,
        transfer_allowed=np.ones(2, dtype=bool),
    )
    assert "GM on leg 1 would be 0.98 m, minimum 0.99 m" in broken_rules(
        full, (Move(0, 0, 1, 1.0),)
    )


def test_fins_by_rule_stay_within_their_range():
    p = problem(3, limit_deg=np.full(3, 0.3), fin_moment_max_t_m=np.array([0.0, 4.0, 30.0]))
    cost = LegCost.of(p)
    moment = np.array([-8.0, -8.0, -8.0])
    assert_allclose(fins_by_rule(cost, moment, "none"), 0.0, rtol=1e-7)
    assert_allclose(fins_by_rule(cost, moment, "all"), [0.0, -4.0, -8.0], rtol=1e-7)
    limit = 560.0 * np.tan(np.radians(0.3))
    assert_allclose(
        fins_by_rule(cost, moment, "to the limit"), [0.0, -4.0, -8.0 + limit], rtol=1e-7
    )


def test_next_best_on_a_leg_is_priced():
    p = problem(2, pairs=(), comfort_l_per_deg=np.full(2, 1.0), limit_deg=np.full(2, 2.0))
    found = compare_policies(p)
    plan = found.plan
    others = fin_alternatives(p, found.cost, plan, 0)
    assert others[0].what in {"leave it", "fins hold all they can"}
    assert all(one.extra_l >= -1e-9 for one in others)
    everything = price(p, found.cost, (), "all")
    named = {one.what: one for one in others}
    assert_allclose(
        named["fins hold all they can"].extra_l, everything.leg_l[0] - plan.leg_l[0], rtol=1e-9
    )


def test_leaving_a_transfer_out_is_priced():
    found = compare_policies(problem(3))
    without = without_moves_before(found, 0)
    assert without is not None
    bare = price(found.problem, found.cost, ())
    assert_allclose(without.extra_l, bare.total_l - found.plan.total_l, rtol=1e-9)
    assert without_moves_before(found, 1) is None


def test_another_list_and_another_gm():
    p = problem(2, list_moment_t_m=560.0 * float(np.tan(np.radians(1.0))))
    assert_allclose(with_list(p, 0.5).list_moment_t_m, 560.0 * np.tan(np.radians(1.5)), rtol=1e-12)
    stiffer = with_gm(p, 1.1)
    # The same list is seen, so its moment goes with GM.
    assert_allclose(stiffer.heel_deg(stiffer.moment_t_m), 1.0, rtol=1e-12)


def test_sensitivities_say_what_flips():
    p = problem(3, list_moment_t_m=6.0, transfer_fixed_l=5.0, comfort_l_per_deg=np.full(3, 30.0))
    moves = compare_policies(p).plan.moves
    assert moves
    found = {one.what: one for one in sensitivities(p, moves)}
    assert set(found) == {
        "list 0.5 deg more to starboard",
        "list 0.5 deg more to port",
        "GM 10 % larger",
        "GM 10 % smaller",
        "crew cost doubled",
        "crew cost halved",
        "crew time free",
        "fin drag 15 % larger",
        "fin drag 15 % smaller",
    }
    assert found["list 0.5 deg more to starboard"].verdict == "other amounts"
    assert found["crew cost halved"].verdict == "holds"
    for one in found.values():
        assert one.adjusted_l is not None
        assert one.best_l <= one.adjusted_l + 0.02
    # Regret is given where the plan's own moves could still be made.
    told = [one.regret_l for one in found.values() if one.regret_l is not None]
    assert told
    assert min(told) >= 0.0
    dear = replace(p, fuel_price_per_l=1.0)
    assert len(sensitivities(dear, moves)) == 11
    nearly_flipped = replace(p, transfer_fixed_l=9.0)
    still = compare_policies(nearly_flipped).plan.moves
    flipped = {one.what: one for one in sensitivities(nearly_flipped, still)}
    assert flipped["crew cost doubled"].verdict == "other advice"


def test_the_charge_for_heel_over_the_limit_is_in_no_litres_shown():
    # Nothing can be moved and fins hold half: every variation stays over the limit.
    p = problem(2, pairs=(), limit_deg=np.full(2, 0.1), fin_moment_max_t_m=np.full(2, 5.0))
    p = replace(p, list_moment_t_m=20.0, comfort_l_per_deg=np.zeros(2))
    for one in sensitivities(p, ()):
        assert one.best_charge_l > 100.0
        # Five litres and no more: 0.1 l per (t m)^2, 5 t m, two legs, and no price on heel.
        drag = {"fin drag 15 % larger": 1.15, "fin drag 15 % smaller": 0.85}.get(one.what, 1.0)
        assert_allclose(one.best_paid_l, drag * 2 * 0.1 * 5.0**2, rtol=1e-6)
        assert_allclose(one.kept_paid_l, one.best_paid_l, rtol=1e-6)
        assert not one.kept_leans_more


def test_amounts_are_cut_where_the_tanks_turn_out_fuller_or_emptier():
    p = problem(4)
    burnt = replace(p, burn_m3=np.tile([0.5, 0.0], (4, 1)))
    # 5 m3 in each: into port, 4 left after four hours and 10 at most, 6 fit; of port's 4.5
    # before the second point, 3 are burnt to the end, its minimum is 0.
    fits = (Move(0, 0, 1, 2.0), Move(2, 1, 0, 6.5))
    assert within_tanks(burnt, fits) == fits
    filled = within_tanks(burnt, (Move(2, 1, 0, 6.5),))
    assert_allclose([move.amount_m3 for move in filled], 5.0, atol=2e-3)  # starboard has no more
    big = replace(burnt, tanks=(burnt.tanks[0], replace(burnt.tanks[1], content_m3=9.0)))
    filled = within_tanks(big, (Move(2, 1, 0, 6.5),))
    assert_allclose([move.amount_m3 for move in filled], 6.0, atol=2e-3)
    emptied = within_tanks(burnt, (Move(1, 0, 1, 4.5),))
    assert_allclose([move.amount_m3 for move in emptied], 3.0, atol=2e-3)
    # What was to be passed on and never came is not passed on.
    chain = within_tanks(burnt, (Move(0, 0, 1, 4.5), Move(1, 1, 0, 9.5), Move(2, 0, 1, 8.0)))
    for point in range(4):
        level = burnt.content_start_m3[point] + moved_by(burnt, chain)[point]
        assert np.all((level <= 10.0 + 1e-6) & (level - burnt.burn_m3[point] >= -1e-6))
