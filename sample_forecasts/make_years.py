"""Make a small hindcast to practise ``passage season`` on: invented weather, no one's.

Run it where the file should lie::

    python make_years.py [FILE]

Waves and wind every six hours from May to September of two years over the Bay of Biscay, on a
grid of half a degree. Blows come and go as chance has it, fewer in July than in September;
wind sea follows the wind, a swell from the west-north-west follows the blows. Nothing in it was
observed, and nothing may be used for a real passage. A real hindcast of twenty years comes
from the weather services, in the same form.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import xarray as xr

YEARS = (2021, 2022)
STEP_H = 6.0
#: How long the weather remembers. [h]
MEMORY_H = 30.0
SEED = 20210501


def correlated(rng: np.random.Generator, count: int, memory_h: float) -> np.ndarray:
    """Normal numbers that forget exponentially, ``(count,)``."""
    keep = np.exp(-STEP_H / memory_h)
    noise = rng.standard_normal(count)
    made = np.empty(count)
    made[0] = noise[0]
    for i in range(1, count):
        made[i] = keep * made[i - 1] + np.sqrt(1.0 - keep**2) * noise[i]
    return made


def season(year: int) -> xr.Dataset:
    """One summer of waves and wind."""
    first, last = np.datetime64(f"{year}-05-01T00"), np.datetime64(f"{year}-10-01T00")
    time = np.arange(first, last, np.timedelta64(int(STEP_H), "h")).astype("datetime64[ns]")
    lat, lon = np.arange(42.0, 50.01, 0.5), np.arange(-12.0, -1.99, 0.5)
    rng = np.random.default_rng(SEED + year)
    month = time.astype("datetime64[M]").astype(int) % 12 + 1
    # Mean wind of a month [m/s]: quietest in July.
    mean = np.interp(month, [5, 6, 7, 8, 9], [7.0, 6.2, 5.6, 6.2, 8.0])
    count = time.size
    speed = mean * np.exp(0.45 * correlated(rng, count, MEMORY_H) - 0.10)
    veer = 255.0 + 55.0 * correlated(rng, count, 48.0)
    blow = np.maximum(speed - 6.0, 0.0)
    swell = np.empty(count)
    swell[0] = 1.2
    for i in range(1, count):
        # A blow somewhere to the west leaves a swell that lasts two days.
        swell[i] = 0.88 * swell[i - 1] + 0.12 * (0.9 + 0.35 * blow[i])
    # The west lies further out: more wind and more sea.
    out = 1.0 + 0.25 * (-4.0 - lon) / 8.0
    shape = (count, lat.size, lon.size)
    wind = np.broadcast_to(speed[:, None, None] * out, shape)
    from_deg = np.broadcast_to((veer % 360.0)[:, None, None], shape)
    sea_m = 0.21 * wind**2 / 9.81 * 0.55
    sea_s = np.maximum(7.1 * wind / 9.81 * 0.8, 2.5)
    swell_m = np.broadcast_to(swell[:, None, None] * out, shape)
    swell_s = np.broadcast_to(9.0 + 1.2 * (swell[:, None, None] - 1.0), shape)
    angle = np.deg2rad(from_deg)
    peak = "period_at_variance_spectral_density_maximum"
    wind_sea, first = "sea_surface_wind_wave_", "sea_surface_primary_swell_wave_"
    fields = {
        "VHM0_WW": (sea_m, wind_sea + "significant_height", "m"),
        "VTPK_WW": (sea_s, wind_sea + peak, "s"),
        "VMDR_WW": (from_deg, wind_sea + "from_direction", "degree"),
        "VHM0_SW1": (swell_m, first + "significant_height", "m"),
        "VTPK_SW1": (swell_s, first + peak, "s"),
        "VMDR_SW1": (np.full(shape, 295.0), first + "from_direction", "degree"),
        "u10": (-wind * np.sin(angle), "eastward_wind", "m s-1"),
        "v10": (-wind * np.cos(angle), "northward_wind", "m s-1"),
    }  # fmt: skip
    return xr.Dataset(
        {
            name: (
                ("time", "latitude", "longitude"),
                values.astype("float32"),
                {"standard_name": words, "units": unit},
            )
            for name, (values, words, unit) in fields.items()
        },
        {
            "time": time,
            "latitude": ("latitude", lat, {"units": "degrees_north"}),
            "longitude": ("longitude", lon, {"units": "degrees_east"}),
        },
    )


def make(file: Path) -> None:
    """Write the hindcast: one file for each year, named after the year."""
    for year in YEARS:
        made = season(year)
        made.attrs = {"title": "INVENTED hindcast, for practice only"}
        made.to_netcdf(file.with_name(f"{file.stem}_{year}{file.suffix}"))


if __name__ == "__main__":
    make(Path(sys.argv[1] if len(sys.argv) > 1 else "hindcast.nc"))
