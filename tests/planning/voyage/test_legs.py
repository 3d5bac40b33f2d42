"""Points to legs: time-weighted means, sums, worst values, coverage."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from passage.planning.voyage import legs
from passage.variables import COVERAGE

LEG = np.array([0, 0, 0, 1, 1, 2])
STARTS = np.array([0, 3, 5])


def test_leg_starts():
    assert_array_equal(legs.leg_starts(LEG), STARTS)


def test_mean_is_weighted_by_time_and_carries_leading_axes():
    values = np.array([[1.0, 2.0, 3.0, 4.0, 6.0, 5.0]] * 2)
    hours = np.array([1.0, 1.0, 2.0, 3.0, 1.0, 0.5])
    expected = [(1 + 2 + 6) / 4.0, (12 + 6) / 4.0, 5.0]
    assert_allclose(legs.leg_mean(values, hours, STARTS), [expected] * 2, rtol=1e-12)


def test_unknown_point_makes_mean_and_sum_unknown_but_not_the_worst():
    values = np.array([1.0, np.nan, 3.0, 4.0, 6.0, np.nan])
    assert_array_equal(np.isnan(legs.leg_mean(values, np.ones(6), STARTS)), [True, False, True])
    assert_array_equal(np.isnan(legs.leg_sum(values, STARTS)), [True, False, True])
    assert_array_equal(legs.leg_worst(values, STARTS), [3.0, 6.0, np.nan])


def test_direction_crosses_north():
    from_rad = np.radians([350.0, 10.0, 0.0, 90.0, 90.0, 180.0])
    mean = np.degrees(legs.leg_mean_direction(from_rad, np.ones(6), STARTS))
    assert_allclose((mean + 180.0) % 360.0 - 180.0, [0.0, 90.0, -180.0], atol=1e-9)


@pytest.mark.parametrize(
    ("codes", "expected"),
    [
        (["ok", "ok", "ok"], "ok"),
        (["ok", "masked", "ok"], "masked"),
        (["masked", "after_forecast", "after_forecast"], "after_forecast"),
        (["ok", "nearest_sea_cell", "ok"], "nearest_sea_cell"),
        (["nearest_sea_cell", "nearest_sea_cell", "masked"], "masked"),
    ],
)
def test_coverage_of_a_leg_is_its_commonest_gap(codes, expected):
    array = np.array([COVERAGE.index(code) for code in codes], dtype=np.int8)
    assert COVERAGE[legs.leg_coverage(array, np.array([0]))[0]] == expected
