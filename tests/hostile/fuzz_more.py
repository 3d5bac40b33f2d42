"""Text saved by other programs, with known truth; response functions; every command."""

from __future__ import annotations

import random
import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import forecast_maker as maker
import fuzz_base
import fuzz_forecast
import fuzz_mutants
import fuzz_text
import numpy as np


class Recoded(fuzz_base.Kind):
    """Marks, encodings, line ends and decimal commas: the same as before, or refused."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self.texts = fuzz_text.RouteFile(folder).seeds
        self.texts["csv"] = fuzz_base.ROUTE.encode()
        self.texts["toml"] = fuzz_text.VESSEL_TEXT.encode()
        self.texts["log"] = fuzz_text.log_text().encode()
        self.truth = {}
        for ending, text in self.texts.items():
            path = self.seed / f"mutant.{ending}"
            path.write_bytes(text)
            self.truth[ending] = self.read(path)

    def read(self, path: Path) -> Any:
        if path.suffix == ".toml":
            from passage.inputs.vessel import read_vessel

            return repr(replace(read_vessel(path), path="", sha256=""))
        if path.suffix == ".log":
            from passage.inputs.records.log import read_log

            log = read_log(path)
            return repr([getattr(log, k).tolist() for k in ("time_s", "lat_deg", "fuel_l_per_h")])
        from passage.inputs.route import read_route

        return repr(read_route(path).legs)

    def make(self, chance: random.Random, folder: Path) -> tuple[Path, str]:
        ending = chance.choice(sorted(self.texts))
        path = folder / f"mutant.{ending}"
        path.write_bytes(fuzz_mutants.recoded(self.texts[ending], chance))
        return path, ending

    def judge(self, path: Path) -> str:
        # Latin-1 text begins with a letter of its own: another file, if it is read.
        assert self.read(path) == self.truth[path.suffix[1:]], "another answer"
        return "the same"


class Responses(fuzz_base.Kind):
    """Response functions in NetCDF, bytes or content spoilt."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        import xarray as xr

        from passage.physics.motions.vertical_motion import HullForm, closed_form_motion

        self.hull = HullForm(length_m=45.0, beam_m=9.0, draught_m=2.8, block_coefficient=0.482)
        omega, mu = np.linspace(0.25, 2.6, 30), np.deg2rad(np.arange(0.0, 181.0, 15.0))
        motion = closed_form_motion(omega[:, None], mu, 0.0, self.hull)
        both = np.stack([motion.heave, motion.pitch], axis=-1)[None]
        data = xr.Dataset(
            {"RAO": (("complex", "forward_speed", "omega", "wave_direction", "radiating_dof"),
                     np.stack([both.real, both.imag]))},
            coords={"complex": ["re", "im"], "forward_speed": [0.0], "omega": omega,
                    "wave_direction": ("wave_direction", mu, {"units": "rad"}),
                    "radiating_dof": ["Heave", "Pitch"]},
            attrs={"time_factor": "exp(+i omega t)", "wave_direction_zero": "following",
                   "pitch_positive": "bow up", "midship_x_m": 0.0},
        )  # fmt: skip
        self.source = self.seed / "hull.nc"
        data.to_netcdf(self.source)

    def make(self, chance: random.Random, folder: Path) -> tuple[Path, str]:
        path = folder / "mutant.nc"
        if chance.random() < 0.5:
            path.write_bytes(fuzz_mutants.spoil_binary(self.source.read_bytes(), chance))
            return path, "bytes"
        shutil.copy(self.source, path)
        return path, fuzz_forecast.make_absurd(path, chance)

    def judge(self, path: Path) -> str:
        from passage.inputs.records.response_file import read_response_file

        table = read_response_file(path, self.hull).table
        assert np.all(np.isfinite(table.heave))
        return "read"


class CheckCommand(fuzz_base.Kind):
    """``passage check`` on spoilt forecasts, all that it prints included."""

    exit_code = 4

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self.route = self.seed / "mutant_route.csv"
        self.route.write_text(fuzz_base.ROUTE)
        self.source = maker.write_forecast(self.seed / "plain.nc", fuzz_base.small_sea())

    def make(self, chance: random.Random, folder: Path) -> tuple[Path, str]:
        path = folder / "mutant.\udce9.nc"
        if chance.random() < 0.05:
            shutil.copy(self.source, path)
            return path, "a name that is not text"
        path = folder / chance.choice(("mutant.nc", "mutant. ü.nc", "mutant.a\nb.nc"))
        shutil.copy(self.source, path)
        if chance.random() < 0.3:
            path.write_bytes(fuzz_mutants.spoil_binary(path.read_bytes(), chance))
            return path, "bytes"
        return path, fuzz_forecast.make_absurd(path, chance)

    def judge(self, path: Path) -> str:
        from click.testing import CliRunner

        from passage.cli.main import group

        words = ["check", str(path), "--route", str(self.route)]
        result = CliRunner().invoke(group, words, standalone_mode=False)
        text = result.stdout + result.stderr
        assert "\ufffd" not in text
        if result.exception is not None:
            raise result.exception
        assert all(c.isprintable() or c == "\n" for c in text), repr(text)
        return "read"
