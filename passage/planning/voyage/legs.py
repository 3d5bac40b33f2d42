"""From points along the track to legs: means weighted by time, sums and worst values.

Every array has the points along the track as its last axis; what stands before it
(departure, speed, member) is carried through. A leg value is given only where all
of the leg's points are known: a mean or a sum over part of a leg would look like
the leg's own. "worst" values are the largest over the known points.
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

    Points of zero duration do not occur in a track; if all weights of a leg are
    zero the answer is NaN rather than a division warning.
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

    ``weights`` is usually energy times hours, so that the leg's direction is that
    of the sea that matters.
    """
    from_rad = np.asarray(from_rad, dtype=float)
    east = leg_sum(np.sin(from_rad) * weights, starts)
    north = leg_sum(np.cos(from_rad) * weights, starts)
    calm = (east == 0.0) & (north == 0.0)
    return np.where(calm, np.nan, np.arctan2(east, north) % (2.0 * np.pi))


def leg_coverage(codes: npt.NDArray[np.int8], starts: npt.NDArray[np.int_]) -> npt.NDArray[np.int8]:
    """The commonest reason for a gap on each leg, or 0 ("ok") where there is none.

    A point filled from the nearest sea cell, or taken as sheltered, counts as a reason to
    tell, but any real gap on the leg goes before it.
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
    """Leg values of every point variable, by the rule its row in ``variables.py`` names.

    Names that the table does not know, or whose rule is "leg" or "direction", are
    left out: the caller makes those itself.
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
