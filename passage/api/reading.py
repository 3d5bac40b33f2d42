"""Files in: vessel, route, forecast."""

from __future__ import annotations

import warnings
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from passage.api.given import paths_of
from passage.api.options import PathLike, check

if TYPE_CHECKING:
    from passage.inputs.forecast import Forecast
    from passage.inputs.route import Route
    from passage.inputs.vessel import Vessel


def read_vessel(path: PathLike) -> Vessel:
    """Read and check a vessel file; what looks odd in it is a Python warning.

    Raises
    ------
    VesselError
        Everything wrong in the file at once.

    Examples
    --------
    >>> vessel = passage.read_vessel("brambling_may.toml")
    >>> vessel.name, vessel.particulars.displacement_t
    ('Brambling', 550.0)
    """
    from passage.inputs.vessel import read_vessel as read

    vessel = read(Path(path))
    for text in vessel.warnings:
        warnings.warn(text, stacklevel=2)
    return vessel


def read_route(path: PathLike) -> Route:
    """Read and check a route: CSV, GPX, GeoJSON or route exchange.

    Raises
    ------
    RouteError
        Everything wrong in the file at once.

    Examples
    --------
    >>> route = passage.read_route("outside.csv")
    >>> len(route.legs), route.legs[0].name_to
    (4, 'West of the shelf edge')
    """
    from passage.inputs.route import read_route as read

    return read(Path(path))


def open_forecast(
    paths: PathLike | Iterable[PathLike],
    *,
    names: Mapping[str, str] | None = None,
    nearest_sea_cell_km: float | None = None,
    single_time_h: float = 0.0,
) -> Forecast:
    """Open forecast files as one; close it, or use it in a ``with`` statement.

    Parameters
    ----------
    paths : path or paths
        NetCDF, GRIB or Zarr; waves, wind, current and depth in any split.
    names : mapping, optional
        What variables are, by the user: ``{"file variable": "our name"}``.
    nearest_sea_cell_km : float, optional
        Give points beside land the nearest sea cell within this distance. [km]
    single_time_h : float
        How long either side a file of one time may be used for. [h]

    Raises
    ------
    ForecastError
        Everything wrong with the files.

    Examples
    --------
    >>> with passage.open_forecast("spring_waves.nc") as sea:
    ...     sea.system_names[:2]
    ('wind sea', 'swell 1')
    """
    given = {"nearest_sea_cell_km": nearest_sea_cell_km, "single_time_h": single_time_h}
    check(given, given)
    from passage.inputs.forecast import open_forecast as open_files
    from passage.units import HOUR_S

    return open_files(
        paths_of(paths),
        names=names,
        nearest_sea_cell_km=nearest_sea_cell_km,
        hold_single_step_s=single_time_h * HOUR_S,
    )
