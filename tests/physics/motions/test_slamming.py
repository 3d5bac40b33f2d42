"""Slamming, deck wetness and propeller emergence."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from passage.physics.motions import slamming


def test_threshold_velocity():
    # Ochi (1964): 0.093 sqrt(g L); the 100 m value is for g = 9.81.
    assert slamming.slam_threshold_velocity_m_s(45.0) == pytest.approx(1.954, abs=2e-3)
    assert slamming.slam_threshold_velocity_m_s(100.0) == pytest.approx(2.913, abs=2e-3)


def test_slam_probability():
    threshold = slamming.slam_threshold_velocity_m_s(45.0)
    value = slamming.slam_probability(2.2, 1.0**2, 1.2**2, threshold)
    assert value == pytest.approx(0.02363, abs=1e-4)  # Ochi's relation, worked out by hand


def test_deck_wetness_and_propeller_have_the_same_form():
    assert slamming.deck_wetness_probability(3.0, 1.2**2) == pytest.approx(0.0439, abs=1e-4)
    assert slamming.propeller_emergence_probability(3.0, 1.2**2) == pytest.approx(0.0439, abs=1e-4)
    # Blades already out of the water, or a deck awash, are always so.
    assert slamming.propeller_emergence_probability(-0.1, 0.0) == 1.0


def test_slams_in_an_hour_of_made_relative_motion():
    """Counted in a signal: emergence, then re-entry faster than the threshold."""
    random = np.random.default_rng(11)
    omega = np.linspace(1.1, 1.3, 300)
    amplitude = np.full(omega.size, np.sqrt(2.0 / omega.size))
    m0 = np.sum(amplitude**2) / 2
    m2 = np.sum(amplitude**2 * omega**2) / 2
    draught, threshold = 1.5, 1.2
    time = np.arange(0.0, 7200.0, 0.05)
    slams, runs = 0, 6
    for _ in range(runs):
        motion = np.zeros_like(time)
        velocity = np.zeros_like(time)
        for a, w, p in zip(amplitude, omega, random.uniform(0, 2 * np.pi, omega.size), strict=True):
            motion += a * np.sin(w * time + p)
            velocity += a * w * np.cos(w * time + p)
        # Rising out of the water is taken positive; it re-enters downwards.
        back = (motion[:-1] > draught) & (motion[1:] <= draught)
        slams += np.sum(back & (velocity[1:] < -threshold))
    counted = slams / (runs * 2.0)
    p = slamming.slam_probability(draught, m0, m2, threshold)
    # About 1,600 slams in groups; three standard deviations are some 10 %.
    assert counted == pytest.approx(float(slamming.events_per_hour(p, m0, m2)), rel=0.10)


def test_customary_limits():
    # From memory: 0.03 to 100 m, 0.01 from 300 m.
    limit = slamming.slam_probability_limit([45.0, 100.0, 200.0, 300.0, 400.0])
    assert limit == pytest.approx([0.03, 0.03, 0.02, 0.01, 0.01], rel=1e-6)


def test_no_motion_no_slams():
    assert slamming.slam_probability(2.0, 0.0, 0.0, 2.0) == 0.0
    assert slamming.events_per_hour(0.0, 0.0, 0.0) == 0.0


@given(spread=st.floats(0.01, 9.0), speed=st.floats(0.01, 9.0), draught=st.floats(0.1, 5.0))
def test_probability_is_one_and_grows_with_motion(spread, speed, draught):
    p = slamming.slam_probability(draught, spread, speed, 2.0)
    assert 0.0 <= p <= 1.0
    assert slamming.slam_probability(draught, 1.2 * spread, speed, 2.0) >= p
    assert slamming.slam_probability(draught + 0.1, spread, speed, 2.0) <= p


def test_nan_never_becomes_a_number():
    nan = np.nan
    for value in (
        slamming.slam_threshold_velocity_m_s(nan),
        slamming.slam_probability_limit(nan),
        slamming.slam_probability(nan, 1.0, 1.0, 1.0),
        slamming.slam_probability(0.0, nan, 1.0, 1.0),
        slamming.slam_probability(1.0, 1.0, nan, 1.0),
        slamming.slam_probability(1.0, 1.0, nan, 0.0),
        slamming.slam_probability(1.0, 1.0, 1.0, nan),
        slamming.events_per_hour(nan, 0.0, 0.0),
        slamming.events_per_hour(0.1, nan, 1.0),
        slamming.events_per_hour(0.0, 0.0, nan),
        slamming.deck_wetness_probability(nan, 1.0),
        slamming.propeller_emergence_probability(-1.0, nan),
    ):
        assert np.isnan(value)
