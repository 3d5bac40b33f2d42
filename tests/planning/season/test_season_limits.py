"""The sweep of a season against the windows of a plan."""

from types import SimpleNamespace

import numpy as np
import pytest

from passage.planning.season.limits import passage_limits, sweep
from passage.planning.voyage.limits import LIMIT_KEYS
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


def test_a_limit_is_over_on_the_leg_of_its_largest_value_under_way_and_at_rest():
    """A stay is leg 2 of three, with a limit of its own; roll of 3 deg rms is 6 significant."""
    none = dict.fromkeys(key for _, key in LIMIT_KEYS)
    limits = SimpleNamespace(
        underway=SimpleNamespace(**none | {"roll_significant_deg": 5.0, "steady_heel_deg": 2.0}),
        at_rest=SimpleNamespace(**none | {"roll_significant_deg": 3.0}),
        window_h=1.0,
    )
    leg = np.repeat([0, 1, 2], 6)
    track = SimpleNamespace(leg=leg, length_m=np.where(leg == 1, 0.0, 1.0))
    roll = np.full((5, 18), 1.0)
    roll[1, 6:12] = 3.0
    roll[2, 12:] = 3.0
    roll[3, :6], roll[3, 6:12], roll[3, 12:] = 3.0, 2.0, 4.0
    roll[4, 6:12] = np.nan
    heel = np.zeros((5, 18))
    heel[4, 2] = -3.0
    found = passage_limits(
        SimpleNamespace(limits=limits),
        track,
        {"hours": np.full((1, 18), 0.5), "roll_active_rms_deg": roll, "steady_heel_deg": heel},
    )
    bits = [key for _, key in LIMIT_KEYS]
    at, of_heel = bits.index("roll_significant_deg"), bits.index("steady_heel_deg")
    assert found.leg_under_way[at].tolist() == [0, 0, 3, 3, 0]
    assert found.leg_at_rest[at].tolist() == [0, 2, 0, 2, 0]
    assert found.leg_under_way[of_heel].tolist() == [0, 0, 0, 0, 1]
    assert found.judged.tolist() == [True] * 5
    over = (found.leg_under_way > 0) | (found.leg_at_rest > 0)
    for bit in range(len(bits)):
        np.testing.assert_array_equal(over[bit], found.broken >> bit & 1)
