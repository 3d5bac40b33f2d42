"""One sea written in many ways: every way must give the same answer, or be refused.

The conventions change (units, packing, order, epoch, split into files, spelling), the sea
does not. Poisons are changes after which no right answer can be had.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import forecast_maker as maker
import fuzz_base
import netCDF4
import numpy as np

FORMS = ("NETCDF4", "NETCDF4_CLASSIC", "NETCDF3_CLASSIC", "NETCDF3_64BIT_OFFSET",
         "NETCDF3_64BIT_DATA")  # fmt: skip
WAVES = ("hs", "tp", "mdir")
#: Spellings of units and what a value in ours is multiplied by.
HEIGHT_UNITS = (("m", 1.0), ("metre", 1.0), ("Meters", 1.0), ("cm", 100.0), ("mm", 1000.0),
                ("ft", 1 / 0.3048), ("feet", 1 / 0.3048))  # fmt: skip
SPEED_UNITS = (("m s-1", 1.0), ("m/s", 1.0), ("m s**-1", 1.0), ("knots", 3600 / 1852),
               ("kt", 3600 / 1852), ("km/h", 3.6), ("cm/s", 100.0))  # fmt: skip
ANGLE_UNITS = (("degree", 1.0), ("degrees_true", 1.0), ("deg", 1.0), ("Degrees", 1.0),
               ("radian", np.pi / 180), ("rad", np.pi / 180))  # fmt: skip
PERIOD_UNITS = (("s", 1.0), ("sec", 1.0), ("seconds", 1.0))
STEPS = {"seconds": 1.0, "minutes": 60.0, "hours": 3600.0, "days": 86400.0}
#: What fill values look like when nobody says that they are fill values.
FILLS = (-999.0, -9999.0, 9999.0, -32767.0, 1.1e20, 9.96921e36, 999.9, -1e34)


@dataclass
class Draft:
    """A file before it is written; mutations change it."""

    lat: Any = field(default_factory=lambda: maker.LAT.copy())
    lon: Any = field(default_factory=lambda: maker.LON.copy())
    time_s: Any = field(default_factory=lambda: maker.start_s() + 3600.0 * maker.HOURS)
    values: dict[str, Any] = field(default_factory=dict)
    attrs: dict[str, dict[str, Any]] = field(default_factory=dict)
    packed: set[str] = field(default_factory=set)
    raw: dict[str, dict[str, Any]] = field(default_factory=dict)
    time_units: str = ""
    time_attrs: dict[str, Any] = field(default_factory=dict)
    dims: tuple[str, ...] = ("time", "latitude", "longitude")
    names: tuple[str, str, str] = ("time", "latitude", "longitude")
    axis_units: tuple[str, str] = ("degrees_north", "degrees_east")
    form: str = "NETCDF4"
    member: bool = False
    compress: bool = False
    endian: str = "native"
    extra: list[Callable[[Any], None]] = field(default_factory=list)


def plain_draft() -> Draft:
    """The sea of the other forecasts, as values on the grid."""
    draft = Draft()
    grid = np.meshgrid(maker.HOURS, draft.lat, draft.lon, indexing="ij")
    for name, made in fuzz_base.small_sea().items():
        values = made.values
        array = values(grid[1], grid[2], grid[0]) if callable(values) else values + 0.0 * grid[0]
        draft.values[name] = np.asarray(array, float)
        draft.attrs[name] = {"units": made.units, "standard_name": made.standard_name}
    return draft


def vary(draft: Draft, chance: random.Random) -> list[str]:
    """Change how it is written in any number of ways; what was done."""
    ways = (_longitudes, _latitudes, _units, _direction, _frequency, _pack, _epoch, _order,
            _form, _names, _junk, _corner, _run_and_step)  # fmt: skip
    done = []
    for way in ways:
        if chance.random() < 0.45:
            word = way(draft, chance)
            if word:
                done.append(word)
    return done


def _longitudes(d: Draft, chance: random.Random) -> str:
    if chance.random() < 0.3:
        d.lon = d.lon[::-1]
        d.values = {n: v[:, :, ::-1] for n, v in d.values.items()}
        return "longitudes descend"
    d.lon = d.lon + 360.0
    return "longitudes 0 to 360"


def _latitudes(d: Draft, chance: random.Random) -> str:
    d.lat = d.lat[::-1]
    d.values = {n: v[:, ::-1] for n, v in d.values.items()}
    return "latitudes descend"


def _quantity(name: str) -> tuple[tuple[str, float], ...]:
    if name.startswith("h"):
        return HEIGHT_UNITS
    if name in ("u10", "v10", "uo", "vo"):
        return SPEED_UNITS
    return ANGLE_UNITS if name.startswith(("d", "mdir")) else PERIOD_UNITS


def _units(d: Draft, chance: random.Random) -> str:
    words = []
    for name in d.values:
        if chance.random() < 0.5:
            unit, factor = chance.choice(_quantity(name))
            d.values[name] = d.values[name] * factor
            d.attrs[name]["units"] = unit
            words.append(f"{name} in {unit}")
    return ", ".join(words)


def _direction(d: Draft, chance: random.Random) -> str:
    if d.attrs["mdir"]["units"].lower().startswith("rad"):
        return ""
    if chance.random() < 0.5:
        d.values["mdir"] = np.mod(d.values["mdir"] + 180.0, 360.0)
        d.attrs["mdir"]["standard_name"] = "sea_surface_wave_to_direction"
        return "direction waves go to"
    turn = chance.choice((360.0, -360.0))
    d.values["mdir"] = d.values["mdir"] + turn
    return f"directions turned by {turn:g}"


def _frequency(d: Draft, chance: random.Random) -> str:
    d.values["fp"] = 1.0 / d.values.pop("tp")
    d.attrs["fp"] = {"units": chance.choice(("Hz", "s-1", "1/s"))}
    return "peak frequency"


def _pack(d: Draft, chance: random.Random) -> str:
    d.packed = {n for n in d.values if chance.random() < 0.6}
    return f"packed {sorted(d.packed)}"


def _epoch(d: Draft, chance: random.Random) -> str:
    step = chance.choice(tuple(STEPS))
    zone = chance.choice(
        ("", " 00:00:00", "T00:00:00Z", " 00:00:00 UTC", " 0:0:0", " 02:00 +02:00")
    )
    day = chance.choice(("1900-01-01", "1970-01-01", "2000-1-1", "2026-03-10"))
    year, month, number = map(int, day.split("-"))
    start = (datetime(year, month, number, tzinfo=UTC)).timestamp()
    d.time_units = f"{step} since {day}{zone}"
    d.raw["time"] = {"values": (d.time_s - start) / STEPS[step]}
    d.time_attrs["calendar"] = chance.choice(("standard", "gregorian", "proleptic_gregorian"))
    return d.time_units


def _order(d: Draft, chance: random.Random) -> str:
    order = list(d.dims)
    chance.shuffle(order)
    d.dims = tuple(order)
    return f"order {order}"


def _form(d: Draft, chance: random.Random) -> str:
    d.form = chance.choice(FORMS)
    if d.form.startswith("NETCDF4"):
        d.compress = chance.random() < 0.5
        d.endian = chance.choice(("native", "big", "little"))
    d.member = chance.random() < 0.3
    return f"{d.form}, member {d.member}, {d.endian}"


def _names(d: Draft, chance: random.Random) -> str:
    d.names = chance.choice(
        (("time", "lat", "lon"), ("valid_time", "y", "x"), ("Time", "LAT", "LON"))
    )
    d.axis_units = chance.choice(
        (("degrees_north", "degrees_east"), ("degree_N", "degree_E"), ("degreeN", "degreeE"))
    )
    if d.axis_units[0] == "degreeN" and d.names[1] == "y":
        d.axis_units = ("degrees_north", "degrees_east")
    return str(d.names)


def _junk(d: Draft, chance: random.Random) -> str:
    def put(nc: Any) -> None:
        nc.createDimension("letters", 4)
        nc.createVariable("station", "S1", ("letters",))
        nc.createVariable("crs", "i4").grid_mapping_name = "latitude_longitude"
        other = nc.createVariable("ice", "f4", tuple(nc.dimensions)[:2])
        other.standard_name = "sea_ice_area_fraction"

    d.extra.append(put)
    return "other variables"


def _corner(d: Draft, chance: random.Random) -> str:
    """Far corners masked; the route passes neither."""
    north = int(np.argmax(d.lat)), int(np.argmin(d.lon))
    south = int(np.argmin(d.lat)), int(np.argmax(d.lon))
    names = [n for n in d.values if chance.random() < 0.7]
    for name in names:
        values = d.values[name].copy()
        for at in (north, south):
            values[:, at[0], at[1]] = np.nan
        d.values[name] = values
    return f"corners masked in {names}"


def _run_and_step(d: Draft, chance: random.Random) -> str:
    if d.names[0] == "valid_time":
        return ""

    def put(nc: Any) -> None:
        run = nc.createVariable("forecast_reference_time", "i4")
        run.units, run.standard_name = "hours since 2026-03-13", "forecast_reference_time"
        run[...] = 24

    d.extra.append(put)
    return "a run is given"


def write(path: Path, d: Draft, only: tuple[str, ...] | None = None) -> Path:
    """Write a draft, or some of its variables."""
    sizes = dict(zip(("time", "latitude", "longitude"), (d.time_s, d.lat, d.lon), strict=True))
    called = dict(zip(("time", "latitude", "longitude"), d.names, strict=True))
    with netCDF4.Dataset(path, "w", format=d.form) as nc:
        for dim in d.dims:
            nc.createDimension(called[dim], len(sizes[dim]))
        time = nc.createVariable(called["time"], "f8", (called["time"],))
        unit = d.time_units or "seconds since 1970-01-01"
        time.setncatts({**({"units": unit} if unit != "none" else {}), **d.time_attrs})
        time[:] = d.raw.get("time", {}).get("values", d.time_s)
        for dim, values, unit in zip(
            ("latitude", "longitude"), (d.lat, d.lon), d.axis_units, strict=True
        ):
            axis = nc.createVariable(called[dim], "f8", (called[dim],))
            axis.units = unit
            axis[:] = values
        dims = tuple(called[dim] for dim in d.dims)
        if d.member:
            nc.createDimension("number", 1)
            dims = ("number", *dims)
        for name, values in d.values.items():
            if only is None or name in only:
                _write_variable(nc, d, name, values, dims)
        for put in d.extra:
            put(nc)
    return path


def _write_variable(nc: Any, d: Draft, name: str, values: Any, dims: tuple[str, ...]) -> None:
    order = [("time", "latitude", "longitude").index(dim) for dim in d.dims]
    values = np.transpose(values, order)
    attrs = {k: v for k, v in d.attrs[name].items() if v != ""}
    kind, fill = ("i2", -32768) if name in d.packed else ("f4", 1e20)
    if name in d.packed:
        low, high = np.nanmin(values), np.nanmax(values)
        scale, offset = max((high - low) / 60000.0, 1e-9), (high + low) / 2
        attrs |= {"scale_factor": scale, "add_offset": offset}
        values = np.round((values - offset) / scale)
    values = np.where(np.isnan(values), fill, values)
    mark = {"native": "=", "big": ">", "little": "<"}[d.endian]
    kind = np.dtype(kind).newbyteorder(mark)
    variable = nc.createVariable(
        name, kind, dims, fill_value=fill, endian=d.endian, zlib=d.compress
    )
    attrs = {k: v for k, v in attrs.items() if k not in d.raw.get(name, {}).get("without", ())}
    variable.setncatts(attrs)
    variable.set_auto_maskandscale(False)
    variable[...] = (values[None] if d.member else values).astype(kind)


# --- poisons: no right answer is left -------------------------------------------------


def poison(d: Draft, chance: random.Random) -> str:
    """Spoil a draft so that no right answer is left; what was done."""
    word = chance.choice(POISONS)(d, chance)
    return f"POISON {word}"


def _some_wave(d: Draft, chance: random.Random) -> str:
    return chance.choice([n for n in d.values if n in ("hs", "tp", "fp", "mdir")])


def _no_unit(d: Draft, chance: random.Random) -> str:
    name = _some_wave(d, chance)
    d.attrs[name]["units"] = chance.choice(("", "furlong", "m2", "1", "%", "K"))
    return f"{name} unit {d.attrs[name]['units']!r}"


def _beyond_pole(d: Draft, chance: random.Random) -> str:
    d.lat = d.lat.copy()
    d.lat[int(np.argmax(d.lat))] = 95.0
    return "95 N"


def _other_century(d: Draft, chance: random.Random) -> str:
    years = chance.choice((-100, -30, -10, 10, 74, 100, 1000))
    d.time_units, d.raw["time"] = "seconds since 1970-01-01", {}
    d.time_s = d.time_s + years * 365.25 * 86400.0
    return f"{years} years off"


def _time_axis(d: Draft, chance: random.Random) -> str:
    d.time_units, d.raw["time"] = "seconds since 1970-01-01", {}
    d.time_s = d.time_s.copy()
    kind = chance.randrange(4)
    if kind == 0:
        d.time_s[2] = d.time_s[1]
    elif kind == 1:
        d.time_s[[1, 3]] = d.time_s[[3, 1]]
    elif kind == 2:
        d.time_s[2] = np.nan
    else:
        d.time_units = chance.choice(("none", "hours", "months since 2026-03-14", "m"))
    return f"time axis {kind} {d.time_units}"


def _fill_as_data(d: Draft, chance: random.Random) -> str:
    name = chance.choice(tuple(d.values))
    d.packed.discard(name)
    values = d.values[name].copy()
    values[1, 2, 2] = chance.choice(FILLS)
    d.values[name] = values
    return f"{name} has {values[1, 2, 2]:g}"


def _wrong_label(d: Draft, chance: random.Random) -> str:
    """Centimetres called metres, packed counts without their scale, and the like."""
    kind = chance.randrange(4)
    if kind == 0:
        d.values["hs"] = d.values["hs"] / _factor(d, "hs") * chance.choice((100.0, 1000.0))
        d.attrs["hs"]["units"] = "m"
        return "cm or mm called m"
    name = _some_wave(d, chance)
    if kind == 1:
        d.packed.add(name)
        d.raw[name] = {"without": ("scale_factor", "add_offset")}
        return f"{name} packed without scale"
    if kind == 2 and ("t_wind" in d.values or "tp" in d.values):
        for key in [n for n in ("t_wind", "t_primary_swell", "tp") if n in d.values]:
            d.values[key] = 1.0 / d.values[key]
        return "frequencies called seconds"
    d.attrs["mdir"] = {"units": "degree", "long_name": "wave direction"}
    d.values["wavdir"], d.attrs["wavdir"] = d.values.pop("mdir"), d.attrs.pop("mdir")
    d.packed.discard("mdir")
    for part in [n for n in d.values if n.endswith(("_wind", "_primary_swell"))]:
        del d.values[part]
    return "to or from not said"


def _factor(d: Draft, name: str) -> float:
    return dict(_quantity(name))[d.attrs[name]["units"]]


def _swapped(d: Draft, chance: random.Random) -> str:
    d.axis_units = d.axis_units[::-1] if "degreeN" not in d.axis_units else (
        "degrees_east", "degrees_north")  # fmt: skip
    d.names = (d.names[0], "a", "b")
    return "axes swapped"


def _turned_grid(d: Draft, chance: random.Random) -> str:
    def put(nc: Any) -> None:
        pole = nc.createVariable("rotated_pole", "i4")
        pole.grid_mapping_name = chance.choice(
            ("rotated_latitude_longitude", "polar_stereographic")
        )

    d.extra.append(put)
    return "rotated grid"


def _calendar(d: Draft, chance: random.Random) -> str:
    d.time_attrs["calendar"] = chance.choice(("360_day", "noleap", "julian", "all_leap"))
    return d.time_attrs["calendar"]


def _nothing_known(d: Draft, chance: random.Random) -> str:
    d.values = {n: v for n, v in d.values.items() if n not in ("tp", "fp")}
    for part in [n for n in d.values if n.startswith("t_")]:
        del d.values[part]
    return "no period"


POISONS = (_no_unit, _beyond_pole, _other_century, _time_axis, _fill_as_data, _fill_as_data,
           _wrong_label, _wrong_label, _swapped, _turned_grid, _calendar,
           _nothing_known)  # fmt: skip


class SameSea(fuzz_base.Kind):
    """Conditions along the route must be those of the plain file, to packing accuracy."""

    exit_code = 4
    poisoned = False

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self.truth = self.sample([write(self.seed / "plain.nc", plain_draft())])

    def sample(self, paths: list[Path]) -> dict[str, Any]:
        from passage.inputs.forecast import box_around, open_forecast

        box = box_around(fuzz_base.LAT, fuzz_base.LON)
        with open_forecast(
            paths, area=box, time_from_s=fuzz_base.TIME_S[0], time_to_s=fuzz_base.TIME_S[-1]
        ) as forecast:
            c = forecast.sample(fuzz_base.LAT, fuzz_base.LON, fuzz_base.TIME_S)
        return {
            "coverage": c.coverage, "wind_coverage": c.wind_coverage,
            "current_coverage": c.current_coverage, "height_m": c.height_m,
            "peak_period_s": c.peak_period_s, "from_rad": c.from_rad,
            "total_height_m": c.total_height_m, "wind_u_m_s": c.wind_u_m_s,
            "wind_v_m_s": c.wind_v_m_s, "current_u_m_s": c.current_u_m_s,
            "current_v_m_s": c.current_v_m_s,
        }  # fmt: skip

    def make(self, chance: random.Random, folder: Path) -> tuple[Path, str]:
        draft = plain_draft()
        if chance.random() < 0.5:
            # The total alone, so that its period and direction are the answer.
            draft.values = {n: v for n, v in draft.values.items() if "_" not in n}
        self.partitions = "h_wind" in draft.values
        label = "; ".join(vary(draft, chance))
        if self.poisoned:
            label += "; " + poison(draft, chance)
        name = chance.choice(("sea.nc", "sea.mörk natt 3.nc", "sea.' ; x.nc"))
        self.paths = [folder / name]
        if not self.poisoned and chance.random() < 0.3:
            flow = ("u10", "v10", "uo", "vo")
            write(folder / name, draft, tuple(n for n in draft.values if n not in flow))
            self.paths.append(write(folder / "sea.flow.nc", draft, flow))
            chance.shuffle(self.paths)
            label += "; two files"
        else:
            write(folder / name, draft)
        return folder / name, label

    def warm(self) -> None:
        draft = plain_draft()
        draft.values = {n: v for n, v in draft.values.items() if "_" not in n}
        self.total = self.sample([write(self.seed / "total.nc", draft)])

    def judge(self, path: Path) -> str:
        truth = self.truth if self.partitions else self.total
        answer = self.sample(self.paths)
        for key, value in truth.items():
            got = np.asarray(answer[key], float)
            if key == "from_rad":
                got = value + np.angle(np.exp(1j * (got - value)))
            # 1/60000 of the range of a packed field, and single precision beside it.
            np.testing.assert_allclose(got, value, rtol=3e-4, atol=3e-4, err_msg=key)
        return "the same"

    def refused(self, err: Exception) -> str:
        return f"refused: {err}"


class PoisonedSea(SameSea):
    """The same with a poison: a refusal, or words in the notes, or marked as no data."""

    poisoned = True

    def judge(self, path: Path) -> str:
        answer = self.sample(self.paths)
        names = [n for n in ("coverage", "wind_coverage", "current_coverage") if np.any(answer[n])]
        if names:
            return "said to be missing"
        raise AssertionError("a poisoned file gives an answer")

    def refused(self, err: Exception) -> str:
        return ""
