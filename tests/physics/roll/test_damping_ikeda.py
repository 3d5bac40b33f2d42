"""Simplified Ikeda method against the worked case of the methods note and its limits.

The worked case was computed from the public coefficients with g = 9.81; it is not a
published example. Coefficients: Kawahara, Maekawa and Ikeda, STAB 2009.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from passage.physics.roll import damping_ikeda as ikeda

HULL = ikeda.IkedaHull(
    length_m=45.0,
    beam_m=9.0,
    draught_m=2.8,
    block_coefficient=0.55,
    midship_coefficient=0.90,
    og_m=-0.8,
    keel_length_m=13.5,
    keel_breadth_m=0.20,
)
OMEGA = 2 * np.pi / 7.7
PHI = np.radians(10.0)


def test_dimensionless_frequency_of_the_worked_case():
    # 0.55266 with g = 9.81; standard gravity differs by 0.03 %.
    assert_allclose(ikeda.dimensionless_frequency(OMEGA, 9.0), 0.55266, rtol=5e-4)


@pytest.mark.parametrize(
    ("component", "value", "tolerance"),
    [
        # Friction goes with the root of viscosity, which the worked case does not state:
        # 1.14e-6 to 1.19e-6 m2/s (15 degC in common tables) is 2.2 %.
        ("friction", 5.519e-5, 0.03),
        ("wave", 7.749e-4, 0.005),
        ("eddy", 1.1214e-3, 0.005),
        ("bilge_keels", 3.2591e-3, 0.005),
        ("total", 5.2105e-3, 0.005),
    ],
)
def test_components_of_the_worked_case(component, value, tolerance):
    result = ikeda.ikeda_damping(HULL, OMEGA, PHI)
    assert_allclose(getattr(result, component), value, rtol=tolerance)


def test_components_at_the_dimensionless_frequency_of_the_worked_case():
    # Free of gravity's last digits the worked case holds to what it prints.
    form = (0.55, 9.0 / 2.8, 0.90, -0.8 / 2.8)
    assert_allclose(ikeda.wave_component(*form, 0.55266), 7.749e-4, rtol=1e-4)
    assert_allclose(ikeda.eddy_component(*form, 0.55266, PHI), 1.1214e-3, rtol=1e-4)
    keels = ikeda.bilge_keel_component(*form, 0.55266, PHI, 0.20 / 9.0, 13.5 / 45.0)
    assert_allclose(keels, 3.2591e-3, rtol=1e-4)


def test_bare_hull_of_the_worked_case():
    bare = replace(HULL, keel_length_m=0.0, keel_breadth_m=0.0)
    result = ikeda.ikeda_damping(bare, OMEGA, PHI)
    assert result.bilge_keels == 0.0
    assert_allclose(result.total, 1.9515e-3, rtol=0.005)


def test_wave_factor_is_one_at_rest_and_a2_when_fast():
    # One at rest is the factor's meaning; far beyond Omega 0.3 only a2 is left.
    assert_allclose(ikeda.wave_speed_factor(OMEGA, 2.8, 0.0), 1.0, atol=1e-3)
    z = OMEGA**2 * 2.8 / 9.80665
    a2 = 0.5 + np.exp(-2 * z) / z
    assert_allclose(ikeda.wave_speed_factor(OMEGA, 2.8, 12.0), a2, rtol=1e-6)


def test_wave_factor_is_capped():
    speed = np.linspace(0, 15, 60)
    factor = ikeda.wave_speed_factor(0.25, 2.8, speed)
    assert factor.max() == ikeda.WAVE_SPEED_FACTOR_CAP
    assert factor.min() > 0.9


def test_speed_raises_friction_and_lowers_eddies_by_the_stated_factors():
    rest, under_way = (ikeda.ikeda_damping(HULL, OMEGA, PHI, speed) for speed in (0.0, 6.0))
    assert_allclose(under_way.friction / rest.friction, 1 + 4.1 * 6.0 / (OMEGA * 45), rtol=1e-12)
    k = OMEGA * 45 / 6.0
    want = (0.04 * k) ** 2 / (1 + (0.04 * k) ** 2)
    assert_allclose(under_way.eddy / rest.eddy, want, rtol=1e-12)


def test_eddies_vanish_and_grow_in_proportion_to_amplitude():
    eddy = ikeda.ikeda_damping(HULL, OMEGA, np.array([0.0, 0.05, 0.10])).eddy
    assert_allclose(eddy / eddy[1], [0.0, 1.0, 2.0], atol=1e-12)


def test_limits_are_flagged_by_name():
    assert not any(flag.any() for flag in ikeda.outside_limits(HULL, OMEGA).values())
    yacht = replace(HULL, block_coefficient=0.482, midship_coefficient=0.85, keel_breadth_m=0.0)
    out = [name for name, flag in ikeda.outside_limits(yacht, OMEGA).items() if flag]
    # No keels: their limits do not count. Limits: Kawahara et al. 2009.
    assert out == ["block coefficient", "midship coefficient"]


def test_arrays_of_amplitude_and_speed_broadcast_and_nan_stays_nan():
    amplitude = np.radians([[2.0], [8.0], [np.nan]])
    result = ikeda.ikeda_damping(HULL, OMEGA, amplitude, np.array([0.0, 3.0])).total
    assert result.shape == (3, 2)
    assert np.isfinite(result[:2]).all()
    assert np.isnan(result[2]).all()
