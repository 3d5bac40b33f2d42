"""Margins of the fins' loop against closed forms, Routh's test and the time simulation."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from time_domain import _step_all

from passage.physics.fins.force import Fins
from passage.physics.roll.fin_margins import LEAST_GAIN_MARGIN, loop_margins, open_loop
from passage.physics.roll.response import HullRoll
from passage.physics.roll.steadiness import stable

W0 = 2 * np.pi / 7.0
HULL = HullRoll(natural_frequency_rad_s=W0, damping_ratio=0.06, quadratic_damping_per_rad=0.0)
FINS = Fins(
    moment_ratio=np.array([0.5]),
    inflow_time_s=np.array([0.3]),
    angle_limit_rad=np.array([0.4]),
    rate_limit_rad_s=np.array([0.5]),
    lag_s=np.array([0.2]),
    angle_gain=np.array([0.5]),
    rate_gain_s=np.array([1.5]),
    acceleration_gain_s2=np.array([0.3]),
)


def late(fins, delay):
    return replace(fins, delay_s=np.array([delay]))


def scaled(factor):
    return replace(
        FINS,
        angle_gain=factor * FINS.angle_gain,
        rate_gain_s=factor * FINS.rate_gain_s,
        acceleration_gain_s2=factor * FINS.acceleration_gain_s2,
    )


@pytest.mark.parametrize("delay", [0.1, 0.2, 0.4])
def test_at_the_hunting_gain_the_loop_is_minus_one(delay):
    found = loop_margins(HULL, late(FINS, delay))
    omega = np.array([2 * np.pi / float(found.hunting_period_s)])
    value = open_loop(omega, HULL, late(scaled(float(found.gain_factor)), delay))
    # 3,000 frequencies, joined by straight lines.
    assert_allclose(value, -1.0, atol=2e-3)
    # Gains given as a multiple: the margin is what is left.
    assert_allclose(
        loop_margins(HULL, late(scaled(2.0), delay)).gain_factor, found.gain_factor / 2.0, rtol=1e-9
    )


def test_more_delay_leaves_less_margin():
    found = [loop_margins(HULL, late(FINS, d)) for d in (0.05, 0.1, 0.2, 0.4, 0.8)]
    assert np.all(np.diff([float(one.gain_factor) for one in found]) < 0)
    assert np.all(np.diff([float(one.hunting_period_s) for one in found]) > 0)
    assert LEAST_GAIN_MARGIN == 2.0


def test_without_delay_it_is_where_the_polynomial_stops_being_stable():
    fins = replace(FINS, rate_gain_s=np.array([-0.9]))
    factor = float(loop_margins(HULL, fins).gain_factor)

    def steady(g):
        return stable(
            W0, 2 * 0.06 * W0, FINS.moment_ratio, FINS.inflow_time_s, g * FINS.angle_gain,
            g * fins.rate_gain_s, g * FINS.acceleration_gain_s2, FINS.lag_s, np.zeros(1),
        )  # fmt: skip

    assert steady(0.99 * factor)
    assert not steady(1.01 * factor)
    assert np.isinf(loop_margins(HULL, FINS).gain_factor)


def kicked(gain, delay, step=0.005, seconds=120.0):
    """Roll of the time simulation in still water after a heel of a thousandth."""
    ship = [W0, 0.06, 0.0, 0.5, 0.3, 9.0, 99.0, 0.2, 99.0, 0.0]
    k = [float(x[0]) for x in (FINS.angle_gain, FINS.rate_gain_s, FINS.acceleration_gain_s2)]
    p = np.array([*ship, *(gain * x for x in k), 0.0, 0.0, 600.0, delay])
    count = int(seconds / step)
    slope = np.zeros(2 * count + 4)
    slope[:100] = 1e-3
    out = np.zeros((count, 10))
    _step_all(slope, step, p, 0.0, out)
    return np.arange(count) * step, out[:, 0]


@pytest.mark.parametrize("delay", [0.1, 0.3])
def test_the_time_simulation_hunts_from_that_gain_on_with_that_period(delay):
    found = loop_margins(HULL, late(FINS, delay))
    factor, period = float(found.gain_factor), float(found.hunting_period_s)

    def growth(gain):
        """Roll rate of the last 20 s over that of the first, and the roll."""
        roll = kicked(gain, delay)[1]
        rate = np.diff(roll)
        return np.ptp(rate[-4000:]) / np.ptp(rate[:4000]), roll[-8000:]

    assert growth(0.97 * factor)[0] < 0.01
    grew, last = growth(1.03 * factor)
    assert grew > 10.0
    crossings = np.count_nonzero(np.diff(np.sign(last - np.mean(last))) > 0)
    # The fins reach their limits by then, which makes the period a little longer.
    assert_allclose(40.0 / crossings, period, rtol=0.1)


def test_missing_stays_missing_and_shapes_follow():
    hull = replace(HULL, damping_ratio=np.array([0.06, np.nan, 0.06]))
    fins = replace(FINS, moment_ratio=np.array([[0.5], [0.5], [0.0]]))
    found = loop_margins(hull, late(fins, 0.2))
    assert found.gain_factor.shape == (3,)
    assert np.isnan(found.gain_factor[1])
    assert np.isinf(found.gain_factor[2])
