"""An arrival that is late is warned of, one that is early is cautioned, by how much."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from passage.planning.plan.cautions_time import arrival_cautions
from passage.planning.voyage.prepare import PlanOptions, prepare
from tests.planning_scenario import route, vessel

DEPARTURE_S = 1773468000.0  # 2026-03-14T06:00Z


@pytest.mark.parametrize(
    ("asked_h", "code", "severity", "words"),
    [
        (None, None, None, ""),
        (10.0, None, None, ""),
        (8.0, "arrives_late", "warning", "2.0 h after the time asked, 2026-03-14T14:00Z"),
        (13.0, "arrives_early", "caution", "3.0 h before the time asked, 2026-03-14T19:00Z"),
    ],
)
def test_arrival_against_the_time_asked(asked_h, code, severity, words):
    asked_s = None if asked_h is None else DEPARTURE_S + asked_h * 3600.0
    options = SimpleNamespace(arrive_s=asked_s, departure_s=DEPARTURE_S)
    way = SimpleNamespace(hours=np.array([4.0, 6.0]), speed_through_water_m_s=np.array([3.0, 3.0]))
    found = arrival_cautions(options, way)
    assert [(one.code, one.severity) for one in found] == (
        [] if code is None else [(code, severity)]
    )
    assert all("2026-03-14T16:00Z" in one.text and words in one.text for one in found)


def test_without_all_hours_nothing_is_said_of_the_arrival():
    options = SimpleNamespace(arrive_s=DEPARTURE_S + 1.0, departure_s=DEPARTURE_S)
    way = SimpleNamespace(
        hours=np.array([4.0, np.nan]), speed_through_water_m_s=np.array([3.0, np.nan])
    )
    assert arrival_cautions(options, way) == ()


def test_a_speed_that_is_looked_for_is_not_remarked_on_as_missing():
    way = route((45.0, -8.0), (46.0, -8.0))
    asked = PlanOptions(departure_s=DEPARTURE_S)
    assert "No speed is given" in prepare(vessel(), way, asked).speed_note
    looked_for = replace(asked, arrive_s=DEPARTURE_S + 12 * 3600.0)
    assert prepare(vessel(), way, looked_for).speed_note is None
