"""Bands of a plan from the record of past passages."""

from types import SimpleNamespace

import numpy as np
import planning_scenario
import pytest
from record_maker import entry

from passage.inputs.records.record_file import add_to_record
from passage.planning.plan.recorded import bands_from_record
from passage.planning.record.shares import band_of, numbers_of


def _evaluated():
    """Two points: 100 l/h of main engines for 3 h with 5 l of the hotel load, and a stay."""
    values = {
        "fuel_l": np.array([305.0, 2.0]),
        "fuel_low_l": np.array([245.0, 2.0]),
        "fuel_high_l": np.array([365.0, 2.0]),
        "roll_active_rms_deg": np.array([2.0, np.nan]),
        "roll_active_low_rms_deg": np.array([1.0, np.nan]),
        "roll_active_high_rms_deg": np.array([3.0, np.nan]),
    }
    split = SimpleNamespace(main_engines=np.array([100.0, 0.0]))
    return SimpleNamespace(values=values, split=split), SimpleNamespace(hours=np.array([3.0, 1.0]))


def _record(path, vessel, count, more=None):
    rng = np.random.default_rng(1)
    numbers = tuple(numbers_of(vessel, key) for key in ("fuel", "roll"))
    fuel, roll = (np.exp(0.03 + s * rng.standard_normal(count)) for s in (0.03, 0.1))
    for at in range(count):
        of = {"numbers": numbers, "vessel": vessel.name, **(more or {})}
        add_to_record(path, entry(3 * at, fuel=fuel[at], roll=roll[at], **of))
    return np.log(fuel), np.log(roll)


@pytest.fixture
def vessel():
    return planning_scenario.vessel()


def test_the_bands_are_the_records_share_on_the_main_engines_and_the_roll(tmp_path, vessel):
    path = tmp_path / "mine.csv"
    fuel, roll = (band_of(x) for x in _record(path, vessel, 14))
    evaluation, way = _evaluated()
    notes, found = bands_from_record(path, vessel, way, evaluation)
    values = evaluation.values
    # The record keeps six digits.
    assert values["fuel_low_l"] == pytest.approx([5.0 + 300.0 * fuel.low, 2.0], rel=1e-4)
    assert values["fuel_high_l"] == pytest.approx([5.0 + 300.0 * fuel.high, 2.0], rel=1e-4)
    assert values["roll_active_low_rms_deg"][0] == pytest.approx(2.0 * roll.low, rel=1e-4)
    assert np.isnan(values["roll_active_high_rms_deg"][1])
    assert values["fuel_l"] == pytest.approx([305.0, 2.0], rel=1e-6)
    assert "On her last 14 passages fuel came out" in notes[0]
    assert found["roll"]["passages"] == 14


def test_few_passages_draw_the_formulas_band_part_of_the_way(tmp_path, vessel):
    path = tmp_path / "mine.csv"
    share, _ = _record(path, vessel, 4)
    evaluation, way = _evaluated()
    notes, _ = bands_from_record(path, vessel, way, evaluation)
    own = 5.0 + 300.0 * band_of(share).low
    assert evaluation.values["fuel_low_l"][0] == pytest.approx(0.5 * (245.0 + own), rel=1e-4)
    assert "4 parts of 8" in notes[0]


@pytest.mark.parametrize(
    ("count", "more", "words"),
    [
        (2, {}, "holds 2 passages of"),
        (9, {"vessel": "Another"}, "holds 0 passages of"),
        (9, {"numbers": ("old", "old")}, "and 9 computed with other numbers"),
    ],
)
def test_too_few_leave_the_formulas_band_and_say_so(tmp_path, vessel, count, more, words):
    path = tmp_path / "mine.csv"
    _record(path, vessel, count, more)
    evaluation, way = _evaluated()
    notes, _ = bands_from_record(path, vessel, way, evaluation)
    assert evaluation.values["fuel_low_l"] == pytest.approx([245.0, 2.0], rel=1e-6)
    assert words in notes[0]
    assert "The band of fuel is the formula's" in notes[0]
