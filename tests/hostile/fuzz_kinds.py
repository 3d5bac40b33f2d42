"""Every kind of mutants by name."""

from __future__ import annotations

import os
import random
import time
from pathlib import Path

import fuzz_base
import fuzz_commands
import fuzz_forecast
import fuzz_more
import fuzz_newer
import fuzz_text
import fuzz_truth


class Faulty(fuzz_base.Kind):
    """No program at all, but every fault there is: the driver is tried on it."""

    def make(self, chance: random.Random, folder: Path) -> tuple[Path, str]:
        number = len(list(self.seed.iterdir()))
        (self.seed / str(number)).touch()
        self.number = number
        path = folder / "mutant"
        path.write_text("x")
        return path, str(number)

    def judge(self, path: Path) -> str:
        if self.number == 0:
            os.abort()
        if self.number == 1:
            time.sleep(60.0)
        if self.number == 2:
            raise KeyError
        if self.number == 3:
            path.with_name("beside").touch()
        return "read"


KINDS: dict[str, type[fuzz_base.Kind]] = {
    "faulty": Faulty,
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
    "commands": fuzz_commands.WholeCommands,
    "newer": fuzz_newer.NewerInputs,
}

#: Kind and its share of the mutants: 2,000 in every run, 10,000 at night.
SHARES = {
    "vessel": 0.09,
    "route": 0.13,
    "recoded": 0.04,
    "log": 0.04,
    "decay": 0.04,
    "map": 0.03,
    "netcdf4": 0.09,
    "netcdf3": 0.07,
    "cut": 0.05,
    "absurd": 0.06,
    "same": 0.05,
    "poison": 0.04,
    "check": 0.02,
    "responses": 0.03,
    "commands": 0.10,
    "newer": 0.12,
}
