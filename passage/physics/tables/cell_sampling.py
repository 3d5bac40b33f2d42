"""Sampling of long time series: fields of cells over successive hours.

The places of a track are the same for every departure, so the corners around a place and
their weights are found once, and only time changes. Data are ``(cell, hour, field)`` in single
precision, with field 0 equal to 1 where there are no data, as in
``inputs/forecast/sampler.py``; the rules of coverage are those of its ``Frame``.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from passage.physics.compiled import compile_loop
from passage.physics.waves.matching import match_rows

FloatArray = NDArray[np.float64]
Singles = NDArray[np.float32]
Codes = NDArray[np.int8]

#: Codes of coverage, in the order of ``variables.COVERAGE``.
OK, BEFORE, AFTER, OUTSIDE, MASKED, _, GAP, _ = range(8)
#: Times closer than this count as equal [s]; masked corners of less weight than this count as
#: rounding.
SAME_TIME_S = 0.5
MASK_WEIGHT = 1e-5


@dataclass(frozen=True, eq=False)
class CellRuns:
    """Fields of cells over successive hours, and the places of a track among the cells.

    Attributes
    ----------
    data : ndarray of float32, (cells, hours, fields)
        Values of the fields.
    time_s : ndarray (hours,)
        Times, ascending. [s]
    gap : ndarray of bool, (hours - 1,)
        Intervals too long to interpolate.
    corner : ndarray of int32, (places, 4)
        Cells around each place.
    weight : ndarray of float32, (places, 4)
        Weights of these cells; they sum to 1.
    inside : ndarray of bool, (places,)
        Whether the place is within the grid.
    first_s, last_s : float
        First and last time of the whole data set, of which ``time_s`` may be a part. [s]
    alike : ndarray of int, (systems,)
        First field of each wave system to match between cells; each has ``width`` fields.
    wind : bool
        Whether the first of them is a wind sea.
    """

    data: Singles
    time_s: FloatArray
    gap: NDArray[np.bool_]
    corner: NDArray[np.int32]
    weight: Singles
    inside: NDArray[np.bool_]
    first_s: float
    last_s: float
    alike: NDArray[np.int64] = field(default_factory=lambda: np.zeros(0, np.int64))
    width: int = 0
    wind: bool = False

    @property
    def step_s(self) -> float:
        """Interval of the times; 0 where they are not evenly spaced. [s]"""
        if self.time_s.size < 2:
            return 0.0
        step = (self.time_s[-1] - self.time_s[0]) / (self.time_s.size - 1)
        nodes = self.time_s[0] + step * np.arange(self.time_s.size)
        return float(step) if np.abs(nodes - self.time_s).max() < 1e-9 * step else 0.0


@compile_loop
def place_in_time(t, time_s, step_s, gap, first_s, last_s):  # type: ignore[no-untyped-def]
    """Coverage code of one time, its interval and its position in it, 0 to 1.

    Times in [s].
    """
    if not np.isfinite(t):
        return OUTSIDE, 0, 0.0
    if t < first_s - SAME_TIME_S:
        return BEFORE, 0, 0.0
    if t > last_s + SAME_TIME_S:
        return AFTER, 0, 0.0
    n = time_s.size
    if n < 2:
        return OK, 0, 0.0
    if step_s > 0.0:
        x = (t - time_s[0]) / step_s
        i = min(max(int(x), 0), n - 2)
    else:
        i = min(max(np.searchsorted(time_s, t, side="right") - 1, 0), n - 2)
    width = time_s[i + 1] - time_s[i]
    f = min(max((t - time_s[i]) / width, 0.0), 1.0)
    if gap[i] and f * width > SAME_TIME_S and (1.0 - f) * width > SAME_TIME_S:
        return GAP, i, f
    return OK, i, f


@compile_loop
def add_matched(flat, rows, share, alike, width, order, target):  # type: ignore[no-untyped-def]
    """Interpolate matched systems into ``target`` (fields,); energies in [m2], periods in [s].

    ``rows`` and ``share`` (corners,) are cells and weights, ``order`` the result of
    ``match_rows``.
    """
    for g in range(alike.size):
        put = alike[g]
        for q in range(width):
            target[put + q] = np.float32(0.0)
        for c in range(rows.size):
            get = alike[order[c, g]]
            for q in range(width):
                target[put + q] += share[c] * flat[rows[c], get + q]


@compile_loop
def _sample_loop(  # type: ignore[no-untyped-def]
    data, time_s, step_s, gap, first_s, last_s, corner, weight, inside, t, out, code
):
    departures, places = t.shape
    fields = data.shape[2]
    top = data.shape[1] - 1
    # Along the track first: neighbours on it share cells and hours.
    for m in range(departures):
        for k in range(places):
            a, b, c, d = corner[k, 0], corner[k, 1], corner[k, 2], corner[k, 3]
            wa, wb, wc, wd = weight[k, 0], weight[k, 1], weight[k, 2], weight[k, 3]
            found, i, f = place_in_time(t[m, k], time_s, step_s, gap, first_s, last_s)
            if (found in (OK, GAP)) and not inside[k]:
                found = OUTSIDE
            if found != OK:
                code[m, k] = found
                out[m, k, :] = np.nan
                continue
            # Unsigned, so that no index is taken to count from the end.
            j = np.uint32(min(i + 1, top))
            i = np.uint32(i)
            late = np.float32(f)
            soon = np.float32(1.0) - late
            target = out[m, k]
            a, b, c, d = np.uint32(a), np.uint32(b), np.uint32(c), np.uint32(d)
            a0, a1, b0, b1 = data[a, i], data[a, j], data[b, i], data[b, j]
            c0, c1, d0, d1 = data[c, i], data[c, j], data[d, i], data[d, j]
            sa, sb, sc, sd = soon * wa, soon * wb, soon * wc, soon * wd
            la, lb, lc, ld = late * wa, late * wb, late * wc, late * wd
            for q in range(fields):
                target[q] = (
                    sa * a0[q] + sb * b0[q] + sc * c0[q] + sd * d0[q]
                    + la * a1[q] + lb * b1[q] + lc * c1[q] + ld * d1[q]
                )  # fmt: skip
            if target[0] > MASK_WEIGHT:
                code[m, k] = MASKED
                out[m, k, :] = np.nan
            else:
                code[m, k] = OK


@compile_loop
def _match_loop(  # type: ignore[no-untyped-def]
    data, time_s, step_s, gap, first_s, last_s, corner, weight, alike, width, wind, t, out, code
):
    """Interpolate again the systems that change places between the corners of a point.

    In a loop of its own, without which the other is a fifth faster where no system may.
    """
    departures, places = t.shape
    hours = data.shape[1]
    flat = data.reshape(data.shape[0] * hours, data.shape[2])
    rows8 = np.zeros(8, np.int64)
    share8 = np.zeros(8, np.float32)
    order = np.zeros((8, alike.size), np.int64)
    for m in range(departures):
        for k in range(places):
            if code[m, k] != OK:
                continue
            _, i, f = place_in_time(t[m, k], time_s, step_s, gap, first_s, last_s)
            j = min(i + 1, hours - 1)
            late = np.float32(f)
            for c in range(4):
                rows8[c], rows8[4 + c] = corner[k, c] * hours + i, corner[k, c] * hours + j
                share8[c] = (np.float32(1.0) - late) * weight[k, c]
                share8[4 + c] = late * weight[k, c]
            if match_rows(flat, rows8, alike, wind, order):
                add_matched(flat, rows8, share8, alike, width, order, out[m, k])


def sample_runs(runs: CellRuns, time_s: FloatArray) -> tuple[Singles, Codes]:
    """Fields at every place of a track, at the times of many departures.

    Parameters
    ----------
    runs : CellRuns
        Data and places.
    time_s : ndarray, (departures, places)
        Times; NaN counts as outside. [s]

    Returns
    -------
    fields : ndarray of float32, (departures, places, fields)
        Interpolated values; NaN where the code is not 0.
    code : ndarray of int8, (departures, places)
        Coverage.
    """
    t = np.ascontiguousarray(time_s, float)
    out = np.empty((*t.shape, runs.data.shape[2]), np.float32)
    code = np.empty(t.shape, np.int8)
    _sample_loop(
        runs.data, runs.time_s, runs.step_s, runs.gap, runs.first_s, runs.last_s,
        runs.corner, runs.weight, runs.inside, t, out, code,
    )  # fmt: skip
    if runs.alike.size > 1:
        _match_loop(
            runs.data, runs.time_s, runs.step_s, runs.gap, runs.first_s, runs.last_s,
            runs.corner, runs.weight, runs.alike, runs.width, runs.wind, t, out, code,
        )  # fmt: skip
    return out, code


def with_calm(runs: CellRuns, where: NDArray[np.bool_]) -> CellRuns:
    """Fields with calm water at some places that have no data at any hour.

    Parameters
    ----------
    runs : CellRuns
        Data and places of a track.
    where : ndarray of bool, (places,)
        Places that may count as calm water; only those within the grid and next to a cell
        that is masked at every hour become calm.

    Returns
    -------
    CellRuns
        With one more cell, whose fields are all 0 (dimensionless codes, energies in m2), for
        the calm places.
    """
    land = np.all(runs.data[:, :, 0] > MASK_WEIGHT, axis=1)
    masked = np.sum(land[runs.corner] * runs.weight, axis=1) > MASK_WEIGHT
    calm = where & runs.inside & masked
    if not calm.any():
        return runs
    cells = runs.data.shape[0]
    data = np.concatenate([runs.data, np.zeros_like(runs.data[:1])])
    corner = np.where(calm[:, None], cells, runs.corner).astype(runs.corner.dtype)
    return replace(runs, data=data, corner=np.ascontiguousarray(corner))
