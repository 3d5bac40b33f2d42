"""Logs made from a plan's own JSON, for the tests of ``passage review``; invented data."""

from __future__ import annotations

import csv
import io
import json
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

import numpy as np

SAMPLES = Path(__file__).resolve().parents[1] / "sample_forecasts"
FORECASTS = [SAMPLES / f"biscay_{part}.nc" for part in ("waves", "wind", "current")]
COLUMNS = (
    "time hours lat lon speed_through_water_kn speed_over_ground_kn fuel_l_per_h roll_rms_deg "
    "heel_deg fin_angle_rms_deg fins"
).split()


def make_plan(path: Path, **options) -> dict:
    """Plan the sample passage, write its JSON to ``path`` and give it back."""
    text = _plan_text(**options)
    path.write_text(text, encoding="utf-8")
    return json.loads(text)


@cache
def _plan_text(**options) -> str:
    """The JSON, once for all tests that want the same plan."""
    import passage
    from passage.report.files.plan_json import plan_json

    made = passage.plan(
        SAMPLES / "western.csv",
        SAMPLES / "brambling.toml",
        FORECASTS,
        departure="2026-03-14T06:00Z",
        **options,
    )
    return plan_json(made.answer)


def stamp(time_s: float) -> str:
    text = datetime.fromtimestamp(time_s, UTC).isoformat(timespec="milliseconds")
    return text.replace("+00:00", "Z")


def rows_of(plan: dict) -> list[dict]:
    """The plan as a log: a row a segment, the plan's own numbers."""
    track = plan["track"]
    rows = []
    for at, hours in enumerate(track["hours"]):
        working = track["fin_angle_rms_deg"][at] > 0.0
        rows.append(
            {
                "time": track["time_s"][at],
                "hours": hours,
                "lat": track["lat_deg"][at],
                "lon": track["lon_deg"][at],
                "speed_through_water_kn": track["speed_through_water_kn"][at],
                "speed_over_ground_kn": track["distance_nm"][at] / hours,
                "fuel_l_per_h": track["fuel_main_engines_l"][at] / hours,
                "roll_rms_deg": track["roll_active_rms_deg"][at],
                "heel_deg": track["steady_heel_deg"][at],
                "fin_angle_rms_deg": track["fin_angle_rms_deg"][at],
                "fins": "active" if working else "centred",
            }
        )
    return rows


def csv_of(rows: list[dict], columns=COLUMNS) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    for row in rows:
        writer.writerow(
            stamp(row[c]) if c == "time" else "" if row[c] is None else row[c] for c in columns
        )
    return out.getvalue()


def recording(plan: dict, step_s: float, roll_period_s: float = 8.0, seed: int = 1) -> str:
    """One line every ``step_s``: position along the track, roll and fin angle at the moment."""
    track = plan["track"]
    time, hours = np.array(track["time_s"]), np.array(track["hours"])
    ends = np.r_[time[0] - 1800 * hours[0], time + 1800 * hours]
    t = np.arange(ends[0] + step_s / 2, ends[-1], step_s)
    lat = np.interp(t, ends, track["end_lat_deg"])
    lon = np.interp(t, ends, track["end_lon_deg"])
    at = np.clip(np.searchsorted(ends, t) - 1, 0, time.size - 1)
    rng = np.random.default_rng(seed)
    # A narrow band of components about the roll period, unit variance.
    w = 2 * np.pi / roll_period_s * (1 + 0.1 * rng.standard_normal(30))
    phase = rng.uniform(0, 2 * np.pi, 30)
    wave = np.zeros(t.size)
    for one, angle in zip(w, phase, strict=True):
        wave += np.cos(one * t + angle)
    wave /= np.sqrt(15.0)
    heel = np.array(track["steady_heel_deg"])[at]
    roll = heel + np.array(track["roll_active_rms_deg"])[at] * wave
    fuel = (np.array(track["fuel_main_engines_l"]) / hours)[at]
    water = np.array(track["speed_through_water_kn"])[at]
    ground = (np.array(track["distance_nm"]) / hours)[at]
    stamps = np.array(t * 1000, dtype="int64").astype("datetime64[ms]")
    lines = ["time,lat,lon,speed_through_water_kn,speed_over_ground_kn,fuel_l_per_h,roll_deg"]
    lines += [
        f"{s}Z,{a:.6f},{o:.6f},{v:.3f},{g:.3f},{f:.2f},{r:.3f}"
        for s, a, o, v, g, f, r in zip(stamps, lat, lon, water, ground, fuel, roll, strict=True)
    ]
    return "\n".join(lines) + "\n"
