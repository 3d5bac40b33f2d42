"""Every kind of mutants by name."""

from __future__ import annotations

import fuzz_base
import fuzz_forecast
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
}
