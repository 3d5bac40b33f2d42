"""Leg values from points along the track: means weighted by time, sums and worst values.

The last axis of every array is that of the points along the track; axes before it (departure,
speed, member) are kept. A mean or a sum is given only where all points of the leg are known,
because one over part of the leg would be misleading. "worst" values are the largest over the
known points.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from passage.variables import BY_NAME, COVERAGE, FILLED

Array = npt.NDArray[np.float64]


def leg_starts(leg_index: npt.NDArray[np.int_]) -> npt.NDArray[np.int_]:
    """Index of the first point of each leg; ``leg_index`` must not decrease."""
    leg_index = np.asarray(leg_index)
    return np.flatnonzero(np.r_[True, leg_index[1:] != leg_index[:-1]])


def leg_sum(values: npt.ArrayLike, starts: npt.NDArray[np.int_]) -> Array:
    """Sum of the points of each leg; NaN where any point is NaN."""
    return np.add.reduceat(np.asarray(values, dtype=float), starts, axis=-1)


def leg_mean(values: npt.ArrayLike, hours: npt.ArrayLike, starts: npt.NDArray[np.int_]) -> Array:
    """Mean weighted by time; NaN where any point is NaN.

    NaN also where the total of ``hours`` is zero, which a track does not have.
    """
    values, hours = np.asarray(values, dtype=float), np.asarray(hours, dtype=float)
    weight = leg_sum(hours, starts)
    total = leg_sum(values * hours, starts)
    return np.divide(total, weight, out=np.full(total.shape, np.nan), where=weight > 0)


def leg_worst(values: npt.ArrayLike, starts: npt.NDArray[np.int_]) -> Array:
    """Largest known value of each leg; NaN where none is known."""
    return np.fmax.reduceat(np.asarray(values, dtype=float), starts, axis=-1)


def leg_mean_direction(
    from_rad: npt.ArrayLike,
    weights: npt.ArrayLike,
    starts: npt.NDArray[np.int_],
) -> Array:
    """Direction of the weighted vector sum [rad in 0, 2 pi); NaN where any point is NaN.

    ``weights`` are usually energy times hours, so that high seas count most. NaN also where
    the sum is zero.
    """
    from_rad = np.asarray(from_rad, dtype=float)
    east = leg_sum(np.sin(from_rad) * weights, starts)
    north = leg_sum(np.cos(from_rad) * weights, starts)
    calm = (east == 0.0) & (north == 0.0)
    return np.where(calm, np.nan, np.arctan2(east, north) % (2.0 * np.pi))


def leg_coverage(codes: npt.NDArray[np.int8], starts: npt.NDArray[np.int_]) -> npt.NDArray[np.int8]:
    """Commonest reason for a gap on each leg, or 0 ("ok") where there is none.

    Points filled from the nearest sea cell, or taken as sheltered, are a reason too, but any
    real gap on the leg takes precedence.
    """
    codes = np.asarray(codes)
    counts = np.stack([leg_sum(codes == code, starts) for code in range(len(COVERAGE))], axis=-1)
    counts[..., 0] = 0.5  # "ok" wins only where nothing else was counted
    for word, weight in zip(FILLED, (0.6, 0.55), strict=True):
        filled = COVERAGE.index(word)
        counts[..., filled] = np.where(counts[..., filled] > 0, weight, 0.0)
    return np.argmax(counts, axis=-1).astype(np.int8)


def legs_from_points(
    points: dict[str, Array], hours: npt.ArrayLike, leg_index: npt.NDArray[np.int_]
) -> dict[str, Array]:
    """Leg values of every point variable, by its rule in ``variables.py``.

    Names that are not in that table, or whose rule is "leg" or "direction", are left out; the
    caller computes them.
    """
    starts = leg_starts(leg_index)
    made: dict[str, Array] = {}
    for name, values in points.items():
        variable = BY_NAME.get(name)
        if variable is None:
            continue
        if variable.how == "mean":
            made[name] = leg_mean(values, hours, starts)
        elif variable.how == "sum":
            made[name] = leg_sum(values, starts)
        elif variable.how == "worst":
            made[name] = leg_worst(values, starts)
    return made
