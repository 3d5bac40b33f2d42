"""Swells whose numbers change from cell to cell and hour to hour are one and the same sea."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from passage.inputs.forecast.sampler import Alike, Axis, Block
from passage.physics.tables.cell_sampling import CellRuns, sample_runs
from passage.physics.tables.response_rows import HEADINGS, PERIODS
from passage.physics.tables.sea_rows import StoredSystems, rows_from_cells
from passage.physics.waves.matching import match_rows

#: No data, total, and three swells of five fields.
FIRST = np.array([2, 7, 12])
WIDTH, FIELDS = 5, 17
HOURS, LATS, LONS = 4, 3, 3
#: Single precision, summed in another order.
SINGLE = 2e-5


def grid(seed):
    """Three swells that change smoothly in place and time, ``(time, lat, lon, fields)``."""
    rng = np.random.default_rng(seed)
    hour, lat, lon = np.meshgrid(*(np.arange(n) for n in (HOURS, LATS, LONS)), indexing="ij")
    data = np.zeros((HOURS, LATS, LONS, FIELDS), np.float32)
    for k, first in enumerate(FIRST):
        a, b, c = rng.normal(size=(3, 3)) * 0.05
        energy = (1.0 + k) * np.exp(a[0] * hour + a[1] * lat + a[2] * lon)
        period = (8.0 + 3.0 * k) * np.exp(0.3 * (b[0] * hour + b[1] * lat + b[2] * lon))
        turn = 2.0 * k + c[0] * hour + c[1] * lat + c[2] * lon
        for q, value in enumerate((1.0, period, np.cos(turn), np.sin(turn), 0.0)):
            data[..., first + q] = energy * value
    data[..., 1] = data[..., FIRST].sum(axis=-1)
    return data


def renumbered(data, seed):
    """The same cells with the numbers of their swells drawn anew."""
    out, rng = data.copy(), np.random.default_rng(seed)
    for at in np.ndindex(data.shape[:-1]):
        for put, get in zip(FIRST, rng.permutation(FIRST), strict=True):
            out[at][put : put + WIDTH] = data[at][get : get + WIDTH]
    return out


def in_order(fields):
    """Systems of points ``(n, fields)`` by rising period, ``(n, 3, 5)``."""
    parts = np.stack([fields[:, f : f + WIDTH] for f in FIRST], axis=1)
    order = np.argsort(parts[..., 1] / parts[..., 0], axis=1)
    return np.take_along_axis(parts, order[..., None], axis=1)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_block_gives_the_same_systems_whatever_their_numbers(seed):
    data = grid(seed)
    axes = (Axis(np.arange(float(HOURS))), Axis(np.arange(3.0)), Axis(np.arange(3.0)))
    rng = np.random.default_rng(seed)
    where = [rng.uniform(0.0, 1.999, 200) for _ in range(2)]
    time = rng.uniform(0.0, 2.999, 200)
    plain = Block(*axes, data).gather(*where, time)
    other = Block(*axes, renumbered(data, seed), Alike(FIRST, WIDTH)).gather(*where, time)
    np.testing.assert_allclose(in_order(other), in_order(plain), rtol=SINGLE, atol=1e-6)
    np.testing.assert_allclose(other[:, :2], plain[:, :2], rtol=SINGLE)
    # Without matching they mix.
    mixed = Block(*axes, renumbered(data, seed)).gather(*where, time)
    assert np.abs(in_order(mixed)[..., 1] / in_order(plain)[..., 1] - 1.0).max() > 0.1


@pytest.mark.parametrize("wind", [False, True])
def test_the_cells_of_a_season_are_matched_in_both_loops(wind):
    data = np.moveaxis(grid(5).reshape(HOURS, LATS * LONS, FIELDS), 0, 1).copy()
    places = np.array([[0, 1, 3, 4], [1, 2, 4, 5], [4, 5, 7, 8]], np.int32)
    share = np.array([[0.3, 0.2, 0.4, 0.1]] * 3, np.float32)
    plain = CellRuns(
        data, 3600.0 * np.arange(HOURS), np.zeros(HOURS - 1, bool), places, share,
        np.ones(3, bool), 0.0, 3600.0 * (HOURS - 1),
    )  # fmt: skip
    changed = renumbered(data, 5)
    other = replace(plain, data=changed, alike=FIRST, width=WIDTH, wind=wind)
    when = np.random.default_rng(5).uniform(0.0, 3600.0 * (HOURS - 1), (20, 3))
    one, two = (sample_runs(runs, when)[0].reshape(-1, FIELDS) for runs in (plain, other))
    np.testing.assert_allclose(in_order(two), in_order(one), rtol=SINGLE, atol=1e-6)

    rng = np.random.default_rng(6)
    made = SimpleNamespace(
        data=rng.uniform(0.5, 1.5, (1, PERIODS, HEADINGS, 4)).astype(np.float32), squares=3, used=4
    )
    systems = StoredSystems(FIRST, np.zeros(3, np.int64), np.zeros(3, np.int64))
    heading = np.ones(when.shape), np.zeros(when.shape)

    def rows(runs):
        found, height2, code = rows_from_cells(runs, systems, made, np.arange(3), when, *heading)
        assert not code.any()
        return found, height2

    (ours, height2), (theirs, square) = rows(other), rows(plain)
    np.testing.assert_allclose(height2, square, rtol=SINGLE)
    np.testing.assert_allclose(ours, theirs, rtol=2e-3)
    off, _ = rows(replace(plain, data=changed))
    assert np.abs(off / theirs - 1.0).max() > 0.02


def put(data, row, first, energy, period, turn):
    """Write one system into a cell."""
    values = (1.0, period, np.cos(turn), np.sin(turn), 0.0)
    data[row, first : first + WIDTH] = energy * np.array(values)


def test_a_renumbered_swell_joins_its_own_system():
    """Corner 2 has one swell, as its second; corner 3 has both the other way round."""
    data = np.zeros((3, FIELDS), np.float32)
    put(data, 0, 2, 2.0, 12.0, 0.3)
    put(data, 1, 7, 1.5, 12.1, 0.32)
    put(data, 2, 2, 1.0, 7.0, 2.0)
    put(data, 2, 7, 1.8, 12.2, 0.31)
    order = np.zeros((3, 2), np.int64)
    assert match_rows(data, np.arange(3), FIRST[:2], False, order)
    np.testing.assert_array_equal(order, [[0, 1], [1, 0], [1, 0]])


def test_of_systems_that_change_names_the_steepest_is_the_wind_sea():
    """A short sea and a long swell: the first cell names them the wrong way round."""
    data = np.zeros((3, FIELDS), np.float32)
    for row, (sea, swell) in enumerate(((7, 2), (2, 7), (7, 2))):
        put(data, row, sea, 3.0, 6.0, 0.3)
        put(data, row, swell, 2.0, 12.0, 2.0)
    order = np.zeros((3, 2), np.int64)
    assert match_rows(data, np.arange(3), FIRST[:2], True, order)
    np.testing.assert_array_equal(order, [[1, 0], [0, 1], [1, 0]])


def test_a_sea_without_a_name_takes_that_of_most_of_its_energy():
    for names, slot in (((2, 2, 7), 0), ((2, 7, 7), 1)):
        data = np.zeros((3, FIELDS), np.float32)
        for row, first in enumerate(names):
            put(data, row, first, 2.0, 8.0, 0.3)
        order = np.zeros((3, 2), np.int64)
        assert match_rows(data, np.arange(3), FIRST[:2], True, order)
        assert [int(FIRST[i]) for i in order[:, slot]] == list(names)


def test_a_wind_sea_that_turns_far_keeps_its_name():
    """Unlike the one before it, as across a front; there is no swell that it could join."""
    data = np.zeros((2, FIELDS), np.float32)
    put(data, 0, 2, 2.0, 6.0, 0.3)
    put(data, 1, 2, 2.0, 6.0, 1.9)
    order = np.zeros((2, 2), np.int64)
    assert not match_rows(data, np.arange(2), FIRST[:2], True, order)
    assert match_rows(data, np.arange(2), FIRST[:2], False, order)
