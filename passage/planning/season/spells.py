"""Independent spells of weather behind a share of departures, and the interval they leave.

Departures a few hours apart meet the same weather. How long a spell lasts is found from
the departures themselves: the time over which their rolls are correlated. A share is then
drawn again and again from runs of whole spells (a block bootstrap).
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import numpy.typing as npt

from passage.units import HOUR_S

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

#: Length of a spell where the data are too short to find it, least and greatest length. [h]
#: Assumption: lows pass every two to seven days in middle latitudes (common practice, no source).
USUAL_H, LEAST_H, MOST_H = 96.0, 48.0, 720.0
#: Data shorter than this do not show how long a spell lasts. [h]
LEAST_SPAN_H = 60.0 * 24.0
#: Spells drawn together. With one, the correlation of neighbours is lost and the interval
#: is a quarter too narrow; with three it is a tenth too narrow.
STRETCH = 3
DRAWS = 400
#: The interval holds this share of the draws. [%]
INTERVAL_PERCENT = 90.0
#: Fewer departures or spells than these are too few for a percentage.
LEAST_DEPARTURES, LEAST_SPELLS = 20, 3
FEW_WORDS = f"fewer than {LEAST_DEPARTURES} departures or {LEAST_SPELLS} spells of weather"


def few(departures: int, spells: float) -> bool:
    """Whether there are too few departures or spells for a percentage."""
    return departures < LEAST_DEPARTURES or spells < LEAST_SPELLS


def spell_hours(values: npt.ArrayLike, time_s: npt.ArrayLike, month: npt.ArrayLike) -> float:
    """Length of a spell: the time after which departures are uncorrelated. [h]

    Parameters
    ----------
    values : array_like, (n,)
        A number for each departure; NaN where it has none.
    time_s : array_like, (n,)
        Departures, evenly spaced. [s]
    month : array_like of int, (n,)
        Their months. The mean of each is removed first, since the seasons are not spells.

    Returns
    -------
    float
        The integral of the autocorrelation over both sides up to where it first vanishes, from
        ``LEAST_H`` to ``MOST_H``, and never less than the time between departures;
        ``USUAL_H`` where the data span less than ``LEAST_SPAN_H`` or do not vary.

    Notes
    -----
    The variance of a mean of n correlated values is that of n / (1 + 2 sum rho) independent
    ones (H. von Storch and F. W. Zwiers, Statistical Analysis in Climate Research, 1999,
    section 6.6, from memory).
    """
    x, time, months = np.asarray(values, float), np.asarray(time_s, float), np.asarray(month)
    if time.size < 3:
        return USUAL_H
    step = (time[-1] - time[0]) / (time.size - 1) / HOUR_S
    known = np.isfinite(x)
    if (time[-1] - time[0]) / HOUR_S < LEAST_SPAN_H or np.count_nonzero(known) < 30:
        return max(USUAL_H, step)
    x = np.where(known, x, 0.0)
    for one in np.unique(months):
        pick = known & (months == one)
        if pick.any():
            x[pick] -= x[pick].mean()
    if not np.any(np.abs(x) > 1e-9):
        return max(USUAL_H, step)
    lags = min(int(MOST_H / step) + 1, x.size - 1)
    size = 1 << int(np.ceil(np.log2(x.size + lags + 1)))
    pairs = _autosum(known.astype(float), size, lags)
    rho = _autosum(x, size, lags) / np.maximum(pairs, 1.0)
    rho = rho / rho[0]
    ends = np.flatnonzero(rho <= 0.0)
    last = int(ends[0]) if ends.size else rho.size
    hours = step * (1.0 + 2.0 * float(np.sum(rho[1:last])))
    return float(max(np.clip(hours, LEAST_H, MOST_H), step))


def _autosum(x: Array, size: int, lags: int) -> Array:
    """Sums of products of values 0 to ``lags`` steps apart."""
    spectrum = np.fft.rfft(x, size)
    return np.asarray(np.fft.irfft(spectrum * spectrum.conj(), size)[: lags + 1])


def spells_of(time_s: Array, hours: float) -> Ints:
    """Number of the spell that each departure is in, from 0 at the first departure."""
    return ((time_s - time_s[:1]) / (hours * HOUR_S) + 1e-9).astype(np.int64)


@lru_cache(maxsize=64)
def _weights(stretches: int) -> Array:
    """How often each run of spells is drawn, ``(DRAWS, stretches)``; the same every time."""
    rng = np.random.default_rng(20)
    drawn = rng.multinomial(stretches, np.full(stretches, 1.0 / stretches), size=DRAWS)
    return np.asarray(drawn, dtype=float)


def _by_stretch(spell: Ints, values: Array) -> Array:
    """Sums over runs of ``STRETCH`` spells; over single spells where there are few."""
    group = spell // (STRETCH if np.unique(spell // STRETCH).size >= 6 else 1)
    _, index = np.unique(group, return_inverse=True)
    return np.bincount(index.ravel(), weights=values).astype(float)


def share_interval(true: npt.ArrayLike, spell: npt.ArrayLike) -> tuple[float, float] | None:
    """Interval of a share of departures, from drawing runs of spells again. [%]

    Parameters
    ----------
    true : array_like of bool, (n,)
    spell : array_like of int, (n,)
        From :func:`spells_of`, for the same departures.

    Returns
    -------
    tuple of float or None
        Ends that hold ``INTERVAL_PERCENT`` of the draws; None with fewer than
        ``LEAST_SPELLS`` spells. Where all departures agree the draws cannot differ; the
        other end is then the share at which all of so many spells would agree in one case
        of twenty (the exact binomial bound).
    """
    state, which = np.asarray(true, bool), np.asarray(spell, np.int64)
    spells = np.unique(which).size
    if spells < LEAST_SPELLS:
        return None
    tail = 0.5 - 0.005 * INTERVAL_PERCENT
    if state.all() or not state.any():
        bound = 100.0 * tail ** (1.0 / spells)
        return (bound, 100.0) if state.all() else (0.0, 100.0 - bound)
    count = _by_stretch(which, np.ones(state.size))
    drawn = _weights(count.size)
    shares = (drawn @ _by_stretch(which, state.astype(float))) / (drawn @ count)
    low, high = np.percentile(100.0 * shares, [100.0 * tail, 100.0 * (1.0 - tail)])
    return float(low), float(high)


def mean_interval(values: npt.ArrayLike, spell: npt.ArrayLike) -> tuple[float, float] | None:
    """The same for a mean of numbers; None with fewer than ``LEAST_SPELLS`` spells."""
    x, which = np.asarray(values, float), np.asarray(spell, np.int64)
    if np.unique(which).size < LEAST_SPELLS:
        return None
    count = _by_stretch(which, np.ones(x.size))
    drawn = _weights(count.size)
    means = (drawn @ _by_stretch(which, x)) / (drawn @ count)
    tail = 50.0 - 0.5 * INTERVAL_PERCENT
    low, high = np.percentile(means, [tail, 100.0 - tail])
    return float(low), float(high)
