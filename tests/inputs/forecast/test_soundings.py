"""The least depth near places, against brute force over all soundings."""

from types import SimpleNamespace

import numpy as np
import pytest

from passage.inputs.forecast.conditions import MASKED, OK
from passage.inputs.forecast.sampler import Frame
from passage.inputs.forecast.soundings import LeastDepth, depth_grid_words


def sea(depth, step_deg, west_deg=-8.0):
    """A forecast with nothing but these soundings; NaN where one is missing."""
    lat = 46.0 + step_deg * np.arange(depth.shape[0])
    lon = west_deg + step_deg * np.arange(depth.shape[1])
    frame = Frame(np.zeros(0), lat, lon, np.zeros(0, bool))

    def sample(lats, lons, times, member):
        j = np.rint((lats - lat[0]) / step_deg).astype(int)
        k = np.rint((lons - lon[0]) / step_deg).astype(int)
        found = depth[j, k]
        code = np.where(np.isnan(found), MASKED, OK)
        return np.stack([np.zeros(j.size), np.nan_to_num(found)], axis=1), code

    series = {"elevation": SimpleNamespace(pieces=(SimpleNamespace(file="/data/floor.nc"),))}
    group = SimpleNamespace(frame=frame, sample=sample, series=series)
    return SimpleNamespace(groups={"depth": group}), lat, lon


def around(axis, low, high):
    """Soundings of all cells that a span touches."""
    below, above = np.flatnonzero(axis <= low), np.flatnonzero(axis >= high)
    return slice(below[-1] if below.size else 0, above[0] + 1 if above.size else None)


@pytest.mark.parametrize("step_deg", [0.1, 0.01, 0.003])
def test_it_is_the_least_of_all_soundings_around_a_place(step_deg):
    rng = np.random.default_rng(3)
    depth = rng.uniform(5.0, 90.0, (60, 70))
    depth[20, 30] = np.nan
    forecast, lat, lon = sea(depth, step_deg)
    lats, lons = (rng.uniform(axis[5], axis[-6], 300) for axis in (lat, lon))
    reach = 0.5 / 60.0
    wide = reach / np.cos(np.radians(lats.max()))
    least = LeastDepth(forecast, 0.5)
    for a, b, mine in zip(lats, lons, least(lats, lons), strict=True):
        rows = around(lat, a - reach, a + reach)
        columns = around(lon, b - wide, b + wide)
        np.testing.assert_equal(mine, depth[rows, columns].min())


def test_a_shoal_of_one_sounding_is_not_passed_half_way_to_the_next():
    depth = np.full((9, 9), 200.0)
    depth[4, 4] = 3.0
    forecast, lat, lon = sea(depth, 0.1)
    least = LeastDepth(forecast, 0.0)
    # Straight between two rows of soundings, half a cell from the shoal: 100 m by interpolation.
    assert least(np.array([lat[4] + 0.05]), np.array([lon[4] + 0.001])).tolist() == [3.0]
    assert least(np.array([lat[4] + 0.15]), np.array([lon[4]])).tolist() == [200.0]
    # Other turns of longitude are the same place.
    assert least(np.array([lat[4] + 0.05]), np.array([lon[4] + 360.0])).tolist() == [3.0]


def test_off_the_grid_nothing_is_known_and_the_grid_is_named():
    forecast, lat, _ = sea(np.full((4, 4), 50.0), 0.1)
    assert np.isnan(LeastDepth(forecast, 0.5)(np.array([lat[0] - 1.0]), np.array([-8.0]))).all()
    words = depth_grid_words(forecast)
    assert "floor.nc, 6 nm apart" in words
    assert "/data" not in words
    assert depth_grid_words(SimpleNamespace(groups={})) == ""
