"""Folders and patterns of forecasts, and hours that two runs of one producer give."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from passage.errors import ForecastError, NoCoverage
from passage.inputs.forecast import Area, open_forecast

HOUR_S = 3600.0
LATER = {"run": "2026-03-14T06:00", "start": "2026-03-14T06:00"}


def heights(forecast, hours):
    time_s = forecast.time_from_s + HOUR_S * np.asarray(hours, float)
    return forecast.sample(49.0, -7.0, time_s).total_height_m


def test_the_newer_run_gives_common_hours_in_any_order(make_forecast):
    old = make_forecast(name="old.nc", run="2026-03-14T00:00")
    new = make_forecast(name="new.nc", **LATER)
    with open_forecast([old, new]) as one, open_forecast([new, old]) as other:
        hours = np.arange(0.0, 19.0, 1.0)
        assert_array_equal(heights(one, hours), heights(other, hours))
        assert one.time_to_s - one.time_from_s >= 12 * HOUR_S
        assert np.isfinite(heights(one, [0.0, 3.0, 6.0, 9.0, 12.0])).all()
        note = next(n for n in one.notes if "new.nc (run 2026-03-14T06:00Z)" in n)
        assert "is used from 2026-03-14T06:00Z on" in note
        assert "old.nc (run 2026-03-14T00:00Z) for the hours before" in note


def test_from_its_first_hour_the_newer_run_is_used_alone(make_forecast):
    old = make_forecast(name="old.nc", run="2026-03-14T00:00")
    new = make_forecast(name="new.nc", **LATER)
    with open_forecast([old, new]) as both, open_forecast(new) as alone:
        time_s = alone.time_from_s + HOUR_S * np.array([0.0, 1.5, 6.0])
        assert_allclose(
            both.sample(49.0, -7.0, time_s).height_m,
            alone.sample(49.0, -7.0, time_s).height_m,
            rtol=1e-7,
        )


def test_an_older_run_of_the_same_hours_is_not_used(make_forecast):
    old = make_forecast(name="old.nc", run="2026-03-13T00:00")
    new = make_forecast(name="new.nc", run="2026-03-14T00:00")
    with open_forecast([old, new]) as both:
        assert any("old.nc (run 2026-03-13T00:00Z) is not." in note for note in both.notes)


def test_runs_of_other_producers_or_grids_are_still_refused(make_forecast):
    one = make_forecast(name="a.nc", run="2026-03-14T00:00", attrs={"institution": "One"})
    two = make_forecast(name="b.nc", **LATER, attrs={"institution": "Two"})
    with pytest.raises(ForecastError, match="given twice"):
        open_forecast([one, two])
    three = make_forecast(name="c.nc", **LATER, lat=[48.0, 49.0, 50.0])
    with pytest.raises(ForecastError, match="another grid"):
        open_forecast([make_forecast(name="d.nc", run="2026-03-14T00:00"), three])


def test_a_folder_a_pattern_and_the_files_named_give_the_same_sea(make_forecast, maker, tmp_path):
    (tmp_path / "sea").mkdir()
    (tmp_path / "sea" / "readme.txt").write_text("not a forecast", encoding="utf-8")
    files = [make_forecast(name="sea/waves.nc"), make_forecast(maker.wind(), name="sea/wind.nc")]
    for given in (tmp_path / "sea", tmp_path / "sea" / "w*.nc", [str(tmp_path / "sea" / "*")]):
        with open_forecast(files) as named, open_forecast(given) as gathered:
            assert_array_equal(heights(named, [0.0, 5.0]), heights(gathered, [0.0, 5.0]))
            assert gathered.has_wind
            assert any("forecast files used: waves.nc, wind.nc" in n for n in gathered.notes)


def test_files_beside_the_passage_are_left_out_with_the_reason(make_forecast, tmp_path):
    (tmp_path / "sea").mkdir()
    make_forecast(name="sea/now.nc")
    make_forecast(name="sea/april.nc", start="2026-04-14T00:00")
    make_forecast(name="sea/far.nc", lon=[100.0, 101.0, 102.0])
    with open_forecast(make_forecast(name="now.nc")) as now:
        start, end = now.time_from_s, now.time_to_s
    area = Area(48.5, 49.5, -7.5, -6.5)
    with open_forecast(tmp_path / "sea", area=area, time_from_s=start, time_to_s=end) as found:
        assert [source.file.endswith("now.nc") for source in found.sources] == [True]
        text = "\n".join(found.notes)
    assert "april.nc is left out: it runs 2026-04-14T00:00Z" in text
    assert "far.nc is left out: it covers another area" in text
    with pytest.raises(NoCoverage, match="no file of the folder serves the passage"):
        open_forecast(tmp_path / "sea", area=area, time_from_s=end + 1e7, time_to_s=end + 2e7)


def test_a_file_named_beside_a_folder_is_never_left_out(make_forecast, tmp_path):
    (tmp_path / "sea").mkdir()
    make_forecast(name="sea/now.nc")
    with open_forecast(make_forecast(name="x.nc")) as now:
        start, end = now.time_from_s, now.time_to_s
    april = make_forecast(name="sea/april.nc", start="2026-04-14T00:00")
    span = {"area": Area(48.5, 49.5, -7.5, -6.5), "time_from_s": start, "time_to_s": end}
    with open_forecast([tmp_path / "sea", april], **span) as found:
        assert len(found.sources) == 2


@pytest.mark.parametrize("name", ["sea", "sea/*.grib"])
def test_a_folder_without_forecasts_says_so(tmp_path, name):
    (tmp_path / "sea").mkdir()
    with pytest.raises(ForecastError, match=r"no forecast file"):
        open_forecast(tmp_path / name)
