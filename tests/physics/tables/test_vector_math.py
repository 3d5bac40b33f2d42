"""Elementary functions of the lanes against those of numpy and scipy."""

import numpy as np
import pytest
from numba import njit
from scipy.special import erf

from passage.physics.tables.vector_math import cos_sin_of, exp_of, inside_of, log_of


@njit
def all_of(x, found):
    for z in range(x.size):
        found[0, z], found[1, z], found[2, z] = log_of(x[z]), exp_of(x[z]), exp_of(-x[z])
        found[3, z], found[4, z] = inside_of(x[z])
        found[5, z], found[6, z] = cos_sin_of(x[z])


def test_elementary_functions_are_as_near_as_they_say():
    x = np.concatenate([np.logspace(-30.0, 2.0, 400), np.linspace(1e-6, 20.0, 4001)])
    found = np.empty((7, x.size))
    all_of(x, found)
    log, up, down, inside, slope, cos, sin = found
    assert np.abs(log - np.log(x)).max() < 1e-9
    assert up == pytest.approx(np.exp(x), rel=1e-9)
    assert down == pytest.approx(np.exp(-x), rel=1e-9)
    assert np.abs(inside - erf(x / np.sqrt(2.0))).max() < 2e-7
    assert slope == pytest.approx(np.sqrt(2.0 / np.pi) * np.exp(-0.5 * x * x), rel=1e-9)
    near = x < 16.0
    assert np.abs(cos - np.cos(x))[near].max() < 2e-9
    assert np.abs(sin - np.sin(x))[near].max() < 2e-9


def test_a_wild_exponent_stays_a_number():
    found = np.empty((7, 1))
    all_of(np.array([1e4]), found)
    assert np.isfinite(found[1, 0])
    assert 0.0 < found[2, 0] < 1e-300
