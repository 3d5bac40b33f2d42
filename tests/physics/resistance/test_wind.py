"""Apparent wind, wind resistance, heeling moment: published values, identities, signs."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from passage.physics.resistance.wind import (
    BLENDERMANN_CLASSES,
    ApparentWind,
    FujiwaraShape,
    apparent_wind,
    blendermann,
    fujiwara,
    wind_at_height,
    wind_heeling_moment,
    wind_resistance,
)

KNOT = 0.5144444444444445
NORTH, EAST = 0.0, np.pi / 2
FRONT, SIDE = 70.0, 320.0


def head_on(speed):
    return ApparentWind(np.asarray(speed), np.asarray(0.0))


def test_resistance_of_a_head_wind_iso_15016():
    # Methods note section 7: 10 m/s ahead at 12 kn, A 70 m2, C 0.6: 5748.7 N.
    wind = apparent_wind(0.0, -10.0, NORTH, 12 * KNOT, NORTH)
    found = wind_resistance(wind, 12 * KNOT, 0.6, 0.6, FRONT)
    assert_allclose(found, 5748.7, rtol=0, atol=1.0)


def test_no_wind_and_no_current_is_still_air():
    wind = apparent_wind(0.0, 0.0, EAST, 6.0, EAST)
    assert_allclose(wind.speed_m_s, 6.0, rtol=1e-12)
    assert_allclose(wind.angle_rad, 0.0, rtol=0, atol=1e-12)
    found = wind_resistance(wind, 6.0, 0.6, 0.6, FRONT)
    assert_allclose(found, 0.0, rtol=0, atol=1e-9)


def test_still_air_term_of_the_note():
    # 980.4 N at 12 kn, already in the trial's power.
    found = wind_resistance(head_on(0.0), 12 * KNOT, 0.6, 0.6, FRONT)
    assert_allclose(found, -980.4, rtol=0, atol=0.1)


def test_following_wind_of_the_ships_speed_saves_all_air_drag():
    wind = apparent_wind(0.0, 6.0, NORTH, 6.0, NORTH)
    assert_allclose(wind.speed_m_s, 0.0, rtol=0, atol=1e-12)
    assert wind_resistance(wind, 6.0, 0.6, 0.6, FRONT) < 0


def test_apparent_wind_from_the_beam_draws_ahead():
    # 10 m/s from the west, ship north at 10 m/s: 45 degrees on the port bow.
    wind = apparent_wind(10.0, 0.0, NORTH, 10.0, NORTH)
    assert_allclose(wind.speed_m_s, 10 * np.sqrt(2), rtol=1e-12)
    assert_allclose(wind.angle_rad, -np.pi / 4, rtol=1e-12)


def test_turning_everything_changes_nothing():
    for turn in np.deg2rad([17.0, 130.0, 275.0]):
        cosine, sine = np.cos(turn), np.sin(turn)
        u, v = 4.0, -7.0
        turned = apparent_wind(
            u * cosine + v * sine, -u * sine + v * cosine, 0.3 + turn, 5.0, 0.4 + turn
        )
        plain = apparent_wind(u, v, 0.3, 5.0, 0.4)
        assert_allclose(turned.speed_m_s, plain.speed_m_s, rtol=1e-12)
        assert_allclose(turned.angle_rad, plain.angle_rad, rtol=1e-11)


def test_profile_is_one_at_ten_metres_and_seventh_root():
    # ISO 15016 height correction.
    assert_allclose(wind_at_height(8.0, 10.0), 8.0, rtol=1e-12)
    assert_allclose(wind_at_height(8.0, 1280.0), 16.0, rtol=1e-12)


@pytest.mark.parametrize("name", BLENDERMANN_CLASSES)
def test_blendermann_identities(name):
    # Blendermann 1994: coefficient on the frontal area ahead and astern, CDt abeam.
    row = BLENDERMANN_CLASSES[name]
    angle = np.array([0.0, np.pi, np.pi / 2, -np.pi / 2])
    resistance, side = blendermann(angle, FRONT, SIDE, name)
    assert_allclose(resistance[:2], [row.ahead, -row.astern], rtol=1e-12)
    assert_allclose(resistance[2:], 0.0, rtol=0, atol=1e-12)
    assert_allclose(side, [0, 0, -row.transverse, row.transverse], rtol=1e-12, atol=1e-12)


def test_blendermann_refuses_an_unknown_class():
    with pytest.raises(ValueError, match="is not one of passenger, ferry"):
        blendermann(0.0, FRONT, SIDE, "tug")


def test_fujiwara_example():
    # Methods note (confirmations) section 6, coefficients from public trial analysis.
    ship = FujiwaraShape(
        length_overall_m=50.0,
        beam_m=9.0,
        lateral_area_m2=320.0,
        frontal_area_m2=70.0,
        superstructure_area_m2=200.0,
        centroid_offset_m=-1.0,
        bridge_height_m=11.0,
        centroid_height_m=4.2,
    )
    angle = np.deg2rad([0, 30, 45, 60, 100, 120, 150, 180])
    expected = [0.5847, 0.5948, 0.3671, 0.1207, -0.1508, -0.4858, -0.8554, -0.5631]
    assert_allclose(fujiwara(angle, ship), expected, rtol=0, atol=6e-5)
    assert_allclose(fujiwara(-angle, ship), fujiwara(angle, ship), rtol=1e-12)
    middle = fujiwara(np.deg2rad([80.0, 90.0, 100.0]), ship)
    assert_allclose(middle[1], 0.5 * (middle[0] + middle[2]), rtol=1e-9)


def test_wind_from_port_heels_to_starboard():
    # Ship north, wind from the west: she leans east.
    wind = apparent_wind(12.0, 0.0, NORTH, 0.0, NORTH)
    side = blendermann(wind.angle_rad, FRONT, SIDE)[1]
    from_port = wind_heeling_moment(wind, side, SIDE, 4.5)
    assert from_port > 0
    other = apparent_wind(-12.0, 0.0, NORTH, 0.0, NORTH)
    from_starboard = wind_heeling_moment(
        other, blendermann(other.angle_rad, FRONT, SIDE)[1], SIDE, 4.5
    )
    assert_allclose(from_starboard, -from_port, rtol=1e-12)


def test_heeling_moment_against_the_weather_criterion():
    # 2008 IS Code A 2.3: 504 Pa over 320 m2 and 4.5 m. That pressure is that of about
    # 26 m/s at a drag coefficient of 1.22 (methods note section 6); scaled to ours.
    speed = np.sqrt(504.0 / (0.5 * 1.225 * 1.22))
    wind = ApparentWind(np.asarray(speed), np.asarray(-np.pi / 2))
    moment = wind_heeling_moment(wind, 1.22, SIDE, 4.5)
    assert_allclose(moment, 504.0 * 320.0 * 4.5, rtol=1e-12)
    # Levers: 0.13211 m at 560 t, with g = 9.81 (methods note section 6).
    assert_allclose(moment / (9.81 * 560e3), 0.13211, rtol=0, atol=1e-5)


@pytest.mark.parametrize("shape", [(), (4,), (2, 3), (0,)])
def test_input_forms(shape):
    wind = apparent_wind(np.full(shape, 3.0), 1.0, 0.2, 5.0, 0.2, 4.2)
    assert wind.speed_m_s.shape == shape
    assert blendermann(wind.angle_rad, FRONT, SIDE)[0].shape == shape


def test_missing_wind_stays_missing():
    wind = apparent_wind(np.nan, 1.0, 0.2, 5.0, 0.2)
    resistance, side = blendermann(wind.angle_rad, FRONT, SIDE)
    assert np.isnan(wind_resistance(wind, 5.0, resistance, 0.55, FRONT))
    assert np.isnan(wind_heeling_moment(wind, side, SIDE, 4.5))
