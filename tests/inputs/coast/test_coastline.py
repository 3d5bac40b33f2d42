"""Land on points, along legs and on maps.

Places are general geography, given to a tenth of a degree or so and chosen well clear
of the shore; "plainly land" and "plainly sea" are common knowledge, no source.
"""

import importlib.util
import itertools
import json
from pathlib import Path

import numpy as np
import pytest

from passage.inputs.coast import coastline
from passage.inputs.coast.index import load_coastline
from passage.inputs.coast.rings import clip_half_plane, thin_ring
from passage.inputs.route import Waypoint
from passage.inputs.route.build import build_route

LAND = {
    "Brittany": (48.2, -3.0),
    "Jutland": (56.0, 9.2),
    "Iberia": (40.0, -4.0),
    "Iceland": (64.8, -18.5),
    "Australia": (-25.0, 134.0),
    "Viti Levu, Fiji": (-17.8, 178.0),
    "Chukotka, west of the antimeridian": (67.0, 175.0),
    "Chukotka, on the antimeridian": (68.0, 180.0),
    "Chukotka, east of it": (67.0, -175.0),
    "Antarctica": (-80.0, 60.0),
    "South Pole": (-90.0, 0.0),
    "Madeira": (32.75, -17.0),
    "Mallorca": (39.6, 3.0),
}
SEA = {
    "Bay of Biscay": (45.5, -5.0),
    "Skagerrak": (58.0, 9.0),
    "Strait of Gibraltar": (35.95, -5.5),
    "Dover Strait": (51.0, 1.45),
    "mid-Atlantic": (40.0, -40.0),
    "Pacific on the antimeridian": (0.0, 180.0),
    "Bering Sea": (58.0, -178.0),
    "North Pole": (90.0, 0.0),
    "Caspian Sea, water within land": (42.0, 51.0),
    "Drake Passage": (-58.0, -65.0),
}


def inside_ring(ring, lon, lat):
    """Even-odd rule, one edge at a time: which points a closed ring goes round."""
    inside = np.zeros(lat.shape, bool)
    for (x0, y0), (x1, y1) in itertools.pairwise(ring):
        crosses = (y0 > lat) != (y1 > lat)
        if crosses.any():
            at = x0 + (lat[crosses] - y0) * (x1 - x0) / (y1 - y0)
            inside[crosses] ^= lon[crosses] < at
    return inside


@pytest.mark.parametrize(("lat", "lon"), LAND.values(), ids=LAND.keys())
def test_inland_points_are_land(lat, lon):
    assert coastline.is_land(lat, lon)
    assert coastline.distance_to_land_nm(lat, lon) == 0.0


@pytest.mark.parametrize(("lat", "lon"), SEA.values(), ids=SEA.keys())
def test_open_sea_points_are_sea(lat, lon):
    assert not coastline.is_land(lat, lon)
    assert coastline.distance_to_land_nm(lat, lon) > 2.0


def test_longitude_turns_and_shapes_do_not_matter():
    lat = np.array([[48.2], [45.5]])
    lon = np.array([-3.0, 357.0, -363.0])
    np.testing.assert_array_equal(coastline.is_land(lat, lon), [[True] * 3, [False] * 3])
    assert coastline.is_land(48.2, -3.0).shape == ()
    assert coastline.is_land([], []).shape == (0,)
    assert not coastline.is_land(np.nan, 0.0)
    gap = coastline.distance_to_land_nm([48.2, np.nan], -3.0)
    assert gap[0] == 0.0
    assert np.isnan(gap[1])


@pytest.mark.parametrize(
    ("south", "north", "west", "east"),
    [(41, 52, -10, 3), (56, 60, 4, 13), (-20, -15, 176, 180), (-56, -45, -76, -66)],
    ids=["Biscay", "Skagerrak", "Fiji", "Tierra del Fuego"],
)
def test_points_agree_with_another_polygon_test(south, north, west, east):
    """Matplotlib's point in polygon, ring by ring over the same rings."""
    chance = np.random.default_rng(20260314)
    lat = chance.uniform(south, north, 1500)
    lon = chance.uniform(west, east, 1500)
    coast = load_coastline()
    expected = np.zeros(lat.size, dtype=int)
    box = coast.box
    near = (box[:, 0] < east) & (box[:, 2] > west) & (box[:, 1] < north) & (box[:, 3] > south)
    for number in np.flatnonzero(near):
        ring = coast.ring(number)
        inside = inside_ring(ring, lon, lat)
        x, y = ring.T
        area = np.sum(x[:-1] * y[1:] - x[1:] * y[:-1])
        expected += inside * (1 if area > 0.0 else -1)
    np.testing.assert_array_equal(coastline.is_land(lat, lon), expected > 0)
    assert 0 < (expected > 0).sum() < lat.size


def test_rays_through_vertices_are_counted_once():
    """Points on the parallel of one vertex and the meridian of another."""
    coast = load_coastline()
    near = (np.abs(coast.lat_deg - 57.5) < 1.5) & (np.abs(coast.lon_deg - 9.0) < 2.0)
    vertices = np.flatnonzero(near)
    chance = np.random.default_rng(57)
    lat = coast.lat_deg[chance.choice(vertices, 2000)]
    lon = coast.lon_deg[chance.choice(vertices, 2000)]
    inside = np.zeros(lat.size, dtype=bool)
    box = coast.box
    for number in np.flatnonzero(
        (box[:, 0] < 11.0) & (box[:, 2] > 7.0) & (box[:, 1] < 59.0) & (box[:, 3] > 56.0)
    ):
        inside |= inside_ring(coast.ring(number), lon, lat)
    off_shore = coastline._distance_to_coast_nm(lat, lon) > 1e-3
    np.testing.assert_array_equal(coastline.is_land(lat, lon)[off_shore], inside[off_shore])
    assert off_shore.sum() > 1900


def test_distance_agrees_with_brute_force():
    coast = load_coastline()
    radius_nm = 6371008.8 / 1852.0
    for lat, lon in ((45.5, -5.0), (58.0, 9.0), (35.95, -5.5), (-17.0, -179.5), (30.0, -50.0)):
        # Every edge sampled at 21 places, by haversines: slow, but owes the tree nothing.
        near = (np.abs(coast.y1 - lat) < 25.0) & (
            np.abs((coast.x1 - lon + 180.0) % 360.0 - 180.0) < 40.0
        )
        share = np.linspace(0.0, 1.0, 21)[:, None]
        y = coast.y1[near] + share * (coast.y2 - coast.y1)[near]
        x = coast.x1[near] + share * (coast.x2 - coast.x1)[near]
        phi1, phi2, dlam = np.radians(lat), np.radians(y), np.radians(x - lon)
        half = np.sin((phi2 - phi1) / 2) ** 2 + np.cos(phi1) * np.cos(phi2) * np.sin(dlam / 2) ** 2
        expected = 2.0 * radius_nm * np.arcsin(np.sqrt(half)).min()
        found = float(coastline.distance_to_land_nm(lat, lon))
        assert found == pytest.approx(expected, rel=2e-3, abs=0.02)


@pytest.mark.parametrize(
    ("lat", "lon"), [((57.0, 58.5), (7.0, 10.0)), ((-18.5, -16.0), (177.0, 183.0))]
)
def test_near_land_is_a_distance_within_it(lat, lon):
    rng = np.random.default_rng(3)
    here = rng.uniform(*lat, 40), rng.uniform(*lon, 40)
    distance = coastline.distance_to_land_nm(*here)
    for within_nm in (1.0, 10.0, 40.0):
        # Not where the two may differ by the tolerance of the distances.
        clear = np.abs(distance - within_nm) > 0.02
        near = coastline.is_near_land(*here, within_nm)
        np.testing.assert_array_equal(near[clear], (distance <= within_nm)[clear])
    assert 0 < np.sum(distance <= 10.0) < 40
    assert not coastline.is_near_land(np.nan, 10.0, 5.0)
    assert coastline.is_near_land([89.9, -89.9], 0.0, 30.0).tolist() == [False, True]


# --- legs


def crossings(*points, kind="rhumb"):
    waypoints = [
        Waypoint(name=f"P{k}", lat_deg=lat, lon_deg=lon, kind=kind)
        for k, (lat, lon) in enumerate(points)
    ]
    return coastline.legs_over_land(build_route("test", "test", waypoints))


@pytest.mark.parametrize(
    "points",
    [
        ((48.0, -6.0), (43.8, -8.8)),
        ((57.9, 7.5), (57.9, 10.0)),
        ((35.9, -6.3), (36.0, -5.0)),
        ((-14.0, 178.0), (-14.5, -178.0)),
        ((50.0, -6.0), (40.4, -20.0)),
    ],
    ids=["Biscay", "Skagerrak", "Gibraltar", "north of Fiji", "ocean"],
)
def test_legs_over_open_water_are_clear(points):
    assert crossings(*points) == ()


@pytest.mark.parametrize(
    ("points", "width_nm"),
    [
        # Widths from the chart's scale of latitude or longitude, to a tenth or so.
        (((48.9, -4.0), (47.4, -4.0)), (40.0, 60.0)),
        (((56.0, 7.5), (56.0, 11.0)), (60.0, 75.0)),
        (((-16.85, 179.0), (-16.85, -179.5)), (5.0, 45.0)),
        (((68.0, 170.0), (68.0, -170.0)), (250.0, 350.0)),
    ],
    ids=["Brittany", "Jutland", "Fiji over the antimeridian", "Chukotka"],
)
def test_legs_over_land_are_found_with_place_and_length(points, width_nm):
    (found,) = crossings(*points)
    assert found.leg == 0
    assert width_nm[0] < found.over_land_nm < width_nm[1]
    # The place is on the shore: a hundredth of a mile farther on is land.
    assert coastline.distance_to_land_nm(found.lat_deg, found.lon_deg) < 0.05
    assert -180.0 <= found.lon_deg < 180.0
    assert "coarse coastline" in found.text


def test_crossing_of_a_leg_is_where_fine_sampling_finds_it():
    """The leg in steps of 0.02 nm, by the point test."""
    (found,) = crossings((56.0, 7.5), (56.0, 11.0))
    lon = np.linspace(7.5, 11.0, 6000)
    dry = coastline.is_land(56.0, lon)
    step = lon[1] - lon[0]
    assert found.lon_deg == pytest.approx(lon[np.argmax(dry)], abs=step)
    length = dry.mean() * crossings_length((56.0, 7.5), (56.0, 11.0))
    assert found.over_land_nm == pytest.approx(length, abs=0.3)
    assert not found.starts_on_land


def crossings_length(*points):
    waypoints = [Waypoint(name="x", lat_deg=lat, lon_deg=lon) for lat, lon in points]
    return build_route("test", "test", waypoints).distance_m / 1852.0


def test_kind_of_leg_matters():
    # West of Ireland to off Nova Scotia: the great circle runs over Newfoundland, the
    # rhumb line passes south of it.
    ends = ((52.0, -11.5), (43.0, -64.0))
    assert crossings(*ends) == ()
    assert crossings(*ends, kind="great circle")


def test_leg_out_of_port_is_kept_apart():
    # From the pine forest behind the straight coast of the Landes, out to sea.
    (found,) = crossings((44.3, -1.0), (44.3, -3.0))
    assert found.starts_on_land
    assert found.only_at_ends
    assert found.distance_nm == 0.0
    assert 8.0 < found.over_land_nm < 14.0
    (through,) = crossings((56.0, 7.0), (56.0, 12.5))
    assert not through.only_at_ends
    (within,) = crossings((48.2, -3.2), (48.2, -2.9))
    assert within.starts_on_land
    assert within.ends_on_land
    assert not within.only_at_ends


def test_only_the_legs_that_cross_are_named_and_stays_are_tested():
    points = [
        Waypoint(name="A", lat_deg=45.5, lon_deg=-5.0, stay_h=1.0),
        Waypoint(name="B", lat_deg=46.0, lon_deg=-5.0),
        Waypoint(name="C", lat_deg=48.2, lon_deg=-3.0, stay_h=1.0),
    ]
    found = coastline.legs_over_land(build_route("test", "test", points))
    assert [crossing.leg for crossing in found] == [2, 3]
    assert found[1].label == "stay at C"


def test_a_leg_sailed_either_way_crosses_the_same_land():
    out = crossings((48.9, -4.0), (47.4, -4.0))[0]
    back = crossings((47.4, -4.0), (48.9, -4.0))[0]
    assert back.over_land_nm == pytest.approx(out.over_land_nm, abs=1e-6)
    assert back.lat_deg < out.lat_deg


def test_many_legs_at_once_are_the_legs_one_by_one():
    chance = np.random.default_rng(8)
    places = np.column_stack([chance.uniform(40, 60, 60), chance.uniform(-12, 12, 60)])
    together = {found.leg: found for found in crossings(*places)}
    alone = {k: crossings(places[k], places[k + 1]) for k in range(len(places) - 1)}
    assert set(together) == {k for k, found in alone.items() if found}
    assert 10 < len(together) < 59
    for k, found in together.items():
        assert found.over_land_nm == pytest.approx(alone[k][0].over_land_nm, abs=1e-9)
        assert found.lat_deg == pytest.approx(alone[k][0].lat_deg, abs=1e-12)


def test_leg_along_the_shore_of_a_vertex_is_not_over_land():
    """Touching a headland's last point has no length over land."""
    coast = load_coastline()
    near = (np.abs(coast.lat_deg - 43.5) < 0.5) & (np.abs(coast.lon_deg + 7.0) < 2.0)
    tip = np.flatnonzero(near)[np.argmax(coast.lat_deg[near])]
    lat, lon = coast.lat_deg[tip], coast.lon_deg[tip]
    assert crossings((lat, lon - 0.3), (lat, lon), (lat, lon + 0.3)) == ()
    assert crossings((lat, lon - 0.3), (lat, lon + 0.3)) == ()
    (found,) = crossings((lat - 1e-4, lon - 0.3), (lat - 1e-4, lon + 0.3))
    assert 0.0 < found.over_land_nm < 0.1


# --- maps


def test_rings_in_a_frame_are_closed_and_within_it():
    rings = coastline.rings_in(42.0, 52.0, -12.0, 2.0)
    assert rings
    for ring in rings:
        np.testing.assert_array_equal(ring[0], ring[-1])
        assert ring[:, 0].min() >= -12.0
        assert ring[:, 0].max() <= 2.0
        assert ring[:, 1].min() >= 42.0
        assert ring[:, 1].max() <= 52.0


def shoelace(rings):
    return sum(0.5 * np.sum(r[:-1, 0] * r[1:, 1] - r[1:, 0] * r[:-1, 1]) for r in rings)


@pytest.mark.parametrize(
    "frame", [(42, 52, -12, 2), (-20, -14, 176, -176), (35, 48, 45, 56)],
    ids=["Biscay", "Fiji", "Caspian"],
)  # fmt: skip
def test_area_of_the_rings_is_the_share_of_points_on_land(frame):
    south, north, west, east = frame
    width = (east - west) % 360.0
    lat, lon = np.meshgrid(
        np.linspace(south, north, 400, endpoint=False) + (north - south) / 800,
        west + np.linspace(0, width, 400, endpoint=False) + width / 800,
    )
    share = coastline.is_land(lat, lon).mean()
    area = shoelace(coastline.rings_in(*frame))
    # A grid of 400 lines errs by about one cell along the shore.
    assert area / ((north - south) * width) == pytest.approx(share, abs=0.003)


def test_rings_run_on_over_the_antimeridian():
    rings = coastline.rings_in(-20.0, -14.0, 176.0, -176.0)
    lon = np.concatenate([ring[:, 0] for ring in rings])
    assert lon.min() > 176.0
    assert lon.max() <= 184.0
    assert (lon > 180.01).any()


def test_thinning_keeps_the_shape_within_its_tolerance():
    fine = coastline.rings_in(42.0, 52.0, -12.0, 2.0)
    coarse = coastline.rings_in(42.0, 52.0, -12.0, 2.0, tolerance_deg=0.02)
    assert sum(map(len, coarse)) < 0.4 * sum(map(len, fine))
    # Every point left out lies within the tolerance of what is left.
    kept = coarse[0]
    start, span = kept[:-1], np.diff(kept, axis=0)
    square = np.sum(span * span, axis=1)
    for point in fine[0][::7]:
        share = np.clip(np.sum((point - start) * span, axis=1) / square, 0.0, 1.0)
        gap = np.hypot(*(start + share[:, None] * span - point).T).min()
        assert gap <= 0.02 + 1e-12


def test_clipping_a_square_by_hand():
    square = np.array([[0.0, 0], [2, 0], [2, 2], [0, 2], [0, 0]])
    right = clip_half_plane(square, 0, 1.0, 1.0)
    assert shoelace([right]) == pytest.approx(2.0, rel=1e-6)
    assert right[:, 0].min() == 1.0
    assert len(clip_half_plane(square, 1, 3.0, 1.0)) == 0
    np.testing.assert_array_equal(clip_half_plane(square, 1, -1.0, 1.0), square)


def test_thinning_a_line_of_points_by_hand():
    ring = np.array([[0.0, 0], [1, 0.05], [2, 0], [2, 1], [2, 2], [0, 2], [0, 0]])
    np.testing.assert_array_equal(thin_ring(ring, 0.1), [[0, 0], [2, 0], [2, 2], [0, 2], [0, 0]])
    np.testing.assert_array_equal(thin_ring(ring, 0.0), ring)


def test_empty_ocean_has_no_rings_and_an_inverted_frame_is_refused():
    assert coastline.rings_in(30.0, 35.0, -50.0, -45.0) == []
    with pytest.raises(ValueError, match="below north"):
        coastline.rings_in(35.0, 30.0, -50.0, -45.0)


def test_shipped_data_are_sound():
    coast = load_coastline()
    # The source: 4 061 polygons, and one lake; some islets vanish on its grid.
    assert 4000 < coast.start.size - 1 < 4100
    np.testing.assert_array_equal(
        coast.lon_deg[coast.start[:-1]], coast.lon_deg[coast.start[1:] - 1]
    )
    assert np.abs(coast.lon_deg).max() <= 180.0
    assert np.abs(coast.lat_deg).max() <= 91.0
    assert np.abs(np.diff(coast.lon_deg[coast.start[0] : coast.start[1]])).max() <= 360.0
    assert set(np.unique(coast.winding)) == {0, 1}


# --- the script that made the file

SCRIPT = Path(__file__).parents[3] / "docs" / "tools" / "make_coastline.py"


@pytest.fixture
def maker():
    if not SCRIPT.exists():
        pytest.skip("docs/tools is not here (it is no part of the wheel)")
    spec = importlib.util.spec_from_file_location("make_coastline", SCRIPT)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_repacking_cuts_at_the_antimeridian_and_closes_the_pole(tmp_path, maker):
    """A made-up world on a grid of one degree: an island on 180, a polar cap, a lake."""
    # TopoJSON 1.0: arcs are differences on the grid; ~i is arc i backwards.
    island = [[358, 100], [4, 0], [0, 4], [-4, 0], [0, -4]]
    island[1:] = [[-356, 0], [0, 4], [356, 0], [0, -4]]
    cap = [[0, 10], *[[60, 0]] * 5, [-300, 0]]
    square = [[100, 100], [0, 20], [20, 0], [0, -20], [-20, 0]]
    lake = [[105, 105], [10, 0], [0, 10], [-10, 0], [0, -10]]
    topology = {
        "objects": {
            "land": {
                "geometries": [
                    {"type": "MultiPolygon", "arcs": [[[0]], [[1]]]},
                    {"type": "Polygon", "arcs": [[2], [-4]]},
                ]
            }
        },
        "arcs": [island, cap, square, lake],
        "transform": {"scale": [1.0, 1.0], "translate": [-180.0, -90.0]},
    }
    source, target = tmp_path / "land.json", tmp_path / "land.npz"
    source.write_text(json.dumps(topology))
    maker.repack(source, target)
    with np.load(target) as packed:
        start = np.cumsum(packed["length"])[:-1]
        steps = np.column_stack([packed["dx"], packed["dy"]])
        rings = [np.cumsum(part, axis=0) for part in np.split(steps, start)]
    areas = [float(shoelace([ring])) for ring in rings]
    boxes = [(*ring.min(axis=0).tolist(), *ring.max(axis=0).tolist()) for ring in rings]
    # Two halves of the island, the cap down to the pole, the square less the lake.
    assert sorted(areas) == [-100.0, 8.0, 8.0, 400.0, 3600.0]
    assert (358, 100, 360, 104) in boxes
    assert (0, 100, 2, 104) in boxes
    assert (0, 0, 360, 10) in boxes
