"""Fins beyond test_fins.py and test_roll_response.py: the closed loop, with and without lag.

The yacht of the cases: 45 x 9 x 2.8 m, 560 t, GM 1.0 m, two fins of 2.0 m2 with effective
aspect ratio 2.0 and a lever of 3.6 m, 12 kn (invented, for checks only).
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from reference_rows import Printed, cases
from scipy.integrate import trapezoid
from scipy.stats import norm

from passage.physics.fins import force as fin
from passage.physics.hull.stability import righting_stiffness_n_m
from passage.physics.roll import linearisation as lin
from passage.physics.roll.packing import SHORTEST_LAG_S
from passage.physics.roll.response import HullRoll, solve_roll
from passage.units import KNOT_M_S

SPEED = 12.0 * KNOT_M_S
C44 = float(righting_stiffness_n_m(560.0, 1.0))
SLOPE, AREA, LEVER = 2.4435, 2.0, 3.6


def test_swept_lift_slope_by_hand():
    # Whicker and Fehlner 1958, quarter-chord sweep of 30 degrees, a = 2.
    cosine = np.cos(np.pi / 6)
    by_hand = 1.8 * np.pi * 2 / (cosine * np.sqrt(4 / 0.5625 + 4) + 1.8)
    assert_allclose(fin.lift_slope(2.0, np.pi / 6), by_hand, rtol=1e-12)


def test_stall_is_continuous_where_its_two_parts_meet():
    low, high = fin.stall_angle_rad([3.0, 3.0 + 1e-9])
    assert_allclose(low, high, atol=1e-6)
    assert_allclose(high, 0.39, rtol=1e-12)  # Lloyd 1989, from memory


def test_passive_damping_is_the_moment_of_the_inflow():
    # zeta = B44 omega_0/(2 C44), B44 = moment x lever/speed: identity; 0.0298 as printed.
    omega0 = 2 * np.pi / 7.696
    moment = fin.pair_moment_n_m_per_rad(SPEED, AREA, SLOPE, LEVER)
    passive = fin.passive_damping_ratio(moment / C44, LEVER / SPEED, omega0)
    assert_allclose(passive, moment * LEVER / SPEED * omega0 / (2 * C44), rtol=1e-12)
    assert Printed("0.0298").holds(passive)
    # The solver's own damping with centred fins holds just that more.
    fins = fin.fins_under_way(
        SPEED, C44, area_m2=[AREA], slope_per_rad=SLOPE, lever_m=LEVER,
        angle_limit_rad=0.4, reference_speed_m_s=SPEED,
    )  # fmt: skip
    energy, nodes = np.array([0.0, 1e-8, 0.0]), omega0 * np.array([0.99, 1.0, 1.01])
    answer = solve_roll(energy, nodes, HullRoll(omega0, 0.05), fins.centred())
    assert_allclose(answer.damping_ratio_total, 0.05 + passive, rtol=1e-9)


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
    # 20 m from the bow, 12 kn, outreach 1.4 m: layer 0.188 m (as printed). The 1/7-power
    # profile leaves 7/9 of the dynamic pressure inside the layer (derived).
    found = fin.boundary_layer_efficiency(20.0, SPEED, 1.4)
    profile = np.linspace(0, 1, 200001) ** (2 / 7)
    lost = 1 - trapezoid(profile, dx=1 / 200000)
    assert Printed("0.188").holds((1 - found) * 1.4 / lost)


def test_downwash_on_an_aft_pair():
    # Lifting line: far downwash 2 CL/(pi a); for a = 2 and the whole of it by hand.
    assert_allclose(fin.tandem_factor(SLOPE, 2.0, 1.0), 1 - 2 * 2.4435 / (np.pi * 2), rtol=1e-12)


def test_mean_size_of_a_limited_signal_and_factors_by_quadrature():
    x = np.linspace(-9, 9, 400_001)
    weight = norm.pdf(x) / norm.pdf(x).sum()
    for rms, limit in ((8.0, 25.0), (15.0, 25.0), (40.0, 25.0)):
        size = np.sum(weight * np.minimum(np.abs(rms * x), limit))
        assert_allclose(lin.mean_absolute_clipped(rms, limit), size, rtol=1e-6)
    # sqrt(8/pi) = E|x|^3 and sqrt(2/pi) = E|x|: derived; Roberts and Spanos.
    assert_allclose(lin.QUADRATIC_FACTOR, np.sum(weight * np.abs(x) * x * x), rtol=1e-6)
    assert_allclose(lin.SIGN_FACTOR, np.sum(weight * np.abs(x)), rtol=1e-6)


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


def test_resonant_gain_and_long_waves():
    # 1/(2 zeta) at resonance; the slope itself in long waves (derived).
    roll, _ = _roll(1.0, _loop().absent(), zeta=0.05)
    assert_allclose(roll / 1e-4, 10.0, rtol=1e-4)
    roll, _ = _roll(0.01, _loop().absent(), zeta=0.05)
    assert_allclose(roll / 1e-4, 1.0, rtol=2e-4)
