"""One short passage and what is compared of it, for the tests of restatements.

The passage crosses the test grid (48 to 50 N, 8 to 6 W) in ten hours; the sea on it is a
crossing wind sea and swell that change in place and time. ``answer`` plans it on files
and gives what must agree; ``apart`` is the largest relative difference of two answers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import numpy as np

from passage.inputs.forecast import open_forecast
from passage.inputs.route import Waypoint, build_route
from passage.inputs.route.geometry import rhumb_points
from passage.inputs.vessel import read_vessel
from passage.planning.plan.plan import plan
from passage.planning.voyage.prepare import Passage, PlanOptions, prepare

SAMPLES = Path(__file__).parents[1] / "sample_forecasts"
#: First hour of the files of ``forecast_maker``, and the departure.
START_S = float(np.datetime64("2026-03-14T00:00").astype("datetime64[s]").astype(float))
LEAVE_S = START_S + 1800.0
FROM, TO = (48.3, -7.7), (49.8, -6.3)
HOURS = np.arange(0.0, 16.0, 3.0)
#: What is compared: litres in all and for the waves, and roll.
KEYS = ("fuel_l", "fuel_waves_l", "roll_centred", "roll_active")


def vessel():
    """The sample yacht, upright and loaded alike on both sides."""
    made = read_vessel(SAMPLES / "brambling.toml")
    return replace(made, loading=replace(made.loading, list_deg=0.0, burn=(), events=()))


def between(legs: int, start=FROM, end=TO) -> tuple[tuple[float, float], ...]:
    """Points that cut the rhumb line from start to end into equal legs."""
    made = rhumb_points(*start, *end, np.linspace(0.0, 1.0, legs + 1))
    return tuple(zip(made.lat_deg.tolist(), made.lon_deg.tolist(), strict=True))


@lru_cache(maxsize=16)
def passage(
    points: tuple[tuple[float, float], ...] = (FROM, TO), speed_kn: float = 12.0
) -> Passage:
    """The passage over these points; its tables are kept for the next answer."""
    way = [
        Waypoint(name=f"P{i}", lat_deg=lat, lon_deg=lon, kind="rhumb")
        for i, (lat, lon) in enumerate(points)
    ]
    options = PlanOptions(departure_s=LEAVE_S, speed_kn=speed_kn)
    return prepare(vessel(), build_route("made", "made", way), options)


def answer(
    paths: Path | Sequence[Path],
    ready: Passage | None = None,
    leave_s: float = LEAVE_S,
    **opening: object,
) -> dict[str, float]:
    """Litres and time-mean roll of the passage on these files."""
    ready = passage() if ready is None else ready
    options = PlanOptions(departure_s=leave_s)
    with open_forecast(paths, **opening) as forecast:  # type: ignore[arg-type]
        made = plan(ready, forecast, options)
    assert {leg["coverage"] for leg in made.legs} == {"ok"}
    hours = made.points["hours"]
    assert np.isfinite(made.totals["fuel_l"])
    return {
        "fuel_l": made.totals["fuel_l"],
        "fuel_waves_l": made.totals["fuel_waves_l"],
        "roll_centred": float(np.average(made.points["roll_centred_rms_deg"], weights=hours)),
        "roll_active": float(np.average(made.points["roll_active_rms_deg"], weights=hours)),
    }


def apart(one: dict[str, float], two: dict[str, float]) -> float:
    """Largest relative difference over what is compared."""
    return max(abs(one[key] / two[key] - 1.0) for key in KEYS)


# --- the sea ------------------------------------------------------------------


def wind_height(lat, lon, hour):
    """A wind sea of 1.2 to 2.4 m. [m]"""
    return 1.8 + 0.3 * (lat - 49.0) + 0.25 * (lon + 7.0) + 0.02 * hour


def wind_period(lat, lon, hour):
    """Its peak period. [s]"""
    return 4.4 * np.sqrt(wind_height(lat, lon, hour))


def wind_from(lat, lon, hour):
    """Where it comes from. [deg]"""
    return 290.0 + 8.0 * (lat - 49.0) + 0.5 * hour


def swell_height(lat, lon, hour):
    """A swell of about 1.5 m. [m]"""
    return 1.5 - 0.2 * (lat - 49.0) + 0.015 * hour


def swell_period(lat, lon, hour):
    """Its peak period. [s]"""
    return 11.0 - 0.5 * (lon + 7.0) + 0.0 * lat - 0.05 * hour


def swell_from(lat, lon, hour):
    """Where it comes from. [deg]"""
    return 250.0 + 5.0 * (lon + 7.0) + 0.0 * lat + 0.3 * hour


def total_height(lat, lon, hour):
    """Both together. [m]"""
    return np.hypot(wind_height(lat, lon, hour), swell_height(lat, lon, hour))
