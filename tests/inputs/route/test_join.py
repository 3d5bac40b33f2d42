"""The rest of a route from a position: nothing of it is lost, nothing added but the way there."""

import pytest
from numpy.testing import assert_allclose

from passage.errors import RouteError
from passage.inputs.route import Waypoint, build_route
from passage.inputs.route.geometry import WGS84, rhumb_points
from passage.inputs.route.join import MOST_OFF_NM, join_route
from passage.units import NM_M

PLACES = [("A", 48.0, -7.0), ("B", 47.0, -7.0), ("C", 46.0, -8.0), ("D", 45.0, -8.0)]


@pytest.fixture
def whole():
    points = [
        Waypoint(name=n, lat_deg=a, lon_deg=o, speed_kn=9.0 + i, stay_h=3.0 * (n == "C"))
        for i, (n, a, o) in enumerate(PLACES)
    ]
    return build_route("made", "made", points)


def test_from_its_first_waypoint_it_is_the_route(whole):
    joined = join_route(whole, 48.0, -7.0)
    assert [leg.label for leg in joined.route.legs[1:]] == [leg.label for leg in whole.legs[1:]]
    assert_allclose(joined.route.distance_m, whole.distance_m, rtol=1e-9)
    assert (joined.leg, joined.first) == (1, 1)
    assert [leg.speed_kn for leg in joined.route.legs] == [leg.speed_kn for leg in whole.legs]


@pytest.mark.parametrize("share", [0.1, 0.5, 0.93])
def test_sailed_and_remaining_distance_add_up_to_the_route(whole, share):
    at = rhumb_points(47.0, -7.0, 46.0, -8.0, share)
    joined = join_route(whole, float(at.lat_deg), float(at.lon_deg))
    assert (joined.leg, joined.first) == (2, 1)
    behind = whole.legs[0].distance_m + share * whole.legs[1].distance_m
    assert_allclose(joined.route.distance_m, whole.distance_m - behind, atol=2.0)
    assert f"{behind / NM_M:.1f} nm of the route lie behind" in joined.route.notes[-1]
    # The stay to come is still there.
    assert [leg.kind for leg in joined.route.legs] == ["rhumb", "stay", "rhumb"]


def test_off_the_route_a_leg_leads_to_its_nearest_point(whole):
    lon, lat, _ = WGS84.fwd(-7.0, 47.5, 90.0, 6.0 * NM_M)
    joined = join_route(whole, lat, lon)
    assert (joined.leg, joined.first) == (1, 2)
    first, second = joined.route.legs[:2]
    assert_allclose(first.distance_m, 6.0 * NM_M, rtol=1e-6)
    assert first.speed_kn == second.speed_kn == whole.legs[0].speed_kn
    assert_allclose(first.course_true_deg, 270.0, atol=0.2)
    assert "6.0 nm from the route, on leg 1" in joined.route.notes[-1]


def test_at_a_waypoint_the_earlier_legs_are_dropped(whole):
    joined = join_route(whole, 46.0, -8.0)
    assert (joined.leg, joined.first) == (4, 1)
    assert [leg.name_to for leg in joined.route.legs] == ["D"]


def test_too_far_off_or_at_the_end_is_refused(whole):
    lon, lat, _ = WGS84.fwd(-7.0, 47.5, 90.0, (MOST_OFF_NM + 1.0) * NM_M)
    with pytest.raises(RouteError, match=r"31 nm from the route .*leg 1"):
        join_route(whole, lat, lon)
    with pytest.raises(RouteError, match="at the end of the route already"):
        join_route(whole, 45.0, -8.0)
