"""A synthetic hindcast of any length, for benchmarks and slow tests; never committed.

Nothing in it is data: weather is a few slowly turning waves of random phase that cross
the grid, with a season on top. Wind sea, two swells and wind, 3-hourly, packed as
16-bit integers in one file a year, a day to a chunk, as archives hand them out.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

HOUR_S = 3600.0
LAT = np.arange(41.0, 52.01, 0.5)
LON = np.arange(-13.0, 1.01, 0.5)


class Weather:
    """Fields as functions of time; the same for the same seed."""

    def __init__(self, seed=1, modes=14):
        rng = np.random.default_rng(seed)
        self.period_h = rng.uniform(40.0, 260.0, (5, modes))
        self.phase = rng.uniform(0.0, 2.0 * np.pi, (5, modes))
        self.north = rng.normal(0.0, 0.22, (5, modes))
        self.east = rng.normal(0.0, 0.16, (5, modes))
        self.scale = rng.uniform(0.5, 1.0, (5, modes))
        self.scale /= np.sqrt((self.scale**2).sum(axis=1, keepdims=True) / 2.0)

    def unit(self, which, hours, lat, lon):
        """A field of mean 0 and variance 1, (time, lat, lon)."""
        total = np.zeros((hours.size, lat.size, lon.size), np.float32)
        for q in range(self.period_h.shape[1]):
            t = 2.0 * np.pi * hours / self.period_h[which, q] + self.phase[which, q]
            place = self.north[which, q] * lat[:, None] + self.east[which, q] * lon
            total += (self.scale[which, q] * np.cos(t[:, None, None] + place)).astype(np.float32)
        return total

    def fields(self, hours, lat=LAT, lon=LON):
        """Arrays (time, lat, lon) by name, in m, s, degrees, m/s."""
        season = 1.0 + 0.45 * np.cos(2.0 * np.pi * (hours - 360.0) / 8766.0)
        season = season[:, None, None].astype(np.float32)
        a, b, c, d, e = (self.unit(i, hours, lat, lon) for i in range(5))
        wind = np.clip(season * (8.0 + 3.2 * a), 0.5, 30.0)
        turn = np.deg2rad(250.0 + 65.0 * b)
        height = np.clip(0.017 * wind**2, 0.1, 9.0)
        swell1 = np.clip(season * (1.6 + 0.8 * c), 0.15, 9.0)
        swell2 = np.clip(season * (0.7 + 0.4 * d), 0.10, 4.0)
        total = np.sqrt(height**2 + swell1**2 + swell2**2)
        return {
            "hs": total,
            "hs_wind": height,
            "tp_wind": np.clip(3.0 + 2.6 * np.sqrt(height), 2.5, 14.0),
            "dir_wind": np.rad2deg(turn) % 360.0,
            "hs_swell1": swell1,
            "tp_swell1": np.clip(10.5 + 1.8 * d, 6.0, 19.0),
            "dir_swell1": (290.0 + 22.0 * e) % 360.0,
            "hs_swell2": swell2,
            "tp_swell2": np.clip(9.0 + 1.5 * c, 5.0, 17.0),
            "dir_swell2": (210.0 + 40.0 * a) % 360.0,
            "u10": -wind * np.sin(turn),
            "v10": -wind * np.cos(turn),
        }


_NAMES = {
    "hs": "sea_surface_wave_significant_height",
    "hs_wind": "sea_surface_wind_wave_significant_height",
    "tp_wind": "sea_surface_wind_wave_period_at_variance_spectral_density_maximum",
    "dir_wind": "sea_surface_wind_wave_from_direction",
    "hs_swell1": "sea_surface_primary_swell_wave_significant_height",
    "tp_swell1": "sea_surface_primary_swell_wave_period_at_variance_spectral_density_maximum",
    "dir_swell1": "sea_surface_primary_swell_wave_from_direction",
    "hs_swell2": "sea_surface_secondary_swell_wave_significant_height",
    "tp_swell2": "sea_surface_secondary_swell_wave_period_at_variance_spectral_density_maximum",
    "dir_swell2": "sea_surface_secondary_swell_wave_from_direction",
    "u10": "eastward_wind",
    "v10": "northward_wind",
}
_SCALE = {"hs": 1e-3, "tp": 1e-3, "di": 1e-2, "u1": 2e-3, "v1": 2e-3}
_UNITS = {"hs": "m", "tp": "s", "di": "degree", "u1": "m s-1", "v1": "m s-1"}


def write_years(folder, first, years, step_h=3.0, seed=1, land=True, chunk=None):
    """Write one NetCDF file a year; returns their paths."""
    import netCDF4

    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    weather = Weather(seed)
    dry = np.zeros((LAT.size, LON.size), bool)
    if land:
        dry[:, -4:] = True
    paths = []
    epoch = np.datetime64("1970-01-01T00")
    for year in range(first, first + years):
        start = float((np.datetime64(f"{year}-01-01T00") - epoch).astype(int))
        stop = float((np.datetime64(f"{year + 1}-01-01T00") - epoch).astype(int))
        hours = np.arange(start, stop, step_h)
        path = folder / f"synthetic_{year}.nc"
        with netCDF4.Dataset(path, "w", format="NETCDF4") as data:
            data.Conventions = "CF-1.10"
            data.title = "Synthetic hindcast, no data"
            for name, values, unit, standard in (
                ("time", hours, "hours since 1970-01-01 00:00:00", "time"),
                ("latitude", LAT, "degrees_north", "latitude"),
                ("longitude", LON, "degrees_east", "longitude"),
            ):
                data.createDimension(name, values.size)
                axis = data.createVariable(name, "f8", (name,))
                axis.units, axis.standard_name = unit, standard
                axis[:] = values
            chunks = chunk or (int(24 / step_h), LAT.size, LON.size)
            made = {
                name: data.createVariable(
                    name, "i2", ("time", "latitude", "longitude"), zlib=True, complevel=1,
                    shuffle=True, chunksizes=chunks, fill_value=-32768,
                )
                for name in _NAMES
            }  # fmt: skip
            for name, variable in made.items():
                variable.standard_name = _NAMES[name]
                variable.units = _UNITS[name[:2]]
                variable.scale_factor = _SCALE[name[:2]]
            for at in range(0, hours.size, 488):
                part = slice(at, min(at + 488, hours.size))
                for name, values in weather.fields(hours[part]).items():
                    stored = np.ma.array(values, mask=np.broadcast_to(dry, values.shape))
                    made[name][part] = stored
        paths.append(path)
    return paths


if __name__ == "__main__":
    for made in write_years(sys.argv[1], int(sys.argv[2]), int(sys.argv[3])):
        print(made)
