"""The first and last miles of sixty harbours, on a quarter-degree grid without sea over land."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from passage.inputs.coast.coastline import distance_to_land_nm, is_land
from passage.inputs.forecast import open_forecast
from passage.inputs.forecast.harbour import MOST_NM, Harbour, end_distance_nm
from passage.variables import COVERAGE

TABLE = Path(__file__).parents[2] / "reference" / "harbours.csv"
OK, MASKED, NEAREST, SHELTERED = (
    COVERAGE.index(word) for word in ("ok", "masked", "nearest_sea_cell", "sheltered")
)
#: Points of an approach: every mile from the harbour to 25 miles off.
MILES = np.arange(0.0, 26.0)
#: Files hold single precision.
SINGLE = 2e-6


def approaches() -> tuple[np.ndarray, np.ndarray]:
    """Latitude and longitude (60, 26) from each harbour on the bearing that opens the sea most."""
    lines = TABLE.read_text(encoding="utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    places = np.array([(float(r["lat_deg"]), float(r["lon_deg"])) for r in rows])
    bearing = np.radians(np.arange(0.0, 360.0, 22.5))

    def off(miles, course):
        lat = places[:, :1] + miles / 60.0 * np.cos(course)
        lon = places[:, 1:] + miles / 60.0 * np.sin(course) / np.cos(np.radians(places[:, :1]))
        return lat, lon

    lat, lon = off(MILES[-1], bearing)
    open_sea = np.where(is_land(lat, lon), -1.0, distance_to_land_nm(lat, lon))
    return off(MILES, bearing[np.argmax(open_sea, axis=1)][:, None])


@pytest.fixture(scope="module")
def coast(maker, tmp_path_factory):
    """A forecast whose height says where it is, and the approaches."""
    lat, lon = np.arange(34.0, 60.01, 0.25), np.arange(-12.0, 21.01, 0.25)
    y, x = np.meshgrid(lat, lon, indexing="ij")
    height = np.where(is_land(y, x), np.nan, 1.0 + 0.05 * (y - 34.0) + 0.01 * (x + 12.0))
    variables = maker.sea(np.broadcast_to(height, (2, *height.shape)))
    path = tmp_path_factory.mktemp("coast") / "sea.nc"
    maker.write_forecast(path, variables, lat=lat, lon=lon, hours=[0.0, 6.0])
    return path, *approaches()


def sampled(coast, sea=None, within=MOST_NM, nearest_km=None):
    path, lat, lon = coast
    ends = tuple(zip(lat[:, 0], lon[:, 0], strict=True))
    with open_forecast(path, nearest_sea_cell_km=nearest_km) as plain:
        rule = None if sea is None else Harbour(within, sea, ends)
        forecast = plain.with_harbour(rule)
        got = forecast.sample(lat, lon, forecast.time_from_s)
        return got, forecast.notes


def test_a_distance_is_that_of_the_nearest_end():
    # A minute of latitude is a mile on this sphere.
    away = end_distance_nm(
        ((50.0, -5.0), (43.0, -8.0)), np.array([50.1, 43.25]), np.array([-5.0, -8.0])
    )
    assert_allclose(away, [6.0, 15.0], rtol=1e-9)
    assert np.isinf(end_distance_nm((), np.zeros(2), np.zeros(2))).all()


def test_off_unless_asked_for(coast):
    got, notes = sampled(coast)
    assert set(np.unique(got.coverage)) == {OK, MASKED}
    # What the rule is for: next to no harbour of the sixty has a sea at its berth.
    assert np.count_nonzero(got.coverage[:, 0] == MASKED) >= 55
    assert not any("harbour" in note for note in notes)


@pytest.mark.parametrize("sea", ["sheltered", "nearest"])
def test_sixty_approaches_have_a_sea_within_the_harbour_distance(coast, sea):
    plain, _ = sampled(coast)
    got, notes = sampled(coast, sea)
    _, lat, lon = coast
    ends = tuple(zip(lat[:, 0], lon[:, 0], strict=True))
    near = end_distance_nm(ends, lat.ravel(), lon.ravel()).reshape(lat.shape) <= MOST_NM
    filled = near & (plain.coverage == MASKED)
    code = SHELTERED if sea == "sheltered" else NEAREST
    # Every masked point within the miles, no other, and under a word of its own.
    assert_array_equal(got.coverage[filled], code)
    assert_array_equal(got.coverage[~filled], plain.coverage[~filled])
    assert_array_equal(got.height_m[~filled], plain.height_m[~filled])
    assert any(note.startswith("harbour: within 15 nm") for note in notes)
    height = got.height_m[filled][:, 0]
    if sea == "sheltered":
        assert_array_equal(height, 0.0)
        assert_array_equal(got.total_height_m[filled], 0.0)
    else:
        # Of the cells about, one that is sea: its height is that of a place within 60 nm.
        own = 1.0 + 0.05 * (lat[filled] - 34.0) + 0.01 * (lon[filled] + 12.0)
        reach = 0.05 * 1.0 + 0.01 * 2.0
        assert np.all(np.abs(height - own) <= reach + SINGLE)
        assert np.all(height > 0.0)


def test_number_of_fully_covered_approaches(coast):
    """Figures of docs/forecast-files.md, a snapshot: berth to 25 miles off, of sixty."""
    found = [
        sampled(coast)[0],
        sampled(coast, "sheltered")[0],
        sampled(coast, "sheltered", nearest_km=30.0)[0],
    ]
    whole = [int(np.sum(np.all(one.coverage != MASKED, axis=1))) for one in found]
    assert whole == [3, 47, 60]


def test_fewer_miles_shelter_less(coast):
    six, _ = sampled(coast, "sheltered", within=6.0)
    all_of_it, _ = sampled(coast, "sheltered")
    here = six.coverage == SHELTERED
    assert 0 < np.count_nonzero(here) < np.count_nonzero(all_of_it.coverage == SHELTERED)
    assert np.all(all_of_it.coverage[here] == SHELTERED)


def test_the_forecast_itself_stays_as_it_was(make_forecast, maker):
    def height(lat, lon, hour):
        return np.where(lat > 49.0, np.nan, 2.0 + 0.0 * hour)

    with open_forecast(make_forecast(maker.sea(height))) as plain:
        rule = Harbour(10.0, "sheltered", ((49.2, -7.0),))
        got = plain.with_harbour(rule).sample([49.25, 49.75], [-7.0, -7.0], plain.time_from_s)
        again = plain.sample([49.25], [-7.0], plain.time_from_s)
        assert plain.with_harbour(None) is plain
    assert [COVERAGE[c] for c in got.coverage] == ["sheltered", "masked"]
    assert [COVERAGE[c] for c in again.coverage] == ["masked"]
