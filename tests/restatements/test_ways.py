"""The same departure asked of plan, compare, season, Python and the command line; real files."""

from __future__ import annotations

import json
import shutil

import netCDF4
import numpy as np
import pytest
from click.testing import CliRunner
from restatement_case import SAMPLES, answer, apart, passage

import passage as api
from passage.cli.main import group
from passage.inputs.forecast import open_forecast
from passage.inputs.forecast.opening import recognise_files
from passage.planning.compare.choice import why_words
from passage.report.text.verdict_compare import compare_verdict
from passage.report.text.verdict_plan import plan_verdict

LEAVE = "2026-03-14T06:00Z"
SEA = [SAMPLES / f"biscay_{part}.nc" for part in ("waves", "wind", "current")]
#: A season reads tables of roll by sea, in single precision (docs/season.md).
TABLES = 1e-2
#: It holds weight and GM, as it says; the plan's fins work on a hull 1.5 % less stiff at the
#: end of this passage, which is as much of the roll that is left.
HELD = 1.5e-2
SINGLE = 2e-5


@pytest.fixture(scope="module")
def told():
    """The sample passage as each way tells it: litres, and worst and mean roll."""
    vessel = api.read_vessel(SAMPLES / "brambling.toml")
    route = api.read_route(SAMPLES / "direct.csv")
    with api.open_forecast(SEA) as sea:
        plan = api.plan(route, vessel, sea, departure=LEAVE, speed_kn=12).to_dict()
        window = (LEAVE, LEAVE, 6)
        compare = api.compare([route], vessel, sea, window=window, speeds_kn=[12]).to_dataframe()
        season = api.season(
            route, vessel, sea, first="2026-03-14", last="2026-03-14", every_h=6, speeds_kn=[12]
        ).to_dataframe()
    words = ["plan", str(SAMPLES / "direct.csv"), "--vessel", str(SAMPLES / "brambling.toml")]
    for path in SEA:
        words += ["--forecast", str(path)]
    words += ["--departure", LEAVE, "--speed", "12", "--format", "json"]
    line = json.loads(CliRunner().invoke(group, words, standalone_mode=False).stdout)
    day = season[season.departure_utc == season.departure_utc.iloc[1]].iloc[0]

    def of_plan(made):
        return {
            "fuel_l": made["totals"]["fuel_l"],
            "worst_roll": made["totals"]["worst_window_roll_significant_deg"],
            "hours": made["totals"]["hours"],
        }

    one = compare.iloc[0]
    return {
        "python": of_plan(plan),
        "line": of_plan(line),
        "compare": {
            "fuel_l": one.fuel_l,
            "worst_roll": one.worst_window_roll_significant_deg,
            "hours": one.hours,
        },
        "season": {
            "fuel_l": day.fuel_l,
            "worst_roll": day.worst_window_roll_significant_deg,
            "hours": day.hours,
        },
    }


@pytest.mark.parametrize(("way", "within"), [("line", 1e-9), ("compare", 1e-6), ("season", TABLES)])
def test_one_departure_by_every_way(told, way, within):
    for key, value in told["python"].items():
        held = HELD if (way, key) == ("season", "worst_roll") else 0.0
        assert told[way][key] == pytest.approx(value, rel=within + held), key


# --- real files ----------------------------------------------------------------

START_S = float(np.datetime64("2017-10-27T06:00").astype("datetime64[s]").astype(float))


@pytest.fixture
def storm(open_data):
    """Real reanalysis, packed, latitude descending; the way is a leg that it covers."""
    path = open_data / "era5_waves_southern_north_sea_2017-10.nc"
    if not path.is_file():
        pytest.skip(f"{path.name} is not here")
    return path


def real(paths):
    way = passage(((52.5, 3.5), (54.6, 5.2)))
    return answer(paths, way, START_S)


def rewritten(path, target, *, hours=slice(None), flip=False):
    """Unpacked into floats, some of the hours, latitudes ascending on request."""
    with netCDF4.Dataset(path) as old, netCDF4.Dataset(target, "w") as new:
        turn = slice(None, None, -1) if flip else slice(None)
        for name, part in (("time", hours), ("latitude", turn), ("longitude", slice(None))):
            values = old[name][part]
            new.createDimension(name, values.size)
            axis = new.createVariable(name, "f8", (name,))
            axis.setncatts({k: old[name].getncattr(k) for k in ("units",)})
            axis[:] = values
        for name, variable in old.variables.items():
            if variable.dimensions != ("time", "latitude", "longitude"):
                continue
            made = new.createVariable(name, "f4", variable.dimensions, fill_value=np.float32(-9))
            made.units = variable.units
            made[:] = variable[hours, turn, :]
    return target


def test_a_real_file_unpacked_flipped_and_cut(storm, tmp_path):
    whole = real(storm)
    assert apart(real(shutil.copy(storm, tmp_path / "copy.nc")), whole) == 0.0
    assert apart(real(rewritten(storm, tmp_path / "f.nc", flip=True)), whole) < SINGLE
    cut = [
        rewritten(storm, tmp_path / "a.nc", hours=slice(0, 12)),
        rewritten(storm, tmp_path / "b.nc", hours=slice(12, None)),
    ]
    assert apart(real(cut), whole) < SINGLE


def test_the_systems_of_a_real_grib_file_hold_its_total_everywhere(open_data):
    path = open_data / "noaa_gdas_waves_us_west_coast_2021-11-30.grib2"
    if not path.is_file():
        pytest.skip(f"{path.name} is not here")
    pytest.importorskip("cfgrib")
    with open_forecast(path) as forecast:
        grid = forecast.groups["waves"].grid
        at_grid = forecast.sample(grid.lat_deg[:, None], grid.lon_deg, forecast.time_from_s)
        lat = 0.5 * (grid.lat_deg[:-1] + grid.lat_deg[1:])
        lon = 0.5 * (grid.lon_deg[:-1] + grid.lon_deg[1:])
        middle = forecast.sample(lat[:, None], lon, forecast.time_from_s)
    energy = at_grid.total_height_m**2
    mean = 0.25 * (energy[1:, 1:] + energy[1:, :-1] + energy[:-1, 1:] + energy[:-1, :-1])
    sea = middle.coverage == 0
    assert sea.sum() > 10_000
    np.testing.assert_allclose(middle.total_height_m[sea], np.sqrt(mean[sea]), rtol=1e-6)
    held = np.sqrt(np.nansum(middle.height_m**2, axis=-1))
    np.testing.assert_allclose(held[sea], middle.total_height_m[sea], rtol=1e-6)


def grib_fields(path):
    """Fields of a real GRIB file of one hour by our names, with its axes and hour. [s]"""
    (file,) = recognise_files(path)
    data = file.pieces[0].dataset
    axes = data.latitude.values, data.longitude.values, float(data.valid_time.values)
    fields = {one.meaning.name: one.dataset[one.variable].isel(one.fixed) for one in file.pieces}
    made = {name: (field.values, field.attrs["units"]) for name, field in fields.items()}
    file.file.close()
    return made, axes


def as_netcdf(target, fields, axes):
    """The same fields as NetCDF, latitudes the other way."""
    lat, lon, time_s = axes
    with netCDF4.Dataset(target, "w") as new:
        for name, values, unit in (
            ("time", [time_s], "seconds since 1970-01-01"),
            ("latitude", lat[::-1], "degrees_north"),
            ("longitude", lon, "degrees_east"),
        ):
            new.createDimension(name, len(values))
            axis = new.createVariable(name, "f8", (name,))
            axis.units = unit
            axis[:] = values
        for name, (values, unit) in fields.items():
            made = new.createVariable(
                name, "f4", ("time", "latitude", "longitude"), fill_value=np.float32(-999)
            )
            made.units = "degree" if unit.startswith("Deg") else unit
            made[:] = np.ma.masked_invalid(values[::-1])[None]
    return target


def test_a_real_grib_file_as_netcdf_and_with_its_swells_renumbered(open_data, tmp_path):
    path = open_data / "noaa_gdas_waves_us_west_coast_2021-11-30.grib2"
    if not path.is_file():
        pytest.skip(f"{path.name} is not here")
    pytest.importorskip("cfgrib")
    fields, axes = grib_fields(path)
    way = passage(((37.2, -126.0), (40.0, -127.0)))

    def off_shore(file, **names):
        return answer(file, way, axes[2], hold_single_step_s=86400.0, **names)

    whole = off_shore(path)
    known = {name: name for name in fields}
    same = as_netcdf(tmp_path / "same.nc", fields, axes)
    assert apart(off_shore(same, names=known), whole) < SINGLE
    order = np.random.default_rng(1).random((3, *fields["swell_1_height"][0].shape)).argsort(axis=0)
    for what in ("height", "peak_period", "from_direction"):
        of = [f"swell_{number}_{what}" for number in (1, 2, 3)]
        mixed = np.take_along_axis(np.stack([fields[one][0] for one in of]), order, axis=0)
        fields |= {one: (mixed[i], fields[one][1]) for i, one in enumerate(of)}
    renumbered = as_netcdf(tmp_path / "mixed.nc", fields, axes)
    assert apart(off_shore(renumbered, names=known), whole) < 0.01


def test_hunting_fins_are_no_verdict_in_any_command(tmp_path):
    """No roll is given where the fins hunt, and no command puts it down to the forecast."""
    text = (SAMPLES / "brambling.toml").read_text("utf-8")
    for old, new in (
        ("rate_gain_s = 5.0", "rate_gain_s = 50.0"),
        ("# delay_s = 0.1", "delay_s = 0.6"),
    ):
        assert old in text
        text = text.replace(old, new)
    hunts = tmp_path / "hunts.toml"
    hunts.write_text(text, encoding="utf-8")
    route, day = SAMPLES / "direct.csv", "2026-03-14"
    plan = api.plan(route, hunts, SEA, departure=LEAVE, speed_kn=12)
    assert plan_verdict(plan.answer).do.startswith("No verdict: the fins hunt")
    compare = api.compare(route, hunts, SEA, departures=[LEAVE], speeds_kn=[12])
    assert compare_verdict(compare.answer).do.startswith("No verdict: the fins hunt")
    assert why_words(int(compare.answer.closed[0])) == ["the fins hunt: no roll"]
    season = api.season(route, hunts, SEA, first=day, last=day, every_h=24, speeds_kn=[12])
    assert set(season.to_dataframe().status) == {"fins_hunt"}
    for answer_ in (compare, season):
        assert any("he fins hunt with these gains at 12 kn" in one for one in answer_.notes)
