"""Wave groups point by point against the same formulas over arrays, which plans use."""

import numpy as np
import pytest

from passage.physics.roll.limit_fit import fit_to_time, limit_inputs
from passage.physics.roll.packing import FINS_OUT
from passage.physics.roll.wave_groups import (
    group_shares,
    group_weight,
    over_groups,
    sums_over_groups,
)
from passage.physics.tables.group_lanes import join_groups, weigh_groups
from passage.physics.tables.interpolate import PAIR_IN

COUNT = 400
OMEGA0 = 0.7


def drawn(pairs, seed):
    """Packed pairs, and answers of three seas of which some are free of every limit."""
    rng = np.random.default_rng(seed)
    packed = np.ones((len(PAIR_IN), pairs))
    packed[PAIR_IN.index("moment")] = rng.uniform(0.002, 0.06, pairs)
    packed[PAIR_IN.index("lag")] = rng.uniform(0.1, 0.3, pairs)
    packed[PAIR_IN.index("fall")] = rng.uniform(0.0, 1.0, pairs)
    fins = rng.uniform(0.1, 0.5, (3, len(FINS_OUT), COUNT, pairs))
    limited = 10.0 ** rng.uniform(-6.0, -0.3, (3, 3, COUNT, pairs))
    limited *= rng.uniform(size=limited.shape) < 0.7
    for row, less in zip(("gain", "lag", "inflow_gain"), limited, strict=True):
        fins[:, FINS_OUT.index(row)] = 1.0 - less
    lag = FINS_OUT.index("lag")
    fins[:, lag] = packed[PAIR_IN.index("lag")] / fins[:, lag]
    fins[:, FINS_OUT.index("lift_gain")] = 0.9 * fins[:, FINS_OUT.index("gain")]
    roll = rng.uniform(0.5, 1.0, (3, COUNT, 6))
    roll[2, :, 0] *= 10.0 ** rng.uniform(-0.5, 1.0, COUNT)
    return packed, fins, roll


@pytest.mark.parametrize("pairs", [1, 2])
def test_points_one_by_one_are_those_of_the_arrays(pairs):
    packed, fins, roll = drawn(pairs, seed=pairs)
    moment, lag, fall = (packed[PAIR_IN.index(name)] for name in ("moment", "lag", "fall"))
    weights = group_weight(fins[0], lag, fall, moment)
    expected = np.flatnonzero(weights > 0.0)
    shares = group_shares(weights[expected])
    each = tuple(one[:, expected] for one in fins)
    together = over_groups(each, shares)
    rolls = sums_over_groups(tuple(one[expected].T for one in roll), shares)
    limit = packed[PAIR_IN.index("limit")]
    inputs = limit_inputs(roll[:, expected], np.stack(each), lag, limit, OMEGA0)
    command = each[0][FINS_OUT.index("command")]
    fit_to_time(rolls, together, inputs, weights[expected], command, moment)
    wanted = fins[0].copy()
    wanted[:, expected] = together

    weight = np.zeros(COUNT)
    felt, driven = np.zeros(COUNT, np.int64), np.zeros(COUNT, bool)
    count = weigh_groups(COUNT, driven, packed, fins[0], weight, felt)
    assert 100 < count < COUNT
    assert np.array_equal(felt[:count], expected)
    assert weight[expected] == pytest.approx(weights[expected], rel=1e-9)
    join_groups(felt, count, OMEGA0, packed, weight, roll, fins)
    assert np.allclose(fins[0], wanted, rtol=1e-7, atol=1e-9)
    assert np.allclose(roll[0, expected].T, rolls, rtol=1e-7)


def test_fins_driven_at_rest_have_no_groups():
    packed, fins, _ = drawn(1, seed=5)
    weight = np.zeros(COUNT)
    felt, driven = np.zeros(COUNT, np.int64), np.ones(COUNT, bool)
    assert weigh_groups(COUNT, driven, packed, fins[0], weight, felt) == 0
