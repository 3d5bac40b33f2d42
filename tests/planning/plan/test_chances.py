"""Odds of a plan: members counted by hand, equal members, draws that change nothing else."""

from dataclasses import replace

import numpy as np
import pytest

from passage.inputs.forecast.members import Members
from passage.planning.plan.cautions import limits_exceeded
from passage.planning.plan.plan import PlanOptions, plan, prepare
from passage.report.files.plan_json import plan_dict
from passage.report.pages.plan import plan_page
from passage.report.text.chances import percent_words
from passage.report.text.plan import plan_table
from passage.report.text.verdict_plan import plan_verdict
from tests.planning_scenario import UniformForecast, route, vessel

LEAVE_S = 1.78e9
HEIGHTS = (1.0, 1.6, 2.0, 2.4, 2.8, 3.2, 4.0)


class Ensemble(UniformForecast):
    """A uniform sea whose height differs by member."""

    def __init__(self, heights):
        super().__init__(heights[0], 8.0, 290.0, wind=(6.0, -3.0))
        self.heights, self.n_members = np.array(heights), len(heights)

    def sample(self, lat_deg, lon_deg, time_s, member=0):
        sky = super().sample(lat_deg, lon_deg, time_s)
        factor = self.heights[np.asarray(member)] / self.heights[0]
        factor = np.broadcast_to(factor, sky.total_height_m.shape)
        return replace(
            sky,
            height_m=sky.height_m * factor[..., None],
            total_height_m=sky.total_height_m * factor,
        )


@pytest.fixture(scope="module")
def ready():
    options = PlanOptions(departure_s=LEAVE_S, speed_kn=12.0)
    return prepare(vessel(), route((45.0, -8.0), (46.0, -8.0), (46.4, -7.4)), options)


def options(draws=0):
    return PlanOptions(departure_s=LEAVE_S, speed_kn=12.0, draws=draws)


def single(height):
    return UniformForecast(height, 8.0, 290.0, wind=(6.0, -3.0))


def test_members_equal_a_count_through_single_plans(ready):
    made = plan(ready, Ensemble(HEIGHTS), options())
    plans = [plan(ready, single(height), options()) for height in HEIGHTS]
    kept = [not limits_exceeded(ready.vessel, one.legs) for one in plans]
    assert 0 < sum(kept) < len(kept)
    assert made.totals["odds_within_limits_percent"] == pytest.approx(
        100.0 * np.mean(kept), rel=1e-6
    )
    assert made.totals["odds_source"] == "7 members"
    fuel = [one.totals["fuel_l"] for one in plans]
    expected = np.percentile(fuel, [10, 50, 90], method="weibull")
    found = [made.totals[f"fuel_l_p{p}"] for p in (10, 50, 90)]
    assert found == pytest.approx(expected, rel=1e-9)


def test_an_ensemble_equal_to_the_control_gives_the_plan(ready):
    made = plan(ready, Ensemble([2.0] * 5), options())
    plain = plan(ready, single(2.0), options())
    assert made.totals["fuel_l"] == plain.totals["fuel_l"]
    for percent in (10, 50, 90):
        assert made.totals[f"fuel_l_p{percent}"] == pytest.approx(plain.totals["fuel_l"], rel=1e-12)
    within = not plain.limits_exceeded
    assert made.totals["odds_within_limits_percent"] == (100.0 if within else 0.0)


def test_a_member_with_gaps_leaves_the_percentiles_to_the_others(ready):
    gappy = Ensemble([2.0, 2.5, np.nan, 3.0])
    gappy.members = Members(("0", "1", "2", "3"), "the control run", gaps=(2,))
    made = plan(ready, gappy, options())
    whole = plan(ready, Ensemble([2.0, 2.5, 3.0]), options())
    for percent in (10, 50, 90):
        assert made.totals[f"fuel_l_p{percent}"] == whole.totals[f"fuel_l_p{percent}"]
    # What is not known does not keep a limit.
    kept = whole.totals["odds_within_limits_percent"] * 3.0 / 4.0
    assert made.totals["odds_within_limits_percent"] == pytest.approx(kept, rel=1e-12)
    assert "3 of 4 members are without gaps" in plan_verdict(made).why
    assert "1 is not covered, so whether it keeps them is not known" in plan_verdict(made).why
    assert all(len(line) <= 100 for line in plan_table(made).splitlines())


def test_draws_add_keys_and_change_none(ready):
    plain, drawn = (plan(ready, single(2.0), options(n)) for n in (0, 32))
    assert "odds_source" not in plain.totals
    for key, value in plain.totals.items():
        assert drawn.totals[key] == value, key
    for one, other in zip(plain.legs, drawn.legs, strict=True):
        changed = {key for key in one if one[key] == one[key] and one[key] != other[key]}
        assert changed <= {"odds_within_limits_percent"}
    totals = drawn.totals
    assert totals["fuel_l_p10"] < totals["fuel_l_p50"] < totals["fuel_l_p90"]
    assert "error model, 32 draws" in totals["odds_source"]
    low, high = totals["odds_interval_percent"]
    assert 0.0 <= low <= totals["odds_within_limits_percent"] <= high <= 100.0


def test_all_limits_are_no_likelier_than_any_or_than_any_leg(ready):
    made = plan(ready, single(2.2), options(64))
    whole = made.totals["odds_within_limits_percent"]
    assert all(whole <= value for value in made.totals["odds_percent"].values())
    assert all(whole <= leg["odds_within_limits_percent"] for leg in made.legs)


def test_beyond_the_forecast_no_odds_are_given(ready):
    short = UniformForecast(2.0, 8.0, 290.0, until_s=LEAVE_S + 4 * 3600.0)
    made = plan(ready, short, options(16))
    assert made.legs[-1]["odds_within_limits_percent"] is None
    assert made.totals["odds_within_limits_percent"] is None
    assert made.totals["fuel_l_p50"] is None
    assert "not known for the whole passage" in plan_table(made)


def test_the_answer_gives_odds_with_their_source(ready):
    made = plan(ready, single(2.2), options(16))
    text = " ".join(plan_table(made).split())
    assert "Odds of keeping all limits" in text
    assert "Source of the odds: error model, 16 draws" in text
    assert "Source of the odds: error model, 16 draws" in plan_page(made)
    answer = plan_dict(made)
    assert "draws of the forecast's errors" in answer["verdict"]["text"]
    assert answer["totals"]["odds_percent"]
    assert isinstance(answer["legs"][0]["odds_within_limits_percent"], float)


def test_none_or_all_of_a_few_is_not_certain():
    assert percent_words(100.0, 20) == "over 95"
    assert percent_words(0.0, 20) == "under 5"
    assert percent_words(40.0, 20) == "40"
