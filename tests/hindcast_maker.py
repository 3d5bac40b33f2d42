"""A year of invented past seas over the Bay of Biscay: gentle in summer, rough in winter.

A coarse grid and a step of six hours, for tests and pictures of seasons; nothing was observed.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import xarray as xr


def _spells(rng: np.random.Generator, steps: int, memory: float) -> np.ndarray:
    """Weather that remembers the step before: mean 0, variance 1."""
    made = np.zeros(steps)
    kicks = rng.normal(size=steps) * np.sqrt(1.0 - memory**2)
    for i in range(1, steps):
        made[i] = memory * made[i - 1] + kicks[i]
    return made


def make_hindcast(path: Path, *, year: int = 2023, days: int = 380, step_h: int = 6) -> Path:
    """Write waves (sea and swell) and wind of a year and a little more as one NetCDF file."""
    rng = np.random.default_rng(11)
    steps = days * 24 // step_h
    hours = step_h * np.arange(steps)
    winter = np.cos(2.0 * np.pi * (hours / 24.0 - 20.0) / 365.25)
    lat, lon = np.arange(42.0, 50.1, 1.0), np.arange(-12.0, -0.9, 1.0)
    # The open ocean in the west is rougher.
    place = 1.0 + 0.06 * (-5.0 - lon)[None, :] + 0.02 * (lat - 45.0)[:, None]
    calm, gusts = _spells(rng, steps, 0.93), _spells(rng, steps, 0.88)
    swell = np.exp(np.log(1.4) + 0.42 * winter + 0.42 * calm)
    speed = np.exp(np.log(5.5) + 0.3 * winter + 0.4 * gusts)
    turn = 265.0 + 55.0 * _spells(rng, steps, 0.95)
    sea = np.minimum(0.022 * speed**2, 7.0)

    def field(series: np.ndarray, by_place: bool = True) -> tuple[tuple[str, ...], np.ndarray]:
        grid = place if by_place else np.ones_like(place)
        return ("time", "latitude", "longitude"), (series[:, None, None] * grid).astype("f4")

    def variable(
        values: tuple[tuple[str, ...], np.ndarray], name: str, unit: str
    ) -> tuple[tuple[str, ...], np.ndarray, dict[str, str]]:
        return (*values, {"standard_name": name, "units": unit})

    first, wind_sea = "sea_surface_primary_swell_wave_", "sea_surface_wind_wave_"
    peak = "period_at_variance_spectral_density_maximum"
    from_rad = np.radians(turn)
    data = xr.Dataset(
        {
            "hs_wind": variable(field(sea), f"{wind_sea}significant_height", "m"),
            "tp_wind": variable(field(2.6 + 0.38 * speed, False), wind_sea + peak, "s"),
            "wind_wave_from": variable(
                field(turn % 360.0, False), f"{wind_sea}from_direction", "degree"
            ),
            "hs_swell1": variable(field(swell), f"{first}significant_height", "m"),
            "tp_swell1": variable(field(9.5 + 1.5 * winter + calm, False), first + peak, "s"),
            "swell1_from": variable(
                field(300.0 + 8.0 * gusts, False), f"{first}from_direction", "degree"
            ),
            "u10": variable(field(-speed * np.sin(from_rad), False), "eastward_wind", "m s-1"),
            "v10": variable(field(-speed * np.cos(from_rad), False), "northward_wind", "m s-1"),
        },
        coords={
            "time": np.datetime64(f"{year}-01-01", "ns") + hours.astype("timedelta64[h]"),
            "latitude": ("latitude", lat, {"standard_name": "latitude", "units": "degrees_north"}),
            "longitude": (
                "longitude", lon, {"standard_name": "longitude", "units": "degrees_east"},
            ),
        },
        attrs={"title": "invented, for tests"},
    )  # fmt: skip
    data.to_netcdf(path)
    return path
