"""A passage of which no point has a sea is refused, with what to do."""

from types import SimpleNamespace

import numpy as np
import pytest

from passage.errors import NoCoverage
from passage.planning.plan.plan import refuse_no_sea


def refused(time_from_s: float, time_to_s: float) -> str:
    forecast = SimpleNamespace(
        sources=[SimpleNamespace(file="one.nc")], time_from_s=time_from_s, time_to_s=time_to_s
    )
    way = SimpleNamespace(
        no_way=np.zeros(4, bool), conditions=SimpleNamespace(coverage=np.array([1, 1, 2, 2]))
    )
    with pytest.raises(NoCoverage) as caught:
        refuse_no_sea(forecast, way, SimpleNamespace(excitation=np.full((4, 3), np.nan)))
    return str(caught.value)


def test_a_single_hour_within_the_passage_is_named_with_the_way_out():
    text = refused(1773482400.0, 1773482400.0)
    assert "one.nc: holds 2026-03-14T10:00Z only" in text
    assert "--single-time" in text
    assert "50 %" in text


def test_other_gaps_are_left_to_the_look_at_the_files():
    assert "passage check" in refused(1773482400.0, 1773504000.0)
