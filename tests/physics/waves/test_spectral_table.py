"""Spectral tables against direct sums, closed forms and their own rules."""

from __future__ import annotations

import numpy as np
import pytest
from gather_direct import gather_direct
from numpy.testing import assert_allclose

from passage.physics.roll.excitation import RollExcitation, roll_excitation_kernel
from passage.physics.waves import table
from passage.physics.waves.dispersion import encounter_frequency
from passage.physics.waves.kernel import KernelOperator, frequency_widths
from passage.physics.waves.spectrum import COS2_WIDTH_RAD, SWELL_WIDTH_RAD, jonswap, spreading
from passage.physics.waves.table import SpectralTable, SpeedTables
from passage.units import KNOT_M_S

U12 = 12 * KNOT_M_S
OMEGA = np.geomspace(0.1, 14.0, 1400)
THETA = np.arange(720) * 2 * np.pi / 720


def elevation(omega, mu, speed):
    return np.ones((1, omega.size, mu.size))


def smooth(omega, mu, speed):
    """A dense kernel: velocity, a signed force and a slope as met."""
    met = encounter_frequency(omega[:, None], speed, mu)
    filtered = 1 / (1 + omega[:, None] ** 4)
    return np.stack([met**2 * filtered, np.cos(mu) * filtered, np.sin(mu) ** 2 * filtered])


def direct(kernel, speed, height, period, mu, gamma, width):
    """The sum that the table replaces, on another grid."""
    s = jonswap(OMEGA, 1.0, period, gamma) * frequency_widths(OMEGA)
    s *= height**2 / 16 / s.sum()
    d = spreading(THETA - mu, width)
    return np.einsum("w,m,cwm->c", s, d / d.sum(), kernel(OMEGA, THETA, speed))


@pytest.fixture(scope="module")
def tables():
    return SpeedTables(smooth)


@pytest.mark.parametrize("mu", [0.0, 0.3, 1.2, np.pi / 2, 2.5, np.pi])
@pytest.mark.parametrize(
    ("period", "gamma", "width", "rtol"),
    [(8.0, 3.3, COS2_WIDTH_RAD, 2e-3), (11.3, 5.0, SWELL_WIDTH_RAD, 2e-3),
     (6.2, 1.6, 0.4, 1e-2), (15.0, 2.7, 0.15, 1e-2)],
)  # fmt: skip
def test_table_is_the_direct_sum(tables, mu, period, gamma, width, rtol):
    # Tolerance: cubic interpolation over period and heading; linear over gamma
    # where that is off its levels.
    ours = tables.variance(U12, [2.0], period, mu, gamma, width)
    truth = direct(smooth, U12, 2.0, period, mu, gamma, width)
    assert_allclose(ours, truth, rtol=rtol, atol=rtol * np.abs(truth).max())


def test_variance_of_the_sea_itself_is_a_sixteenth_of_height_squared():
    table = SpectralTable.build(elevation, 5.0)
    ours = table.variance([[1.0, 2.0], [3.0, np.nan]], [[4.0, 9.0], [12.5, np.nan]], 1.0, 2.2, 0.3)
    assert_allclose(ours[:, 0], [5 / 16, 9 / 16], rtol=1e-5)


def test_systems_add_up(tables):
    args = np.array([[1.5, 0.8]]), np.array([[7.0, 12.0]]), np.array([[0.4, 2.0]])
    both = tables.variance(U12, *args, 3.3, COS2_WIDTH_RAD)
    parts = sum(
        tables.variance(U12, *(a[:, i : i + 1] for a in args), 3.3, COS2_WIDTH_RAD) for i in (0, 1)
    )
    assert_allclose(both, parts, rtol=1e-12)


def test_port_equals_starboard_and_a_turn_changes_nothing(tables):
    mu = np.array([0.3, 1.0, 2.9])[:, None]
    ours = tables.variance(U12, [[1.0]], 8.0, mu, 3.3, SWELL_WIDTH_RAD)
    for other in (-mu, mu + 2 * np.pi, mu - 4 * np.pi):
        theirs = tables.variance(U12, [[1.0]], 8.0, other, 3.3, SWELL_WIDTH_RAD)
        assert_allclose(theirs, ours, rtol=1e-9)


def test_height_enters_squared(tables):
    one = tables.variance(U12, [1.0], 8.0, 1.0, 3.3, COS2_WIDTH_RAD)
    assert_allclose(tables.variance(U12, [3.0], 8.0, 1.0, 3.3, COS2_WIDTH_RAD), 9 * one, rtol=1e-12)


@pytest.mark.parametrize(
    "nan", ["height", "all heights", "period", "mu", "gamma", "spread", "speed"]
)
def test_nan_never_becomes_a_number(tables, nan):
    height, period, mu = np.array([1.0, 2.0]), np.array([8.0, 9.0]), np.array([1.0, 2.0])
    gamma, spread, speed = np.array([3.3, 5.0]), np.array([COS2_WIDTH_RAD, 0.3]), U12
    if nan == "all heights":
        height[:] = np.nan
    elif nan == "speed":
        speed = np.nan
    else:
        given = {"height": height, "period": period, "mu": mu, "gamma": gamma, "spread": spread}
        given[nan][1] = np.nan
    ours = tables.variance(speed, height, period, mu, gamma, spread)
    if nan == "height":  # that system is absent
        alone = tables.variance(U12, height[:1], period[:1], mu[:1], gamma[:1], spread[:1])
        assert_allclose(ours, alone, rtol=1e-12)
    else:
        assert np.isnan(ours).all()


def test_calm_system_needs_no_period(tables):
    ours = tables.variance(U12, [1.0, 0.0], [8.0, np.nan], [1.0, np.nan], 3.3, COS2_WIDTH_RAD)
    assert_allclose(ours, tables.variance(U12, [1.0], 8.0, 1.0, 3.3, COS2_WIDTH_RAD), rtol=1e-12)
    assert_allclose(tables.variance(U12, [0.0], np.nan, np.nan, 3.3, 0.3), 0.0, atol=0)


@pytest.mark.parametrize(
    ("period", "gamma", "spread"), [(0.9, 3.3, 0.3), (31.0, 3.3, 0.3), (8.0, 7.5, 0.3),
                                    (8.0, 0.9, 0.3), (8.0, 3.3, 0.05), (8.0, 3.3, 1.5)],
)  # fmt: skip
def test_outside_the_tables_there_is_no_answer(tables, period, gamma, spread):
    assert np.isnan(tables.variance(U12, [1.0], period, 1.0, gamma, spread)).all()


def test_compiled_loop_equals_the_direct_sum(tables, monkeypatch):
    rng = np.random.default_rng(5)
    n = 300
    height = np.where(rng.random((n, 3)) < 0.2, np.nan, rng.uniform(0, 4, (n, 3)))
    args = (
        rng.choice([U12, 9.7 * KNOT_M_S], n),
        height,
        rng.uniform(1.0, 30.0, (n, 3)),
        rng.uniform(-4, 4, (n, 3)),
        rng.choice([3.3, 1.9], (n, 3)),
        rng.choice([COS2_WIDTH_RAD, 0.37], (n, 3)),
    )
    fast = tables.variance(*args)
    monkeypatch.setattr(table, "gather", gather_direct)
    plain = tables.variance(*args)
    assert_allclose(fast, plain, rtol=1e-12, atol=1e-14, equal_nan=True)
    assert np.isnan(fast).any()


def test_between_speed_nodes_it_is_close_to_a_table_of_its_own():
    kernel = roll_excitation_kernel(0.8164, 9.0)
    tables, pinned = SpeedTables(kernel), SpeedTables(kernel)
    speed = 10.23 * KNOT_M_S
    pinned.pin(speed)
    mu = np.linspace(0, np.pi, 9)[:, None]
    loose = tables.variance(speed, np.ones((9, 1)), 8.0, mu, 3.3, COS2_WIDTH_RAD)
    exact = pinned.variance(speed, np.ones((9, 1)), 8.0, mu, 3.3, COS2_WIDTH_RAD)
    single = SpectralTable(kernel, speed).variance(np.ones((9, 1)), 8.0, mu, 3.3, COS2_WIDTH_RAD)
    assert_allclose(exact, single, rtol=1e-7, atol=1e-12)
    assert_allclose(loose.sum(-1), exact.sum(-1), rtol=1e-4)
    # Smoothed over a resonance (5 per cent wide) the difference is under a per mille.
    nodes = kernel.nodes_rad_s / 0.8164
    response = 1 / ((1 - nodes**2) ** 2 + (0.1 * nodes) ** 2)
    assert_allclose(loose @ response, exact @ response, rtol=1e-3)


def test_memory_is_bounded_and_old_speeds_go_first():
    tables = SpeedTables(smooth, max_bytes=1)
    for knots in range(9):
        tables.variance(knots * KNOT_M_S, [1.0], 8.0, 1.0, 3.3, COS2_WIDTH_RAD)
    one = tables.table(8 * KNOT_M_S).nbytes
    assert tables.nbytes <= 5 * one


def test_following_fold_keeps_all_variance():
    # Total slope variance does not depend on speed: the fold only moves it.
    nodes = np.linspace(0, 6, 300)
    still, fast = (
        SpectralTable(RollExcitation(nodes, 9.0), u).variance([2.0], 6.0, 0.2, 3.3, 0.13)
        for u in (0.0, U12)
    )
    assert_allclose(fast.sum(), still.sum(), rtol=1e-6)
    # Met at the fold and below, far under the 1.05 rad/s of the waves.
    low = nodes < 0.5
    assert fast[low].sum() > 0.8 * fast.sum()
    assert still[low].sum() < 1e-6 * still.sum()


@pytest.mark.parametrize("mean", [0.0, 1.1, 2.7])
def test_full_spectrum_agrees_with_its_own_parameters(tables, mean):
    omega = np.linspace(0.2, 4.0, 240)
    direction = np.arange(72) * 2 * np.pi / 72
    density = jonswap(omega, 2.0, 8.0, 3.3)[:, None] * spreading(direction - mean, COS2_WIDTH_RAD)
    ours = tables.from_density(U12, density, omega, direction)
    theirs = tables.variance(U12, [2.0], 8.0, mean, 3.3, COS2_WIDTH_RAD)
    # Linear between the file's own points: about half a per cent at 5 degrees.
    assert_allclose(ours, theirs, rtol=1e-2, atol=5e-3 * np.abs(theirs).max())


def test_full_spectrum_keeps_its_variance_and_its_gaps():
    table = SpectralTable(elevation, 5.0)
    omega = 2 * np.pi * 0.0345 * 1.1 ** np.arange(30)  # as wave models space them
    direction = np.arange(24) * np.pi / 12 + 0.13
    rng = np.random.default_rng(0)
    density = rng.random((3, 30, 24))
    area = frequency_widths(omega)
    area[0], area[-1] = 0.5 * (omega[1] - omega[0]), 0.5 * (omega[-1] - omega[-2])
    total = (density * area[:, None]).sum((1, 2)) * np.pi / 12
    assert_allclose(table.from_density(density, omega, direction)[:, 0], total, rtol=1e-6)
    density[1, 4, 4] = np.nan
    assert np.isnan(table.from_density(density, omega, direction)[:, 0]).tolist() == [
        False, True, False,
    ]  # fmt: skip
    with pytest.raises(ValueError, match="ascending"):
        table.from_density(density, omega[::-1], direction)


def test_dealt_kernel_equals_its_dense_form():
    kernel = RollExcitation(np.linspace(0, 4, 12), 9.0)
    dealt = KernelOperator(kernel, U12)
    dense = KernelOperator(lambda w, m, u: kernel(w, m, u), U12)
    energy = np.random.default_rng(1).random((1000, 3))
    assert_allclose(
        dealt.over_frequency(energy), dense.over_frequency(energy), rtol=2e-4, atol=1e-6
    )


def test_shapes_broadcast_over_any_points(tables):
    height = np.ones((4, 1, 3, 2))
    mu = np.linspace(0, 3, 5)[:, None, None]
    ours = tables.variance(U12, height, 8.0, mu, 3.3, COS2_WIDTH_RAD)
    assert ours.shape == (4, 5, 3, 3)
    assert tables.variance(U12, np.ones((0, 2)), 8.0, 1.0, 3.3, 0.3).shape == (0, 3)


def test_kernel_of_the_wrong_shape_is_refused():
    with pytest.raises(ValueError, match="expected"):
        SpectralTable.build(lambda w, m, u: np.ones((1, 7, 7)), 1.0)
