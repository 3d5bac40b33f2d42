"""Scales and ticks: numbers, UTC times and categories along an axis."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
import numpy.typing as npt

from passage.units import HOUR_S

Floats = npt.NDArray[np.float64]

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
DAY_S = 24.0 * HOUR_S


@dataclass(frozen=True)
class Scale:
    """A linear scale from values [low, high] to pixels [start, end]."""

    low: float
    high: float
    start: float
    end: float

    def __call__(self, value: npt.ArrayLike) -> Floats:
        """Pixels of values, NaN for NaN."""
        share = (np.asarray(value, dtype=float) - self.low) / (self.high - self.low)
        return np.asarray(self.start + share * (self.end - self.start), dtype=float)

    def at(self, value: float) -> float:
        """Pixel of one value."""
        return float(self(value))


def nice_step(span: float, count: int) -> float:
    """A step of 1, 2 or 5 times a power of ten giving about ``count`` ticks."""
    if not span > 0.0 or not math.isfinite(span):
        return 1.0
    rough = span / max(count, 1)
    power = 10.0 ** math.floor(math.log10(rough))
    for factor in (1.0, 2.0, 5.0):
        if rough <= factor * power * 1.0000001:
            return factor * power
    return 10.0 * power


def nice_range(
    values: npt.ArrayLike, *, count: int = 5, from_zero: bool = True, symmetric: bool = False
) -> tuple[float, float]:
    """Axis limits, on ticks, that enclose every finite value; (0, 1) when there is none."""
    flat = np.asarray(values, dtype=float).ravel()
    flat = flat[np.isfinite(flat)]
    if flat.size == 0:
        return 0.0, 1.0
    low, high = float(flat.min()), float(flat.max())
    if symmetric:
        high = max(abs(low), abs(high))
        low = -high
    elif from_zero:
        low, high = min(low, 0.0), max(high, 0.0)
    if high == low:
        low, high = low - (0.0 if from_zero and low == 0.0 else 1.0), high + 1.0
    step = nice_step(high - low, count)
    return math.floor(low / step + 1e-9) * step, math.ceil(high / step - 1e-9) * step


def ticks(low: float, high: float, count: int = 5) -> list[float]:
    """Nice values from ``low`` to ``high``, both included where they are nice."""
    step = nice_step(high - low, count)
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return [i * step for i in range(first, last + 1)]


def tick_text(value: float, step: float) -> str:
    """A tick's label with as many decimals as the step needs."""
    decimals = max(0, -math.floor(math.log10(step) + 1e-9)) if step > 0 else 0
    return f"{value + 0.0:.{decimals}f}".replace("-", "\u2212")


@dataclass(frozen=True)
class TimeTick:
    """A tick of a time axis: hour text, and the date where a day starts."""

    time_s: float
    hour: str
    date: str


def utc(time_s: float) -> datetime:
    """Timezone-aware UTC time from seconds since 1970."""
    return datetime.fromtimestamp(time_s, UTC)


def short_utc_text(time_s: float | None) -> str:
    """``14 Mar 06:00`` (UTC); a dash when the time is missing."""
    if time_s is None or not math.isfinite(time_s):
        return "\u2013"
    when = utc(round(time_s / 60.0) * 60.0)
    return f"{when.day} {MONTHS[when.month - 1]} {when:%H:%M}"


def time_ticks(first_s: float, last_s: float, count: int) -> list[TimeTick]:
    """Ticks on whole hours of the UTC day, at most about ``count`` of them."""
    span = max(last_s - first_s, 1.0)
    steps = [h * HOUR_S for h in (1, 2, 3, 6, 12)] + [d * DAY_S for d in (1, 2, 5, 10, 30, 90, 365)]
    step = next((s for s in steps if span / s <= count), steps[-1])
    start = math.ceil(first_s / step - 1e-9) * step
    found = []
    dated = False
    for i in range(int((last_s - start) / step + 1e-9) + 1):
        time_s = start + i * step
        when = utc(time_s)
        new_day = when.hour == 0 and when.minute == 0
        date = f"{when.day} {MONTHS[when.month - 1]}" if new_day or not dated else ""
        dated = True
        hour = f"{when:%H:%M}" if step < DAY_S else ""
        found.append(TimeTick(time_s, hour, date))
    return found
