"""Slamming is judged where the bow meets the sea, and alike in a plan and in a season."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from restatement_case import FROM, HOURS, LEAVE_S, SAMPLES, TO, passage, vessel

import passage as api
from passage.inputs.forecast import open_forecast
from passage.inputs.route import Waypoint, build_route
from passage.planning.plan.plan import plan
from passage.planning.voyage.prepare import PlanOptions, prepare

#: The rhumb line of the passage lies on 032; seas of 7.9 m by where they are met from.
COURSE_DEG = 32.0
BOW, FORWARD_OF_BEAM, BEAM = 165.0, 120.0, 90.0


@pytest.fixture
def rough(make_forecast, maker):
    """A file with a sea of 7.9 m that is met from this angle, 180 ahead."""

    def make(met_deg, side=1.0):
        come_from = (COURSE_DEG + side * (180.0 - met_deg)) % 360.0
        variables = maker.sea(7.9, 9.0, come_from) | maker.wind(8.0, 0.0)
        return make_forecast(variables, name=f"met{met_deg:.0f}_{side:.0f}.nc", hours=HOURS)

    return make


def planned(path, ready=None):
    with open_forecast(path) as forecast:
        return plan(ready or passage(), forecast, PlanOptions(departure_s=LEAVE_S))


def shallow():
    """The same passage with so little draught forward that the formula has slams abeam too."""
    made = vessel()
    made = replace(made, particulars=replace(made.particulars, bow_draught_m=1.6))
    way = [
        Waypoint(name=f"P{i}", lat_deg=lat, lon_deg=lon, kind="rhumb")
        for i, (lat, lon) in enumerate((FROM, TO))
    ]
    options = PlanOptions(departure_s=LEAVE_S, speed_kn=12.0)
    return prepare(made, build_route("made", "made", way), options)


def codes(made):
    return {caution.code for caution in made.cautions}


def test_abeam_the_fins_work_and_the_plan_says_why(rough):
    made = planned(rough(BEAM), shallow())
    assert "slamming" not in codes(made)
    assert "slamming_not_judged" in codes(made)
    # So little draught forward is also more trim than added resistance is known for.
    assert "trim_beyond_formula" in codes(made)
    assert {leg["fin_use"] for leg in made.legs} == {"active"}
    active = np.asarray(made.points["roll_active_rms_deg"])
    assert np.all(active < 0.9 * np.asarray(made.points["roll_centred_rms_deg"]))


@pytest.mark.parametrize("met_deg", [BOW, FORWARD_OF_BEAM])
def test_ahead_they_are_centred_and_the_roll_it_costs_is_named(rough, met_deg):
    made = planned(rough(met_deg))
    assert "slamming_not_judged" not in codes(made)
    (found,) = [one for one in made.cautions if one.code == "slamming"]
    assert "Without them she rolls up to" in found.text
    assert {leg["fin_use"] for leg in made.legs} == {"centred"}


@pytest.mark.parametrize("met_deg", [BOW, BEAM])
def test_port_and_starboard_are_judged_alike(rough, met_deg):
    assert codes(planned(rough(met_deg))) == codes(planned(rough(met_deg, -1.0)))


@pytest.mark.parametrize(
    ("met_deg", "centred"), [(BOW, True), (FORWARD_OF_BEAM, True), (BEAM, False)]
)
def test_a_season_judges_as_a_plan(rough, tmp_path, met_deg, centred):
    way = tmp_path / "made.csv"
    rows = "".join(f"P{i},{lat},{lon}\n" for i, (lat, lon) in enumerate((FROM, TO)))
    way.write_text("name,lat,lon\n" + rows, encoding="utf-8")
    found = api.season(
        way, SAMPLES / "brambling.toml", rough(met_deg), first="2026-03-14", last="2026-03-14",
        every_h=24, speeds_kn=[12],
    ).to_dataframe()  # fmt: skip
    assert (found.fin_hours_centred.iloc[0] > 8.0) == centred
    assert (found.fin_hours_active.iloc[0] > 8.0) != centred


def test_trim_beyond_the_formula_is_reported_in_heel_compare_and_season(rough, tmp_path):
    way, low = tmp_path / "made.csv", tmp_path / "low.toml"
    rows = "".join(f"P{i},{lat},{lon}\n" for i, (lat, lon) in enumerate((FROM, TO)))
    way.write_text("name,lat,lon\n" + rows, encoding="utf-8")
    text = (SAMPLES / "brambling.toml").read_text("utf-8")
    assert text.count("bow_draught_m = 2.6") == 1
    low.write_text(text.replace("bow_draught_m = 2.6", "bow_draught_m = 1.6"), encoding="utf-8")
    sea, words = rough(BEAM), "ow draught 1.6 m and mean draught 2.8 m are 1.20 m apart"
    when, a_day = "2026-03-14T06:00Z", {"first": "2026-03-14", "last": "2026-03-14"}
    heel = api.heel(way, low, sea, departure=when, speed_kn=12)
    assert [one for one in heel.answer.cautions if words in one.text]
    found = api.compare(way, low, sea, departures=[when], speeds_kn=[12])
    assert [one for one in found.notes if words in one]
    past = api.season(way, low, sea, **a_day, every_h=24, speeds_kn=[12])
    assert [one for one in past.notes if words in one]
