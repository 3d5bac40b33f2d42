"""Curves through points, against the general-purpose library's."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.interpolate import CubicSpline, PchipInterpolator

from passage.physics.curves import monotone_curve, smooth_curve

STEPS = st.lists(st.floats(0.05, 3.0), min_size=4, max_size=30)
VALUES = st.floats(-5.0, 5.0)


def points(steps, data):
    x = np.cumsum(steps)
    values = data.draw(st.lists(VALUES, min_size=x.size, max_size=x.size))
    return x, np.array(values), np.linspace(x[0] - 0.2, x[-1] + 0.2, 301)


@given(STEPS, st.data())
def test_smooth_curve_is_the_spline(steps, data) -> None:
    x, y, at = points(steps, data)
    truth = CubicSpline(x, y)
    size = np.abs(truth(at)).max() + 1.0
    # Rounding of two ways to solve the same bands.
    assert_allclose(smooth_curve(x, y)(at), truth(at), rtol=0, atol=1e-10 * size)
    assert_allclose(
        smooth_curve(x, y).slope_at(x), truth.derivative()(x), rtol=0, atol=1e-9 * size / min(steps)
    )


@given(STEPS, st.data())
def test_monotone_curve_is_the_monotone_interpolant(steps, data) -> None:
    x, y, at = points(steps, data)
    # Slopes that underflow are treated apart by the library; they mean nothing here.
    y = np.round(y, 6)
    truth = PchipInterpolator(x, y)
    size = np.abs(truth(at)).max() + 1.0
    assert_allclose(monotone_curve(x, y)(at), truth(at), rtol=0, atol=1e-11 * size)
    inside = np.linspace(x[0], x[-1], 301)
    made = monotone_curve(x, y)(inside)
    assert made.min() >= y.min() - 1e-9
    assert made.max() <= y.max() + 1e-9


@pytest.mark.parametrize("kind", [smooth_curve, monotone_curve])
def test_a_straight_line_stays_straight_and_nan_stays_nan(kind) -> None:
    x = np.array([0.0, 1.0, 2.5, 4.0, 4.5])
    made = kind(x, 3.0 - 2.0 * x)
    at = np.array([[-1.0, 0.3], [np.nan, 6.0]])
    assert_allclose(made(at), 3.0 - 2.0 * at, rtol=1e-13)
    assert_allclose(made.slope_at(x), -2.0, rtol=1e-13)


def test_two_points_make_a_line() -> None:
    made = monotone_curve([1.0, 3.0], [2.0, 6.0])
    assert_allclose(made([1.0, 2.0, 3.0, 4.0]), [2.0, 4.0, 6.0, 8.0], rtol=1e-7)
