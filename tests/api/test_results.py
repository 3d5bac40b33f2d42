"""The questions from Python: the same answers as the command line, in every form."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

import passage
from passage.api import options
from passage.planning.compare.compare import CompareOptions
from passage.planning.heel.build import HeelPrices
from passage.planning.season.setup import SeasonOptions
from passage.planning.suggest.search import SearchOptions
from passage.planning.voyage.prepare import PlanOptions
from passage.variables import BY_NAME

SAMPLES = Path(__file__).parents[2] / "sample_forecasts"
VESSEL, ROUTE = SAMPLES / "brambling.toml", SAMPLES / "direct.csv"
FORECASTS = [SAMPLES / f"biscay_{name}.nc" for name in ("waves", "wind", "current")]
LEAVE = "2026-03-14T06:00Z"


@pytest.fixture(scope="module")
def read():
    """Route, vessel and sea, read."""
    with passage.open_forecast(FORECASTS) as sea:
        yield passage.read_route(ROUTE), passage.read_vessel(VESSEL), sea


@pytest.fixture(scope="module")
def plan(read):
    return passage.plan(*read, departure=LEAVE, speed_kn=12)


def without(answer: dict, *names: str) -> dict:
    return {key: value for key, value in answer.items() if key not in names}


def test_a_plan_is_that_of_the_command_line(plan, tmp_path) -> None:
    target = tmp_path / "plan.json"
    words = ["plan", ROUTE, "--vessel", VESSEL, "--departure", LEAVE, "--speed", "12"]
    words += [word for path in FORECASTS for word in ("--forecast", path)]
    words += ["--format", "json", "-o", target]
    subprocess.run([sys.executable, "-m", "passage", *map(str, words)], check=True)
    printed = json.loads(target.read_text(encoding="utf-8"))
    # Where options came from is the command line's alone: Python takes no defaults.
    printed["provenance"].pop("defaults", None)
    assert without(plan.to_dict(), "created_utc") == without(printed, "created_utc")


def test_files_and_what_was_read_from_them_give_the_same(plan) -> None:
    again = passage.plan(ROUTE, VESSEL, FORECASTS, departure=LEAVE, speed_kn=12)
    assert without(again.to_dict(), "created_utc") == without(plan.to_dict(), "created_utc")


@pytest.mark.parametrize(
    "time",
    [
        "2026-03-14T07:00+01:00",
        np.datetime64("2026-03-14T06:00"),
        float(np.datetime64("2026-03-14T06:00").astype("datetime64[s]").astype(int)),
    ],
)
def test_times_may_be_given_in_several_ways(read, plan, time) -> None:
    again = passage.plan(*read, departure=time, speed_kn=12, map_times=0)
    assert again.totals["fuel_l"] == plan.totals["fuel_l"]


def test_the_frame_and_the_dataset_are_the_legs_and_the_points(plan) -> None:
    frame, data = plan.to_dataframe(), plan.to_dataset()
    assert list(frame.index) == [leg["leg"] for leg in plan.legs]
    assert frame.fuel_l.sum() == pytest.approx(plan.totals["fuel_l"], rel=1e-9)
    assert str(frame.etd_utc.dtype).startswith("datetime64")
    assert frame.etd_utc.dt.tz is not None
    assert data.attrs["featureType"] == "trajectory"
    by_leg = data.fuel_l.groupby(data.leg).sum()
    assert_allclose(by_leg, frame.fuel_l, rtol=1e-9)
    known = [name for name in data.data_vars if name in BY_NAME and BY_NAME[name].unit]
    assert len(known) > 20
    assert all(data[name].attrs["units"] == BY_NAME[name].unit for name in known)


def test_the_page_is_written_once(plan, tmp_path) -> None:
    target = plan.to_html(tmp_path / "plan.html")
    assert target.read_text(encoding="utf-8").lower().startswith("<!doctype html")
    with pytest.raises(passage.PassageError, match="exists already"):
        plan.to_html(target)
    plan.to_html(target, force=True)


def test_a_result_shows_itself_on_one_line(plan) -> None:
    text = repr(plan)
    assert "\n" not in text
    assert len(text) < 160
    assert f"{plan.totals['fuel_l']:.0f} l" in text


def test_a_comparison_names_plans_of_its_own(read, plan) -> None:
    route, vessel, sea = read
    found = passage.compare(
        [route, SAMPLES / "eastern.csv"], vessel, sea, departures=LEAVE, speeds_kn=[11, 12],
        map_times=0,
    )  # fmt: skip
    frame = found.to_dataframe()
    assert len(frame) == len(found) == 4
    for number, one in found.plans.items():
        assert frame.fuel_l[number] == pytest.approx(one.totals["fuel_l"], rel=1e-6)
    same = frame[(frame.route == route.name) & (frame.speed_kn == 12)]
    assert float(same.fuel_l.iloc[0]) == pytest.approx(plan.totals["fuel_l"], rel=1e-6)
    assert found.to_dataset().sizes["combination"] == 4
    assert json.loads(json.dumps(found.to_dict()))["names"] == found.names
    assert "4 combinations" in repr(found)


def test_a_window_is_its_departures(read) -> None:
    route, vessel, sea = read
    one = passage.compare(route, vessel, sea, window=(LEAVE, "2026-03-14T12:00Z", 6.0), map_times=0)
    other = passage.compare(
        route, vessel, sea, departures=["2026-03-14T12:00Z", LEAVE], map_times=0
    )
    assert_allclose(one.to_dataframe().fuel_l, other.to_dataframe().fuel_l, rtol=1e-12)


def test_heel_advice_comes_leg_by_leg(read, plan) -> None:
    found = passage.heel(*read, departure=LEAVE, speed_kn=12, seconds=5)
    assert len(found.to_dataframe()) == len(plan.legs)
    assert "leave it" in found.policies().index
    assert found.to_dataset().sizes["leg"] == len(plan.legs)
    assert "Brambling" in repr(found)


def test_a_season_keeps_every_departure(read, plan, tmp_path) -> None:
    found = passage.season(*read, first=LEAVE, last="2026-03-14T18:00Z", every_h=12, speeds_kn=[12])
    frame = found.to_dataframe()
    assert list(frame.status) == ["ok", "ok"]
    # How close a season comes to a plan is checked with the season; here, that it is this one.
    assert frame.fuel_l[0] == pytest.approx(plan.totals["fuel_l"], rel=0.01)
    assert found.to_dataset().fuel_l.shape == (1, 2)
    assert len(found.statistics()) == 2
    assert found.page().lower().startswith("<!doctype html")


def test_a_season_refuses_what_its_workers_could_not_read(read) -> None:
    route, vessel, sea = read
    other = replace(vessel, particulars=replace(vessel.particulars, gm_m=1.2))
    with pytest.raises(passage.PassageError, match="changed after it was read"):
        passage.season(route, other, sea, first=LEAVE, last=LEAVE)


def test_a_suggestion_takes_several_speeds(read) -> None:
    found = passage.suggest(*read, departure=[LEAVE], speed_kn=[11, 12], cell_nm=30)
    assert any("2 pairs of departure and speed" in note for note in found.notes)
    # The slower one burns less, and nothing asks for the quicker.
    assert all(leg.speed_kn in (None, 11) for leg in found.route.legs)
    assert found.answer.options.speed_kn == 11


def test_a_suggestion_keeps_out_of_the_areas_of_several_files(read, tmp_path) -> None:
    asked = {"departure": LEAVE, "speed_kn": 12, "cell_nm": 30}
    files = []
    for number, west in enumerate((-9.2, -8.6)):
        ring = [[west, 45.0], [west + 0.5, 45.0], [west + 0.5, 45.6], [west, 45.6], [west, 45.0]]
        files.append(tmp_path / f"area{number}.geojson")
        files[-1].write_text(json.dumps({"type": "Polygon", "coordinates": [ring]}))
    both = passage.suggest(*read, no_go=files, **asked)
    assert len(both.answer.options.no_go) == 2
    one = passage.suggest(*read, no_go=files[0], **asked)
    assert len(one.answer.options.no_go) == 1


def test_a_suggestion_has_the_plans_of_the_other_routes(read, tmp_path) -> None:
    found = passage.suggest(*read, departure=LEAVE, speed_kn=12, cell_nm=30)
    assert {"suggested", "great circle"} <= set(found.plans)
    assert found.to_dataframe().fuel_l["suggested"] > 1000
    assert found.write_route(tmp_path / "found.gpx").stat().st_size > 100
    assert json.dumps(found.to_dict())


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"departure": "2026-03-14T06:00"}, "has no zone"),
        ({"departure": "soon"}, "is not a time"),
        ({"departure": LEAVE, "speed_kn": 600}, "too large"),
        ({"departure": LEAVE, "speed_kn": float("nan")}, "finite"),
        ({"departure": LEAVE, "fins": "activ"}, "Did you mean active"),
        ({"departure": LEAVE, "minutes": 0.01, "heel": "no"}, "minutes 0.01(?s:.)*heel 'no'"),
        ({"departure": LEAVE, "arrive": LEAVE}, "not after departure"),
        ({"departure": LEAVE, "ease": True, "hold": "ground"}, "does not go with"),
        ({"departure": LEAVE, "single_time_h": 3.0}, "already open"),
    ],
)
def test_bad_options_are_refused_with_a_sentence(read, given, words) -> None:
    with pytest.raises(passage.PassageError, match=words):
        passage.plan(*read, **given)


def test_an_unknown_option_is_a_type_error(read) -> None:
    with pytest.raises(TypeError, match="Did you mean minutes"):
        passage.plan(*read, departure=LEAVE, minute=20)


#: Fields that a question takes under another name, or makes itself.
OWN = {"departure_s", "departures_s", "speed_kn", "speeds_kn", "arrive_s", "arrive_by_s", "no_go"}
OWN |= {"from_s", "to_s", "every_h", "heel_given", "fins_given", "rest_fins"}
#: What a search of its own finds, not what is asked of it.
FOUND = {"leg_speeds_kn"}
READING = set(options.ReadingOptions.__annotations__)


@pytest.mark.parametrize(
    ("choices", "kind", "more"),
    [
        (options.PlanChoices, PlanOptions, set()),
        (options.CompareChoices, CompareOptions, {*READING, "responses", "newest_run"}),
        (options.HeelChoices, HeelPrices, {*READING, "minutes", "odds", "draws", "forecast_error"}),
        (options.SeasonChoices, SeasonOptions, set()),
        (options.SuggestChoices, SearchOptions, {*READING, "responses", "minutes"}),
    ],
)
def test_every_option_of_planning_can_be_given(choices, kind, more) -> None:
    given = set(choices.__annotations__) - more
    found = FOUND if kind is SearchOptions else set()
    assert given == {f.name for f in fields(kind)} - OWN - (READING & more) - found
