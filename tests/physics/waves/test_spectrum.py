"""Spectra, spreading and period kinds against closed forms, tables, wavespectra."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import trapezoid
from scipy.special import gamma as gamma_function

from passage.physics.waves.spectrum import (
    COS2_WIDTH_RAD,
    bretschneider,
    gamma_from_steepness,
    jonswap,
    jonswap_normaliser,
    ochi_hubble,
    peak_period_from,
    period_ratio,
    rayleigh_largest,
    rayleigh_mean_of_highest,
    s_from_width,
    spreading,
    spreading_cos2s,
    spreading_cosn,
    width_from_s,
)

FINE = np.geomspace(0.02, 400.0, 40001)


def moment(density, order=0):
    return trapezoid(density * FINE**order, FINE)


# Ratios to Tp by integration in an independent script, printed to 4 figures.
@pytest.mark.parametrize(
    ("gamma", "normaliser", "energy", "mean", "crossing"),
    [(1, 1.0, 0.8572, 0.7718, 0.7104), (2, 0.8028, 0.8835, 0.8063, 0.7464),
     (3.3, 0.6558, 0.9033, 0.8343, 0.7774), (5, 0.5381, 0.9192, 0.8583, 0.8053),
     (7, 0.4494, 0.9312, 0.8775, 0.8285)],
)  # fmt: skip
def test_period_ratios(gamma, normaliser, energy, mean, crossing):
    assert_allclose(jonswap_normaliser(gamma), normaliser, atol=5.1e-5)
    assert_allclose(period_ratio("energy", gamma), energy, atol=5.1e-5)
    assert_allclose(period_ratio("mean", gamma), mean, atol=5.1e-5)
    assert_allclose(period_ratio("zero-crossing", gamma), crossing, atol=5.1e-5)
    assert period_ratio("peak", gamma) == 1.0


def test_bretschneider_ratios_are_the_closed_forms():
    assert_allclose(period_ratio("energy", 1.0), gamma_function(1.25) / 1.25**0.25, rtol=1e-12)
    assert_allclose(period_ratio("mean", 1.0), 1 / (1.25**0.25 * gamma_function(0.75)), rtol=1e-12)
    assert_allclose(period_ratio("zero-crossing", 1.0), (1.25 * np.pi) ** -0.25, rtol=1e-12)


@pytest.mark.parametrize("gamma", [1.0, 2.0, 3.3, 5.0])
def test_period_ratios_follow_the_cubics_of_dnv(gamma):
    # DNV-RP-C205 fits, from memory: 0.22 per cent off the exact value at gamma 1.
    tz = 0.6673 + 0.05037 * gamma - 0.006230 * gamma**2 + 0.0003341 * gamma**3
    t1 = 0.7303 + 0.04936 * gamma - 0.006556 * gamma**2 + 0.0003610 * gamma**3
    assert_allclose(period_ratio("zero-crossing", gamma), tz, rtol=2.5e-3)
    assert_allclose(period_ratio("mean", gamma), t1, rtol=2.5e-3)
    assert_allclose(jonswap_normaliser(gamma), 1 - 0.287 * np.log(gamma), rtol=4e-3)


@pytest.mark.parametrize("gamma", [1.0, 1.7, 3.3, 6.0])
def test_variance_is_a_sixteenth_of_height_squared(gamma):
    assert_allclose(moment(jonswap(FINE, 2.5, 8.0, gamma)), 2.5**2 / 16, rtol=1e-6)


def test_peak_period_from_any_kind_gives_back_that_kind():
    for kind, order in (("energy", -1), ("mean", 1), ("zero-crossing", 2)):
        peak = peak_period_from(kind, 7.0, 2.4)
        s = jonswap(FINE, 1.0, peak, 2.4)
        ratio = moment(s, order) / moment(s)
        period = 2 * np.pi * ratio ** (-1 / order)
        # The spectrum is cut at 400 rad/s here, hence not to the last digit.
        assert_allclose(period, 7.0, rtol=2e-4)
    assert peak_period_from("peak", 7.0) == 7.0
    with pytest.raises(ValueError, match="period kind"):
        peak_period_from("significant", 7.0)


def test_bretschneider_is_the_ittc_form():
    # ITTC 7.5-02-07-02.1: A = 173 Hs^2/T1^4, B = 691/T1^4, rounded constants.
    t1 = 7.0
    omega = np.linspace(0.4, 3.0, 50)
    a, b = 173 * 4.0 / t1**4, 691 / t1**4
    ours = bretschneider(omega, 2.0, peak_period_from("mean", t1, 1.0))
    assert_allclose(ours, a * omega**-5 * np.exp(-b * omega**-4), rtol=0.01)


def test_ochi_hubble_with_lambda_one_is_bretschneider():
    omega = np.linspace(0.0, 4.0, 200)
    ours = ochi_hubble(omega, [2.0], [9.0], [1.0])
    assert_allclose(ours, bretschneider(omega, 2.0, 9.0), rtol=1e-10, atol=1e-14)
    both = ochi_hubble(FINE, [2.0, 1.0], [12.0, 5.0], [3.5, 1.4])
    assert_allclose(moment(both), 5.0 / 16, rtol=1e-6)


# Values by the gamma-function formula in an independent script.
@pytest.mark.parametrize(
    ("s", "peak"), [(1, 0.31831), (2, 0.42441), (4, 0.58205), (10, 0.90328), (25, 1.41754)]
)
def test_half_angle_spreading_peak(s, peak):
    assert_allclose(spreading_cos2s(0.0, s), peak, atol=5.1e-6)


def test_full_angle_spreading_norms():
    assert_allclose(spreading_cosn(0.0, 2), 2 / np.pi, rtol=1e-12)
    assert_allclose(spreading_cosn(0.0, 4), 8 / (3 * np.pi), rtol=1e-12)
    assert spreading_cosn(np.radians(100), 2) == 0.0


@pytest.mark.parametrize("width", [0.1, 0.27, COS2_WIDTH_RAD, 0.8, 1.0])
def test_spreading_has_unit_area_and_the_width_it_says(width):
    theta = np.linspace(-np.pi, np.pi, 7201)[:-1]
    d = spreading(theta, width) * (theta[1] - theta[0])
    assert_allclose(d.sum(), 1.0, rtol=1e-6)
    m1 = (d * np.cos(theta)).sum()
    assert_allclose(np.sqrt(2 * (1 - m1)), width, rtol=1e-5)


def test_width_and_exponent_are_inverse():
    assert_allclose(np.degrees(width_from_s(10.0)), 24.4, atol=0.05)
    assert_allclose(s_from_width(width_from_s(17.0)), 17.0, rtol=1e-12)


# Longuet-Higgins 1952; figures by the formula in an independent script.
def test_rayleigh_statistics():
    doubled = 2 * rayleigh_mean_of_highest([1.0, 1 / 3, 1 / 10, 1 / 100])
    assert_allclose(doubled, [2.507, 4.004, 5.091, 6.673], atol=6e-4)
    probable, expected = rayleigh_largest([100, 1000, 10_000])
    assert_allclose(probable, [3.035, 3.717, 4.292], atol=6e-4)
    assert_allclose(expected, [3.225, 3.872, 4.426], atol=6e-4)


def test_gamma_from_steepness_ends():
    # DNV-RP-C205 from memory: 1 from Tp/sqrt(Hs) = 5 on; here at most 3.3.
    assert_allclose(gamma_from_steepness(1.0, [5.0, 9.0]), 1.0, rtol=1e-7)
    assert_allclose(gamma_from_steepness(4.0, 6.0), 3.3, rtol=1e-7)
    assert_allclose(gamma_from_steepness(1.0, 4.5), np.exp(5.75 - 1.15 * 4.5), rtol=1e-7)
    assert_allclose(gamma_from_steepness(1.0, 3.6, largest=5.0), 5.0, rtol=1e-12)
    assert gamma_from_steepness(0.0, 5.0) == 1.0
    assert np.isnan(gamma_from_steepness(np.nan, 5.0))
    assert np.isnan(gamma_from_steepness(1.0, np.nan))


def test_nan_and_out_of_range_stay_missing():
    assert np.isnan(jonswap(1.0, np.nan, 8.0)).all()
    assert np.isnan(jonswap(1.0, 1.0, np.nan)).all()
    assert np.isnan(jonswap_normaliser([0.9, 10.1, np.nan])).all()
    assert jonswap(0.0, 1.0, 8.0) == 0.0


def test_jonswap_and_spreading_against_wavespectra():
    construct = pytest.importorskip("wavespectra.construct")
    freq = np.arange(0.04, 0.6, 0.005)
    theirs = construct.frequency.jonswap(freq=freq, fp=0.1, gamma=3.3, hs=2.0)
    theirs = np.asarray(theirs, float).ravel()
    ours = jonswap(2 * np.pi * freq, 2.0, 10.0, 3.3) * 2 * np.pi
    # Theirs is scaled to the height on its own grid, ours over all frequencies.
    theirs = theirs / trapezoid(theirs, freq)
    ours = ours / trapezoid(ours, freq)
    assert_allclose(ours, theirs, rtol=1e-3, atol=1e-4)
    direction = np.arange(0.0, 360.0, 5.0)
    spread = construct.direction.cartwright(dir=direction, dm=90.0, dspr=25.0)
    spread = np.asarray(spread, float).ravel()
    spread = spread / spread.sum()
    d = spreading(np.radians(direction - 90.0), np.radians(25.0))
    assert_allclose(d / d.sum(), spread, atol=1e-4)
