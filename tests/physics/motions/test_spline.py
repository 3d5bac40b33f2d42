"""The spline is that of the library, and exact for what a cubic can be."""

from __future__ import annotations

import numpy as np
from scipy.interpolate import CubicSpline as Library

from passage.physics.motions.spline import CubicSpline


def test_spline_equals_scipys():
    rng = np.random.default_rng(2)
    x = np.cumsum(rng.uniform(0.2, 1.5, 23))
    values = rng.normal(size=(23, 3, 2)) + 1j * rng.normal(size=(23, 3, 2))
    at = rng.uniform(x[0], x[-1], 200)
    np.testing.assert_allclose(CubicSpline(x, values)(at), Library(x, values)(at), atol=1e-10)


def test_spline_reproduces_a_cubic_and_its_points():
    x = np.array([0.0, 0.5, 1.2, 3.0, 3.1])
    cubic = np.polynomial.Polynomial([1.0, -2.0, 0.3, 0.7])
    at = np.linspace(0.0, 3.1, 50)
    np.testing.assert_allclose(CubicSpline(x, cubic(x))(at), cubic(at), atol=1e-11)
    np.testing.assert_allclose(CubicSpline(x, cubic(x))(x), cubic(x), atol=1e-12)
    assert np.isnan(CubicSpline(x, cubic(x))(np.array([np.nan]))).all()
