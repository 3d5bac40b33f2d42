"""Latitude, longitude, time and member axes of one dataset, checked as they are read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

_LAT_NAMES = ("latitude", "lat", "nav_lat", "y_lat")
_LON_NAMES = ("longitude", "lon", "long", "nav_lon", "x_lon")
_MEMBER_NAMES = ("number", "member", "ensemble", "ens", "realization", "realisation")
PARTITION_NAMES = ("orderedSequenceData", "partition", "wave_partition")


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


def attribute(variable: Any, name: str) -> str:
    return str(variable.attrs.get(name, "")).strip()


def _is_axis(name: str, variable: Any, kind: str) -> bool:
    unit = attribute(variable, "units").lower()
    standard = attribute(variable, "standard_name")
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
        not positions, not sorted, or given twice.
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
        mapping = attribute(variable, "grid_mapping_name")
        if mapping and mapping != "latitude_longitude":
            return f"has a rotated or projected grid (grid mapping {mapping})"
        standard = attribute(variable, "standard_name")
        if standard in ("grid_latitude", "grid_longitude"):
            return f"has a rotated grid ({name} is {standard})"
        if standard in ("projection_x_coordinate", "projection_y_coordinate"):
            return f"has a projected grid ({name} is {standard})"
        kind = attribute(variable, "GRIB_gridType")
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
        raise AxisError(f"has longitude {worst:g} deg, which is not a longitude")
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


def is_member_dim(name: str, dataset: Any) -> bool:
    """Whether a dimension counts ensemble members."""
    variable = dataset.variables.get(name)
    standard = attribute(variable, "standard_name") if variable is not None else ""
    return standard == "realization" or name.lower() in _MEMBER_NAMES


def member_labels(dataset: Any, dim: str) -> tuple[float, ...]:
    """Numbers of the members along a dimension; empty where there are none, or not unique."""
    variable = dataset.variables.get(dim) if dim else None
    if variable is None or variable.dims != (dim,):
        return ()
    try:
        found = tuple(float(value) for value in np.asarray(variable.values))
    except (TypeError, ValueError):
        return ()
    return found if len(set(found)) == len(found) and np.isfinite(found).all() else ()
