"""Wind, current or a sea that is missing is reported with its share, and counts for --strict."""

from __future__ import annotations

import numpy as np
import pytest
from restatement_case import HOURS, LEAVE_S, passage

from passage.inputs.forecast import open_forecast
from passage.planning.plan.plan import plan
from passage.planning.voyage.prepare import PlanOptions
from passage.report.text.layout import Layout
from passage.report.text.plan import plan_table
from passage.report.text.verdict_plan import plan_verdict


@pytest.fixture
def made(make_forecast, maker):
    def run(variables, more=()):
        paths = [make_forecast(variables, hours=HOURS), *more]
        with open_forecast(paths) as forecast:
            return plan(passage(), forecast, PlanOptions(departure_s=LEAVE_S))

    return run


def said(answer):
    return {c.code: c for c in answer.cautions}


def test_full_coverage_gives_no_caution(made, maker):
    answer = made(maker.sea() | maker.wind() | maker.current())
    assert answer.fully_covered
    assert not {"wind_gap", "wind_none", "current_gap", "current_none"} & set(said(answer))


def test_no_wind_file_is_a_caution_and_counts(made, maker):
    answer = made(maker.sea() | maker.current())
    assert said(answer)["wind_none"].severity == "caution"
    assert not answer.fully_covered
    # Without a current she is planned in still water, which is usual: a remark.
    still = made(maker.sea() | maker.wind())
    assert said(still)["current_none"].severity == "note"
    assert still.fully_covered


@pytest.mark.parametrize(("hours", "severity"), [([0.0, 3.0, 6.0], "caution"), (None, "note")])
def test_wind_that_ends_on_the_way(made, maker, make_forecast, hours, severity):
    # The passage takes some nine hours from 0:30; wind to 6:00 leaves a third without,
    # wind to 8:00 a seventh.
    hours = [0.0, 3.0, 6.0, 8.0] if hours is None else hours
    wind = make_forecast(maker.wind(), name="wind.nc", hours=hours)
    answer = made(maker.sea() | maker.current(), [wind])
    caution = said(answer)["wind_gap"]
    assert caution.severity == severity
    assert answer.fully_covered == (severity == "note")
    if severity == "caution":
        assert "% of leg 1" in caution.text
        verdict = plan_verdict(answer)
        assert caution.text.split(";")[0][1:] in verdict.why
    assert np.isfinite(answer.totals["fuel_l"])


def test_a_height_of_zero_all_the_way_is_reported(made, maker):
    assert "height_zero" in said(made(maker.sea(0.0, 5.0, 0.0) | maker.wind()))
    assert "height_zero" not in said(made(maker.sea(0.1, 5.0, 0.0) | maker.wind()))


def test_a_rest_of_the_sea_without_a_period_is_a_caution_and_no_second_note(made, maker):
    """A total with one swell and no mean period leaves a rest of the total's own period."""
    part = maker.partition("swell", height=1.0)
    whole = made(maker.sea(2.0) | part | maker.wind() | maker.current())
    assert "No file gives a mean period" in said(whole)["rest_period"].text
    text = " ".join(plan_table(whole, Layout()).split())
    assert text.count("No file gives a mean period") == 1
    assert "rest_period" not in said(made(maker.sea() | maker.wind() | maker.current()))
