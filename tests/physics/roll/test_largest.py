"""The largest roll of a watch: closed form, invariance, missing values."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from passage.physics.roll.largest import largest_in_watch, most_probable_largest


def test_one_rms_gives_the_closed_form():
    # Longuet-Higgins (1952), most probable largest of N Rayleigh amplitudes; from memory.
    for n in (10.0, 500.0, 20000.0):
        assert_allclose(
            most_probable_largest([2.0], [n]), 2.0 * np.sqrt(2.0 * np.log(n)), rtol=1e-10
        )


def test_splitting_the_time_changes_nothing():
    whole = most_probable_largest([1.0, 2.0], [300.0, 100.0])
    split = most_probable_largest([1.0, 1.0, 2.0, 2.0], [100.0, 200.0, 60.0, 40.0])
    assert_allclose(split, whole, rtol=1e-12)


def test_a_calm_stretch_adds_nothing_and_unit_is_free():
    base = most_probable_largest([3.0], [200.0])
    assert_allclose(most_probable_largest([3.0, 0.0], [200.0, 900.0]), base, rtol=1e-12)
    assert_allclose(most_probable_largest([300.0], [200.0]), 100.0 * base, rtol=1e-12)


def test_it_is_reached_once_on_the_average():
    rng = np.random.default_rng(3)
    n, runs = 400, 4000
    level = float(most_probable_largest([1.5], [n]))
    reached = rng.rayleigh(1.5, (runs, n)) > level
    # Four standard errors of a mean of about one a run.
    assert abs(reached.sum() / runs - 1.0) < 4.0 / np.sqrt(runs)


def test_shapes_and_missing_values():
    got = most_probable_largest([[1.0, np.nan], [1.0, 1.0]], [10.0, 10.0])
    assert np.isnan(got[0])
    assert np.isfinite(got[1])
    assert most_probable_largest(np.zeros((0,)), np.zeros((0,))) == 0.0
    assert most_probable_largest([2.0], [0.5]) == 0.0
    assert np.isnan(largest_in_watch([], [], 8.0))
    assert np.isnan(largest_in_watch([1.0, np.nan], [1.0, 1.0], 8.0))


def test_the_worst_watch_counts():
    hours = np.full(24, 0.5)
    rms = np.where((np.arange(24) >= 10) & (np.arange(24) < 18), 2.0, 0.5)
    quiet = largest_in_watch(np.full(24, 2.0), hours, 8.0)
    assert_allclose(largest_in_watch(rms, hours, 8.0), quiet, rtol=1e-9)
    assert quiet == pytest.approx(2.0 * np.sqrt(2.0 * np.log(4.0 * 3600.0 / 8.0)), rel=1e-9)


def test_a_leg_shorter_than_a_watch_is_taken_whole():
    short = largest_in_watch([1.0, 1.0], [0.5, 0.5], 8.0)
    assert short == pytest.approx(np.sqrt(2.0 * np.log(3600.0 / 8.0)), rel=1e-9)
