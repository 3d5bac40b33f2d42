"""What files call things: every vocabulary ends in the same numbers."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from passage.inputs.forecast import open_forecast
from passage.inputs.forecast.names import (
    MEANINGS,
    SHORT_NAMES,
    STANDARD_NAMES,
)
from passage.inputs.forecast.quantity import factor_to_ours
from passage.physics.waves.spectrum import COS2_WIDTH_RAD

SINGLE = 1e-6
# Ratios to the peak period for JONSWAP, from the computed table of docs/methods.md
# (4 digits): by gamma, energy Tm-10, mean Tm01, zero-crossing Tm02.
RATIO = {
    1.0: {"energy": 0.8572, "Tm01": 0.7718, "Tm02": 0.7104},
    3.3: {"energy": 0.9033, "Tm01": 0.8343, "Tm02": 0.7774},
    5.0: {"energy": 0.9192, "Tm01": 0.8583, "Tm02": 0.8053},
}


def at_middle(path, **options):
    with open_forecast(path, **options) as forecast:
        got = forecast.sample(49.0, -7.0, forecast.time_from_s)
        return got, forecast.notes, forecast.system_names


def test_tables_only_have_known_meanings() -> None:
    for table in (SHORT_NAMES, STANDARD_NAMES):
        for meaning in table.values():
            assert MEANINGS[meaning.name] == meaning


VOCABULARIES = {
    "reanalysis": ("swh", "pp1d", "mwd"),
    "wave model": ("hs", "tp", "dir"),
    "ocean service": ("VHM0", "VTPK", "VMDR"),
}


@pytest.mark.parametrize("words", VOCABULARIES.values(), ids=VOCABULARIES)
def test_short_names_without_standard_names(make_forecast, maker, words) -> None:
    hs, tp, direction = words
    path = make_forecast(
        {
            hs: maker.Made(1.5, "m"),
            tp: maker.Made(8.0, "s"),
            direction: maker.Made(300.0, "Degree true"),
        }
    )
    got, notes, names = at_middle(path)
    assert names == ("total",)
    assert_allclose(got.height_m, [1.5], rtol=SINGLE)
    assert_allclose(got.peak_period_s, [8.0], rtol=SINGLE)
    assert_allclose(got.from_rad, [math.radians(300.0)], rtol=SINGLE)
    assert not any("derived" in note for note in notes)


@pytest.mark.parametrize(
    ("name", "kind"),
    [("mwp", "energy"), ("VTM10", "energy"), ("t0m1", "energy"), ("mp1", "Tm01"),
     ("mp2", "Tm02"), ("VTM02", "Tm02"), ("t02", "Tm02")],
)  # fmt: skip
def test_other_kinds_of_period_go_through_the_ratio_and_say_so(
    make_forecast, maker, name, kind
) -> None:
    # A long low sea: steepness puts gamma at its floor of 1 (Tp/sqrt(Hs) above 5).
    variables = maker.sea(1.0)
    del variables["tp"]
    variables[name] = maker.Made(9.0, "s")
    got, notes, _ = at_middle(make_forecast(variables))
    assert_allclose(got.gamma, [1.0], rtol=SINGLE)
    assert_allclose(got.peak_period_s, [9.0 / RATIO[1.0][kind]], rtol=1e-4)
    assert any("derived from the" in note for note in notes)


def test_peak_period_is_preferred_and_kinds_are_kept_apart(make_forecast, maker) -> None:
    variables = maker.sea(period=9.0) | {
        "mwp": maker.Made(7.7, "s"), "mp2": maker.Made(6.4, "s")
    }  # fmt: skip
    got, notes, _ = at_middle(make_forecast(variables))
    assert_allclose(got.peak_period_s, [9.0], rtol=SINGLE)
    assert not any("derived" in note for note in notes)


def test_peak_frequency_in_hertz_becomes_a_period(make_forecast, maker) -> None:
    variables = maker.sea()
    del variables["tp"]
    variables["fp"] = maker.Made(0.125, "s-1")
    got, _, _ = at_middle(make_forecast(variables))
    assert_allclose(got.peak_period_s, [8.0], rtol=SINGLE)


def test_a_wrong_standard_name_on_moments_of_the_whole_sea(make_forecast, maker) -> None:
    # One wave model writes t02 of the total with a wind-sea standard_name.
    stem = "sea_surface_wind_wave_mean_period_from_variance_spectral_density"
    variables = {
        "hs": maker.Made(1.0, "m", "sea_surface_wave_significant_height"),
        "t02": maker.Made(6.0, "s", f"{stem}_second_frequency_moment"),
        "dir": maker.Made(200.0, "degree", "sea_surface_wave_from_direction"),
        "phs0": maker.Made(0.8, "m"),
    }
    got, _, names = at_middle(make_forecast(variables))
    assert names == ("total",)
    assert_allclose(got.peak_period_s, [6.0 / RATIO[1.0]["Tm02"]], rtol=1e-4)


def test_wave_model_partitions_with_peak_periods(make_forecast, maker) -> None:
    whole = math.sqrt(1.2**2 + 1.4**2 + 0.6**2)
    variables = maker.sea(whole)
    for i, (h, t, d) in enumerate([(1.2, 5.0, 230.0), (1.4, 11.0, 300.0), (0.6, 15.0, 320.0)]):
        standard = "sea_surface_swell_wave_significant_height" if i else ""
        variables |= {
            f"phs{i}": maker.Made(h, "m", standard),
            f"ptp{i}": maker.Made(t, "s"),
            f"pdir{i}": maker.Made(d, "degree"),
        }
    got, _notes, names = at_middle(make_forecast(variables))
    assert names == ("wind sea", "swell 1", "swell 2", "rest of the sea")
    assert_allclose(got.height_m, [1.2, 1.4, 0.6, np.nan], rtol=SINGLE)
    assert_allclose(got.peak_period_s[:3], [5.0, 11.0, 15.0], rtol=SINGLE)
    assert_allclose(np.degrees(got.from_rad[:3]), [230.0, 300.0, 320.0], rtol=SINGLE)
    # exp(5.75 - 1.15 Tp/sqrt(Hs)) for the wind sea; the tables give it within 1e-4.
    assert_allclose(
        got.gamma[:3], [math.exp(5.75 - 1.15 * 5 / math.sqrt(1.2)), 5.0, 5.0], rtol=1e-4
    )
    assert_allclose(got.spread_rad[:3], [COS2_WIDTH_RAD] + [math.sqrt(2 / 26)] * 2, rtol=1e-7)
    assert_allclose(got.total_height_m, whole, rtol=SINGLE)


def test_ocean_service_partitions_have_mean_periods(make_forecast, maker) -> None:
    variables = {"VHM0": maker.Made(2.0, "m", "sea_surface_wave_significant_height")}
    for tag, prefix in (("WW", "wind"), ("SW1", "primary_swell"), ("SW2", "secondary_swell")):
        stem = f"sea_surface_{prefix}_wave"
        variables |= {
            f"VHM0_{tag}": maker.Made(1.0, "m", f"{stem}_significant_height"),
            f"VTM01_{tag}": maker.Made(8.0, "s", f"{stem}_mean_period"),
            f"VMDR_{tag}": maker.Made(90.0, "degree", f"{stem}_from_direction"),
        }
    got, notes, names = at_middle(make_forecast(variables))
    assert names == ("wind sea", "swell 1", "swell 2")
    # A wind sea of 1 m and 8 s is not steep: peak enhancement 1.
    want = [8.0 / RATIO[1.0]["Tm01"]] + [8.0 / RATIO[5.0]["Tm01"]] * 2
    assert_allclose(got.peak_period_s, want, rtol=1e-4)
    assert any("Tm01" in note and "taken as" not in note for note in notes)


def test_mean_period_of_no_stated_kind_is_taken_as_tm01_and_reported(make_forecast, maker) -> None:
    variables = maker.sea(1.0)
    variables["tp"] = maker.Made(7.0, "s", "sea_surface_wave_mean_period")
    del variables["hs"]
    variables["height"] = maker.Made(1.0, "m", "sea_surface_wave_significant_height")
    variables["period"] = variables.pop("tp")
    got, notes, _ = at_middle(make_forecast(variables))
    assert_allclose(got.peak_period_s, [7.0 / RATIO[1.0]["Tm01"]], rtol=1e-4)
    assert any("kind not stated, taken as Tm01" in note for note in notes)


@pytest.mark.parametrize(
    ("unit", "value", "expected"),
    [("degree", 30.0, math.radians(30.0)), ("radian", 0.5, 0.5)],
)
def test_directional_spread_in_degrees_or_radians(
    make_forecast, maker, unit, value, expected
) -> None:
    variables = maker.sea() | {
        "spread": maker.Made(value, unit, "sea_surface_wave_directional_spread")
    }
    got, _, _ = at_middle(make_forecast(variables))
    assert_allclose(got.spread_rad, [expected], rtol=SINGLE)


def test_going_to_directions_are_turned(make_forecast, maker) -> None:
    variables = maker.sea()
    variables["mdir"] = maker.Made(90.0, "degree", "sea_surface_wave_to_direction")
    got, _, _ = at_middle(make_forecast(variables))
    assert_allclose(np.degrees(got.from_rad), [270.0], rtol=SINGLE)


@pytest.mark.parametrize("kind", ["from", "to"])
@pytest.mark.parametrize("unit", ["m s-1", "knots"])
def test_wind_from_speed_and_direction(make_forecast, maker, kind, unit) -> None:
    # 10 m/s from 300 degrees blows towards 120: east 10 sin 120, north 10 cos 120.
    speed = 10.0 if unit == "m s-1" else 10.0 / (1852.0 / 3600.0)
    variables = maker.sea() | {
        "speed": maker.Made(speed, unit, "wind_speed"),
        "dirn": maker.Made(300.0 if kind == "from" else 120.0, "degree", f"wind_{kind}_direction"),
    }
    got, _, _ = at_middle(make_forecast(variables))
    assert_allclose(got.wind_u_m_s, 10.0 * math.sin(math.radians(120.0)), rtol=2e-6)
    assert_allclose(got.wind_v_m_s, 10.0 * math.cos(math.radians(120.0)), rtol=2e-6)


def test_current_to_direction(make_forecast, maker) -> None:
    variables = maker.sea() | {
        "cspd": maker.Made(1.0, "m/s"), "cdir": maker.Made(90.0, "degree")
    }  # fmt: skip
    got, _, _ = at_middle(make_forecast(variables))
    assert_allclose([got.current_u_m_s, got.current_v_m_s], [1.0, 0.0], atol=1e-6)


def test_depth_and_elevation(make_forecast, maker) -> None:
    depth = make_forecast(
        {"z": maker.Made(lambda a, o, h: np.where(o > -6.7, 5.0, -40.0), "m",
                         "height_above_mean_sea_level")},
        name="depth.nc", hours=None,
    )  # fmt: skip
    sea = make_forecast()
    with open_forecast([sea, depth]) as forecast:
        got = forecast.sample(49.0, [-7.5, -6.2], forecast.time_from_s)
    assert_allclose(got.depth_m, [40.0, np.nan], rtol=SINGLE)


@pytest.mark.parametrize(
    ("quantity", "unit", "factor"),
    [("height", "m", 1.0), ("height", "cm", 0.01), ("period", "s", 1.0),
     ("period", "seconds", 1.0), ("direction", "Degree true", math.pi / 180),
     ("direction", "degrees", math.pi / 180), ("direction", "rad", 1.0),
     ("eastward", "m s**-1", 1.0), ("eastward", "m/s", 1.0),
     ("spectrum", "m2 s rad-1", 1 / (2 * math.pi)),
     ("spectrum", "m^2/Hz/deg", 180 / math.pi / (2 * math.pi)),
     ("spectrum", "m**2 s radian**-1", 1 / (2 * math.pi)),
     ("spectrum", "m2 s", None), ("height", "s", None), ("period", "Hz", None)],
)  # fmt: skip
def test_units(quantity, unit, factor) -> None:
    got = factor_to_ours(quantity, unit)
    if factor is None:
        assert got is None
    else:
        assert_allclose(got, factor, rtol=1e-12)


@pytest.mark.parametrize("packed", [False, True])
@pytest.mark.parametrize("form", ["NETCDF3_CLASSIC", "NETCDF4", "NETCDF4_CLASSIC"])
def test_packing_and_netcdf_kind_change_nothing(make_forecast, maker, packed, form) -> None:
    def height(lat, lon, hour):
        gone = (lat > 49.6) & (lon < -7.6)
        return np.where(gone, np.nan, np.sqrt(1.0 + 0.2 * (lat - 48) + 0.1 * hour))

    path = make_forecast(maker.sea(height), packed=packed, form=form)
    with open_forecast(path) as forecast:
        got = forecast.sample([49.25, 49.9], -7.75, forecast.time_from_s + 5400.0)
    # Packed into 16 bits over a range of 2 m: half a step is 1.5e-5 m.
    assert_allclose(got.height_m[0], [math.sqrt(1.0 + 0.25 + 0.15)], atol=2e-5)
    assert got.coverage.tolist() == [0, 4]


def test_swell_partitions_as_levels(tmp_path, maker) -> None:
    import xarray as xr

    path = maker.write_forecast(
        tmp_path / "a.nc",
        maker.sea(math.sqrt(1.0 + 1.0 + 1.1**2 + 1.2**2)) | maker.partition("wind", 1.0) | {
            "shts": maker.Made(1.0, "m"), "ptps": maker.Made(9.0, "s"),
            "swdir": maker.Made(280.0, "degree")},
    )  # fmt: skip
    with xr.open_dataset(path, decode_times=False) as plain:
        data = plain.load()
    level = xr.DataArray([1.0, 2.0, 3.0], dims="orderedSequenceData")
    for name, scale in (("shts", 1.0), ("ptps", 1.0), ("swdir", 1.0)):
        attrs = data[name].attrs
        data[name] = data[name] * scale + 0.1 * (level - 1.0)
        data[name].attrs = attrs
    data = data.assign_coords(orderedSequenceData=level)
    data.to_netcdf(tmp_path / "levels.nc")
    got, _, names = at_middle(tmp_path / "levels.nc", names={"ptps": "swell_peak_period"})
    assert names == ("wind sea", "swell 1", "swell 2", "swell 3", "rest of the sea")
    assert_allclose(got.height_m[1:4], [1.0, 1.1, 1.2], rtol=SINGLE)
    assert_allclose(got.peak_period_s[1:4], [9.0, 9.1, 9.2], rtol=SINGLE)


def test_table_abbreviations_with_the_level_appended(make_forecast, maker) -> None:
    variables = {
        "HTSGW_surface": maker.Made(math.sqrt(1.0 + 1.5**2 + 0.75**2), "m"),
        "WVHGT_surface": maker.Made(1.0, "m"),
        "WVPER_surface": maker.Made(5.0, "s"),
        "WVDIR_surface": maker.Made(200.0, "degree"),
        "UGRD_surface": maker.Made(4.0, "m/s"),
        "VGRD_surface": maker.Made(-2.0, "m/s"),
    }
    for i in (1, 2):
        variables |= {
            f"SWELL_{i}insequence": maker.Made(1.5 / i, "m"),
            f"SWPER_{i}insequence": maker.Made(9.0 + i, "s"),
            f"SWDIR_{i}insequence": maker.Made(280.0 + i, "degree"),
        }
    got, notes, names = at_middle(make_forecast(variables))
    assert names == ("wind sea", "swell 1", "swell 2")
    assert_allclose(got.height_m, [1.0, 1.5, 0.75], rtol=SINGLE)
    assert_allclose(got.peak_period_s, [5.0, 10.0, 11.0], rtol=SINGLE)
    assert_allclose([got.wind_u_m_s, got.wind_v_m_s], [4.0, -2.0], rtol=SINGLE)
    assert not any("derived" in note for note in notes)


#: Every name of the vocabulary that has one meaning by itself.
EVERY_NAME = """
swh hs VHM0 HSIGN shww phs0 VHM0_WW shts HSWELL swh1 swh2 swh3 phs1 phs2 phs3 phs4 phs5
VHM0_SW1 VHM0_SW2 pp1d fp tp VTPK RTP TPS perpw pp1dw pp1ds pp1d1 pp1d2 pp1d3 ptp0 ptp1
mwp t0m1 VTM10 TMM10 mp1 t01 TM01 mp2 t02 VTM02 TM02 mpww pt01c0 pt02c0 ptm10c0 VTM01_WW
mpts mwp1 mwp2 mwp3 pt01c1 VTM01_SW1 VTM01_SW2 mwd dir VMDR pwd dirpw dp VPED mdww wvdir
pdir0 VMDR_WW mdts swdir mwd1 mwd2 mwd3 pdir1 pdp1 VMDR_SW1 VMDR_SW2 wdw dwww dwps spr
pspr0 DSPR 10u 10v u10 v10 uwnd vwnd eastward_wind northward_wind xwnd ywnd wind 10si
dwi ws wdir wspd wind_speed wind_to_dir sve svn ocu ocv ucur vcur uo vo utotal vtotal
u_sur v_sur xcur ycur spc dirc cspd cdir wmb dpt deptho DEPTH depth 2dfd efth HTSGW
WVHGT SWELL PWPER PERPW MWSPER IMWF MZWPER WVPER SWPER WWSDIR DIRPW WVDIR SWDIR UGRD
VGRD WIND WDIR UOGRD VOGRD
"""


@pytest.mark.parametrize("name", EVERY_NAME.split())
def test_every_name_of_the_vocabulary_is_known(name) -> None:
    from passage.inputs.forecast.names import known_short_name

    assert known_short_name(name) is not None


def test_a_doubtful_direction_that_is_not_needed_is_left(make_forecast, maker) -> None:
    variables = maker.sea() | maker.partition("wind") | maker.partition("primary_swell")
    variables["MWD"] = maker.Made(1.0, "degree", attrs={"long_name": "wave direction"})
    del variables["mdir"]
    _, _, names = at_middle(make_forecast(variables))
    assert names == ("wind sea", "swell 1")
