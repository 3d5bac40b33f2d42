"""The second round of a plan changes the list, not the sea: that is computed once.

A plan looks up three seas, for its bands take peak enhancement at either end as well; each
once in the tables of roll and once in those of motions and resistance.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from passage.inputs.forecast import open_forecast
from passage.inputs.route import read_route
from passage.inputs.vessel import read_vessel
from passage.physics.waves.table import SpeedTables
from passage.planning.plan.plan import PlanOptions, plan
from passage.planning.season.direct import direct_points
from passage.planning.voyage.prepare import prepare

SAMPLES = Path(__file__).parents[3] / "sample_forecasts"
LEAVE_S = np.datetime64("2026-03-14T06:00").astype("datetime64[s]").astype(float)


@pytest.fixture(scope="module")
def ready():
    """A passage whose fuel burnt on the way changes the list, and its sea."""
    vessel = read_vessel(SAMPLES / "brambling.toml")
    assert vessel.loading.burn
    options = PlanOptions(float(LEAVE_S), speed_kn=12.0)
    passage = prepare(vessel, read_route(SAMPLES / "direct.csv"), options)
    files = [SAMPLES / f"biscay_{name}.nc" for name in ("waves", "wind", "current")]
    with open_forecast(files) as forecast:
        yield passage, forecast, options


@pytest.fixture
def lookups(monkeypatch):
    """Counts how often a sea is looked up in the spectral tables."""
    calls = []
    real = SpeedTables.variance

    def counted(self, *args, **kwargs):
        calls.append(self)
        return real(self, *args, **kwargs)

    monkeypatch.setattr(SpeedTables, "variance", counted)
    return calls


def test_a_plan_samples_the_sea_once(ready, lookups) -> None:
    passage, forecast, options = ready
    plan(passage, forecast, options)
    assert len(lookups) == 2 * 3, "roll once, motions and resistance once, in three seas"


def test_departures_of_a_season_sample_the_sea_once(ready, lookups) -> None:
    passage, forecast, _ = ready
    direct_points(passage, forecast, np.array([LEAVE_S]))
    assert len(lookups) == 2


def test_a_constant_list_takes_one_round(ready, lookups) -> None:
    passage, forecast, options = ready
    steady = replace(passage.vessel, loading=replace(passage.vessel.loading, burn=()))
    plan(replace(passage, vessel=steady), forecast, options)
    assert len(lookups) == 2 * 3
