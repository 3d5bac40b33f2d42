"""Words on what the partitions leave of the total."""

from __future__ import annotations

import pytest

from passage.inputs.forecast.fields import LoadCounts
from passage.inputs.forecast.holding_words import holding_words
from passage.inputs.forecast.waves import WavePlan, plan_waves

SWELL_AND_TOTAL = [
    *("total_height", "total_peak_period", "total_from_direction"),
    *("swell_height", "swell_peak_period", "swell_from_direction"),
]


@pytest.mark.parametrize("mean", [False, True])
def test_a_rest_without_a_mean_period_of_the_total_is_called_less_certain(mean) -> None:
    plan = plan_waves([*SWELL_AND_TOTAL, *(["total_energy_period"] if mean else [])])
    assert isinstance(plan, WavePlan)
    counts = LoadCounts(sea_cells=10, rest_cells=10, period_unsolved_cells=10)
    (text,) = holding_words(counts, plan)
    assert ("No file gives a mean period" in text) != mean
    assert "wind sea" in text
