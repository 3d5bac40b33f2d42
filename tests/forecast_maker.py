"""Small synthetic forecast files with chosen conventions, for tests.

``variables`` maps a file's variable name to a :class:`Made`; its values are a number,
an array ``(time, lat, lon)``, or a function of broadcast latitude, longitude and hour.
``sea``, ``partition``, ``wind`` and ``current`` give the usual sets with CF names.
Tests reach all of it through the fixture ``make_forecast`` of ``conftest.py``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import netCDF4
import numpy as np

Values = float | np.ndarray | Callable[..., Any]
LAT = np.arange(48.0, 50.01, 0.5)
LON = np.arange(-8.0, -5.99, 0.5)
HOURS = np.arange(0.0, 13.0, 3.0)
START = "2026-03-14T00:00"
WAVE = "sea_surface_wave"
TP = "sea_surface_wave_period_at_variance_spectral_density_maximum"


@dataclass(frozen=True)
class Made:
    """One variable: values, unit, standard_name (left out when empty), other attributes."""

    values: Values
    units: str = ""
    standard_name: str = ""
    attrs: Mapping[str, Any] = field(default_factory=dict)


def start_s(start: str = START) -> float:
    """Seconds since 1970 of a start."""
    return datetime.fromisoformat(start).replace(tzinfo=UTC).timestamp()


def sea(height: Values = 1.5, period: Values = 8.0, direction: Values = 270.0) -> dict:
    """Total sea with CF names: significant height, peak period, from direction."""
    return {
        "hs": Made(height, "m", f"{WAVE}_significant_height"),
        "tp": Made(period, "s", TP),
        "mdir": Made(direction, "degree", f"{WAVE}_from_direction"),
    }


def partition(
    which: str, height: Values = 1.0, period: Values = 7.0, direction: Values = 240.0
) -> dict:
    """``wind`` or ``primary_swell`` and so on, with CF names and mean period Tm01."""
    stem = f"sea_surface_{which}_wave"
    moment = "mean_period_from_variance_spectral_density_first_frequency_moment"
    return {
        f"h_{which}": Made(height, "m", f"{stem}_significant_height"),
        f"t_{which}": Made(period, "s", f"{stem}_{moment}"),
        f"d_{which}": Made(direction, "degree", f"{stem}_from_direction"),
    }


def wind(u: Values = 5.0, v: Values = 0.0) -> dict:
    """10 m wind components."""
    return {
        "u10": Made(u, "m s-1", "eastward_wind"),
        "v10": Made(v, "m s-1", "northward_wind"),
    }


def current(u: Values = 0.3, v: Values = 0.0) -> dict:
    """Surface current components."""
    return {
        "uo": Made(u, "m s-1", "eastward_sea_water_velocity"),
        "vo": Made(v, "m s-1", "northward_sea_water_velocity"),
    }


def write_forecast(
    path: Path | str,
    variables: Mapping[str, Made] | None = None,
    *,
    lat: Sequence[float] | np.ndarray = LAT,
    lon: Sequence[float] | np.ndarray = LON,
    hours: Sequence[float] | np.ndarray | None = HOURS,
    start: str = START,
    run: str | None = None,
    members: int = 0,
    packed: bool = False,
    form: str = "NETCDF4",
    names: tuple[str, str, str] = ("time", "latitude", "longitude"),
    time_units: str = "",
    attrs: Mapping[str, Any] | None = None,
    chunks: tuple[int, ...] | None = None,
    compress: bool = False,
) -> Path:
    """Write one file and return its path; see the module's first lines.

    ``hours=None`` leaves out the time; ``run`` adds a forecast_reference_time;
    ``members`` adds a leading ensemble dimension (a value function then takes the
    member as fourth argument).
    """
    path = Path(path)
    if variables is None:
        variables = sea()
    lat, lon = np.asarray(lat, float), np.asarray(lon, float)
    name_t, name_lat, name_lon = names
    with netCDF4.Dataset(path, "w", format=form) as nc:
        nc.setncatts({"Conventions": "CF-1.8", "institution": "Invented for tests"})
        nc.setncatts(dict(attrs or {}))
        dims: list[str] = []
        if members:
            nc.createDimension("realization", members)
            number = nc.createVariable("realization", "i4", ("realization",))
            number.standard_name = "realization"
            number[:] = np.arange(members)
            dims.append("realization")
        hour = np.zeros(1) if hours is None else np.asarray(hours, float)
        if hours is not None:
            nc.createDimension(name_t, hour.size)
            axis = nc.createVariable(name_t, "f8", (name_t,))
            axis.units = time_units or f"hours since {start}:00"
            axis.standard_name = "time"
            axis[:] = hour
            dims.append(name_t)
        if run is not None:
            reference = nc.createVariable("forecast_reference_time", "f8")
            reference.units = "seconds since 1970-01-01"
            reference.standard_name = "forecast_reference_time"
            reference[...] = start_s(run)
        for name, values, unit in (
            (name_lat, lat, "degrees_north"), (name_lon, lon, "degrees_east"),
        ):  # fmt: skip
            nc.createDimension(name, values.size)
            axis = nc.createVariable(name, "f8", (name,))
            axis.units = unit
            axis[:] = values
            dims.append(name)
        grid = np.meshgrid(hour, lat, lon, indexing="ij")
        for name, made in variables.items():
            array = _array(made.values, grid, members)
            if hours is None:
                array = array[..., 0, :, :]
            _put(nc, name, made, array, tuple(dims), packed, chunks, compress)
    return path


def _array(values: Values, grid: list[np.ndarray], members: int) -> np.ndarray:
    hour, lat, lon = grid
    if callable(values):
        if members:
            return np.stack([values(lat, lon, hour, m) + 0 * lat for m in range(members)])
        return np.asarray(values(lat, lon, hour) + 0 * lat, float)
    shape = (members, *lat.shape) if members else lat.shape
    return np.broadcast_to(np.asarray(values, float), shape).astype(float)


def _put(
    nc: Any, name: str, made: Made, array: np.ndarray, dims: tuple[str, ...],
    packed: bool, chunks: tuple[int, ...] | None, compress: bool,
) -> None:  # fmt: skip
    kind, fill = ("i2", -32767) if packed else ("f4", np.nan)
    extra: dict[str, Any] = {"chunksizes": chunks} if chunks else {}
    if compress:
        extra["zlib"] = True
    variable = nc.createVariable(name, kind, dims, fill_value=fill, **extra)
    attrs = dict(made.attrs)
    if made.units:
        attrs["units"] = made.units
    if made.standard_name:
        attrs["standard_name"] = made.standard_name
    if packed:
        low, high = np.nanmin(array), np.nanmax(array)
        scale = max((high - low) / 65000.0, 1e-6)
        attrs |= {"scale_factor": scale, "add_offset": (high + low) / 2}
    variable.setncatts(attrs)
    if packed:
        # Packed by hand: the library casts NaN under a mask, with a warning.
        variable.set_auto_maskandscale(False)
        steps = (array - attrs["add_offset"]) / attrs["scale_factor"]
        array = np.where(np.isnan(array), fill, np.round(np.nan_to_num(steps)))
        variable[...] = array.astype("i2")
    else:
        variable[...] = np.ma.masked_invalid(array)
