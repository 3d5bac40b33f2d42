"""GRIB of both editions and an ensemble, written with the reference encoder."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from passage.errors import ForecastError
from passage.inputs.forecast import open_forecast

eccodes = pytest.importorskip("eccodes", reason="the grib extra is not installed")

GRID = {
    "Ni": 5,
    "Nj": 4,
    "latitudeOfFirstGridPointInDegrees": 51,
    "longitudeOfFirstGridPointInDegrees": 355,
    "latitudeOfLastGridPointInDegrees": 48,
    "longitudeOfLastGridPointInDegrees": 359,
    "iDirectionIncrementInDegrees": 1,
    "jDirectionIncrementInDegrees": 1,
    "dataDate": 20260314,
    "dataTime": 0,
}


def write(path, edition: int, members: int = 1, runs=(0,), names=None):
    fields = names or {"swh": 2.0, "mwd": 300.0, "mwp": 9.0}
    with path.open("wb") as out:
        for run in runs:
            for step in (0, 6, 12):
                for member in range(members):
                    for name, value in fields.items():
                        extra = 0.1 * step + member if name == "swh" else 0.0
                        _message(out, edition, members, run, step, member, name, value + extra)
    return path


def _message(out, edition, members, run, step, member, name, value) -> None:
    handle = eccodes.codes_grib_new_from_samples(f"regular_ll_sfc_grib{edition}")
    eccodes.codes_set(handle, "centre", "ecmf")
    if members > 1:
        eccodes.codes_set(handle, "productDefinitionTemplateNumber", 1)
    for key, number in (GRID | {"dataTime": 100 * run}).items():
        eccodes.codes_set(handle, key, number)
    if edition == 1:
        eccodes.codes_set(handle, "stepRange", str(step))
    eccodes.codes_set(handle, "shortName", name)
    if edition == 2:
        eccodes.codes_set(handle, "forecastTime", step)
    if members > 1:
        eccodes.codes_set(handle, "perturbationNumber", member)
        eccodes.codes_set(handle, "numberOfForecastsInEnsemble", members)
    eccodes.codes_set_values(handle, np.full(20, value))
    eccodes.codes_write(handle, out)
    eccodes.codes_release(handle)


@pytest.mark.parametrize("edition", [1, 2])
def test_both_editions(tmp_path, edition) -> None:
    path = write(tmp_path / "sea.grib", edition)
    with open_forecast(path) as forecast:
        got = forecast.sample(49.5, -3.5, forecast.time_from_s + 3 * 3600.0)
        assert forecast.time_to_s - forecast.time_from_s == 12 * 3600.0
        assert forecast.sources[0].run_utc == "2026-03-14T00:00Z"
        assert any("energy period" in note for note in forecast.notes)
    # Packing of a constant field is exact to single precision; half-way between 2.0 and
    # 2.6 m the energy is the mean of both.
    assert_allclose(got.height_m, [np.sqrt((2.0**2 + 2.6**2) / 2)], rtol=1e-6)
    assert_allclose(np.degrees(got.from_rad), [300.0], rtol=1e-6)
    assert [p.name for p in tmp_path.iterdir()] == ["sea.grib"]


def test_an_ensemble(tmp_path) -> None:
    path = write(tmp_path / "sea.grib2", 2, members=3)
    with open_forecast(path) as forecast:
        assert forecast.n_members == 3
        got = forecast.sample(49.5, -3.5, forecast.time_from_s, member=[0, 1, 2])
    assert_allclose(got.height_m[:, 0], [2.0, 3.0, 4.0], rtol=1e-6)


def test_two_runs_in_one_file_are_refused(tmp_path) -> None:
    path = write(tmp_path / "sea.grib2", 2, runs=(0, 6))
    with pytest.raises(ForecastError, match="several runs"):
        open_forecast(path)


def test_one_file_for_each_step(tmp_path) -> None:
    whole = write(tmp_path / "sea.grib2", 2).read_bytes()
    cuts = [i for i in range(len(whole)) if whole[i : i + 4] == b"GRIB"]
    paths = []
    for step in range(3):
        start = cuts[3 * step]
        end = cuts[3 * step + 3] if step < 2 else len(whole)
        paths.append(tmp_path / f"f{6 * step:03d}.grib2")
        paths[-1].write_bytes(whole[start:end])
    with open_forecast(paths) as forecast:
        got = forecast.sample(49.5, -3.5, forecast.time_from_s + 9 * 3600.0)
        assert not any("single time step" in note for note in forecast.notes)
    assert_allclose(got.height_m, [np.sqrt((2.6**2 + 3.2**2) / 2)], rtol=1e-6)


def test_rotated_grid_in_grib_is_refused(tmp_path) -> None:
    path = tmp_path / "rotated.grib2"
    handle = eccodes.codes_grib_new_from_samples("rotated_ll_sfc_grib2")
    eccodes.codes_set(handle, "shortName", "swh")
    with path.open("wb") as out:
        eccodes.codes_write(handle, out)
    eccodes.codes_release(handle)
    with pytest.raises(ForecastError, match=r"rotated|GRIB grid of type rotated_ll"):
        open_forecast(path)
