"""Waypoints that are left: far apart, no zigzag, or with the reason."""

from dataclasses import dataclass, replace

import numpy as np
import pytest

from passage.planning.suggest.judge import Judged
from passage.planning.suggest.search import SearchOptions
from passage.planning.suggest.waypoints import (
    MOST_COST,
    fewer_waypoints,
    too_close,
    waypoint_reasons,
    zigzag,
)
from tests.planning_scenario import route

# On open water, a degree of latitude between the ends of a meridian.
STRAIGHT = np.array([46.0, 45.0]), np.array([-20.0, -20.0])
OPTIONS = SearchOptions(0.0, 12.0)


def line(*offsets_deg):
    """Waypoints evenly spread down the meridian, so far east of it."""
    inner = np.linspace(46.0, 45.0, len(offsets_deg) + 2)
    return inner, -20.0 + np.array([0.0, *offsets_deg, 0.0])


def test_close_and_zigzag_are_seen():
    # Three inner waypoints lie 15 miles apart; one lies 30 from either end.
    assert too_close(*line(0.0, 0.0, 0.0)).tolist() == [True, True, True]
    assert too_close(*line(0.0)).tolist() == [False]
    assert zigzag(*line(0.005, -0.005, 0.005)).tolist() == [True, True, True]
    assert not zigzag(*line(0.2, -0.2, 0.2)).any()
    assert not zigzag(*line(0.01, 0.015, 0.01)).any()
    assert not too_close(*STRAIGHT).any()


@dataclass
class Length:
    """Prices by the sum of coordinate steps; lines west of a meridian are shut."""

    west: float = -99.0
    options: SearchOptions = OPTIONS

    def prices(self, lat, lon):
        far = np.hypot(np.diff(lat, axis=-1), 0.7 * np.diff(lon, axis=-1)).sum(axis=-1)
        return np.where(np.min(lon, axis=-1) < self.west, np.inf, 1000.0 * far)

    def prices_each(self, lines):
        return np.array([self.prices(lat[None], lon[None])[0] for lat, lon in lines])

    def _lengths(self, lat, lon):
        return 111e3 * np.hypot(np.diff(lat, axis=-1), 0.7 * np.diff(lon, axis=-1))

    def judged(self, route, faults=(), over=()):
        lat, lon = np.array([(p.lat_deg, p.lon_deg) for p in route.waypoints]).T
        price = float(self.prices(lat[None], lon[None])[0])
        return Judged(route, 0.0, 5.0, price, 20.0, 3.0, faults, over)


def of(lat, lon):
    return route(*zip(lat, lon, strict=True))


def test_waypoints_that_lie_close_are_left_out():
    sea = Length()
    made = sea.judged(of(*line(0.002, -0.002, 0.002, 0.0, 0.003)))
    left = fewer_waypoints(made, sea, sea.judged)
    lat, lon = np.array([(p.lat_deg, p.lon_deg) for p in left.route.waypoints]).T
    assert not too_close(lat, lon).any()
    assert not zigzag(lat, lon).any()
    assert left.fuel_l <= made.fuel_l * (1.0 + MOST_COST)
    assert left.route.waypoints[-1].name == "P6"
    assert waypoint_reasons(left, "fuel", sea.judged) == ()


@pytest.mark.parametrize("wrong", [{"faults": ("touches the no-go area A",)}, {"over": ("4 deg",)}])
def test_what_breaks_a_limit_without_a_waypoint_keeps_it_with_the_reason(wrong):
    sea = Length()

    def judged(route):
        return sea.judged(route, **(wrong if len(route.waypoints) < 5 else {}))

    made = judged(of(*line(0.0, 0.0, 0.0)))
    assert fewer_waypoints(made, sea, judged) is made
    reasons = waypoint_reasons(made, "fuel", judged)
    assert reasons[0].startswith("Waypoint P1 lies 15.0 nm from ")
    assert next(iter(wrong.values()))[0] in reasons[0]


def test_two_waypoints_round_a_corner_become_one():
    # 12 miles apart at the end of a short wall: neither may go, one between them serves.
    lat, lon = np.array([46.5, 45.6, 45.4, 44.5]), np.array([-20.0, -20.2, -20.2, -20.0])

    class Wall(Length):
        def prices(self, lat, lon):
            found = super().prices(lat, lon)
            passed = [np.interp(-45.5, -a, b) for a, b in zip(lat, lon, strict=True)]
            return np.where(np.array(passed) > -20.19, np.inf, found)

    sea = Wall()
    left = fewer_waypoints(sea.judged(of(lat, lon)), sea, sea.judged)
    assert len(left.route.waypoints) == 3
    assert left.route.waypoints[1].lat_deg == pytest.approx(45.5, abs=1e-3)


def test_a_change_of_speed_is_a_reason():
    sea = Length()
    made = sea.judged(of(*line(0.0, 0.0, 0.0)))
    legs = tuple(replace(leg, speed_kn=9.0 + i) for i, leg in enumerate(made.route.legs))
    mixed = replace(made, route=replace(made.route, legs=legs))
    words = waypoint_reasons(mixed, "fuel", sea.judged)
    assert words
    assert all(x.endswith(": the speed changes there.") for x in words)
