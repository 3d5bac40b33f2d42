"""Waves where the printed tables of test_waves.py do not reach: identities, depth, forms."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from passage.physics.waves import dispersion as waves
from passage.units import G_M_S2, KNOT_M_S

SPEED = 12.0 * KNOT_M_S


def test_variance_is_the_same_at_encounter_or_fixed_frequency():
    """The fold is singular in the density but not in the variance (identity).

    Each stretch between folds is integrated over the encounter frequency with the
    Jacobian |1 - 2 omega U cos(mu)/g|; together they hold the variance over omega.
    """
    a = SPEED / G_M_S2

    def density(omega):
        return np.exp(-(((omega - 0.7) / 0.25) ** 2))

    whole = 0.25 * np.sqrt(np.pi) / 2 * (1 + 0.9999247)  # erf(2.8) below, all above
    total = 0.0
    # Quadratic spacing from the fold takes the root singularity out of the integrand.
    step = np.linspace(0.0, 1.0, 20001)
    fold = 1 / (2 * a)
    for end in (0.0, 3.0):
        omega = fold + (end - fold) * step
        met = omega - a * omega**2
        middle = 0.5 * (omega[1:] + omega[:-1])
        jacobian = np.abs(1 - 2 * a * middle)
        total += np.sum(density(middle) / jacobian * np.abs(np.diff(met)))
    assert_allclose(met[-1], waves.encounter_frequency(3.0, SPEED, 0.0), rtol=1e-12)
    assert_allclose(total, whole, rtol=1e-4)


def test_group_speed_between_the_limits():
    # (c/2)(1 + 2kh/sinh 2kh) at 10 s over 10 m: kh = 2 pi 10/92.36, by hand 8.0684.
    assert_allclose(waves.group_speed_m_s(10.0, 10.0), 8.0684, atol=1e-3)


def test_finite_depth_is_met_with_its_own_wavenumber():
    # 2 pi/10 + (2 pi/92.36) 6.17333 from ahead over 10 m, by hand: 1.04829.
    met = waves.encounter_frequency(2 * np.pi / 10, SPEED, np.pi, 10.0)
    assert_allclose(met, 1.04829, rtol=1e-4)


FUNCTIONS = {
    "wavenumber": lambda x: waves.wavenumber(x, 12.0),
    "deep": waves.wavenumber,
    "length": waves.wavelength_m,
    "group": lambda x: waves.group_speed_m_s(x, 9.0),
    "met": lambda x: waves.encounter_frequency(x, 6.0, 0.4),
    "period": lambda x: waves.encounter_period(x, 6.0, 2.0, 15.0),
    "angle": lambda x: waves.encounter_angle(x, 0.3)[0],
    "circular": lambda x: waves.imo_encounter_period(x, 10.0, 0.3),
}


@pytest.mark.parametrize("name", FUNCTIONS)
@pytest.mark.parametrize("shape", [(), (0,), (3,), (2, 3)], ids=["scalar", "empty", "1-d", "2-d"])
def test_shapes_go_through_and_nan_stays_nan(name, shape):
    assert np.shape(FUNCTIONS[name](np.full(shape, 1.3))) == shape
    assert np.isfinite(FUNCTIONS[name](np.full(shape, 1.3))).all()
    assert np.isnan(FUNCTIONS[name](np.full(shape, np.nan))).all()


@pytest.mark.parametrize("depth", [np.nan, 0.0, -3.0])
def test_no_depth_gives_no_number(depth):
    assert np.isnan(waves.wavenumber(0.8, depth))
