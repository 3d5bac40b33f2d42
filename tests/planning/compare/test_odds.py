"""Odds of a comparison: those of a plan, members counted by hand, what certainty costs."""

from dataclasses import replace

import numpy as np
import pytest

from passage.errors import PassageError
from passage.planning.compare.certainty import candidates, steps, surest
from passage.planning.compare.choice import ODDS
from passage.planning.compare.compare import CompareOptions, compare
from passage.planning.compare.files import CompareFiles, passage_of
from passage.planning.plan.plan import plan
from passage.report.text.compare import compare_csv, compare_table
from passage.report.text.compare_odds import certainty_words
from passage.report.text.verdict_compare import compare_verdict
from tests.planning.plan.test_chances import Ensemble
from tests.planning_scenario import UniformForecast, route, vessel, yacht

LEAVE_S = 1.78e9
HOUR_S = 3600.0
WAY = route((45.0, -8.0), (45.5, -8.0), (45.7, -7.6))


class Falling(UniformForecast):
    """A sea that goes down in time, so that waiting buys odds."""

    def __init__(self):
        super().__init__(2.6, 8.0, 290.0, wind=(4.0, -3.0), current=(0.2, 0.0))
        # No file names a run: its age counts from the first hour.
        self.time_from_s = LEAVE_S - 12 * HOUR_S

    def sample(self, lat_deg, lon_deg, time_s, member=0):
        sky = super().sample(lat_deg, lon_deg, time_s)
        factor = np.clip(1.0 - (np.asarray(time_s) - LEAVE_S) / (60.0 * HOUR_S), 0.2, 1.2)
        factor = np.broadcast_to(factor, sky.total_height_m.shape)
        return replace(
            sky,
            height_m=sky.height_m * factor[..., None],
            total_height_m=sky.total_height_m * factor,
        )


def options(**more):
    return CompareOptions(
        departures_s=tuple(LEAVE_S + 6 * HOUR_S * n for n in range(6)),
        speeds_kn=(12.0,),
        minutes=30.0,
        **more,
    )


@pytest.fixture(scope="module")
def her():
    return yacht()


@pytest.fixture(scope="module")
def drawn(her):
    made = compare(her, [WAY], Falling(), options(odds=60.0, draws=32))
    return replace(made, chosen=made.names["least fuel"])


def files():
    return CompareFiles((WAY,), vessel(), Falling())


def test_odds_and_spread_are_those_of_a_plan(her, drawn):
    assert 0.0 < drawn.odds.within.min() < drawn.odds.within.max()
    for index in (0, 4):
        ready, chosen = passage_of(drawn, index, her, files())
        totals = plan(ready, Falling(), chosen).totals
        assert drawn.odds.within[index] == totals["odds_within_limits_percent"]
        for at, percent in enumerate((10, 50, 90)):
            for name, values in (("fuel_l", drawn.odds.fuel_l), ("hours", drawn.odds.hours)):
                # Times are found to a second, so the sea met is that of the same minute.
                assert values[index, at] == pytest.approx(totals[f"{name}_p{percent}"], rel=1e-5)
        for name, percent in totals["odds_percent"].items():
            assert drawn.odds.by_limit[name][index] == percent


def test_members_are_counted_as_single_members_by_hand(her):
    heights = (0.9, 1.5, 2.2, 2.8)
    made = compare(her, [WAY], Ensemble(heights), options(draws=1))
    assert made.odds.what == "members"
    each = [
        compare(her, [WAY], UniformForecast(height, 8.0, 290.0, wind=(6.0, -3.0)), options())
        for height in heights
    ]
    kept = 100.0 * np.mean([one.open for one in each], axis=0)
    assert 0.0 < kept.mean() < 100.0
    assert made.odds.asked == pytest.approx(kept, rel=1e-6)
    fuel = np.array([one.totals["fuel_l"] for one in each])
    assert made.odds.fuel_l[:, 1] == pytest.approx(np.median(fuel, axis=0), rel=1e-9)


def test_equal_members_give_the_plan(her):
    made = compare(her, [WAY], Ensemble((1.2, 1.2, 1.2)), options(draws=1))
    assert set(made.odds.within) <= {0.0, 100.0}
    assert np.array_equal(made.odds.within == 100.0, made.open)
    for at in range(3):
        assert np.array_equal(made.odds.fuel_l[:, at], made.totals["fuel_l"])


def test_odds_rule_out_and_are_reported(drawn):
    low = drawn.odds.asked < 60.0 - 50.0 / 32.0  # to half a draw
    assert np.array_equal((drawn.closed & ODDS) > 0, low)
    assert low.any()
    assert not low.all()
    said = compare_verdict(drawn)
    assert "with odds of 60 % or more" in said.why
    assert "32 draws of the forecast's errors" in said.why
    assert "Least fuel by odds" in compare_table(drawn)
    assert "odds_asked_percent" in compare_csv(drawn).splitlines()[0]


def test_more_certainty_never_costs_less(drawn):
    made = steps(drawn, drawn.chosen or 0)
    fuel = [drawn.totals["fuel_l"][step.cheapest] for step in made if step.cheapest is not None]
    assert fuel == sorted(fuel)
    counts = [step.count for step in made]
    assert counts == sorted(counts, reverse=True)
    for step in made:
        reached = drawn.odds.asked >= step.percent - 50.0 / 32.0
        assert step.count == np.sum(candidates(drawn) & reached)
    assert drawn.odds.asked[surest(drawn)] == np.max(drawn.odds.asked[candidates(drawn)])


def test_waiting_is_the_price_of_certainty_where_the_sea_goes_down(drawn):
    first = int(np.flatnonzero(drawn.departure_s == LEAVE_S)[0])
    words = certainty_words(drawn, first)
    assert "h of waiting" in words
    assert f"instead of {drawn.odds.asked[first]:.0f} %" in words


def counted(drawn, counts):
    """The same comparison where the combinations keep the first so many of 32 draws."""
    kept = np.arange(32) < np.array(counts)[:, None]
    asked = 100.0 * kept.mean(axis=1)
    closed = np.zeros_like(drawn.closed)
    fuel = drawn.totals | {"fuel_l": 3000.0 + 100.0 * np.arange(len(counts))}
    return replace(
        drawn, odds=replace(drawn.odds, asked=asked, kept=kept), closed=closed, totals=fuel
    )


def test_a_difference_that_chance_explains_is_not_sold(drawn):
    # 4 draws more of 32 are within two standard errors of none, 9 are not.
    alike = counted(drawn, [20, 24, 24, 24, 24, 24])
    assert certainty_words(alike, 0) == (
        "No combination is surer than 62 % by more than chance explains."
    )
    apart = counted(drawn, [20, 29, 24, 24, 24, 24])
    assert "% instead of 62 % costs" in certainty_words(apart, 0)
    assert "With odds of 62 % it would take" in certainty_words(
        replace(apart, options=replace(apart.options, odds=75.0)), 1
    )


def test_odds_that_print_alike_are_given_as_counts(drawn):
    # 19 of 32 are 59.4 %, which is 60 % to half a draw.
    near = counted(drawn, [19, 20, 20, 20, 20, 20])
    assert near.odds.reach(60.0).all()
    assert not near.odds.reach(63.0)[0]
    words = certainty_words(near, 0)
    for one in range(10, 100):
        assert f"{one} % instead of {one} %" not in words


def test_a_late_draw_does_not_keep_what_is_asked(her):
    plain = compare(her, [WAY], Falling(), options())
    by = float(plain.totals["eta_s"][2]) + 30.0
    made = compare(her, [WAY], Falling(), options(odds=5.0, draws=32, arrive_by_s=by))
    # In the middle of the spread of arrivals: some draws are late, the limits are as before.
    assert made.odds.asked[2] < made.odds.within[2]
    on_time = made.odds.hours[2, 0] < (by - made.departure_s[2]) / HOUR_S < made.odds.hours[2, 2]
    assert on_time


def test_odds_without_draws_are_refused(her):
    with pytest.raises(PassageError, match="--draws"):
        compare(her, [WAY], Falling(), options(odds=80.0))
