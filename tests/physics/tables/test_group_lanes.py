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
from passage.physics.tables.group_lanes import JOIN_ROWS, join_groups, weigh_groups
from passage.physics.tables.interpolate import PAIR_IN
from passage.physics.tables.lanes import DRIVEN, LANES, POINT_ROWS, WEIGHT

COUNT = 13 * LANES
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

    weight, count = weigh(packed, fins, driven=0.0), expected.size
    assert 100 < count < COUNT
    assert weight == pytest.approx(weights, rel=1e-9)
    work = np.zeros(JOIN_ROWS * LANES)
    some = np.resize(expected, -(-count // LANES) * LANES)
    joined, rolled = fins[0].copy(), roll[0].copy()
    for lanes in some.reshape(-1, LANES):
        answers, variances = in_lanes(fins[:, :, lanes]), in_lanes(roll[:, lanes].swapaxes(1, 2))
        join_groups(OMEGA0, packed, weight[lanes], variances[:, 0], answers, work)
        joined[:, lanes] = np.moveaxis(answers[0].reshape(pairs, -1, LANES), 0, -1)
        rolled[lanes] = variances[0, 0].reshape(-1, LANES).T
    assert np.allclose(joined, wanted, rtol=1e-7, atol=1e-9)
    assert np.allclose(rolled[expected].T, rolls, rtol=1e-7)


def in_lanes(values):
    """Values (3, outputs, LANES, pairs) or (3, outputs, LANES) in the order of compiled loops."""
    pairs = values.shape[3] if values.ndim == 4 else 1
    each = values.reshape(*values.shape[:3], pairs)
    return np.ascontiguousarray(np.moveaxis(each, -1, 1)).reshape(3, pairs, -1)


def weigh(packed, fins, driven):
    """Weight of groups at all points, LANES at a time."""
    v, found = np.zeros(POINT_ROWS * LANES), np.zeros(COUNT)
    v[DRIVEN : DRIVEN + LANES] = driven
    for at in range(0, COUNT, LANES):
        weigh_groups(packed, v, in_lanes(fins[:, :, at : at + LANES])[0])
        found[at : at + LANES] = v[WEIGHT : WEIGHT + LANES]
    return found


def test_fins_driven_at_rest_have_no_groups():
    packed, fins, _ = drawn(1, seed=5)
    assert np.any(weigh(packed, fins, driven=0.0) > 0.0)
    assert not np.any(weigh(packed, fins, driven=1.0))
