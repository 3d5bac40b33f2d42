"""``passage plan`` as a user meets it: outputs agree, contract keys, exit codes, words."""

import csv
import io
import json
import subprocess
import sys
from pathlib import Path

import netCDF4
import numpy as np
import pytest
from click.testing import CliRunner
from numpy.testing import assert_allclose

from passage.cli.main import group, main
from passage.errors import PassageError
from passage.variables import LEG_VARIABLES

SAMPLES = Path(__file__).parents[2] / "sample_forecasts"
FILES = [
    "--vessel",
    str(SAMPLES / "brambling.toml"),
    *(x for part in ("waves", "wind", "current")
      for x in ("--forecast", str(SAMPLES / f"biscay_{part}.nc"))),
]  # fmt: skip
LEAVE = ["--departure", "2026-03-14T06:00Z"]

#: Keys of one leg that outside readers rely on (docs/plan.md).
CONTRACT = (
    "leg from to type distance_nm course_true_deg etd_utc eta_utc hours speed_through_water_kn "
    "speed_over_ground_kn coverage significant_height_m peak_period_s wave_from_deg "
    "encounter_angle_deg encounter_side encounter_period_s natural_roll_period_s "
    "roll_centred_rms_deg roll_active_rms_deg roll_centred_significant_deg "
    "roll_active_significant_deg roll_reduction_percent fin_angle_rms_deg fin_at_limit_percent "
    "fin_travel_deg_per_h steady_heel_deg fin_offset_deg fin_drag_active_n fin_drag_offset_n "
    "fuel_l fuel_fins_active_l fuel_fins_offset_l fuel_waves_l fuel_wind_l "
    "motion_sickness_percent lateral_acceleration_rms_g vertical_acceleration_rms_g"
).split()


def run(*words, route="western.csv", files=FILES, leave=LEAVE):
    arguments = ["plan", str(SAMPLES / route), *files, *leave, *map(str, words)]
    return CliRunner().invoke(group, arguments, standalone_mode=False)


@pytest.fixture(scope="module")
def as_json():
    result = run("--format", "json")
    assert result.exception is None
    return json.loads(result.stdout)


def test_json_keeps_the_contract(as_json):
    for key in (
        "schema_version passage_version created_utc vessel route departure_utc provenance legs "
        "totals cautions decisions"
    ).split():
        assert key in as_json
    assert set(as_json["provenance"]) >= {"forecasts", "methods", "estimated"}
    for forecast in as_json["provenance"]["forecasts"]:
        assert set(forecast) >= {"file", "sha256", "producer", "run_utc"}
    for leg in as_json["legs"]:
        assert list(leg)[: len(CONTRACT)] == CONTRACT
        assert set(leg) == {variable.name for variable in LEG_VARIABLES}
    for caution in as_json["cautions"]:
        assert set(caution) == {"code", "severity", "legs", "text"}
    assert as_json["departure_utc"] == "2026-03-14T06:00Z"


def test_json_has_null_and_never_nan():
    late = ["--departure", "2026-03-16T18:00Z"]
    result = run("--format", "json", leave=late)
    assert result.exception is None
    assert "NaN" not in result.stdout
    assert "Infinity" not in result.stdout
    legs = json.loads(result.stdout)["legs"]
    assert legs[-1]["coverage"] == "after_forecast"
    assert legs[-1]["fuel_l"] is None
    assert legs[-1]["fuel_still_water_l"] > 0


def test_csv_equals_json(as_json):
    result = run("--format", "csv")
    rows = list(csv.DictReader(io.StringIO(result.stdout)))
    assert len(rows) == len(as_json["legs"])
    for row, leg in zip(rows, as_json["legs"], strict=True):
        for name, value in leg.items():
            if value is None:
                assert row[name] == ""
            elif isinstance(value, float):
                assert_allclose(float(row[name]), value, rtol=1e-5)
            else:
                assert row[name] == str(value)


def test_netcdf_is_a_cf_trajectory_with_the_same_fuel(as_json, tmp_path):
    target = tmp_path / "plan.nc"
    assert run("--format", "netcdf", "-o", target).exception is None
    with netCDF4.Dataset(target) as data:
        assert data.featureType == "trajectory"
        assert data["trajectory"].cf_role == "trajectory_id"
        assert data["time"].standard_name == "time"
        assert_allclose(np.sum(data["fuel_l"][:]), as_json["totals"]["fuel_l"], rtol=1e-9)
        assert np.all(np.diff(data["time"][:]) > 0)
        assert data["roll_active_rms_deg"].units == "degree"


def test_leg_table_adds_up(as_json):
    legs, totals = as_json["legs"], as_json["totals"]
    assert_allclose(sum(leg["fuel_l"] for leg in legs), totals["fuel_l"], rtol=1e-12)
    for leg in legs:
        parts = sum(
            leg[f"fuel_{part}_l"]
            for part in "still_water waves wind fins_active fins_offset list hotel".split()
        )
        assert_allclose(parts, leg["fuel_l"], rtol=1e-12)
        assert_allclose(
            leg["roll_active_significant_deg"], 2 * leg["roll_active_rms_deg"], rtol=1e-7
        )
        assert_allclose(leg["hours"] * leg["speed_over_ground_kn"], leg["distance_nm"], rtol=1e-9)
    assert legs[0]["eta_utc"] == legs[1]["etd_utc"]


def test_speed_option_goes_before_the_route(tmp_path):
    route = tmp_path / "r.csv"
    route.write_text("name,lat,lon,leg,speed_kn\nA,46,-7,,\nB,45,-7,rhumb,9\n")
    own = run("--format", "json", route=route)
    given = run("--format", "json", "--speed", 11, route=route)
    assert_allclose(json.loads(own.stdout)["legs"][0]["speed_through_water_kn"], 9.0, rtol=1e-7)
    assert_allclose(json.loads(given.stdout)["legs"][0]["speed_through_water_kn"], 11.0, rtol=1e-7)


def test_holding_ground_speed(as_json):
    result = run("--format", "json", "--hold", "ground", "--speed", 11)
    for leg in json.loads(result.stdout)["legs"]:
        assert_allclose(leg["speed_over_ground_kn"], 11.0, rtol=1e-6)


def test_holding_fuel_loses_speed_in_the_sea():
    result = run("--format", "json", "--hold", "fuel")
    legs = json.loads(result.stdout)["legs"]
    assert all(leg["speed_through_water_kn"] < 12.0 for leg in legs)


def test_arrival_time_is_met():
    result = run("--format", "json", "--arrive", "2026-03-15T18:00Z")
    assert json.loads(result.stdout)["legs"][-1]["eta_utc"] == "2026-03-15T18:00Z"


def test_beyond_the_engines_power_she_slows():
    plan = json.loads(run("--format", "json", "--speed", 15).stdout)
    assert any(leg["speed_through_water_kn"] < 14.8 for leg in plan["legs"])
    assert any("engines" in note for note in plan["notes"])


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("--strict",), 0),
        (("--fail-on-limit",), 6),
    ],
)
def test_exit_codes_of_checks(words, code):
    result = run(*words)
    assert (result.exception.exit_code if result.exception else 0) == code


def test_strict_says_which_leg_is_not_covered():
    result = run("--strict", leave=["--departure", "2026-03-16T18:00Z"])
    assert isinstance(result.exception, PassageError)
    assert result.exception.exit_code == 5
    assert "leg 1 lies after the forecast ends" in str(result.exception)


@pytest.mark.parametrize(
    ("leave", "word"),
    [
        ("2026-03-14T06:00", "no zone"),
        ("yesterday", "not a time"),
        ("2026-02-30T06:00Z", "not a time"),
    ],
)
def test_an_invalid_departure_time_is_refused(leave, word):
    result = run(leave=["--departure", leave])
    assert word in str(result.exception)


def test_offset_zones_are_understood(as_json):
    result = run("--format", "json", leave=["--departure", "2026-03-14T07:00+01:00"])
    assert json.loads(result.stdout)["departure_utc"] == as_json["departure_utc"]


def test_entry_point_separates_streams_and_gives_the_code():
    arguments = ["plan", "no.csv", *FILES, *LEAVE]
    code = "import sys; from passage.cli.main import main; sys.argv[0]='passage'; main()"
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments], capture_output=True, text=True, check=False
    )
    assert done.returncode == 3
    assert done.stdout == ""
    assert "no.csv" in done.stderr
    assert "Traceback" not in done.stderr
    assert callable(main)


def test_real_era5_waves_give_a_storm_and_say_what_is_missing(open_data, tmp_path):
    """ERA5, southern North Sea, October 2017 (contains modified Copernicus information)."""
    sea = ["--vessel", str(SAMPLES / "brambling.toml"), "--forecast",
           str(open_data / "era5_waves_southern_north_sea_2017-10.nc")]  # fmt: skip
    quiet, storm = tmp_path / "quiet.csv", tmp_path / "storm.csv"
    quiet.write_text("name,lat,lon\nA,52.5,3.5\nB,54.6,5.2\n")
    storm.write_text("name,lat,lon\nC,54.5,2.0\nD,54.5,7.0\n")
    first = json.loads(
        run("--format", "json", route=quiet, files=sea,
            leave=["--departure", "2017-10-27T06:00Z"]).stdout
    )  # fmt: skip
    assert first["legs"][0]["coverage"] == "ok"
    assert any("no partitions" in note for note in first["notes"])
    assert any("no wind" in note for note in first["notes"])
    wild = json.loads(
        run("--format", "json", route=storm, files=sea,
            leave=["--departure", "2017-10-29T02:00Z"]).stdout
    )  # fmt: skip
    # The folder's README: up to 8 m on 29 October.
    assert 5.0 < wild["legs"][0]["significant_height_m"] < 8.5
    off = json.loads(
        run("--format", "json", route=storm, files=sea,
            leave=["--departure", "2017-10-29T12:00Z"]).stdout
    )  # fmt: skip
    assert off["legs"][0]["coverage"] == "after_forecast"
    # Means are those of the part that the file covers; sums of so small a part are not given.
    assert 0.0 < off["legs"][0]["known_percent"] < 80.0
    assert off["legs"][0]["fuel_l"] is None
    assert off["totals"]["fuel_l"] is None
    late = run(route=storm, files=sea, leave=["--departure", "2017-11-02T00:00Z"])
    assert late.exception.exit_code == 4


def test_weighting_never_rolls_more_than_the_gains_given():
    plan = json.loads(run("--format", "json", "--weighting").stdout)
    found = [one for one in plan["decisions"] if one["kind"] == "fin_gains"]
    assert [one["legs"] for one in found] == [[1], [2], [3], [4]]
    for one in found:
        assert one["roll_best_significant_deg"] <= one["roll_given_significant_deg"] + 1e-9
        assert set(one["gains"]) == {"rate_gain_s", "angle_gain", "acceleration_gain_s2"}
