"""The sweep of a season against the windows of a plan."""

import numpy as np
import pytest

from passage.planning.season.limits import sweep
from passage.planning.voyage.windows import Running


@pytest.mark.parametrize("power", [1, 2])
@pytest.mark.parametrize("window_h", [0.25, 1.0, 30.0])
@pytest.mark.parametrize("one_row", [True, False])
def test_the_sweep_is_the_window_of_a_plan(power, window_h, one_row):
    rng = np.random.default_rng(8)
    hours = rng.uniform(0.1, 0.33, (1 if one_row else 40, 36))
    values = rng.uniform(0.0, 5.0, (40, 36))
    values[20:30, 17] = np.nan
    values[30] = np.nan
    if not one_row:
        hours[5, 30:] = np.nan
    rest = np.zeros(36, bool)
    rest[12:20] = True
    made = Running(hours, np.cumsum(np.r_[False, rest[1:] != rest[:-1]]), rest, window_h).of(
        values, power=power, level=np.full(3, 2.6)
    )
    for run, (first, last) in enumerate(((0, 12), (12, 20), (20, 36))):
        worst, over, unknown = sweep(values, hours, first, last, window_h, power, 2.6)
        # Sums in another order; differences of sums lose three figures more.
        np.testing.assert_allclose(worst, made.worst[:, run], rtol=1e-9)
        np.testing.assert_allclose(over, made.over_h[:, run], atol=1e-8)
        np.testing.assert_array_equal(unknown, made.unknown[:, run])
