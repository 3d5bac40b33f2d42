"""Running means along a track, by which limits are judged.

A window of fixed length slides along each run of segments of one kind, under way or at rest.
It belongs to the leg of its middle, so that splitting a leg changes nothing. Within half a
window of the end of a run, the first or the last full window counts. A run shorter than the
window has one window, the whole run.

Values are constant on segments, so the running mean is piecewise linear in the middle of the
window: it bends only where the beginning, middle or end of the window is at the end of a
segment. Its extremes, and the hours above a level, follow exactly from those places.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.intp]

#: Shorter times count as rounding [h].
_NOTHING_H = 1e-7


@dataclass(frozen=True, eq=False)
class LegWindows:
    """Windows with their middle on each leg; arrays ``L + (legs,)``.

    ``worst`` is the largest known running mean, NaN where there is none; ``middle_h`` is the
    middle of that window in hours since the start of the track and ``length_h`` its length in
    hours; ``over_h`` are the hours of the leg with the running mean above the given level;
    ``unknown`` is True where a window contains an unknown value.
    """

    worst: Array
    middle_h: Array
    length_h: Array
    over_h: Array
    unknown: Bools


@dataclass(frozen=True, eq=False)
class _Run:
    """One run of segments of one kind, with the beginning and end of its windows.

    Shapes ``R + (places,)``, with ``R`` the rows of the hours. ``begin`` and ``finish`` are the
    segments (from 0 within the run) where a window begins and ends, ``*_h`` the hours into
    them; ``centre_h`` is the middle of the window; ``leg`` is the leg of each step from one
    place to the next, ``step_h`` its length in hours.
    """

    first: int
    last: int
    hours: Array
    centre_h: Array
    length_h: Array
    begin: Ints
    begin_h: Array
    finish: Ints
    finish_h: Array
    leg: Ints
    step_h: Array


def _place(edges: Array, at: Array) -> tuple[Ints, Array]:
    """Segment of each time and the hours into it, row by row; ``edges`` (R, k + 1)."""
    rows, count = edges.shape
    span = float(edges[:, -1].max(initial=0.0)) + 1.0
    shift = span * np.arange(rows)[:, None]
    found = np.searchsorted((edges + shift).ravel(), (at + shift).ravel(), side="right")
    segment = found.reshape(at.shape) - 1 - count * np.arange(rows)[:, None]
    segment = np.clip(segment, 0, count - 2)
    return segment, at - np.take_along_axis(edges, segment, axis=-1)


class Running:
    """Windows of a track, for any number of quantities.

    Parameters
    ----------
    hours : ndarray, L + (n,)
        Duration of the segments, NaN where not known; broadcasts to the rows of values.
    leg : ndarray of int, (n,)
        Leg of each segment, from 0, not decreasing.
    at_rest : ndarray of bool, (n,)
        Segments at rest.
    window_h : float
        Length of the window, > 0. [h]
    """

    def __init__(self, hours: npt.ArrayLike, leg: Ints, at_rest: Bools, window_h: float) -> None:
        hours = np.asarray(hours, dtype=float)
        self.shape = hours.shape[:-1]
        table = hours.reshape(-1, hours.shape[-1])
        self.legs = int(leg[-1]) + 1
        self.no_time = np.stack(
            [np.any(np.isnan(table[:, leg == i]), axis=-1) for i in range(self.legs)], axis=-1
        )
        table = np.nan_to_num(table, nan=0.0)
        ends = np.cumsum(table, axis=-1)
        self.runs: list[_Run] = []
        self.start_h: list[Array] = []
        at_rest = np.asarray(at_rest, dtype=bool)
        cuts = np.r_[0, np.flatnonzero(at_rest[1:] != at_rest[:-1]) + 1, at_rest.size]
        for first, last in pairwise(cuts):
            self.runs.append(_run(table[:, first:last], leg[first:last], window_h, first, last))
            self.start_h.append(ends[:, first] - table[:, first])

    def of(
        self, values: npt.ArrayLike, *, power: int = 1, level: npt.ArrayLike = np.inf
    ) -> LegWindows:
        """Worst window of each leg.

        Parameters
        ----------
        values : ndarray, L + (n,)
            Values on the segments, of which the magnitude counts; NaN where not known.
        power : int
            1 for the mean, 2 for the root mean square.
        level : array_like, (legs,)
            Level above which hours are counted; NaN or infinity for none.
        """
        values = np.asarray(values, dtype=float)
        shape = np.broadcast_shapes(self.shape, values.shape[:-1])
        table = np.abs(np.broadcast_to(values, (*shape, values.shape[-1]))) ** power
        table = table.reshape(-1, values.shape[-1])
        rows = table.shape[0]
        over = np.broadcast_to(np.asarray(level, dtype=float), (self.legs,))
        over = np.where(np.isnan(over), np.inf, over) ** power
        worst = np.full((rows, self.legs), -np.inf)
        middle, length, above = (np.zeros((rows, self.legs)) for _ in range(3))
        unknown = np.zeros((rows, self.legs), dtype=bool) | self.no_time
        for run, start in zip(self.runs, self.start_h, strict=True):
            mean = _means(run, table[:, run.first : run.last])
            low, high = np.fmin(mean[:, :-1], mean[:, 1:]), np.fmax(mean[:, :-1], mean[:, 1:])
            missing = np.isnan(mean[:, :-1]) | np.isnan(mean[:, 1:])
            real = run.step_h > _NOTHING_H
            with np.errstate(invalid="ignore"):
                size = np.where(real & ~np.isnan(high), high, -np.inf)
            for i in np.unique(run.leg):
                mine = run.leg == i
                here = np.where(mine, size, -np.inf)
                at = np.argmax(here, axis=-1)[:, None]
                found = np.take_along_axis(here, at, axis=-1)[:, 0]
                right = np.take_along_axis(mean, at + 1, axis=-1) >= found[:, None]
                when = _rows_of(run.centre_h, at + right, rows) + np.broadcast_to(start, (rows,))
                better = found > worst[:, i]
                worst[:, i] = np.where(better, found, worst[:, i])
                middle[:, i] = np.where(better, when, middle[:, i])
                length[:, i] = np.where(better, run.length_h, length[:, i])
                unknown[:, i] |= np.any(missing & mine & real, axis=-1)
                if np.isfinite(over[i]):
                    with np.errstate(invalid="ignore", divide="ignore"):
                        share = np.where(low > over[i], 1.0, (high - over[i]) / (high - low))
                    share = np.where((high > over[i]) & ~missing, share, 0.0)
                    above[:, i] += np.sum(np.where(mine, share * run.step_h, 0.0), axis=-1)
        none = np.isneginf(worst)
        worst = np.where(none, np.nan, np.where(none, 0.0, worst) ** (1.0 / power))
        to = (*shape, self.legs)
        return LegWindows(
            worst.reshape(to),
            np.where(none, np.nan, middle).reshape(to),
            np.where(none, np.nan, length).reshape(to),
            above.reshape(to),
            (unknown | none).reshape(to),
        )


def _rows_of(values: Array, at: Ints, rows: int) -> Array:
    """One value of each row; ``values`` may have a single row for all."""
    return np.take_along_axis(np.broadcast_to(values, (rows, values.shape[-1])), at, axis=-1)[:, 0]


def _run(hours: Array, leg: Ints, window_h: float, first: int, last: int) -> _Run:
    rows = hours.shape[0]
    edges = np.concatenate([np.zeros((rows, 1)), np.cumsum(hours, axis=-1)], axis=-1)
    whole = edges[:, -1:]
    length = np.minimum(window_h, whole)
    half = 0.5 * length
    places = np.concatenate([edges, edges + half, edges - half], axis=-1)
    middle = np.sort(np.clip(places, 0.0, whole), axis=-1)
    opens = np.clip(middle - half, 0.0, whole - length)
    begin, begin_h = _place(edges, opens)
    finish, finish_h = _place(edges, opens + length)
    of, _ = _place(edges, 0.5 * (middle[:, 1:] + middle[:, :-1]))
    return _Run(
        first, last, hours, opens + half, length[:, 0], begin, begin_h, finish, finish_h,
        np.asarray(leg)[of], np.diff(middle, axis=-1),
    )  # fmt: skip


def _means(run: _Run, values: Array) -> Array:
    """Mean over the window at each place, (rows, places); NaN where part of it is not known."""
    unknown = np.isnan(values)
    length = run.length_h[:, None]
    mean = _integral(run, np.where(unknown, 0.0, values)) / np.where(length > 0.0, length, 1.0)
    if np.any(unknown):
        missing = _integral(run, unknown.astype(float)) > _NOTHING_H
        mean = np.where(missing, np.nan, mean)
    return np.where(length > 0.0, mean, np.nan)


def _integral(run: _Run, values: Array) -> Array:
    """Integral of values on segments over the window at each place."""
    sums = np.cumsum(values * run.hours, axis=-1)
    before = np.concatenate([np.zeros((sums.shape[0], 1)), sums[:, :-1]], axis=-1)

    def upto(segment: Ints, into: Array) -> Array:
        segment = np.broadcast_to(segment, (sums.shape[0], segment.shape[-1]))
        along = np.take_along_axis(before, segment, axis=-1)
        return along + np.take_along_axis(values, segment, axis=-1) * into

    return upto(run.finish, run.finish_h) - upto(run.begin, run.begin_h)
