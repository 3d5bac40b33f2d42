"""Latitude, longitude, time and member axes of one dataset, checked as they are read."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

_LAT_NAMES = ("latitude", "lat", "nav_lat", "y_lat")
_LON_NAMES = ("longitude", "lon", "long", "nav_lon", "x_lon")
_MEMBER_NAMES = ("number", "member", "ensemble", "ens", "realization", "realisation")
_STEP_NAMES = ("step", "leadtime", "lead_time", "forecast_period", "prediction_timedelta")
PARTITION_NAMES = ("orderedSequenceData", "partition", "wave_partition")
_EARLIEST = datetime(1940, 1, 1, tzinfo=UTC).timestamp()
_LATEST = datetime(2100, 1, 1, tzinfo=UTC).timestamp()
_UNIT_S = {
    "second": 1.0, "seconds": 1.0, "sec": 1.0, "secs": 1.0, "s": 1.0,
    "minute": 60.0, "minutes": 60.0, "min": 60.0, "mins": 60.0,
    "hour": 3600.0, "hours": 3600.0, "hr": 3600.0, "hrs": 3600.0, "h": 3600.0,
    "day": 86400.0, "days": 86400.0, "d": 86400.0,
    "milliseconds": 1e-3, "microseconds": 1e-6, "nanoseconds": 1e-9,
}  # fmt: skip
_CALENDARS = ("", "standard", "gregorian", "proleptic_gregorian")


class AxisError(ValueError):
    """An axis that cannot be used; the message is the reason and the fix."""

    def __init__(self, what: str, fix: str = "", *, convention: bool = False) -> None:
        super().__init__(what)
        self.what, self.fix, self.convention = what, fix, convention


@dataclass(frozen=True, eq=False)
class Grid:
    """A regular latitude-longitude grid in ascending order.

    ``lat_deg`` and ``lon_deg`` ascend; ``lon_deg`` starts in [-180, 180) and may run
    past 180. ``lat_order`` and ``lon_order`` are the indices into the file that give
    this order. ``wraps`` is true when the last column joins the first.
    """

    lat_deg: Floats
    lon_deg: Floats
    lat_order: npt.NDArray[np.int64]
    lon_order: npt.NDArray[np.int64]
    wraps: bool

    def same_as(self, other: Grid) -> bool:
        """Whether both have the same points (to a millionth of a degree)."""
        return (
            self.lat_deg.shape == other.lat_deg.shape
            and self.lon_deg.shape == other.lon_deg.shape
            and bool(np.allclose(self.lat_deg, other.lat_deg, rtol=0, atol=2e-5))
            and bool(np.allclose(self.lon_deg, other.lon_deg, rtol=0, atol=2e-5))
        )


@dataclass(frozen=True, eq=False)
class Times:
    """Valid times of one dataset.

    ``time_s`` ascends strictly. ``dims`` are the dimensions in the file that it runs
    over: none (a single time), one, or reference time and step, flattened in C order.
    ``run_s`` is the reference time when known.
    """

    time_s: Floats
    dims: tuple[str, ...]
    run_s: float | None


def utc_text(time_s: float) -> str:
    """A time as 2026-03-14T06:00Z."""
    return datetime.fromtimestamp(round(time_s), tz=UTC).strftime("%Y-%m-%dT%H:%MZ")


def _attr(variable: Any, name: str) -> str:
    return str(variable.attrs.get(name, "")).strip()


def _is_axis(name: str, variable: Any, kind: str) -> bool:
    unit = _attr(variable, "units").lower()
    standard = _attr(variable, "standard_name")
    if kind == "latitude":
        return (
            standard == "latitude"
            or unit in ("degrees_north", "degree_north", "degree_n", "degrees_n")
            or (not standard and name.lower() in _LAT_NAMES)
        )
    return (
        standard == "longitude"
        or unit in ("degrees_east", "degree_east", "degree_e", "degrees_e")
        or (not standard and name.lower() in _LON_NAMES)
    )


def find_grid(dataset: Any) -> tuple[str, str, Grid]:
    """Dimension names of latitude and longitude, and the grid.

    Raises
    ------
    AxisError
        No such axes, two-dimensional or rotated or projected ones, values that are
        no positions, not sorted, or duplicates.
    """
    rotated = _rotated_reason(dataset)
    found: dict[str, str] = {}
    for kind in ("latitude", "longitude"):
        names = [n for n, v in dataset.variables.items() if _is_axis(str(n), v, kind)]
        flat = [n for n in names if dataset.variables[n].dims == (n,)]
        if not flat:
            flat = [n for n in names if dataset.variables[n].ndim == 1]
        if len(flat) == 1 or (flat and kind in [str(f).lower() for f in flat]):
            wanted = [f for f in flat if str(f).lower() == kind]
            found[kind] = str((wanted or flat)[0])
        elif flat:
            raise AxisError(
                f"has several {kind} axes ({', '.join(map(str, flat))})",
                "Keep one grid in a file.",
            )
        elif rotated:
            raise AxisError(rotated, _REGRID, convention=True)
        elif any(dataset.variables[n].ndim == 2 for n in names):
            raise AxisError(
                f"has a curvilinear grid: {kind} is two-dimensional",
                _REGRID, convention=True,
            )  # fmt: skip
        elif any(dataset.variables[n].ndim == 0 for n in names):
            raise AxisError(
                f"is a single point: {kind} has one value",
                "Give a file with a grid that covers the route.",
            )
        else:
            raise AxisError(
                f"has no {kind} axis",
                "Give a file on a latitude-longitude grid, with units degrees_north "
                "and degrees_east.",
            )
    if rotated:
        raise AxisError(rotated, _REGRID, convention=True)
    lat, lon = dataset.variables[found["latitude"]], dataset.variables[found["longitude"]]
    if lat.dims == lon.dims:
        raise AxisError(
            f"is a list of points along {lat.dims[0]}, not a grid", _REGRID,
            convention=True,
        )  # fmt: skip
    lat_deg, lat_order = _latitudes(np.asarray(lat.values, dtype=float))
    lon_deg, lon_order, wraps = _longitudes(np.asarray(lon.values, dtype=float))
    grid = Grid(lat_deg, lon_deg, lat_order, lon_order, wraps)
    return str(lat.dims[0]), str(lon.dims[0]), grid


_REGRID = (
    "Ask the supplier for a regular latitude-longitude grid, or regrid it with care: "
    "directions and u, v must be turned to true north as well."
)


def _rotated_reason(dataset: Any) -> str:
    for name, variable in dataset.variables.items():
        mapping = _attr(variable, "grid_mapping_name")
        if mapping and mapping != "latitude_longitude":
            return f"has a rotated or projected grid (grid mapping {mapping})"
        standard = _attr(variable, "standard_name")
        if standard in ("grid_latitude", "grid_longitude"):
            return f"has a rotated grid ({name} is {standard})"
        if standard in ("projection_x_coordinate", "projection_y_coordinate"):
            return f"has a projected grid ({name} is {standard})"
        kind = _attr(variable, "GRIB_gridType")
        if kind and kind not in ("regular_ll", "regular_gg"):
            return f"has a GRIB grid of type {kind}"
    return ""


def _latitudes(values: Floats) -> tuple[Floats, npt.NDArray[np.int64]]:
    if not np.all(np.isfinite(values)):
        raise AxisError("has a latitude axis with missing values", "Fetch it again.")
    if values.size < 2:
        raise AxisError("has a single latitude", "Give a grid of at least 2 x 2 points.")
    worst = values[np.argmax(np.abs(values))]
    if abs(worst) > 90.0 + 1e-6:
        raise AxisError(
            f"has latitude {worst:g} deg, beyond 90",
            "Check that latitude and longitude are not swapped.",
        )
    order = np.arange(values.size)
    if values[0] > values[-1]:
        order = order[::-1]
    ordered = values[order]
    _strictly_ascending(ordered, "latitude")
    return ordered, order


def _longitudes(values: Floats) -> tuple[Floats, npt.NDArray[np.int64], bool]:
    if not np.all(np.isfinite(values)):
        raise AxisError("has a longitude axis with missing values", "Fetch it again.")
    if values.size < 2:
        raise AxisError("has a single longitude", "Give a grid of at least 2 x 2 points.")
    if values.min() < -360.0 or values.max() > 540.0:
        worst = values.min() if values.min() < -360.0 else values.max()
        raise AxisError(f"has longitude {worst:g} deg, which is no longitude")
    order = np.arange(values.size)
    if values[0] > values[-1] and np.all(np.diff(values) < 0):
        order = order[::-1]
    ordered = values[order].copy()
    # A jump from 180 to -180 or 360 to 0 inside the axis is a seam, not a fault.
    seams = np.flatnonzero(np.diff(ordered) < 0)
    if seams.size == 1 and ordered[seams[0]] - ordered[seams[0] + 1] > 180.0:
        ordered[seams[0] + 1 :] += 360.0
    _strictly_ascending(ordered, "longitude")
    step = float(np.median(np.diff(ordered)))
    span = ordered[-1] - ordered[0]
    if span > 360.0 + 1e-6:
        raise AxisError(f"has longitudes spanning {span:g} deg, over 360")
    if abs(span - 360.0) < 1e-6 and ordered.size > 2:  # the wrap column is given twice
        ordered, order = ordered[:-1], order[:-1]
        span = ordered[-1] - ordered[0]
    wraps = bool(abs(span + step - 360.0) < 0.01 * step)
    shift = (ordered[0] + 180.0) % 360.0 - 180.0 - ordered[0]
    return ordered + shift, order, wraps


def _strictly_ascending(values: Floats, kind: str) -> None:
    step = np.diff(values)
    if np.any(step <= 0):
        i = int(np.flatnonzero(step <= 0)[0])
        what = "twice" if step[i] == 0 else "out of order"
        raise AxisError(
            f"has {kind} {values[i + 1]:g} deg {what} (point {i + 2})", "Fetch it again."
        )


def _time_values(name: str, variable: Any) -> Floats:
    """Seconds since 1970 from a CF time variable."""
    raw = np.asarray(variable.values)
    if np.issubdtype(raw.dtype, np.datetime64):
        return raw.astype("datetime64[ns]").astype(np.int64) / 1e9
    unit = _attr(variable, "units")
    match = re.fullmatch(r"\s*(\w+)\s+since\s+(.+)", unit, re.I)
    if not match:
        shown = f"unit '{unit}'" if unit else "no unit"
        raise AxisError(
            f"{name}: time has {shown}",
            'It must read like "hours since 1970-01-01 00:00:00".',
        )
    scale = _UNIT_S.get(match[1].lower())
    if scale is None:
        raise AxisError(
            f"{name}: time counts in '{match[1]}', which is not a fixed length",
            "Use seconds, minutes, hours or days.",
        )
    calendar = _attr(variable, "calendar").lower()
    if calendar not in _CALENDARS:
        raise AxisError(
            f"{name}: calendar '{calendar}' is not the one ships keep",
            "Give a file with the standard calendar.",
        )
    epoch = _epoch_s(name, match[2])
    return epoch + raw.astype(float) * scale


def _epoch_s(name: str, text: str) -> float:
    clean = text.strip().replace("T", " ").replace("UTC", "").replace("GMT", "")
    clean = re.sub(r"Z\s*$", "", clean).strip()
    clean = re.sub(r"\.0*$", "", clean)
    match = re.fullmatch(
        r"(\d{1,4})-(\d{1,2})-(\d{1,2})"
        r"(?:\s+(\d{1,2})(?::(\d{1,2})(?::(\d{1,2})(\.\d+)?)?)?)?"
        r"\s*([+-]\d{1,2}(?::?\d{2})?)?",
        clean,
    )
    if not match:
        raise AxisError(f"{name}: reference time '{text}' cannot be read")
    year, month, day, hour, minute, second = (int(g or 0) for g in match.groups()[:6])
    try:
        moment = datetime(year, month, day, hour, minute, second, tzinfo=UTC)
    except ValueError as err:
        raise AxisError(f"{name}: reference time '{text}' does not exist ({err})") from err
    offset = 0.0
    if match[8]:
        digits = match[8].replace(":", "")
        hours, minutes = int(digits[1:3]), int(digits[3:] or 0)
        offset = (hours * 3600 + minutes * 60) * (-1 if digits[0] == "-" else 1)
    return moment.timestamp() - offset


def find_times(dataset: Any) -> Times | None:
    """Valid times of a dataset, or None when it has no time at all.

    Raises
    ------
    AxisError
        Not sorted, duplicates, wrong century, several runs with the same hours.
    """
    variables = dataset.variables
    time_like = {
        str(n): v for n, v in variables.items()
        if v.ndim <= 2 and v.dtype.kind not in "SUO" and (
            _attr(v, "standard_name") in ("time", "forecast_reference_time")
            or str(n) in ("time", "valid_time", "Time", "reftime")
            or " since " in _attr(v, "units")
        )
    }  # fmt: skip
    if not time_like:
        if "time" in dataset.sizes:
            raise AxisError("has a time dimension without times", "Fetch it again.")
        return None
    reference = [
        n for n, v in time_like.items()
        if _attr(v, "standard_name") == "forecast_reference_time" or n == "reftime"
    ]  # fmt: skip
    steps = [
        str(n) for n, v in variables.items()
        if _attr(v, "standard_name") == "forecast_period" or str(n) in _STEP_NAMES
    ]  # fmt: skip
    valid = [n for n in time_like if n not in reference]
    if "valid_time" in valid:
        chosen = "valid_time"
    elif "time" in valid:
        chosen = "time"
    elif len(valid) == 1:
        chosen = valid[0]
    elif not valid and reference:
        chosen = ""
    else:
        raise AxisError(f"has several time axes ({', '.join(valid)})")
    run_s = None
    if reference:
        runs = np.unique(_time_values(reference[0], variables[reference[0]]))
        run_s = float(runs[-1]) if np.all(np.isfinite(runs)) and runs.size else None
    if chosen:
        variable = variables[chosen]
        values, dims = _time_values(chosen, variable), tuple(map(str, variable.dims))
    else:
        values, dims = _reference_plus_step(variables, reference[0], steps)
    if chosen and chosen != "valid_time" and steps and reference == []:
        step = variables[steps[0]]
        if step.ndim == 1 and step.dims != variable.dims and step.size > 1:
            # The usual pair of a run time called "time" and a step dimension.
            values, dims = _reference_plus_step(variables, chosen, steps)
            run_s = float(np.max(_time_values(chosen, variable)))
    flat = np.asarray(values, dtype=float).reshape(-1)
    _check_times(flat)
    return Times(flat, dims, run_s)


def _reference_plus_step(
    variables: Any, reference: str, steps: list[str]
) -> tuple[Floats, tuple[str, ...]]:
    base = _time_values(reference, variables[reference])
    base_dims = tuple(map(str, variables[reference].dims))
    if not steps:
        return base, base_dims
    step = variables[steps[0]]
    unit = _attr(step, "units").lower()
    scale = _UNIT_S.get(unit)
    if scale is None:
        raise AxisError(
            f"{steps[0]}: forecast step has unit '{unit}'", "It must be hours or seconds."
        )
    ahead = np.asarray(step.values, dtype=float) * scale
    return np.add.outer(base, ahead), base_dims + tuple(map(str, step.dims))


def _check_times(time_s: Floats) -> None:
    if time_s.size == 0:
        raise AxisError("has no times (its time axis is empty)", "Fetch it again.")
    if not np.all(np.isfinite(time_s)):
        raise AxisError("has missing times", "Fetch it again.")
    for value in (time_s.min(), time_s.max()):
        if not _EARLIEST <= value <= _LATEST:
            try:
                shown = f"{datetime.fromtimestamp(value, tz=UTC):%Y-%m-%d}"
            except (ValueError, OverflowError, OSError):
                shown = f"{value:.3g} s after 1970"
            raise AxisError(
                f"has time {shown}, outside 1940 to 2100",
                "Its time unit is probably wrong.",
            )
    step = np.diff(time_s)
    if np.any(step <= 0):
        i = int(np.flatnonzero(step <= 0)[0])
        when = utc_text(time_s[i + 1])
        if step[i] == 0:
            raise AxisError(f"has time {when} twice (step {i + 2})", _SORT)
        raise AxisError(
            f"has times out of order: {when} follows {utc_text(time_s[i])}, or "
            "several runs with the same hours",
            _SORT,
        )


_SORT = "Keep one run in a file, with its hours in order and once each."


def is_member_dim(name: str, dataset: Any) -> bool:
    """Whether a dimension counts ensemble members."""
    variable = dataset.variables.get(name)
    standard = _attr(variable, "standard_name") if variable is not None else ""
    return standard == "realization" or name.lower() in _MEMBER_NAMES
