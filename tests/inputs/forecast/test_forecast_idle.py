"""A file that was given and holds no hour of the passage is named, with what it holds."""

from __future__ import annotations

import numpy as np
import pytest
from restatement_case import LEAVE_S

from passage.inputs.forecast import Area, open_forecast

HOUR = 3600.0


def height(lat, lon, hour):
    return 1.5 + 0.0 * hour


@pytest.fixture
def files(make_forecast, maker):
    """Waves of two days in two files of twelve hours and more, wind of the first only."""
    early, late = np.arange(0.0, 12.0, 3.0), np.arange(12.0, 49.0, 3.0)
    return [
        make_forecast(maker.sea(height), hours=early, name="early.nc"),
        make_forecast(maker.sea(height), hours=late, name="late.nc"),
        make_forecast(maker.wind(), hours=early, name="wind.nc"),
    ]


def notes(files, first_h, last_h):
    first, last = LEAVE_S + first_h * HOUR, LEAVE_S + last_h * HOUR
    with open_forecast(
        files, time_from_s=first - HOUR, time_to_s=last + HOUR, passage_s=(first, last)
    ) as sea:
        return [note for note in sea.notes if "not used" in note]


def test_files_before_the_passage_are_named_with_their_hours(files):
    wind, waves = notes(files, 20.0, 30.0)
    assert wind.startswith("wind.nc: its wind (2026-03-14T00:00Z to 2026-03-14T09:00Z, 48.00 to")
    assert waves == (
        "1 file holds no hour of the passage (2026-03-14T20:30Z to 2026-03-15T06:30Z): not used: "
        "early.nc (2026-03-14T00:00Z to 2026-03-14T09:00Z)"
    )


def test_wind_of_another_place_is_named_with_what_it_holds(files, make_forecast, maker):
    far = make_forecast(maker.wind(), lat=np.arange(20.0, 22.1, 0.5), name="far.nc")
    box = Area(48.0, 50.0, -8.0, -6.0)
    with open_forecast([files[1], far], area=box) as sea:
        (found,) = [note for note in sea.notes if "not used" in note]
    assert found.startswith("far.nc: its wind (2026-03-14T00:00Z to")
    assert "20.00 to 22.00 N" in found


def test_a_file_after_the_passage_is_named_too(files):
    (found,) = notes(files[:2], 1.0, 6.0)
    assert found.startswith("1 file holds no hour of the passage (2026-03-14T01:30Z to")
    assert "late.nc (2026-03-14T12:00Z to 2026-03-16T00:00Z)" in found


def test_a_passage_between_the_hours_of_two_files_uses_both(files):
    assert notes(files[:2], 9.0, 11.0) == []
