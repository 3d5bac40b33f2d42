"""Make the sample forecast: invented weather over the Bay of Biscay.

Run it from the project folder::

    python sample_forecasts/make_sample.py [FOLDER]

It writes three CF NetCDF files (waves, wind, surface current) for the run of
2026-03-13T00Z, each on a grid and time axis of its own as real files are. The
same script gives the same numbers every time. Nothing in it was observed: the
files are for trying the program and must not be used for a real passage.
"""

from __future__ import annotations

import sys
from pathlib import Path

import netCDF4
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import invented_sea as sea

from passage.units import DEG_RAD, HOUR_S

RUN = "2026-03-13T00:00Z"
EPOCH = "hours since 2026-03-13 00:00:00 UTC"
#: Hourly for two days, then every three hours.
HOURS = np.concatenate([np.arange(0.0, 49.0), np.arange(51.0, 97.0, 3.0)])
SPIN_UP_H = -54.0
STEP_S = 1800.0
LAT = np.arange(42.0, 51.01, 0.25)
LON = np.arange(-12.0, 0.01, 0.25)
#: The sea is marched on a larger patch, so that waves can arrive from outside.
WIDE_LAT = np.arange(39.0, 55.01, 0.25)
WIDE_LON = np.arange(-26.0, 3.01, 0.25)

NOTICE = (
    "INVENTED DATA. Made by sample_forecasts/make_sample.py from moving pressure "
    "systems that never existed. Not a forecast, not observed. Not to be used for "
    "any real passage."
)

#: name, standard_name, units, scale, what. Heights to 1 mm, periods to 1 ms.
WAVES = (
    ("hs", "sea_surface_wave_significant_height", "m", 0.001, "whole sea"),
    ("tp", "sea_surface_wave_period_at_variance_spectral_density_maximum", "s", 0.001, "whole sea"),
    ("wave_from", "sea_surface_wave_from_direction", "degree", 0.02, "whole sea"),
    ("hs_wind", "sea_surface_wind_wave_significant_height", "m", 0.001, "wind sea"),
    (
        "tp_wind",
        "sea_surface_wind_wave_period_at_variance_spectral_density_maximum",
        "s",
        0.001,
        "wind sea",
    ),
    ("wind_wave_from", "sea_surface_wind_wave_from_direction", "degree", 0.02, "wind sea"),
    (
        "hs_swell1",
        "sea_surface_primary_swell_wave_significant_height",
        "m",
        0.001,
        "swell of a distant storm",
    ),
    (
        "tp_swell1",
        "sea_surface_primary_swell_wave_period_at_variance_spectral_density_maximum",
        "s",
        0.001,
        "swell of a distant storm",
    ),
    (
        "swell1_from",
        "sea_surface_primary_swell_wave_from_direction",
        "degree",
        0.02,
        "swell of a distant storm",
    ),
    (
        "hs_swell2",
        "sea_surface_secondary_swell_wave_significant_height",
        "m",
        0.001,
        "swell that the low leaves behind",
    ),
    (
        "tp_swell2",
        "sea_surface_secondary_swell_wave_period_at_variance_spectral_density_maximum",
        "s",
        0.001,
        "swell that the low leaves behind",
    ),
    (
        "swell2_from",
        "sea_surface_secondary_swell_wave_from_direction",
        "degree",
        0.02,
        "swell that the low leaves behind",
    ),
)
#: Systems lower than this are absent: no height, period or direction is given.
LOWEST_WIND_SEA_M, LOWEST_SWELL_M = 0.10, 0.15


def land_mask(lat_deg: np.ndarray, lon_deg: np.ndarray) -> np.ndarray:
    """True on land, shape (lat, lon)."""
    from passage.inputs.coast.coastline import is_land

    lon, lat = np.meshgrid(lon_deg, lat_deg)
    return np.asarray(is_land(lat, lon), dtype=bool)


def march_waves() -> dict[str, np.ndarray]:
    """All wave variables of the table, each (time, lat, lon), NaN on land."""
    land = land_mask(WIDE_LAT, WIDE_LON)
    open_m = sea.open_water_m(WIDE_LAT, WIDE_LON, land)
    local = sea.LocalSea(WIDE_LAT, WIDE_LON, land, open_m, sea.bilinear(WIDE_LAT, WIDE_LON))
    rows = np.searchsorted(WIDE_LAT, LAT - 1e-6)
    cols = np.searchsorted(WIDE_LON, LON - 1e-6)
    crop = np.ix_(rows, cols)
    mask = land[crop]
    lon, lat = np.meshgrid(LON, LAT)
    _, bearing = sea.distant_storm(lat, lon)
    reaches = (open_m >= 500e3).astype(float)[:, rows][:, :, cols]
    shelter = sea.along_bearing(reaches, bearing, 50.0 * DEG_RAD)

    out: dict[str, list[np.ndarray]] = {name: [] for name, *_ in WAVES}
    times = np.arange(SPIN_UP_H, HOURS[-1] + 1e-6, STEP_S / HOUR_S)
    for hours in times:
        u, v = sea.wind(local.lat, local.lon, hours)
        if np.any(np.isclose(HOURS, hours)):
            systems = [
                _absent_below(_crop(local.wind_sea(u, v), crop), LOWEST_WIND_SEA_M),
                _absent_below(sea.distant_swell(lat, lon, hours, shelter), LOWEST_SWELL_M),
                _absent_below(_crop(local.left_swell(), crop), LOWEST_SWELL_M),
            ]
            values = [_total(systems), *systems]
            for i, system in enumerate(values):
                for j, field in enumerate(
                    (system.height_m, system.period_s, system.from_rad / DEG_RAD)
                ):
                    name = WAVES[3 * i + j][0]
                    out[name].append(np.where(mask, np.nan, field))
        local.step(u, v, STEP_S)
    return {name: np.stack(fields) for name, fields in out.items()}


def _crop(system: sea.Sea, where: tuple) -> sea.Sea:
    return sea.Sea(system.height_m[where], system.period_s[where], system.from_rad[where])


def _absent_below(system: sea.Sea, height_m: float) -> sea.Sea:
    there = system.height_m >= height_m
    return sea.Sea(
        np.where(there, system.height_m, np.nan),
        np.where(there, system.period_s, np.nan),
        np.where(there, system.from_rad, np.nan),
    )


def _total(systems: list[sea.Sea]) -> sea.Sea:
    """Whole sea: variances add; the peak is that of the sharpest, highest system."""
    height = np.stack([s.height_m for s in systems])
    period = np.stack([s.period_s for s in systems])
    direction = np.stack([s.from_rad for s in systems])
    energy = np.nan_to_num(height) ** 2
    # The peak of a JONSWAP-like spectrum goes as Hs^2 Tp.
    highest = np.argmax(energy * np.nan_to_num(period), axis=0)[None]
    east = np.nansum(energy * np.sin(direction), axis=0)
    north = np.nansum(energy * np.cos(direction), axis=0)
    return sea.Sea(
        np.sqrt(energy.sum(axis=0)),
        np.take_along_axis(period, highest, axis=0)[0],
        np.arctan2(east, north) % (2.0 * np.pi),
    )


def surface_current(
    lat_deg: np.ndarray, lon_deg: np.ndarray, hours: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Invented current (east, north) [m/s], (time, lat, lon): M2 tide and slope flow."""
    lon, lat = np.meshgrid(lon_deg, lat_deg)
    ushant = np.exp(-(((lat - 48.6) / 0.7) ** 2) - ((lon + 5.0) / 1.1) ** 2)
    shelf = 1.0 / (1.0 + np.exp(-(lat - 48.3 - 0.25 * (lon + 6.0)) / 0.35))
    major = 0.06 + 0.30 * shelf + 0.75 * ushant
    minor = 0.25 * major
    tilt = (60.0 - 25.0 * shelf) * DEG_RAD
    phase = 2.0 * np.pi * hours[:, None, None] / 12.4206 - (0.35 * (lon + 6.0))
    along, across = major * np.cos(phase), minor * np.sin(phase)
    u = along * np.cos(tilt) - across * np.sin(tilt)
    v = along * np.sin(tilt) + across * np.cos(tilt)
    # A steady flow along the shelf edge, from Finisterre round to the Celtic Sea.
    edge_lat = np.interp(lon, [-10.0, -9.5, -8.0, -4.0, -2.5, 0], [50, 49, 48, 46.5, 45, 44])
    slope = 0.16 * np.exp(-(((lat - edge_lat) / 0.45) ** 2))
    return u - 0.8 * slope, v + 0.6 * slope


def write(
    path: Path,
    title: str,
    hours: np.ndarray,
    lat: np.ndarray,
    lon: np.ndarray,
    fields: dict[str, tuple[np.ndarray, dict[str, object], float]],
) -> None:
    """Write one CF file; ``fields`` gives values, attributes and packing scale."""
    with netCDF4.Dataset(path, "w", format="NETCDF4") as file:
        file.setncatts(
            {
                "Conventions": "CF-1.10",
                "title": title,
                "institution": "none: invented scenario",
                "source": "sample_forecasts/make_sample.py",
                "comment": NOTICE,
                "forecast_reference_time": RUN,
            }
        )
        axes = (
            (
                "time",
                hours,
                "f8",
                {"standard_name": "time", "units": EPOCH, "calendar": "standard", "axis": "T"},
            ),
            (
                "latitude",
                lat,
                "f4",
                {"standard_name": "latitude", "units": "degrees_north", "axis": "Y"},
            ),
            (
                "longitude",
                lon,
                "f4",
                {"standard_name": "longitude", "units": "degrees_east", "axis": "X"},
            ),
        )
        for name, values, kind, attributes in axes:
            file.createDimension(name, values.size)
            axis = file.createVariable(name, kind, (name,))
            axis.setncatts(attributes)
            axis[:] = values
        run = file.createVariable("forecast_reference_time", "f8", ())
        run.setncatts({"standard_name": "forecast_reference_time", "units": EPOCH})
        run[...] = 0.0
        for name, (values, attributes, scale) in fields.items():
            variable = file.createVariable(
                name,
                "i2",
                ("time", "latitude", "longitude"),
                zlib=True,
                complevel=9,
                shuffle=True,
                fill_value=np.int16(-32768),
            )
            variable.set_auto_maskandscale(False)
            variable.setncatts(
                {
                    **attributes,
                    "scale_factor": scale,
                    "add_offset": 0.0,
                    "coordinates": "forecast_reference_time",
                }
            )
            counts = np.rint(values / scale)
            if np.nanmax(np.abs(counts)) > 32767:
                raise ValueError(f"{name}: does not fit 16 bits at {scale}")
            variable[:] = np.where(np.isnan(counts), -32768, counts).astype("i2")


def make(folder: Path, name: str = "biscay") -> list[Path]:
    """Write the three files in ``folder`` and return their paths."""
    waves = folder / f"{name}_waves.nc"
    values = march_waves()
    write(
        waves,
        "Waves over the Bay of Biscay (invented)",
        HOURS,
        LAT,
        LON,
        {
            name: (
                values[name],
                {"standard_name": cf, "long_name": f"{what}, invented", "units": unit},
                scale,
            )
            for name, cf, unit, scale, what in WAVES
        },
    )
    # Wind as many producers give it: from north to south, longitudes 0 to 360.
    wind_path = folder / f"{name}_wind.nc"
    lat, lon = LAT[::-1], LON + 360.0
    grid_lon, grid_lat = np.meshgrid(lon - 360.0, lat)
    winds = np.array([sea.wind(grid_lat, grid_lon, hours) for hours in HOURS])
    write(
        wind_path,
        "Wind at 10 m over the Bay of Biscay (invented)",
        HOURS,
        lat,
        lon,
        {
            "u10": (
                winds[:, 0],
                {
                    "standard_name": "eastward_wind",
                    "units": "m s-1",
                    "long_name": "wind at 10 m, invented",
                },
                0.002,
            ),
            "v10": (
                winds[:, 1],
                {
                    "standard_name": "northward_wind",
                    "units": "m s-1",
                    "long_name": "wind at 10 m, invented",
                },
                0.002,
            ),
        },
    )
    # Current hourly to the end, on a grid that shares no line with the others.
    current_path = folder / f"{name}_current.nc"
    hours = np.arange(0.0, 97.0)
    lat, lon = np.arange(41.9, 51.2, 1 / 3), np.arange(-12.1, 0.3, 1 / 3)
    u, v = surface_current(lat, lon, hours)
    water = ~land_mask(lat, lon)
    write(
        current_path,
        "Surface current over the Bay of Biscay (invented)",
        hours,
        lat,
        lon,
        {
            "uo": (
                np.where(water, u, np.nan),
                {
                    "standard_name": "eastward_sea_water_velocity",
                    "units": "m s-1",
                    "long_name": "surface current, invented",
                },
                0.0005,
            ),
            "vo": (
                np.where(water, v, np.nan),
                {
                    "standard_name": "northward_sea_water_velocity",
                    "units": "m s-1",
                    "long_name": "surface current, invented",
                },
                0.0005,
            ),
        },
    )
    return [waves, wind_path, current_path]


if __name__ == "__main__":
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).resolve().parent
    for written in make(target):
        print(written, written.stat().st_size, "bytes")
