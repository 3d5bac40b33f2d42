"""Damage that passes every check of a file is reported where its neighbours show it."""

from __future__ import annotations

import random
from pathlib import Path

import forecast_maker as maker
import numpy as np
import pytest
from case import PLAN, Bench, Case, check

from passage.inputs.forecast import open_forecast
from passage.inputs.forecast.damage import damage_words, still_hours, stuck_runs, wild_times
from passage.inputs.forecast.names import Meaning
from passage.inputs.forecast.strays import lone_cells, sudden_calms, tiny_values, without_order

ROOT = Path(__file__).resolve().parents[2]
LAT = np.arange(47.0, 51.01, 0.1)
LON = LAT - 56.0
HOURS = np.arange(0.0, 22.0, 3.0)


def moving(lat, lon, hour):
    """A sea that varies in place and time."""
    return 2.0 + 0.5 * np.sin(lat + hour / 9.0) * np.cos(1.3 * lon - hour / 7.0)


def write(path: Path, height=moving) -> Path:
    variables = maker.sea(height, lambda *a: 4.0 + 2.0 * moving(*a), lambda *a: 100.0 * moving(*a))
    return maker.write_forecast(path, variables, lat=LAT, lon=LON, hours=HOURS)


def spoiled(path: Path, spoil) -> None:
    import netCDF4

    with netCDF4.Dataset(path, "a") as nc:
        values = nc["hs"][:].filled(np.nan)
        spoil(values)
        nc["hs"][:] = values


def zeros(values) -> None:
    values[2].reshape(-1)[800:928] = 0.0


def one_value(values) -> None:
    values[3].reshape(-1)[700:800] = 6.5


def wild(values) -> None:
    values[4] *= 4.0


def one_cell(values) -> None:
    values[3, 20, 20] *= 4.0


def one_hour(values) -> None:
    values[2:4] = 1.75


def half_a_number(values) -> None:
    values[3, 20, 20] = 1.9e-38


def shuffled(values) -> None:
    np.random.default_rng(1).shuffle(values.reshape(-1))


@pytest.mark.parametrize(
    ("spoil", "says"),
    [(one_cell, "1 value, at 2026-03-14T09:00Z, 49.00, -7.00, is far from all its neighbours"),
     (one_hour, "the whole field of 2026-03-14T06:00Z (and 1 more) is exactly 1.75"),
     (half_a_number, "1 value, at 2026-03-14T09:00Z, 49.00, -7.00, is neither 0 nor a computed"),
     (shuffled, "are as different as any two of the file"),
     (zeros, "cells in a row are exactly 0 at 2026-03-14T06:00Z"),
     (one_value, "cells in a row are exactly 6.5 at 2026-03-14T09:00Z"),
     (wild, "the field of 2026-03-14T12:00Z is far from those")],
)  # fmt: skip
def test_damage_is_reported_with_place_and_time(tmp_path, spoil, says) -> None:
    def put(bench: Bench) -> None:
        spoiled(write(bench.files["sea"]), spoil)

    words = (*PLAN, "--format", "json")
    check(Case(spoil.__name__, words, 0, (says, "height"), put), Bench(tmp_path / "bench"))


def notes(*paths: Path) -> list[str]:
    with open_forecast(list(paths)) as forecast:
        for group in forecast.groups.values():
            grid = group.grid
            lat, lon = np.meshgrid(grid.lat_deg[:3], grid.lon_deg[:3])
            for time in group.time_s[:: max(1, group.time_s.size // 4)]:
                forecast.sample(lat, lon, time)
        return [note for note in forecast.notes if "damaged" in note]


SOUND = {
    "moving": moving,
    "uniform": 1.5,
    "calm": 0.0,
    "calm in places": lambda *a: np.maximum(moving(*a) - 2.0, 0.0),
    "masked": lambda lat, lon, hour: np.where(lat > 49.0, np.nan, moving(lat, lon, hour)),
    "in steps": lambda *a: np.round(4.0 * moving(*a)) / 4.0,
    "growing fast": lambda lat, lon, hour: moving(lat, lon, hour) * (0.5 + hour / 6.0),
    "a front": lambda lat, lon, hour: moving(lat, lon, hour) + 3.0 * (hour > 10.0),
    "along one axis only": lambda lat, lon, hour: 1.0 + 0.1 * lat - 0.02 * hour + 0.0 * lon,
    "a tide": lambda lat, lon, hour: 1.5 + np.sin(hour / 2.0) + 0.1 * moving(lat, lon, hour),
}  # fmt: skip


@pytest.mark.parametrize("height", SOUND.values(), ids=list(SOUND))
def test_sound_seas_raise_no_caution(tmp_path, height) -> None:
    assert notes(write(tmp_path / "sea.nc", height)) == []


def test_real_and_sample_files_raise_no_caution() -> None:
    samples = sorted((ROOT / "sample_forecasts").glob("*_waves.nc"))
    real = sorted((ROOT.parent / "shared" / "open_data").glob("*waves*"))
    for path in [*samples, *real]:
        if path.suffix == ".grib2":
            pytest.importorskip("eccodes", reason="the grib extra is not installed")
        assert notes(path) == [], path.name


@pytest.mark.parametrize("gone", ["u10", "v10", "uo", "vo"])
def test_a_component_of_zeros_is_reported(tmp_path, gone) -> None:
    """Wind or current with one component not filled in turns by up to 90 degrees."""
    flows = maker.wind(moving, lambda *a: 1.0 - moving(*a)) | maker.current(
        lambda *a: 0.1 * moving(*a), lambda *a: 0.2 * moving(*a)
    )
    flows[gone] = maker.Made(0.0, flows[gone].units, flows[gone].standard_name)
    path = maker.write_forecast(
        tmp_path / "sea.nc", maker.sea() | flows, lat=LAT, lon=LON, hours=HOURS
    )
    (note,) = notes(path)
    assert "is exactly 0 in every cell and hour" in note
    assert ("wind" if gone.endswith("10") else "current") in note


@pytest.mark.parametrize("slip", ["add_offret", "cdd_offset", "adt_offset"])
def test_a_misspelt_packing_attribute_is_reported(tmp_path, slip) -> None:
    """A bit turned in the name of a packing attribute moves every value by its offset."""
    import netCDF4

    path = maker.write_forecast(
        tmp_path / "sea.nc", maker.sea() | maker.wind(moving, moving), packed=True
    )
    with netCDF4.Dataset(path, "a") as nc:
        nc["u10"].setncattr(slip, nc["u10"].add_offset)
        nc["u10"].delncattr("add_offset")
    with open_forecast([path]) as forecast:
        assert f"'u10' has an attribute {slip}" in " ".join(forecast.notes)
    sound = maker.write_forecast(tmp_path / "sound.nc", packed=True)
    with open_forecast([sound]) as forecast:
        assert "attribute" not in " ".join(forecast.notes)


def test_lone_cells_are_found_and_nothing_else() -> None:
    """Any one value, times 5 or more or turned by 120 degrees; none in any sound sea."""
    hour, lat, lon = np.meshgrid(HOURS, LAT, LON, indexing="ij")
    for name, height in SOUND.items():
        values = np.broadcast_to(
            height(lat, lon, hour) if callable(height) else height, lat.shape
        ).astype(np.float32)
        assert lone_cells(values).size == 0, name
        assert tiny_values(values).size == 0, name
        assert still_hours(values) == [], name
        assert not without_order(values), name
        assert lone_cells(100.0 * values % 360.0, circle=360.0).size == 0, name
    chance = random.Random("cells")
    sound = moving(lat, lon, hour).astype(np.float32)
    for _ in range(50):
        at = tuple(chance.randrange(n) for n in sound.shape)
        values = sound.copy()
        values[at] *= chance.choice((5.0, 9.0, 1e6, -3.0))
        assert [np.unravel_index(i, sound.shape) for i in lone_cells(values)] == [at]
        turned = (12.0 * sound + 335.0) % 360.0
        turned[at] = (turned[at] + 120.0) % 360.0
        found = [np.unravel_index(i, sound.shape) for i in lone_cells(turned, circle=360.0)]
        assert found == [at]


def test_random_blocks_are_found() -> None:
    """Blocks of 64 to 2048 bytes overwritten by zeros or one value, anywhere in a field."""
    hour, lat, lon = np.meshgrid(HOURS, LAT, LON, indexing="ij")
    sound = moving(lat, lon, hour).astype(np.float32)
    assert stuck_runs(sound) == []
    chance = random.Random("blocks")
    found = 0
    for _ in range(200):
        values = sound.copy()
        flat = values.reshape(-1)
        size = chance.randrange(16, 512)
        at = chance.randrange(flat.size - size)
        flat[at : at + size] = chance.choice((0.0, 0.0, 1e-3, 4.0, 9.0))
        found += bool(stuck_runs(values))
    # A block that ends in the first few cells of the next field may be too short there.
    assert found >= 198


def test_scaled_fields_are_found() -> None:
    hour, lat, lon = np.meshgrid(HOURS, LAT, LON, indexing="ij")
    sound = moving(lat, lon, hour).astype(np.float32)
    assert wild_times(sound) == []
    for t in range(1, HOURS.size - 1):
        for factor in (0.25, 3.0, 8.0):
            values = sound.copy()
            values[t] *= factor
            assert wild_times(values) == [t], (t, factor)
    # Directions about north are no leap.
    turning = np.mod(350.0 + 10.0 * hour, 360.0).astype(np.float32)
    assert wild_times(turning, circle=360.0) == []


def test_a_jumping_peak_period_is_not_called_damage() -> None:
    """Where two seas are as high, the total's peak period jumps from one to the other."""
    values = np.full((6, 12, 12), 7.1, np.float32)
    values += np.linspace(0.0, 0.3, values.size, dtype=np.float32).reshape(values.shape)
    values[3, 5, 5] = 12.4
    times = [f"hour {i}" for i in range(6)]

    def found(*, jumps: bool) -> list[str]:
        return damage_words(values, "Tp", circle=None, jumps=jumps, time_words=times,
                            place_words=str)  # fmt: skip

    assert found(jumps=False)
    assert not found(jumps=True)
    assert Meaning("total", "period", "peak").jumps
    assert Meaning("swell_1", "direction").jumps
    assert not Meaning("total", "height").jumps
    assert not Meaning("wind", "eastward").jumps


def test_a_patch_of_zeros_in_a_sea_is_reported(tmp_path: Path) -> None:
    """A few cells of exactly 0 m for an hour or two; never a sea that is calm, or land as 0."""
    hour, lat, lon = np.meshgrid(HOURS, LAT, LON, indexing="ij")
    sound = moving(lat, lon, hour).astype(np.float32)
    assert sudden_calms(sound).size == 0
    calm = np.where(hour < 9.0, 0.0, sound)
    land = np.where(lat > 49.0, 0.0, sound)
    assert sudden_calms(calm).size == sudden_calms(land).size == 0
    broken = sound.copy()
    broken[3:5, 10:13, 7:11] = 0.0
    assert sudden_calms(broken).size == 24

    def height(lat, lon, hour):
        hole = (hour == 9.0) & (np.abs(lat - 49.0) < 0.15) & (np.abs(lon + 7.0) < 0.15)
        return np.where(hole, 0.0, moving(lat, lon, hour))

    with open_forecast([write(tmp_path / "hole.nc", height)]) as forecast:
        forecast.sample([49.0], [-7.0], [forecast.time_from_s + 9 * 3600.0])
        assert "exactly 0 m, with waves of half a metre" in " ".join(forecast.notes)
