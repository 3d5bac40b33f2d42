"""A route of its own: against every path of small graphs, the great circle, and what is closed."""

import json
from dataclasses import replace

import numpy as np
import pytest
from planning_scenario import UniformForecast, yacht

from passage.errors import RouteError
from passage.inputs.coast.coastline import distance_to_land_nm, legs_over_land
from passage.inputs.route import Waypoint
from passage.inputs.route.geometry import great_circle_inverse
from passage.planning.suggest import paths
from passage.planning.suggest.closed import (
    Closed,
    NoGo,
    areas_elsewhere,
    crosses,
    inside,
    read_no_go,
)
from passage.planning.suggest.cost import EdgeTable
from passage.planning.suggest.grid import GRID_ERROR, Graph, GridPlan, make_graph, moves
from passage.planning.suggest.paths import Search
from passage.planning.suggest.search import SearchOptions, _joined, grid_plan, search_route
from passage.units import m_to_nm

LAST = 90


def small(seed, nodes=6, holes=0.1):
    """A random graph with random prices over time; some unknown."""
    rng = np.random.default_rng(seed)
    pairs = [
        (a, b)
        for a in range(nodes)
        for b in range(nodes)
        if a != b and a != 1 and b != 0 and rng.random() < 0.75
    ]
    tail, head = np.array(sorted(pairs)).T
    edges = tail.size
    flat = np.zeros(edges)
    graph = Graph(
        np.zeros(nodes), np.zeros(nodes), tail, head, flat + 1.0, flat, flat, flat,
        np.zeros(edges, int), np.searchsorted(tail, np.arange(nodes + 1)),
    )  # fmt: skip
    columns = 4
    size = edges * columns
    fuel = rng.uniform(5.0, 50.0, size)
    fuel[rng.random(size) < holes] = np.nan
    table = EdgeTable(
        origin_s=0.0,
        step_s=3600.0,
        offset=columns * np.arange(edges + 1),
        first=np.zeros(edges, int),
        hours=rng.uniform(0.1, 0.6, size),
        fuel_l=fuel,
        roll_deg=rng.uniform(1.0, 9.0, size),
        nominal_hours=np.full(edges, 0.4),
    )
    return graph, table


def price(table, e, k):
    """Hours, litres and roll of an edge left at a step, by numpy's own interpolation."""
    at = (k * paths.STEP_S / 3600.0 + 0.5 * table.nominal_hours[e]) - table.first[e]
    rows = slice(table.offset[e], table.offset[e + 1])
    count = table.offset[e + 1] - table.offset[e]
    if not 0 <= at <= count - 1:
        return None
    low = min(int(at), count - 2)
    values = [np.asarray(x)[rows] for x in (table.hours, table.fuel_l, table.roll_deg)]
    if any(np.isnan(x[low : low + 2]).any() for x in values):
        return None
    return [float(np.interp(at, np.arange(count), x)) for x in values]


def every_path(graph, table, cap=np.inf):
    """All ways from start to end in time, as (fuel, degree hours, worst roll, edges)."""
    found = []

    def go(node, k, fuel, rough, worst, edges):
        if node == 1:
            found.append((fuel, rough, worst, tuple(edges)))
            return
        for e in range(graph.first_edge[node], graph.first_edge[node + 1]):
            cost = price(table, e, k)
            if cost is None or cost[2] > cap:
                continue
            later = k + max(1, int(np.rint(cost[0] * 3600.0 / paths.STEP_S)))
            if later <= LAST:
                go(int(graph.head[e]), later, fuel + cost[1], rough + cost[2] * cost[0],
                   max(worst, cost[2]), [*edges, e])  # fmt: skip

    go(0, 0, 0.0, 0.0, 0.0, [])
    return found


@pytest.mark.parametrize("seed", range(8))
def test_least_cost_is_that_of_every_path(seed):
    graph, table = small(seed)
    search = Search(graph, table, LAST)
    ways = every_path(graph, table)
    for fuel, rough in ((1.0, 0.0), (0.0, 1.0), (1.0, 3.0)):
        best = search.best(fuel, rough)
        least = min((fuel * w[0] + rough * w[1] for w in ways), default=None)
        assert (best is None) == (least is None)
        if best is not None:
            np.testing.assert_allclose(fuel * best.fuel_l + rough * best.roll_hours, least,
                                       rtol=1e-12)  # fmt: skip
            assert best.edges in {w[3] for w in ways}


@pytest.mark.parametrize("seed", range(8))
def test_roll_limit_is_that_of_every_path(seed):
    graph, table = small(seed)
    search = Search(graph, table, LAST)
    for cap in (2.0, 4.0, 6.0):
        best = search.best(1.0, 0.0, cap)
        least = min((w[0] for w in every_path(graph, table, cap)), default=None)
        assert (best is None) == (least is None)
        if best is not None:
            np.testing.assert_allclose(best.fuel_l, least, rtol=1e-12)
            assert best.worst_roll_deg <= cap
            # What is seen before a search never shuts a way that there is.
            assert _joined(graph, table, SearchOptions(0.0, 12.0, roll_limit_deg=cap))
    assert not _joined(graph, table, SearchOptions(0.0, 12.0, roll_limit_deg=1e-9))


@pytest.mark.parametrize("seed", range(8))
def test_budget_is_that_of_every_path(seed):
    graph, table = small(seed)
    search = Search(graph, table, LAST)
    ways = every_path(graph, table)
    rough = np.array([w[1] for w in ways])
    gaps = 0
    for budget in np.linspace(0.9 * rough.min(), 1.1 * np.quantile(rough, 0.4), 25):
        best = search.within_budget(float(budget))
        within = [w[0] for w in ways if w[1] <= budget]
        assert (best is None) == (not within)
        if within:
            np.testing.assert_allclose(best.fuel_l, min(within), rtol=1e-12)
            assert best.roll_hours <= budget * (1.0 + 1e-9)
            gaps += 1
    assert gaps > 10


def test_early_is_not_always_better():
    # The quick first edge meets a costly second one; only the slow one is cheap in the end.
    graph = Graph(
        np.zeros(4), np.zeros(4), np.array([0, 0, 2, 3]), np.array([2, 3, 1, 2]), np.ones(4),
        np.zeros(4), np.zeros(4), np.zeros(4), np.zeros(4, int), np.array([0, 2, 2, 3, 4]),
    )  # fmt: skip
    hours = np.array([0.2, 0.2, 0.2, 1.0])
    fuel = np.array([[5.0] * 4, [3.0] * 4, [90.0, 90.0, 10.0, 10.0], [3.0] * 4])
    table = EdgeTable(0.0, 3600.0, 4 * np.arange(5), np.zeros(4, int), np.repeat(hours, 4),
                      fuel.ravel(), np.ones(16), hours)  # fmt: skip
    best = Search(graph, table, 200).best(1.0, 0.0)
    assert best.edges == (1, 3, 2)


def test_moves_are_the_directions_of_the_grid():
    steps = moves()
    assert len(steps) == len(set(steps)) == 48
    bearings = np.sort([np.degrees(np.arctan2(b, a)) % 360.0 for a, b in steps])
    gaps = np.diff(np.r_[bearings, bearings[0] + 360.0])
    # The longest detour between two headings is met half-way between them.
    np.testing.assert_allclose(1.0 / np.cos(np.radians(gaps.max()) / 2.0), GRID_ERROR, rtol=1e-12)


def points(start, end):
    return [
        Waypoint(name=name, lat_deg=p[0], lon_deg=p[1])
        for name, p in zip("AB", (start, end), strict=True)
    ]


OCEAN = ((46.0, -20.0), (43.5, -17.5))


def search(start, end, forecast=None, **options):
    given = {"corridor_nm": 40.0, "cell_nm": 10.0, "margin_nm": 3.0} | options
    made = SearchOptions(0.0, 12.0, **given)
    sea = forecast or UniformForecast()
    return search_route(yacht(), *points(start, end), sea, made)


def test_uniform_sea_gives_the_great_circle():
    # Published: the shortest line on the ellipsoid is the geodesic (pyproj's Geod).
    for objective in ("fuel", "comfort"):
        found = search(*OCEAN, objective=objective)
        length = sum(leg.distance_m for leg in found.route.legs)
        straight, _ = great_circle_inverse(*OCEAN[0], *OCEAN[1])
        # In a sea that is the same everywhere only the heading matters, and a detour of
        # 48 headings never pays by more than the grid's own error.
        np.testing.assert_allclose(length, float(straight), rtol=GRID_ERROR - 1.0)


def test_flat_calm_gives_the_great_circle_exactly():
    found = search(*OCEAN, UniformForecast(height_m=0.0))
    straight, _ = great_circle_inverse(*OCEAN[0], *OCEAN[1])
    length = sum(leg.distance_m for leg in found.route.legs)
    # Rhumb legs of up to 60 nm along it: a few parts in a hundred thousand longer.
    np.testing.assert_allclose(length, float(straight), rtol=5e-5)


@pytest.mark.parametrize("turn", [7.0, 20.0, 33.0])
def test_turned_grid_stays_within_the_grid_error(turn, monkeypatch):
    from passage.planning.suggest import search as route_search

    plain = grid_plan

    def turned(start, end, options):
        return replace(plain(start, end, options), turn_deg=turn)

    monkeypatch.setattr(route_search, "grid_plan", turned)
    # Wide enough for the turned grid to hold the straight line.
    found = search(*OCEAN, UniformForecast(height_m=0.0), cell_nm=10.0, corridor_nm=120.0)
    straight, _ = great_circle_inverse(*OCEAN[0], *OCEAN[1])
    length = found.route.distance_m
    assert float(straight) * (1.0 - 1e-6) <= length <= float(straight) * GRID_ERROR * (1.0 + 1e-3)


def test_price_of_the_straight_path_is_that_of_a_plan():
    from passage.inputs.route import make_track
    from passage.planning.plan.plan import PlanOptions, plan
    from passage.planning.voyage.prepare import Passage

    boat = yacht()
    made = SearchOptions(0.0, 12.0, corridor_nm=20.0, cell_nm=10.0)
    found = search_route(boat, *points(*OCEAN), UniformForecast(height_m=0.0), made)
    track = make_track(found.route, 12.0)
    planned = plan(
        Passage(boat.vessel, found.route, boat, track, 12.0, None),
        UniformForecast(height_m=0.0),
        PlanOptions(0.0, 12.0),
    )
    np.testing.assert_allclose(found.path.fuel_l, planned.totals["fuel_l"], rtol=1e-4)
    np.testing.assert_allclose(found.path.hours, planned.totals["hours"], rtol=1e-4)


def square(south, north, west, east):
    ring = [(west, south), (east, south), (east, north), (west, north), (west, south)]
    return NoGo("closed", (np.array(ring),))


def test_no_go_area_is_gone_round():
    area = square(44.4, 45.1, -19.3, -18.2)
    free = search(*OCEAN, UniformForecast(height_m=0.0))
    found = search(*OCEAN, UniformForecast(height_m=0.0), no_go=(area,))
    assert found.path.fuel_l > free.path.fuel_l
    for leg in found.route.legs:
        ends = [np.array([x]) for x in (leg.lat_from_deg, leg.lon_from_deg, leg.lat_to_deg,
                                        leg.lon_to_deg)]  # fmt: skip
        assert not crosses(area, *ends).any()
    assert any(
        crosses(area, *(np.array([x]) for x in (leg.lat_from_deg, leg.lon_from_deg,
                                                leg.lat_to_deg, leg.lon_to_deg))).any()
        for leg in free.route.legs
    )  # fmt: skip


def test_land_is_gone_round_with_its_margin():
    # From the Iroise to the Bay of Seine side of Brittany: the straight line is land.
    start, end = (47.4, -4.6), (48.9, -3.4)
    found = search(start, end, corridor_nm=60.0, cell_nm=6.0, longest=2.6, margin_nm=2.0)
    assert legs_over_land(found.route) == ()
    lat = np.array([leg.lat_to_deg for leg in found.route.legs[:-1]])
    lon = np.array([leg.lon_to_deg for leg in found.route.legs[:-1]])
    to_ends = np.minimum(
        *(
            m_to_nm(np.asarray(great_circle_inverse(np.full(lat.shape, p[0]),
                                                    np.full(lat.shape, p[1]), lat, lon)[0]))
            for p in (start, end)
        )
    )  # fmt: skip
    assert np.all(distance_to_land_nm(lat, lon) >= np.minimum(2.0, 0.5 * to_ends) - 1e-6)


def test_an_enclosed_start_is_reported():
    with pytest.raises(RouteError, match="not joined"):
        search(*OCEAN, no_go=(square(45.9, 46.1, -20.1, -19.9),))


def test_unknown_depth_is_closed():
    with pytest.raises(RouteError, match="needs a depth"):
        search(*OCEAN, least_depth_m=10.0)


def test_a_forecast_that_ends_closes_the_way():
    with pytest.raises(RouteError, match="is covered by the forecast from end to end"):
        search(*OCEAN, UniformForecast(until_s=3.0 * 3600.0))


def test_corridor_and_box_are_kept():
    plan = GridPlan(*OCEAN, cell_nm=10.0, width_nm=30.0)
    graph = make_graph(plan)
    box = (44.0, 46.2, -20.5, -17.0)
    inner = make_graph(replace(plan, box=box))
    assert 2 < inner.lat_deg.size < graph.lat_deg.size
    rest = slice(2, None)
    assert np.all((inner.lat_deg[rest] >= box[0]) & (inner.lat_deg[rest] <= box[1]))
    assert np.all((inner.lon_deg[rest] >= box[2]) & (inner.lon_deg[rest] <= box[3]))


def test_grid_across_the_antimeridian():
    graph = make_graph(GridPlan((10.0, 178.5), (9.0, -178.5), 20.0, 60.0))
    assert graph.length_m.max() < 20.0 * 1852.0 * 4.0 * np.sqrt(2.0) * 1.1


def test_inside_by_even_odd_rule():
    outer = np.array([(0.0, 0.0), (4.0, 0.0), (4.0, 4.0), (0.0, 4.0), (0.0, 0.0)])
    hole = 1.0 + 0.5 * outer
    area = NoGo("ring", (outer, hole))
    lat, lon = np.array([0.5, 2.0, 5.0]), np.array([0.5, 2.0, 2.0])
    assert inside(area, lat, lon).tolist() == [True, False, False]


def test_closed_margin_shrinks_towards_the_ends():
    # A place 1 nm off the coast: closed in passing, open when it is the way out of port.
    lat, lon = np.array([47.79]), np.array([-4.42])
    off = float(distance_to_land_nm(lat, lon)[0])
    assert 0.0 < off < 3.0
    far = ((46.0, -8.0), (45.0, -9.0))
    near = ((float(lat[0]), float(lon[0]) + 0.01), (45.0, -9.0))
    assert Closed(off + 1.0, far).nodes(lat, lon)[0]
    assert not Closed(off + 1.0, near).nodes(lat, lon)[0]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("{", "is not JSON"),
        ("[]", "holds no polygon"),
        (json.dumps({"type": "Point", "coordinates": [0, 0]}), "holds no polygon"),
        (json.dumps({"type": "Polygon", "coordinates": [[[0, 0], [1, 1]]]}), "four positions"),
        (json.dumps({"type": "Polygon", "coordinates": [[[0, 95]] * 4]}), "beyond 90"),
        (json.dumps({"type": "Polygon", "coordinates": [["x"] * 4]}), "area 1"),
    ],
)
def test_no_go_file_refused(tmp_path, content, words):
    file = tmp_path / "areas.geojson"
    file.write_text(content)
    with pytest.raises(RouteError, match=words):
        read_no_go(file)


def test_no_go_file_read(tmp_path):
    file = tmp_path / "areas.geojson"
    ring = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 0.0]]
    features = [
        {"type": "Feature", "properties": {"name": "range"},
         "geometry": {"type": "MultiPolygon", "coordinates": [[ring], [ring]]}},
        {"type": "Feature", "properties": None, "geometry": {"type": "Point",
                                                             "coordinates": [0, 0]}},
    ]  # fmt: skip
    file.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    said = []
    areas = read_no_go(file, said.append)
    assert [area.name for area in areas] == ["range", "range"]
    np.testing.assert_array_equal(areas[0].rings[0], np.array(ring))
    assert len(said) == 1
    assert "Point 2 of areas.geojson" in said[0]


@pytest.mark.parametrize("turn", [-360.0, 0.0, 360.0])
@pytest.mark.parametrize("date_line", [False, True])
def test_areas_nowhere_near_are_remarked_on(turn, date_line):
    ring = np.array([[-9.0, 45.0], [-6.0, 45.0], [-6.0, 46.0], [-9.0, 46.0], [-9.0, 45.0]])
    lat, lon = np.array([48.3, 43.5]), np.array([-5.75, -8.7])
    shift = [[-172.0 if date_line else 0.0, 0.0]]
    lon = (lon + shift[0][0] + 180.0) % 360.0 - 180.0
    right = NoGo("a", (ring + shift + [[turn, 0.0]],), "right.geojson")
    swapped = NoGo("b", (ring[:, ::-1],), "swapped.geojson")
    assert areas_elsewhere([right], lat, lon) == ()
    found = areas_elsewhere([right, swapped], lat, lon)
    assert len(found) == 1
    assert "No area of swapped.geojson" in found[0]
    assert areas_elsewhere([swapped, replace(right, file="swapped.geojson")], lat, lon) == ()
