"""The cheapest whose odds are good enough is taken, by a search over a sea of members."""

from dataclasses import replace

import numpy as np
import pytest

from passage.errors import RouteError
from passage.planning.suggest import best
from passage.planning.suggest.search import SearchOptions
from passage.planning.suggest.window import Window, best_of_window
from passage.units import HOUR_S
from tests.planning_scenario import UniformForecast, route, yacht

LEAVE_S = 1.78e9
LATER_S = LEAVE_S + 12.0 * HOUR_S
GIVEN = route((45.0, -20.0), (45.15, -20.1), (45.4, -20.0))


class Doubtful(UniformForecast):
    """Low by the forecast, but rough in two members of four; later higher and the same in all."""

    n_members = 4

    def sample(self, lat_deg, lon_deg, time_s, member=0):
        sky = super().sample(lat_deg, lon_deg, time_s)
        early = np.array([0.3, 0.3, 3.0, 3.0])[np.asarray(member)]
        height = np.where(np.asarray(time_s) < LATER_S - HOUR_S, early, 0.8)
        height = np.broadcast_to(height, sky.total_height_m.shape)
        return replace(sky, height_m=height[..., None].copy(), total_height_m=height.copy())


@pytest.fixture(scope="module")
def her():
    return yacht()


@pytest.fixture(autouse=True)
def as_found(monkeypatch):
    """Ways are not made smooth: what is asked here does not need it."""
    monkeypatch.setattr(best, "smooth", lambda smoother, route, *_, **__: route)


def suggested(her, odds, departures_s=(LEAVE_S, LATER_S)):
    options = SearchOptions(LEAVE_S, 12.0, corridor_nm=6.0, cell_nm=6.0, odds=odds)
    window = Window(departures_s, (12.0,))
    return best_of_window(her, GIVEN, Doubtful(), options, window, minutes=30.0)


def test_the_next_departure_is_taken_where_the_cheapest_fails_its_odds(her):
    cheap, asked = suggested(her, None)
    assert asked.departure_s == LEAVE_S
    assert cheap.expected[cheap.best].odds == 50.0
    sure, asked = suggested(her, 90.0)
    assert asked.departure_s == LATER_S
    assert sure.expected[sure.best].odds == 100.0
    # It was not taken for its price.
    assert sure.candidates[sure.best].fuel_l > cheap.candidates[cheap.best].fuel_l


def test_without_a_sure_departure_it_is_refused_with_the_likeliest(her):
    with pytest.raises(RouteError, match="the likeliest does in 50 %"):
        suggested(her, 90.0, (LEAVE_S,))
