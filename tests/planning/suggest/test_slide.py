"""Ways moved along a limit: to the optimum, and no refusal of what the search itself can make."""

from dataclasses import replace

import numpy as np
import pytest

from passage.planning.suggest.best import best_route
from passage.planning.suggest.closed import Closed
from passage.planning.suggest.search import SearchOptions
from passage.planning.suggest.slide import _round
from passage.planning.suggest.smooth import turns_back
from tests.planning.suggest.test_best import DEPARTURE_S, boat, sea, way  # noqa: F401


class Bowl:
    """A price of bowls about (0.4, 0.3) for each waypoint, at most a distance from the line."""

    def prices_and_excess(self, lat, lon):
        x, y = lon[:, 1:-1], lat[:, 1:-1]
        price = 1.0 + np.sum(10.0 * (y - 0.3) ** 2 + (x - 0.4) ** 2, axis=1)
        over = np.sum(x**2 + y**2, axis=1) / 0.08 - 1.0
        return np.stack([price * (1.0 + 25.0 * np.maximum(over, 0.0)), price, over])


def test_steps_end_on_the_limit_where_no_shift_along_it_gains():
    lat, lon = np.array([-1.0, 0.05, 1.0]), np.array([0.0, 0.0, 0.0])
    bowl = Bowl()
    now = bowl.prices_and_excess(lat[None], lon[None])[:, 0]
    for size in (5.0, 1.0, 0.3, 0.1, 0.03):
        for _ in range(8):
            lat, lon, now = _round(bowl, lat, lon, now, size)
    # Brute force along the circle of the limit.
    turn = np.linspace(0.0, 2.0 * np.pi, 100_001)
    y, x = np.sqrt(0.08) * np.sin(turn), np.sqrt(0.08) * np.cos(turn)
    price = 1.0 + 10.0 * (y - 0.3) ** 2 + (x - 0.4) ** 2
    assert now[0] == pytest.approx(price.min(), rel=2e-5)
    assert now[2] <= 0.0
    assert (lat[1], lon[1]) == pytest.approx((y[price.argmin()], x[price.argmin()]), abs=0.01)


def test_a_budget_that_the_search_for_comfort_keeps_is_not_refused(boat, sea):  # noqa: F811
    """The grid's own prices are over it: the way lies between the grid's lines."""
    given = way((46.9, -7.6), (45.9, -6.9))
    options = SearchOptions(DEPARTURE_S, 12.0, "comfort", corridor_nm=12.0, cell_nm=12.0)
    calm = best_route(boat, given, sea, options)
    calmest = calm.candidates[calm.best]
    budget = calmest.roll_hours * (1.0 + 1e-6)
    assert calm.bound.value > budget
    found = best_route(boat, given, sea, replace(options, objective="fuel", budget=budget))
    taken = found.candidates[found.best]
    assert not taken.faults
    assert taken.roll_hours <= budget
    assert taken.fuel_l <= calmest.fuel_l * (1.0 + 1e-9)


def test_a_way_that_turns_back_is_seen_unless_closed_water_is_the_reason():
    lat, lon = np.array([46.0, 46.5, 46.2]), np.array([-20.0, -20.0, -19.9])
    open_ = Closed(3.0, ((46.0, -20.0), (46.2, -19.9)))
    assert turns_back(open_, lat, lon).tolist() == [1]
    assert turns_back(open_, np.array([46.0, 46.1, 46.2]), lon).size == 0
    shoal = replace(open_, least_depth_m=9.0, depths=lambda a, b: np.where(a < 46.3, 5.0, 50.0))
    assert turns_back(shoal, lat, lon).size == 0
