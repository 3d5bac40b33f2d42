"""Mutants of forecast files: damaged bytes, and sound files with absurd content."""

from __future__ import annotations

import random
import shutil
import warnings
from pathlib import Path
from typing import Any, ClassVar

import forecast_maker as maker
import fuzz_base
import fuzz_mutants
import netCDF4
import numpy as np


class ForecastKind(fuzz_base.Kind):
    """Seeds are small forecasts; a mutant that is accepted must make a sound plan."""

    exit_code = 4

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self.planner = fuzz_base.Planner(self.seed)
        self.seeds = self.make_seeds()

    def make_seeds(self) -> list[Path]:
        raise NotImplementedError

    def warm(self) -> None:
        self.truth = {path: self.planner.plan(path) for path in self.seeds}

    def judge(self, path: Path) -> str:
        answer = self.planner.plan(path)
        if answer["legs"][0]["coverage"] != "ok":
            return "read, partly covered"
        truth = self.truth[self.source]
        if not differs(answer, truth):
            return "read"
        return "told" if more_is_said(answer, truth) else "silently wrong"


#: What is compared, and from which relative difference on an answer is another one.
COMPARED = ("fuel_l", "hours", "roll_active_significant_deg", "steady_heel_deg",
            "significant_height_m")  # fmt: skip
ANOTHER = 0.01


def differs(answer: dict[str, Any], truth: dict[str, Any]) -> bool:
    """Whether any leg's fuel, hours, roll, heel or sea is off by more than 1 %."""
    for one, other in zip(answer["legs"], truth["legs"], strict=True):
        for key in COMPARED:
            a, b = one[key], other[key]
            if (a is None) != (b is None):
                return True
            if a is not None and abs(a - b) > ANOTHER * max(abs(b), 0.05):
                return True
    return False


def more_is_said(answer: dict[str, Any], truth: dict[str, Any]) -> bool:
    """Whether notes or cautions hold more than those of the sound file."""

    def said(one: dict[str, Any]) -> set[str]:
        return {*one["notes"], *(c["code"] for c in one["cautions"])}

    return bool(said(answer) - said(truth))


class BrokenNetcdf4(ForecastKind):
    """Bytes of NetCDF-4 files: cut, bits turned, stretches overwritten or moved."""

    def make_seeds(self) -> list[Path]:
        write = maker.write_forecast
        big = np.arange(47.0, 51.01, 0.1)
        return [
            write(self.seed / "plain.nc", fuzz_base.small_sea()),
            write(self.seed / "packed.nc", fuzz_base.small_sea(), packed=True, compress=True),
            write(self.seed / "total.nc", maker.sea()),
            write(self.seed / "chunked.nc", maker.sea(), lat=big, lon=big - 56.0,
                  chunks=(1, 20, 20), compress=True),
        ]  # fmt: skip

    def make(self, chance: random.Random, folder: Path) -> tuple[Path, str]:
        self.source = source = chance.choice(self.seeds)
        path = folder / "mutant.nc"
        path.write_bytes(fuzz_mutants.spoil_binary(source.read_bytes(), chance))
        return path, source.name


class BrokenNetcdf3(BrokenNetcdf4):
    """The same for the three forms of NetCDF-3."""

    def make_seeds(self) -> list[Path]:
        forms = ("NETCDF3_CLASSIC", "NETCDF3_64BIT_OFFSET", "NETCDF3_64BIT_DATA")
        return [
            maker.write_forecast(
                self.seed / f"{form}.nc", fuzz_base.small_sea(), form=form, packed=i == 1
            )
            for i, form in enumerate(forms)
        ]


class CutForecast(ForecastKind):
    """Cut anywhere: refused, or the very answer of the whole file. Never another one."""

    def make_seeds(self) -> list[Path]:
        forms = ("NETCDF4", "NETCDF3_CLASSIC", "NETCDF3_64BIT_OFFSET")
        return [
            maker.write_forecast(self.seed / f"{form}.nc", fuzz_base.small_sea(), form=form)
            for form in forms
        ]

    def warm(self) -> None:
        self.whole = {p: self.planner.plan(p)["legs"] for p in self.seeds}

    def make(self, chance: random.Random, folder: Path) -> tuple[Path, str]:
        self.source = chance.choice(self.seeds)
        path = folder / "mutant.nc"
        data = self.source.read_bytes()
        near = chance.random() < 0.3
        keep = len(data) - chance.randint(1, 200) if near else chance.randrange(len(data))
        path.write_bytes(data[:keep])
        return path, f"{self.source.name} cut to {keep} of {len(data)}"

    def judge(self, path: Path) -> str:
        legs = self.planner.plan(path)["legs"]
        assert legs == self.whole[self.source], "a cut file gives another answer"
        return "read, the same"


WEIRD: tuple[Any, ...] = (
    "", " ", "nan", "m", "s", "Hz", "degree", "metres per fortnight", "é" * 50, "\u202e", "a\nb",
    5, -1, 2**40, 0.0, np.nan, np.inf, -np.inf, 1e300, 1e-300, np.array([1.0, 2.0]),
    np.array([1, 2, 3], "i4"), np.int8(3), "days since 2026-03-14", "hours since 99999-01-01",
    "seconds since 0000-00-00", "hours since 2026-03-14 +99:99", "hours since 1926-03-14",
    "since", "hours since ", "weeks since 2026-03-14", "standard_name", "latitude", "longitude",
    "time", "forecast_reference_time", "forecast_period", "realization", "degrees_north",
    "degrees_east", "360_day", "noleap", "rotated_latitude_longitude",
    "sea_surface_wave_significant_height", "sea_surface_wave_from_direction",
    "sea_surface_wave_directional_variance_spectral_density", "depth", "height",
)  # fmt: skip
ATTRIBUTES = (
    "units", "standard_name", "long_name", "scale_factor", "add_offset", "missing_value",
    "valid_range", "valid_min", "calendar", "axis", "coordinates", "bounds", "grid_mapping",
    "grid_mapping_name", "GRIB_gridType", "GRIB_shortName", "_Unsigned", "dtype", "positive",
)  # fmt: skip
NUMBERS = (np.nan, np.inf, -np.inf, 1e300, -1e300, 0.0, -0.0, 1e20, 9.969e36, -999.0, 95.0, 361.0)


class AbsurdNetcdf(ForecastKind):
    """Sound files whose attributes, axes, dimensions or values make no sense."""

    def make_seeds(self) -> list[Path]:
        write = maker.write_forecast
        run = "2026-03-14T00:00"
        return [
            write(self.seed / "plain.nc", fuzz_base.small_sea(), run=run),
            write(self.seed / "total.nc", maker.sea(), form="NETCDF3_CLASSIC", packed=True),
            write(self.seed / "members.nc", maker.sea(), members=2, run=run),
        ]

    def make(self, chance: random.Random, folder: Path) -> tuple[Path, str]:
        path = folder / "mutant.nc"
        self.source = chance.choice(self.seeds)
        shutil.copy(self.source, path)
        return path, make_absurd(path, chance)


def make_absurd(path: Path, chance: random.Random) -> str:
    """One to three absurd changes to a sound file; what was done."""
    done: list[str] = []
    # The library may write to a file that it failed to close when it is collected.
    made = path.with_name("being made.nc")
    path.rename(made)
    acts = [_attribute, _attribute, _value, _value, _rename, _add]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            with netCDF4.Dataset(made, "a") as nc:
                nc.set_auto_maskandscale(False)
                for _ in range(chance.randint(1, 3)):
                    act = chance.choice(acts)
                    if act is _rename:
                        acts.remove(act)  # a second one crashes the library now and then
                    done.append(_tried(act, nc, chance))
        except RuntimeError as err:  # found out only when the file is closed
            done.append(f"not closed: {err}")
    path.write_bytes(made.read_bytes())
    made.unlink()
    return "; ".join(done)


def _tried(act: Any, nc: Any, chance: random.Random) -> str:
    try:
        return act(nc, chance)
    except Exception as err:  # the library will not write everything that a file may hold
        return f"not made: {type(err).__name__}"


def _attribute(nc: Any, chance: random.Random) -> str:
    name = chance.choice([*nc.variables, None])
    holder = nc if name is None else nc[name]
    key = chance.choice(ATTRIBUTES)
    if chance.random() < 0.3 and holder.ncattrs():
        gone = chance.choice([a for a in holder.ncattrs() if a != "_FillValue"] or ["none"])
        holder.delncattr(gone)
        return f"{name}:{gone} gone"
    value = chance.choice(WEIRD)
    holder.setncattr(key, value)
    return f"{name}:{key} = {value!r}"


def _value(nc: Any, chance: random.Random) -> str:
    axes = [n for n in ("time", "latitude", "longitude") if n in nc.variables]
    name = chance.choice([*axes, *nc.variables])
    variable = nc[name]
    number = chance.choice(NUMBERS)
    if variable.dtype.kind in "iu":
        number = chance.choice((0, 1, -1, 32767, -32768))
    kind = chance.randrange(4)
    if not variable.shape or not variable.size:
        variable[...] = number
    elif kind == 0:
        variable[:] = number
    elif kind == 1:
        values = variable[:]
        flat = values.reshape(-1)
        flat[chance.randrange(flat.size)] = number
        variable[:] = flat.reshape(values.shape)
    elif kind == 2:
        variable[:] = variable[:][::-1]
    else:
        values = variable[:].reshape(-1)
        chance.shuffle(order := list(range(values.size)))
        variable[:] = values[order].reshape(variable.shape)
    return f"{name} values, kind {kind}, {number!r}"


def _rename(nc: Any, chance: random.Random) -> str:
    old = chance.choice([*nc.variables, *nc.dimensions])
    new = chance.choice(
        ("x", "valid_time", "step", "lat", "lon", "number", "depth", "hs", "swh", "VHM0", "time2",
         "partition", "frequency", "spare", "é")
    )  # fmt: skip
    if old in nc.dimensions and chance.random() < 0.5:
        nc.renameDimension(old, new)
    else:
        nc.renameVariable(old, new)
    return f"{old} renamed {new}"


def _add(nc: Any, chance: random.Random) -> str:
    name = chance.choice(("step", "valid_time", "swh", "lat", "number", "depth", "height", "junk"))
    dims = chance.choice(
        ((), ("time",), ("latitude",), ("latitude", "longitude"), ("longitude", "latitude", "time"))
    )
    kind = chance.choice(("f8", "i4", "S1", "i1"))
    variable = nc.createVariable(name, kind, dims)
    if kind != "S1":
        variable[...] = chance.choice((0, 1, 100))
    variable.setncattr("units", chance.choice(WEIRD))
    if chance.random() < 0.5:
        variable.setncattr("standard_name", chance.choice(WEIRD))
    return f"{name}{dims} {kind} added"


class BrokenGrib(ForecastKind):
    """Bytes of GRIB files of both editions."""

    kinds: ClassVar[tuple[tuple[str, float], ...]] = (("swh", 2.0), ("pp1d", 8.0), ("mwd", 270.0))

    def make_seeds(self) -> list[Path]:
        import pyproj  # noqa: F401  (before the GRIB library, see passage's opener)
        import eccodes  # isort: skip

        made = []
        for edition in (1, 2):
            path = self.seed / f"edition{edition}.grib"
            with path.open("wb") as out:
                for name, value in self.kinds:
                    for step in (0, 6, 12):
                        self._message(eccodes, out, edition, name, value, step)
            made.append(path)
        return made

    @staticmethod
    def _message(eccodes: Any, out: Any, edition: int, name: str, value: float, step: int) -> None:
        handle = eccodes.codes_grib_new_from_samples(f"regular_ll_sfc_grib{edition}")
        first, last = (48.0, 50.0), (352.0, 354.0)
        numbers = {
            "centre": "ecmf", "dataDate": 20260314, "dataTime": 0, "Ni": 5, "Nj": 5,
            "latitudeOfFirstGridPointInDegrees": first[1],
            "latitudeOfLastGridPointInDegrees": first[0],
            "longitudeOfFirstGridPointInDegrees": last[0],
            "longitudeOfLastGridPointInDegrees": last[1],
            "iDirectionIncrementInDegrees": 0.5, "jDirectionIncrementInDegrees": 0.5,
        }  # fmt: skip
        for key, number in numbers.items():
            eccodes.codes_set(handle, key, number)
        eccodes.codes_set(handle, "stepRange" if edition == 1 else "forecastTime", step)
        eccodes.codes_set(handle, "shortName", name)
        if edition == 2:
            eccodes.codes_set(handle, "forecastTime", step)
        eccodes.codes_set_values(handle, value + np.linspace(0.0, 1.0, 25))
        eccodes.codes_write(handle, out)
        eccodes.codes_release(handle)

    def make(self, chance: random.Random, folder: Path) -> tuple[Path, str]:
        self.source = source = chance.choice(self.seeds)
        path = folder / "mutant.grib"
        path.write_bytes(fuzz_mutants.spoil_binary(source.read_bytes(), chance))
        return path, source.name


class BrokenZarr(ForecastKind):
    """One file of a Zarr store spoilt or gone."""

    def make_seeds(self) -> list[Path]:
        import xarray as xr

        made = []
        source = maker.write_forecast(self.seed / "source.nc", maker.sea())
        for form in (2, 3):
            path = self.seed / f"form{form}.zarr"
            if not path.exists():
                with xr.open_dataset(source, decode_times=False) as dataset:
                    dataset.to_zarr(path, zarr_format=form, consolidated=form == 2)
            made.append(path)
        return made

    def make(self, chance: random.Random, folder: Path) -> tuple[Path, str]:
        self.source = source = chance.choice(self.seeds)
        path = folder / "mutant.zarr"
        shutil.copytree(source, path)
        victim = chance.choice(sorted(p for p in path.rglob("*") if p.is_file()))
        label = f"{source.name}: {victim.relative_to(path)}"
        if chance.random() < 0.15:
            victim.unlink()
            return path, f"{label} gone"
        spoil = chance.choice((fuzz_mutants.spoil_bytes, fuzz_mutants.spoil_binary))
        victim.write_bytes(spoil(victim.read_bytes(), chance))
        return path, label
