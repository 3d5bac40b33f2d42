"""Planned beside logged: a log of the plan has no miss, and every change of it is found again."""

import copy
import json

import numpy as np
import pytest
from numpy.testing import assert_allclose
from review_logs import COLUMNS, csv_of, make_plan, recording, rows_of

from passage.errors import LogError, PlanFileError, VesselError
from passage.inputs.records.plan_file import read_plan
from passage.inputs.records.recording import read_recording
from passage.planning.review.review import review


@pytest.fixture(scope="module")
def planned(tmp_path_factory):
    path = tmp_path_factory.mktemp("plan") / "plan.json"
    data = make_plan(path)
    return read_plan(path), data


@pytest.fixture
def look(planned, tmp_path):
    """Review a log given as text."""

    def go(text):
        path = tmp_path / "log.csv"
        path.write_text(text, encoding="utf-8")
        return review(read_recording(path), planned[0])

    return go


def misses(found, key):
    return [leg.pairs[key].miss for leg in (*found.legs, found.whole)]


def test_a_log_of_the_plan_has_no_miss(planned, look):
    found = look(csv_of(rows_of(planned[1])))
    for key in ("hours", "distance", "speed_through_water", "speed_over_ground", "heel"):
        # Times are written to the millisecond, so what adds up moves by a second at most.
        assert_allclose(misses(found, key), 0.0, atol=3e-4)
    for key in ("fuel", "roll", "fin_angle", "fins_active"):
        pairs = [leg.pairs[key] for leg in (*found.legs, found.whole)]
        assert_allclose([p.logged for p in pairs], [p.planned for p in pairs], rtol=1e-5)
    assert all(leg.pairs[key].within_band for leg in found.legs for key in ("fuel", "roll"))
    assert found.late_h == pytest.approx(0.0, abs=3e-4)
    assert found.doubts == ()
    assert max(leg.off_track_nm for leg in found.legs) < 0.01


def test_planned_figures_are_those_of_the_plan(planned, look):
    data = planned[1]
    found = look(csv_of(rows_of(data)))
    for leg, row in zip(found.legs, data["legs"], strict=True):
        assert leg.pairs["hours"].planned == pytest.approx(row["hours"], rel=1e-6)
        assert leg.pairs["distance"].planned == pytest.approx(row["distance_nm"], rel=1e-6)
        assert leg.pairs["heel"].planned == pytest.approx(row["steady_heel_deg"], rel=1e-6)
        # The log's fuel is of the main engines, without hotel load and the fins' pumps.
        assert leg.pairs["fuel"].planned < row["fuel_l"] - row["fuel_hotel_l"] + 1e-6


def test_the_whole_is_the_sum_of_its_legs(planned, look):
    rows = rows_of(planned[1])
    for at, row in enumerate(rows):
        row["fuel_l_per_h"] *= 1.0 + 0.1 * np.sin(at)
    found = look(csv_of(rows))
    for key in ("hours", "distance", "fuel", "fins_active"):
        for which in ("planned", "logged"):
            parts = [getattr(leg.pairs[key], which) for leg in found.legs]
            assert getattr(found.whole.pairs[key], which) == pytest.approx(sum(parts), rel=1e-6)


@pytest.mark.parametrize("late_h", [-5.3, 0.4, 7.6])
def test_leaving_at_another_time_changes_no_leg(planned, look, late_h):
    rows = rows_of(planned[1])
    for row in rows:
        row["time"] += 3600.0 * late_h
    found = look(csv_of(rows))
    assert found.late_h == pytest.approx(late_h, abs=1e-3)
    assert_allclose(misses(found, "hours"), 0.0, atol=3e-4)
    assert_allclose(misses(found, "fuel"), 0.0, atol=0.1)
    assert not any("clock" in words for words in found.doubts)


def test_full_hours_all_the_way_may_be_the_clock(planned, look):
    rows = rows_of(planned[1])
    for row in rows:
        row["time"] += 3600.0
    assert any("the clock of the log is 1 h off" in words for words in look(csv_of(rows)).doubts)


def test_another_way_finds_its_legs(planned, look):
    rows = rows_of(planned[1])
    legs = np.array(planned[1]["track"]["leg"])
    for number in np.unique(legs):
        at = np.flatnonzero(legs == number)
        # A bow to the west of every leg, 8 miles at its middle.
        for i, share in zip(at, np.linspace(0.0, np.pi, at.size), strict=True):
            rows[i]["lon"] -= 8.0 / 60.0 / np.cos(np.radians(rows[i]["lat"])) * np.sin(share)
    found = look(csv_of(rows))
    assert_allclose(misses(found, "hours"), 0.0, atol=0.5)
    assert 6.0 < found.whole.off_track_nm < 9.0
    assert found.whole.pairs["hours"].miss == pytest.approx(0.0, abs=3e-4)


def test_known_changes_are_found_again(planned, look):
    rows = rows_of(planned[1])
    for row in rows:
        row["fuel_l_per_h"] *= 1.2
        row["roll_rms_deg"] *= 0.7
        row["heel_deg"] += 0.4
    found = look(csv_of(rows))
    for leg in (*found.legs, found.whole):
        assert leg.pairs["fuel"].logged == pytest.approx(1.2 * leg.pairs["fuel"].planned, rel=1e-5)
        assert leg.pairs["roll"].logged == pytest.approx(0.7 * leg.pairs["roll"].planned, rel=1e-6)
        assert leg.pairs["heel"].miss == pytest.approx(0.4, abs=1e-6)
        assert leg.pairs["roll"].within_band is False


def test_a_recording_gives_what_the_averages_give(planned, look):
    found = look(recording(planned[1], 2.0))
    assert_allclose(misses(found, "hours"), 0.0, atol=0.05)
    assert_allclose(misses(found, "heel"), 0.0, atol=0.05)
    for leg in (*found.legs, found.whole):
        assert leg.pairs["fuel"].logged == pytest.approx(leg.pairs["fuel"].planned, rel=0.01)
        # 400 rolls or more a leg and heel that changes within 10 minutes: a few percent.
        assert leg.pairs["roll"].logged == pytest.approx(leg.pairs["roll"].planned, rel=0.05)
        assert leg.pairs["distance"].logged == pytest.approx(
            leg.pairs["distance"].planned, rel=0.01
        )
    assert any("momentary angles" in words for words in found.how)


def test_a_gap_counts_its_time_and_no_fuel_is_made_up(planned, look):
    rows = rows_of(planned[1])
    legs = np.array(planned[1]["track"]["leg"])
    gone = np.flatnonzero(legs == 2)[5:15]
    kept = [row for at, row in enumerate(rows) if at not in gone]
    found = look(csv_of(kept))
    assert found.legs[1].pairs["hours"].miss == pytest.approx(0.0, abs=3e-4)
    assert found.legs[1].pairs["fuel"].logged is None
    assert found.whole.fuel_legs == (1, 3, 4)
    assert found.whole.pairs["fuel"].miss == pytest.approx(0.0, abs=0.1)
    assert any("1 gap," in words for words in found.doubts)


def test_a_log_of_the_last_legs_is_compared_with_those(planned, look):
    rows = rows_of(planned[1])
    legs = np.array(planned[1]["track"]["leg"])
    half = np.flatnonzero(legs == 2).size // 2
    first = int(np.flatnonzero(legs == 2)[half])
    found = look(csv_of(rows[first:]))
    assert found.legs[0].part == 0.0
    assert found.legs[1].part == pytest.approx(1.0 - half / np.sum(legs == 2), abs=0.02)
    assert found.legs[1].pairs["hours"].miss == pytest.approx(0.0, abs=0.1)
    assert found.late_h is None


def test_without_positions_time_decides(planned, look):
    columns = [c for c in COLUMNS if c not in ("lat", "lon")]
    found = look(csv_of(rows_of(planned[1]), columns))
    assert_allclose(misses(found, "hours"), 0.0, atol=3e-4)
    assert_allclose(misses(found, "fuel"), 0.0, atol=0.1)
    assert "by time only" in found.how[0]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda row: row.update(fuel_l_per_h=row["fuel_l_per_h"] / 3.785), "US gallons"),
        (lambda row: row.update(fuel_l_per_h=0.5 * row["fuel_l_per_h"]), "one engine of two"),
        (lambda row: row.update(heel_deg=row["heel_deg"] + 2.5), "2.5 deg further to starboard"),
        (lambda row: row.update(fuel_l_per_h=0.0), "dead meter"),
        (lambda row: row.update(roll_rms_deg=2.0 * row["roll_rms_deg"]), "significant amplitude"),
        (lambda row: row.update(roll_rms_deg=np.radians(row["roll_rms_deg"])), "in radians"),
        (
            lambda row: row.update(speed_over_ground_kn=1.852 * row["speed_over_ground_kn"]),
            "in km/h",
        ),
        (lambda row: row.update(speed_over_ground_kn=0.5144 * row["speed_over_ground_kn"]), "m/s"),
    ],
)
def test_what_is_wrong_with_a_log_is_reported(planned, look, change, words):
    rows = rows_of(planned[1])
    for row in rows:
        change(row)
    assert any(words in one for one in look(csv_of(rows)).doubts)


def test_a_recorded_meter_that_may_stick_is_reported_and_taken(planned, look):
    lines = recording(planned[1], 20.0).splitlines()
    held = [",".join([*one.split(",")[:5], "212.00", one.split(",")[6]]) for one in lines[2500:]]
    found = look("\n".join([*lines[:2500], *held]) + "\n")
    assert any("engines held that steady, or a meter that sticks?" in one for one in found.doubts)
    assert found.legs[3].pairs["fuel"].logged is not None
    assert not any("sticks" in one for one in look("\n".join(lines) + "\n").doubts)


def test_units_mixed_within_a_log_name_the_legs(planned, look):
    rows = rows_of(planned[1])
    for row, leg in zip(rows, planned[1]["track"]["leg"], strict=True):
        row["fuel_l_per_h"] /= 3.785 if leg in (3, 4) else 1.0
    found = look(csv_of(rows))
    assert any("on leg 3, 4 is off by the factor of another unit" in one for one in found.doubts)
    # Nothing is put right by a guess.
    assert found.legs[2].pairs["fuel"].logged == pytest.approx(
        found.legs[2].pairs["fuel"].planned / 3.785, rel=1e-3
    )


def test_a_meter_that_sticks_gives_no_fuel(planned, look):
    rows = rows_of(planned[1])
    for at, row in enumerate(rows):
        row["speed_through_water_kn"] += 0.5 * np.sin(at)
        row["fuel_l_per_h"] = 300.0
    found = look(csv_of(rows))
    assert found.whole.pairs["fuel"].logged is None
    assert any("dead meter" in one for one in found.doubts)


def test_the_berth_is_left_out(planned, look):
    rows = rows_of(planned[1])
    first = dict(rows[0], speed_over_ground_kn=0.0, speed_through_water_kn=0.0, fuel_l_per_h=0.0)
    first.update(time=rows[0]["time"] - 1800.0 * rows[0]["hours"] - 1800.0, hours=1.0)
    found = look(csv_of([first, *rows]))
    assert_allclose(misses(found, "hours"), 0.0, atol=3e-4)
    assert any("1.0 h at rest" in words for words in found.doubts)


def test_another_passage_is_refused(planned, look):
    rows = copy.deepcopy(rows_of(planned[1]))
    for row in rows:
        row["lat"] -= 40.0
    with pytest.raises(LogError, match="never comes nearer to the planned track"):
        look(csv_of(rows))


def test_the_plan_carries_the_vessel_file(planned, tmp_path):
    from review_logs import SAMPLES

    plan, data = planned
    assert data["vessel_text"] == (SAMPLES / "brambling.toml").read_text(encoding="utf-8")
    without = tmp_path / "without.json"
    without.write_text(json.dumps({**data, "vessel_text": None}), encoding="utf-8")
    with pytest.raises(VesselError, match="--vessel"):
        read_plan(without)
    assert read_plan(without, SAMPLES / "brambling.toml").vessel == plan.vessel


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda d: d.pop("track"), "has no track"),
        (lambda d: d["track"].pop("hours"), "track.hours is missing"),
        (lambda d: d["track"]["time_s"].__setitem__(3, None), "track.time_s is missing or has"),
        (lambda d: d["legs"].pop(), "legs are not those"),
        (lambda d: d["track"].__setitem__("fuel_l", "much"), "track.fuel_l is not a list"),
    ],
)
def test_a_damaged_plan_is_refused_in_words(planned, tmp_path, change, words):
    data = copy.deepcopy(planned[1])
    change(data)
    path = tmp_path / "bad.json"
    path.write_text(json.dumps(data), encoding="utf-8")
    with pytest.raises(PlanFileError, match=words):
        read_plan(path)
