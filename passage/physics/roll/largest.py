"""Largest single roll to expect in a period of time."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

_STEPS = 60


def most_probable_largest(rms: ArrayLike, cycles: ArrayLike) -> FloatArray:
    """Amplitude that is reached once on average in all cycles together.

    Parameters
    ----------
    rms : array_like, P + (n,)
        rms of the motion in each of ``n`` intervals, >= 0. [any unit]
    cycles : array_like, P + (n,)
        Number of cycles in each interval, >= 0, dimensionless.

    Returns
    -------
    ndarray, P
        Amplitude in the unit of ``rms``. NaN where an rms or a count is NaN; 0 for less than
        one cycle in all.

    Notes
    -----
    Amplitudes are Rayleigh distributed in each interval, so that the result ``x`` solves
    ``sum(cycles exp(-x^2 / (2 rms^2))) = 1``. With a single rms it is the most probable
    largest of ``N`` amplitudes, ``rms sqrt(2 ln N)`` (Longuet-Higgins 1952, from memory).
    Splitting an interval changes nothing.
    """
    sigma = np.asarray(rms, dtype=float)
    count = np.asarray(cycles, dtype=float)
    sigma, count = np.broadcast_arrays(sigma, count)
    known = np.all(np.isfinite(sigma) & np.isfinite(count), axis=-1)
    total = np.sum(np.where(np.isfinite(count), count, 0.0), axis=-1)
    top = np.max(np.where(np.isfinite(sigma), sigma, 0.0), axis=-1, initial=0.0)
    high = top * np.sqrt(2.0 * np.log(np.maximum(total, 1.0)))
    low = np.zeros(high.shape)
    safe = np.where(sigma > 0.0, sigma, 1.0)
    for _ in range(_STEPS):
        middle = 0.5 * (low + high)
        over = np.where(sigma > 0.0, np.exp(-0.5 * (middle[..., None] / safe) ** 2), 0.0)
        more = np.sum(np.where(known[..., None], count * over, 0.0), axis=-1) > 1.0
        low, high = np.where(more, middle, low), np.where(more, high, middle)
    return np.asarray(np.where(known, high, np.nan))


def largest_in_watch(
    rms: ArrayLike, hours: ArrayLike, period_s: float, watch_h: float = 4.0
) -> float:
    """Largest single amplitude to expect in the worst watch of successive points.

    Parameters
    ----------
    rms, hours : array_like, (n,)
        rms of the motion at each point [any unit], and the point's duration [h].
    period_s : float
        Period of the motion. [s]
    watch_h : float
        Length of a watch. [h]

    Returns
    -------
    float
        Amplitude in the unit of ``rms``; NaN where a value is missing or there are none.
    """
    sigma, time = np.asarray(rms, dtype=float), np.asarray(hours, dtype=float)
    if not sigma.size or not (np.isfinite(sigma).all() and np.isfinite(time).all()):
        return float("nan")
    ends = np.cumsum(time)
    starts = ends - time
    # The worst watch begins or ends at the boundary of a point.
    begins = np.concatenate([starts, ends - watch_h])
    begins = begins[(begins >= -1e-9) & (begins <= max(ends[-1] - watch_h, 0.0) + 1e-9)]
    if not begins.size:
        begins = np.array([0.0])
    inside = np.minimum(ends, begins[:, None] + watch_h) - np.maximum(starts, begins[:, None])
    cycles = np.maximum(inside, 0.0) * 3600.0 / period_s
    return float(np.max(most_probable_largest(sigma, cycles)))
