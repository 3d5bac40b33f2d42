"""Sickness and interruptions against published values."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from passage.physics.motions import comfort
from passage.units import G_M_S2


@pytest.mark.parametrize(
    ("nominal_hz", "thousandths"),
    # ISO 2631-1:1997 Table 3, Wf x 1000 (from memory), at its nominal frequencies.
    [
        (0.02, 24.2),
        (0.04, 97.1),
        (0.05, 157),
        (0.063, 267),
        (0.08, 461),
        (0.1, 695),
        (0.125, 895),
        (0.16, 1006),
        (0.2, 992),
        (0.25, 854),
        (0.315, 619),
        (0.4, 384),
        (0.5, 224),
        (0.63, 116),
        (0.8, 53.0),
        (1.0, 23.5),
    ],
)
def test_weighting_table(nominal_hz, thousandths):
    weight = 1000 * comfort.motion_sickness_weighting(nominal_hz)
    # Half a unit of the last printed digit.
    digit = 0.1 if thousandths < 100 else 1.0
    assert abs(weight - thousandths) <= 0.5 * digit


def test_weighting_ends_at_zero_and_is_even():
    assert comfort.motion_sickness_weighting(0.0) == 0.0
    assert comfort.motion_sickness_weighting(-0.2) == comfort.motion_sickness_weighting(0.2)


def test_dose_and_percent():
    dose = comfort.motion_sickness_dose([0.25, 0.02 * G_M_S2], 4.0)
    # ISO 2631-1 Annex D: a_w sqrt(T), a third of it in percent.
    assert dose == pytest.approx([30.0, 23.54], abs=5e-3)
    assert comfort.sickness_percent_from_dose(dose) == pytest.approx([10.0, 7.85], abs=5e-3)
    assert comfort.sickness_percent_from_dose(1e4) == 100.0


def test_dose_of_two_legs_is_that_of_one_long_leg():
    parts = comfort.motion_sickness_dose(0.25, np.array([1.0, 2.5, 0.5]))
    whole = comfort.motion_sickness_dose(0.25, 4.0)
    # Doses of legs add as their squares (ISO 2631-1, Annex D: an integral of a^2).
    assert np.sqrt(np.sum(parts**2)) == pytest.approx(whole, rel=1e-6)


@pytest.mark.parametrize(
    ("mean_g", "omega", "percent"),
    # O'Hanlon & McCauley (1974), the form in Lloyd (1989); worked out independently.
    [
        (0.1, 1.0, 32.55),
        (0.1, 2 * np.pi * 0.167, 32.45),
        (0.1, 2.0, 16.40),
        (0.05, 1.0, 11.41),
        (0.2, 1.0, 61.79),
    ],
)
def test_sickness_index(mean_g, omega, percent):
    rms = mean_g * G_M_S2 / np.sqrt(2 / np.pi)
    value = comfort.motion_sickness_incidence_percent(rms, omega)
    assert value == pytest.approx(percent, abs=0.02)


def test_sickness_index_is_zero_at_rest_and_peaks_at_one_radian_per_second():
    assert comfort.motion_sickness_incidence_percent(0.0, 1.0) == 0.0
    omega = np.linspace(0.3, 3.0, 541)
    values = comfort.motion_sickness_incidence_percent(1.0, omega)
    assert omega[np.argmax(values)] == pytest.approx(1.0, abs=0.006)


@pytest.mark.parametrize(
    ("coefficient", "rms_g", "per_min"),
    # Graham (1990), from memory, worked out independently; period 7 s.
    [(0.25, 0.07, 0.0291), (0.25, 0.10, 0.753), (0.222, 0.07, 0.112), (0.222, 0.10, 1.459)],
)
def test_interruptions(coefficient, rms_g, per_min):
    value = comfort.motion_induced_interruptions_per_min(rms_g * G_M_S2, 7.0, coefficient)
    # The table is rounded to its third figure (1.45846 is given as 1.459).
    assert value == pytest.approx(per_min, rel=2e-3)


def test_interruptions_by_counting_crossings_of_a_made_signal():
    """Rice's rate, counted: a sum of many waves, both tipping sides."""
    random = np.random.default_rng(5)
    omega = np.linspace(0.7, 1.1, 400)
    shape = np.exp(-0.5 * ((omega - 0.9) / 0.05) ** 2)
    amplitude = np.sqrt(2 * shape / shape.sum()) * 0.1 * G_M_S2
    period = 2 * np.pi / np.sqrt(np.sum(shape * omega**2) / shape.sum())
    count = 0
    time = np.arange(0.0, 6000.0, 0.1)
    runs = 6
    for _ in range(runs):
        phase = random.uniform(0, 2 * np.pi, omega.size)
        signal = np.zeros_like(time)
        for a, w, p in zip(amplitude, omega, phase, strict=True):
            signal += a * np.cos(w * time + p)
        level = 0.222 * G_M_S2
        count += np.sum((signal[:-1] < level) & (signal[1:] >= level))
        count += np.sum((signal[:-1] > -level) & (signal[1:] <= -level))
    expected = float(comfort.motion_induced_interruptions_per_min(0.1 * G_M_S2, period, 0.222))
    minutes = runs * 6000.0 / 60.0
    # About 870 crossings in groups of a few: 10 % is some three standard deviations.
    assert count / minutes == pytest.approx(expected, rel=0.10)


def test_interruptions_range_is_ordered_and_zero_at_rest():
    low, high = comfort.interruptions_range_per_min([0.0, 0.5, 1.0], 7.0)
    assert low[0] == high[0] == 0.0
    assert np.all(low[1:] < high[1:])


def test_customary_limits_say_where_they_come_from():
    assert all("from memory" in limit.source for limit in comfort.CUSTOMARY_LIMITS)
    rolls = [limit.roll_rms_deg for limit in comfort.CUSTOMARY_LIMITS]
    assert rolls == [6.0, 4.0, 3.0, 2.5, 2.0]  # NORDFORSK 1987, from memory


@given(value=st.floats(0.0, 5.0), period=st.floats(2.0, 30.0))
def test_more_motion_is_never_more_comfort(value, period):
    more = value * 1.1 + 0.01
    omega = 2 * np.pi / period
    for measure in (
        lambda a: comfort.motion_sickness_incidence_percent(a, omega),
        lambda a: comfort.motion_sickness_dose(a, 3.0),
        lambda a: comfort.motion_induced_interruptions_per_min(a, period, 0.25),
    ):
        assert measure(more) >= measure(value)


def test_nan_never_becomes_a_number():
    nan = np.nan
    for value in (
        comfort.motion_sickness_weighting(nan),
        comfort.motion_sickness_dose(nan, 0.0),
        comfort.motion_sickness_dose(0.0, nan),
        comfort.sickness_percent_from_dose(nan),
        comfort.motion_sickness_incidence_percent(nan, 1.0),
        comfort.motion_sickness_incidence_percent(0.0, nan),
        comfort.motion_induced_interruptions_per_min(nan, 7.0, 0.25),
        comfort.motion_induced_interruptions_per_min(0.5, nan, 0.25),
        comfort.motion_induced_interruptions_per_min(0.0, nan, 0.25),
    ):
        assert np.isnan(value)
