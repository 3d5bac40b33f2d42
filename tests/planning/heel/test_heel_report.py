"""The advice in words: right side, right number, and every caution where it is due."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from heel_cases import problem, tank

from passage.planning.heel.cards import GUESSED, NOT_ALLOWED, Card, not_allowed_words
from passage.planning.heel.cautions import heel_cautions, leg_list
from passage.planning.heel.headline import headline, known_words
from passage.planning.heel.model import SEA
from passage.planning.heel.moves import Move
from passage.planning.heel.options import compare_policies
from passage.planning.heel.reason import because
from passage.planning.heel.report import heel_plan
from passage.planning.heel.sensitivity import Change, sensitivities
from passage.planning.heel.words import (
    price_words,
    short_orders,
    side_words,
    sides_words,
    transfer_words,
)
from passage.report.text.heel import change_line


def _plan(p):
    return heel_plan(compare_policies(p))


def _codes(p):
    return {one.code: one for one in heel_cautions(compare_policies(p))}


def test_sides_and_lists_of_legs():
    assert side_words(0.84) == "0.8 deg to starboard"
    assert side_words(-1.26) == "1.3 deg to port"
    assert side_words(0.01) == "upright"
    assert leg_list((3,)) == "leg 3"
    assert leg_list((3, 4, 5)) == "legs 3 to 5"
    assert leg_list((1, 4)) == "legs 1, 4"
    assert leg_list((1, 4, 5, 6, 8, 9)) == "legs 1, 4 to 6, 8, 9"


def test_both_sides_of_the_heel_left_are_named_where_both_are_felt():
    assert sides_words([0.2, -1.0, 0.84]) == "1.0 deg to port and 0.8 deg to starboard"
    assert sides_words([1.2, -0.3]) == "1.2 deg to starboard"
    p = problem(4, list_moment_t_m=0.0, wind_moment_t_m=np.array([9.0, 9.0, -7.0, -7.0]), tanks=())
    found = compare_policies(p)
    leave = replace(found, plan=next(one for one in found.policies if one.rule == "none"))
    assert "leans up to 0.9 deg to starboard (leg 1) and 0.7 deg to port (leg 3)" in headline(
        leave, None
    )
    held = compare_policies(replace(p, limit_deg=np.full(4, 0.6)))
    limit = next(one for one in held.policies if one.rule == "to the limit")
    text = headline(replace(held, plan=limit), None)
    assert (
        "up to 0.6 deg to starboard (4 h, legs 1, 2) and 0.6 deg to port (4 h, legs 3, 4)" in text
    )


def test_prices_in_litres_and_money():
    p = problem(1)
    assert price_words(p, 3.14159) == "3.1 l"
    money = replace(p, fuel_price_per_l=2.0, currency="EUR")
    assert price_words(money, 31.4) == "31 l (63 EUR)"
    assert price_words(replace(money, currency=""), 31.4) == "31 l (63)"


def test_a_transfer_is_ordered_and_explained():
    plan = _plan(problem(3, rate_m3_per_h=12.0, limit_deg=np.full(3, 1.0)))
    first = plan.legs[0]
    assert first.action.startswith("move 2.4 m3 (2.0 t) from starboard to port, 12 min at the pump")
    assert "once moved it serves the later legs too" in first.why
    assert first.next_best.startswith("no transfer here, fins hold it: ")
    assert first.next_best_extra_l is not None
    assert first.next_best_extra_l > 0.0
    assert headline(plan.comparison, None).startswith(
        "Move 2.4 m3 from starboard to port before leg 1; let the fins "
    )
    assert any("proven" in line for line in plan.summary)
    words = {one.code for one in plan.cautions}
    assert "gm_not_checked" in words


def test_the_first_line_says_why():
    # A transfer lasts: it goes before fins that pay for as long as she sails.
    long = compare_policies(problem(3, limit_deg=np.full(3, 0.5)))
    assert long.plan.moves
    fins = next(one for one in long.policies if one.name == "fins to limit")
    cards = [Card(way="fins", action="hold", priced=fins)]
    why = because(long, cards)
    assert why == f"because the fins alone would cost {price_words(long.problem, fins.total_l)}"
    # Without a limit leaving it is a rival like the others: the nearest is named.
    costs = {"leave_l_per_deg2": np.full(3, 20.0), "comfort_l_per_deg": np.zeros(3)}
    free = compare_policies(problem(3, fin_l_per_moment2=np.full(3, 1.0), **costs))
    assert free.plan.moves
    by_rule = {one.rule: one for one in free.policies if not one.moves}
    rivals = [
        Card(way="fins", action="hold", priced=by_rule["all"]),
        Card(way="leave it", action="nothing", priced=by_rule["none"]),
    ]
    near = min(rivals, key=lambda card: card.priced.total_l)
    what = {"fins": "the fins alone", "leave it": "leaving it"}[near.way]
    assert because(free, rivals) == (
        f"because {what} would cost {price_words(free.problem, near.priced.total_l)}"
    )
    assert near.way == "leave it"
    text = headline(long, None, why=why)
    assert text.index("Move") < text.index(why) < text.index("; she is then upright")
    # Crew so costly that the fins hold it: the price of moving instead, and what of it is crew.
    dear = compare_policies(
        problem(3, limit_deg=np.full(3, 0.5), transfer_fixed_l=1e4, over_limit_l_per_deg=1e6)
    )
    assert not dear.plan.moves
    moving = next(one for one in dear.policies if one.moves)
    why = because(dear, [Card(way="move liquid", action="move", priced=moving)])
    assert why.startswith(f"because moving {moving.moves[0].amount_m3:.1f} m3 of liquid would cost")
    assert why.endswith("10,000 l of it crew time")
    # Within the limit: leaving it, and what the cheapest correction would cost.
    easy = compare_policies(problem(3))
    leave = replace(easy, plan=next(one for one in easy.policies if one.rule == "none"))
    fins = next(one for one in easy.policies if one.rule == "all")
    why = because(leave, [Card(way="fins", action="hold", priced=fins)])
    cost = price_words(easy.problem, fins.total_l)
    assert why == f"because holding it with the fins would cost {cost}"
    assert f", {why}" in headline(leave, None, why=why)
    none = [Card(way="move liquid", action="", why_not=NOT_ALLOWED)]
    assert because(dear, none) == f"because {NOT_ALLOWED}"
    # Where time is the price the crew's part is named once, not of itself.
    held = replace(moving, lost_h=0.1, lost_nm=1.2)
    why = because(dear, [Card(way="move liquid", action="move", priced=held)], hold="fuel")
    assert why.count("of crew time") == 1
    assert "of it crew time" not in why


def test_fins_that_must_not_be_offset_say_so_in_trade_words():
    assert "no transfer is allowed on any leg" in NOT_ALLOWED
    assert "too little time for the pump" in NOT_ALLOWED
    assert GUESSED.startswith("liquid is not moved while her stability is an estimate")
    assert " open" not in NOT_ALLOWED


def test_leg_numbers_add_up():
    plan = _plan(problem(3, wind_moment_t_m=np.array([1.0, -2.0, 4.0])))
    for i, leg in enumerate(plan.legs):
        total = (
            leg.moment_list_t_m
            + leg.moment_burn_t_m
            + leg.moment_wind_t_m
            + leg.moment_events_t_m
            + leg.moment_tanks_t_m
        )
        assert abs(total - plan.plan.moment_t_m[i]) < 1e-9
        heel = np.degrees(np.arctan((total - leg.fins_t_m) / 560.0))
        assert abs(heel - leg.heel_left_deg) < 1e-9
    assert abs(sum(leg.cost_l for leg in plan.legs) - plan.plan.total_l) < 1e-9


def test_leave_and_fins_and_their_angle():
    p = problem(
        2,
        pairs=(),
        list_moment_t_m=9.77,  # one degree
        limit_deg=np.array([2.0, 0.5]),
        comfort_l_per_deg=np.zeros(2),
        fin_angle_per_moment_deg=np.full(2, 0.8),
    )
    leave, fins = _plan(p).legs
    assert leave.action == "leave it, up to 1.0 deg to starboard"
    assert "within the owner's 2.0 deg" in leave.why
    assert "fins hold up to 4.9 t m (3.9 deg of fin) for 2.0 h, at most 0.5 deg" in fins.action
    assert fins.fin_offset_deg is not None
    # Costlier than what was chosen, and reported as such.
    assert fins.next_best.startswith("fins hold all they can: ")
    assert fins.next_best.endswith(" l more")
    assert fins.next_best_extra_l > 0.0


def test_ballast_words():
    tanks = (tank("ballast port", -3.0, holds="ballast", content=0.0, density=1.025),)
    p = problem(4, tanks, ((SEA, 0), (0, SEA)), rate_m3_per_h=20.0)
    plan = _plan(p)
    assert plan.legs[0].transfers[0].source == "the sea"
    assert transfer_words(plan.legs[0].transfers[0]).startswith("take 3.3 m3 (3.3 t) of ballast")


def test_fins_that_cannot_hold_it_say_by_how_much():
    p = problem(2, pairs=(), limit_deg=np.full(2, 0.5), fin_moment_max_t_m=np.array([2.0, 0.0]))
    found = _codes(p)
    # (10 - 2) t m on 560 t m is 0.82 deg, 0.3 over the limit.
    assert "0.3 deg short of the owner's 0.5 deg" in found["fins_cannot_hold"].text
    assert found["fins_cannot_hold"].legs == (1,)
    assert found["no_offset_here"].legs == (2,)
    assert found["heel_over_limit"].severity == "warning"
    assert found["heel_over_limit"].legs == (1, 2)
    assert "leave it: nothing available would help" not in " ".join(_plan(p).summary)


def test_wind_that_reverses_is_warned_of():
    wind = np.array([8.0, 8.0, 8.0, 8.0, -9.0])
    p = problem(
        5,
        list_moment_t_m=2.0,
        wind_moment_t_m=wind,
        transfer_allowed=np.array([True, False, False, False, False]),
    )
    found = _codes(p)
    assert found["wind_heel_reverses"].legs == (5,)
    assert "to port" in found["wind_heel_reverses"].text
    steady = problem(5, list_moment_t_m=10.0)
    assert "wind_heel_reverses" not in _codes(steady)


def test_tank_bounds_and_gm_margin():
    tanks = (
        tank("port", -2.5, capacity=6.0, content=5.0, free_surface_t_m=20.0),
        tank("starboard", 2.5, content=5.0),
        tank("wing", -3.0, content=0.0, free_surface_t_m=30.0),
    )
    p = problem(3, tanks, ((1, 0),), gm_minimum_m=0.95)
    found = _codes(p)
    assert "port is then full and lacks room for more" in found["tank_bounds"].text
    assert "fluid GM on leg 1 is" in found["gm_margin"].text
    into_wing = problem(3, tanks, ((1, 2),), gm_minimum_m=0.5)
    assert "lower fluid GM by up to 0.05 m" in _codes(into_wing)["free_surface"].text


def test_long_pumping_and_notes():
    p = problem(
        3,
        rate_m3_per_h=1.5,
        transfer_allowed=np.array([False, True, True]),
        notes=("height of a fuel tank not given",),
    )
    found = _codes(p)
    assert "min of the 2.0 h of leg 2" in found["long_pumping"].text
    assert found["assumed"].text == "height of a fuel tank not given."


def test_unproven_plans_say_so():
    comparison = compare_policies(problem(3))
    short = replace(comparison, sequence=replace(comparison.sequence, proven=False, floor_l=1.0))
    for timed_out, words in ((True, "ran out of time"), (False, "ended without a proof")):
        late = replace(short, sequence=replace(short.sequence, timed_out=timed_out))
        text = {o.code: o for o in heel_cautions(late)}["not_proven"].text
        assert f"{words}: a better sequence could save up to 4 l" in text
    assert not any("proven" in line for line in heel_plan(short).summary)


def test_what_would_change_the_advice_is_reported():
    p = problem(3)
    comparison = compare_policies(p)
    plan = heel_plan(comparison, sensitivities(p, comparison.plan.moves))
    assert any(line.startswith("The same transfers with other amounts") for line in plan.summary)


def test_upright_boat_needs_nothing():
    plan = _plan(problem(2, list_moment_t_m=0.0))
    assert plan.legs[0].action == "no offset on the fins; she is upright"
    assert plan.legs[0].next_best == ""
    assert "gm_not_checked" not in {one.code for one in plan.cautions}


def test_many_transfers_are_counted_in_a_sentence():
    p = problem(3)
    moves = [Move(0, 1, 0, 1.0), Move(1, 0, 1, 0.5), Move(2, 0, 1, 0.4)]
    assert short_orders(p, moves) == (
        "move 1.0 m3 from starboard to port before leg 1, 0.5 m3 back before leg 2 and "
        "move 0.4 m3 from port to starboard before leg 3"
    )
    assert short_orders(p, moves[:1]) == "move 1.0 m3 from starboard to port before leg 1"
    assert short_orders(p, [*moves, Move(2, 0, 1, 0.5)]) == (
        "make 4 transfers, 2.4 m3 in all, before legs 1, 2, 3"
    )
    sea = [Move(0, SEA, 0, 2.0), Move(1, 0, SEA, 1.0)]
    assert short_orders(p, sea) == (
        "take 2.0 m3 of ballast into port before leg 1 and discharge 1.0 m3 from port before leg 2"
    )
    assert short_orders(p, []) == ""


def test_at_held_fuel_only_what_is_not_time_is_paid():
    best = compare_policies(problem(3, limit_deg=np.full(3, 0.5))).plan
    sailed = replace(best, lost_h=0.5, lost_nm=6.0, fin_drag_l=np.full(3, 9.0))
    assert sailed.paid_l("water") == sailed.total_l
    assert sailed.total_l - sailed.paid_l("fuel") >= 27.0
    assert sailed.paid_l("fuel") == sailed.crew_l.sum() + sailed.pump_l.sum()
    assert best.paid_l("fuel") == best.total_l


def test_the_charge_for_heel_over_the_limit_is_no_litres_to_save():
    moves = (Move(0, 1, 0, 2.0),)
    open_ = {"what": "no wind", "moves": moves, "kept_l": None, "adjusted_l": None, "open_l": 20.0}
    paid = change_line(Change(best_l=30.0, **open_))
    assert "(not searched to the end: up to 20 l less is possible)" in paid
    charged = change_line(Change(best_l=600030.0, best_charge_l=600000.0, **open_))
    assert "(not searched to the end: others may leave less heel over the limit)" in charged


def test_a_transfer_is_ruled_out_for_its_own_reason_only():
    p = problem(3)
    rough = replace(p, transfer_allowed=np.zeros(3, dtype=bool))
    assert not_allowed_words(rough, {1, 2, 3}).endswith("leg: the master or the route forbids it")
    assert not_allowed_words(rough, ()).endswith("leg: too much roll")
    some = not_allowed_words(rough, {2})
    assert some.endswith("the master or the route forbids some, and the others have too much roll")
    assert "roll" not in not_allowed_words(p, ())
    assert "tanks too full or too empty" in not_allowed_words(p, ())


def test_an_upright_yacht_left_alone_stays_upright():
    even = compare_policies(problem(2, list_moment_t_m=0.0, limit_deg=np.full(2, 1.0)))
    assert headline(even, None).startswith("Leave it: she stays upright, for 0.0 l")
    assert "As far as the forecast reaches: leave it" in headline(
        even, None, known="as far as the forecast reaches"
    )


def test_what_an_advice_leaves_out_is_named_by_its_points():
    leg, none, some = np.array([0, 1, 1]), np.zeros(3, bool), np.array([False, True, True])
    assert known_words(leg, none, none) == ""
    assert known_words(leg, some, none) == "as far as the forecast reaches"
    assert known_words(leg, none, some) == "without wind heel where no wind is known (leg 2)"
    assert known_words(leg, none, ~none) == "without wind heel, for the forecast has no wind"
