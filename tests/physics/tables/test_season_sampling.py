"""Bulk sampling held against the forecast's own, and the one-pass march against rounds."""

from pathlib import Path

import numpy as np
import pytest
from planning_scenario import track

from passage.inputs.forecast import open_forecast
from passage.inputs.forecast.conditions import OK
from passage.inputs.forecast.systems import decode_waves
from passage.inputs.hindcast.hindcast import (
    CACHED_VARIABLES,
    CHUNK_CACHE_BYTES,
    cell_runs,
    cells_of,
    corners_of,
    hours_between,
    open_hindcast,
    read_cells,
)
from passage.physics.tables.cell_sampling import CellRuns, sample_runs
from passage.planning.season.comfort import sickness_percent
from passage.planning.season.march import march_departures
from passage.planning.voyage.comfort import recent_dose
from passage.planning.voyage.march import march
from passage.units import knots_to_m_s
from passage.variables import COVERAGE

SAMPLES = Path(__file__).parents[3] / "sample_forecasts"
FILES = [SAMPLES / f"biscay_{name}.nc" for name in ("waves", "wind", "current")]
START = np.datetime64("2026-03-13T00:00").astype("datetime64[s]").astype(float)


@pytest.fixture(scope="module")
def hindcast():
    with open_hindcast(FILES) as opened:
        yield opened


def test_chunks_kept_by_the_library_are_shared_among_the_files():
    """However many files there are: what is kept of all together does not grow with them."""
    import netCDF4

    for count in (1, 3):
        with open_hindcast(FILES[:count]):
            share = netCDF4.get_chunk_cache()[0]
        assert share * count * CACHED_VARIABLES <= CHUNK_CACHE_BYTES
        assert share > 0


@pytest.fixture(scope="module")
def forecast():
    with open_forecast(FILES) as opened:
        yield opened


def runs_of(group, lat, lon, from_s=START - 1e6, to_s=START + 1e7):
    corners = corners_of(group, lat, lon)
    cells = cells_of(group, [corners])
    hours = hours_between(group, from_s, to_s)
    return cell_runs(group, cells, read_cells(group, cells, hours), hours, corners)


def scattered(count=60, departures=40, seed=2):
    """Places over and around the grid, sea and land, and times before, in and after."""
    rng = np.random.default_rng(seed)
    lat, lon = rng.uniform(41.0, 52.0, count), rng.uniform(-13.0, 1.0, count)
    lat[:3], lon[:3] = [42.0, 51.0, 46.25], [-12.0, -12.0, -8.5]
    time = START + rng.uniform(-0.5e5, 4.2e5, (departures, count))
    time[0, :2] = np.nan
    return lat, lon, time


def test_waves_and_wind_are_those_of_the_forecast(hindcast, forecast):
    lat, lon, time = scattered()
    known = forecast.sample(lat, lon, time)
    waves = runs_of(hindcast.groups["waves"], lat, lon)
    fields, code = sample_runs(waves, time)
    np.testing.assert_array_equal(code, known.coverage)
    assert len(np.unique(code)) == 5  # every kind of gap is met
    flat = decode_waves(
        hindcast.wave_plan, fields.reshape(-1, fields.shape[-1]), (code == OK).reshape(-1)
    )
    for name in ("height_m", "peak_period_s"):
        ours = getattr(flat, name).reshape(getattr(known, name).shape)
        # Both sum eight corners in single precision, in another order.
        np.testing.assert_allclose(ours, getattr(known, name), rtol=2e-5, atol=2e-6)
    turn = flat.from_rad.reshape(known.from_rad.shape) - known.from_rad
    size = known.height_m
    apart = np.abs(np.sin(turn)) * np.nan_to_num(size)
    assert np.nanmax(apart) < 1e-4
    wind = runs_of(hindcast.groups["wind"], lat, lon)
    fields, code = sample_runs(wind, time)
    np.testing.assert_array_equal(code, known.wind_coverage)
    np.testing.assert_allclose(fields[..., 1], known.wind_u_m_s, rtol=2e-5, atol=2e-5)


def test_part_of_the_hours_gives_the_same_codes(hindcast):
    """A block holds some hours; before and after still mean the whole data set."""
    group = hindcast.groups["waves"]
    lat, lon = np.array([46.0]), np.array([-8.0])
    first, last = group.time_s[0], group.time_s[-1]
    part = runs_of(group, lat, lon, first + 1e5, first + 2e5)
    assert part.time_s[0] <= first + 1e5
    assert part.time_s[-1] >= first + 2e5
    assert part.time_s.size < group.time_s.size
    whole = runs_of(group, lat, lon)
    time = np.array([[first - 1e4], [first + 1.5e5], [last + 1e4]])
    for runs in (part, whole):
        _, code = sample_runs(runs, time)
        assert [COVERAGE[c] for c in code[:, 0]] == ["before_forecast", "ok", "after_forecast"]
    np.testing.assert_array_equal(sample_runs(part, time)[0][1], sample_runs(whole, time)[0][1])


def test_each_cell_is_read_once(hindcast, monkeypatch):
    """Every (cell, hour) that is read is read in one window only."""
    group = hindcast.groups["waves"]
    lat, lon, _ = scattered()
    cells = cells_of(group, [corners_of(group, lat, lon)])
    hours = hours_between(group, START, START + 2e5)
    seen = []
    name = next(iter(group.series))
    series = group.series[name]
    read = type(series).read

    def watched(self, window, member, problems):
        if self is series:
            seen.append(window)
        return read(self, window, member, problems)

    monkeypatch.setattr(type(series), "read", watched)
    data = read_cells(group, cells, hours)
    times = sorted({(w.time, w.lat, w.lon) for w in seen})
    assert len(times) == len(seen)
    count = np.zeros((hours[1], group.grid.lat_deg.size, group.grid.lon_deg.size), int)
    for w in seen:
        count[slice(*w.time), slice(*w.lat), slice(*w.lon)] += 1
    assert count.max() == 1
    assert np.isfinite(data).all()


def test_gap_in_time_is_not_bridged():
    """Rule of the forecast's sampler: a marked interval is masked, its ends are not."""
    time = np.array([0.0, 3600.0, 90000.0, 93600.0])
    data = np.zeros((1, 4, 2), np.float32)
    data[0, :, 1] = [1.0, 2.0, 3.0, 4.0]
    runs = CellRuns(
        data, time, np.array([False, True, False]), np.zeros((1, 4), np.int32),
        np.full((1, 4), 0.25, np.float32), np.ones(1, bool), 0.0, 93600.0,
    )  # fmt: skip
    when = np.array([[1800.0], [3600.0], [40000.0], [90000.0], [91800.0]])
    fields, code = sample_runs(runs, when)
    assert code[:, 0].tolist() == [OK, OK, COVERAGE.index("time_gap"), OK, OK]
    np.testing.assert_allclose(fields[[0, 1, 3, 4], 0, 1], [1.5, 2.0, 3.0, 3.5], rtol=1e-7)


def test_step_by_step_agrees_with_the_march(hindcast, forecast):
    """Within the second to which the march itself is brought, and with its speeds."""
    made = track((48.0, -6.0), (46.0, -7.0, 3.0), (44.5, -8.0), speed_kn=9.0)
    departures = START + 3600.0 * np.array([0.0, 7.0, 30.0])
    way = march(made, forecast, departures, knots_to_m_s(made.speed_kn))
    current = runs_of(hindcast.groups["current"], made.lat_deg, made.lon_deg)
    ours, code = march_departures(made, departures, current)
    np.testing.assert_allclose(ours.time_s, way.time_s, atol=2.0)
    np.testing.assert_allclose(ours.speed_over_ground_m_s, way.speed_over_ground_m_s, atol=2e-4)
    stay = made.length_m == 0.0
    np.testing.assert_allclose(ours.heading_rad[:, ~stay], way.heading_rad[:, ~stay], atol=2e-4)
    np.testing.assert_array_equal(code, way.conditions.current_coverage)
    assert not ours.no_way.any()


def test_current_too_strong_is_reported():
    made = track((48.0, -6.0), (47.5, -6.0), speed_kn=3.0)
    hour = np.arange(0.0, 10 * 86400.0, 3600.0)
    data = np.zeros((1, hour.size, 3), np.float32)
    data[..., 2] = 2.0  # sets north, faster than her 3 knots south
    n = len(made)
    current = CellRuns(
        data, hour, np.zeros(hour.size - 1, bool), np.zeros((n, 4), np.int32),
        np.full((n, 4), 0.25, np.float32), np.ones(n, bool), 0.0, float(hour[-1]),
    )  # fmt: skip
    ours, _ = march_departures(made, np.array([0.0]), current)
    # Known where she stops; from there on there are no times, as in a plan.
    assert ours.no_way[0, 0]
    assert np.isnan(ours.time_s).all()


def test_dose_in_one_pass_is_that_of_a_plan():
    rng = np.random.default_rng(5)
    rms = rng.uniform(0.0, 1.5, (6, 90))
    hours = np.broadcast_to(rng.uniform(0.1, 0.9, 90), rms.shape).copy()
    rms[2, 40] = np.nan
    hours[3, 50:] = 8.0  # segments longer than the window
    from passage.physics.motions.comfort import sickness_percent_from_dose

    expected = sickness_percent_from_dose(recent_dose(rms, hours))
    ours = sickness_percent([rms, 0.5 * rms], hours)
    np.testing.assert_allclose(ours, expected, rtol=1e-9, atol=1e-9)
