"""Closed-form motions and the accelerations made from them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from passage.physics.motions.comfort import motion_sickness_weighting
from passage.physics.motions.places import (
    lateral_acceleration_rms,
    mean_encounter_period_s,
    vertical_acceleration_rms,
    vertical_motion_kernel,
    weighted_acceleration_rms,
    zero_crossing_period_s,
)
from passage.physics.motions.vertical_motion import (
    DOUBT_WORDS,
    HullForm,
    closed_form_doubt,
    closed_form_motion,
    doubt_words,
    encounter_frequency_deep,
)
from passage.units import G_M_S2, KNOT_M_S

#: The check values were made with g = 9.81 m/s2. Shrinking every length and speed by
#: the ratio of the two gravities leaves all ratios (and so the m/m results) the same.
SCALE = G_M_S2 / 9.81
YACHT = HullForm(length_m=45.0, beam_m=9.0, draught_m=2.8, block_coefficient=0.482)
SCALED = HullForm(
    length_m=45.0 * SCALE, beam_m=9.0 * SCALE, draught_m=2.8 * SCALE, block_coefficient=0.482
)
SPEED = 12.0 * KNOT_M_S


@pytest.mark.parametrize(
    ("omega", "mu_deg", "heave", "pitch"),
    [
        # Jensen, Mansour & Olsen (2004) expressions, worked out independently of this code.
        (0.7854, 180.0, 1.4372, 0.10530),
        (0.7854, 90.0, 1.0501, 0.0),
        (2 * np.pi / 6.0, 135.0, 0.6697, 0.06903),
    ],
)
def test_heave_and_pitch_of_the_published_expressions(omega, mu_deg, heave, pitch):
    motion = closed_form_motion(omega, np.deg2rad(mu_deg), SPEED * SCALE, SCALED)
    # The check values carry four to five digits, rounded frequency included.
    assert abs(motion.heave) == pytest.approx(heave, rel=1e-3)
    assert abs(motion.pitch) * SCALE == pytest.approx(pitch, rel=1e-3, abs=1e-9)


def test_vertical_acceleration_forward_of_midship():
    omega, x = 0.7854, 15.0
    motion = closed_form_motion(omega, np.pi, SPEED * SCALE, SCALED)
    met = encounter_frequency_deep(omega, np.pi, SPEED * SCALE)
    amplitude = met**2 * abs(motion.heave + x * SCALE * motion.pitch)
    assert amplitude == pytest.approx(2.941, rel=1e-3)  # same source as above


def test_heave_and_pitch_are_a_quarter_period_apart():
    motion = closed_form_motion(np.linspace(0.3, 2.0, 30)[:, None], [0.4, 2.0, 3.1], SPEED, YACHT)
    ratio = motion.pitch / motion.heave
    assert np.max(np.abs(ratio.real) / np.abs(ratio)) < 1e-9


@pytest.mark.parametrize("mu_deg", [0.0, 45.0, 90.0, 135.0, 180.0])
@pytest.mark.parametrize("speed", [0.0, SPEED])
def test_long_waves_carry_the_hull_with_the_surface(mu_deg, speed):
    mu, omega = np.deg2rad(mu_deg), 0.02
    k = omega**2 / G_M_S2
    motion = closed_form_motion(omega, mu, speed, YACHT)
    assert motion.heave == pytest.approx(1.0, abs=1e-3)
    assert motion.pitch == pytest.approx(-1j * k * np.cos(mu), abs=1e-3 * k)
    assert motion.sway_acceleration == pytest.approx(-1j * omega**2 * np.sin(mu), abs=1e-3 * k)


def test_riding_with_the_waves_ends_in_the_quasi_static_answer():
    # alpha = 0 where omega = g/U; the published ratio is 0/0 there.
    omega = G_M_S2 / SPEED
    k = omega**2 / G_M_S2
    motion = closed_form_motion(omega, 0.0, SPEED, YACHT)
    half = 0.5 * k * YACHT.length_m
    draught = k * YACHT.draught_m
    static = np.exp(-draught) * (1 - draught) * np.sin(half) / half
    assert motion.heave == pytest.approx(static / (1 - 0), rel=1e-9)
    near = closed_form_motion(omega * (1 + np.array([-1e-6, 1e-6])), 0.0, SPEED, YACHT)
    assert np.allclose(near.heave, motion.heave, atol=1e-5)


def test_short_waves_hardly_move_her():
    motion = closed_form_motion(np.array([4.0, 8.0]), np.pi, SPEED, YACHT)
    assert np.all(np.abs(motion.heave) < 0.01)
    assert np.all(np.isfinite(np.abs(motion.pitch)))


@settings(deadline=None, max_examples=60)
@given(
    omega=st.floats(0.15, 4.0),
    mu=st.floats(0.0, np.pi),
    speed=st.floats(0.0, 12.0),
)
def test_both_sides_give_the_same_and_nothing_is_lost(omega, mu, speed):
    here = closed_form_motion(omega, mu, speed, YACHT)
    there = closed_form_motion(omega, -mu, speed, YACHT)
    assert np.isfinite([here.heave, here.pitch, here.sway_acceleration]).all()
    assert here.heave == there.heave
    assert here.pitch == there.pitch
    assert here.sway_acceleration == -there.sway_acceleration


@pytest.mark.parametrize("which", [0, 1, 2])
def test_nan_never_becomes_a_number(which):
    arguments = [0.8, 1.0, SPEED]
    arguments[which] = np.nan
    motion = closed_form_motion(*arguments, YACHT)
    assert np.isnan(motion.heave)
    assert np.isnan(motion.pitch)
    for call in (
        lambda n: lateral_acceleration_rms(n, 0.01, 0.01, 3.0),
        lambda n: lateral_acceleration_rms(0.01, 0.01, 0.01, 3.0, n),
        lambda n: lateral_acceleration_rms(
            0.01, 0.01, 0.01, 3.0, 1.0, slope_variance=n, natural_frequency_rad_s=0.8
        ),
        lambda n: vertical_acceleration_rms(n, 3.0, 0.01),
        lambda n: vertical_acceleration_rms(0.01, 3.0, n),
        lambda n: weighted_acceleration_rms(0.01, 3.0, n, 0.01),
        lambda n: mean_encounter_period_s(n, 1.0),
        lambda n: zero_crossing_period_s(1.0, n),
    ):
        assert np.isnan(call(np.nan))


def test_kernel_channels_and_shape():
    kernel = vertical_motion_kernel(
        length_m=45.0,
        beam_m=9.0,
        draught_m=2.8,
        block_coefficient=0.482,
        places_x_m=(0.0, 15.0),
        stations_x_m=(15.75,),
    )
    omega, mu = np.linspace(0.3, 2.0, 20), np.linspace(0.0, np.pi, 13)
    values = kernel(omega, mu, SPEED)
    assert values.shape == (len(kernel.channel_names), 20, 13)
    assert np.all(values >= 0.0)
    assert np.allclose(values, kernel(omega, -mu, SPEED), rtol=1e-5, atol=1e-8)
    i = kernel.channel("vertical_acceleration:1")
    j = kernel.channel("weighted_acceleration:1")
    met = np.abs(encounter_frequency_deep(omega[:, None], mu, SPEED))
    assert np.allclose(
        values[j], values[i] * motion_sickness_weighting(met / 2 / np.pi) ** 2, rtol=1e-5, atol=1e-8
    )
    v = kernel.channel("vertical_velocity:1")
    assert np.allclose(values[i], values[v] * met**2, rtol=1e-5, atol=1e-8)
    assert kernel.channels("vertical_acceleration") == (0, 3)
    with pytest.raises(ValueError, match="not in"):
        kernel.channel("no_such")


def test_kernel_relative_motion_vanishes_in_long_waves_and_is_the_wave_in_short():
    kernel = vertical_motion_kernel(
        length_m=45.0, beam_m=9.0, draught_m=2.8, block_coefficient=0.482, stations_x_m=(15.75,)
    )
    values = kernel(np.array([0.1, 6.0]), np.array([0.0, np.pi / 2, np.pi]), SPEED)
    assert np.all(values[0, 0] < 1e-3)
    # 6 rad/s is a 1.7 m wave: averaged over 4.5 m along and 4.5 m across.
    k = 36.0 / G_M_S2
    mean = np.sin(k * 2.25) / (k * 2.25)
    assert np.allclose(values[0, 1], mean**2, atol=0.02)


def test_relative_velocity_does_not_depend_on_the_highest_frequency():
    kernel = vertical_motion_kernel(
        length_m=45.0, beam_m=9.0, draught_m=2.8, block_coefficient=0.482, stations_x_m=(15.75,)
    )
    i = kernel.channel("relative_velocity:0")
    variances = []
    for highest in (4.0, 8.0):
        omega = np.arange(0.3, highest, 0.005)
        # Bretschneider, 2.5 m, 7 s; head sea at 12 kn, long-crested.
        peak = 2 * np.pi / 7.0
        density = 5 / 16 * 2.5**2 * peak**4 / omega**5 * np.exp(-1.25 * (peak / omega) ** 4)
        variances.append(np.sum(kernel(omega, np.array([np.pi]), SPEED)[i, :, 0] * density))
    assert variances[1] == pytest.approx(variances[0], rel=0.02)


def test_relative_motion_with_phase_lies_within_its_bounds():
    """|z - wave| lies between the difference and the sum of both: phase must matter."""
    kernel = vertical_motion_kernel(
        length_m=45.0, beam_m=9.0, draught_m=2.8, block_coefficient=0.482, stations_x_m=(15.75,)
    )
    omega, mu = np.linspace(0.4, 2.0, 40), np.array([0.3, 1.2, 2.4, np.pi])
    motion = closed_form_motion(omega[:, None], mu, SPEED, YACHT)
    size = np.abs(motion.heave + 15.75 * motion.pitch)
    relative = np.sqrt(kernel(omega, mu, SPEED)[0])
    half = omega[:, None] ** 2 / G_M_S2 * 4.5 / 2 / np.pi  # the wave's mean over its patch
    wave = np.abs(np.sinc(half * np.cos(mu)) * np.sinc(half * np.sin(mu)))
    assert np.all(relative <= size + wave + 1e-12)
    assert np.all(relative >= np.abs(size - wave) - 1e-12)


def test_kernel_encounter_moments_give_the_encounter_period_of_a_regular_wave():
    kernel = vertical_motion_kernel(
        length_m=45.0, beam_m=9.0, draught_m=2.8, block_coefficient=0.482
    )
    values = kernel(np.array([2 * np.pi / 8.0]), np.deg2rad([180.0, 90.0, 0.0]), SPEED)
    m0, m1 = (values[kernel.channel(f"encounter_m{n}"), 0] for n in (0, 1))
    # Encounter periods of an 8 s wave at 12 kn: Airy waves, check values.
    assert mean_encounter_period_s(m0, m1) == pytest.approx([5.353, 8.0, 15.823], abs=0.01)


def test_lateral_acceleration_of_a_swing_adds_above_the_axis():
    """A weight on a mast, rolled through 5 degrees each way in 8 s: geometry alone."""
    amplitude, omega, height = np.deg2rad(5.0), 2 * np.pi / 8.0, 6.0
    time = np.linspace(0.0, 8.0, 40_001)
    roll = amplitude * np.sin(omega * time)
    # Position to starboard of a point above the axis, and gravity along the deck.
    sideways = height * np.sin(roll)
    acceleration = np.gradient(np.gradient(sideways, time), time)
    felt = G_M_S2 * np.sin(roll) - acceleration * np.cos(roll)
    variances = [amplitude**2 * omega**n / 2 for n in (0, 2, 4)]
    rms = lateral_acceleration_rms(*variances, height)
    # Small-angle theory against exact geometry at 5 degrees: sin(x)/x is 0.9987.
    assert rms == pytest.approx(np.sqrt(np.mean(felt[5:-5] ** 2)), rel=3e-3)
    assert lateral_acceleration_rms(*variances, -height) < lateral_acceleration_rms(*variances, 0.0)


def roll_and_slope(spectrum, omega, natural, damping):
    """Roll moments by direct sums over a spectrum of slope, and the complex response."""
    response = 1.0 / (1.0 - (omega / natural) ** 2 + 2j * damping * omega / natural)
    power = spectrum * np.abs(response) ** 2
    return [np.sum(power * omega**n) for n in (0, 2, 4)], response


@pytest.mark.parametrize("peak", [0.3, 0.6, 0.8, 1.3])
@pytest.mark.parametrize("z", [-1.0, 0.0, 5.0])
@pytest.mark.parametrize("ratio", [0.0, 0.8, 1.2])
def test_sway_in_phase_with_roll_against_the_sum_of_complex_amplitudes(peak, z, ratio):
    omega = np.linspace(0.15, 2.5, 800)
    spectrum = 1e-5 * np.exp(-0.5 * ((omega - peak) / 0.1) ** 2)
    natural = 0.8
    moments, response = roll_and_slope(spectrum, omega, natural, 0.07)
    felt = (G_M_S2 + z * omega**2) * response - ratio * G_M_S2
    expected = np.sqrt(np.sum(spectrum * np.abs(felt) ** 2))
    rms = lateral_acceleration_rms(
        *moments,
        z,
        (ratio * G_M_S2) ** 2 * spectrum.sum(),
        slope_variance=spectrum.sum(),
        natural_frequency_rad_s=natural,
    )
    assert rms == pytest.approx(expected, rel=1e-9)


def test_long_swell_on_the_beam_is_hardly_felt_across_the_deck():
    omega, spectrum = np.array([0.2]), np.array([1e-3])
    moments, _ = roll_and_slope(spectrum, omega, 0.8, 0.05)
    sway = G_M_S2**2 * spectrum[0]
    together = lateral_acceleration_rms(
        *moments, 0.0, sway, slope_variance=spectrum[0], natural_frequency_rad_s=0.8
    )
    apart = lateral_acceleration_rms(*moments, 0.0, sway)
    assert together < 0.1 * apart


def test_at_resonance_sway_adds_as_if_unrelated():
    omega, spectrum = np.array([0.8]), np.array([1e-3])
    moments, _ = roll_and_slope(spectrum, omega, 0.8, 0.1)
    sway = G_M_S2**2 * spectrum[0]
    together = lateral_acceleration_rms(
        *moments, 0.0, sway, slope_variance=spectrum[0], natural_frequency_rad_s=0.8
    )
    assert together == pytest.approx(lateral_acceleration_rms(*moments, 0.0, sway), rel=1e-9)


def test_flat_calm_gives_no_acceleration():
    values = [0.0, 0.0, 0.0, 4.0, 0.0]
    rms = lateral_acceleration_rms(*values, slope_variance=0.0, natural_frequency_rad_s=0.8)
    assert rms == 0.0


def test_vertical_acceleration_off_the_centreline():
    # y phi'' alone: 3 m off, rms 0.1 rad/s2.
    assert vertical_acceleration_rms(0.0, 3.0, 0.01) == pytest.approx(0.3, rel=1e-6)
    assert vertical_acceleration_rms(0.0, -3.0, 0.01) == pytest.approx(0.3, rel=1e-6)
    assert vertical_acceleration_rms(0.16, 3.0, 0.01) == pytest.approx(0.5, rel=1e-6)
    # Roll at 0.16 Hz is weighted by 1.006 (ISO 2631-1 table).
    m4 = 0.01
    m2 = m4 / (2 * np.pi * 0.16) ** 2
    assert weighted_acceleration_rms(0.0, 3.0, m2, m4) == pytest.approx(0.3 * 1.006, rel=1e-3)
    assert weighted_acceleration_rms(0.04, 3.0, 0.0, 0.0) == pytest.approx(0.2, rel=1e-6)


def test_doubt_is_raised_where_the_expressions_break():
    # 45 m at 14 kn is Froude number 0.343; Tp 3 s is a 14 m wave.
    fast = int(closed_form_doubt(8.0, np.pi / 2, 14 * KNOT_M_S, YACHT))
    assert fast == 1
    assert int(closed_form_doubt(3.0, np.pi / 2, 5.0, YACHT)) == 4
    # omega_e^2 = g/(2 T) at 2.8 m is 1.323 rad/s; head waves of 7 s at 12 kn give 1.40.
    assert int(closed_form_doubt(7.0, np.pi, SPEED, YACHT)) == 8
    assert int(closed_form_doubt(8.0, np.pi / 2, SPEED, YACHT)) == 0
    flat = HullForm(length_m=45.0, beam_m=9.0, draught_m=1.2, block_coefficient=0.482)
    assert int(closed_form_doubt(8.0, np.pi / 2, SPEED, flat)) == 2
    assert doubt_words(1 + 4) == (DOUBT_WORDS[1], DOUBT_WORDS[4])
