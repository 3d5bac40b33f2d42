"""The bound of a search: what it is of, and how the gap to what is found is worded."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from planning_scenario import UniformForecast, yacht

from passage.planning.suggest.best import best_route
from passage.planning.suggest.bound import Bound, bound_of, gap_of
from passage.planning.suggest.expected import Expected
from passage.planning.suggest.paths import Path
from passage.planning.suggest.search import Found, SearchOptions
from passage.report.text.chances import most_odds
from passage.report.text.suggest_bound import bound_dict, bound_lines
from passage.report.text.suggest_odds import finalist_lines
from passage.report.text.verdict_suggest import _remedy
from passage.units import HOUR_S
from tests.planning.suggest.test_choice import DEPARTURE_S, OPTIONS, SHORT, one, way

PATH = Path((0,), 300, 5.0, 1000.0, 40.0, 3.0)


def found(best_l, *, grid=None, path=PATH, over=()):
    made = {"smoothed": one(best_l, over=over), "grid": grid or one(1010.0)}
    bare = Found(SHORT, path, 9, 9, 5.0, (), made, "smoothed")
    return replace(bare, bound=bound_of(bare, OPTIONS))


def test_bound_is_the_price_of_the_best_way_over_the_grid():
    made = found(990.0)
    assert made.bound == Bound(1000.0, DEPARTURE_S, 12.0, None)
    assert bound_of(made, replace(OPTIONS, objective="comfort")).value == 40.0
    assert gap_of(made, OPTIONS) == pytest.approx((-10.0, -1.0), rel=1e-9)
    assert bound_of(replace(made, path=None), OPTIONS) is None


@pytest.mark.parametrize(
    ("made", "words"),
    [
        (found(1005.0), "5 l (0.5 %) more, because a track is priced finer than the grid"),
        (found(1000.2), "as much as the bound"),
        (found(1100.0, grid=one(1000.0, over=["roll"])), "keeps the vessel's limits and the grid"),
        (found(1100.0, grid=one(1000.0, faults=["arrives in the dark"])), "(arrives in the dark)"),
    ],
)
def test_gap_is_given_with_its_reason(made, words):
    lines = bound_lines(made, OPTIONS)
    assert "no way over its grid takes less than 1,000 l (12 kn, leaving Sat 14 Mar" in lines[0]
    assert "not for all the sea" in lines[0]
    assert words in lines[1]


def test_no_bound_is_printed_above_what_is_found():
    lines = bound_lines(found(990.0), OPTIONS)
    assert "takes 1,000 l by the grid's own prices (12 kn, leaving Sat 14 Mar" in lines[0]
    assert "takes 990 l along its track: 10 l (1.0 %) less, because its waypoints" in lines[1]
    assert "Bound" not in " ".join(lines)
    assert bound_dict(found(990.0), OPTIONS)["holds"] is False
    assert bound_dict(found(1000.0), OPTIONS)["holds"] is True


def test_the_grids_own_way_is_named_beside_it():
    assert bound_lines(found(990.0), OPTIONS)[2].startswith(
        "Along its own track the best way over the grid takes 20 l (2.0 %) more"
    )
    assert len(bound_lines(found(990.0, grid=one(1010.0, faults=["x"])), OPTIONS)) == 2


def test_the_bound_names_what_was_asked():
    asked = replace(OPTIONS, budget=50.0, roll_limit_deg=4.0)
    made = found(1005.0)
    made = replace(made, bound=bound_of(made, asked))
    assert "under 4 deg of roll, within 50 degree hours" in bound_lines(made, asked)[0]


def test_json_has_the_same_numbers():
    plain = bound_dict(found(990.0), OPTIONS)
    assert (plain["value"], plain["unit"], plain["gap"]) == (1000.0, "l", -10.0)
    assert plain["departure_utc"].startswith("2026-03-14T00:00")
    assert bound_dict(found(990.0, path=None), OPTIONS) is None
    assert bound_lines(found(990.0, path=None), OPTIONS) == []


def test_the_grid_is_searched_to_the_end_of_the_forecast():
    boat, given = yacht(), way((46.0, -20.0), (45.2, -20.0))
    asked = SearchOptions(DEPARTURE_S, 12.0, corridor_nm=8.0, cell_nm=8.0)
    free = best_route(boat, given, UniformForecast(), asked)
    arrives_s = DEPARTURE_S + free.candidates[free.best].hours * HOUR_S
    short = UniformForecast(until_s=arrives_s + 0.4 * HOUR_S)
    made = best_route(boat, given, short, asked)
    assert made.bound.value == pytest.approx(free.bound.value, rel=1e-3)
    assert made.candidates[made.best].fuel_l == pytest.approx(
        free.candidates[free.best].fuel_l, rel=1e-9
    )


def test_a_missing_bound_has_its_reason():
    made = replace(found(990.0), bound=None, no_bound="no way over it")
    assert bound_lines(made, OPTIONS) == ["There is no bound: no way over it."]


def test_draws_beyond_the_forecast_are_not_known():
    totals = {
        "odds_within_limits_percent": 45.0, "odds_draws": 20, "odds_draws_unknown": 6,
        "odds_numbers_estimated": False,
    }  # fmt: skip
    assert most_odds(SimpleNamespace(totals=totals)) == 75.0
    gone = replace(found(990.0), expected={"smoothed": Expected(np.inf, *[np.nan] * 3, None, 6)})
    lines = finalist_lines(gone, OPTIONS, 20, limits_set=True)
    assert "smoothed: not known; 6 of 20 run beyond" in lines[1]
    unsure = replace(gone, expected={"smoothed": Expected(9.0, 8.0, 10.0, 9.0, None)})
    assert "limits kept: not known" in finalist_lines(unsure, OPTIONS, 20, limits_set=True)[1]


@pytest.mark.parametrize(
    ("over", "roll_limit_deg", "words"),
    [
        ("significant roll 5.1 deg", 6.0, "none of the ways found at this one keeps the limit"),
        ("significant roll 5.1 deg", None, "none of the ways found at this one keeps the limit"),
        ("vertical acceleration 0.12 g", 6.0, "a `--roll-limit` below 6"),
        ("vertical acceleration 0.12 g", None, "the roughest water with `--roll-limit`"),
    ],
)
def test_a_limit_of_roll_that_the_search_kept_already_is_not_advised(over, roll_limit_deg, words):
    assert words in _remedy(over, replace(OPTIONS, roll_limit_deg=roll_limit_deg))
