"""Cubic splines through tables of complex numbers, without loading scipy."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


class CubicSpline:
    """Cubic spline over the first axis, with "not-a-knot" ends.

    Parameters
    ----------
    x : ndarray, shape (n,)
        Ascending, at least four points.
    values : ndarray, shape (n, ...)
        Real or complex.

    Notes
    -----
    Continuous second derivatives, and continuous third derivatives next to the ends: de Boor,
    "A Practical Guide to Splines" (1978), chapter IV. The curve is that of scipy, whose module
    takes half a second to load.
    """

    def __init__(self, x: FloatArray, values: NDArray[Any]) -> None:
        self._x = np.asarray(x, float)
        y = np.asarray(values)
        self._shape = y.shape[1:]
        self._complex = np.iscomplexobj(y)
        # The weights are real, and products with real columns take a quarter of the time.
        flat = np.ascontiguousarray(
            y.reshape(self._x.size, -1), complex if self._complex else float
        )
        self._columns = flat.view(float)
        self._slopes = _slope_matrix(self._x)

    def __call__(self, x: FloatArray) -> NDArray[Any]:
        """Values at points ``(m,)`` within the table, shape (m, ...)."""
        at = np.asarray(x, float)
        low = np.clip(np.searchsorted(self._x, at, "right") - 1, 0, self._x.size - 2)
        step = self._x[low + 1] - self._x[low]
        u = (at - self._x[low]) / step
        row = np.arange(at.size)
        slope = np.zeros((at.size, self._x.size))
        slope[row, low] = step * u * (1.0 - u) ** 2
        slope[row, low + 1] = -step * u**2 * (1.0 - u)
        weight = slope @ self._slopes
        weight[row, low] += (1.0 + 2.0 * u) * (1.0 - u) ** 2
        weight[row, low + 1] += u**2 * (3.0 - 2.0 * u)
        found = weight @ self._columns
        if self._complex:
            found = found.view(complex)
        return found.reshape(at.size, *self._shape)


def _slope_matrix(x: FloatArray) -> FloatArray:
    """Matrix from values to slopes at the points of the table, (n, n)."""
    n = x.size
    h = np.diff(x)
    left, right = np.zeros((n, n)), np.zeros((n, n))
    # Slopes between neighbours, as a matrix on the values.
    rise = np.zeros((n - 1, n))
    rows = np.arange(n - 1)
    rise[rows, rows], rise[rows, rows + 1] = -1.0 / h, 1.0 / h
    for i in range(1, n - 1):
        left[i, i - 1 : i + 2] = h[i], 2.0 * (h[i - 1] + h[i]), h[i - 1]
        right[i] = 3.0 * (h[i] * rise[i - 1] + h[i - 1] * rise[i])
    for end, near, far, inner in ((0, 0, 1, 1), (n - 1, -1, -2, n - 2)):
        wide = h[near] + h[far]
        left[end, end], left[end, inner] = h[far], wide
        right[end] = (
            (h[near] + 2.0 * wide) * h[far] * rise[near] + h[near] ** 2 * rise[far]
        ) / wide
    return np.asarray(np.linalg.solve(left, right))
