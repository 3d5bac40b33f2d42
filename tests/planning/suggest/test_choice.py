"""What is taken of several ways: limits first, then the price; daylight, odds, speeds by leg."""

from dataclasses import replace

import numpy as np
import pytest
from planning_scenario import UniformForecast, yacht

from passage.errors import RouteError
from passage.inputs.route import Waypoint, build_route
from passage.planning.suggest.best import GIVEN, _least, _least_expected
from passage.planning.suggest.by_leg import BY_LEG, by_leg
from passage.planning.suggest.case import closed_between
from passage.planning.suggest.expected import Expected
from passage.planning.suggest.judge import Judged, _faults, judge
from passage.planning.suggest.search import Found, SearchOptions
from passage.planning.suggest.window import Window, _likely, _order, _Ranked
from passage.units import HOUR_S

DEPARTURE_S = 1773446400.0  # 2026-03-14T00:00Z
OPTIONS = SearchOptions(DEPARTURE_S, 12.0)


def way(*points):
    marks = [Waypoint(name=f"P{i}", lat_deg=a, lon_deg=b) for i, (a, b) in enumerate(points)]
    return build_route("given", "given", marks)


SHORT = way((46.0, -7.0), (45.8, -7.1), (45.6, -7.0))


def one(fuel_l, *, faults=(), over=()):
    return Judged(SHORT, DEPARTURE_S, 5.0, fuel_l, 20.0, 3.0, tuple(faults), tuple(over))


def test_a_way_within_the_limits_goes_before_a_cheaper_one():
    made = {"cheap": one(100.0, over=["4 deg"]), "calm": one(120.0), "shut": one(1.0, faults=["x"])}
    assert _least(made, OPTIONS) == "calm"
    assert _least({name: made[name] for name in ("cheap", "shut")}, OPTIONS) == "cheap"
    assert _least({"shut": made["shut"]}, OPTIONS) is None
    keys = sorted(made, key=lambda name: made[name].key("fuel"))
    assert keys == ["calm", "cheap", "shut"]


def test_pairs_that_another_course_may_open_go_before_those_at_a_wrong_time():
    late = one(90.0, faults=["arrives 2026-03-15T00:00Z, later than the latest asked for"])
    rough = one(120.0, faults=["takes 50.0 degree hours, over the budget of 40"])
    ranked = [
        _Ranked(way.at_wrong_time, 1.0, way.key("fuel"), DEPARTURE_S, 12.0)
        for way in (late, rough, one(150.0, over=["4 deg"]), one(200.0))
    ]
    assert [x.key[2] for x in sorted(ranked, key=_order)] == [200.0, 150.0, 120.0, 90.0]
    # Of two over the budget the one nearer to it goes first, though it is dearer.
    near = _Ranked(False, 1.02, one(140.0, faults=["x"]).key("fuel"), DEPARTURE_S, 12.0)
    far = replace(near, over=1.4, key=one(110.0, faults=["x"]).key("fuel"))
    assert min(far, near, key=_order) is near


def test_a_way_of_the_odds_asked_for_goes_before_a_cheaper_one():
    made = {name: one(100.0) for name in ("cheap", "sure")}
    doubt = {
        "cheap": Expected(100.0, 90.0, 110.0, 100.0, 40.0),
        "sure": Expected(105.0, 95.0, 115.0, 105.0, 80.0),
    }
    assert _least_expected(made, doubt, None) == "cheap"
    assert _least_expected(made, doubt, 60.0) == "sure"


def test_ways_are_weighed_by_price_until_one_has_the_odds():
    def found(odds):
        doubt = {GIVEN: Expected(100.0, 90.0, 110.0, 100.0, odds)}
        return Found(SHORT, None, 0, 0, 1.0, (), {GIVEN: one(100.0)}, GIVEN, doubt)

    def search(pair):
        return found(pair[0]), replace(OPTIONS, departure_s=DEPARTURE_S + pair[1])

    made, others = [(found(20.0), OPTIONS)], [(30.0, 6.0), (70.0, 12.0), (90.0, 18.0)]
    best, asked = _likely(60.0, made, others, search, lambda pair: pair)
    assert best.expected[GIVEN].odds == 70.0
    assert asked.departure_s == DEPARTURE_S + 12.0
    with pytest.raises(RouteError, match="likeliest does in 90 %"):
        _likely(95.0, made, others, search, lambda pair: pair)


def test_arrival_in_the_dark_closes_a_way():
    asked = replace(OPTIONS, daylight=True)
    ways = [replace(one(100.0), departure_s=DEPARTURE_S + HOUR_S * i) for i in range(0, 24, 3)]
    dark = [any("in the dark" in fault for fault in _faults(x, asked, None)) for x in ways]
    # In the middle of March the sun is up there from about half past six to half past six.
    assert dark == [not 6.6 < (x.departure_s / HOUR_S + x.hours) % 24.0 < 18.7 for x in ways]
    assert 0 < sum(dark) < len(dark)
    assert not any(_faults(x, OPTIONS, None) for x in ways)


@pytest.mark.slow
def test_speeds_by_leg_are_the_best_of_all():
    boat, speeds = yacht(), (10.0, 12.0)
    sea = UniformForecast(height_m=0.4)
    asked = replace(OPTIONS, arrive_by_s=DEPARTURE_S + 2.34 * HOUR_S, by_leg=True)
    ends = SHORT.waypoints
    closed = closed_between(ends[0], ends[-1], sea, asked)
    found = Found(SHORT, None, 0, 0, 1.0, (), {GIVEN: one(1.0)}, GIVEN)
    window = Window((DEPARTURE_S,), speeds)
    made, notes = by_leg(boat, SHORT, (found, asked), sea, window, 20.0)
    mixed = []
    for pick in ((10.0, 12.0), (12.0, 10.0)):
        legs = tuple(replace(x, speed_kn=s) for x, s in zip(SHORT.legs, pick, strict=True))
        mixed += judge(boat, replace(SHORT, legs=legs), sea, asked, closed)
    best, mine = min(made, key=lambda pair: pair[0].key("fuel"))
    least = min(w.fuel_l for w in mixed if not w.faults)
    np.testing.assert_allclose(best.candidates[BY_LEG].fuel_l, least, rtol=1e-9)
    assert sorted(mine.leg_speeds_kn) == [10.0, 12.0]
    assert notes
