"""The forecast's error by its age: what was put in comes out, few passages change little."""

import tomllib

import numpy as np
import pytest
from record_maker import entry, record

from passage.planning.odds.error_model import ErrorModel
from passage.planning.odds.own_numbers import own_model
from passage.planning.record.ages import age_rows, fit_errors
from passage.report.text.layout import Layout
from passage.report.text.record import error_lines


def _sea(height, period, from_deg, wind_kn, wind_from_deg):
    n = np.size(height)
    return {
        "significant_height_m": np.asarray(height, float),
        "peak_period_s": np.full(n, period),
        "wave_from_deg": np.full(n, from_deg),
        "wind_speed_kn": np.full(n, wind_kn),
        "wind_from_deg": np.full(n, wind_from_deg),
    }


def test_differences_fall_on_their_ages():
    age = np.array([2.0, 30.0, 40.0, 300.0])
    hours = np.array([1.0, 2.0, 2.0, 1.0])
    forecast = _sea(np.full(4, 2.0), 8.0, 350.0, 10.0, 0.0)
    was = _sea([2.0, 2.2, 2.2, 3.0], 9.0, 10.0, 10.0, 180.0)
    rows = {row["age_h"]: row for row in age_rows(age, hours, forecast, was)}
    assert set(rows) == {0.0, 24.0, 240.0}
    assert rows[24.0]["hours"] == 4.0
    assert rows[24.0]["height_error"] == pytest.approx(np.log(1.1), rel=1e-6)
    assert rows[240.0]["height_error_rms"] == pytest.approx(np.log(1.5), rel=1e-6)
    assert rows[0.0]["period_error_s"] == pytest.approx(1.0, rel=1e-6)
    assert rows[0.0]["direction_error_deg"] == pytest.approx(20.0, rel=1e-6)
    # 10 kn turned right round is 20 kn of difference.
    assert rows[0.0]["wind_error_rms_m_s"] == pytest.approx(20.0 * 1852.0 / 3600.0, rel=1e-6)


def test_other_waves_on_top_say_nothing_of_the_period():
    one = np.array([1.0])
    short, long = _sea([2.0], 5.0, 0.0, 1.0, 0.0), _sea([2.0], 14.0, 90.0, 1.0, 0.0)
    rows = age_rows(one, one, short, long)
    assert np.isnan(rows[0]["period_error_rms_s"])
    assert np.isnan(rows[0]["direction_error_rms_deg"])


def test_many_passages_give_their_own_error_and_none_the_usual():
    usual = ErrorModel()
    rng = np.random.default_rng(2)
    passages = []
    for at in range(400):
        ages = [
            {"part": f"age {age:g} h", "age_h": age, "hours": 10.0, "height_error": 0.02,
             "height_error_rms": abs(2.0 * s * rng.standard_normal())}
            for age, s in zip(usual.lead_h, usual.height_share, strict=True)
        ]  # fmt: skip
        passages.append(entry(3 * at, ages=ages))
    found = fit_errors(record(passages).passages)
    assert found.model.height_share == pytest.approx(np.array(usual.height_share) * 2.0, rel=0.15)
    assert found.model.period_s == pytest.approx(usual.period_s, rel=1e-6)
    assert found.height_bias == pytest.approx(0.02, rel=1e-6)
    assert found.model.problems() == []
    twice = [
        {"part": f"age {age:g} h", "age_h": age, "hours": 10.0, "height_error_rms": 2.0 * s}
        for age, s in zip(usual.lead_h, usual.height_share, strict=True)
    ]
    few = fit_errors(record([entry(0, ages=twice)]).passages)
    assert few.model.height_share == pytest.approx(np.array(usual.height_share) * 1.15, rel=0.15)
    assert fit_errors(record([entry(0)]).passages) is None


def test_what_is_printed_is_what_the_defaults_take():
    """The block of ``passage record`` pasted into passage.toml gives the odds that model."""
    ages = [{"part": "age 24 h", "age_h": 24.0, "hours": 9.0, "height_error_rms": 0.2,
             "wind_error_rms_m_s": 3.0}]  # fmt: skip
    found = fit_errors(record([entry(0, ages=ages)]).passages)
    block = "\n".join(line for line in error_lines(found, Layout()) if line[0] in "[lhpdw")
    model = own_model(tomllib.loads(block)["forecast_error"])
    for name in ("lead_h", "height_share", "period_s", "direction_deg", "wind_m_s"):
        assert getattr(model, name) == pytest.approx(getattr(found.model, name), rel=5e-3)
