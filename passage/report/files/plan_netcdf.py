"""A plan as NetCDF: one CF trajectory with every point variable along the track."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from passage import __version__
from passage.planning.plan.result import PlannedPassage
from passage.units import utc_text
from passage.variables import BY_NAME, COVERAGE


def write_plan_netcdf(plan: PlannedPassage, path: Path) -> None:
    """Write the points of the plan to ``path`` (CF-1.11, featureType trajectory).

    Units and standard names come from the variable table, never from the arrays.
    """
    import netCDF4

    points = plan.points
    n = len(points["time_s"])
    with netCDF4.Dataset(path, "w", format="NETCDF4") as data:
        data.Conventions = "CF-1.11"
        data.featureType = "trajectory"
        data.title = f"{plan.vessel_name}: {plan.route_name}"
        data.history = f"passage {__version__}, departure {utc_text(plan.departure_s)}"
        data.comment = "Decision support only; the master decides. Not for navigation."
        data.createDimension("obs", n)
        identity = data.createVariable("trajectory", str, ())
        identity.cf_role = "trajectory_id"
        identity[...] = plan.route_name
        axes = (
            ("time", "time_s", "seconds since 1970-01-01T00:00:00Z", "time"),
            ("lat", "lat_deg", "degrees_north", "latitude"),
            ("lon", "lon_deg", "degrees_east", "longitude"),
        )
        for name, key, units, standard in axes:
            axis = data.createVariable(name, "f8", ("obs",))
            axis.units = units
            axis.standard_name = standard
            axis[:] = points[key]
        data["time"].calendar = "standard"
        leg = data.createVariable("leg", "i4", ("obs",))
        leg.long_name = "number of the leg, from 1"
        leg[:] = points["leg"]
        for name, values in points.items():
            variable = BY_NAME.get(name)
            if variable is None or name in ("leg", "coverage"):
                continue
            values = np.asarray(values)
            if values.dtype.kind not in "fi" or values.shape != (n,):
                continue
            out = data.createVariable(name, "f8", ("obs",), fill_value=np.nan, zlib=True)
            out.units = variable.unit
            out.long_name = variable.meaning
            if variable.standard_name:
                out.standard_name = variable.standard_name
            out.coordinates = "time lat lon"
            out[:] = values
        if "coverage" in points:
            code = data.createVariable("coverage", "i1", ("obs",))
            code.long_name = "what the forecast gives at the point"
            code.flag_values = np.arange(len(COVERAGE), dtype="i1")
            code.flag_meanings = " ".join(COVERAGE)
            code.coordinates = "time lat lon"
            code[:] = points["coverage"]
