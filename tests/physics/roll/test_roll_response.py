"""Roll response: closed forms, properties, limits, stability."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from roll_direct import solve_direct, stall_statistics_direct
from roll_truth import Ship, clip, stalled

from passage.physics.fins.force import Fins
from passage.physics.motions.places import lateral_acceleration_rms
from passage.physics.roll import response
from passage.physics.roll.excitation import encounter_nodes
from passage.physics.roll.linearisation import REGULAR_QUADRATIC_FACTOR
from passage.physics.roll.radiation import RollRadiation
from passage.physics.roll.response import (
    HullRoll,
    solve_roll,
)

W0 = 0.8164


def trapezoid(nodes):
    """Weights of a trapezoidal sum."""
    return 0.5 * (np.diff(nodes, prepend=nodes[0]) + np.diff(nodes, append=nodes[-1]))


NODES = encounter_nodes(W0)
WIDTHS = trapezoid(NODES)
WHITE = 1e-4 * WIDTHS  # slope density 1e-4 rad2 s/rad at every frequency
PEAKED = 3e-3 * np.exp(-0.5 * ((NODES - 0.85) / 0.15) ** 2) * WIDTHS
D = np.radians
# Invented yacht at 12 kn: one pair of 2 m2, moment 0.125 of the righting moment.
FINS = Fins([0.12514], [0.58315], D(25), D(30), 0.2, D(26.4), angle_gain=0.5, rate_gain_s=4.0)
HULL = HullRoll(W0, 0.05, 0.15)


def fins(**changes):
    given = {f.name: getattr(FINS, f.name) for f in fields(Fins)}
    return Fins(**(given | changes))


def test_white_noise_without_fins():
    # sigma^2 = pi w0 S/(4 zeta), and rate variance w0^2 times that.
    for zeta in (0.02, 0.1, 0.3):
        r = solve_roll(WHITE, NODES, HullRoll(W0, zeta), FINS.absent())
        expected = np.pi * W0 * 1e-4 / (4 * zeta)
        # The nodes end at 4 rad/s and the rate converges slowly with that.
        assert_allclose(r.roll_rms_rad**2, expected, rtol=3e-3)
        assert_allclose(r.rate_rms_rad_s**2, W0**2 * expected, rtol=2e-3 + 0.3 * zeta)
        assert_allclose(r.damping_ratio_total, zeta, rtol=1e-12)


def test_white_noise_check_value():
    # w0 = 1, zeta = 0.1: integral of |H|^2 is 7.854.
    nodes = encounter_nodes(1.0, 256, 30.0)
    r = solve_roll(trapezoid(nodes), nodes, HullRoll(1.0, 0.1), FINS.absent())
    assert_allclose(r.roll_rms_rad**2, 7.854, rtol=2e-3)


def test_very_long_swell_rolls_her_with_the_surface():
    low = np.where(NODES < 0.06, 1e-4, 0.0)
    r = solve_roll(low, NODES, HULL, FINS.absent())
    assert_allclose(r.roll_rms_rad, np.sqrt(low.sum()), rtol=5e-3)


def test_fins_add_the_damping_of_the_check_values():
    calm = 1e-8 * WHITE
    centred = solve_roll(calm, NODES, HullRoll(W0, 0.05), FINS.centred())
    assert_allclose(centred.damping_ratio_total - 0.05, 0.0298, rtol=0.01)
    # k2 = 6.264 s on top of 0.08 gives 0.40, without lag and inflow.
    pure = fins(inflow_time_s=0.0, lag_s=0.0, angle_gain=0.0, rate_gain_s=6.264)
    active = solve_roll(calm, NODES, HullRoll(W0, 0.08), pure)
    assert_allclose(active.damping_ratio_total, 0.40, rtol=2e-3)
    bare = solve_roll(calm, NODES, HullRoll(W0, 0.08), FINS.absent())
    # Narrow-band reduction 1 - sqrt(0.08/0.40) = 55.3 per cent.
    reduction = 1 - active.roll_rms_rad / bare.roll_rms_rad
    assert_allclose(reduction, 0.553, atol=2e-3)


# Roll ratio stabilised/unstabilised at one frequency, zeta0 0.08, M/C44 0.12514,
# no lag or inflow: from the closed loop formula in an independent script.
@pytest.mark.parametrize(
    ("gains", "ratios"),
    [
        ((0.0, 6.264, 0.0), [0.987, 0.887, 0.689, 0.200, 0.577, 0.887]),
        ((3.995, 0.0, 0.0), [0.658, 0.602, 0.514, 0.305, 2.558, 1.197]),
        ((3.995, 6.264, 0.0), [0.654, 0.575, 0.452, 0.170, 0.682, 1.016]),
        ((0.0, 6.264, 2.997), [0.997, 0.948, 0.767, 0.191, 0.473, 0.700]),
    ],
)
def test_feedback_by_encounter_frequency(gains, ratios):
    for x, ratio in zip([0.2, 0.5, 0.7, 1.0, 1.3, 2.0], ratios, strict=True):
        nodes = np.array([x * W0])
        energy = np.array([1e-10])
        k1, k2, k3 = gains
        steered = fins(
            inflow_time_s=0.0, lag_s=0.0, angle_gain=k1, rate_gain_s=k2, acceleration_gain_s2=k3
        )
        with_ = solve_roll(energy, nodes, HullRoll(W0, 0.08), steered)
        without = solve_roll(energy, nodes, HullRoll(W0, 0.08), FINS.absent())
        # Printed to 3 figures; our shortest lag of 1 ms shifts the last a little.
        assert_allclose(with_.roll_rms_rad / without.roll_rms_rad, ratio, rtol=2e-3, atol=6e-4)


def test_quadratic_damping_is_the_gaussian_equivalent():
    b = 0.4
    r = solve_roll(PEAKED, NODES, HullRoll(W0, 0.03, b), FINS.absent())
    zeta = 0.03 + np.sqrt(8 / np.pi) * b * r.rate_rms_rad_s / (2 * W0)
    assert_allclose(r.damping_ratio_total, zeta, rtol=1e-9)
    alone = solve_roll(PEAKED, NODES, HullRoll(W0, zeta), FINS.absent())
    assert_allclose(alone.roll_rms_rad, r.roll_rms_rad, rtol=1e-9)


def test_damping_of_the_published_imo_decay_example():
    # IMO circular example: N = 0.0122 to 0.0106 per degree, equivalent
    # zeta = N phi/pi: 0.039 at 10 degrees, 0.054 at 15, 0.069 at 20, 0.084 at 25.
    # A half cycle loses N' phi^2 = (4/3) b phi^2 (Himeno 1981), N' per radian; regular
    # rolling at the natural frequency has the rate amplitude w0 phi.
    for n, phi, zeta in ((0.0122, 10, 0.039), (0.0113, 15, 0.054), (0.0109, 20, 0.069)):
        b = 0.75 * n * 180 / np.pi
        found = REGULAR_QUADRATIC_FACTOR * b * W0 * D(phi) / (2 * W0)
        assert_allclose(found, zeta, atol=6e-4)


def test_steady_heel_held_by_an_offset():
    # 1 degree needs 7.990 degrees of fin on this yacht.
    offset = fins(offset_rad=D(7.990), stall_angle_rad=np.inf)
    r = solve_roll(1e-6 * PEAKED, NODES, HullRoll(W0, 0.05, 0.15, D(1.0)), offset)
    assert_allclose(np.degrees(r.mean_heel_rad), 0.0, atol=2e-3)
    assert_allclose(r.heel_shortfall_rad, 0.0, atol=1e-9)
    assert_allclose(r.fin_mean_rad, D(7.990), rtol=1e-9)


def test_offset_beyond_the_fins_says_its_shortfall():
    beyond = fins(offset_rad=D(40), stall_angle_rad=np.inf)
    r = solve_roll(1e-6 * PEAKED, NODES, HullRoll(W0, 0.05, 0.0, D(5.0)), beyond)
    assert_allclose(r.fin_mean_rad, D(25), rtol=1e-6)
    assert_allclose(np.degrees(r.mean_heel_rad), 5.0 - 25 * 0.12514, rtol=1e-5)
    assert_allclose(np.degrees(r.heel_shortfall_rad), 15 * 0.12514, rtol=1e-5)
    assert r.share_at_limit[0] > 0.999


@settings(deadline=None, max_examples=40)
@given(st.floats(0, 0.06), st.floats(0, 0.5), st.floats(0.02, 3.0))
def test_port_and_starboard_mirror(heel, offset, size):
    right = solve_roll(size * PEAKED, NODES, HullRoll(W0, 0.05, 0.1, heel), fins(offset_rad=offset))
    left = solve_roll(
        size * PEAKED, NODES, HullRoll(W0, 0.05, 0.1, -heel), fins(offset_rad=-offset)
    )
    assert_allclose(left.roll_rms_rad, right.roll_rms_rad, rtol=1e-9)
    assert_allclose(left.mean_heel_rad, -right.mean_heel_rad, rtol=1e-7, atol=1e-12)
    assert_allclose(left.lift_mean_rad, -right.lift_mean_rad, rtol=1e-7, atol=1e-12)


def test_no_fin_area_is_no_fins():
    none = solve_roll(PEAKED, NODES, HULL, fins(moment_ratio=[0.0]))
    absent = solve_roll(PEAKED, NODES, HULL, FINS.absent())
    assert_allclose(none.roll_rms_rad, absent.roll_rms_rad, rtol=1e-12)
    assert_allclose(none.damping_ratio_total, absent.damping_ratio_total, rtol=1e-12)
    assert_allclose(none.mean_heel_rad, absent.mean_heel_rad, rtol=1e-12)


def test_more_offset_never_rights_her_less_until_the_stall():
    offsets = D(np.linspace(0, 24, 25))[:, None]
    flat = fins(offset_rad=offsets, post_stall_slope=0.0)
    r = solve_roll(0.2 * PEAKED, NODES, HullRoll(W0, 0.05, 0.1, D(3.0)), flat)
    assert (np.diff(r.mean_heel_rad) < 0).all()
    assert (np.diff(r.heel_shortfall_rad) > -1e-12).all()


def test_more_sea_never_rolls_her_less_and_leaves_less_gain():
    sizes = np.geomspace(0.01, 5, 30)[:, None]
    r = solve_roll(sizes * PEAKED, NODES, HULL, fins(post_stall_slope=0.0))
    assert (np.diff(r.roll_rms_rad) > 0).all()
    assert (np.diff(r.limit_gain[:, 0]) <= 1e-12).all()
    assert (np.diff(r.share_at_limit[:, 0]) >= -1e-12).all()
    assert r.converged.all()


def test_active_centred_absent_are_in_order_near_resonance():
    active, centred, absent = (
        solve_roll(PEAKED, NODES, HULL, f).roll_rms_rad
        for f in (FINS, FINS.centred(), FINS.absent())
    )
    assert active < centred < absent


def test_two_equal_pairs_are_one_pair_of_both():
    one = solve_roll(PEAKED, NODES, HULL, fins(offset_rad=0.1))
    halves = fins(moment_ratio=[0.06257, 0.06257], inflow_time_s=[0.58315] * 2, offset_rad=0.1)
    two = solve_roll(PEAKED, NODES, HULL, halves)
    assert_allclose(two.roll_rms_rad, one.roll_rms_rad, rtol=1e-9)
    assert_allclose(two.mean_heel_rad, one.mean_heel_rad, rtol=1e-9)
    assert_allclose(two.fin_rms_rad, np.repeat(one.fin_rms_rad, 2), rtol=1e-9)
    alone = fins(moment_ratio=[0.12514, 0.0], inflow_time_s=[0.58315] * 2, offset_rad=0.1)
    assert_allclose(
        solve_roll(PEAKED, NODES, HULL, alone).roll_rms_rad, one.roll_rms_rad, rtol=1e-9
    )
    with pytest.raises(ValueError, match="one or two"):
        solve_roll(PEAKED, NODES, HULL, fins(moment_ratio=[0.1, 0.1, 0.1]))


def test_pairs_with_their_own_limits_and_gains():
    mixed = fins(
        moment_ratio=[0.08, 0.05], inflow_time_s=[0.5, 0.6], angle_limit_rad=D([25, 15]),
        rate_gain_s=[3.0, 6.0], lag_s=[0.2, 0.4], offset_rad=D([6, 0]),
    )  # fmt: skip
    r = solve_roll(PEAKED, NODES, HullRoll(W0, 0.05, 0.1, D(1)), mixed)
    assert r.share_at_limit[1] > r.share_at_limit[0]
    assert r.command_rms_rad[1] > r.command_rms_rad[0]
    assert abs(r.fin_mean_rad[1]) < 1e-9 < r.fin_mean_rad[0]
    held = 0.08 * r.lift_mean_rad[0]
    assert_allclose(r.mean_heel_rad, D(1) - held, rtol=1e-9)


def test_an_unstable_loop_has_no_answer():
    wild = fins(rate_gain_s=4.0, angle_gain=60.0, lag_s=0.5)
    r = solve_roll(PEAKED, NODES, HULL, wild)
    assert not r.stable
    assert not r.converged
    assert np.isnan(r.roll_rms_rad)
    assert np.isnan(r.fin_rms_rad).all()
    # Positive feedback stronger than her own stability capsizes the loop.
    assert not solve_roll(PEAKED, NODES, HULL, fins(angle_gain=-9.0)).stable
    # The edge itself, without lag and inflow, is k1 = -1/m = -7.99.
    steady = fins(angle_gain=-7.9, lag_s=0.0, inflow_time_s=0.0)
    assert solve_roll(1e-9 * PEAKED, NODES, HULL, steady).stable


@pytest.mark.parametrize("pairs", [1, 2])
def test_stability_edge_is_where_a_root_crosses(pairs):
    rng = np.random.default_rng(pairs)
    agree = 0
    for _ in range(200):
        m = rng.uniform(0.02, 0.2, pairs)
        k1, k2, k3 = (
            rng.uniform(-10, 60, pairs),
            rng.uniform(-2, 10, pairs),
            rng.uniform(-1, 5, pairs),
        )
        lag, inflow = rng.uniform(0.05, 1.0, pairs), rng.uniform(0, 1, pairs)
        poly = np.poly1d([1 / W0**2, 2 * 0.05 / W0 + (m * inflow).sum(), 1.0])
        for i in range(pairs):
            poly = poly * np.poly1d([lag[i], 1.0])
        for i in range(pairs):
            term = np.poly1d([k3[i], k2[i], k1[i]]) * m[i]
            for j in range(pairs):
                if j != i:
                    term = term * np.poly1d([lag[j], 1.0])
            poly = poly + term
        steady = bool(poly.roots.real.max() < 0)
        f = Fins(m, inflow, np.inf, np.inf, lag, np.inf, 0.0, k1, k2, k3)
        r = solve_roll(1e-12 * PEAKED, NODES, HullRoll(W0, 0.05), f)
        assert bool(r.stable) == steady
        agree += steady
    assert 10 < agree < 190  # both kinds were met


def test_bounded_moment_at_rest():
    # B_eq as a sign function under a Gaussian rate: sqrt(2/pi) M0/sigma_p.
    rest = FINS.at_rest([0.002])
    r = solve_roll(PEAKED, NODES, HullRoll(W0, 0.03), rest)
    zeta = 0.03 + np.sqrt(2 / np.pi) * 0.002 * W0 / (2 * r.rate_rms_rad_s)
    assert_allclose(r.damping_ratio_total, zeta, rtol=1e-9)
    # Less use in a larger swell.
    sizes = np.array([0.1, 1.0, 10.0])[:, None]
    driven = solve_roll(sizes * PEAKED, NODES, HullRoll(W0, 0.03), rest).roll_rms_rad
    free = solve_roll(sizes * PEAKED, NODES, HullRoll(W0, 0.03), FINS.absent()).roll_rms_rad
    assert (np.diff(driven / free) > 0).all()


def test_rate_limit_lags_and_weakens():
    free = solve_roll(PEAKED, NODES, HULL, fins(rate_limit_rad_s=np.inf))
    slow = solve_roll(PEAKED, NODES, HULL, fins(rate_limit_rad_s=D(8)))
    assert_allclose(free.effective_lag_s, 0.2, rtol=1e-12)
    assert slow.effective_lag_s[0] > 0.25
    assert slow.roll_rms_rad > free.roll_rms_rad
    assert slow.travel_rad_s[0] < D(8)
    assert slow.fin_rate_rms_rad_s[0] <= D(8)


def test_calm_sea():
    r = solve_roll(0 * PEAKED, NODES, HullRoll(W0, 0.05, 0.1, D(1)), fins(offset_rad=D(4)))
    assert r.roll_rms_rad < 1e-9
    assert r.converged
    assert_allclose(np.degrees(r.mean_heel_rad), 1 - 4 * 0.12514, rtol=1e-9)


@pytest.mark.parametrize("name", ["energy", "hull", "fin"])
def test_nan_never_becomes_a_number(name):
    energy = np.stack([PEAKED, PEAKED])
    zeta, gain = np.array([0.05, 0.05]), np.full((2, 1), 4.0)
    if name == "energy":
        energy[1, 60] = np.nan
    elif name == "hull":
        zeta[1] = np.nan
    else:
        gain[1] = np.nan
    r = solve_roll(energy, NODES, HullRoll(W0, zeta, 0.1), fins(rate_gain_s=gain))
    assert r.converged.tolist() == [True, False]
    for f in fields(r):
        value = getattr(r, f.name)
        if value.dtype == float:
            assert np.isfinite(value[0]).all(), f.name
            assert np.isnan(value[1]).all(), f.name


@pytest.mark.parametrize("pairs", [1, 2])
def test_compiled_loop_equals_the_direct_solver(pairs, monkeypatch):
    rng = np.random.default_rng(pairs)
    n = 400
    energy = PEAKED * rng.uniform(0.001, 6, (n, 1)) * rng.uniform(0.5, 1.5, (n, NODES.size))
    more = rng.uniform(-0.02, 0.05, (3, 2, NODES.size)) * NODES**2
    hull = HullRoll(
        W0, rng.uniform(0.02, 0.1, n), rng.uniform(0, 0.4, n), rng.uniform(-0.05, 0.05, n),
        RollRadiation(5.0, NODES, more), rng.uniform(0, 10, n),
        rng.uniform(0.8, 1.2, n),
    )  # fmt: skip
    shape = (n, pairs)
    f = Fins(
        rng.uniform(0, 0.1, shape), rng.uniform(0.3, 1, shape), D(rng.uniform(15, 30, shape)),
        D(rng.uniform(10, 40, shape)), rng.uniform(0.0, 0.4, shape), D(rng.uniform(20, 35, shape)),
        0.5, rng.uniform(0, 3, shape), rng.uniform(0, 8, shape), rng.uniform(0, 1, shape),
        D(rng.uniform(-12, 12, shape)), rng.choice([0.0, 0.002], shape),
        rng.choice([0.0, 0.1, 0.4], shape),
    )  # fmt: skip
    fast = solve_roll(energy, NODES, hull, f)
    monkeypatch.setattr(response, "solve_loop", solve_direct)
    plain = solve_roll(energy, NODES, hull, f)
    assert fast.stable.mean() > 0.8
    assert (fast.converged == fast.stable).mean() > 0.99
    for field in fields(fast):
        a, b = getattr(fast, field.name), getattr(plain, field.name)
        if field.name == "iterations":
            continue
        if field.name == "converged":
            # A point that needs all its passes may just make it in one of the two.
            assert (a == b).mean() > 0.99
        elif a.dtype == bool:
            assert (a == b).all(), field.name
        else:
            sure = fast.converged & plain.converged
            assert_allclose(a[sure], b[sure], rtol=1e-9, atol=1e-12, err_msg=field.name)


def test_stall_integral_is_the_double_sum():
    rng = np.random.default_rng(3)
    for _ in range(40):
        std, mean, limit = D(rng.uniform(1, 30)), D(rng.uniform(-15, 15)), D(25)
        inflow, rho, stall = D(rng.uniform(0.3, 5)), rng.uniform(-0.5, 1), D(rng.uniform(18, 30))
        ship = Ship(W0, 0.05, 0.1, 9.0, 6.0, moment=0.1, limit=limit, stall=stall)
        gain, kept, _ = clip(std, mean, limit)
        truth = stalled(std, mean, ship, inflow, rho * std * inflow, kept, gain)
        ours = stall_statistics_direct(
            *(np.array([[a]]) for a in (std, mean, limit, inflow, rho, stall))
        )
        part, excess, with_angle = (float(a[0, 0]) for a in ours[:3])
        slant = (with_angle - part * rho * std * inflow) / std**2
        # The scatter kept for smoothness costs two per mille where rho is 1.
        assert_allclose(kept - 1.5 * excess, truth[0], atol=5e-5)
        assert_allclose(gain - 1.5 * slant, truth[1], atol=2e-3)
        assert_allclose(1 - 1.5 * part, truth[2], atol=3e-3)


def test_points_broadcast_and_empty_stays_empty():
    r = solve_roll(
        np.broadcast_to(PEAKED, (3, 1, NODES.size)), NODES,
        HullRoll(W0, np.full((1, 4), 0.05)), fins(offset_rad=np.zeros((2, 1, 1, 1))),
    )  # fmt: skip
    assert r.roll_rms_rad.shape == (2, 3, 4)
    assert r.fin_rms_rad.shape == (2, 3, 4, 1)
    assert solve_roll(np.ones((0, NODES.size)), NODES, HULL, FINS).roll_rms_rad.shape == (0,)


def test_lateral_acceleration_of_one_frequency():
    w = 0.9
    r = solve_roll(np.array([1e-4]), np.array([w]), HULL, FINS.absent())
    for z in (-2.0, 0.0, 6.0):
        # A mast head swung to starboard is thrown to starboard as gravity pulls there:
        # test_motions.py finds the same from the geometry of a swing.
        expected = abs(9.80665 + z * w**2) * r.roll_rms_rad
        assert_allclose(
            lateral_acceleration_rms(
                r.roll_rms_rad**2, (w * r.roll_rms_rad) ** 2, (w * w * r.roll_rms_rad) ** 2, z
            ),
            expected,
            rtol=1e-6,
        )
