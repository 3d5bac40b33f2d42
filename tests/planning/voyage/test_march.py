"""Sailing in time: exact where the answer is known in closed form."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from passage.planning.voyage.march import march
from passage.units import KNOT_M_S, NM_M


@pytest.fixture(scope="module")
def plan(load_helper):
    return load_helper("planning_scenario")


def test_without_current_time_is_distance_over_speed(plan):
    track = plan.track((45.0, -8.0), (47.0, -8.0))
    way = march(track, plan.UniformForecast(), 1000.0, 12 * KNOT_M_S)
    assert way.converged
    hours = track.length_m.sum() / NM_M / 12.0
    assert_allclose(way.hours.sum(), hours, rtol=1e-12)
    assert_allclose(way.end_time_s[-1], 1000.0 + hours * 3600.0, rtol=1e-12)


def test_following_and_foul_current_change_speed_over_ground(plan):
    # 2 kn to the north on a course of north, and on a course of south.
    current = (0.0, 2.0 * KNOT_M_S)
    north = plan.track((45.0, -8.0), (47.0, -8.0))
    south = plan.track((47.0, -8.0), (45.0, -8.0))
    fair = march(north, plan.UniformForecast(current=current), 0.0, 12 * KNOT_M_S)
    foul = march(south, plan.UniformForecast(current=current), 0.0, 12 * KNOT_M_S)
    assert_allclose(fair.speed_over_ground_m_s, 14 * KNOT_M_S, rtol=1e-12)
    assert_allclose(foul.speed_over_ground_m_s, 10 * KNOT_M_S, rtol=1e-12)
    # Out and back takes longer than without current: T (1 / (1 - (v/U)^2)).
    still = 2.0 * north.length_m.sum() / (12 * KNOT_M_S)
    both = fair.hours.sum() * 3600 + foul.hours.sum() * 3600
    assert_allclose(both, still / (1.0 - (2.0 / 12.0) ** 2), rtol=1e-9)


def test_holding_speed_over_ground_changes_speed_through_water(plan):
    track = plan.track((45.0, -8.0), (47.0, -8.0))
    current = (0.0, -2.0 * KNOT_M_S)
    way = march(track, plan.UniformForecast(current=current), 0.0, 10 * KNOT_M_S, hold="ground")
    assert_allclose(way.speed_over_ground_m_s, 10 * KNOT_M_S, rtol=1e-12)
    assert_allclose(way.speed_through_water_m_s, 12 * KNOT_M_S, rtol=1e-12)


def test_current_across_is_laid_off(plan):
    track = plan.track((45.0, -8.0), (47.0, -8.0))
    way = march(track, plan.UniformForecast(current=(3.0 * KNOT_M_S, 0.0)), 0.0, 12 * KNOT_M_S)
    # Current to the east: she steers to port of north by asin(3/12).
    steer = (np.degrees(way.heading_rad) + 180.0) % 360.0 - 180.0
    assert_allclose(steer, -np.degrees(np.arcsin(0.25)), rtol=1e-9)
    assert_allclose(way.speed_over_ground_m_s, 12 * KNOT_M_S * np.sqrt(1 - 1 / 16), rtol=1e-9)


def test_too_strong_a_current_gives_no_times_rather_than_wrong_ones(plan):
    track = plan.track((45.0, -8.0), (46.0, -8.0))
    way = march(track, plan.UniformForecast(current=(0.0, -13.0 * KNOT_M_S)), 0.0, 12 * KNOT_M_S)
    assert way.no_way.all()
    assert np.isnan(way.time_s).all()


def test_many_departures_and_speeds_at_once_equal_one_by_one(plan):
    track = plan.track((45.0, -8.0), (47.0, -8.0), (47.0, -9.0, 3.0), (48.0, -9.0))
    forecast = plan.UniformForecast(current=(0.3, -0.4), wind=(5.0, 5.0))
    departures = np.array([0.0, 3600.0, 7200.0])
    speeds = np.array([10.0, 12.0]) * KNOT_M_S
    way = march(track, forecast, departures[None, :], speeds[:, None, None])
    assert way.hours.shape == (2, 3, len(track))
    for i, speed in enumerate(speeds):
        for j, departure in enumerate(departures):
            one = march(track, forecast, departure, speed)
            assert_allclose(way.time_s[i, j], one.time_s, rtol=1e-12)
            assert_allclose(way.heading_rad[i, j], one.heading_rad, rtol=1e-12)


def test_stay_lasts_as_long_as_ordered_and_lies_bow_to_wind(plan):
    track = plan.track((45.0, -8.0), (46.0, -8.0, 6.0), (47.0, -8.0))
    wind_from_west = (8.0, 0.0)
    way = march(track, plan.UniformForecast(wind=wind_from_west), 0.0, 12 * KNOT_M_S)
    stay = track.length_m == 0
    assert_allclose(way.hours[stay].sum(), 6.0, rtol=1e-12)
    assert_allclose(np.degrees(way.heading_rad[stay]), 270.0, rtol=1e-9)
    assert (way.speed_through_water_m_s[stay] == 0).all()
