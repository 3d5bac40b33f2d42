"""Values that do not fit their neighbours: lone cells, and fields without any order.

A flipped bit leaves one cell that differs from all around it, in place and time; a block
moved or shuffled leaves values that are each believable but together not a sea. Like
:mod:`~passage.inputs.forecast.damage` this only finds and reports.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Singles = npt.NDArray[np.float32]

#: Below this a value was not computed: it is a number with flipped bits in its exponent.
_NOTHING = 1e-30
#: Where more than this share of values is so small, the model itself wrote them.
_SHARE = 0.02
#: A lone cell is this many times further from all its neighbours than these lie apart,
#: and by this share of what is usual, or of a full turn.
_LONE, _LONE_SHARE, _LONE_TURN = 8.0, 0.5, 0.15
#: Where a larger share of cells is alone, that is how the sea or the model is.
_FEW = 0.002
#: Fewest cells in each direction from which order can be seen, and the step between
#: neighbours, over the spread of the whole field, from which there is none.
_SIDE, _NO_ORDER = 5, 0.9
#: A field that hardly varies has no order either: spread over what is usual, at least.
_SPREAD = 0.05
#: Windows with more values are of a hindcast: checking would cost more than reading.
MOST = 1_000_000
#: A sea that does not come and go between one hour and the next. [m]
_REAL_M = 0.5
#: Order is looked for in a part of so many cells a side.
_PART = 30


def tiny_values(values: Singles) -> npt.NDArray[np.int64]:
    """Flat indices of values that are not 0 and too small to be real."""
    flat = np.abs(values.reshape(-1))
    found = np.flatnonzero((flat < _NOTHING) & (flat > 0.0))
    return found if found.size <= max(4.0, _SHARE * flat.size) else found[:0]


def lone_cells(values: Singles, *, circle: float | None = None) -> npt.NDArray[np.int64]:
    """Flat indices of cells far from all neighbours in place and time, which agree.

    Parameters
    ----------
    values : ndarray, (time, lat, lon)
        NaN where there is none. A cell needs four neighbours, one of them in time.
    circle : float or None
        A full turn, for directions.
    """
    if min(values.shape) < 2 or values.size > MOST:
        return np.zeros(0, np.int64)
    low = np.full(values.shape, np.inf, np.float32)
    high = np.full(values.shape, -np.inf, np.float32)
    known = np.zeros(values.shape, np.int8)
    in_time = np.zeros(values.shape, bool)
    for axis in range(3):
        here, there = _pair(axis)
        away = _turned(values[there] - values[here], circle)
        fine = np.isfinite(away)
        for side, step in ((here, away), (there, -away)):
            low[side] = np.fmin(low[side], step)
            high[side] = np.fmax(high[side], step)
            known[side] += fine
            if axis == 0:
                in_time[side] |= fine
    usual = float(np.nanmedian(np.abs(values))) if np.isfinite(values).any() else 0.0
    least = _LONE_TURN * circle if circle else _LONE_SHARE * usual
    bar = _LONE * (high - low) + least
    alone = (known >= 4) & in_time & ((low > bar) | (-high > bar))
    found = np.flatnonzero(alone)
    return found if found.size <= max(3.0, _FEW * values.size) else found[:0]


def sudden_calms(values: Singles) -> npt.NDArray[np.int64]:
    """Flat indices of heights of exactly 0 between hours of a real sea in the same cell.

    A sea dies down over hours and never to nothing; land, ice and calm have no sea before
    or after.

    Parameters
    ----------
    values : ndarray, (time, lat, lon)
        Height of the whole sea [m]; NaN where there is none.
    """
    if values.shape[0] < 3 or values.size > MOST:
        return np.zeros(0, np.int64)
    zero = values == 0.0
    if not zero.any():
        return np.zeros(0, np.int64)
    found = zero.copy()
    for hours in (range(values.shape[0]), range(values.shape[0] - 1, -1, -1)):
        last = np.zeros(values.shape[1:], values.dtype)
        for hour in hours:
            found[hour] &= last >= _REAL_M
            last = np.where(zero[hour] | np.isnan(values[hour]), last, values[hour])
    return np.flatnonzero(found)


def _pair(axis: int) -> tuple[tuple[slice, ...], tuple[slice, ...]]:
    """Slices of the cells that have a next neighbour along an axis, and of these neighbours."""
    near, far = [slice(None)] * 3, [slice(None)] * 3
    near[axis], far[axis] = slice(None, -1), slice(1, None)
    return tuple(near), tuple(far)


def _turned(away: Singles, circle: float | None) -> Singles:
    """Differences, of directions the short way round."""
    return away - np.float32(circle) * np.rint(away / np.float32(circle)) if circle else away


def without_order(values: Singles, *, circle: float | None = None) -> bool:
    """Whether neighbours are no more alike than any two values of the window.

    Parameters
    ----------
    values : ndarray, (time, lat, lon)
    circle : float or None
        A full turn, for directions.
    """
    if min(values.shape) < _SIDE:
        return False
    values = values[:_PART, :_PART, :_PART]
    known = np.isfinite(values)
    if np.count_nonzero(known) < _SIDE**3:
        return False
    middle = _mean_turn(values[known], circle) if circle else float(np.median(values[known]))
    spread = _typical(values[known] - np.float32(middle), circle)
    usual = circle if circle else float(np.median(np.abs(values[known])))
    if spread <= _SPREAD * usual:
        return False
    for axis in range(3):
        here, there = _pair(axis)
        if not _typical((values[there] - values[here]).reshape(-1), circle) > _NO_ORDER * spread:
            return False
    return True


def _mean_turn(angles: Singles, circle: float) -> float:
    unit = np.exp(2j * np.pi * angles / circle)
    return float(np.angle(unit.mean()) * circle / (2.0 * np.pi))


def _typical(away: Singles, circle: float | None) -> float:
    away = np.abs(_turned(away[np.isfinite(away)], circle))
    return float(np.median(away)) if away.size else np.nan
