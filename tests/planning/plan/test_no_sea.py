"""A passage of which no point has a sea is refused, with what to do."""

from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from passage.errors import NoCoverage
from passage.planning.plan.no_sea import refuse_no_sea


def refused(time_from_s: float, time_to_s: float) -> str:
    forecast = SimpleNamespace(
        sources=[SimpleNamespace(file="one.nc")],
        groups=[],
        time_from_s=time_from_s,
        time_to_s=time_to_s,
    )
    way = SimpleNamespace(
        no_way=np.zeros(4, bool), conditions=SimpleNamespace(coverage=np.array([1, 1, 2, 2]))
    )
    with pytest.raises(NoCoverage) as caught:
        refuse_no_sea(forecast, way, SimpleNamespace(excitation=np.full((4, 3), np.nan)))
    return str(caught.value)


def test_a_single_hour_within_the_passage_is_named_with_its_remedy():
    text = refused(1773482400.0, 1773482400.0)
    assert "one.nc: holds 2026-03-14T10:00Z only" in text
    assert "--single-time" in text
    assert "50 %" in text


def test_other_gaps_are_left_to_passage_check():
    assert "passage check" in refused(1773482400.0, 1773504000.0)


def test_a_gap_between_files_is_reported_with_their_hours_and_the_rule(make_forecast, tmp_path):
    import passage

    early = make_forecast(hours=[0.0, 3.0, 6.0], name="a.nc")
    late = make_forecast(hours=[0.0, 3.0], start="2026-03-26T00:00", name="b.nc")
    route = tmp_path / "way.csv"
    route.write_text("name,lat,lon\nA,48.3,-7.7\nB,49.0,-7.0\n")
    vessel = Path(__file__).parents[3] / "sample_forecasts" / "brambling.toml"
    with pytest.raises(NoCoverage) as caught:
        passage.plan(route, vessel, [early, late], departure="2026-03-16T06:00Z", speed_kn=12)
    text = str(caught.value)
    assert "it runs 2026-03-16T06:00Z to 2026-03-16T10:" in text
    assert "a.nc 2026-03-14T00:00Z to 2026-03-14T06:00Z" in text
    assert "b.nc 2026-03-26T00:00Z to 2026-03-26T03:00Z" in text
    assert "more than 12 hours" in text
    assert "leave within the hours of one file" in text


def test_a_file_of_one_hour_is_reported_with_the_times_of_the_passage(make_forecast, tmp_path):
    import passage

    one = make_forecast(hours=[12.0], name="one.nc")
    route = tmp_path / "way.csv"
    route.write_text("name,lat,lon\nA,48.3,-7.7\nB,49.0,-7.0\n")
    vessel = Path(__file__).parents[3] / "sample_forecasts" / "brambling.toml"
    with pytest.raises(NoCoverage) as caught:
        passage.plan(route, vessel, one, departure="2026-03-14T18:00Z", speed_kn=12)
    # 50.2 miles at 12 knots, without the margin that is read.
    assert "the passage runs 2026-03-14T18:00Z to 2026-03-14T22:" in str(caught.value)
