"""Bands hold the truth over many logs and vessels, and a planned passage gives the file back."""

import numpy as np
import pytest
from review_logs import FORECASTS, SAMPLES, make_plan, stamp
from schema_tool import tool

from passage.inputs.forecast import open_forecast
from passage.inputs.records.log import parse_log
from passage.inputs.vessel import read_vessel
from passage.planning.calibrate.calibrate import calibrate


@pytest.mark.slow
def test_bands_hold_their_share_of_truths_of_a_listed_vessel():
    """Ten logs of one vessel; 200 of five are in docs/calibration.md."""
    made = tool("check_calibration")
    held = made.check(made.VESSELS[2], 10)
    assert held.logs + held.refused == 10
    assert held.logs >= 8
    assert held.bands >= 0.93 * held.of
    # Bands of no width hold nothing, and of any width everything: some values are written.
    assert made.check(made.VESSELS[0], 3).written > 10


@pytest.mark.slow
def test_a_planned_passage_as_a_log_gives_the_vessel_file_back(tmp_path):
    """Wind heel, list, fins that hold it and fuel burnt on the way: all priced as planned."""
    track = make_plan(tmp_path / "plan.json")["track"]
    lines = ["time,lat,lon,speed_through_water_kn,fuel_l_per_h,roll_rms_deg,fins,heading_deg"]
    for at, hours in enumerate(track["hours"]):
        works = track["fin_angle_rms_deg"][at] > 0.0
        roll = track["roll_active_rms_deg" if works else "roll_centred_rms_deg"][at]
        lines.append(
            f"{stamp(track['time_s'][at])},{track['lat_deg'][at]},{track['lon_deg'][at]},"
            f"{track['speed_through_water_kn'][at]},{track['fuel_main_engines_l'][at] / hours},"
            f"{roll},{'active' if works else 'centred'},{track['track_course_deg'][at] % 360.0}"
        )
    file = SAMPLES / "brambling.toml"
    vessel, text = read_vessel(file), file.read_text(encoding="utf-8")
    with open_forecast(FORECASTS) as sea:
        found = calibrate(parse_log("\n".join(lines) + "\n", file="log.csv"), vessel, sea)
    assert [key.words for key in found.keys if key.differs] == []
    assert found.new_text(text) == text
    fuel = np.log(found.fuel.before / found.fuel.measured)
    # The course laid off for current turns the waves by a degree or two.
    assert np.max(np.abs(fuel)) < 0.02
