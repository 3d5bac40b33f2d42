"""Several files: joined in time and by variable, clashes refused, gaps reported."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from passage.errors import ForecastError
from passage.inputs.forecast import open_forecast
from passage.variables import COVERAGE

SINGLE = 1e-6


def words(codes):
    return [COVERAGE[int(c)] for c in np.atleast_1d(codes)]


def test_waves_wind_and_current_on_their_own_grids(make_forecast, maker) -> None:
    waves = make_forecast(name="waves.nc")
    wind = make_forecast(
        maker.wind(lambda a, o, h: a, lambda a, o, h: h),
        name="wind.nc", lat=np.arange(47, 51.01, 0.1), lon=np.arange(350, 356.01, 0.1),
        hours=np.arange(0, 13, 1.0),
    )  # fmt: skip
    current = make_forecast(
        maker.current(lambda a, o, h: 0.1 * o, 0.2), name="current.nc",
        lat=np.arange(49, 50.01, 0.05)[::-1], lon=np.arange(-7, -6, 0.05),
    )  # fmt: skip
    with open_forecast([waves, wind, current]) as forecast:
        got = forecast.sample([49.33, 48.2], -6.71, forecast.time_from_s + 5400.0)
        assert len(forecast.sources) == 3
        assert forecast.notes == ("no partitions (wind sea, swell): the total sea is one system",)
    assert_allclose(got.wind_u_m_s, [49.33, 48.2], rtol=2e-6)
    assert_allclose(got.wind_v_m_s, 1.5, rtol=2e-6)
    assert_allclose(got.current_u_m_s, [-0.671, np.nan], rtol=2e-6)
    assert words(got.current_coverage) == ["ok", "outside_area"]
    assert words(got.coverage) == ["ok", "ok"]


def test_files_follow_each_other_in_time_in_any_order(make_forecast, maker) -> None:
    def height(lat, lon, hour):
        return np.sqrt(1.0 + 0.1 * hour)

    second = make_forecast(
        maker.sea(lambda a, o, h: height(a, o, h + 15)), name="b.nc",
        start="2026-03-14T15:00", lat=maker.LAT[::-1],
    )  # fmt: skip
    first = make_forecast(maker.sea(height), name="a.nc")
    after = np.array([0.0, 6.0, 12.0, 13.5, 15.0, 20.0, 27.0])
    with open_forecast([second, first]) as forecast:
        got = forecast.sample(49.0, -7.0, forecast.time_from_s + 3600.0 * after)
    assert words(got.coverage) == ["ok"] * 7
    assert_allclose(got.height_m[:, 0] ** 2, 1.0 + 0.1 * after, rtol=2e-6)


def test_one_variable_in_each_file(make_forecast, maker) -> None:
    every = maker.sea()
    paths = [make_forecast({k: v}, name=f"{k}.nc") for k, v in every.items()]
    with open_forecast(paths) as forecast:
        got = forecast.sample(49.0, -7.0, forecast.time_from_s)
    assert_allclose(got.peak_period_s, [8.0], rtol=SINGLE)


def test_hours_that_not_every_variable_has_are_left_out_and_reported(make_forecast, maker) -> None:
    every = maker.sea()
    one = make_forecast({"hs": every.pop("hs")}, name="h.nc", hours=np.arange(0, 13, 1.0))
    two = make_forecast(every, name="rest.nc", hours=np.arange(3, 13, 3.0))
    with open_forecast([one, two]) as forecast:
        assert any("9 of 13 hours are left out" in note for note in forecast.notes)
        got = forecast.sample(49.0, -7.0, forecast.time_from_s + 1800.0)
        assert forecast.time_to_s - forecast.time_from_s == 9 * 3600.0
    assert words(got.coverage) == ["ok"]


def test_runs_that_overlap_are_refused_where_asked(make_forecast) -> None:
    one = make_forecast(name="a.nc", run="2026-03-14T00:00")
    two = make_forecast(name="b.nc", run="2026-03-14T06:00", start="2026-03-14T06:00")
    with pytest.raises(ForecastError) as caught:
        open_forecast([one, two], newest_run=False)
    text = str(caught.value)
    for word in ("2026-03-14T06:00Z to 2026-03-14T12:00Z", "a.nc and b.nc",
                 "runs 2026-03-14T00:00Z and 2026-03-14T06:00Z", "must not be mixed"):  # fmt: skip
        assert word in text
    with open_forecast([two, two]) as forecast:  # the same file twice is one file
        assert len(forecast.sources) == 1


def test_waves_and_wind_of_other_days_are_refused(make_forecast, maker) -> None:
    waves = make_forecast(name="a.nc")
    wind = make_forecast(maker.wind(), name="b.nc", start="2026-03-20T00:00")
    with pytest.raises(ForecastError, match=r"wind runs 2026-03-20.*do not overlap"):
        open_forecast([waves, wind])


def test_another_grid_for_the_same_quantity_is_refused(make_forecast) -> None:
    one = make_forecast(name="a.nc")
    two = make_forecast(name="b.nc", start="2026-03-15T00:00", lat=[48.0, 49.0, 50.0])
    with pytest.raises(ForecastError, match="another grid"):
        open_forecast([one, two])


def test_the_wind_given_last_is_used_and_reported(make_forecast, maker) -> None:
    waves = make_forecast(maker.sea() | maker.wind(3.0), name="waves.nc")
    wind = make_forecast(maker.wind(7.0), name="wind.nc", lat=np.arange(47, 51, 0.25))
    with open_forecast([waves, wind]) as forecast:
        got = forecast.sample(49.0, -7.0, forecast.time_from_s)
        assert any("wind.nc (given last) is used" in note for note in forecast.notes)
    assert_allclose(got.wind_u_m_s, 7.0, rtol=SINGLE)


def test_a_gap_is_reported_and_not_bridged(make_forecast) -> None:
    path = make_forecast(hours=[0, 1, 2, 3, 10, 11, 12])
    with open_forecast(path) as forecast:
        start = forecast.time_from_s
        after = np.array([2.5, 3.0, 5.0, 10.0, 10.5]) * 3600.0
        got = forecast.sample(49.0, -7.0, start + after)
        assert any(
            "nothing between 2026-03-14T03:00Z and 2026-03-14T10:00Z" in note
            for note in forecast.notes
        )
    assert words(got.coverage) == ["ok", "ok", "time_gap", "ok", "ok"]


def test_widening_steps_are_not_a_gap(make_forecast) -> None:
    hours = [0, 1, 2, 3, 6, 9, 12, 18, 24, 36, 48]
    with open_forecast(make_forecast(hours=hours)) as forecast:
        got = forecast.sample(49.0, -7.0, forecast.time_from_s + 42 * 3600.0)
        assert not any("nothing between" in note for note in forecast.notes)
    assert words(got.coverage) == ["ok"]


def test_run_and_step_give_the_valid_time(tmp_path, maker) -> None:
    import xarray as xr

    path = maker.write_forecast(tmp_path / "plain.nc")
    with xr.open_dataset(path, decode_times=False) as plain:
        data = plain.load()
    steps = data["time"].values
    data = data.rename(time="step").assign_coords(step=("step", steps))
    data["step"].attrs = {"units": "hours", "standard_name": "forecast_period"}
    data = data.assign_coords(time=((), 0.0))
    data["time"].attrs = {
        "units": "hours since 2026-03-14",
        "standard_name": "forecast_reference_time",
    }
    for name, dims in (("scalar.nc", ()), ("dimension.nc", ("time",))):
        shaped = data if not dims else data.expand_dims("time")
        shaped.to_netcdf(tmp_path / name)
        with open_forecast(tmp_path / name) as forecast:
            assert forecast.time_from_s == maker.start_s()
            assert forecast.time_to_s == maker.start_s() + 12 * 3600.0
            assert forecast.sources[0].run_utc == "2026-03-14T00:00Z"
            got = forecast.sample(49.0, -7.0, forecast.time_from_s + 3600.0)
        assert_allclose(got.height_m, [1.5], rtol=SINGLE)


def test_several_runs_in_one_file_are_refused_when_they_overlap(tmp_path, maker) -> None:
    import xarray as xr

    path = maker.write_forecast(tmp_path / "plain.nc")
    with xr.open_dataset(path, decode_times=False) as plain:
        data = plain.load()
    data = data.rename(time="step").assign_coords(step=("step", data["time"].values))
    data["step"].attrs = {"units": "hours"}
    both = xr.concat([data, data], dim="time").assign_coords(time=("time", [0.0, 6.0]))
    both["time"].attrs = {"units": "hours since 2026-03-14"}
    both.to_netcdf(tmp_path / "runs.nc")
    with pytest.raises(ForecastError, match="several runs"):
        open_forecast(tmp_path / "runs.nc")
    apart = both.assign_coords(time=("time", [0.0, 15.0]))
    apart["time"].attrs = both["time"].attrs
    apart.to_netcdf(tmp_path / "apart.nc")
    with open_forecast(tmp_path / "apart.nc") as forecast:
        got = forecast.sample(49.0, -7.0, forecast.time_to_s - 3600.0)
    assert_allclose(got.height_m, [1.5], rtol=SINGLE)


def test_provenance(make_forecast) -> None:
    import hashlib

    path = make_forecast(run="2026-03-14T00:00")
    with open_forecast(path) as forecast:
        (source,) = forecast.sources
    assert source.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert source.hashed == "whole file"
    assert source.producer == "Invented for tests"
    assert source.run_utc == "2026-03-14T00:00Z"
    assert "total_height" in source.gives


def test_large_files_are_hashed_by_their_ends(tmp_path, monkeypatch) -> None:
    import passage.inputs.forecast.opener as opener

    path = tmp_path / "large.bin"
    path.write_bytes(b"a" * 3_000_000)
    whole = opener.sha256_of(path)
    monkeypatch.setattr(opener, "HASH_WHOLE_BYTES", 2_500_000)
    ends = opener.sha256_of(path)
    assert (whole[1], ends[1]) == ("whole file", "ends and size")
    path.write_bytes(b"a" * 2_999_999 + b"b")
    assert opener.sha256_of(path)[0] != ends[0]


def test_hours_agree_whatever_they_are_counted_in(make_forecast, maker) -> None:
    every = maker.sea()
    hours = np.arange(0, 13, 1.0)
    one = make_forecast({"hs": every.pop("hs")}, name="h.nc", hours=hours)
    two = make_forecast(
        every, name="rest.nc", hours=hours / 24.0 + 6668.0 + 2.0 / 3.0,
        time_units="days since 2007-12-10 08:00",
    )  # fmt: skip
    with open_forecast([one, two]) as forecast:
        assert forecast.time_to_s - forecast.time_from_s == 12 * 3600.0
        assert not any("left out" in note for note in forecast.notes)
