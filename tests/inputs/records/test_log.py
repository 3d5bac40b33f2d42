"""Reading passage logs: units, order, gaps, and every problem at once."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from passage.errors import LogError
from passage.inputs.records.log import FINS_UNKNOWN, parse_log, read_log

HEADER = "time,lat,lon,heading_deg,speed_through_water_kn,fuel_l_per_h,roll_rms_deg,fins"
ROW = "2026-03-02T08:30Z,44.2,-6.1,215,11.8,201,1.9,active"


def test_units_and_codes():
    log = parse_log(f"{HEADER}\n{ROW}\n", file="log.csv")
    assert len(log) == 1
    assert_allclose(log.speed_through_water_m_s, 11.8 * 1852 / 3600, rtol=1e-12)
    assert_allclose(log.heading_rad, np.deg2rad(215), rtol=1e-12)
    assert_allclose(log.roll_rms_rad, np.deg2rad(1.9), rtol=1e-12)
    # Seconds since 1970, from Python's own calendar.
    from datetime import UTC, datetime

    assert log.time_s[0] == datetime(2026, 3, 2, 8, 30, tzinfo=UTC).timestamp()
    assert log.fins.tolist() == [1]
    assert log.line.tolist() == [2]
    assert np.isnan(log.significant_height_m[0])
    assert np.isnan(log.speed_over_ground_m_s[0])


def test_empty_cells_are_missing_and_rows_are_sorted():
    rows = "2026-03-02T10:30+02:00,,,,10,,,\n2026-03-02T08:00Z,1,2,0,11,1,0,centred"
    text = f"# remark\n{HEADER}\n{rows}"
    log = parse_log(text, file="log.csv")
    assert_allclose(log.time_s[1] - log.time_s[0], 1800.0, rtol=1e-7)
    assert log.line.tolist() == [4, 3]
    assert log.fins.tolist() == [0, FINS_UNKNOWN]
    assert np.isnan(log.fuel_l_per_h[1])
    assert "sorted" in " ".join(log.notes)


def test_kind_of_sea():
    text = "time,speed_over_ground_kn,sea\n" + "".join(
        f"2026-03-02T08:30Z,10,{word}\n" for word in ("", "Swell", "wind  sea", "mixed")
    )
    assert parse_log(text, file="l").sea.tolist() == [0, 2, 1, 0]
    with pytest.raises(LogError, match="sea = 'rough' is not one of mixed, wind sea, swell"):
        parse_log(text.replace("Swell", "rough"), file="l")


def test_semicolons_and_degrees_with_minutes():
    text = f"{HEADER}\n{ROW}\n".replace(",", ";").replace("44.2", "44 12.0N")
    assert_allclose(parse_log(text, file="l").lat_deg, 44.2, rtol=1e-12)


def test_all_problems_in_one_message_with_lines_units_and_advice():
    text = "\n".join(
        [
            HEADER,
            "2026-03-02T08:30,44.2,-6.1,215,11.8,201,1.9,active",
            "2026-03-02T09:30Z,95,-6.1,400,11.8,201,1.9,active",
            "2026-03-02T10:30Z,44.2,-6.1,215,eleven,-5,1.9,on",
        ]
    )
    with pytest.raises(LogError) as caught:
        parse_log(text, file="log.csv")
    message = str(caught.value)
    for part in (
        "log.csv:2: time = '2026-03-02T08:30' has no zone; add Z",
        "log.csv:3:",
        "heading_deg = 400 deg must be at least 0 and at most 360 deg",
        "log.csv:4: fins = 'on' is not one of centred, active",
        "speed_through_water_kn = 'eleven' is not a number; give a plain number in kn",
        "fuel_l_per_h = -5 l/h must be at least 0",
    ):
        assert part in message
    assert message.count("\n") == 5


@pytest.mark.parametrize(
    ("header", "message"),
    [
        ("time,speed_kn", "Write speed_through_water_kn or"),
        ("time,rol_rms_deg", "Did you mean roll_rms_deg"),
        ("time,heading_deg", "neither speed_through_water_kn nor speed_over_ground_kn"),
        ("speed_over_ground_kn", "the header lacks time"),
        ("time,speed_over_ground_kn,lat", "lat without lon"),
        ("time,speed_over_ground_kn,wind_from_deg", "wind_from_deg without wind_speed_kn"),
        ("time,speed_over_ground_kn,peak_period_s", "lacks significant_height_m, wave_from_deg"),
        ("time,speed_over_ground_kn,time", "time appears twice"),
    ],
)
def test_headers_that_cannot_be_used(header, message):
    with pytest.raises(LogError, match=message):
        parse_log(f"{header}\n2026-03-02T08:30Z\n", file="log.csv")


def test_many_problems_are_counted():
    rows = "\n".join(["2026-03-02T08:30Z,x"] * 50)
    with pytest.raises(LogError, match="and 30 more problems"):
        parse_log(f"time,speed_over_ground_kn\n{rows}\n", file="log.csv")


def test_decimal_comma_and_emptiness():
    with pytest.raises(LogError, match="decimal point"):
        parse_log("time,speed_over_ground_kn\n2026-03-02T08:30Z,11,5\n", file="l")
    with pytest.raises(LogError, match="is empty"):
        parse_log("", file="l")
    with pytest.raises(LogError, match="no intervals"):
        parse_log("time,speed_over_ground_kn\n", file="l")


def test_files_that_cannot_be_read(tmp_path):
    with pytest.raises(LogError, match="does not exist"):
        read_log(tmp_path / "none.csv")
    binary = tmp_path / "b.csv"
    binary.write_bytes(b"time,\xff\xfe")
    with pytest.raises(LogError, match="UTF-8"):
        read_log(binary)
    good = tmp_path / "g.csv"
    good.write_text(f"\ufeff{HEADER}\n{ROW}\n", encoding="utf-8")
    assert len(read_log(good)) == 1
