"""Whether the loop is stable: Routh, two counts of turns and the margins agree."""

import numpy as np
from numpy.testing import assert_allclose
from roll_direct import stable_direct

from passage.physics.fins.force import Fins
from passage.physics.roll.fin_margins import loop_margins
from passage.physics.roll.response import HullRoll
from passage.physics.roll.steadiness import stable, turned_gains


def loops(n, pairs, seed):
    rng = np.random.default_rng(seed)
    w0, shape = rng.uniform(0.5, 1.5, n), (n, pairs)
    damping = 2.0 * rng.uniform(0.02, 0.15, n) * w0
    return (
        w0, damping, rng.uniform(0.02, 0.6, shape), rng.uniform(0.0, 1.0, shape),
        rng.uniform(-1.0, 8.0, shape),
        rng.choice([1.0, 1.0, -0.1], shape) * 10.0 ** rng.uniform(-0.5, 1.7, shape),
        rng.uniform(0.0, 4.0, shape), rng.uniform(0.02, 0.6, shape),
    )  # fmt: skip


def each(given, delay):
    arrays = (*given, delay)
    return np.array([stable(*(a[i] for a in arrays)) for i in range(given[0].size)])


def test_with_next_to_no_delay_the_count_is_rouths_test():
    for pairs in (1, 2):
        given = loops(300, pairs, pairs)
        none, little = np.zeros(given[2].shape), np.full(given[2].shape, 1e-6)
        routh = each(given, none)
        assert 0.1 < routh.mean() < 0.9
        assert (each(given, little) == routh).mean() > 0.99


def test_with_delay_it_is_a_plain_count_of_turns():
    for pairs in (1, 2):
        given = loops(200, pairs, 10 + pairs)
        delay = np.random.default_rng(5).uniform(0.0, 0.6, given[2].shape)
        found = each(given, delay)
        assert 0.05 < found.mean() < 0.95
        assert (found == stable_direct(*given, delay)).mean() > 0.99


def test_steady_is_what_has_a_gain_margin_above_one():
    given = loops(300, 1, 7)
    w0, damping, moment, inflow, k1, k2, k3, lag = given
    # A loop that is steady at some gains only has no single margin: no gain on angle below 0.
    k1, k2 = np.abs(k1), np.abs(k2)
    delay = np.random.default_rng(6).uniform(0.05, 0.5, moment.shape)
    fins = Fins(
        moment, inflow, 0.4, lag_s=lag, angle_gain=k1, rate_gain_s=k2, acceleration_gain_s2=k3,
        delay_s=delay,
    )  # fmt: skip
    factor = loop_margins(HullRoll(w0, damping / (2.0 * w0)), fins).gain_factor
    found = each((w0, damping, moment, inflow, k1, k2, k3, lag), delay)
    clear = np.abs(factor - 1.0) > 0.01
    assert 0.05 < found.mean() < 0.95
    assert (found == (factor > 1.0))[clear].all()


def test_gains_turn_by_the_angle_of_the_delay():
    omega, delay = 1.3, 0.4
    c1, k2 = turned_gains(0.7, 2.0, omega, delay)
    whole = (0.7 + 2.0j * omega) * np.exp(-1j * omega * delay)
    assert_allclose([c1, omega * k2], [whole.real, whole.imag], rtol=1e-14)
    assert_allclose(turned_gains(0.7, 2.0, 0.0, delay), [0.7, 2.0 - 0.7 * delay], rtol=1e-14)
