"""Rhumb lines and great circles on WGS84."""

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from passage.inputs.route.geometry import (
    great_circle_inverse,
    great_circle_points,
    rhumb_inverse,
    rhumb_points,
)

A_M, F = 6378137.0, 1.0 / 298.257223563
E2 = F * (2.0 - F)


def dms(text):
    degrees, minutes, seconds = (float(part) for part in text[:-1].split(":"))
    value = degrees + minutes / 60.0 + seconds / 3600.0
    return -value if text[-1] in "SW" else value


# Manual page of GeographicLib's RhumbSolve, examples: New York to Singapore, printed to
# 1 m and 0.1 second of arc.
JFK = (dms("40:38:23N"), dms("73:46:44W"))
SINGAPORE = (dms("1:21:33N"), dms("103:59:22E"))
EVERY_2000_KM = [
    ("40:38:23.0N", "73:46:44.0W"),
    ("36:24:30.3N", "51:28:26.4W"),
    ("32:10:26.8N", "30:20:57.3W"),
    ("27:56:13.2N", "10:10:54.2W"),
    ("23:41:50.1N", "9:12:45.5E"),
    ("19:27:18.7N", "27:59:22.1E"),
    ("15:12:40.2N", "46:17:01.1E"),
    ("10:57:55.9N", "64:12:52.8E"),
]


def test_rhumb_new_york_to_singapore_as_published():
    distance_m, course_deg = rhumb_inverse(*JFK, *SINGAPORE)
    assert distance_m == pytest.approx(18523563.0, abs=0.5)
    assert course_deg == pytest.approx(dms("103:34:58.2N"), abs=0.05 / 3600.0)


def test_rhumb_points_every_2000_km_as_published():
    distance_m, _ = rhumb_inverse(*JFK, *SINGAPORE)
    part = np.arange(len(EVERY_2000_KM)) * 2.0e6 / distance_m
    points = rhumb_points(*JFK, *SINGAPORE, part)
    # Half of the last place, and as much again for the rounded course of the manual:
    # 0.05 seconds of course over 14000 km are 3.4 m across the line.
    np.testing.assert_allclose(
        points.lat_deg, [dms(lat) for lat, _ in EVERY_2000_KM], rtol=0, atol=0.16 / 3600
    )
    np.testing.assert_allclose(
        points.lon_deg, [dms(lon) for _, lon in EVERY_2000_KM], rtol=0, atol=0.16 / 3600
    )


def test_rhumb_new_york_to_london_as_published():
    # Docstring of GeographicLib's Rhumb class: 40.6 N 73.8 W to 51.6 N 0.5 W.
    distance_m, course_deg = rhumb_inverse(40.6, -73.8, 51.6, -0.5)
    assert distance_m == pytest.approx(5771083.38332803, abs=1e-5)
    assert course_deg == pytest.approx(77.7683897102557, abs=1e-11)


@pytest.mark.parametrize("course_deg", [0.0, 17.0, 60.0, 89.0, 91.0, 123.0, 179.0, 250.0])
def test_rhumb_agrees_with_sailing_a_constant_course(course_deg):
    """The differential equation of a constant course, integrated step by step."""
    course = np.radians(course_deg)

    def sail(_, position):
        phi = position[0]
        root = np.sqrt(1.0 - E2 * np.sin(phi) ** 2)
        rho, nu = A_M * (1.0 - E2) / root**3, A_M / root
        return [np.cos(course) / rho, np.sin(course) / (nu * np.cos(phi))]

    length_m = 2.5e6
    start = np.radians([35.0, -20.0])
    way = solve_ivp(sail, (0.0, length_m), start, rtol=1e-12, atol=1e-14, t_eval=[1e6, length_m])
    lat, lon = np.degrees(way.y)
    distance_m, found_deg = rhumb_inverse(35.0, -20.0, lat[-1], lon[-1])
    assert distance_m == pytest.approx(length_m, abs=1e-3)
    assert (found_deg - course_deg + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=1e-9)
    middle = rhumb_points(35.0, -20.0, lat[-1], lon[-1], 1e6 / length_m)
    np.testing.assert_allclose([middle.lat_deg, middle.lon_deg], [lat[0], lon[0]], atol=1e-9)


def test_rhumb_along_a_meridian_is_the_geodesic():
    for south, north in ((0.0, 10.0), (-40.0, 55.0), (60.0, 89.999), (45.0, 45.00001)):
        distance_m, course_deg = rhumb_inverse(south, 7.0, north, 7.0)
        expected = Geodesic.WGS84.Inverse(south, 7.0, north, 7.0)["s12"]
        assert distance_m == pytest.approx(expected, abs=1e-6)
        assert course_deg == 0.0


def test_rhumb_along_a_parallel_is_the_arc_of_its_circle():
    for lat in (0.0, 30.0, -60.0, 89.9):
        phi = np.radians(lat)
        radius = A_M * np.cos(phi) / np.sqrt(1.0 - E2 * np.sin(phi) ** 2)
        distance_m, course_deg = rhumb_inverse(lat, 170.0, lat, -150.0)
        assert distance_m == pytest.approx(radius * np.radians(40.0), rel=1e-13)
        assert course_deg == 90.0


@pytest.mark.parametrize("lat", [0.0, 50.0, -72.0])
@pytest.mark.parametrize("dlat", [1e-15, 1e-12, 1e-9, 1e-6, 1e-3])
def test_rhumb_nearly_along_a_parallel_loses_no_digits(lat, dlat):
    tilted, course_deg = rhumb_inverse(lat, 0.0, lat + dlat, 20.0)
    # A right triangle on the radii at the middle latitude, good to dphi squared.
    phi, dphi = np.radians(lat + dlat / 2.0), np.radians(lat + dlat) - np.radians(lat)
    root = np.sqrt(1.0 - E2 * np.sin(phi) ** 2)
    east = A_M * np.cos(phi) / root * np.radians(20.0)
    north = A_M * (1.0 - E2) / root**3 * dphi
    assert tilted == pytest.approx(np.hypot(east, north), abs=1e-8 + 10.0 * east * dphi**2)
    expected = 90.0 - np.degrees(np.arctan2(north, east))
    assert course_deg == pytest.approx(expected, abs=1e-13 + 10.0 * dphi**2)


def test_rhumb_to_the_pole_is_the_meridian_arc():
    # Quarter meridian of WGS84: 10 001 965.729 m (GeographicLib, printed to 1 mm).
    distance_m, course_deg = rhumb_inverse(0.0, 0.0, 90.0, 0.0)
    assert distance_m == pytest.approx(10001965.729, abs=1e-3)
    assert course_deg == 0.0
    near, _ = rhumb_inverse(0.0, 0.0, 89.9999999, 170.0)
    assert np.isfinite(near)
    assert near > distance_m


angles = {
    "lat1": st.floats(-85.0, 85.0),
    "lat2": st.floats(-85.0, 85.0),
    "lon1": st.floats(-180.0, 179.9999),
    "dlon": st.floats(-179.0, 179.0),
    "part": st.floats(0.0, 1.0),
}


@settings(max_examples=200, deadline=None)
@given(**angles)
def test_rhumb_point_divides_the_line(lat1, lat2, lon1, dlon, part):
    lon2 = lon1 + dlon
    whole, course = rhumb_inverse(lat1, lon1, lat2, lon2)
    assume(whole > 1.0)
    point = rhumb_points(lat1, lon1, lat2, lon2, part)
    assert -180.0 <= point.lon_deg < 180.0
    # In halves: a part of a long line may itself have a shorter way round.
    lon_on = lon1 + dlon * 0.0 + (float(point.lon_deg) - lon1 + 540.0) % 360.0 - 180.0
    before, course_before = rhumb_inverse(lat1, lon1, point.lat_deg, lon_on)
    after, course_after = rhumb_inverse(point.lat_deg, lon_on, lat2, lon2)
    tolerance = 1e-9 * whole + 1e-6
    assert before == pytest.approx(part * whole, abs=tolerance)
    assert before + after == pytest.approx(whole, abs=tolerance)
    for piece, found in ((before, course_before), (after, course_after)):
        if piece > 1e-3 * whole and piece > 100.0:
            turned = (found - course + 180.0) % 360.0 - 180.0
            assert turned == pytest.approx(0.0, abs=1e-5)


@settings(max_examples=100, deadline=None)
@given(**angles)
def test_rhumb_is_never_shorter_than_the_geodesic(lat1, lat2, lon1, dlon, part):
    rhumb, _ = rhumb_inverse(lat1, lon1, lat2, lon1 + dlon)
    geodesic, _ = great_circle_inverse(lat1, lon1, lat2, lon1 + dlon)
    assert rhumb >= geodesic - 1e-6


@settings(max_examples=100, deadline=None)
@given(**angles)
def test_great_circle_agrees_with_geographiclib(lat1, lat2, lon1, dlon, part):
    lon2 = lon1 + dlon
    expected = Geodesic.WGS84.Inverse(lat1, lon1, lat2, lon2)
    assume(expected["s12"] > 1.0)
    # Near the antipode the course is a matter of the last digit; routes refuse it.
    assume(expected["s12"] < 1.9e7)
    distance_m, course_deg = great_circle_inverse(lat1, lon1, lat2, lon2)
    assert distance_m == pytest.approx(expected["s12"], abs=1e-6)
    turned = (course_deg - expected["azi1"] + 180.0) % 360.0 - 180.0
    assert turned * expected["s12"] == pytest.approx(0.0, abs=1e-3)
    point = great_circle_points(lat1, lon1, lat2, lon2, part)
    line = Geodesic.WGS84.InverseLine(lat1, lon1, lat2, lon2)
    there = line.Position(part * line.s13)
    off = Geodesic.WGS84.Inverse(
        there["lat2"], there["lon2"], float(point.lat_deg), float(point.lon_deg)
    )
    assert off["s12"] < 1e-3
    if abs(there["lat2"]) < 89.0:
        turned = (point.course_deg - there["azi2"] + 180.0) % 360.0 - 180.0
        assert turned == pytest.approx(0.0, abs=1e-5)


def test_great_circle_wellington_to_salamanca_as_published():
    # Documentation of GeographicLib for Python, first example: 19959679.26735382 m.
    distance_m, _ = great_circle_inverse(-41.32, 174.81, 40.96, -5.50)
    assert distance_m == pytest.approx(19959679.26735382, abs=1e-5)


@pytest.mark.parametrize("points", [rhumb_points, great_circle_points])
def test_lines_over_the_antimeridian_equal_those_elsewhere(points):
    share = np.linspace(0.0, 1.0, 9)
    here = points(10.0, -5.0, 14.0, 6.0, share)
    there = points(10.0, 175.0, 14.0, -174.0, share)
    np.testing.assert_allclose(there.lat_deg, here.lat_deg, rtol=0, atol=1e-12)
    np.testing.assert_allclose((there.lon_deg - here.lon_deg) % 360.0, 180.0, rtol=0, atol=1e-11)
    np.testing.assert_allclose(there.course_deg, here.course_deg, rtol=0, atol=1e-11)
    assert np.all((there.lon_deg >= -180.0) & (there.lon_deg < 180.0))


@pytest.mark.parametrize("solve", [rhumb_inverse, great_circle_inverse])
def test_inverse_takes_every_shape_and_lets_nan_through(solve):
    scalar, _ = solve(50.0, 0.0, 51.0, 1.0)
    assert np.shape(scalar) == ()
    table, course = solve(np.array([[50.0], [52.0]]), 0.0, np.array([51.0, 53.0, 54.0]), 1.0)
    assert table.shape == course.shape == (2, 3)
    assert table[0, 0] == pytest.approx(float(scalar), rel=1e-14)
    empty, _ = solve(np.empty(0), 0.0, np.empty(0), 1.0)
    assert empty.shape == (0,)
    gap, gap_course = solve([50.0, np.nan], 0.0, 51.0, 1.0)
    assert np.isnan(gap[1])
    assert np.isnan(gap_course[1])
    assert gap[0] == pytest.approx(float(scalar), rel=1e-14)


@pytest.mark.parametrize("points", [rhumb_points, great_circle_points])
def test_longitudes_and_courses_never_round_up_to_their_limit(points):
    # The remainder of a tiny negative number by 360 is 360 in floating point.
    tiny = 1e-16
    for lon in (-180.0, -180.0 - tiny, 180.0, 180.0 - 3e-14, 540.0):
        point = points(10.0, lon, 11.0, lon - tiny, [0.0, 0.5, 1.0])
        assert np.all((point.lon_deg >= -180.0) & (point.lon_deg < 180.0))
        assert np.all((point.course_deg >= 0.0) & (point.course_deg < 360.0))
    _, course = rhumb_inverse(10.0, 0.0, 50.0, -1e-15)
    assert 0.0 <= course < 360.0
    _, course = great_circle_inverse(10.0, 0.0, 50.0, -1e-15)
    assert 0.0 <= course < 360.0
