"""The same sea in other words gives the same litres and roll.

The pairs, their tolerances and the reasons are those of docs/one-answer.md.
"""

from __future__ import annotations

import numpy as np
import pytest
from restatement_case import (
    FROM,
    HOURS,
    TO,
    answer,
    apart,
    between,
    passage,
    swell_from,
    swell_height,
    swell_period,
    total_height,
    wind_from,
    wind_height,
    wind_period,
)

from passage.physics.waves.spectrum import jonswap, spreading_cosn

#: Sums of eight corners in single precision, in another order.
SINGLE = 2e-5
#: 16-bit packing: heights to half a 30000th of their range.
PACKED = 2e-4
#: Bins of a spectrum instead of its formula.
BINS = 1e-2
#: Labels of swells that change from cell to cell: sums in another order.
RELABELLED = 1e-2


def parts(maker, labels=None, total=total_height):
    """Total, wind sea and swell by peak periods; ``labels`` names the two partitions."""
    swap = labels or (lambda lat, lon, hour: 0.0 * lat > 1.0)

    def pick(one, two):
        return lambda *at: np.where(swap(*at), two(*at), one(*at))

    made = {"hs": maker.Made(total, "m", "sea_surface_wave_significant_height")}
    seas = ((wind_height, wind_period, wind_from), (swell_height, swell_period, swell_from))
    for i, (mine, other) in enumerate((seas, seas[::-1])):
        height, period, direction = (pick(a, b) for a, b in zip(mine, other, strict=True))
        made |= {
            f"phs{i}": maker.Made(height, "m"),
            f"ptp{i}": maker.Made(period, "s"),
            f"pdir{i}": maker.Made(lambda *at, f=direction: f(*at) % 360.0, "degree"),
        }
    return made | maker.wind(6.0, -3.0) | maker.current(0.2, 0.1)


@pytest.fixture
def sea(make_forecast, maker):
    """Writes the sea, in any form: ``sea(name, **options)`` gives the path."""

    def make(name="sea.nc", variables=None, **options):
        options = {"hours": HOURS} | options
        return make_forecast(variables or parts(maker), name=name, **options)

    return make


# --- the passage --------------------------------------------------------------


@pytest.mark.parametrize("legs", [2, 7])
def test_cutting_the_passage_into_legs(sea, legs):
    # Segments of up to 20 minutes are laid leg by leg, so that their middles move.
    path = sea()
    assert apart(answer(path, passage(between(legs))), answer(path)) < 5e-3


def test_port_and_starboard_mirrored(make_forecast, maker):
    def made(side):
        def turned(f):
            return lambda lat, lon, hour: (side * f(lat, side * lon, hour)) % 360.0

        def same(f):
            return lambda lat, lon, hour: f(lat, side * lon, hour)

        pairs = {"hs": (same(total_height), "m")}
        for i, (h, t, d) in enumerate(
            ((wind_height, wind_period, wind_from), (swell_height, swell_period, swell_from))
        ):
            pairs |= {
                f"phs{i}": (same(h), "m"),
                f"ptp{i}": (same(t), "s"),
                f"pdir{i}": (turned(d), "degree"),
            }
        variables = {name: maker.Made(values, unit) for name, (values, unit) in pairs.items()}
        variables |= maker.wind(6.0 * side, -3.0) | maker.current(0.2 * side, 0.1)
        lon = np.sort(side * maker.LON)
        return make_forecast(variables, name=f"side{side}.nc", lon=lon, hours=HOURS)

    other = passage(tuple((lat, -lon) for lat, lon in (FROM, TO)))
    assert apart(answer(made(-1), other), answer(made(1))) < SINGLE


# --- files --------------------------------------------------------------------


def test_two_files_joined_in_time(sea):
    whole = answer(sea())
    cut = [sea("a.nc", hours=HOURS[:3]), sea("b.nc", hours=HOURS[3:])]
    assert apart(answer(cut[::-1]), whole) == 0.0


@pytest.mark.parametrize("form", ["NETCDF3_CLASSIC", "NETCDF4"])
def test_packed_and_other_forms(sea, form):
    assert apart(answer(sea("other.nc", form=form, packed=True)), answer(sea())) < PACKED


def test_flipped_latitudes_and_another_longitude_convention(sea, maker):
    flipped = sea("flipped.nc", lat=maker.LAT[::-1])
    assert apart(answer(flipped), answer(sea())) < SINGLE


def test_units_changed(sea, maker):
    variables = parts(maker)
    other = dict(variables)
    for name, unit, factor in (
        ("phs0", "cm", 100.0), ("phs1", "cm", 100.0), ("hs", "cm", 100.0),
        ("u10", "knots", 3600 / 1852), ("v10", "knots", 3600 / 1852), ("uo", "cm s-1", 100.0),
        ("vo", "cm s-1", 100.0), ("pdir0", "radian", np.pi / 180), ("pdir1", "radian", np.pi / 180),
    ):  # fmt: skip
        made = variables[name]
        values = made.values
        scaled = (
            (lambda *at, f=values, k=factor: f(*at) * k) if callable(values) else values * factor
        )
        other[name] = maker.Made(scaled, unit, made.standard_name)
    assert apart(answer(sea("units.nc", other)), answer(sea())) < SINGLE


@pytest.mark.parametrize("finer", ["grid", "time"])
def test_a_finer_file_of_the_same_sea(sea, maker, finer):
    """The finer file holds what lies between: energies, and means weighted by them."""
    coarse = sea()
    lat, lon, hours = maker.LAT, maker.LON, HOURS
    if finer == "grid":
        lat, lon = np.linspace(48.0, 50.0, 17), np.linspace(-8.0, -6.0, 17)
    else:
        hours = np.arange(0.0, 15.01, 1.0)
    from passage.inputs.forecast import open_forecast

    grid = np.meshgrid(hours, lat, lon, indexing="ij")
    with open_forecast(coarse) as forecast:
        at = forecast.sample(grid[1], grid[2], forecast.time_from_s + 3600.0 * grid[0])
    made = {"hs": maker.Made(at.total_height_m, "m", "sea_surface_wave_significant_height")}
    for i in range(2):
        made |= {
            f"phs{i}": maker.Made(at.height_m[..., i], "m"),
            f"ptp{i}": maker.Made(at.peak_period_s[..., i], "s"),
            f"pdir{i}": maker.Made(np.degrees(at.from_rad[..., i]), "degree"),
        }
    made |= maker.wind(6.0, -3.0) | maker.current(0.2, 0.1)
    fine = sea("fine.nc", made, lat=lat, lon=lon, hours=hours)
    # The peak enhancement of the wind sea is found anew from the steepness between.
    assert apart(answer(fine), answer(coarse)) < 5e-3


# --- systems ------------------------------------------------------------------


def test_a_total_and_the_same_as_a_wind_sea_alone(sea, maker):
    kept = {k: v for k, v in parts(maker).items() if k[:2] in ("u1", "v1", "uo", "vo")}
    total = sea(
        "total.nc",
        maker.sea(wind_height, wind_period, wind_from) | kept,
    )
    alone = {
        "hs": maker.Made(wind_height, "m", "sea_surface_wave_significant_height"),
        "phs0": maker.Made(wind_height, "m"),
        "ptp0": maker.Made(wind_period, "s"),
        "pdir0": maker.Made(wind_from, "degree"),
    }
    assert apart(answer(sea("alone.nc", alone | kept)), answer(total)) < SINGLE
    # A tenth of a millimetre of swell beside it is nothing.
    swell = {
        "phs1": maker.Made(1e-4, "m"),
        "ptp1": maker.Made(11.0, "s"),
        "pdir1": maker.Made(250.0, "degree"),
    }
    assert apart(answer(sea("speck.nc", alone | swell | kept)), answer(total)) < SINGLE


def test_partitions_with_and_without_the_total(sea, maker):
    without = {k: v for k, v in parts(maker).items() if k != "hs"}
    assert apart(answer(sea("without.nc", without)), answer(sea())) < SINGLE


def test_a_swell_in_two_halves(sea, maker):
    whole = parts(maker)
    half = dict(whole)
    for i in (1, 2):
        half[f"phs{i}"] = maker.Made(lambda *at: swell_height(*at) / np.sqrt(2.0), "m")
        half[f"ptp{i}"], half[f"pdir{i}"] = whole["ptp1"], whole["pdir1"]
    assert apart(answer(sea("half.nc", half)), answer(sea("whole.nc", whole))) < SINGLE


def second_from(*at):
    return swell_from(*at) + 40.0


def second_height(*at):
    return 0.7 * swell_height(*at)


def second_period(*at):
    return 0.8 * swell_period(*at)


def numbered(maker, change):
    """Two swells and a third, small one; ``change`` (lat, lon, hour) turns their numbers round."""
    seas = (
        (swell_height, swell_period, swell_from),
        (second_height, second_period, second_from),
        (lambda *at: 0.3 * swell_height(*at), lambda *at: 1.3 * swell_period(*at),
         lambda *at: swell_from(*at) - 70.0),
    )  # fmt: skip
    made = {}
    for i in range(3):
        for k, (name, unit) in enumerate((("phs", "m"), ("ptp", "s"), ("pdir", "degree"))):

            def values(lat, lon, hour, i=i, k=k):
                each = np.broadcast_arrays(*(one[k](lat, lon, hour) for one in seas))
                turn = (i + change(lat, lon, hour)) % 3
                return np.choose(np.broadcast_to(turn, each[0].shape), each)

            made[f"{name}{i + 1}"] = maker.Made(values, unit)
    return made | maker.wind(6.0, -3.0)


def at_random(lat, lon, hour):
    """0, 1 or 2, another in every cell and hour."""
    return (np.abs(np.sin(12.9898 * lat + 78.233 * lon + 37.719 * hour)) * 43758.5).astype(int) % 3


@pytest.mark.parametrize("way", ["cells", "hours", "random"])
def test_swells_that_change_their_numbers(sea, maker, way):
    change = {
        "cells": lambda lat, lon, hour: (np.round(lon * 2) % 2 + 0.0 * (lat + hour)).astype(int),
        "hours": lambda lat, lon, hour: (np.round(hour / 3) % 3 + 0.0 * (lat + lon)).astype(int),
        "random": at_random,
    }[way]
    plain = sea("plain.nc", numbered(maker, lambda *at: 0))
    assert apart(answer(sea("changed.nc", numbered(maker, change))), answer(plain)) < RELABELLED


@pytest.mark.parametrize("way", ["cells", "hours", "random"])
def test_a_wind_sea_and_a_swell_that_change_names(sea, maker, way):
    change = {
        "cells": lambda lat, lon, hour: np.round(lon * 2) % 2 + 0.0 * (lat + hour) == 1.0,
        "hours": lambda lat, lon, hour: np.round(hour / 3) % 2 + 0.0 * (lat + lon) == 1.0,
        "random": lambda *at: at_random(*at) % 2 == 1,
    }[way]
    changed = answer(sea("changed.nc", parts(maker, change)))
    assert apart(changed, answer(sea("plain.nc"))) < RELABELLED


def test_a_sea_that_is_wind_sea_here_and_swell_there_keeps_its_height(sea, maker):
    from passage.inputs.forecast import open_forecast

    def here(lat, lon, hour):
        return np.round(lon * 2) % 2 == 1

    def either(which):
        return lambda *at: np.where(here(*at) == which, 2.0, np.nan)

    told = maker.sea(2.0, 8.0, 270.0) | {
        "phs0": maker.Made(either(True), "m"),
        "ptp0": maker.Made(8.0, "s"),
        "pdir0": maker.Made(270.0, "degree"),
        "phs1": maker.Made(either(False), "m"),
        "ptp1": maker.Made(8.0, "s"),
        "pdir1": maker.Made(270.0, "degree"),
    }
    lon = np.linspace(-7.9, -6.1, 50)
    with open_forecast(sea("labels.nc", told)) as forecast:
        got = forecast.sample(49.1, lon, forecast.time_from_s)
    height = np.sqrt(np.nansum(got.height_m**2, axis=-1))
    np.testing.assert_allclose(height, 2.0, rtol=1e-6)
    np.testing.assert_allclose(got.total_height_m, 2.0, rtol=1e-6)
    np.testing.assert_allclose(got.peak_period_s[got.height_m > 0], 8.0, rtol=1e-6)


def test_the_whole_sea_from_its_wind_sea_and_the_total(sea, maker):
    """The swell that is not given follows from the total's mean period and direction."""
    whole = parts(maker)
    given = {k: v for k, v in whole.items() if not k.endswith("1")}
    from passage.physics.waves.peakedness import gamma_at_place, peak_by_steepness
    from passage.physics.waves.spectrum import period_ratio

    def energy_period(*at):
        place = peak_by_steepness("peak", wind_height(*at), wind_period(*at))[1]
        te = (
            wind_period(*at) * period_ratio("energy", gamma_at_place(place)),
            swell_period(*at) * period_ratio("energy", 5.0),
        )
        e = wind_height(*at) ** 2, swell_height(*at) ** 2
        return (e[0] * te[0] + e[1] * te[1]) / (e[0] + e[1])

    def mean_from(*at):
        e = wind_height(*at) ** 2, swell_height(*at) ** 2
        a = np.radians(wind_from(*at)), np.radians(swell_from(*at))
        east = sum(x * np.sin(y) for x, y in zip(e, a, strict=True))
        north = sum(x * np.cos(y) for x, y in zip(e, a, strict=True))
        return np.degrees(np.arctan2(east, north)) % 360.0

    wave = "sea_surface_wave"
    given["te"] = maker.Made(
        energy_period, "s",
        f"{wave}_mean_period_from_variance_spectral_density_inverse_frequency_moment",
    )  # fmt: skip
    given["dir"] = maker.Made(mean_from, "degree", f"{wave}_from_direction")
    given.pop("uo"), given.pop("vo")
    whole.pop("uo"), whole.pop("vo")
    assert apart(answer(sea("part.nc", given)), answer(sea("whole.nc", whole))) < 1e-3


def test_a_total_written_as_a_full_spectrum(tmp_path, maker, make_forecast):
    import netCDF4

    height, period, from_deg = 2.2, 7.5, 260.0
    total = make_forecast(maker.sea(height, period, from_deg), name="total.nc", hours=HOURS)
    from passage.physics.waves.spectrum import gamma_from_steepness

    frequency = 0.03 * 1.05 ** np.arange(66)
    direction = np.arange(0.0, 360.0, 5.0)
    omega = 2 * np.pi * frequency
    gamma = gamma_from_steepness(height, period)
    density = 2 * np.pi * jonswap(omega, height, period, gamma)
    aside = np.radians((direction - from_deg + 180.0) % 360.0 - 180.0)
    full = density[:, None] * spreading_cosn(aside, 2.0) * np.pi / 180.0
    path = tmp_path / "full.nc"
    with netCDF4.Dataset(path, "w") as nc:
        shape = {"time": HOURS, "latitude": maker.LAT, "longitude": maker.LON,
                 "frequency": frequency, "direction": direction}  # fmt: skip
        units = {
            "time": "hours since 2026-03-14T00:00:00",
            "latitude": "degrees_north",
            "longitude": "degrees_east",
            "frequency": "s-1",
            "direction": "degree",
        }
        for name, values in shape.items():
            nc.createDimension(name, values.size)
            axis = nc.createVariable(name, "f8", (name,))
            axis[:], axis.units = values, units[name]
        nc["direction"].standard_name = "sea_surface_wave_from_direction"
        made = nc.createVariable("efth", "f4", tuple(shape))
        made.units = "m2 s degree-1"
        made.standard_name = "sea_surface_wave_directional_variance_spectral_density"
        made[:] = np.broadcast_to(full, tuple(v.size for v in shape.values()))
    assert apart(answer(path), answer(total)) < BINS


def test_grib_and_netcdf(tmp_path, make_forecast, maker):
    eccodes = pytest.importorskip("eccodes")
    lat, lon, hours = maker.LAT, maker.LON, HOURS
    fields = {"swh": (wind_height, "m"), "pp1d": (wind_period, "s"), "mwd": (wind_from, "degree")}
    path = tmp_path / "sea.grib2"
    with path.open("wb") as out:
        for hour in hours:
            for name, (values, _) in fields.items():
                handle = eccodes.codes_grib_new_from_samples("regular_ll_sfc_grib2")
                eccodes.codes_set(handle, "centre", "ecmf")
                for key, number in {
                    "Ni": lon.size, "Nj": lat.size, "dataDate": 20260314, "dataTime": 0,
                    "latitudeOfFirstGridPointInDegrees": float(lat[-1]),
                    "latitudeOfLastGridPointInDegrees": float(lat[0]),
                    "longitudeOfFirstGridPointInDegrees": float(lon[0] + 360.0),
                    "longitudeOfLastGridPointInDegrees": float(lon[-1] + 360.0),
                    "iDirectionIncrementInDegrees": 0.5, "jDirectionIncrementInDegrees": 0.5,
                }.items():  # fmt: skip
                    eccodes.codes_set(handle, key, number)
                eccodes.codes_set(handle, "shortName", name)
                eccodes.codes_set(handle, "forecastTime", int(hour))
                eccodes.codes_set(handle, "bitsPerValue", 24)
                grid = np.meshgrid(lat[::-1], lon, indexing="ij")
                eccodes.codes_set_values(handle, (values(*grid, hour) + 0 * grid[0]).reshape(-1))
                eccodes.codes_write(handle, out)
                eccodes.codes_release(handle)
    same = {name: maker.Made(values, unit) for name, (values, unit) in fields.items()}
    plain = make_forecast(same, name="sea.nc", hours=hours)
    assert apart(answer(path), answer(plain)) < SINGLE
