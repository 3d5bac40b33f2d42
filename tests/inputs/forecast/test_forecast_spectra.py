"""Full directional spectra in files: units, conventions, log10, sampling."""

from __future__ import annotations

import math
import warnings

import numpy as np
import pytest
import xarray as xr
from numpy.testing import assert_allclose
from scipy.integrate import trapezoid

from passage.errors import ForecastError, UnknownConvention
from passage.inputs.forecast import open_forecast
from passage.inputs.forecast.harbour import Harbour
from passage.variables import COVERAGE

FREQUENCY = 0.04 * 1.1 ** np.arange(28)
FROM = np.arange(0.0, 360.0, 15.0)
STANDARD = "sea_surface_wave_directional_variance_spectral_density"


def density(height=2.0, period=9.0, direction=300.0):
    """JONSWAP-like spectrum with cos^20 of half the angle, m2/Hz/degree, (f, d)."""
    f = FREQUENCY[:, None]
    shape = f**-5.0 * np.exp(-1.25 * (f * period) ** -4.0)
    half = np.radians(FROM - direction) / 2.0
    spread = np.cos(half)[None, :] ** 20
    both = shape * spread
    m0 = trapezoid(both.sum(axis=1), FREQUENCY) * 15.0
    return both * (height**2 / 16.0) / m0


def dataset(maker, *, radians=False, log10=False, to=False, scale=None, order=None):
    values = density() * (180.0 / math.pi if radians else 1.0)
    axis = (FROM + 180.0) % 360.0 if to else FROM
    times, lat, lon = maker.HOURS, maker.LAT, maker.LON
    size = np.ones((times.size, lat.size, lon.size)) if scale is None else scale
    full = size[:, None, None] * values[None, :, :, None, None]
    unit = "m2 s rad-1" if radians else "m2 s degree-1"
    if log10:
        with np.errstate(divide="ignore"):
            full = np.log10(full)
        full[~np.isfinite(full)] = np.nan
    word = "to" if to else "from"
    data = xr.Dataset(
        {"dens": (("time", "freq", "dir", "lat", "lon"), full,
                  {"units": unit, "standard_name": STANDARD,
                   "long_name": "log10 of density" if log10 else "density"})},
        {"time": ("time", times, {"units": f"hours since {maker.START}:00"}),
         "freq": ("freq", FREQUENCY, {"units": "s-1"}),
         "dir": ("dir", axis, {"units": "degree",
                               "standard_name": f"sea_surface_wave_{word}_direction"}),
         "lat": ("lat", lat, {"units": "degrees_north"}),
         "lon": ("lon", lon, {"units": "degrees_east"})},
    )  # fmt: skip
    return data if order is None else data.transpose(*order)


def height_of(spectrum) -> np.ndarray:
    inner = spectrum.density.sum(axis=-1) * (spectrum.from_rad[1] - spectrum.from_rad[0])
    return 4.0 * np.sqrt(trapezoid(inner, spectrum.omega_rad_s, axis=-1))


@pytest.mark.parametrize("radians", [False, True])
@pytest.mark.parametrize("log10", [False, True])
@pytest.mark.parametrize("to", [False, True])
@pytest.mark.parametrize(
    "order", [None, ("time", "lat", "lon", "freq", "dir"), ("time", "dir", "freq", "lat", "lon")]
)
def test_every_way_of_storing_gives_the_same(tmp_path, maker, radians, log10, to, order) -> None:
    path = tmp_path / "spectra.nc"
    dataset(maker, radians=radians, log10=log10, to=to, order=order).to_netcdf(path)
    with open_forecast(path) as forecast:
        got = forecast.sample([49.1, 48.0], -7.3, forecast.time_from_s + 4000.0)
        assert any("full directional spectra" in note for note in forecast.notes)
    full = got.spectrum
    # m2/Hz/degree to m2 s/rad2: 180/pi over 2 pi.
    want = density() * (180.0 / math.pi) / (2.0 * math.pi)
    assert_allclose(full.density[0], want, rtol=3e-5, atol=1e-7 * want.max())
    assert_allclose(full.omega_rad_s, 2 * math.pi * FREQUENCY, rtol=1e-12)
    assert_allclose(full.from_rad, np.radians(FROM), atol=1e-6)
    assert_allclose(height_of(full), 2.0, rtol=1e-5)
    assert_allclose(got.height_m[:, 0], 2.0, rtol=1e-5)
    assert_allclose(np.degrees(got.from_rad[:, 0]), 300.0, atol=1e-3)
    assert_allclose(got.total_height_m, 2.0, rtol=1e-5)


def test_height_and_direction_agree_with_wavespectra(tmp_path, maker) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import wavespectra  # noqa: F401
    path = tmp_path / "spectra.nc"
    data = dataset(maker)
    data.to_netcdf(path)
    with open_forecast(path) as forecast:
        got = forecast.sample(49.0, -7.0, forecast.time_from_s)
    point = data["dens"].isel(time=0, lat=2, lon=2).rename("efth")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        height = float(point.spec.hs(tail=False))
        direction = float(point.spec.dm())
    # The library sums rectangles where we take trapezoids: 1 % on a 10 % frequency grid.
    assert_allclose(got.height_m, [height], rtol=0.01)
    assert_allclose(np.degrees(got.from_rad), [direction], atol=0.05)


def test_density_is_linear_between_cells_and_masked_cells_stay_masked(tmp_path, maker) -> None:
    scale = np.ones((maker.HOURS.size, maker.LAT.size, maker.LON.size))
    scale[:, :, 1] = 3.0
    scale[:, :, 4] = np.nan
    path = tmp_path / "spectra.nc"
    dataset(maker, scale=scale).to_netcdf(path)
    with open_forecast(path) as forecast:
        got = forecast.sample(49.0, [-7.75, -6.2], forecast.time_from_s)
        calm = forecast.with_harbour(Harbour(5.0, "sheltered", ((49.0, -6.2),)))
        sheltered = calm.sample(49.0, [-7.75, -6.2], forecast.time_from_s)
    want = 2.0 * density() * (180.0 / math.pi) / (2.0 * math.pi)
    assert_allclose(got.spectrum.density[0], want, rtol=1e-5, atol=1e-7 * want.max())
    assert [COVERAGE[c] for c in got.coverage] == ["ok", "masked"]
    assert np.isnan(got.spectrum.density[1]).all()
    assert [COVERAGE[c] for c in sheltered.coverage] == ["ok", "sheltered"]
    assert_allclose(sheltered.spectrum.density[0], want, rtol=1e-5, atol=1e-7 * want.max())
    assert (sheltered.spectrum.density[1] == 0.0).all()
    assert sheltered.height_m[1, 0] == 0.0


def test_spectra_beside_bulk_waves(tmp_path, maker, make_forecast) -> None:
    bulk = make_forecast(maker.sea(2.0, 9.0, 300.0))
    path = tmp_path / "spectra.nc"
    dataset(maker).to_netcdf(path)
    with open_forecast([bulk, path]) as forecast:
        got = forecast.sample(49.0, -7.0, forecast.time_from_s)
    assert_allclose(got.peak_period_s, [9.0], rtol=1e-6)
    assert got.spectrum.density.shape == (FREQUENCY.size, FROM.size)


def test_axes_that_only_count_bins_are_refused(tmp_path, maker) -> None:
    for axis in ("freq", "dir"):
        data = dataset(maker)
        del data[axis].attrs["units"]
        data.to_netcdf(tmp_path / f"{axis}.nc")
        with pytest.raises(UnknownConvention, match="count bins"):
            open_forecast(tmp_path / f"{axis}.nc")


def test_a_direction_axis_of_unknown_convention_is_refused(tmp_path, maker) -> None:
    data = dataset(maker)
    del data["dir"].attrs["standard_name"]
    data.to_netcdf(tmp_path / "a.nc")
    with pytest.raises(UnknownConvention, match='does not say "from" or "to"'):
        open_forecast(tmp_path / "a.nc")
    with open_forecast(tmp_path / "a.nc", names={"dens": "spectrum_from"}) as got:
        there = got.sample(49.0, -7.0, got.time_from_s)
    assert_allclose(np.degrees(there.from_rad), [300.0], atol=1e-3)


def test_half_a_circle_of_directions_is_refused(tmp_path, maker) -> None:
    data = dataset(maker).isel(dir=slice(0, 12))
    data.to_netcdf(tmp_path / "a.nc")
    with pytest.raises(ForecastError, match="even circle"):
        open_forecast(tmp_path / "a.nc")


def test_zarr_stores_open_like_files(tmp_path, maker, make_forecast) -> None:
    pytest.importorskip("zarr")
    with xr.open_dataset(make_forecast(), decode_times=False) as plain:
        data = plain.load()
    for name in data.variables:
        data[name].encoding.clear()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        data.to_zarr(tmp_path / "sea.zarr", zarr_format=2)
    with open_forecast(tmp_path / "sea.zarr") as forecast:
        got = forecast.sample(49.0, -7.0, forecast.time_from_s)
        assert forecast.sources[0].hashed == "metadata and sizes"
    assert_allclose(got.height_m, [1.5], rtol=1e-6)
