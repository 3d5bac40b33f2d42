"""Files that must be refused, each with its reason; nothing may be guessed."""

from __future__ import annotations

import os

import netCDF4
import numpy as np
import pytest

from passage.errors import ForecastError, NoCoverage, UnknownConvention
from passage.inputs.forecast import Area, open_forecast, read_map


def refusal(path, kind=ForecastError, **options) -> str:
    with pytest.raises(kind) as caught:
        open_forecast(path, **options)
    assert caught.value.exit_code == 4
    return str(caught.value)


def change(path, do) -> None:
    with netCDF4.Dataset(path, "a") as nc:
        do(nc)


def test_unknown_direction_convention(make_forecast, maker) -> None:
    variables = maker.sea()
    del variables["mdir"]
    variables["MWD"] = maker.Made(270.0, "degree", attrs={"long_name": "wave direction"})
    path = make_forecast(variables)
    text = refusal(path, UnknownConvention)
    assert "'MWD'" in text
    assert '"from"' in text
    assert '"to"' in text
    with open_forecast(path, names={"MWD": "total_to_direction"}) as forecast:
        got = forecast.sample(49.0, -7.0, forecast.time_from_s)
    np.testing.assert_allclose(got.from_rad, np.radians(90.0), rtol=1e-6)


@pytest.mark.parametrize("name", ["DIR", "PDIR"])
def test_names_that_depend_on_an_option_of_the_run(make_forecast, maker, name) -> None:
    variables = maker.sea()
    del variables["mdir"]
    variables[name] = maker.Made(270.0, "degree")
    assert name in refusal(make_forecast(variables), UnknownConvention)
    told = make_forecast(variables, name="told.nc", attrs={"Directional_convention": "nautical"})
    with open_forecast(told) as forecast:
        got = forecast.sample(49.0, -7.0, forecast.time_from_s)
    np.testing.assert_allclose(got.from_rad, np.radians(270.0), rtol=1e-6)


@pytest.mark.parametrize("name", ["hs", "tp", "mdir"])
@pytest.mark.parametrize("unit", ["", "furlong"])
def test_unknown_or_missing_unit(make_forecast, maker, name, unit) -> None:
    variables = maker.sea()
    old = variables[name]
    variables[name] = maker.Made(old.values, unit, old.standard_name)
    path = make_forecast(variables)
    text = refusal(path, UnknownConvention)
    assert f"'{name}'" in text
    assert (unit or "no unit") in text
    unit_of = {"hs": "total_height, m", "tp": "total_peak_period, s",
               "mdir": "total_from_direction, degree"}  # fmt: skip
    with open_forecast(path, names={name: unit_of[name]}) as forecast:
        assert forecast.sample(49.0, -7.0, forecast.time_from_s).height_m[0] > 1.4


def test_every_problem_of_a_file_at_once(make_forecast, maker) -> None:
    variables = {
        "hs": maker.Made(1.5, "", maker.sea()["hs"].standard_name),
        "tp": maker.Made(8.0, "fortnight", maker.sea()["tp"].standard_name),
        "wavedir": maker.Made(8.0, "degree", attrs={"long_name": "wave direction"}),
    }
    text = refusal(make_forecast(variables))
    for word in ("'hs'", "'tp'", "'wavedir'"):
        assert word in text
    assert len(text.splitlines()) == 3


def curvilinear(path, standard="latitude") -> None:
    with netCDF4.Dataset(path, "w") as nc:
        for dim, n in (("time", 2), ("y", 3), ("x", 4)):
            nc.createDimension(dim, n)
        time = nc.createVariable("time", "f8", ("time",))
        time.units, time[:] = "hours since 2026-03-14", [0, 1]
        for name, unit in (("lat", "degrees_north"), ("lon", "degrees_east")):
            axis = nc.createVariable(name, "f8", ("y", "x"))
            axis.units, axis[:] = unit, np.arange(12).reshape(3, 4)
        hs = nc.createVariable("hs", "f4", ("time", "y", "x"))
        hs.units, hs[:] = "m", 1.0


def test_two_dimensional_grid(tmp_path) -> None:
    curvilinear(tmp_path / "grid.nc")
    text = refusal(tmp_path / "grid.nc", UnknownConvention)
    assert "two-dimensional" in text
    assert "regular latitude-longitude grid" in text


def test_rotated_grid(make_forecast) -> None:
    path = make_forecast()

    def rotate(nc) -> None:
        pole = nc.createVariable("rotated_pole", "i4")
        pole.grid_mapping_name = "rotated_latitude_longitude"

    change(path, rotate)
    assert "rotated" in refusal(path, UnknownConvention)


def test_list_of_points(tmp_path) -> None:
    path = tmp_path / "points.nc"
    with netCDF4.Dataset(path, "w") as nc:
        nc.createDimension("time", 2)
        nc.createDimension("node", 5)
        time = nc.createVariable("time", "f8", ("time",))
        time.units, time[:] = "hours since 2026-03-14", [0, 1]
        for name, unit in (("lat", "degrees_north"), ("lon", "degrees_east")):
            axis = nc.createVariable(name, "f8", ("node",))
            axis.units, axis[:] = unit, np.arange(5)
    assert "list of points" in refusal(path, UnknownConvention)


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("hs", 500.0, ["500 m", "40 m"]),
        ("hs", -1.0, ["-1 m"]),
        ("hs", -999.0, ["-999 m", "fill value"]),
        ("tp", 4000.0, ["4000 s", "60 s"]),
        ("mdir", 4000.0, ["4000 deg"]),
        ("hs", np.inf, ["inf m"]),
    ],
)
def test_impossible_values_name_the_place_and_time(
    make_forecast, maker, name, value, words
) -> None:
    variables = maker.sea()
    old = variables[name]

    def spoiled(lat, lon, hour):
        bad = (lat == 49.0) & (lon == -7.0) & (hour == 6.0)
        return np.where(bad, value, float(old.values))

    variables[name] = maker.Made(spoiled, old.units, old.standard_name)
    path = make_forecast(variables)
    if not np.isfinite(value):
        # The maker masks what is not finite: write the infinity itself.
        change(path, lambda nc: nc["hs"].__setitem__((2, 2, 2), value))
    text = refusal(path)
    for word in (*words, "49.000, -7.000", "2026-03-14T06:00Z", "(1 such values)"):
        assert word in text


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"lat": [88.0, 95.0]}, ["95 deg", "beyond 90", "swapped"]),
        ({"lat": [10.0, 12.0, 11.0]}, ["latitude", "out of order"]),
        ({"lat": [10.0, 10.0, 11.0]}, ["latitude", "twice"]),
        ({"lon": [10.0, 700.0]}, ["longitude 700 deg"]),
        ({"lon": [-8.0, -6.0, -7.0]}, ["longitude", "out of order"]),
        ({"lat": [10.0]}, ["single latitude"]),
        ({"hours": [0.0, 3.0, 3.0]}, ["2026-03-14T03:00Z", "twice"]),
        ({"hours": [0.0, 6.0, 3.0]}, ["out of order"]),
        ({"hours": [0.0, np.nan]}, ["missing times"]),
        ({"time_units": "hours since 1826-03-14"}, ["1826-03-14", "1940"]),
        ({"time_units": "days since 9026-03-14"}, ["2100"]),
        ({"time_units": "months since 2026-03-14"}, ["months", "fixed length"]),
        ({"time_units": "hours since 2026-02-30"}, ["2026-02-30", "does not exist"]),
        ({"time_units": "hours since the start"}, ["cannot be read"]),
        ({"time_units": "hours"}, ["unit 'hours'", "hours since"]),
        ({"hours": None}, ["has no time"]),
    ],
)
def test_impossible_axes_are_refused(make_forecast, options, words) -> None:
    text = refusal(make_forecast(**options))
    for word in words:
        assert word in text


def test_a_nonstandard_calendar_is_refused(make_forecast) -> None:
    path = make_forecast()
    change(path, lambda nc: nc["time"].setncattr("calendar", "360_day"))
    assert "360_day" in refusal(path)


@pytest.mark.parametrize("form", ["NETCDF3_CLASSIC", "NETCDF3_64BIT_OFFSET", "NETCDF4"])
@pytest.mark.parametrize("keep", [0.1, 0.5, 0.95])
def test_truncated_netcdf(make_forecast, maker, form, keep) -> None:
    path = make_forecast(form=form, lat=np.arange(0, 50, 1.0), lon=np.arange(0, 50, 1.0))
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * keep)])
    text = refusal(path)
    assert "cut short" in text
    assert str(path) in text


def test_files_other_than_forecasts_are_refused(tmp_path) -> None:
    cases = {
        "empty.nc": (b"", "empty"),
        "page.nc": (b"<html>not found</html>", "web page"),
        "noise.nc": (bytes(range(200)), "not NetCDF, GRIB or Zarr"),
        "packed.nc.gz": (b"\x1f\x8b\x08\x00aaaaaaaaaaaaaaaa", "Unpack"),
        "cut.grib2": (b"GRIB\x00\x00\x00\x02" + (10**6).to_bytes(8, "big"), "cut short"),
        "head.nc": (b"\x89HDF\r\n\x1a\n" + b"\x00" * 50, "cut short or damaged"),
        "old.nc": (b"CDF\x01" + b"\xff" * 60, "cut short or damaged"),
    }
    for name, (content, word) in cases.items():
        path = tmp_path / name
        path.write_bytes(content)
        text = refusal(path)
        assert word in text, name
        assert len(text.splitlines()) == 1
    # Of a folder every damaged file is named.
    assert "cut.grib2: is cut short" in refusal(tmp_path)
    assert "does not exist" in refusal(tmp_path / "nothing.nc")
    both = refusal([tmp_path / "empty.nc", tmp_path / "nothing.nc"])
    assert len(both.splitlines()) == 2
    assert "no forecast file" in refusal([])


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_a_file_that_may_not_be_read(make_forecast) -> None:
    path = make_forecast()
    path.chmod(0)
    assert "permission" in refusal(path)


def test_a_name_with_spaces_and_letters_from_elsewhere(make_forecast) -> None:
    path = make_forecast(name="väder över Skagerrak 3.nc")
    with open_forecast(path) as forecast:
        assert forecast.sample(49.0, -7.0, forecast.time_from_s).coverage == 0


def test_a_damaged_chunk_is_named_when_it_is_read(make_forecast) -> None:
    path = make_forecast(lat=np.arange(0, 60, 1.0), lon=np.arange(0, 60, 1.0), compress=True)
    data = bytearray(path.read_bytes())
    where = data.index(b"\x78\x5e") if b"\x78\x5e" in data else data.index(b"\x78\x9c")
    data[where + 2 : where + 12] = b"\xff" * 10
    path.write_bytes(bytes(data))
    text = refusal(path)
    assert "cannot be read" in text
    assert "variable '" in text


def test_wind_alone_is_refused_as_a_wave_forecast(make_forecast, maker) -> None:
    text = refusal(make_forecast(maker.wind()))
    assert "no waves" in text
    assert "only wind" in text


def test_height_without_period_is_refused(make_forecast, maker) -> None:
    variables = maker.sea()
    del variables["tp"]
    assert "a wave height without a period" in refusal(make_forecast(variables))


def test_nothing_in_the_area_or_the_hours_asked_for(make_forecast) -> None:
    path = make_forecast()
    text = refusal(path, NoCoverage, area=Area(10.0, 12.0, 20.0, 30.0))
    assert "48.00 to 50.00 N" in text
    refusal(path, NoCoverage, time_from_s=4e9)


def test_a_map_with_unknown_names_says_which(tmp_path, make_forecast) -> None:
    text = refusal(make_forecast(), names={"a": "totl_height", "b": "total_height, s"})
    assert "total_height?" in text
    assert "unit 's'" in text
    path = tmp_path / "names.toml"
    path.write_text('[names]\nx = "nonsense"\n')
    with pytest.raises(ForecastError, match=r"names.toml.*nonsense"):
        read_map(path)
    for content, word in (("a = = 1", "not TOML"), ("[other]\n", "unknown key other"),
                          ("", "no \\[names\\]")):  # fmt: skip
        path.write_text(content)
        with pytest.raises(ForecastError, match=word):
            read_map(path)
    with pytest.raises(ForecastError, match="cannot be read"):
        read_map(tmp_path / "none.toml")


def test_zero_length_time_axis(make_forecast) -> None:
    assert "no times" in refusal(make_forecast(hours=[]))


def test_frequencies_labelled_seconds_are_masked(make_forecast, maker) -> None:
    """1.5 m at 0.125 s would be 60 times as steep as any sea: it is 1/8 Hz."""
    with open_forecast(make_forecast(maker.sea(period=0.125))) as forecast:
        got = forecast.sample(49.0, -7.0, forecast.time_from_s)
        assert np.isnan(got.height_m[0])
        assert any("100 % of the sea cells" in n and "Hz" in n for n in forecast.notes)
