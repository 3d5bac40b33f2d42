"""What is suggested: never costs more than the route given, and within every limit on its track."""

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from planning_scenario import UniformForecast, yacht

from passage.errors import PassageError, RouteError
from passage.inputs.forecast import open_forecast
from passage.inputs.route import Waypoint, build_route, make_track
from passage.inputs.route.geometry import great_circle_inverse
from passage.inputs.vessel import read_vessel
from passage.planning.compare.compare import CompareOptions, compare
from passage.planning.plan.plan import Passage, PlanOptions, plan
from passage.planning.suggest import best
from passage.planning.suggest.best import GIVEN, GRID, STRAIGHT, best_route
from passage.planning.suggest.bound import gap_of
from passage.planning.suggest.closed import Closed, NoGo
from passage.planning.suggest.search import SearchOptions
from passage.planning.suggest.smooth import LEAST_TURN_DEG, SPACING_NM, _turns_deg
from passage.planning.suggest.window import Window, best_of_window
from passage.planning.voyage.yacht import Yacht
from passage.units import HOUR_S, m_to_nm

SAMPLES = Path(__file__).parents[3] / "sample_forecasts"
FILES = [SAMPLES / f"biscay_{name}.nc" for name in ("waves", "wind", "current")]
DEPARTURE_S = 1773446400.0  # 2026-03-14T00:00Z
OCEAN = ((46.0, -20.0), (43.5, -17.5))


@pytest.fixture(scope="module")
def sea():
    with open_forecast(FILES) as forecast:
        yield forecast


@pytest.fixture(scope="module")
def boat():
    return Yacht(read_vessel(SAMPLES / "brambling.toml"))


def way(*points, speed_kn=None):
    return build_route(
        "given",
        "given",
        [
            Waypoint(name=f"P{i}", lat_deg=a, lon_deg=b, speed_kn=speed_kn if i else None)
            for i, (a, b) in enumerate(points)
        ],
    )


def planned(boat, route, sea, speed_kn=12.0, departure_s=DEPARTURE_S):
    track = make_track(route, speed_kn)
    ready = Passage(boat.vessel, route, boat, track, speed_kn, None)
    return plan(ready, sea, PlanOptions(departure_s, speed_kn))


def worst_and_hours(made):
    roll = np.asarray(made.points["roll_active_significant_deg"], dtype=float)
    return float(roll.max()), float(np.sum(roll * np.asarray(made.points["hours"], dtype=float)))


def random_way(seed):
    """Two to four waypoints on open water of the sample's sea, west of its coasts."""
    rng = np.random.default_rng(seed)
    north, south = (rng.uniform(46.6, 48.2), rng.uniform(-8.2, -6.2)), (
        rng.uniform(44.2, 45.4), rng.uniform(-8.3, -6.0))  # fmt: skip
    ends = [north, south] if rng.random() < 0.5 else [south, north]
    inner = [
        tuple(np.array(ends[0]) + share * (np.array(ends[1]) - ends[0]) + rng.normal(0.0, 0.12, 2))
        for share in np.sort(rng.uniform(0.2, 0.8, rng.integers(0, 3)))
    ]
    return way(ends[0], *inner, ends[1])


def never_dearer(boat, sea, seed):
    given = random_way(seed)
    options = SearchOptions(DEPARTURE_S, 12.0, corridor_nm=30.0, cell_nm=12.0)
    found = best_route(boat, given, sea, options)
    mine, theirs = (planned(boat, route, sea).totals["fuel_l"] for route in (found.route, given))
    taken, own, grid = (found.candidates[name] for name in (found.best, GIVEN, GRID))
    # Computed apart from the search, by the plan itself. Only a way that keeps limits which
    # another does not may cost more than that.
    assert mine <= theirs * 1.0005 or (own.over and not taken.over)
    assert mine <= grid.fuel_l * (1.0 + 1e-4) or (grid.over and not taken.over)
    np.testing.assert_allclose(taken.fuel_l, mine, rtol=1e-9)
    # The bound is of a search along lines of a grid that the track follows closely.
    gap, percent = gap_of(found, options)
    np.testing.assert_allclose(found.bound.value + gap, mine, rtol=1e-9)
    assert (own.over and not taken.over) or abs(percent) < 3.0
    return mine, theirs, bool(own.over and not taken.over)


@pytest.mark.parametrize("seed", range(2))
def test_never_costs_more_than_the_route_given(boat, sea, seed):
    never_dearer(boat, sea, seed)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(2, 24))
def test_never_costs_more_on_many_passages(boat, sea, seed):
    """Four CPU seconds each; ``tests/benchmarks/bench_suggest.py`` tries fifty."""
    never_dearer(boat, sea, seed)


def test_roll_limit_and_budget_are_kept_on_the_track(boat, sea):
    given = way((48.0, -6.5), (45.0, -7.2))
    free = planned(boat, given, sea)
    worst, rough = worst_and_hours(free)
    kept = 0
    for options in (
        SearchOptions(DEPARTURE_S, 12.0, corridor_nm=40.0, cell_nm=15.0,
                      roll_limit_deg=round(0.93 * worst, 2)),
        SearchOptions(DEPARTURE_S, 12.0, corridor_nm=40.0, cell_nm=15.0, budget=0.95 * rough),
    ):  # fmt: skip
        try:
            found = best_route(boat, given, sea, options)
        except RouteError:
            # Refused rather than broken.
            continue
        made = planned(boat, found.route, sea)
        mine = worst_and_hours(made)
        assert options.roll_limit_deg is None or mine[0] <= options.roll_limit_deg + 1e-9
        assert options.budget is None or mine[1] <= options.budget * (1.0 + 1e-9)
        assert found.candidates[GIVEN].faults
        assert made.totals["fuel_l"] is not None
        # The bound is of what was asked, not of the tighter search that kept it.
        assert found.bound.roll_limit_deg == options.roll_limit_deg
        kept += 1
    assert kept > 0


def test_limit_that_nothing_keeps_is_refused(boat, sea):
    given = way((48.0, -6.5), (45.0, -7.2))
    options = SearchOptions(DEPARTURE_S, 12.0, corridor_nm=20.0, cell_nm=20.0, roll_limit_deg=0.2)
    with pytest.raises(PassageError):
        best_route(boat, given, sea, options)


def test_no_leg_without_a_forecast():
    # The sea ends where the last leg begins: no way, not a way without numbers.
    class Ends(UniformForecast):
        def sample(self, lat_deg, lon_deg, time_s, member=0):
            made = super().sample(lat_deg, lon_deg, time_s, member)
            gone = np.broadcast_to(np.asarray(lat_deg) < 43.6, made.total_height_m.shape)
            made.height_m[gone] = np.nan
            made.total_height_m[gone] = np.nan
            made.coverage[gone] = 4
            return made

    options = SearchOptions(0.0, 12.0, corridor_nm=40.0, cell_nm=15.0)
    with pytest.raises(PassageError):
        best_route(yacht(), way(*OCEAN), Ends(), options)


def test_window_never_costs_more_than_the_best_of_compare(boat, sea):
    given = random_way(3)
    times = tuple(DEPARTURE_S + 6.0 * HOUR_S * i for i in range(3))
    options = SearchOptions(DEPARTURE_S, 12.0, corridor_nm=25.0, cell_nm=20.0, budget=20.0)
    found, chosen = best_of_window(boat, given, sea, options, Window(times, (11.0, 12.0)))
    every = compare(boat, [given], sea, CompareOptions(times, (11.0, 12.0)))
    rough = np.concatenate([cell.roll_degree_hours for cell in every.cells])
    within = every.totals["fuel_l"][rough <= options.budget]
    assert 0 < within.size < rough.size
    mine = planned(boat, found.route, sea, chosen.speed_kn, chosen.departure_s)
    assert mine.totals["fuel_l"] <= within.min() * 1.0005
    assert worst_and_hours(mine)[1] <= options.budget
    assert chosen.departure_s in times
    assert any("6 pairs of departure and speed" in note for note in found.notes)


def test_still_water_gives_the_great_circle():
    # Published: the shortest line on the ellipsoid is the geodesic (pyproj's Geod).
    detour = way(OCEAN[0], (45.2, -18.0), OCEAN[1])
    options = SearchOptions(0.0, 12.0, corridor_nm=40.0, cell_nm=15.0)
    found = best_route(yacht(), detour, UniformForecast(height_m=0.0), options)
    straight, _ = great_circle_inverse(*OCEAN[0], *OCEAN[1])
    np.testing.assert_allclose(found.route.distance_m, float(straight), rtol=1e-5)


def test_wall_with_a_gap_is_passed_at_its_edges():
    # Known answer: in still water the shortest way is made of straight lines that bend at
    # corners of what is closed only; by symmetry, here the two great circles over the corner.
    corner = (44.9, -18.2)
    wall = NoGo("wall", tuple(
        np.array([(w, 44.85), (e, 44.85), (e, 44.95), (w, 44.95), (w, 44.85)])
        for w, e in ((-21.5, -18.2), (-18.0, -15.5))
    ))  # fmt: skip
    options = SearchOptions(0.0, 12.0, corridor_nm=60.0, cell_nm=8.0, no_go=(wall,))
    boat, calm = yacht(), UniformForecast(height_m=0.0)
    found = best_route(boat, way(*OCEAN), calm, options)
    closed = Closed(3.0, OCEAN, (wall,))
    assert closed.faults(found.route) == ()
    assert found.candidates[GIVEN].faults
    # The band has a thickness: both its corners are touched, north and south one.
    path = [OCEAN[0], (44.95, corner[1]), (44.85, corner[1]), OCEAN[1]]
    least = sum(float(great_circle_inverse(*a, *b)[0]) for a, b in pairwise(path))
    assert least <= found.route.distance_m * (1.0 + 1e-9)
    assert found.route.distance_m <= least * 1.003


class RoughMiddle(UniformForecast):
    """Calm but for a patch of rough water on the straight way."""

    def sample(self, lat_deg, lon_deg, time_s, member=0):
        made = super().sample(lat_deg, lon_deg, time_s, member)
        away_nm = 60.0 * np.hypot(
            np.asarray(lat_deg) - 44.8, np.cos(np.radians(44.8)) * (np.asarray(lon_deg) + 18.7)
        )
        made.total_height_m[...] = 0.5 + 2.5 * np.exp(-((away_nm / 10.0) ** 2))
        made.height_m[...] = made.total_height_m[..., None]
        return made


@pytest.mark.parametrize("beat", [None, (False, False, 2000.0), (False, True, 100.0)])
def test_a_cheaper_way_within_the_limits_is_searched_though_the_route_given_keeps_them(
    monkeypatch, beat
):
    # Made smooth the ways are shorter still; what is asked here does not need it.
    monkeypatch.setattr(best, "smooth", lambda smoother, route, *_, **__: route)
    options = SearchOptions(0.0, 12.0, corridor_nm=25.0, cell_nm=15.0, longest=1.4)
    wide = way((45.4, -19.2), (45.1, -17.9), (44.2, -18.2))
    found = best_route(yacht(), wide, RoughMiddle(), options, minutes=30.0, weigh=False, beat=beat)
    given, taken = found.candidates[GIVEN], found.candidates[found.best]
    assert found.candidates[STRAIGHT].over
    assert not given.over
    assert not taken.over
    assert taken.fuel_l < 0.9 * given.fuel_l


def test_legs_are_such_as_a_person_would_sail(boat, sea):
    options = SearchOptions(DEPARTURE_S, 12.0, corridor_nm=40.0, cell_nm=12.0)
    found = best_route(boat, random_way(7), sea, options)
    lat = np.array([point.lat_deg for point in found.route.waypoints])
    lon = np.array([point.lon_deg for point in found.route.waypoints])
    turns = _turns_deg(lat, lon)
    # A zigzag turns one way and then the other.
    zigzag = (turns[1:] * turns[:-1] < 0.0) & (
        np.minimum(np.abs(turns[1:]), np.abs(turns[:-1])) < LEAST_TURN_DEG
    )
    assert not np.any(zigzag)
    assert all(float(m_to_nm(leg.distance_m)) >= SPACING_NM for leg in found.route.legs)
