"""Encounter conditions of MSC.1/Circ.1228."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from passage.physics.motions import encounter_cautions as ec
from passage.physics.waves.dispersion import encounter_period, imo_encounter_period
from passage.units import KNOT_M_S, m_s_to_knots


def conditions(**changes):
    """A following sea at 12.5 kn, and what the test changes."""
    values = {
        "speed_m_s": 12.5 * KNOT_M_S,
        "mu_rad": 0.0,
        "height_m": 2.5,
        "mean_period_s": 7.5,
        "length_m": 45.0,
        "roll_period_s": 7.7,
    }
    return ec.encounter_cautions(**(values | changes))


@pytest.mark.parametrize(
    ("length_m", "alpha_deg", "limit_kn"),
    # 1.8 sqrt(L)/cos(180 - alpha) kn, MSC.1/Circ.1228 (limit seen quoted), worked out
    # independently; alpha counts from ahead.
    [
        (30.0, 180, 9.86),
        (30.0, 160, 10.49),
        (30.0, 150, 11.38),
        (30.0, 140, 12.87),
        (45.0, 180, 12.07),
        (45.0, 160, 12.85),
        (45.0, 150, 13.94),
        (45.0, 210, 13.94),
        (45.0, 140, 15.76),
        (60.0, 180, 13.94),
        (60.0, 160, 14.84),
        (60.0, 150, 16.10),
        (60.0, 140, 18.20),
    ],
)
def test_surf_riding_limit(length_m, alpha_deg, limit_kn):
    limit = ec.surf_riding_limit_m_s(np.deg2rad(180 - alpha_deg), length_m)
    assert m_s_to_knots(limit) == pytest.approx(limit_kn, abs=0.01)


@pytest.mark.parametrize("length_m", [20.0, 45.0, 90.0])
def test_surf_riding_limit_is_one_froude_number_dead_astern(length_m):
    limit = ec.surf_riding_limit_m_s(0.0, length_m)
    assert limit / np.sqrt(9.80665 * length_m) == pytest.approx(0.2956, abs=5e-4)  # identity


def test_surf_riding_sector_and_speed():
    state = conditions(mu_rad=np.deg2rad([0.0, 44.0, 46.0, 180.0])).surf_riding
    assert state.tolist() == [1, 0, 0, 0]  # 44 deg: the limit is 16.8 kn
    assert conditions(mu_rad=np.deg2rad(44.0), speed_m_s=17 * KNOT_M_S).surf_riding == 1
    assert conditions(mu_rad=np.deg2rad(46.0), speed_m_s=20 * KNOT_M_S).surf_riding == 0
    assert conditions(speed_m_s=12.0 * KNOT_M_S).surf_riding == 0


def test_high_wave_zone_needs_both_numbers_and_the_period_ratio():
    # 45 m: wavelength over 36 m and height over 1.8 m (Circ.1228). T 8 s at 12 kn from
    # astern is met every 15.82 s (Airy), 1.98 times its period.
    base = {"mean_period_s": 8.0, "speed_m_s": 12 * KNOT_M_S}
    assert conditions(**base).high_wave_groups == 1
    assert conditions(**base, height_m=1.79).high_wave_groups == 0
    assert conditions(**base, mu_rad=np.pi).high_wave_groups == 0
    # 4.7 s is a 34 m wave; met at 1.9 times its period it would otherwise be in the zone.
    short = {"mean_period_s": 4.7, "speed_m_s": 6.75 * KNOT_M_S}
    met = conditions(**short)
    assert 1.8 < met.encounter_period_s / 4.7 < 3.0
    assert met.wavelength_m < 36.0
    assert met.high_wave_groups == 0


def test_high_wave_zone_in_the_circulars_own_relation():
    # T_E = 3 T^2/(3 T + V cos alpha) (from memory): 1.8 to 3.0 T_W is V/T 1.333 to 2.0.
    for ratio, edge in ((1.8, 4 / 3), (3.0, 2.0)):
        met = imo_encounter_period(8.0, edge * 8.0, np.pi)
        assert met / 8.0 == pytest.approx(ratio, rel=1e-3)


def test_rounded_encounter_period_and_the_exact_one():
    assert imo_encounter_period(8.0, 12.0, 0.0) == pytest.approx(5.333, abs=0.01)
    assert imo_encounter_period(8.0, 12.0, np.pi) == pytest.approx(16.0, abs=0.01)
    exact = encounter_period(8.0, 12 * KNOT_M_S, [np.pi, 0.0])
    assert exact == pytest.approx([5.353, 15.823], abs=0.01)  # Airy waves


def test_riding_with_the_waves_is_an_infinite_period_and_no_rolling():
    celerity = 9.80665 * 8.0 / (2 * np.pi)
    met = conditions(mean_period_s=8.0, speed_m_s=celerity)
    assert met.encounter_period_s > 1e6
    assert met.synchronous_rolling == 0
    assert met.parametric_rolling == 0


@pytest.mark.parametrize(
    ("roll_over_met", "synchronous", "parametric"),
    # T_E near T_R: both; T_E near T_R/2: parametric only (Circ.1228); band 20 %.
    [(1.0, 1, 1), (1 / 1.19, 1, 1), (1 / 1.21, 0, 0), (2.0, 0, 1), (2 / 1.19, 0, 1), (3.0, 0, 0)],
)
def test_rolling(roll_over_met, synchronous, parametric):
    beam = conditions(mu_rad=np.pi / 2, mean_period_s=8.0, roll_period_s=8.0 * roll_over_met)
    assert beam.encounter_period_s == pytest.approx(8.0, rel=1e-6)
    assert beam.synchronous_rolling == synchronous
    assert beam.parametric_rolling == parametric


@given(mu=st.floats(0.0, np.pi), speed=st.floats(0.0, 15.0), period=st.floats(3.0, 15.0))
def test_port_and_starboard_give_the_same_cautions(mu, speed, period):
    here = conditions(mu_rad=mu, speed_m_s=speed, mean_period_s=period)
    there = conditions(mu_rad=-mu, speed_m_s=speed, mean_period_s=period)
    for code in ec.CAUTION_CODES:
        assert getattr(here, code) == getattr(there, code)


@pytest.mark.parametrize(
    ("missing", "unknown"),
    [
        ("speed_m_s", ec.CAUTION_CODES),
        ("mu_rad", ec.CAUTION_CODES),
        ("height_m", ("high_wave_groups",)),
        ("mean_period_s", ("high_wave_groups", "synchronous_rolling", "parametric_rolling")),
        ("roll_period_s", ("synchronous_rolling", "parametric_rolling")),
    ],
)
def test_missing_data_give_neither_caution_nor_all_clear(missing, unknown):
    met = conditions(**{missing: np.nan})
    for code in ec.CAUTION_CODES:
        assert (getattr(met, code) == -1) == (code in unknown)
        if code in unknown:
            assert ec.caution_text(met, code) == ""


def test_caution_texts_have_the_numbers_that_raised_them():
    met = conditions(mean_period_s=8.0, roll_period_s=np.array([16.0, 32.0]))
    surf = ec.caution_text(met, "surf_riding", 0)
    assert "12.5 kn" in surf
    assert "12.1 kn" in surf
    assert "45 m" in surf
    high = ec.caution_text(met, "high_wave_groups", 0)
    assert "100 m" in high
    assert "2.5 m" in high
    assert "signs of it are seen on board" in high  # the circular's third condition
    assert f"{met.encounter_period_s[0]:.1f} s" in ec.caution_text(met, "synchronous_rolling", 0)
    assert "20 %" in ec.caution_text(met, "synchronous_rolling", 0)
    assert "near half the natural" in ec.caution_text(met, "parametric_rolling", 1)
    assert "near the natural" in ec.caution_text(met, "parametric_rolling", 0)


def test_text_of_another_band_says_that_band():
    met = conditions(mu_rad=np.pi / 2, mean_period_s=7.7, band=0.1)
    assert "10 %" in ec.caution_text(met, "synchronous_rolling")


def test_text_is_empty_without_a_caution_and_refuses_unknown_codes():
    calm = conditions(mu_rad=np.pi, mean_period_s=4.0)
    assert ec.caution_text(calm, "surf_riding") == ""
    with pytest.raises(ValueError, match="unknown caution 'surf'"):
        ec.caution_text(calm, "surf")
