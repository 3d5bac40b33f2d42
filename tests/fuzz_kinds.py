"""Every kind of mutants by name."""

from __future__ import annotations

import fuzz_base
import fuzz_forecast
import fuzz_more
import fuzz_text
import fuzz_truth

KINDS: dict[str, type[fuzz_base.Kind]] = {
    "netcdf4": fuzz_forecast.BrokenNetcdf4,
    "netcdf3": fuzz_forecast.BrokenNetcdf3,
    "cut": fuzz_forecast.CutForecast,
    "absurd": fuzz_forecast.AbsurdNetcdf,
    "grib": fuzz_forecast.BrokenGrib,
    "zarr": fuzz_forecast.BrokenZarr,
    "same": fuzz_truth.SameSea,
    "poison": fuzz_truth.PoisonedSea,
    "vessel": fuzz_text.VesselText,
    "route": fuzz_text.RouteFile,
    "log": fuzz_text.LogFile,
    "decay": fuzz_text.DecayFile,
    "map": fuzz_text.MapFile,
    "recoded": fuzz_more.Recoded,
    "responses": fuzz_more.Responses,
    "check": fuzz_more.CheckCommand,
}
