"""Valid times of one dataset: plain, or run and step; checked as they are read."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import numpy as np

from passage.inputs.forecast.axes import AxisError, Floats
from passage.inputs.forecast.axes import attribute as _attr
from passage.units import utc_text

_STEP_NAMES = ("step", "leadtime", "lead_time", "forecast_period", "prediction_timedelta")
_EARLIEST = datetime(1940, 1, 1, tzinfo=UTC).timestamp()
_LATEST = datetime(2100, 1, 1, tzinfo=UTC).timestamp()
_UNIT_S = {
    "second": 1.0, "seconds": 1.0, "sec": 1.0, "secs": 1.0, "s": 1.0,
    "minute": 60.0, "minutes": 60.0, "min": 60.0, "mins": 60.0,
    "hour": 3600.0, "hours": 3600.0, "hr": 3600.0, "hrs": 3600.0, "h": 3600.0,
    "day": 86400.0, "days": 86400.0, "d": 86400.0,
    "milliseconds": 1e-3, "microseconds": 1e-6, "nanoseconds": 1e-9,
}  # fmt: skip
_CALENDARS = ("", "standard", "gregorian", "proleptic_gregorian")


@dataclass(frozen=True, eq=False)
class Times:
    """Valid times of one dataset.

    ``time_s`` ascends strictly. ``dims`` are the dimensions in the file that it runs
    over: none (a single time), one, or reference time and step, flattened in C order.
    ``run_s`` is the reference time when known.
    """

    time_s: Floats
    dims: tuple[str, ...]
    run_s: float | None


def _time_values(name: str, variable: Any) -> Floats:
    """Seconds since 1970 from a CF time variable."""
    raw = np.asarray(variable.values)
    if np.issubdtype(raw.dtype, np.datetime64):
        return raw.astype("datetime64[ns]").astype(np.int64) / 1e9
    unit = _attr(variable, "units")
    match = re.fullmatch(r"\s*(\w+)\s+since\s+(.+)", unit, re.I)
    if not match:
        shown = f"unit '{unit}'" if unit else "no unit"
        raise AxisError(
            f"{name}: time has {shown}",
            'It must read like "hours since 1970-01-01 00:00:00".',
        )
    scale = _UNIT_S.get(match[1].lower())
    if scale is None:
        raise AxisError(
            f"{name}: time counts in '{match[1]}', which is not a fixed length",
            "Use seconds, minutes, hours or days.",
        )
    calendar = _attr(variable, "calendar").lower()
    if calendar not in _CALENDARS:
        raise AxisError(
            f"{name}: calendar '{calendar}' is not the standard one",
            "Give a file with the standard calendar.",
        )
    epoch = _epoch_s(name, match[2])
    return epoch + raw.astype(float) * scale


def _epoch_s(name: str, text: str) -> float:
    clean = text.strip().replace("UTC", "").replace("GMT", "").replace("T", " ")
    clean = re.sub(r"Z\s*$", "", clean).strip()
    clean = re.sub(r"\.0*$", "", clean)
    match = re.fullmatch(
        r"(\d{1,4})-(\d{1,2})-(\d{1,2})"
        r"(?:\s+(\d{1,2})(?::(\d{1,2})(?::(\d{1,2})(\.\d+)?)?)?)?"
        r"\s*([+-]\d{1,2}(?::?\d{2})?)?",
        clean,
    )
    if not match:
        raise AxisError(f"{name}: reference time '{text}' cannot be read")
    year, month, day, hour, minute, second = (int(g or 0) for g in match.groups()[:6])
    try:
        moment = datetime(year, month, day, hour, minute, second, tzinfo=UTC)
    except ValueError as err:
        raise AxisError(f"{name}: reference time '{text}' does not exist ({err})") from err
    offset = 0.0
    if match[8]:
        digits = match[8].replace(":", "")
        hours, minutes = int(digits[1:3]), int(digits[3:] or 0)
        if hours > 14 or minutes > 59:
            raise AxisError(f"{name}: reference time '{text}' has a zone that does not exist")
        offset = (hours * 3600 + minutes * 60) * (-1 if digits[0] == "-" else 1)
    return moment.timestamp() - offset


def find_times(dataset: Any) -> Times | None:
    """Valid times of a dataset, or None when it has no time at all.

    Raises
    ------
    AxisError
        Not sorted, duplicates, wrong century, several runs with the same hours.
    """
    variables = dataset.variables
    time_like = {
        str(n): v for n, v in variables.items()
        if v.ndim <= 2 and v.dtype.kind not in "SUO" and (
            _attr(v, "standard_name") in ("time", "forecast_reference_time")
            or str(n) in ("time", "valid_time", "Time", "reftime")
            or " since " in _attr(v, "units")
        )
    }  # fmt: skip
    if not time_like:
        if "time" in dataset.sizes:
            raise AxisError("has a time dimension without times", "Fetch it again.")
        return None
    reference = [
        n for n, v in time_like.items()
        if _attr(v, "standard_name") == "forecast_reference_time" or n == "reftime"
    ]  # fmt: skip
    steps = [
        str(n) for n, v in variables.items()
        if _attr(v, "standard_name") == "forecast_period" or str(n) in _STEP_NAMES
    ]  # fmt: skip
    valid = [n for n in time_like if n not in reference]
    if "valid_time" in valid:
        chosen = "valid_time"
    elif "time" in valid:
        chosen = "time"
    elif len(valid) == 1:
        chosen = valid[0]
    elif not valid and reference:
        chosen = ""
    else:
        raise AxisError(f"has several time axes ({', '.join(valid)})")
    run_s = None
    if reference:
        runs = np.unique(_time_values(reference[0], variables[reference[0]]))
        run_s = _believable_run(runs)
    if chosen:
        variable = variables[chosen]
        values, dims = _time_values(chosen, variable), tuple(map(str, variable.dims))
    else:
        values, dims = _reference_plus_step(variables, reference[0], steps)
    if chosen and chosen != "valid_time" and steps and reference == []:
        step = variables[steps[0]]
        if step.ndim == 1 and step.dims != variable.dims and step.size > 1:
            # The usual pair of a run time called "time" and a step dimension.
            values, dims = _reference_plus_step(variables, chosen, steps)
            run_s = _believable_run(_time_values(chosen, variable))
    flat = _whole_seconds(np.asarray(values, dtype=float).reshape(-1))
    _check_times(flat)
    return Times(flat, dims, run_s)


def _believable_run(runs: Floats) -> float | None:
    """The latest reference time, or None when there is none that can be true."""
    if not runs.size or not np.all((runs >= _EARLIEST) & (runs <= _LATEST)):
        return None
    return float(np.max(runs))


def _whole_seconds(time_s: Floats) -> Floats:
    """Times without the rounding of "days since", so that files agree on their hours."""
    if not np.all(np.isfinite(time_s)):
        return time_s
    whole = np.round(time_s)
    near = time_s.size > 0 and float(np.abs(whole - time_s).max()) < 0.05
    return whole if near else time_s


def _reference_plus_step(
    variables: Any, reference: str, steps: list[str]
) -> tuple[Floats, tuple[str, ...]]:
    base = _time_values(reference, variables[reference])
    base_dims = tuple(map(str, variables[reference].dims))
    if not steps:
        return base, base_dims
    step = variables[steps[0]]
    unit = _attr(step, "units").lower()
    scale = _UNIT_S.get(unit)
    if scale is None:
        raise AxisError(
            f"{steps[0]}: forecast step has unit '{unit}'", "It must be hours or seconds."
        )
    ahead = np.asarray(step.values, dtype=float) * scale
    return np.add.outer(base, ahead), base_dims + tuple(map(str, step.dims))


def _check_times(time_s: Floats) -> None:
    if time_s.size == 0:
        raise AxisError("has no times (its time axis is empty)", "Fetch it again.")
    if not np.all(np.isfinite(time_s)):
        raise AxisError("has missing times", "Fetch it again.")
    for value in (time_s.min(), time_s.max()):
        if not _EARLIEST <= value <= _LATEST:
            try:
                shown = f"{datetime.fromtimestamp(value, tz=UTC):%Y-%m-%d}"
            except (ValueError, OverflowError, OSError):
                shown = f"{value:.3g} s after 1970"
            raise AxisError(
                f"has time {shown}, outside 1940 to 2100",
                "Its time unit is probably wrong.",
            )
    step = np.diff(time_s)
    if np.any(step <= 0):
        i = int(np.flatnonzero(step <= 0)[0])
        when = utc_text(time_s[i + 1])
        if step[i] == 0:
            raise AxisError(f"has time {when} twice (step {i + 2})", _SORT)
        raise AxisError(
            f"has times out of order: {when} follows {utc_text(time_s[i])}, or "
            "several runs with the same hours",
            _SORT,
        )


_SORT = "Keep one run in a file, with its hours in order and once each."
