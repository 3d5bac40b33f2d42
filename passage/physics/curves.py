"""Cubic curves through points, for tables that are computed once and read often.

A smooth and a monotone kind, as scipy has them. They are written here because loading
scipy for a single spline takes longer than planning a passage.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Curve:
    """A cubic on every interval of ``x``, from the values and slopes at its ends.

    Beyond the first and last point the first and last cubic continue; NaN in gives NaN out.

    Parameters
    ----------
    x, y, slope : ndarray, shape (n,)
        Points (ascending, two or more), values and slopes; x and y in any unit, slope in
        that of y over that of x.
    """

    x: FloatArray
    y: FloatArray
    slope: FloatArray
    _square: FloatArray = field(init=False, repr=False)
    _cubic: FloatArray = field(init=False, repr=False)

    def _place(self, x: ArrayLike) -> tuple[NDArray[np.intp], FloatArray]:
        at = np.asarray(x, float)
        index = np.clip(np.searchsorted(self.x, at, "right") - 1, 0, self.x.size - 2)
        return index, at - self.x[index]

    def __post_init__(self) -> None:
        """Compute the coefficients of the cubics."""
        step = np.diff(self.x)
        rise = np.diff(self.y) / step
        left, right = self.slope[:-1], self.slope[1:]
        cubic = (left + right - 2.0 * rise) / step
        object.__setattr__(self, "_square", (rise - left) / step - cubic)
        object.__setattr__(self, "_cubic", cubic / step)

    def __call__(self, x: ArrayLike) -> FloatArray:
        """Values at ``x``, in the unit of ``y``; its shape is kept."""
        i, t = self._place(x)
        square, cubic = self._square[i], self._cubic[i]
        return np.asarray(self.y[i] + t * (self.slope[i] + t * (square + t * cubic)))

    def slope_at(self, x: ArrayLike) -> FloatArray:
        """First derivative at ``x``, in the unit of ``y`` over that of ``x``."""
        i, t = self._place(x)
        square, cubic = self._square[i], self._cubic[i]
        return np.asarray(self.slope[i] + t * (2.0 * square + 3.0 * t * cubic))


def smooth_curve(x: ArrayLike, y: ArrayLike) -> Curve:
    """Cubic spline with two continuous derivatives and "not-a-knot" ends.

    Parameters
    ----------
    x, y : array_like, shape (n,)
        Points, ascending, four or more. [any unit]

    References
    ----------
    de Boor, *A Practical Guide to Splines* (1978), chapter IV.
    """
    x, y = np.asarray(x, float), np.asarray(y, float)
    step = np.diff(x)
    rise = np.diff(y) / step
    n = x.size
    below, main, above, right = np.zeros(n), np.empty(n), np.zeros(n), np.empty(n)
    below[1:-1], above[1:-1] = step[1:], step[:-1]
    main[1:-1] = 2.0 * (step[:-1] + step[1:])
    right[1:-1] = 3.0 * (step[1:] * rise[:-1] + step[:-1] * rise[1:])
    # Not a knot: the third derivative is continuous at the second point from either end.
    for end, one, two in ((0, 0, 1), (-1, -1, -2)):
        wide = step[one] + step[two]
        main[end] = step[two]
        right[end] = (
            (step[one] + 2.0 * wide) * step[two] * rise[one] + step[one] ** 2 * rise[two]
        ) / wide
    above[0], below[-1] = step[0] + step[1], step[-1] + step[-2]
    # Tridiagonal system: elimination, then back substitution.
    for i in range(1, n):
        factor = below[i] / main[i - 1]
        main[i] -= factor * above[i - 1]
        right[i] -= factor * right[i - 1]
    slope = np.empty(n)
    slope[-1] = right[-1] / main[-1]
    for i in range(n - 2, -1, -1):
        slope[i] = (right[i] - above[i] * slope[i + 1]) / main[i]
    return Curve(x, y, slope)


def monotone_curve(x: ArrayLike, y: ArrayLike) -> Curve:
    """Cubic curve that rises and falls only where its points do.

    Parameters
    ----------
    x, y : array_like, shape (n,)
        Points, ascending, two or more. [any unit]

    References
    ----------
    Fritsch and Butland, "A method for constructing local monotone piecewise cubic
    interpolants", SIAM J. Sci. Stat. Comput. 5 (1984) 300-304: the harmonic mean of the
    slopes on both sides, weighted by their lengths.
    """
    x, y = np.asarray(x, float), np.asarray(y, float)
    step = np.diff(x)
    rise = np.diff(y) / step
    if x.size == 2:
        return Curve(x, y, np.repeat(rise, 2))
    slope = np.zeros(x.size)
    before, after = step[:-1], step[1:]
    one, two = 2.0 * after + before, after + 2.0 * before
    turns = rise[:-1] * rise[1:] <= 0.0
    flat = np.where(turns, 1.0, rise[:-1]), np.where(turns, 1.0, rise[1:])
    slope[1:-1] = np.where(turns, 0.0, (one + two) / (one / flat[0] + two / flat[1]))
    slope[0] = _end_slope(step[0], step[1], rise[0], rise[1])
    slope[-1] = _end_slope(step[-1], step[-2], rise[-1], rise[-2])
    return Curve(x, y, slope)


def _end_slope(near: float, next_: float, rise: float, next_rise: float) -> float:
    """Slope at an end from a parabola through three points, limited against overshoot."""
    slope = ((2.0 * near + next_) * rise - near * next_rise) / (near + next_)
    if np.sign(slope) != np.sign(rise):
        return 0.0
    if np.sign(rise) != np.sign(next_rise) and abs(slope) > 3.0 * abs(rise):
        return 3.0 * rise
    return float(slope)
