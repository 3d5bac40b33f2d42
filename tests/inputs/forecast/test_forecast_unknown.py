"""What a forecast does not know is never taken as known: hours, ranges, files of no use."""

from __future__ import annotations

import netCDF4
import numpy as np
import pytest

from passage.errors import ForecastError
from passage.inputs.forecast import Area, open_forecast
from passage.variables import COVERAGE

HOUR_S = 3600.0


def words(codes) -> list[str]:
    return [COVERAGE[int(c)] for c in np.ravel(codes)]


def test_two_fields_months_apart_are_not_joined(make_forecast) -> None:
    winter = make_forecast(hours=[0.0], start="2025-12-24T10:00", name="winter.nc")
    summer = make_forecast(hours=[0.0], start="2026-08-23T10:00", name="summer.nc")
    with open_forecast([winter, summer]) as forecast:
        got = forecast.sample(49.0, -7.0, forecast.time_from_s + np.array([0.0, 1e6]))
        assert forecast.gaps == (
            "waves: nothing between 2025-12-24T10:00Z and 2026-08-23T10:00Z; not bridged",
        )
    assert words(got.coverage) == ["ok", "time_gap"]
    assert np.isnan(got.height_m[1]).all()


@pytest.mark.parametrize(
    ("step_h", "wave", "current"),
    [(12.0, "ok", "ok"), (13.0, "time_gap", "ok"), (24.0, "time_gap", "ok"),
     (30.0, "time_gap", "ok"), (31.0, "time_gap", "time_gap")],
)  # fmt: skip
def test_no_more_than_half_a_day_is_bridged_and_a_day_of_current(
    make_forecast, maker, step_h, wave, current
) -> None:
    hours = step_h * np.arange(4)
    path = make_forecast(maker.sea() | maker.wind() | maker.current(), hours=hours)
    with open_forecast(path) as forecast:
        got = forecast.sample(49.0, -7.0, forecast.time_from_s + 1.4 * step_h * HOUR_S)
    assert words([got.coverage, got.wind_coverage, got.current_coverage]) == [wave, wave, current]


def test_runs_that_do_not_meet_are_not_joined_and_those_that_do_are(make_forecast) -> None:
    hours = np.arange(0.0, 10.0, 3.0)
    first = make_forecast(hours=hours, run="2026-03-14T00:00", name="first.nc")
    for gap_h, expected in ((3.0, "ok"), (7.0, "time_gap")):
        start = f"2026-03-14T{int(9 + gap_h):02d}:00"
        second = make_forecast(hours=hours, start=start, run=start, name=f"{gap_h}.nc")
        with open_forecast([first, second]) as forecast:
            between = forecast.time_from_s + (9.0 + gap_h / 2) * HOUR_S
            got = forecast.sample(49.0, -7.0, between)
        assert words(got.coverage) == [expected]
    # The same interval within one run, or where no run is stated, is bridged.
    plain = [
        make_forecast(hours=hours, name="a.nc"),
        make_forecast(hours=hours, start="2026-03-14T16:00", name="b.nc"),
    ]
    with open_forecast(plain) as forecast:
        got = forecast.sample(49.0, -7.0, forecast.time_from_s + 12.0 * HOUR_S)
    assert words(got.coverage) == ["ok"]


def test_a_chain_of_analyses_is_one_series(make_forecast) -> None:
    paths = [
        make_forecast(hours=[0.0], start=f"2026-03-14T{h:02d}:00", run=f"2026-03-14T{h:02d}:00",
                      name=f"{h}.nc")
        for h in (0, 6, 12, 18)
    ]  # fmt: skip
    with open_forecast(paths) as forecast:
        got = forecast.sample(49.0, -7.0, forecast.time_from_s + np.array([3.0, 9.0]) * HOUR_S)
    assert words(got.coverage) == ["ok", "ok"]


@pytest.mark.parametrize(
    "attrs",
    [{"valid_max": np.float32(3.0)}, {"valid_min": np.float32(0.0), "valid_max": np.float32(3.0)},
     {"valid_range": np.array([0.0, 3.0], np.float32)}],
)  # fmt: skip
@pytest.mark.parametrize("packed", [False, True])
def test_the_files_own_valid_range_is_applied(make_forecast, maker, attrs, packed) -> None:
    def height(lat, lon, hour):
        return np.where(lat > 49.2, 3.5, 2.0)

    variables = maker.sea(height)
    hs = variables["hs"]
    variables["hs"] = maker.Made(hs.values, hs.units, hs.standard_name, attrs)
    with open_forecast(make_forecast(variables, packed=packed)) as forecast:
        got = forecast.sample([48.2, 49.8], -7.0, forecast.time_from_s)
        (note,) = [n for n in forecast.notes if "calls valid" in n]
        own = forecast.own_range
    assert words(got.coverage) == ["ok", "masked"]
    percent = float(note.removeprefix("hs: ").split(" %")[0])
    assert 0.0 < percent < 100.0
    assert own == f"{note}."


def test_a_packed_valid_range_is_unpacked(make_forecast, maker) -> None:
    def height(lat, lon, hour):
        return np.where(lat > 49.2, 3.5, 2.0)

    path = make_forecast(maker.sea(height), packed=True)
    with netCDF4.Dataset(path, "a") as nc:
        hs = nc["hs"]
        stored = (np.array([0.0, 3.0]) - hs.add_offset) / hs.scale_factor
        # Beyond 16 bits the lower end is cut, as a supplier would.
        hs.valid_range = np.clip(stored, -32766, 32767).astype("i2")
    with open_forecast(path) as forecast:
        got = forecast.sample([48.2, 49.8], -7.0, forecast.time_from_s)
    assert words(got.coverage) == ["ok", "masked"]


def test_a_scale_factor_of_zero_is_refused(make_forecast) -> None:
    path = make_forecast(packed=True)
    with netCDF4.Dataset(path, "a") as nc:
        nc["hs"].scale_factor = 0.0
    with pytest.raises(ForecastError, match="variable 'hs' has scale_factor 0"):
        open_forecast(path)


def test_a_file_of_which_nothing_is_known_is_refused_by_name(make_forecast, maker) -> None:
    waves = make_forecast()
    odd = make_forecast({"gust": maker.Made(9.0, "m s-1"), "t2m": maker.Made(280.0, "K")},
                        name="odd.nc")  # fmt: skip
    with pytest.raises(ForecastError, match=r"odd\.nc.*nothing of this file is used.*gust, t2m"):
        open_forecast([waves, odd])


def test_a_file_that_is_known_and_not_used_is_noted(make_forecast, maker) -> None:
    half = make_forecast({"u10": maker.wind()["u10"]}, name="half.nc")
    with open_forecast([make_forecast(), half]) as forecast:
        notes = " ".join(forecast.notes)
    assert "half.nc: nothing of this file is used (variables: u10)" in notes


def test_wind_of_another_common_name_is_read(make_forecast, maker) -> None:
    variables = maker.sea() | {
        "ugrd10m": maker.Made(4.0, "m s-1"),
        "vgrd10m": maker.Made(-2.0, "m s-1"),
    }
    with open_forecast(make_forecast(variables)) as forecast:
        got = forecast.sample(49.0, -7.0, forecast.time_from_s)
    np.testing.assert_allclose([got.wind_u_m_s, got.wind_v_m_s], [4.0, -2.0], rtol=1e-6)


# --- words ---------------------------------------------------------------------


def refusal(paths, **asked) -> str:
    with pytest.raises(ForecastError) as caught:
        open_forecast(paths, **asked)
    return str(caught.value)


def test_a_single_time_is_named_with_its_remedy(make_forecast, maker) -> None:
    path = make_forecast(hours=[10.0])
    start = maker.start_s()
    text = refusal(path, time_from_s=start + 12 * HOUR_S, time_to_s=start + 20 * HOUR_S)
    assert "holds 2026-03-14T10:00Z only" in text
    assert "--single-time" in text
    assert "leave" not in text.lower()
    with open_forecast(path, hold_single_step_s=3 * HOUR_S) as forecast:
        assert any("within 3 h" in note for note in forecast.notes)


def test_message_says_whether_time_or_place_is_missing(make_forecast, maker) -> None:
    path = make_forecast()
    here = Area(48.5, 49.5, -7.5, -6.5)
    start = maker.start_s()
    late = refusal(path, area=here, time_from_s=start + 90 * HOUR_S, time_to_s=start + 99 * HOUR_S)
    assert "no hour in common" in late
    assert "outside" not in late
    away = refusal(path, area=Area(30.0, 31.0, -20.0, 5.0), time_from_s=start)
    assert "covers 48.00 to 50.00 N, 8.00 to 6.00 W" in away
    assert "30.00 to 31.00 N, 20.00 W to 5.00 E" in away


def test_a_height_without_period_and_direction_is_reported(make_forecast, maker) -> None:
    sea = maker.sea()
    text = refusal(make_forecast({"hs": sea["hs"]}))
    assert "a wave height without a period and a direction" in text
    text = refusal(make_forecast({"hs": sea["hs"], "tp": sea["tp"]}, name="two.nc"))
    assert "a wave height without a direction" in text


def test_stations_are_refused_as_points(tmp_path) -> None:
    path = tmp_path / "stations.nc"
    with netCDF4.Dataset(path, "w") as nc:
        nc.createDimension("time", 2)
        nc.createDimension("station", 3)
        for name, dims, units, values in (
            ("time", ("time",), "hours since 2026-03-14 00:00:00", [0.0, 3.0]),
            ("latitude", ("station",), "degrees_north", [48.0, 49.0, 50.0]),
            ("longitude", ("station",), "degrees_east", [-8.0, -7.0, -6.0]),
            ("swh", ("time", "station"), "m", np.full((2, 3), 2.0)),
        ):
            made = nc.createVariable(name, "f8", dims)
            made.units = units
            made[:] = values
    assert "points" in (text := refusal(path))
    assert "not a grid" in text
