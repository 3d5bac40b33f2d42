"""Roll damping: linearisation, decay, lift; against integrals, ODEs and check values."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import quad, solve_ivp

from passage.physics.roll import damping

W0 = 2 * np.pi / 7.7


def test_factors_of_linearisation():
    # 8 / (3 pi) and sqrt(8 / pi): Himeno 1981; Roberts and Spanos 1990.
    assert_allclose(damping.REGULAR_FACTOR, 0.84883, atol=5e-6)
    assert_allclose(damping.GAUSSIAN_FACTOR, 1.59577, atol=5e-6)


@pytest.mark.parametrize("ratio", [0.7, 1.0, 1.4])
def test_regular_equivalent_takes_the_same_energy(ratio):
    # Work of the damping moment over one cycle, by quadrature of the roll equation's terms.
    zeta, b, amplitude, w = 0.04, 0.35, 0.2, ratio * W0
    equivalent = damping.equivalent_ratio_regular(zeta, b, amplitude, ratio)

    def power(t, linear, quadratic):
        rate = amplitude * w * np.cos(w * t)
        return 2 * linear * W0 * rate**2 + quadratic * abs(rate) * rate**2

    quarter = np.pi / (2 * w)
    true, _ = quad(power, 0, quarter, args=(zeta, b))
    same, _ = quad(power, 0, quarter, args=(float(equivalent), 0.0))
    assert_allclose(same, true, rtol=1e-9)


def test_gaussian_equivalent_takes_the_same_power():
    # Expected power by quadrature over the normal density.
    zeta, b, rms = 0.04, 0.35, 0.08
    equivalent = damping.equivalent_ratio_gaussian(zeta, b, rms, W0)

    def power(rate, linear, quadratic):
        density = np.exp(-0.5 * (rate / rms) ** 2)
        return (2 * linear * W0 * rate**2 + quadratic * abs(rate) * rate**2) * density

    true, _ = quad(power, 0, 12 * rms, args=(zeta, b))
    same, _ = quad(power, 0, 12 * rms, args=(float(equivalent), 0.0))
    assert_allclose(same, true, rtol=1e-8)


def peaks(zeta, b, first, count):
    """Sizes of free-decay peaks by integrating the roll equation (scipy)."""

    def equation(_, y):
        return [y[1], -2 * zeta * W0 * y[1] - b * abs(y[1]) * y[1] - W0**2 * y[0]]

    def turning(_, y):
        return y[1]

    span = [0, 7.7 * count / 2]
    done = solve_ivp(equation, span, [first, 0.0], events=turning, rtol=1e-10, atol=1e-13)
    sizes = np.abs(done.y_events[0][:, 0])
    times = done.t_events[0]
    return np.r_[first, sizes[times > 0.1]][:count]


@pytest.mark.parametrize(
    ("zeta", "b"), [(0.03, 0.3), (0.02, 0.6), (0.08, 0.1), (0.1, 0.0), (0.0, 0.4)]
)
def test_decay_amplitude_follows_the_roll_equation(zeta, b):
    # Right to first order in b x amplitude: 0.6 x 0.26 rad leaves under 0.5 %.
    want = peaks(zeta, b, 0.26, 14)
    got = damping.decay_amplitude(np.arange(want.size), 0.26, zeta, b)
    assert_allclose(got, want, rtol=5e-3)


def test_decay_amplitude_without_quadratic_part_is_exact():
    n = np.arange(9)
    want = 0.2 * np.exp(-np.pi * 0.1 * n / np.sqrt(1 - 0.1**2))
    assert_allclose(damping.decay_amplitude(n, 0.2, 0.1, 0.0), want, rtol=1e-12)


def test_extinction_of_one_half_cycle_follows_the_roll_equation():
    # Himeno 1981; ITTC 7.5-02-07-04.5: d_phi = pi zeta phi + (4/3) b phi^2, phi the mean.
    size = peaks(0.02, 0.3, 0.15, 3)
    mean, loss = (size[0] + size[1]) / 2, size[0] - size[1]
    a, b_e = damping.extinction_from_damping(0.02, 0.3)
    assert_allclose(a * mean + b_e * mean**2, loss, rtol=5e-3)


def test_published_decay_example_as_equivalent_ratio():
    # IMO decay example (imorules GUID-6287D83E): loss N phi^2 a half cycle, N per degree.
    angle = np.array([10.0, 15.0, 20.0, 25.0])
    n = np.array([0.0122, 0.0113, 0.0109, 0.0106])
    ratio = damping.equivalent_ratio_from_loss(np.radians(angle), np.radians(n * angle**2))
    assert_allclose(ratio, [0.039, 0.054, 0.069, 0.084], atol=6e-4)


def test_regular_equivalent_and_loss_of_a_half_cycle_agree():
    # zeta + (4 / 3 pi) b phi is the loss of a half cycle over pi phi.
    a, b_e = damping.extinction_from_damping(0.03, 0.4)
    loss = a * 0.2 + b_e * 0.04
    same = damping.equivalent_ratio_from_loss(0.2, loss)
    assert_allclose(same, damping.equivalent_ratio_regular(0.03, 0.4, 0.2), rtol=1e-12)


def test_hull_lift_of_the_reference_yacht():
    # Methods note 3.2: k_N 0.39095, B_L 3.997e5 N m s, zeta 0.0297 at 12 kn.
    assert_allclose(damping.lift_slope_of_hull(45, 9, 2.8, 0.90), 0.39095, atol=5e-6)
    lift = damping.hull_lift_damping_n_m_s(45, 9, 2.8, 0.90, -0.8, 6.1733)
    assert_allclose(lift, 3.997e5, rtol=2e-4)
    assert_allclose(
        damping.ratio_from_moment_rate(lift, 5491.7e3, 2 * np.pi / 7.696), 0.0297, rtol=5e-3
    )


def test_hull_lift_grows_with_speed_and_is_nothing_at_rest():
    speed = np.array([0.0, 3.0, 6.0, -6.0])
    lift = damping.hull_lift_damping_n_m_s(45, 9, 2.8, 0.95, -0.8, speed)
    assert_allclose(lift / lift[1], [0.0, 1.0, 2.0, 2.0], atol=1e-12)


def test_lift_slope_meets_its_table_at_full_sections():
    # Table 0, 0.1 (Cm 0.92 to 0.97), 0.3 (0.97 to 0.99): Ikeda, from memory. The smooth
    # form runs through the steps: 0 at 0.91, between 0.1 and 0.3 at the step, near 0.3 above.
    flat = damping.lift_slope_of_hull(45, 9, 2.8, [0.90, 0.91])
    assert_allclose(flat, 2 * np.pi * 2.8 / 45, rtol=1e-12)
    kappa = (damping.lift_slope_of_hull(45, 9, 2.8, [0.97, 0.99]) - flat[0]) / (4.1 * 0.2 - 0.045)
    assert 0.1 < kappa[0] < 0.3
    assert_allclose(kappa[1], 0.3, atol=0.03)


def test_dimensionless_damping_of_the_reference_yacht():
    # Methods note 3.2: zeta = 4.976 B^ for 560 t, B 9 m, C44 5491.7 kN m, T 7.696 s.
    ratio = damping.ratio_from_dimensionless(1.0, 560.0, 9.0, 5491.7e3, 2 * np.pi / 7.696)
    assert_allclose(ratio, 4.976, rtol=1e-3)


FUNCTIONS = {
    "regular": lambda x: damping.equivalent_ratio_regular(0.03, 0.3, x),
    "gaussian": lambda x: damping.equivalent_ratio_gaussian(0.03, 0.3, x, W0),
    "decay": lambda x: damping.decay_amplitude(x, 0.2, 0.03, 0.3),
    "lift": lambda x: damping.hull_lift_damping_n_m_s(45, 9, 2.8, 0.9, -0.8, x),
}


@pytest.mark.parametrize("name", FUNCTIONS)
@pytest.mark.parametrize("shape", [(), (0,), (3,), (2, 3)], ids=["scalar", "empty", "1-d", "2-d"])
def test_shapes_go_through_and_nan_stays_nan(name, shape):
    assert np.shape(FUNCTIONS[name](np.full(shape, 1.3))) == shape
    assert np.isfinite(FUNCTIONS[name](np.full(shape, 1.3))).all()
    assert np.isnan(FUNCTIONS[name](np.full(shape, np.nan))).all()
