"""The heel advice over draws: counted by hand, the chance limit, no doubt gives the plan."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from heel_cases import problem, tank

from passage.planning.heel.asked import near_l
from passage.planning.heel.chances import advised_way, few_known, weigh
from passage.planning.heel.choice import advised_last
from passage.planning.heel.leg_cost import LegCost
from passage.planning.heel.options import compare_policies, price
from passage.planning.heel.sensitivity import with_gm, with_list, with_wind


def versions(count):
    return SimpleNamespace(count=count, what="draws", words=lambda departure_s: "by hand")


@pytest.fixture(scope="module")
def asked():
    p = problem(
        3,
        limit_deg=np.full(3, 0.5),
        comfort_l_per_deg=np.full(3, 3.0),
        fin_l_per_moment2=np.array([0.1, 0.2, 0.1]),
    )
    return p, compare_policies(p, seconds=2.0)


def weighed(asked, drawn, percent=80.0, ways=None):
    p, found = asked
    return weigh(ways or found.policies[::-1], p, drawn, versions(len(drawn)), 0.0, percent)


def test_without_doubt_the_advice_is_the_best_everywhere(asked):
    p, found = asked
    made = weighed(asked, [p] * 4)
    assert not made.changed
    assert made.advice.priced is found.plan
    assert made.advice.best_percent == 100.0
    assert made.advice.behind_l == 0.0
    for one in made.ways:
        assert one.limit_percent == (100.0 if one.priced.within_limit else 0.0)
        assert one.expected_l == pytest.approx(one.priced.total_l, rel=1e-9)
        assert one.spread_l == pytest.approx((one.priced.total_l,) * 3, rel=1e-9)


def test_shares_and_means_are_those_counted_by_hand(asked):
    p, found = asked
    drawn = [p, with_list(p, 0.4), with_list(p, -0.8), with_gm(p, 0.9), with_wind(p, 2.0)]
    made = weighed(asked, drawn)
    priced = [
        [price(one, LegCost.of(one), way.moves, way.rule) for way in found.policies]
        for one in drawn
    ]
    ranked = np.array(
        [
            [w.weighed_l + (0.0 if w.within_limit else w.over_limit_charge_l) for w in row]
            for row in priced
        ]
    )
    near = np.array([near_l(float(least)) for least in ranked.min(axis=1)])
    for column, way in enumerate(found.policies):
        one = next(each for each in made.ways if each.priced is way)
        assert one.best_percent == pytest.approx(
            100.0 * np.mean(ranked[:, column] <= near), rel=1e-6
        )
        kept = [row[column].within_limit for row in priced]
        assert one.limit_percent == pytest.approx(100.0 * np.mean(kept), rel=1e-6)
        assert one.expected_l == pytest.approx(
            np.mean([row[column].total_l for row in priced]), rel=1e-6
        )


def test_the_chance_limit_goes_before_the_mean(asked):
    """A way that is cheap in the mean but leans too much is advised only if that is allowed."""
    p, _ = asked
    drawn = [with_list(p, more) for more in np.linspace(-1.5, 1.5, 9)]
    strict, lax = weighed(asked, drawn, 80.0), weighed(asked, drawn, 1.0)
    best = max(one.limit_percent for one in strict.ways)
    assert strict.advice.limit_percent >= min(80.0, best)
    within = [one for one in lax.ways if one.limit_percent >= 1.0]
    least = min(one.expected_l for one in within)
    assert lax.advice.expected_l <= near_l(least)
    assert lax.advice.expected_l <= strict.advice.expected_l + 1e-9


def test_another_way_is_advised_where_the_draws_say_so(asked):
    """The forecast alone would leave her as she is; all draws list her otherwise."""
    p, found = asked
    never = next(one for one in found.policies if not one.moves and one.rule == "none")
    full = next(one for one in found.policies if one.rule == "all")
    even = replace(never, over_limit_charge_l=0.0)
    made = weighed(asked, [with_list(p, 0.3), with_list(p, 0.6)], ways=[even, full])
    assert made.changed
    assert made.advice.priced is full
    assert made.by_forecast == never.name


def test_ways_that_the_draws_do_not_tell_apart_are_weighed_by_their_litres():
    """None keeps what was asked: a draw or two of 64 decide nothing, a dozen do."""
    kept = np.zeros((64, 3), dtype=bool)
    kept[:20, 0], kept[:48, 1], kept[1:47, 2] = True, True, True
    litres = np.array([40.0, 75.0, 55.0])

    def advised(percent):
        over_h = np.where(kept, 0.0, 4.0)
        return advised_way(kept, litres, percent, (over_h, 0.2 * over_h), 20.0)

    assert advised(80.0) == 2
    kept[47, 2] = True
    assert advised(80.0) == 2
    # Thirty-four instead of forty-eight of 64, all of them among the same draws.
    kept[35:, 2] = False
    assert advised(80.0) == 1
    assert advised(1.0) == 0


def test_where_no_way_keeps_the_limit_hours_go_before_heel_and_heel_before_litres():
    kept, litres = np.zeros((16, 3), dtype=bool), np.array([300.0, 40.0, 290.0])
    hours, heel = np.full((16, 3), [9.0, 22.0, 22.0]), np.full((16, 3), [30.0, 130.0, 50.0])
    assert advised_way(kept, litres, 80.0, (hours, heel), 22.0) == 0
    hours[:, 0] = 22.0
    assert advised_way(kept, litres, 80.0, (hours, heel), 22.0) == 0
    # Equal in both, by a clinometer: the cheaper.
    heel[:, 0] = 50.5
    assert advised_way(kept, litres, 80.0, (hours, heel), 22.0) == 2
    # Half an hour less in some draws and as much more in others is chance.
    heel[:] = 50.0
    hours[:, 1] += np.tile([0.6, -0.4], 8)
    assert advised_way(kept, litres, 80.0, (hours, heel), 22.0) == 1


@pytest.mark.parametrize("listed", [0.0, 3.0, 4.0, 5.0, 6.0])
def test_draws_without_doubt_advise_what_the_forecast_alone_does(listed):
    """However large the list: fins and tanks hold about three degrees of it."""
    tanks = (tank("port", -2.5, capacity=9.0, content=3.0), tank("starboard", 2.5, content=4.0))
    p = problem(3, tanks, ((1, 0),), limit_deg=np.full(3, 0.5), comfort_l_per_deg=np.zeros(3))
    p = with_list(p, listed)
    found = compare_policies(p, seconds=2.0)
    found = replace(found, policies=advised_last(found.policies))
    found = replace(found, plan=found.policies[-1])
    for count in (1, 24):
        made = weighed((p, found), [p] * count)
        assert not made.changed
        assert made.advice.priced is found.plan
    if not found.plan.within_limit:
        over = [(one.over_limit_h.sum(), one.over_limit_deg_h) for one in found.policies]
        assert over[-1] <= min(over)


def test_versions_that_are_missing_never_raise_the_odds(asked):
    p, found = asked
    drawn = [with_list(p, more) for more in np.linspace(-1.5, 1.5, 40)]
    ways = found.policies[::-1]
    whole = weighed(asked, drawn)
    # The calm half is left, and the other half is not known.
    fine = sorted(drawn, key=lambda one: abs(one.list_moment_t_m))[:25]
    short = weigh(ways, p, fine, versions(40), 0.0, 80.0)
    kept = {id(one.priced): one.limit_percent for one in whole.ways}
    assert any(share > 0.0 for share in kept.values())
    for one in short.ways:
        assert one.limit_percent <= kept[id(one.priced)]
        assert one.best_percent <= 62.5
    assert (short.draws, short.unknown) == (40, 15)


def test_nothing_known_gives_no_odds(asked):
    assert weighed(asked, []) is None


def test_few_of_the_versions_give_no_odds_and_all_of_few_members_do(asked):
    p, found = asked
    ways = found.policies[::-1]

    def weighed_of(known, count):
        return weigh(ways, p, [p] * known, versions(count), 0.0, 80.0)

    assert weighed_of(19, 64) is None
    assert weighed_of(20, 64).unknown == 44
    assert weighed_of(8, 8).unknown == 0
    assert weighed_of(7, 8) is None
    said = few_known(19, versions(64))
    assert said.severity == "caution"
    assert "covers 19 of 64 draws" in said.text
    assert "forecast as it is" in said.text
    # Of fewer members than the least number all are asked for.
    assert "fewer than 8 are too few" in few_known(7, versions(8)).text
