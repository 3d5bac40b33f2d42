"""Routes whose best way is known: a uniform current, a linear shear, a storm that passes."""

import numpy as np
import pytest
from planning_scenario import UniformForecast, yacht
from scipy.integrate import solve_ivp

from passage.inputs.route import Waypoint, build_route
from passage.inputs.route.geometry import great_circle_inverse
from passage.planning.suggest import paths
from passage.planning.suggest.best import best_route
from passage.planning.suggest.grid import make_graph
from passage.planning.suggest.search import SearchOptions, grid_plan, prepare_search
from passage.units import knots_to_m_s

SPEED_KN = 12.0
V = float(knots_to_m_s(SPEED_KN))


def way(*points):
    return build_route(
        "given",
        "given",
        [Waypoint(name=f"P{i}", lat_deg=a, lon_deg=b) for i, (a, b) in enumerate(points)],
    )


class Moving(UniformForecast):
    """A calm with a current, and a sea, that depend on place and time."""

    has_current = True

    def __init__(self, current=None, height=None):
        super().__init__(height_m=0.0, current=(0.0, 0.0))
        self._current, self._height = current, height

    def sample(self, lat_deg, lon_deg, time_s, member=0):
        made = super().sample(lat_deg, lon_deg, time_s, member)
        lat, lon, time = (
            np.broadcast_to(np.asarray(x, dtype=float), made.total_height_m.shape)
            for x in (lat_deg, lon_deg, time_s)
        )
        if self._current is not None:
            made.current_u_m_s[...], made.current_v_m_s[...] = self._current(lat, lon)
        if self._height is not None:
            height = self._height(lat, lon, time)
            made.height_m[..., 0] = height
            made.total_height_m[...] = height
        return made


@pytest.mark.parametrize(("east_kn", "north_kn"), [(2.0, 0.0), (-1.0, 2.5), (3.0, -3.0)])
def test_uniform_current_is_crossed_on_the_straight_line(east_kn, north_kn):
    # Analytic: with the water moving as one the quickest way over the ground is straight, and
    # the speed along it is sqrt(V^2 - c_across^2) + c_along. Short, so that the sea is flat.
    start, end = (1.0, -25.0), (-0.6, -26.6)
    u, v = (float(knots_to_m_s(x)) for x in (east_kn, north_kn))
    sea = Moving(lambda lat, lon: (np.full(lat.shape, u), np.full(lat.shape, v)))
    options = SearchOptions(0.0, SPEED_KN, corridor_nm=30.0, cell_nm=10.0, longest=2.0)
    found = best_route(yacht(), way(start, (0.4, -25.4), end), sea, options)
    length_m, course_deg = great_circle_inverse(*start, *end)
    course = np.radians(float(course_deg))
    along, across = u * np.sin(course) + v * np.cos(course), u * np.cos(course) - v * np.sin(course)
    hours = float(length_m) / (np.sqrt(V**2 - across**2) + along) / 3600.0
    assert found.candidates[found.best].hours == pytest.approx(hours, rel=2e-4)
    assert found.route.distance_m == pytest.approx(float(length_m), rel=2e-4)


def shear_answer(first_deg, last_deg):
    """Time [h / V] and way west [h] of Zermelo's problem in the current u = -V y / h.

    Bryson and Ho, Applied Optimal Control (1975), section 2.7, from memory: the heading
    obeys d(theta)/dt = cos^2(theta) V / h, so that V t / h = tan(last) - tan(first), and
    y / h = sec(theta) - sec(last).
    """
    a, b = np.radians(first_deg), np.radians(last_deg)
    sec_a, sec_b, tan_a, tan_b = 1 / np.cos(a), 1 / np.cos(b), np.tan(a), np.tan(b)
    west = -0.5 * (
        sec_b * (tan_b - tan_a)
        - tan_a * (sec_b - sec_a)
        + np.log((tan_b + sec_b) / (tan_a + sec_a))
    )
    return tan_b - tan_a, west


def test_published_example_of_the_shear():
    # Bryson and Ho's own figure, from memory: from 3.66 h, -1.86 h with headings from 105 to
    # 240 degrees, in 5.46 h / V.
    time, west = shear_answer(105.0, 240.0)
    assert time == pytest.approx(5.46, abs=0.006)
    assert west == pytest.approx(3.66, abs=0.006)
    assert 1 / np.cos(np.radians(105)) - 1 / np.cos(np.radians(240)) == pytest.approx(
        -1.86, abs=0.006
    )


def test_zermelo_in_a_linear_shear():
    time, west = shear_answer(140.0, 220.0)
    # By Zermelo's equation itself: she leaves and arrives where there is no current.
    run = solve_ivp(
        lambda t, s: [np.cos(s[2]) - s[1], np.sin(s[2]), np.cos(s[2]) ** 2],
        (0.0, time), [0.0, 0.0, np.radians(140.0)], rtol=1e-9, atol=1e-9,
    )  # fmt: skip
    np.testing.assert_allclose(run.y[:2, -1], [-west, 0.0], atol=1e-6)
    assert time < 0.91 * west
    metres_lat = float(great_circle_inverse(0.0, -25.0, 0.1, -25.0)[0]) * 10.0
    metres_lon = float(great_circle_inverse(0.0, -25.0, 0.0, -25.1)[0]) * 10.0
    h = 100.0 * 1852.0
    sea = Moving(lambda lat, lon: (-V * lat * metres_lat / h, np.zeros(lat.shape)))
    end = (0.0, -25.0 - west * h / metres_lon)
    options = SearchOptions(0.0, SPEED_KN, corridor_nm=60.0, cell_nm=10.0)
    found = best_route(yacht(), way((0.0, -25.0), end), sea, options)
    hours = time * h / V / 3600.0
    mine = found.candidates[found.best].hours
    assert hours * (1.0 - 1e-3) < mine < hours * 1.003
    # The published path is off by sec(180) - sec(220) at its furthest. [h]
    furthest = max(point.lat_deg for point in found.route.waypoints) * metres_lat / h
    assert furthest == pytest.approx(-1.0 - 1.0 / np.cos(np.radians(220.0)), abs=0.06)


def storm(lat, lon, time_s):
    """Six metres in the middle, moving east across the way at 20 kn."""
    hours = time_s / 3600.0
    north, east = 60.0 * (lat - 44.9), 60.0 * 0.7 * (lon + 20.5) - 20.0 * hours
    return 6.0 * np.exp(-(north**2 + east**2) / (2.0 * 45.0**2))


def test_moving_storm_is_met_as_by_brute_force():
    boat, sea = yacht(), Moving(height=storm)
    start, end = (46.0, -20.0), (43.9, -18.9)
    options = SearchOptions(0.0, SPEED_KN, corridor_nm=70.0, cell_nm=34.0, longest=1.6)
    graph = make_graph(grid_plan(start, end, options))
    search, table = prepare_search(boat, graph, sea, options)
    limit = int(np.floor(options.longest * float(great_circle_inverse(*start, *end)[0]) / V / 60.0))
    best = {"fuel": np.inf, "rough": np.inf}
    count = 0

    def go(node, k, fuel, rough):
        nonlocal count
        if node == 1:
            count += 1
            best["fuel"] = min(best["fuel"], fuel)
            best["rough"] = min(best["rough"], rough)
            return
        for e in range(graph.first_edge[node], graph.first_edge[node + 1]):
            columns = np.arange(table.offset[e + 1] - table.offset[e])
            at = k / 60.0 + 0.5 * table.nominal_hours[e] - table.first[e]
            if columns.size == 0 or not 0.0 <= at <= columns[-1]:
                continue
            rows = slice(table.offset[e], table.offset[e + 1])
            hours, litres, roll = (
                float(np.interp(at, columns, x[rows]))
                for x in (table.hours, table.fuel_l, table.roll_deg)
            )
            later = k + max(1, int(np.rint(hours * 3600.0 / paths.STEP_S)))
            if later <= limit and np.isfinite(litres):
                go(int(graph.head[e]), later, fuel + litres, rough + roll * hours)

    go(0, 0, 0.0, 0.0)
    assert count > 200
    assert search.best(1.0, 0.0).fuel_l == pytest.approx(best["fuel"], rel=1e-12)
    assert search.best(0.0, 1.0).roll_hours == pytest.approx(best["rough"], rel=1e-12)
    # The storm is worth going round for comfort: straight through takes more.
    assert search.best(1.0, 0.0).roll_hours > best["rough"]
