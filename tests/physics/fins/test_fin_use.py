"""Which fin use is open (common practice, no source), and the engineer's totals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from passage.physics.fins import use as fu
from passage.units import KNOT_M_S, knots_to_m_s


@pytest.mark.parametrize(
    ("speed_kn", "word", "say"),
    [
        (12.0, "active", "under way"),
        (3.0, "active", "under way"),
        (2.9, "at rest", "under 3 kn"),
        (0.0, "at rest", "under 3 kn"),
        (-2.9, "at rest", "under 3 kn"),
        (-3.0, "centred", "astern"),
        (-5.0, "centred", "astern"),
        (-5.1, "centred and locked", "lock"),
    ],
)
def test_use_by_speed(speed_kn, word, say):
    code = int(fu.fin_use(knots_to_m_s(speed_kn)))
    assert fu.FIN_USE_WORDS[code] == word
    assert say in fu.FIN_USE_REASONS[code]


def test_slamming_centres_but_does_not_lock():
    code = int(fu.fin_use(knots_to_m_s(12.0), 0.04))
    assert fu.FIN_USE_WORDS[code] == "centred"
    for words in ("do not lock", "slow down", "alter course"):
        assert words in fu.FIN_USE_REASONS[code]
    assert int(fu.fin_use(knots_to_m_s(12.0), 0.029)) == fu.ACTIVE


def test_manoeuvring_centres_at_any_speed_ahead():
    codes = fu.fin_use(knots_to_m_s(np.array([0.0, 2.0, 6.0])), manoeuvring=True)
    assert codes.tolist() == [fu.MANOEUVRING] * 3
    assert int(fu.fin_use(knots_to_m_s(-6.0), manoeuvring=True)) == fu.ASTERN_LOCKED


def test_without_fins_or_without_rest_mode():
    assert fu.fin_use(np.array([0.0, np.nan]), fitted=False).tolist() == [fu.NONE] * 2
    assert int(fu.fin_use(0.0, at_rest_fitted=False)) == fu.NO_REST_MODE
    assert bool(fu.fins_centred(fu.NO_REST_MODE))
    assert not bool(fu.fins_centred(fu.NONE))


@given(
    speed=st.one_of(st.just(float("nan")), st.floats(-10.0, 15.0)),
    slam=st.one_of(st.just(float("nan")), st.floats(0.0, 1.0)),
)
def test_unknown_is_never_open(speed, slam):
    code = fu.fin_use(speed, slam)
    if np.isnan(speed) or np.isnan(slam):
        assert code == fu.UNKNOWN
    if fu.fins_work(code):
        assert speed > -3.0 * KNOT_M_S
        assert slam < 0.03


def test_every_code_has_words():
    assert len(fu.FIN_USE_WORDS) == len(fu.FIN_USE_REASONS) == fu.NOT_NEEDED + 1


def test_totals():
    codes = [fu.ACTIVE, fu.ACTIVE, fu.AT_REST, fu.SLAMMING, fu.UNKNOWN, fu.ASTERN]
    hours = [2.0, 1.0, 4.0, 0.5, 3.0, 0.25]
    travel = [1000.0, np.nan, 500.0, np.nan, np.nan, 777.0]
    limit = [10.0, np.nan, 1.0, np.nan, np.nan, 50.0]
    totals = fu.fin_totals(codes, hours, travel, limit)
    assert totals.hours_active == 3.0
    assert totals.hours_at_rest == 4.0
    assert totals.hours_centred == 0.75
    assert totals.hours_unknown == 3.0
    assert totals.travel_deg == 2 * 1000 + 4 * 500
    assert totals.hours_without_travel == 1.0
    assert totals.at_limit_percent == pytest.approx((2 * 10 + 4 * 1) / 6, rel=1e-6)


def test_totals_over_another_axis_and_without_work():
    codes = np.full((4, 2), fu.ASTERN)
    codes[:, 1] = fu.ACTIVE
    totals = fu.fin_totals(codes, np.ones((4, 1)), 600.0, 5.0, axis=0)
    assert totals.hours_active.tolist() == [0.0, 4.0]
    assert totals.travel_deg.tolist() == [0.0, 2400.0]
    assert np.isnan(totals.at_limit_percent[0])
    assert totals.at_limit_percent[1] == 5.0


def test_unknown_duration_makes_the_total_unknown():
    totals = fu.fin_totals([fu.ACTIVE, fu.ASTERN], [np.nan, 1.0], 600.0, 5.0)
    assert np.isnan(totals.hours_active)
    assert np.isnan(totals.travel_deg)
    assert np.isnan(totals.at_limit_percent)
    assert totals.hours_centred == 1.0
