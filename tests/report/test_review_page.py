"""The review's page: strips of a log of the plan lie on the plan, and the largest miss is found."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from review_logs import csv_of, make_plan, rows_of

from passage.inputs.records.plan_file import read_plan
from passage.inputs.records.recording import read_recording
from passage.planning.review.largest import largest_miss
from passage.planning.review.review import review
from passage.planning.review.strips import strips_of
from passage.report.pages.review import review_page


@pytest.fixture(scope="module")
def planned(tmp_path_factory):
    path = tmp_path_factory.mktemp("plan") / "plan.json"
    data = make_plan(path)
    return read_plan(path), data


@pytest.fixture
def look(planned, tmp_path):
    def go(rows, **more):
        path = tmp_path / "log.csv"
        path.write_text(csv_of(rows, **more), encoding="utf-8")
        return review(read_recording(path), planned[0])

    return go


def test_strips_of_a_log_of_the_plan_lie_on_the_plan(planned, look):
    strips = strips_of(look(rows_of(planned[1])))
    for name in ("fuel", "roll", "speed"):
        was, is_ = getattr(strips, f"{name}_planned"), getattr(strips, f"{name}_logged")
        assert_allclose(is_, was, rtol=1e-5)
    assert strips.ends_nm[-1][1] == pytest.approx(
        np.sum(planned[1]["track"]["distance_nm"]), rel=1e-6
    )
    assert np.all(np.diff(strips.way_nm) > 0.0)


def test_strips_do_not_shift_where_she_left_late_or_gave_no_positions(planned, look):
    rows = rows_of(planned[1])
    columns = [c for c in rows[0] if c not in ("lat", "lon")]
    by_time = strips_of(look(rows, columns=columns))
    assert_allclose(by_time.roll_logged, by_time.roll_planned, rtol=1e-5)
    for row in rows:
        row["time"] += 7.3 * 3600.0
    late = strips_of(look(rows))
    assert_allclose(late.fuel_logged, late.fuel_planned, rtol=1e-5)


def test_the_largest_miss_is_where_it_was_put(planned, look):
    rows = rows_of(planned[1])
    legs = np.array(planned[1]["track"]["leg"])
    for row, leg in zip(rows, legs, strict=True):
        row["roll_rms_deg"] *= 1.6 if leg == 3 else 1.01
        row["speed_through_water_kn"] += 1.0 if leg == 3 else 0.0
    found = look(rows)
    largest = largest_miss(found)
    assert (largest.key, largest.leg) == ("roll", 3)
    assert "1.0 kn faster through the water" in largest.words
    assert largest.words in review_page(found).replace("&#39;", "'")


def test_nothing_off_names_no_miss_and_no_doubt(planned, look):
    found = look(rows_of(planned[1]))
    assert largest_miss(found) is None
    page = review_page(found)
    assert "Bands held" in page
    assert "What to doubt" not in page
    assert page.count("<svg") >= 4  # two charts, wide and narrow


def test_a_log_with_roll_alone_has_its_strip_and_says_what_is_missing(planned, look):
    page = review_page(
        look(rows_of(planned[1]), columns=["time", "hours", "lat", "lon", "roll_rms_deg"])
    )
    assert "Roll rms, degrees" in page
    assert "Fuel of the main engines" not in page
    assert "Not all compared" in page
