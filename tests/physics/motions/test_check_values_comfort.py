"""Comfort values that the tests of comfort leave open: customary limits, exact doses."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from reference_rows import cases, rows

from passage.physics.motions import comfort


@pytest.mark.parametrize(
    ("category", "vertical_g", "lateral_g", "roll_deg"),
    cases("nordforsk_limits.csv", "category", "vertical_g", "lateral_g", "roll_deg"),
)
def test_customary_limits_table(category, vertical_g, lateral_g, roll_deg):
    found = {limit.people: limit for limit in comfort.CUSTOMARY_LIMITS}[category]
    assert found.vertical_rms_g == float(vertical_g)
    assert found.lateral_rms_g == float(lateral_g)
    assert found.roll_rms_deg == float(roll_deg)


def test_no_customary_limit_is_without_a_row():
    assert len(comfort.CUSTOMARY_LIMITS) == len(rows("nordforsk_limits.csv"))


def test_dose_of_a_quarter_metre_per_second_squared_for_four_hours():
    # ISO 2631-1:1997 Annex D: 0.25 sqrt(14 400) = 30 exactly, a third of it 10 %.
    dose = comfort.motion_sickness_dose(0.25, 4.0)
    assert_allclose(dose, 30.0, rtol=1e-12)
    assert_allclose(comfort.sickness_percent_from_dose(dose), 10.0, rtol=1e-12)


def test_index_takes_the_mean_of_the_magnitude():
    # A Gaussian's mean magnitude is 0.7979 of its rms (derived, sqrt(2/pi)); 0.1 g of
    # it at 1 rad/s is 32.55 % (O'Hanlon and McCauley 1974, as in Lloyd 1989).
    found = comfort.motion_sickness_incidence_percent(0.1 * 9.80665 / 0.79788456, 1.0)
    assert_allclose(found, 32.55, atol=5e-3)


def test_interruptions_at_two_coefficients():
    # Graham 1990 (from memory): 2 (60/7) exp(-(k g)^2/(2 s^2)), both sides; by hand
    # 17.142857 exp(-3.125) = 0.7532 and 17.142857 exp(-2.46420) = 1.4585 at 0.10 g.
    found = comfort.motion_induced_interruptions_per_min(
        0.10 * 9.80665, 7.0, np.array([0.25, 0.222])
    )
    assert_allclose(found, [0.7532, 1.4585], atol=5e-5)
