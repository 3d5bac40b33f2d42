"""Fins and their limits: printed values, the closed loop of the roll equation, capacity.

The yacht of the cases: 45 x 9 x 2.8 m, 560 t, GM 1.0 m, two fins of 2.0 m2 with effective
aspect ratio 2.0 and a lever of 3.6 m, 12 kn (invented, for checks only).
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from reference_rows import Printed, cases
from scipy.optimize import brentq
from scipy.special import erf
from scipy.stats import norm

from passage.physics import fins as fin
from passage.physics import linearisation as lin
from passage.physics.roll_packing import SHORTEST_LAG_S
from passage.physics.roll_response import HullRoll, solve_roll
from passage.physics.stability import righting_stiffness_n_m
from passage.units import KNOT_M_S

SPEED = 12.0 * KNOT_M_S
C44 = float(righting_stiffness_n_m(560.0, 1.0))
SLOPE, AREA, LEVER = 2.4435, 2.0, 3.6


@pytest.mark.parametrize(
    ("aspect_ratio", "per_rad", "per_deg"),
    cases("fin_lift_slope.csv", "aspect_ratio", "per_rad", "per_deg"),
)
def test_lift_slope_table(aspect_ratio, per_rad, per_deg):
    # "inf" in the table is the limit 1.8 pi; a million is as good to its digits.
    a = min(float(aspect_ratio), 1e6)
    found = fin.lift_slope(a)
    assert Printed(per_rad).holds(found)
    assert Printed(per_deg).holds(found * np.pi / 180)


def test_lift_slope_beside_the_rounding_in_use_and_in_its_limits():
    # 5.7 a/(1.8 + sqrt(a^2 + 4)), an open yacht library after Keuning and Verwerft: 0.8 %.
    a = np.array([0.5, 1.0, 2.0, 3.0])
    assert_allclose(fin.lift_slope(a), 5.7 * a / (1.8 + np.sqrt(a * a + 4)), rtol=0.01)
    # Slender limit 1.488 a, some 5 % under Jones' pi a/2.
    assert_allclose(fin.lift_slope(1e-4) / 1e-4, 1.488, atol=5e-4)
    # Swept: the formula put together by hand for 30 degrees, a = 2.
    cosine = np.cos(np.pi / 6)
    by_hand = 1.8 * np.pi * 2 / (cosine * np.sqrt(4 / 0.5625 + 4) + 1.8)
    assert_allclose(fin.lift_slope(2.0, np.pi / 6), by_hand, rtol=1e-12)


@pytest.mark.parametrize(
    ("aspect_ratio", "stall_deg"), cases("fin_stall.csv", "aspect_ratio", "stall_deg")
)
def test_stall_table(aspect_ratio, stall_deg):
    assert Printed(stall_deg).holds(np.rad2deg(fin.stall_angle_rad(float(aspect_ratio))))


def test_stall_is_continuous_where_its_two_parts_meet():
    low, high = fin.stall_angle_rad([3.0, 3.0 + 1e-9])
    assert_allclose(low, high, atol=1e-6)
    assert_allclose(high, 0.39, rtol=1e-12)  # Lloyd 1989, from memory
    assert np.isnan(fin.stall_angle_rad(np.nan))


def test_moment_capacity_and_passive_damping_of_the_yacht():
    # Worked independently, as printed: 687.25 kN m/rad, 299.9 kN m and 3.13 deg at 25 deg,
    # 0.78 deg at 6 kn, zeta +0.0298 and 4.008e5 N m s for fins that stand still.
    moment = fin.pair_moment_n_m_per_rad(SPEED, AREA, SLOPE, LEVER)
    assert_allclose(moment, 687.25e3, rtol=1e-4)
    assert_allclose(moment * np.deg2rad(25), 299.9e3, rtol=2e-4)
    capacity = np.rad2deg(fin.static_capacity_rad(np.deg2rad(25), moment, C44))
    assert Printed("3.13").holds(capacity)
    slow = fin.pair_moment_n_m_per_rad(SPEED / 2, AREA, SLOPE, LEVER)
    assert_allclose(slow / moment, 0.25, rtol=1e-12)
    assert Printed("0.78").holds(np.rad2deg(fin.static_capacity_rad(np.deg2rad(25), slow, C44)))
    omega0 = 2 * np.pi / 7.696
    passive = fin.passive_damping_ratio(moment / C44, LEVER / SPEED, omega0)
    assert_allclose(passive, 0.0298, atol=5e-5)
    assert_allclose(moment * LEVER / SPEED, 4.008e5, rtol=2e-4)
    # Identity: damping ratio is B44 omega_0/(2 C44).
    assert_allclose(passive, moment * LEVER / SPEED * omega0 / (2 * C44), rtol=1e-12)


def test_one_degree_of_list_takes_eight_of_fin_and_halves_roll_as_a_gain():
    moment = fin.pair_moment_n_m_per_rad(SPEED, AREA, SLOPE, LEVER)
    offset = np.rad2deg(fin.offset_for_heel_rad(np.deg2rad(1.0), moment, C44))
    assert Printed("7.990").holds(offset, units=4)  # 687.25 and 5491.7 are rounded
    # Identity of the note: an angle gain of C/M halves quasi-static roll.
    answer = _regular(0.02, angle_gain=C44 / moment)
    assert_allclose(answer, 0.5, rtol=2e-3)
    # What the capacity holds needs just that angle: there and back.
    held = fin.static_capacity_rad(np.deg2rad(17), moment, C44)
    assert_allclose(fin.offset_for_heel_rad(held, moment, C44), np.deg2rad(17), rtol=1e-12)
    assert np.isnan(fin.static_capacity_rad(9.0, moment, C44))  # would turn her over


def test_boundary_layer_of_the_yacht():
    # 20 m from the bow, 12 kn, outreach 1.4 m: layer 0.188 m, efficiency 0.970 (derived:
    # the 1/7-power profile leaves 7/9 of the dynamic pressure inside the layer).
    found = fin.boundary_layer_efficiency(20.0, SPEED, 1.4)
    assert Printed("0.970").holds(found)
    profile = np.linspace(0, 1, 200001) ** (2 / 7)
    assert_allclose(np.trapezoid(profile, dx=1 / 200000), 7 / 9, rtol=1e-6)
    layer = (1 - found) * 1.4 * 9 / 2
    assert Printed("0.188").holds(layer)
    assert np.isnan(fin.boundary_layer_efficiency(20.0, SPEED, 0.1))


def test_downwash_on_an_aft_pair():
    # Lifting line: far downwash 2 CL/(pi a); for a = 2 and the whole of it by hand.
    assert_allclose(fin.tandem_factor(SLOPE, 2.0, 1.0), 1 - 2 * 2.4435 / (np.pi * 2), rtol=1e-12)
    assert fin.tandem_factor(SLOPE, 2.0, 0.0) == 1.0


def test_gain_schedule():
    # K ~ 1/U^2 (Lloyd, from memory), capped; the moment per unit of roll stays.
    assert_allclose(fin.scheduled_gain(3.0, [6.0, 12.0, 24.0], 12.0), [12.0, 3.0, 0.75])
    assert_allclose(fin.scheduled_gain(3.0, 1.0, 12.0, cap=4.0), 12.0)
    assert np.isnan(fin.scheduled_gain(3.0, np.nan, 12.0))


@pytest.mark.parametrize(
    ("limit", "rms", "mean", "gain", "clipped_mean", "clipped_rms"),
    cases(
        "clipped_gaussian.csv",
        "limit_deg",
        "rms_deg",
        "mean_deg",
        "gain",
        "clipped_mean_deg",
        "clipped_rms_deg",
    ),
)
def test_limit_table(limit, rms, mean, gain, clipped_mean, clipped_rms):
    d, s, m = float(limit), float(rms), float(mean)
    assert Printed(gain).holds(lin.limit_gain(s, m, d))
    found_mean, found_rms = lin.clipped_mean_std(s, m, d)
    if m == 0.0:
        assert_allclose(found_mean, 0.0, atol=1e-12)
    else:
        assert Printed(clipped_mean).holds(found_mean)
    if clipped_rms:
        assert Printed(clipped_rms).holds(found_rms)


def test_limit_met_once_in_a_standard_deviation_is_the_error_function():
    assert_allclose(lin.limit_gain(1.0, 0.0, 1.0), 0.68269, atol=5e-6)  # erf(1/sqrt 2)
    assert_allclose(lin.limit_gain(1.0, 0.0, 1.0), erf(1 / np.sqrt(2)), rtol=1e-14)


@pytest.mark.parametrize(("rms", "mean", "limit"), [(8, 8, 25), (15, -8, 25), (40, 3, 25)])
def test_limit_by_quadrature_over_the_bell_curve(rms, mean, limit):
    """Gain is the least-squares slope E[y (x - m)]/s^2, by sums over the density."""
    x = mean + rms * np.linspace(-9, 9, 400_001)
    weight = norm.pdf(x, mean, rms)
    weight /= weight.sum()
    y = np.clip(x, -limit, limit)
    centre = np.sum(weight * y)
    spread = np.sqrt(np.sum(weight * (y - centre) ** 2))
    slope = np.sum(weight * y * (x - mean)) / rms**2
    assert_allclose(lin.limit_gain(rms, mean, limit), slope, rtol=1e-7)
    assert_allclose(lin.clipped_mean_std(rms, mean, limit), (centre, spread), rtol=1e-7)
    centred = norm.pdf(x - mean, 0, rms)
    size = np.sum(centred / centred.sum() * np.minimum(np.abs(x - mean), limit))
    assert_allclose(lin.mean_absolute_clipped(rms, limit), size, rtol=1e-7)


def test_no_limit_and_no_signal():
    assert lin.limit_gain(3.0, 8.0, np.inf) == 1.0
    assert lin.clipped_mean_std(3.0, 8.0, np.inf) == (8.0, 3.0)
    assert_allclose(lin.clipped_mean_std(0.0, 30.0, 25.0), (25.0, 0.0), atol=1e-9)
    assert_allclose(lin.mean_absolute_clipped(3.0, np.inf), 3.0 * np.sqrt(2 / np.pi), rtol=1e-12)


def test_factors_of_quadratic_damping():
    # sqrt(8/pi), 8/(3 pi) and sqrt(2/pi): derived; Roberts and Spanos, Himeno 1981.
    assert_allclose(lin.QUADRATIC_FACTOR, 1.59577, atol=5e-6)
    assert_allclose(lin.REGULAR_QUADRATIC_FACTOR, 0.84883, atol=5e-6)
    x = np.linspace(-9, 9, 200_001)
    weight = norm.pdf(x) / norm.pdf(x).sum()
    assert_allclose(lin.QUADRATIC_FACTOR, np.sum(weight * np.abs(x) * x * x), rtol=1e-6)
    assert_allclose(lin.SIGN_FACTOR, np.sum(weight * np.abs(x)), rtol=1e-6)


def test_rate_limit_lengthens_the_lag():
    # Gain of a rate limit at one standard deviation: erf(1/sqrt 2).
    assert_allclose(lin.rate_lag(0.2, 0.5, 0.5), 0.2 / 0.6826895, rtol=1e-6)
    assert lin.rate_lag(0.2, 0.5, np.inf) == 0.2


# --- the closed loop ---------------------------------------------------------------

OMEGA0 = 2 * np.pi / 7.696
MOMENT = 687.25 / 5491.7


def _roll(frequency_ratio, fins, zeta=0.08):
    """Roll rms in a regular wave met at a ratio of the natural frequency."""
    nodes = OMEGA0 * np.array([0.999999, 1.0, 1.000001]) * frequency_ratio
    energy = np.array([0.0, 1e-8, 0.0])
    answer = solve_roll(energy, nodes, HullRoll(OMEGA0, zeta), fins)
    assert answer.converged
    return float(answer.roll_rms_rad), answer


def _loop(lag_s=0.0, **gains):
    return fin.Fins([MOMENT], [0.0], np.inf, np.inf, lag_s, **gains)


def _regular(frequency_ratio, **gains):
    """Roll with fins over roll without, same wave, no inflow, no lag, no limit."""
    active, _ = _roll(frequency_ratio, _loop(**gains))
    without, _ = _roll(frequency_ratio, _loop().absent())
    return active / without


K2 = 2 * (0.40 - 0.08) / (OMEGA0 * MOMENT)
GAINS = {
    "rate": {"rate_gain_s": K2},
    "angle": {"angle_gain": 3.995},
    "angle_rate": {"angle_gain": 3.995, "rate_gain_s": K2},
    "rate_acceleration": {"rate_gain_s": K2, "acceleration_gain_s2": 2.997},
}


def test_rate_gain_of_the_feedback_table():
    # 6.264 s raises the damping ratio from 0.08 to 0.40, as printed.
    assert Printed("6.264").holds(K2)


@pytest.mark.parametrize(
    ("frequency_ratio", *GAINS), cases("feedback_ratios.csv", "frequency_ratio", *GAINS)
)
def test_feedback_table(frequency_ratio, rate, angle, angle_rate, rate_acceleration):
    printed = (rate, angle, angle_rate, rate_acceleration)
    for (name, gains), value in zip(GAINS.items(), printed, strict=True):
        found = _regular(float(frequency_ratio), **gains)
        # Half the printed digit, and the shortest lag the solver knows (1 ms), which takes
        # up to 0.15 % off the damping that angle feedback is left with.
        wanted = Printed(value)
        assert_allclose(found, wanted.value, rtol=1.5e-3, atol=wanted.half_unit, err_msg=name)


@pytest.mark.parametrize("lag_s", [SHORTEST_LAG_S, 0.2, 0.4])
@pytest.mark.parametrize("name", GAINS)
def test_feedback_with_lag_against_the_closed_loop(name, lag_s):
    """Fins follow by 1/(1 + i w lag); complex algebra, worked here apart from the solver."""
    gains = GAINS[name]
    k1, k2 = gains.get("angle_gain", 0.0), gains.get("rate_gain_s", 0.0)
    k3 = gains.get("acceleration_gain_s2", 0.0)
    for x in (0.2, 0.7, 1.0, 1.3, 2.0):
        w = x * OMEGA0
        bare = 1 - x * x + 2j * 0.08 * x
        loop = bare + MOMENT * (k1 + 1j * w * k2 - w * w * k3) / (1 + 1j * w * lag_s)
        assert_allclose(_regular(x, lag_s=lag_s, **gains), abs(bare / loop), rtol=1e-5)


def test_loop_that_would_sway_by_itself_is_called_so():
    # Routh: with T the lag in units of 1/omega_0, T(1 + m k1) must stay below
    # (1 + 2 zeta T)(T + 2 zeta). Angle gain 3.995, zeta 0.08: the lag may be 0.475 s.
    def routh(lag_s):
        t = lag_s * OMEGA0
        return (1 + 0.16 * t) * (t + 0.16) - t * (1 + MOMENT * 3.995)

    edge = brentq(routh, 0.1, 2.0)
    for lag_s, stable in ((0.98 * edge, True), (1.02 * edge, False)):
        answer = solve_roll(
            np.array([1e-8]),
            np.array([OMEGA0]),
            HullRoll(OMEGA0, 0.08),
            _loop(lag_s=lag_s, angle_gain=3.995),
        )
        assert bool(answer.stable) == stable


def test_fin_demand_per_degree_of_roll():
    # Worked independently: rate 1.02/2.56/5.11/7.67 at 0.2/0.5/1/1.5 of resonance, angle and
    # rate 4.12/4.74/6.49/8.65.
    for name, demands in (
        ("rate", ("1.02", "2.56", "5.11", "7.67")),
        ("angle_rate", ("4.12", "4.74", "6.49", "8.65")),
    ):
        for ratio, printed in zip((0.2, 0.5, 1.0, 1.5), demands, strict=True):
            roll, answer = _roll(ratio, _loop(**GAINS[name]))
            assert Printed(printed).holds(float(answer.command_rms_rad[0]) / roll), (name, ratio)


def _white(zeta):
    """Roll rms in a white spectrum of slope, 1 rad2 s per unit, by dense nodes."""
    step = 1e-3
    nodes = np.arange(step, 40.0, step)
    energy = np.full(nodes.size, 1e-6 * step)
    answer = solve_roll(energy, nodes, HullRoll(1.0, zeta), fin.Fins([0.0], [0.0], np.inf))
    return float(answer.roll_rms_rad) / 1e-3


def test_roll_in_white_slope_and_reductions():
    # pi w0/(4 zeta): 7.854 for w0 1, zeta 0.1 (derived). 1 - sqrt(0.08/0.40) = 55.3 % in a
    # broad sea and 1 - 0.08/0.40 = 80.0 % at resonance.
    assert_allclose(_white(0.1) ** 2, 7.854, rtol=1e-3)
    assert Printed("55.3").holds(100 * (1 - _white(0.40) / _white(0.08)), units=2)
    assert_allclose(1 - _regular(1.0, **GAINS["rate"]), 0.800, atol=5e-4)


def test_resonant_gain_and_long_waves():
    # 1/(2 zeta) at resonance; the slope itself in long waves (derived).
    roll, _ = _roll(1.0, _loop().absent(), zeta=0.05)
    assert_allclose(roll / 1e-4, 10.0, rtol=1e-4)
    roll, _ = _roll(0.01, _loop().absent(), zeta=0.05)
    assert_allclose(roll / 1e-4, 1.0, rtol=2e-4)


def test_bounded_moment_at_rest_counts_for_less_as_roll_grows():
    # M0 sign(rate), Gaussian: equivalent damping ratio sqrt(2/pi) (M0/C44) omega_0/(2 rate
    # rms): halved at double roll. 6.2 kN m on 5491.7 kN m (note on fins at rest).
    rest = 6.2 / 5491.7
    for energy in (1e-6, 1e-5, 1e-4):
        answer = solve_roll(
            np.array([0.0, energy, 0.0]),
            OMEGA0 * np.array([0.99, 1.0, 1.01]),
            HullRoll(OMEGA0, 0.03),
            _loop().at_rest(rest),
        )
        added = float(answer.damping_ratio_total) - 0.03
        rate = float(answer.rate_rms_rad_s)
        assert_allclose(added, np.sqrt(2 / np.pi) * rest * OMEGA0 / (2 * rate), rtol=1e-6)
