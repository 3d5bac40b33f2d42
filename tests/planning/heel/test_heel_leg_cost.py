"""The cheapest split between fins and heel against trying every split."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from heel_cases import leg_tables, problem
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from passage.planning.heel.leg_cost import LegCost, convex_below


def _random(seed):
    rng = np.random.default_rng(seed)
    n = 6
    return problem(
        n,
        limit_deg=np.where(rng.random(n) < 0.3, np.inf, rng.uniform(0.2, 1.5, n)),
        fin_l_per_moment2=rng.uniform(0.0, 0.1, n) * (rng.random(n) > 0.2),
        fin_moment_max_t_m=rng.uniform(0.0, 25.0, n) * (rng.random(n) > 0.2),
        leave_l_per_deg2=rng.uniform(0.0, 1.0, n) * (rng.random(n) > 0.2),
        comfort_l_per_deg=rng.uniform(0.0, 5.0, n) * (rng.random(n) > 0.3),
    )


@pytest.mark.parametrize("seed", range(8))
def test_split_is_the_cheapest_of_all_tried(seed):
    p = _random(seed)
    cost = LegCost.of(p)
    moments, tables = leg_tables(p, cost.limit_t_m, reach=40.0, points=161)
    split = cost.best_split(np.repeat(moments[:, None], p.n_legs, axis=1))
    # Never costlier than any split tried; cheaper by no more than the step of 1/1000 allows.
    assert np.all(tables + 1e-9 >= split.cost_l.T)
    assert_allclose(split.cost_l.T, tables, rtol=1e-3, atol=1e-3)


@pytest.mark.parametrize("seed", range(8))
def test_cost_is_convex_and_its_slope_supports_it(seed):
    p = _random(seed)
    rng = np.random.default_rng(seed + 100)
    grid = np.linspace(0.0, 1.0, 5)
    p = replace(
        p,
        offset_fraction=grid,
        offset_price_l=np.cumsum(rng.uniform(0.0, 2.0, (p.n_legs, 5)), axis=1),
    )
    cost = LegCost.of(p)
    x = np.linspace(-45.0, 45.0, 181)[:, None] * np.ones(p.n_legs)
    split = cost.best_split(x)
    # Tangent at every point lies below the curve at every other: this is what the
    # bound of the search rests on.
    tangent = split.cost_l[:, None] + split.slope_l_per_t_m[:, None] * (x[None] - x[:, None])
    assert np.all(tangent <= split.cost_l[None] + 1e-6 * (1.0 + np.abs(split.cost_l[None])))


def test_roll_price_enters_the_split():
    grid = np.array([0.0, 0.5, 1.0])
    p = problem(
        1,
        fin_l_per_moment2=np.array([0.01]),
        fin_moment_max_t_m=np.array([20.0]),
        comfort_l_per_deg=np.array([10.0]),
        offset_fraction=grid,
        offset_price_l=np.array([[0.0, 5.0, 50.0]]),
    )
    cost = LegCost.of(p)
    split = cost.best_split(np.array([18.0]))
    # A t m of heel is worth 10 x degrees(1/560) = 1.02 l: more than 0.5 + 0.02 m below
    # 10 t m, less than the 4.5 l/(t m) of the second piece: the fins stop at the knot.
    assert_allclose(split.fins_t_m, 10.0, rtol=1e-9)
    drag, lost = cost.fins_l(split.fins_t_m)
    hull, worth = cost.heel_l(np.array([18.0]) - split.fins_t_m)
    assert_allclose(drag + lost + hull + worth, split.cost_l, rtol=1e-9)


def test_fins_hold_nothing_they_cannot_and_the_excess_is_reported():
    p = problem(2, limit_deg=np.full(2, 0.5), fin_moment_max_t_m=np.array([0.0, 3.0]))
    cost = LegCost.of(p)
    split = cost.best_split(np.array([-12.0, 12.0]))
    limit = 560.0 * np.tan(np.radians(0.5))
    assert_allclose(split.fins_t_m, [0.0, 3.0], atol=1e-12)
    assert_allclose(split.over_limit_t_m, [12.0 - limit, 9.0 - limit], rtol=1e-9)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(-5, 5), min_size=3, max_size=8))
def test_convex_below_is_the_largest_convex_curve(values):
    y = np.array(values)
    x = np.linspace(0.0, 1.0, len(y))
    below = convex_below(x, y)
    assert np.all(below <= y + 1e-9)
    assert np.all(np.diff(below, 2) >= -1e-9)
    assert_allclose(below[[0, -1]], y[[0, -1]], rtol=1e-7)
    assert_allclose(convex_below(x, below), below, atol=1e-9)
    # Largest: at every inner point it is the least of all chords of the points.
    for k in range(1, len(y) - 1):
        chords = [
            y[i] + (y[j] - y[i]) * (x[k] - x[i]) / (x[j] - x[i])
            for i in range(k)
            for j in range(k + 1, len(y))
        ]
        assert_allclose(below[k], min(*chords, y[k]), atol=1e-9)
