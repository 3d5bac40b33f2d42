"""The sample scenario: reproducible, invented and marked so, and believable."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import netCDF4
import numpy as np
import pytest

from passage.units import DEG_RAD, G_M_S2, HOUR_S, knots_to_m_s

FOLDER = Path(__file__).resolve().parents[1] / "sample_forecasts"
FILES = ("biscay_waves.nc", "biscay_wind.nc", "biscay_current.nc")
ROUTES = ("direct.csv", "western.csv", "eastern.csv")
SPRING = ("spring_waves.nc", "spring_wind.nc", "spring_current.nc")
SPRING_ROUTES = ("straight.csv", "outside.csv", "inside.csv")


def load(name: str) -> ModuleType:
    if name in sys.modules:
        return sys.modules[name]
    spec = importlib.util.spec_from_file_location(name, FOLDER / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def sea() -> ModuleType:
    return load("invented_sea")


@pytest.fixture(scope="module")
def waves() -> dict[str, np.ndarray]:
    with netCDF4.Dataset(FOLDER / "biscay_waves.nc") as file:
        return {
            name: np.ma.filled(variable[...].astype(float), np.nan)
            for name, variable in file.variables.items()
            if name != "forecast_reference_time"
        }


@pytest.mark.slow
@pytest.mark.parametrize(
    ("script", "files"), [("make_sample", FILES), ("make_spring_sample", SPRING)]
)
def test_the_script_makes_the_committed_files(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    sea: ModuleType,
    script: str,
    files: tuple[str, ...],
) -> None:
    monkeypatch.setattr(sys, "path", [str(FOLDER), *sys.path])
    load("make_sample")
    made = load(script).make(tmp_path)
    assert [path.name for path in made] == list(files)
    for path in made:
        with netCDF4.Dataset(path) as new, netCDF4.Dataset(FOLDER / path.name) as old:
            assert {k: new.getncattr(k) for k in new.ncattrs()} == {
                k: old.getncattr(k) for k in old.ncattrs()
            }
            assert list(new.variables) == list(old.variables)
            for name, variable in new.variables.items():
                twin = old.variables[name]
                assert variable.ncattrs() == twin.ncattrs()
                variable.set_auto_maskandscale(False)
                twin.set_auto_maskandscale(False)
                off = np.abs(variable[...].astype(float) - twin[...].astype(float))
                # One count of rounding is allowed for another processor or numpy;
                # a direction may also fall on the other side of north.
                turn = 18000 if name.endswith("_from") else np.inf
                assert np.all((off <= 1.0) | (np.abs(off - turn) <= 1.0)), name


def test_files_are_small_and_say_that_they_are_invented() -> None:
    assert sum(path.stat().st_size for path in FOLDER.iterdir() if path.is_file()) < 5e6
    for name in (*FILES, *SPRING):
        with netCDF4.Dataset(FOLDER / name) as file:
            assert "INVENTED" in file.comment
            assert "real passage" in file.comment
            assert "invented" in file.title


def test_systems_add_up_to_the_whole_sea(waves: dict[str, np.ndarray]) -> None:
    parts = [np.nan_to_num(waves[f"hs_{name}"]) for name in ("wind", "swell1", "swell2")]
    total = np.sqrt(sum(part**2 for part in parts))
    known = np.isfinite(waves["hs"])
    # Four heights, each rounded to 1 mm.
    assert np.max(np.abs(waves["hs"] - total)[known]) < 0.002


def test_absent_system_is_absent_in_all_its_variables(waves: dict[str, np.ndarray]) -> None:
    for height, period, direction in (
        ("hs_wind", "tp_wind", "wind_wave_from"),
        ("hs_swell1", "tp_swell1", "swell1_from"),
        ("hs_swell2", "tp_swell2", "swell2_from"),
    ):
        gone = np.isnan(waves[height])
        assert 0 < gone.sum() < gone.size
        assert np.array_equal(gone, np.isnan(waves[period]))
        assert np.array_equal(gone, np.isnan(waves[direction]))


def test_the_scenario_has_its_intended_weather(waves: dict[str, np.ndarray]) -> None:
    """A quiet night, a blow of 4 to 5 m, long swell across it, then it goes down."""
    row = int(np.argmin(np.abs(waves["latitude"] - 46.0)))
    col = int(np.argmin(np.abs(waves["longitude"] + 7.0)))
    hours = waves["time"]
    height = waves["hs"][:, row, col]
    quiet = height[(hours >= 12) & (hours <= 24)]
    blow = height[(hours >= 42) & (hours <= 60)]
    assert quiet.min() > 0.8
    assert quiet.max() < 1.6
    assert 4.0 < blow.max() < 6.0
    assert height[-1] < 2.0
    across = (hours >= 36) & (hours <= 60)
    period = waves["tp_swell1"][across, row, col]
    assert period.min() > 11.0
    assert period.max() < 13.0
    turn = np.abs(waves["wind_wave_from"] - waves["swell1_from"])[:, row, col]
    assert np.nanmax(np.minimum(turn, 360.0 - turn)[across]) > 45.0


def test_wind_sea_is_not_steeper_than_growing_seas_are(waves: dict[str, np.ndarray]) -> None:
    # Steepness 2 pi Hs / (g Tp^2): young wind seas reach about 0.06 to 0.07
    # (common practice, no source).
    steepness = 2.0 * np.pi * waves["hs_wind"] / (G_M_S2 * waves["tp_wind"] ** 2)
    assert np.nanmax(steepness) < 0.07


def test_fetch_law_against_a_published_form_of_it(sea: ModuleType) -> None:
    # Carter (1982, Ocean Engineering 9): Hs = 0.0163 U sqrt(X), X in km, U in m/s,
    # itself from JONSWAP; from memory.
    ours = sea.JONSWAP_HEIGHT * np.sqrt(1000.0 / G_M_S2)
    assert ours == pytest.approx(0.0163, rel=0.015)


def test_full_growth_against_pierson_and_moskowitz(sea: ModuleType) -> None:
    # Pierson and Moskowitz (1964): alpha 0.0081, beta 0.74, peak at 0.877 g / U, with
    # the wind at 19.5 m, 1.026 times that at 10 m; constants from memory.
    height = 2.0 * np.sqrt(0.0081 / 0.74) * 1.026**2
    period = 2.0 * np.pi / 0.877 * 1.026
    assert abs(sea.FULL_HEIGHT / height - 1.0) < 0.01
    assert abs(sea.FULL_PERIOD / period - 1.0) < 0.05


def test_duration_follows_from_the_group_velocity(sea: ModuleType) -> None:
    # Shore Protection Manual (1984), eq. 3-38: g t / U = 68.8 (g X / U2)^(2/3), from
    # memory. March a steady wind on open water and read fetch and time off it.
    lat, lon = np.array([46.0, 46.25]), np.array([-8.0, -7.75])
    shape = (2, 2)
    local = sea.LocalSea(
        lat, lon, np.zeros(shape, bool), np.full((36, *shape), 1e9), sea.bilinear(lat, lon)
    )
    u, v = np.full(shape, 15.0), np.zeros(shape)
    local.east, local.north = np.ones(shape), np.zeros(shape)
    for _ in range(60):
        local.step(u, v, 600.0)
    scaled = local._fetch_m(local.variance, np.hypot(u, v))[0, 0] * G_M_S2 / 15.0**2
    hours_by_manual = 68.8 * scaled ** (2.0 / 3.0) * 15.0 / G_M_S2 / HOUR_S
    # Start from calm costs the march part of a step; our factor is 65.9.
    assert hours_by_manual == pytest.approx(10.0, rel=0.06)


def test_low_pressure_is_on_the_left_with_the_wind_behind(sea: ModuleType) -> None:
    hours = 30.0
    lat0, lon0 = (np.interp(hours, sea.LOW_TRACK[:, 0], sea.LOW_TRACK[:, i]) for i in (1, 2))
    for bearing in np.arange(0.0, 360.0, 45.0) * DEG_RAD:
        lat = lat0 + 3.0 * np.cos(bearing)
        lon = lon0 + 3.0 * np.sin(bearing) / np.cos(lat0 * DEG_RAD)
        u, v = sea.wind(np.array([[lat]]), np.array([[lon]]), hours)
        to_low = np.array([-np.sin(bearing), -np.cos(bearing)])
        left = np.array([-v[0, 0], u[0, 0]])
        assert left @ to_low > 0.0
        # Friction turns the wind inwards.
        assert np.array([u[0, 0], v[0, 0]]) @ to_low > 0.0


def test_distant_swell_arrives_at_its_group_velocity(sea: ModuleType) -> None:
    lat, lon = np.array([[46.0]]), np.array([[-7.0]])
    distance = sea.distant_storm(lat, lon)[0][0, 0]
    earliest = sea.STORM_MIDDLE_H - sea.STORM_HALF_H
    latest = sea.STORM_MIDDLE_H + sea.STORM_HALF_H
    last = np.inf
    for hours in np.arange(0.0, 97.0, 6.0):
        period = sea.distant_swell(lat, lon, hours, np.ones((1, 1))).period_s[0, 0]
        # Deep water: distance = g T / (4 pi) x time since it was raised.
        oldest, youngest = (
            4.0 * np.pi * distance / G_M_S2 / ((hours - birth) * HOUR_S)
            for birth in (earliest, latest)
        )
        assert oldest - 0.6 < period < youngest + 0.6
        assert period <= last + 1e-9
        last = period


@pytest.mark.parametrize("name", SPRING_ROUTES)
def test_spring_routes_are_clear_of_land_and_inside_the_forecast(name: str) -> None:
    from passage.inputs.coast.coastline import legs_over_land
    from passage.inputs.forecast import open_forecast
    from passage.inputs.route import make_track, read_route

    route = read_route(FOLDER / name)
    assert legs_over_land(route) == ()
    track = make_track(route, 10.0)
    going = track.length_m / knots_to_m_s(10.0)
    when = 1779296400.0 + np.cumsum(going) - 0.5 * going  # from 2026-05-20T17:00Z
    with open_forecast([FOLDER / file for file in SPRING]) as forecast:
        met = forecast.sample(track.lat_deg, track.lon_deg, when)
    assert np.all(met.coverage == 0)
    assert np.isfinite(met.total_height_m).all()


def test_the_sea_of_the_spring_sample_goes_down() -> None:
    with netCDF4.Dataset(FOLDER / "spring_waves.nc") as file:
        height = np.ma.filled(file["hs"][...].astype(float), np.nan)
        row = int(np.argmin(np.abs(np.asarray(file["latitude"][:]) - 46.0)))
        col = int(np.argmin(np.abs(np.asarray(file["longitude"][:]) + 7.0)))
        hours = np.asarray(file["time"][:])
    here = height[:, row, col]
    assert here[hours == 0][0] > 4.0
    assert here[hours == 72][0] < 1.5
    assert np.all(np.diff(here[hours >= 12]) < 0.0)


def test_the_yacht_in_may_is_made_from_that_of_march(
    monkeypatch: pytest.MonkeyPatch, sea: ModuleType
) -> None:
    """After a change of brambling.toml run sample_forecasts/make_spring_sample.py."""
    monkeypatch.setattr(sys, "path", [str(FOLDER), *sys.path])
    load("make_sample")
    made = load("make_spring_sample").may_vessel()
    assert (FOLDER / "brambling_may.toml").read_text("utf-8") == made
    march = (FOLDER / "brambling.toml").read_text("utf-8").splitlines()
    changed = [line for line in made.splitlines() if line not in march and line[0] != "#"]
    assert [line.split(" = ")[0] for line in changed] == [
        "events",
        "vertical_acceleration_rms_g",
        "lateral_acceleration_rms_g",
        "motion_sickness_percent",
    ]


@pytest.mark.parametrize("name", ROUTES)
def test_routes_are_clear_of_land_and_inside_the_forecast(name: str) -> None:
    from passage.inputs.coast.coastline import legs_over_land
    from passage.inputs.forecast import open_forecast
    from passage.inputs.route import make_track, read_route

    route = read_route(FOLDER / name)
    assert legs_over_land(route) == ()
    track = make_track(route, 12.0)
    going = track.length_m / knots_to_m_s(12.0) + track.stay_s
    departure_s = 1773468000.0  # 2026-03-14T06:00Z
    when = departure_s + np.cumsum(going) - 0.5 * going
    with open_forecast([FOLDER / file for file in FILES]) as forecast:
        met = forecast.sample(track.lat_deg, track.lon_deg, when)
    assert np.all(met.coverage == 0)
    assert np.all(met.wind_coverage == 0)
    # The current's coarser grid has no water in the lee of the Glenan islands.
    gaps = np.mean(met.current_coverage != 0)
    assert (0.0 < gaps < 0.4) if name == "eastern.csv" else gaps == 0.0
    assert np.isfinite(met.total_height_m).all()
    assert np.nanmax(np.hypot(met.current_u_m_s, met.current_v_m_s)) > 0.1
