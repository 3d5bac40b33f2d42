"""Refusals of a search name what would help."""

import re
from dataclasses import replace

import numpy as np
import pytest

from passage.errors import NoCoverage, RouteError
from passage.planning.compare.daylight import is_daylight
from passage.planning.suggest.judge import IN_THE_DARK
from passage.planning.suggest.refusals import (
    none_is_open,
    over_budget,
    over_roll_limit,
    too_early,
    unlikely,
)
from passage.units import HOUR_S
from tests.planning.suggest.test_choice import DEPARTURE_S, OPTIONS, SHORT, one

DARK = f"arrives 2026-03-14T05:00Z, {IN_THE_DARK}"


def test_the_hours_advised_bring_daylight():
    found = {"as given": one(100.0, faults=[DARK]), "grid": one(90.0, faults=[DARK, "x"])}
    words = str(none_is_open(found, OPTIONS))
    later, earlier = (float(x) for x in re.findall(r"([0-9.]+) h (?:later|earlier)", words))
    end, arrives = SHORT.waypoints[-1], DEPARTURE_S + 5.0 * HOUR_S
    assert not is_daylight(arrives, end.lat_deg, end.lon_deg)
    for shift in (later, -earlier):
        # With a quarter of an hour and more in hand, but less than an hour.
        room = np.sign(shift) * np.array([0.2, 1.0])
        asked = arrives + (shift - room) * HOUR_S
        assert is_daylight(asked, end.lat_deg, end.lon_deg).tolist() == [True, False]
    assert "--every" in words


@pytest.mark.parametrize(
    ("fault", "option"),
    [
        ("rolls 5.00 deg significant at its worst, over the limit of 4", "--roll-limit"),
        ("takes 50.0 degree hours, over the budget of 40", "--budget"),
        ("arrives 2026-03-14T05:00Z, later than the latest asked for", "--arrive-by"),
        ("arrives 2026-03-14T05:00Z, later than the longest time allowed", "--longest"),
        ("leg 1 (A to B) touches the no-go area C", "--corridor"),
        ("leg 1 (A to B) runs over water shallower than 9 m, or of unknown depth", "--least-depth"),
    ],
)
def test_each_fault_has_its_remedy(fault, option):
    found = {"as given": one(100.0, faults=[fault, "x"]), "grid": one(90.0, faults=[fault])}
    words = str(none_is_open(found, OPTIONS))
    assert fault in words
    assert option in words
    assert "--from" in words


def test_no_coverage_is_no_broken_limit():
    assert isinstance(none_is_open({"as given": one(float("nan"), faults=["x"])}, OPTIONS),
                      NoCoverage)  # fmt: skip


def test_limits_and_budgets_name_what_was_asked_and_what_helps():
    asked = replace(OPTIONS, budget=40.0, roll_limit_deg=3.0, arrive_by_s=DEPARTURE_S)
    for made, words in (
        (over_budget(55.4, asked), ("40 degree hours", "takes 55", "--budget", "--speed")),
        (over_roll_limit(asked), ("3 deg", "--roll-limit", "--every")),
        (too_early(DEPARTURE_S + 3600.0, asked), ("2026-03-14T01:00Z", "--arrive-by", "--speed")),
        (unlikely(90.0, 1, (40.0, "grid")), ("of the pair of", "in 40 %", "--odds")),
        (unlikely(90.0, 3, (40.0, "grid")), ("3 best pairs",)),
        (unlikely(90.0, 3, None), ("not known", "--draws")),
    ):
        assert isinstance(made, RouteError)
        assert all(word in str(made) for word in words)
