"""Tracks: segments by time, along lines and in stays."""

import math

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given, settings
from hypothesis import strategies as st

from passage.errors import RouteError
from passage.inputs.route import Waypoint, make_track
from passage.inputs.route.build import build_route
from passage.inputs.route.geometry import rhumb_inverse
from passage.units import NM_M


def route_of(*points):
    return build_route("test", "test", [Waypoint(**point) for point in points])


def at(lat, lon, **values):
    return {"name": f"{lat} {lon}", "lat_deg": lat, "lon_deg": lon, **values}


def test_segments_are_counted_by_the_time_of_the_leg():
    route = route_of(at(0, 0), at(0, 1), at(0, 1.01, speed_kn=20.0), at(1, 1.01, speed_kn=5.0))
    track = make_track(route, 10.0, minutes=20.0)
    hours = [
        leg.distance_m / NM_M / speed for leg, speed in zip(route.legs, (10, 20, 5), strict=True)
    ]
    counts = [math.ceil(h * 3.0) for h in hours]
    assert counts[1] == 1
    assert np.bincount(track.leg).tolist() == counts
    np.testing.assert_array_equal(np.unique(track.speed_kn[track.leg == 2]), [5.0])
    # Equal parts, none longer than the step.
    minutes = track.length_m / NM_M / track.speed_kn * 60.0
    assert minutes.max() <= 20.0
    assert np.ptp(track.length_m[track.leg == 0]) < 1e-6


def test_leg_of_whole_steps_gains_no_segment_by_rounding():
    route = route_of(at(0, 0), at(0, 3))
    length_nm = route.legs[0].distance_m / NM_M
    for steps in range(1, 60):
        track = make_track(route, length_nm / steps * 3.0, minutes=20.0)
        assert len(track) == steps


def test_a_stay_is_cut_too_and_does_not_move():
    route = route_of(at(50, 0), at(51, 0, stay_h=2.25), at(52, 0))
    track = make_track(route, 12.0, minutes=30.0)
    stay = track.leg == 1
    assert stay.sum() == 5
    np.testing.assert_allclose(track.stay_s[stay], 1620.0, rtol=1e-7)
    np.testing.assert_array_equal(track.length_m[stay], 0.0)
    np.testing.assert_array_equal(track.speed_kn[stay], 0.0)
    np.testing.assert_array_equal(track.lat_deg[stay], 51.0)
    assert np.isnan(track.course_rad[stay]).all()
    assert np.isfinite(track.course_rad[~stay]).all()
    np.testing.assert_array_equal(track.stay_s[~stay], 0.0)
    assert track.leg_names[1] == "stay at 51 0"


def test_ends_join_and_waypoints_are_met_exactly():
    route = route_of(at(50, -5), at(51, -6.3, stay_h=1), at(40, -20, kind="great circle"))
    track = make_track(route, 12.0)
    assert track.end_lat_deg.size == len(track) + 1
    ends = np.flatnonzero(np.diff(track.leg)) + 1
    assert track.end_lat_deg[ends].tolist() == [51.0, 51.0]
    assert (track.end_lat_deg[0], track.end_lon_deg[0]) == (50.0, -5.0)
    assert (track.end_lat_deg[-1], track.end_lon_deg[-1]) == (40.0, -20.0)


def test_middles_and_courses_of_a_great_circle_are_those_of_geographiclib():
    route = route_of(at(50, -5), at(40, -70, kind="great circle"))
    track = make_track(route, 12.0, minutes=240.0)
    line = Geodesic.WGS84.InverseLine(50, -5, 40, -70)
    for k in (0, len(track) // 2, len(track) - 1):
        there = line.Position(line.s13 * (k + 0.5) / len(track))
        assert track.lat_deg[k] == pytest.approx(there["lat2"], abs=1e-9)
        assert track.lon_deg[k] == pytest.approx(there["lon2"], abs=1e-9)
        course = math.degrees(track.course_rad[k])
        assert course == pytest.approx(there["azi2"] % 360.0, abs=1e-8)


def test_track_over_the_antimeridian_stays_in_range():
    track = make_track(route_of(at(-17, 178), at(-18, -178)), 12.0)
    assert np.all((track.lon_deg >= -180.0) & (track.lon_deg < 180.0))
    assert np.abs(np.diff(np.unwrap(track.lon_deg, period=360.0))).max() < 0.1
    assert np.ptp(track.course_rad) == 0.0


@settings(max_examples=50, deadline=None)
@given(
    lat=st.floats(-70, 70),
    lon=st.floats(-180, 179.9),
    dlat=st.floats(-10, 10),
    dlon=st.floats(-20, 20),
    speed=st.floats(3, 40),
    minutes=st.floats(5, 120),
    kind=st.sampled_from(["rhumb", "great circle"]),
)
def test_lengths_add_up_and_segments_match_their_ends(lat, lon, dlat, dlon, speed, minutes, kind):
    if abs(dlat) + abs(dlon) < 0.01:
        dlat = 1.0
    there = (lon + dlon + 180.0) % 360.0 - 180.0
    route = route_of(at(lat, lon), at(lat + dlat, there, kind=kind))
    track = make_track(route, speed, minutes)
    assert track.length_m.sum() == pytest.approx(route.distance_m, rel=1e-12)
    # Rhumb pieces between the ends measure the same; chords of a geodesic nearly.
    pieces, _ = rhumb_inverse(
        track.end_lat_deg[:-1], track.end_lon_deg[:-1],
        track.end_lat_deg[1:], track.end_lon_deg[1:],
    )  # fmt: skip
    allowed = 1e-8 if kind == "rhumb" else 1e-3
    np.testing.assert_allclose(pieces, track.length_m, rtol=allowed, atol=1e-3)


def test_arrays_cannot_be_changed():
    track = make_track(route_of(at(50, 0), at(51, 0)), 10.0)
    with pytest.raises(ValueError, match="read-only"):
        track.lat_deg[0] = 0.0


@pytest.mark.parametrize(
    ("speed", "minutes", "words"),
    [
        (0.0, 20.0, "speed 0.0 cannot"),
        (math.nan, 20.0, "speed nan cannot"),
        (math.inf, 20.0, "speed inf cannot"),
        (10.0, 0.0, "time step 0.0 cannot"),
        (10.0, 1e-9, "segments of 1e-09 minutes"),
        (1e-300, 20.0, "segments of 20 minutes"),
    ],
)
def test_absurd_steps_are_refused(speed, minutes, words):
    with pytest.raises(RouteError, match=words):
        make_track(route_of(at(50, 0), at(51, 0)), speed, minutes)


def test_route_made_in_code_takes_numpy_numbers_and_any_longitude():
    route = route_of(
        at(np.float64(50.0), np.float64(359.0), speed_kn=np.float32(10.0)),
        at(np.float64(51.0), -361.0, speed_kn=np.float64(9.0), stay_h=np.int64(2)),
    )
    leg = route.legs[0]
    assert (leg.lon_from_deg, leg.lon_to_deg) == (-1.0, -1.0)
    assert all(type(value) is float for value in (leg.lat_to_deg, leg.speed_kn, leg.distance_m))


def test_waypoint_without_a_position_is_refused_and_zero_zero_is_asked_about():
    with pytest.raises(RouteError, match="end without a position"):
        route_of(at(50.0, 0.0), at(math.nan, 0.0))
    assert "position missing" in route_of(at(0.0, 0.0), at(1.0, 0.0)).notes[0]
    assert route_of(at(0.0, 1.0), at(1.0, 0.0)).notes == ()
