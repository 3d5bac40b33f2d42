"""Roll excitation: slope coefficient, nodes, and what the dealing keeps."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import trapezoid

from passage.physics.roll.excitation import (
    RollExcitation,
    encounter_nodes,
    roll_excitation_kernel,
    wave_slope_coefficient,
)
from passage.physics.waves.dispersion import encounter_frequency, wavenumber
from passage.physics.waves.table import SpectralTable
from passage.units import KNOT_M_S


def test_long_waves_act_with_their_whole_slope():
    assert_allclose(wave_slope_coefficient(1e-7, 9.0), 1.0, atol=1e-5)


def test_about_seven_tenths_at_roll_resonance():
    # Invented yacht, roll period 7.7 s, beam 9 m: k = 0.068 rad/m.
    assert 0.70 < wave_slope_coefficient(wavenumber(2 * np.pi / 7.7), 9.0) < 0.80


def test_formula_term_by_term():
    k, beam = 0.2, 9.0
    expected = np.exp(-0.42 * k * beam) * np.sin(k * beam / 2) / (k * beam / 2)
    assert_allclose(wave_slope_coefficient(k, beam), expected, rtol=1e-13)


def test_a_constant_is_for_long_waves_and_falls_off_as_the_formula():
    k = np.array([1e-6, 0.01, 0.3])
    given = wave_slope_coefficient(k, 9.0, 0.8)
    assert_allclose(given, 0.8 * wave_slope_coefficient(k, 9.0), rtol=1e-13)
    assert_allclose(given[0], 0.8, rtol=1e-5)
    assert_allclose(wave_slope_coefficient(k, 9.0, 1.0), wave_slope_coefficient(k, 9.0), rtol=1e-7)
    assert np.isnan(wave_slope_coefficient(np.nan, 9.0, 0.8))
    assert np.isnan(wave_slope_coefficient(np.nan, 9.0))


@pytest.mark.parametrize("omega0", [0.35, 0.8164, 1.3, 2.0])
def test_nodes_are_fine_at_resonance_and_rise_from_zero(omega0):
    nodes = encounter_nodes(omega0)
    step = np.diff(nodes)
    near = np.abs(nodes[:-1] - omega0) < 0.05 * omega0
    assert nodes[0] == 0.0
    assert nodes[-1] >= 4.0
    assert (step > 0).all()
    assert step[near].max() < 0.01 * omega0
    # The sum over nodes of a resonance of damping ratio 0.02 is its integral:
    # white noise gives pi omega0 / (4 zeta).
    zeta = 0.02
    response = 1 / ((1 - (nodes / omega0) ** 2) ** 2 + (2 * zeta * nodes / omega0) ** 2)
    assert_allclose(trapezoid(response, nodes), np.pi * omega0 / (4 * zeta), rtol=3e-3)


@pytest.mark.parametrize("knots", [0.0, 8.0, 14.0])
def test_dealing_keeps_variance_and_mean_frequency(knots):
    kernel = roll_excitation_kernel(0.8, 9.0)
    omega, mu = np.linspace(0.2, 1.6, 80), np.linspace(0, np.pi, 37)
    dense = kernel(omega, mu, knots * KNOT_M_S)
    response = kernel.slope_response(omega, mu)
    met = np.abs(encounter_frequency(omega[:, None], knots * KNOT_M_S, mu))
    met = np.minimum(met, kernel.nodes_rad_s[-1])
    assert_allclose(dense.sum(0), response, rtol=1e-12, atol=1e-15)
    first = np.tensordot(kernel.nodes_rad_s, dense, 1)
    assert_allclose(first, response * met, rtol=1e-12, atol=1e-15)
    assert (dense >= 0).all()


def test_long_crested_beam_slope_is_k_times_amplitude():
    kernel = RollExcitation(np.linspace(0, 4, 20), 9.0, 1.0)
    omega = np.array([0.5, 0.9])
    k = wavenumber(omega)
    felt = wave_slope_coefficient(k, 9.0) * k
    found = kernel.slope_response(omega, np.array([np.pi / 2]))[:, 0]
    assert_allclose(found, felt**2, rtol=1e-12)
    assert_allclose(kernel.slope_response(omega, np.array([0.0, np.pi])), 0.0, atol=1e-30)


def test_spreading_fills_the_null_of_head_and_following_seas():
    kernel = roll_excitation_kernel(0.8164, 9.0)
    table = SpectralTable(kernel, 5.0)
    head, beam = table.variance(np.ones((2, 1)), 8.0, [[np.pi], [np.pi / 2]], 3.3, 0.277).sum(-1)
    assert 0.02 * beam < head < 0.5 * beam
