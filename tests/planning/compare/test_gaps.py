"""Wind that ends on the way is reported by a comparison with the share that a plan gives."""

import re

import numpy as np
import pytest

from passage.errors import NoCoverage
from passage.inputs.forecast import open_forecast
from passage.planning.compare.cell import CellTask, make_cells
from passage.planning.compare.gaps import gap_notes, lacks_flow
from passage.planning.plan.plan import plan
from passage.planning.voyage.prepare import PlanOptions
from tests import forecast_maker as maker
from tests.restatement_case import HOURS, LEAVE_S, SAMPLES, between, passage


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    """Two legs in nine hours with wind for the first six, and without any."""
    folder = tmp_path_factory.mktemp("wind")
    waves = maker.write_forecast(folder / "waves.nc", maker.sea(), hours=HOURS)
    wind = maker.write_forecast(folder / "wind.nc", maker.wind(), hours=HOURS[:3])
    ready = passage(between(2))
    task = CellTask(0, ready.route, ready.track, 12.0, "12 kn")
    made = {}
    for name, files in (("short", [waves, wind]), ("none", [waves])):
        with open_forecast(files) as forecast:
            cell = make_cells(ready.yacht, task, forecast, np.array([LEAVE_S]), ("active",))[0]
            one = plan(ready, forecast, PlanOptions(departure_s=LEAVE_S))
        made[name] = cell, one, ready.route
    return made


def test_the_share_is_that_of_the_plan(found):
    cell, one, route = found["short"]
    caution = next(c for c in one.cautions if c.code == "wind_gap" and c.severity == "caution")
    assert caution.legs == (2,)
    share = int(re.search(r"(\d+) % of leg", caution.text)[1])
    assert round(100.0 * cell.wind_gap[0, 1]) == share
    assert cell.wind_gap[0, 0] < 0.2 < cell.wind_gap[0, 1] < 1.0
    assert lacks_flow(cell).tolist() == [True]
    (note,) = gap_notes([route], [cell])
    assert (
        f"no wind is known on more than 20 % of a leg in 1 of 1 combinations, on up to {share} %"
        in note
    )


def test_no_wind_at_all_is_reported_once(found):
    cell, one, route = found["none"]
    assert any(c.code == "wind_none" for c in one.cautions)
    assert lacks_flow(cell).all()
    assert gap_notes([route], [cell]) == [
        "No wind is known on 100 % of the passage: no file gives it. Wind resistance and wind "
        "heel are left out of every number. Give a file of the wind at 10 m for those hours and "
        "that area."
    ]


def test_waves_that_their_file_calls_invalid_are_named_where_no_leg_has_a_sea(tmp_path):
    import passage as api

    bad = maker.sea()
    hs = bad["hs"]
    bad["hs"] = maker.Made(hs.values, hs.units, hs.standard_name, {"valid_max": np.float32(0.1)})
    waves = maker.write_forecast(tmp_path / "waves.nc", bad, hours=HOURS)
    way = tmp_path / "way.csv"
    way.write_text("name,lat,lon\nA,48.3,-7.7\nB,49.0,-7.0\n")
    with pytest.raises(NoCoverage, match="hs: 100 % of the values lie outside the range"):
        api.compare(way, SAMPLES / "brambling.toml", waves, departures=["2026-03-14T01:00Z"],
                    speeds_kn=[12], draws=0)  # fmt: skip
