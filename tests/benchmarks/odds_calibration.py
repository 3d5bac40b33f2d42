"""How often the stated intervals and odds of a plan come true: passages with drawn truth.

Each passage has its own place, hour, sea, course and age of the run; its truth is one more
draw of the error model with random numbers. Run it with the number of passages and draws.
Chance alone moves a share of 2,000 passages by 1 percent.
"""

from __future__ import annotations

import sys

import numpy as np

from passage.planning.odds.count import percentile
from passage.planning.odds.drawn import DIMENSIONS, DrawnForecast
from passage.planning.odds.draws import sail_draws
from passage.planning.odds.error_model import ErrorModel, standard_normals
from passage.planning.plan.plan import PlanOptions, prepare, sail
from tests.planning_scenario import UniformForecast, route, vessel

SHARES = (50, 80, 95)


def calibration(passages: int, draws: int, seed: int = 5) -> dict[str, object]:
    """Shares of truths inside the intervals, and of those that kept a limit by stated odds."""
    rng = np.random.default_rng(seed)
    her = vessel()
    usual = standard_normals(draws, DIMENSIONS)
    inside: dict[str, list[list[bool]]] = {"fuel": [], "roll": [], "hours": []}
    stated, kept = [], []
    for _ in range(passages):
        lat, lon = rng.uniform(35.0, 55.0), rng.uniform(-40.0, -8.0)
        course = rng.uniform(0.0, 2.0 * np.pi)
        miles = rng.uniform(60.0, 240.0) / 60.0
        points = (
            (lat, lon),
            (lat + miles * np.cos(course), lon + miles * np.sin(course) / np.cos(np.radians(lat))),
        )
        leave = 1.78e9 + rng.uniform(0.0, 3e7)
        options = PlanOptions(departure_s=leave, speed_kn=12.0, minutes=60.0)
        ready = prepare(her, route(*points), options)
        wind = rng.normal(0.0, 6.0, 2)
        sea = UniformForecast(
            rng.uniform(0.8, 3.5), rng.uniform(5.0, 11.0), rng.uniform(0.0, 360.0), tuple(wind),
            tuple(rng.normal(0.0, 0.3, 2)),
        )  # fmt: skip
        numbers = np.vstack([usual, rng.standard_normal((1, DIMENSIONS))])
        run = leave - rng.uniform(0.0, 120.0) * 3600.0
        drawn = DrawnForecast(sea, ErrorModel(), run, draws + 1, numbers)
        made = sail_draws(ready, drawn, sail(ready, sea, options, band=False)[3]).legs
        values = {
            "fuel": made["fuel_l"].sum(axis=1),
            "roll": made["window_roll_significant_deg"].max(axis=1),
            "hours": made["hours"].sum(axis=1),
        }
        for name, each in values.items():
            if np.isnan(each).any():
                continue
            ends = [percentile(each[:-1], [50 - s / 2, 50 + s / 2]) for s in SHARES]
            inside[name].append([low <= each[-1] <= high for low, high in ends])
        # A limit at a level of the true spread, drawn anew.
        level = np.median(values["roll"][:-1]) * np.exp(rng.normal(0.0, 0.25))
        stated.append(np.mean(values["roll"][:-1] <= level))
        kept.append(bool(values["roll"][-1] <= level))
    bins = {}
    for low, high in ((0.0, 0.2), (0.2, 0.4), (0.4, 0.6), (0.6, 0.8), (0.8, 0.9), (0.9, 1.01)):
        here = (np.array(stated) >= low) & (np.array(stated) < high)
        bins[f"{100 * low:.0f}-{100 * min(high, 1):.0f}"] = (
            int(here.sum()),
            round(100.0 * float(np.mean(np.array(stated)[here])), 1),
            round(100.0 * float(np.mean(np.array(kept)[here])), 1),
        )
    shares = {
        name: dict(zip(SHARES, np.round(100.0 * np.mean(hits, axis=0), 1).tolist(), strict=True))
        for name, hits in inside.items()
    }
    return {"passages": passages, "draws": draws, **shares, "odds: number, stated, kept": bins}


if __name__ == "__main__":
    made = calibration(*(int(value) for value in sys.argv[1:3] or (2000, 64)))
    for key, value in made.items():
        print(f"{key}: {value}")
