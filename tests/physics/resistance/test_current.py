"""Course and speed in a current: hand-drawn triangles, identities, what is infeasible."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from passage.physics.resistance.current import (
    along_and_across,
    hold_speed_over_ground,
    hold_speed_through_water,
    set_and_drift,
)

NORTH = 0.0


def test_three_four_five_triangle():
    # Course north at 5 through the water, set east 3: makes 4, steers 36.87 to port.
    track = hold_speed_through_water(NORTH, 5.0, 3.0, 0.0)
    assert_allclose(track.speed_over_ground_m_s, 4.0, rtol=1e-12)
    assert_allclose(np.rad2deg(track.drift_angle_rad), -36.8698976, rtol=1e-8)
    assert_allclose(np.rad2deg(track.heading_rad), 360 - 36.8698976, rtol=1e-8)


def test_the_water_triangle_closes():
    rng = np.random.default_rng(5)
    course = rng.uniform(0, 2 * np.pi, 50)
    u, v = rng.uniform(-2, 2, (2, 50))
    track = hold_speed_through_water(course, 6.0, u, v)
    stw, sog = track.speed_through_water_m_s, track.speed_over_ground_m_s
    assert_allclose(stw * np.sin(track.heading_rad) + u, sog * np.sin(course), rtol=0, atol=1e-12)
    assert_allclose(stw * np.cos(track.heading_rad) + v, sog * np.cos(course), rtol=0, atol=1e-12)


def test_the_two_policies_are_inverse():
    rng = np.random.default_rng(6)
    course = rng.uniform(0, 2 * np.pi, 50)
    u, v = rng.uniform(-2, 2, (2, 50))
    first = hold_speed_through_water(course, 6.0, u, v)
    second = hold_speed_over_ground(course, first.speed_over_ground_m_s, u, v)
    assert_allclose(second.speed_through_water_m_s, 6.0, rtol=1e-12)
    assert_allclose(second.heading_rad, first.heading_rad, rtol=1e-10)


def test_no_current_changes_nothing():
    track = hold_speed_through_water(1.2, 6.0, 0.0, 0.0)
    assert track.speed_over_ground_m_s == 6.0
    assert_allclose(track.heading_rad, 1.2, rtol=1e-15)


def test_out_and_back_takes_longer_in_a_current():
    # Time over d there and back at U in a stream c along it: 2 d U/(U^2 - c^2).
    out = hold_speed_through_water(NORTH, 6.0, 0.0, 1.5).speed_over_ground_m_s
    back = hold_speed_through_water(np.pi, 6.0, 0.0, 1.5).speed_over_ground_m_s
    assert_allclose(1 / out + 1 / back, 2 * 6.0 / (6.0**2 - 1.5**2), rtol=1e-12)
    across = hold_speed_through_water(NORTH, 6.0, 1.5, 0.0).speed_over_ground_m_s
    assert across < 6.0


@pytest.mark.parametrize(("u", "v"), [(6.0, 0.0), (7.0, 0.0), (0.0, -6.0), (3.0, -6.0)])
def test_what_cannot_be_made_good_is_missing(u, v):
    track = hold_speed_through_water(NORTH, 6.0, u, v)
    for values in (track.speed_over_ground_m_s, track.heading_rad):
        assert np.isnan(values)


def test_a_stream_faster_than_the_wanted_ground_speed_is_missing():
    track = hold_speed_over_ground(NORTH, 2.0, 0.0, 2.5)
    assert np.isnan(track.speed_through_water_m_s)


def test_set_is_where_it_goes_to():
    to, drift = set_and_drift([1.0, 0.0, -1.0, 0.0], [0.0, -2.0, 0.0, 0.0])
    assert_allclose(np.rad2deg(to), [90.0, 180.0, 270.0, np.nan], rtol=1e-7)
    assert_allclose(drift, [1.0, 2.0, 1.0, 0.0], rtol=1e-7)


def test_across_is_positive_to_starboard():
    along, across = along_and_across(NORTH, 2.0, 3.0)
    assert (along, across) == (3.0, 2.0)


@pytest.mark.parametrize("shape", [(), (4,), (2, 3), (0,)])
def test_input_forms_and_missing_current(shape):
    track = hold_speed_through_water(np.full(shape, 0.3), 5.0, 0.5, 0.1)
    assert track.speed_over_ground_m_s.shape == shape
    assert track.heading_rad.shape == shape
    lost = hold_speed_through_water(np.full(shape, 0.3), 5.0, np.nan, 0.1)
    assert np.all(np.isnan(lost.speed_over_ground_m_s))
