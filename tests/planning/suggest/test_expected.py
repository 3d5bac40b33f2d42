"""Finalists over the draws: those of a plan, members by hand, the least mean is taken."""

from dataclasses import replace

import numpy as np
import pytest

from passage.planning.odds.versions import versions_of
from passage.planning.plan.plan import PlanOptions, plan, prepare
from passage.planning.suggest.best import _least_expected
from passage.planning.suggest.expected import DEARER, MOST, Expected, expected_of
from passage.planning.suggest.judge import Judged
from passage.planning.suggest.search import Found, SearchOptions
from passage.planning.suggest.smooth import most_apart_nm
from tests.planning.plan.test_chances import Ensemble
from tests.planning_scenario import UniformForecast, route, vessel, yacht

LEAVE_S = 1.78e9
WAY = route((45.0, -8.0), (45.5, -8.0), (45.7, -7.6))


@pytest.fixture(scope="module")
def her():
    return yacht()


def sea(height_m=1.8):
    return UniformForecast(height_m, 8.0, 290.0, wind=(4.0, -3.0))


def judged(fuel_l=1000.0, faults=(), over=()):
    return Judged(WAY, LEAVE_S, 5.0, fuel_l, 20.0, 4.0, faults, over)


def expected(her, forecast, found, draws=16, **more):
    options = SearchOptions(departure_s=LEAVE_S, speed_kn=12.0, draws=draws, **more)
    versions = versions_of(forecast, LEAVE_S, draws)
    return expected_of(her, found, forecast, options, versions, 30.0)


def planned(forecast, draws=0):
    options = PlanOptions(departure_s=LEAVE_S, speed_kn=12.0, minutes=30.0, draws=draws)
    return plan(prepare(vessel(), WAY, options), forecast, options).totals


def test_spread_and_odds_are_those_of_a_plan(her):
    one = expected(her, sea(), {"a": judged()})["a"]
    totals = planned(sea(), 16)
    assert one.odds == totals["odds_within_limits_percent"]
    assert one.low == pytest.approx(totals["fuel_l_p10"], rel=1e-5)
    assert one.high == pytest.approx(totals["fuel_l_p90"], rel=1e-5)
    assert one.low < one.price < one.high


def test_the_mean_over_members_is_that_of_single_plans(her):
    heights = (0.8, 1.4, 2.6)
    one = expected(her, Ensemble(heights), {"a": judged()})["a"]
    by_hand = [
        planned(UniformForecast(height, 8.0, 290.0, wind=(6.0, -3.0)))["fuel_l"]
        for height in heights
    ]
    assert one.price == pytest.approx(np.mean(by_hand), rel=1e-9)


def test_ruled_out_or_far_costlier_ways_are_not_finalists(her):
    found = {
        "a": judged(1000.0),
        "shut": judged(900.0, ("over land",)),
        "dear": judged(1000.0 * (1.0 + DEARER) + 1.0),
    }
    assert list(expected(her, sea(), found, draws=2)) == ["a"]


def test_what_keeps_the_limits_is_a_finalist_however_cheap_the_others_are(her):
    found = {f"over {i}": judged(1000.0 + i, over=("roll",)) for i in range(MOST)}
    found["as given"] = judged(1000.0 * (1.0 + DEARER) + 50.0)
    made = expected(her, sea(), found, draws=2)
    assert _least_expected(found, made) == "as given"
    assert len(made) == MOST


def test_ways_made_smooth_to_the_same_line_are_one_finalist(her):
    middle = [(a.lat_deg, a.lon_deg) for a in WAY.waypoints]
    near = route(middle[0], (45.25, -8.0), *middle[1:])
    far = route(middle[0], (45.25, -8.05), *middle[1:])
    assert most_apart_nm(near, WAY) < 1e-6
    assert most_apart_nm(WAY, near) == 0.0
    # A twentieth of a degree of longitude, by the cosine of the latitude.
    assert most_apart_nm(far, WAY) == pytest.approx(3.0 * np.cos(np.radians(45.25)), rel=1e-3)
    found = {
        "as given": judged(),
        "smoothed, finely": replace(judged(), route=near),
        "smoothed": judged(),
        "smoothed, from grid": replace(judged(), route=far),
        "smoothed, dearer": judged(1001.0),
        "smoothed, over": judged(over=("roll",)),
    }
    names = expected(her, sea(), found, draws=2)
    assert set(found) - set(names) == {"smoothed, finely"}


def test_odds_asked_for_keep_calm_costlier_ways(her):
    found = {"a": judged(1000.0), "calm": judged(1000.0 * (1.0 + DEARER) + 50.0)}
    assert list(expected(her, sea(), found, draws=2, odds=90.0)) == ["a", "calm"]


def test_the_least_mean_is_taken_and_reported():
    over = {
        "a": Expected(1010.0, 900.0, 1100.0, 1010.0, 80.0),
        "b": Expected(1000.0, 800.0, 1200.0, 1000.0, 70.0),
        "c": Expected(np.inf, np.nan, np.nan, np.nan, None),
    }
    found = {name: judged() for name in over}
    assert _least_expected(found, over) == "b"
    assert _least_expected(found, {"c": over["c"]}) is None
    made = Found(WAY, None, 0, 0, 1.0, (), found, "b", over)
    assert made.price("fuel") == 1000.0
