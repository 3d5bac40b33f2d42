"""A log cut into spans: a minute of a recording, or one line of a log of averages.

All later steps work on spans: their length, position and speed, and the sums from which
roll and fin angle over any time follow.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from passage.inputs.records.recording import Recording
from passage.units import HOUR_S, wrap_180

Array = npt.NDArray[np.float64]

#: Length of a span of a recording [s].
SPAN_S = 60.0
#: A pause this many times the usual step, and longer than this, is a gap in the log.
GAP_STEPS, GAP_S = 2.5, 120.0


@dataclass(frozen=True, eq=False)
class Spans:
    """Spans in order of time, arrays (m,).

    ``time_s`` is the middle; ``hours`` the time that the log covers; ``elapsed_h`` includes
    half of the gap on either side, so that it adds up to the whole time. Speeds [kn], fuel
    rates [l/h], angles [deg]; NaN where the log has none. ``roll_n``, ``roll_sum`` and
    ``roll_square`` are sums over momentary angles, ``roll_rms_square`` the mean square of
    logged rms values; the same for the fin angle. ``active`` is the share of the time that
    the fins were active. ``averaged`` is True for a log of averages, False for a recording.
    """

    time_s: Array
    hours: Array
    elapsed_h: Array
    lat_deg: Array
    lon_deg: Array
    heading_deg: Array
    through_water_kn: Array
    over_ground_kn: Array
    fuel_l_per_h: Array
    roll_n: Array
    roll_sum: Array
    roll_square: Array
    roll_rms_square: Array
    heel_deg: Array
    fin_n: Array
    fin_sum: Array
    fin_square: Array
    fin_rms_square: Array
    active: Array
    averaged: bool
    gaps: tuple[tuple[float, float], ...]

    def __len__(self) -> int:
        """Number of spans."""
        return int(self.time_s.size)

    def chosen(self, which: npt.NDArray[np.bool_]) -> Spans:
        """Some of the spans."""
        arrays = {
            name: value[which]
            for name, value in vars(self).items()
            if isinstance(value, np.ndarray)
        }
        return Spans(**arrays, averaged=self.averaged, gaps=self.gaps)


def make_spans(log: Recording) -> Spans:
    """Cut a log into spans.

    A line covers its ``hours``, else the time until halfway to its neighbours; a
    pause longer than 2.5 usual steps and two minutes is a gap, and no line covers it.
    """
    time = log.time_s
    starts, ends, gaps = _extent(log)
    steps = np.diff(time)
    averaged = bool(time.size < 2 or np.median(steps) >= SPAN_S)
    key = np.arange(time.size) if averaged else np.floor((time - time[0]) / SPAN_S).astype(np.int64)
    _, first, group = np.unique(key, return_index=True, return_inverse=True)
    count = first.size
    hours = (ends - starts) / HOUR_S

    def total(values: Array) -> Array:
        return np.asarray(np.bincount(group, np.nan_to_num(values), minlength=count), dtype=float)

    def mean(values: Array, weight: Array = hours) -> Array:
        known = np.isfinite(values)
        weights = total(np.where(known, weight, 0.0))
        sums = total(np.where(known, values, 0.0) * weight)
        return np.divide(sums, weights, out=np.full(count, np.nan), where=weights > 0.0)

    def moments(name: str) -> tuple[Array, Array, Array]:
        values = log.column(name)
        known = np.isfinite(values).astype(float)
        return total(known), total(values), total(values**2)

    span_hours = total(hours)
    span_start, span_end = starts[first], ends[np.r_[first[1:] - 1, time.size - 1]]
    pause = np.maximum(span_start[1:] - span_end[:-1], 0.0) / HOUR_S
    elapsed = span_hours + 0.5 * (np.r_[0.0, pause] + np.r_[pause, 0.0])
    heading = np.deg2rad(log.column("heading_deg"))
    roll, fin = moments("roll_deg"), moments("fin_angle_deg")
    lon = log.lon_deg
    known = np.isfinite(lon)
    if np.any(known):
        # Unwrapped, so that the mean of a span across the antimeridian lies there.
        lon = lon.copy()
        lon[known] = np.unwrap(lon[known], period=360.0)
    return Spans(
        time_s=0.5 * (span_start + span_end),
        hours=span_hours,
        elapsed_h=elapsed,
        lat_deg=mean(log.lat_deg),
        lon_deg=wrap_180(mean(lon)),
        heading_deg=np.rad2deg(np.arctan2(mean(np.sin(heading)), mean(np.cos(heading)))) % 360.0,
        through_water_kn=mean(log.column("speed_through_water_kn")),
        over_ground_kn=mean(log.column("speed_over_ground_kn")),
        fuel_l_per_h=mean(log.column("fuel_l_per_h")),
        roll_n=roll[0],
        roll_sum=roll[1],
        roll_square=roll[2],
        roll_rms_square=mean(log.column("roll_rms_deg") ** 2),
        heel_deg=mean(log.column("heel_deg")),
        fin_n=fin[0],
        fin_sum=fin[1],
        fin_square=fin[2],
        fin_rms_square=mean(log.column("fin_angle_rms_deg") ** 2),
        active=mean(log.fins),
        averaged=averaged,
        gaps=gaps,
    )


def _extent(log: Recording) -> tuple[Array, Array, tuple[tuple[float, float], ...]]:
    """Start and end of the time that each line covers [s], and the gaps."""
    time = log.time_s
    given = log.column("hours") * HOUR_S
    if time.size == 1:
        half = 0.5 * np.nan_to_num(given)
        return time - half, time + half, ()
    step = np.diff(time)
    usual = float(np.median(step))
    broken = step > max(GAP_STEPS * usual, GAP_S)
    half = 0.5 * np.where(broken, usual, step)
    before, after = np.r_[half[0], half], np.r_[half, half[-1]]
    stated = np.isfinite(given)
    starts = time - np.where(stated, 0.5 * given, before)
    ends = time + np.where(stated, 0.5 * given, after)
    # Lines with a given length may overlap by rounding, never by more.
    starts[1:] = np.maximum(starts[1:], ends[:-1] - 1.0)
    pause = starts[1:] - ends[:-1]
    wide = np.flatnonzero(pause > max(GAP_S, 0.5 * usual if usual >= SPAN_S else 0.0))
    return starts, ends, tuple((float(ends[i]), float(starts[i + 1])) for i in wide)
