"""The miss taken apart: nothing where nothing differs, and what is put in comes out again."""

from dataclasses import replace

import numpy as np
import pytest
from planning_scenario import UniformForecast
from review_logs import FORECASTS, csv_of, make_plan, rows_of

import passage
from passage.errors import LogError
from passage.inputs.forecast import open_forecast
from passage.inputs.records.plan_file import read_plan
from passage.inputs.records.record_file import number
from passage.inputs.records.recording import read_recording
from passage.planning.review.causes import causes_of_miss
from passage.planning.review.entry import entry_of
from passage.planning.review.review import review


@pytest.fixture(scope="module")
def planned(tmp_path_factory):
    path = tmp_path_factory.mktemp("plan") / "plan.json"
    data = make_plan(path)
    return read_plan(path), data


@pytest.fixture(scope="module")
def forecast():
    with open_forecast(FORECASTS) as opened:
        yield opened


@pytest.fixture
def look(planned, tmp_path):
    def go(rows):
        path = tmp_path / "log.csv"
        path.write_text(csv_of(rows), encoding="utf-8")
        return review(read_recording(path), planned[0])

    return go


class Higher:
    """A forecast with all waves higher by a factor."""

    def __init__(self, of, factor):
        self.of, self.factor = of, factor

    def sample(self, *place, **options):
        met = self.of.sample(*place, **options)
        return replace(
            met,
            height_m=self.factor * met.height_m,
            total_height_m=self.factor * met.total_height_m,
        )


def test_the_plan_sailed_as_planned_in_its_own_sea_has_no_parts(planned, look, forecast):
    apart = causes_of_miss(look(rows_of(planned[1])), forecast, forecast)
    fuel, roll = apart.parts["fuel"], apart.parts["roll"]
    # Courses between positions and times to the millisecond: litres of thousands.
    assert fuel.first == pytest.approx((0.0, 0.0, 0.0), abs=5.0)
    assert fuel.second == pytest.approx((0.0, 0.0, 0.0), abs=5.0)
    assert roll.first == pytest.approx((0.0, 0.0, 0.0), abs=0.02)
    assert len(apart.notes) == 1
    assert "the sea that the plan used" in apart.notes[0]


def test_a_meter_of_the_model_is_the_models(planned, look, forecast):
    rows = rows_of(planned[1])
    for row in rows:
        row["fuel_l_per_h"] *= 1.1
        row["roll_rms_deg"] *= 0.8
    found = look(rows)
    apart = causes_of_miss(found, forecast)
    fuel, roll = apart.parts["fuel"], apart.parts["roll"]
    assert fuel.first[2] == pytest.approx(0.1 * found.whole.pairs["fuel"].planned, abs=5.0)
    assert roll.first[2] == pytest.approx(-0.2 * found.whole.pairs["roll"].planned, abs=0.02)
    assert fuel.second is None


def test_a_higher_sea_is_the_forecasts(planned, look, forecast):
    """She was sailed as planned, and burnt what the plan's functions give on the higher sea."""
    found = look(rows_of(planned[1]))
    apart = causes_of_miss(found, Higher(forecast, 1.3), forecast)
    for parts in apart.parts.values():
        assert parts.first[0] > 0.0
        assert parts.first[1] == pytest.approx(0.0, abs=5.0)
        # The log is the plan's, so the model takes back what the sea gave.
        assert parts.first[2] == pytest.approx(-parts.first[0], abs=5.0)


def test_the_record_keeps_the_parts_the_sea_and_how_far_the_forecast_was_off(
    planned, look, forecast
):
    rows = rows_of(planned[1])
    for row in rows:
        row["fuel_l_per_h"] *= 1.08
    found = look(rows)
    apart = causes_of_miss(found, Higher(forecast, 1.3))
    kept = entry_of(found, apart, "2026-01-31")
    whole = kept.whole
    for key, unit in (("fuel", "l"), ("roll", "deg")):
        parts = [number(whole, f"{key}_{one}_{unit}") for one in ("forecast", "otherwise", "model")]
        # The record keeps six digits.
        assert parts == pytest.approx(apart.parts[key].first, rel=1e-4, abs=1e-4)
        miss = number(whole, f"{key}_logged_{unit}") - number(whole, f"{key}_planned_{unit}")
        assert sum(parts) == pytest.approx(miss, rel=1e-3, abs=0.02)
    legs = sum(number(row, "fuel_model_l") for row in kept.legs)
    assert legs == pytest.approx(number(whole, "fuel_model_l"), abs=0.1)
    # Waves 1.3 times as high everywhere, wind, period and direction as forecast.
    assert len(kept.ages) >= 1
    for row in kept.ages:
        assert number(row, "height_error") == pytest.approx(np.log(1.3), abs=1e-3)
        assert number(row, "height_error_rms") == pytest.approx(np.log(1.3), abs=1e-3)
        assert number(row, "wind_error_rms_m_s") == pytest.approx(0.0, abs=1e-3)
    assert sum(number(row, "hours") for row in kept.ages) == pytest.approx(
        number(whole, "hours"), abs=0.01
    )
    height = np.average(planned[0].track["significant_height_m"], weights=planned[0].track["hours"])
    assert number(whole, "significant_height_m") == pytest.approx(1.3 * height, rel=0.01)
    assert whole["hull_cleaned"] == "2026-01-31"
    with pytest.raises(LogError, match="after this passage began"):
        entry_of(found, apart, "2026-12-31")


def test_the_plans_own_sea_gives_the_record_no_models_share(planned, look, forecast):
    found = look(rows_of(planned[1]))
    kept = entry_of(found, causes_of_miss(found, forecast))
    assert not kept.has_causes
    assert kept.ages == ()


def test_the_parts_add_up_in_either_order(planned, look, forecast):
    rows = rows_of(planned[1])
    for row in rows:
        row["time"] += 5.4 * 3600.0
        row["fuel_l_per_h"] *= 1.07
        row["fins"] = "centred"
    apart = causes_of_miss(look(rows), Higher(forecast, 1.2), forecast)
    for parts in apart.parts.values():
        assert sum(parts.first) == pytest.approx(parts.miss, rel=1e-6)
        assert sum(parts.second) == pytest.approx(parts.miss, rel=1e-6)
        assert parts.first[2] == pytest.approx(parts.second[2], rel=1e-6)
    # Fins that were centred are her doing, not the model's or the forecast's.
    assert apart.parts["roll"].first[1] > 1.0


def test_doing_otherwise_is_separated_from_the_forecast(planned, look, forecast):
    """Half a knot slower everywhere, priced by the plan's own functions, is her doing."""
    slow = passage.plan(*_files(), departure="2026-03-14T06:00Z", speed_kn=11.5).to_dict()
    found = look(rows_of(slow))
    fuel = causes_of_miss(found, forecast).parts["fuel"]
    assert fuel.first[1] == pytest.approx(fuel.miss, abs=8.0)
    assert fuel.miss < -100.0


def test_positions_alone_give_the_speed(planned, tmp_path, forecast):
    path = tmp_path / "log.csv"
    columns = ["time", "hours", "lat", "lon", "fuel_l_per_h"]
    path.write_text(csv_of(rows_of(planned[1]), columns), encoding="utf-8")
    apart = causes_of_miss(review(read_recording(path), planned[0]), forecast)
    # Half the way to either neighbour: corners are cut a little.
    planned_l = sum(planned[1]["track"]["fuel_main_engines_l"])
    assert apart.parts["fuel"].first == pytest.approx((0.0, 0.0, 0.0), abs=0.01 * planned_l)
    assert any("from its positions" in note for note in apart.notes)


def test_a_sea_that_does_not_reach_says_so(planned, look):
    gone = UniformForecast(until_s=0.0)
    apart = causes_of_miss(look(rows_of(planned[1])), gone)
    assert apart.parts["fuel"].miss is None
    assert any("covered by the sea files" in note for note in apart.notes)
    assert np.all([part is None for part in apart.parts["fuel"].first])


def _files():
    from review_logs import SAMPLES

    return SAMPLES / "western.csv", SAMPLES / "brambling.toml", FORECASTS
