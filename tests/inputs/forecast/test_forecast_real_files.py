"""Real files: read rightly, or refused rightly. Skipped where they are not present."""

from __future__ import annotations

import shutil
import warnings

import netCDF4
import numpy as np
import pytest
from numpy.testing import assert_allclose

from passage.errors import ForecastError
from passage.inputs.forecast import Area, open_forecast
from passage.variables import COVERAGE

ERA5 = "era5_waves_southern_north_sea_2017-10.nc"
NOAA = "noaa_gdas_waves_us_west_coast_2021-11-30.grib2"
GEBCO = "gebco_2020_oresund.nc"


@pytest.fixture
def era5(open_data):
    return open_data / ERA5


@pytest.fixture
def noaa(open_data):
    pytest.importorskip("cfgrib", reason="the grib extra is not installed")
    return open_data / NOAA


def test_reanalysis_values_at_grid_points(era5) -> None:
    with netCDF4.Dataset(era5) as nc:
        i, j, k = 60, 4, 9
        lat, lon = float(nc["latitude"][j]), float(nc["longitude"][k])
        raw = {n: float(nc[n][i, j, k]) for n in ("swh", "mwd", "pp1d")}
    with open_forecast(era5) as forecast:
        got = forecast.sample(lat, lon, forecast.time_from_s + i * 3600.0)
    # Squares, products and sums in single precision.
    assert_allclose(got.height_m, [raw["swh"]], rtol=1e-5)
    assert_allclose(got.peak_period_s, [raw["pp1d"]], rtol=1e-5)
    assert_allclose(np.degrees(got.from_rad), [raw["mwd"]], atol=1e-4)


def test_reanalysis_half_way_in_time_is_the_mean_of_the_energies(era5) -> None:
    with netCDF4.Dataset(era5) as nc:
        i, j, k = 60, 4, 9
        lat, lon = float(nc["latitude"][j]), float(nc["longitude"][k])
        both = np.sqrt((nc["swh"][i : i + 2, j, k] ** 2).mean())
    with open_forecast(era5) as forecast:
        got = forecast.sample(lat, lon, forecast.time_from_s + (i + 0.5) * 3600.0)
    assert_allclose(got.total_height_m, both, rtol=1e-5)


def test_reanalysis_reports_what_is_missing(era5) -> None:
    with open_forecast(era5) as forecast:
        notes = " ".join(forecast.notes)
        assert forecast.system_names == ("total",)
    assert "no partitions" in notes
    assert "no wind" in notes
    assert "derived" not in notes


@pytest.mark.parametrize(
    ("start", "end", "hours", "expected"),
    [
        # The two sea legs its README names, at 12 knots; the second in the storm.
        ((52.5, 3.5), (54.6, 5.2), (6.0, 18.0), {"ok"}),
        ((54.5, 2.0), (54.5, 7.0), (46.0, 60.0), {"ok"}),
        ((54.5, 2.0), (54.5, 7.0), (60.0, 75.0), {"ok", "after_forecast"}),
    ],
)
def test_reanalysis_sea_legs(era5, start, end, hours, expected) -> None:
    part = np.linspace(0.0, 1.0, 40)
    lat = start[0] + part * (end[0] - start[0])
    lon = start[1] + part * (end[1] - start[1])
    area = Area(lat.min() - 1, lat.max() + 1, lon.min() - 1, lon.max() + 1)
    with open_forecast(era5, area=area) as forecast:
        at = forecast.time_from_s + 3600.0 * np.linspace(*hours, 40)
        got = forecast.sample(lat, lon, at)
        words = {COVERAGE[c] for c in got.coverage}
    assert words == expected
    known = got.coverage == 0
    assert np.isfinite(got.height_m[known]).all()
    assert np.isnan(got.height_m[~known]).all()
    assert got.total_height_m[known].max() < 9.0


def test_wave_analysis_in_grib_at_grid_points(noaa) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import cfgrib

        levels, surface = cfgrib.open_datasets(
            str(noaa), backend_kwargs={"indexpath": ""}, decode_timedelta=False
        )
    j, k = 60, 120
    lat, lon = float(surface.latitude[j]), float(surface.longitude[k])
    with open_forecast(noaa) as forecast:
        got = forecast.sample(lat, lon, forecast.time_from_s)
        parts = ("wind sea", "swell 1", "swell 2", "swell 3")
        assert forecast.system_names == (*parts, "rest of the sea")
        assert not any("derived" in note for note in forecast.notes)
    heights = [float(surface.shww[j, k]), *map(float, levels.shts[:, j, k].values)]
    periods = [float(surface.mpww[j, k]), *map(float, levels.mpts[:, j, k].values)]
    from_deg = [float(surface.wvdir[j, k]), *map(float, levels.swdir[:, j, k].values)]
    # The partitions hold the total of the cell: its heights but for one common factor.
    factor = float(surface.swh[j, k]) / np.sqrt(np.nansum(np.square(heights)))
    assert abs(factor - 1.0) < 0.02
    assert_allclose(got.height_m[:4], factor * np.array(heights), rtol=1e-4)
    assert_allclose(got.peak_period_s[:4], periods, rtol=1e-4)
    assert_allclose(np.degrees(got.from_rad[:4]), from_deg, atol=0.02)
    assert_allclose(got.total_height_m, float(surface.swh[j, k]), rtol=1e-4)
    assert_allclose(got.wind_u_m_s, float(surface.u[j, k]), rtol=1e-4, atol=1e-4)
    speed = np.hypot(got.wind_u_m_s, got.wind_v_m_s)
    assert_allclose(speed, float(surface.ws[j, k]), rtol=2e-3)


def test_partition_periods_of_this_centre_are_peak_periods(noaa) -> None:
    # Where one swell holds over 98 % of the energy, its period is the file's own peak
    # period of the whole sea; a mean period would be 8 to 23 % shorter.
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import cfgrib

        levels, surface = cfgrib.open_datasets(
            str(noaa), backend_kwargs={"indexpath": ""}, decode_timedelta=False
        )
    alone = levels.shts.values[0] ** 2 > 0.98 * surface.swh.values**2
    ratio = levels.mpts.values[0][alone] / surface.perpw.values[alone]
    assert alone.sum() > 100
    assert_allclose(np.percentile(ratio, [1, 50, 99]), 1.0, atol=0.01)


def test_nothing_is_written_beside_grib_in_a_read_only_folder(noaa, tmp_path) -> None:
    folder = tmp_path / "data"
    folder.mkdir()
    path = shutil.copy(noaa, folder / "waves.grib2")
    folder.chmod(0o500)
    try:
        with open_forecast(path) as forecast:
            forecast.sample(40.0, -125.0, forecast.time_from_s)
        assert [p.name for p in folder.iterdir()] == ["waves.grib2"]
    finally:
        folder.chmod(0o700)


@pytest.mark.parametrize("keep", [0.3, 0.9, 0.999])
def test_truncated_grib(noaa, tmp_path, keep) -> None:
    data = noaa.read_bytes()
    path = tmp_path / "cut.grib2"
    path.write_bytes(data[: int(len(data) * keep)])
    with pytest.raises(ForecastError, match="cut short"):
        open_forecast(path)


def test_sea_floor_alone_is_refused_as_a_wave_forecast(open_data) -> None:
    with pytest.raises(ForecastError, match="only sea-floor depth or elevation"):
        open_forecast(open_data / GEBCO)


def test_sea_floor_beside_waves_gives_depth(open_data, make_forecast) -> None:
    waves = make_forecast(lat=[55.0, 56.0, 57.0], lon=[11.0, 12.0, 13.0, 14.0])
    with netCDF4.Dataset(open_data / GEBCO) as nc:
        j, k = 130, 100
        lat, lon = float(nc["lat"][j]), float(nc["lon"][k])
        elevation = nc["elevation"][:]
        sea = np.argwhere(elevation < -5)
        j, k = map(int, sea[sea.shape[0] // 2])
        lat, lon = float(nc["lat"][j]), float(nc["lon"][k])
        want = -float(elevation[j, k])
    with open_forecast([waves, open_data / GEBCO]) as forecast:
        got = forecast.sample(lat, lon, forecast.time_from_s)
    assert_allclose(got.depth_m, want, rtol=1e-5)


def test_grib_and_geodesics_work_in_one_process(noaa) -> None:
    # Loading the GRIB library before pyproj corrupts memory; we see to the order.
    import subprocess
    import sys

    code = (
        "from passage.inputs.forecast import open_forecast\n"
        f"open_forecast({str(noaa)!r}).close()\n"
        "import pyproj\n"
        "print(round(pyproj.Geod(ellps='WGS84').inv(0, 0, 1, 1)[2]))\n"
    )
    run = subprocess.run(
        [sys.executable, "-W", "error", "-c", code],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    # 156 899.568 m: geographiclib's value for (0, 0) to (1, 1) on WGS84.
    assert run.stdout.split() == ["156900"]
