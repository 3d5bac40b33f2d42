"""Steps of the plan whose answer is known otherwise: dose window, GM band, offset share."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from passage.inputs.vessel import estimates
from passage.inputs.vessel.schema import FinsSection
from passage.physics.fins import force as fin
from passage.planning.voyage.comfort import recent_dose
from passage.planning.voyage.evaluate import Choices, evaluate
from passage.planning.voyage.march import march
from passage.planning.voyage.rolling import GM_BAND
from passage.planning.voyage.yacht import Yacht
from passage.units import KNOT_M_S, deg_to_rad

SPEED = 12.0 * KNOT_M_S


@pytest.fixture(scope="module")
def plan(load_helper):
    return load_helper("planning_scenario")


# --- the dose of the last six hours -----------------------------------------------


def test_dose_of_steady_motion_grows_with_the_root_of_time_and_stops_at_six_hours():
    # ISO 2631-1: a_w sqrt(t), for exposures up to six hours; 0.25 m/s2 for 4 h is 30.
    hours = np.full(20, 0.5)
    dose = recent_dose(np.full(20, 0.25), hours)
    time = np.minimum(np.cumsum(hours), 6.0)
    assert_allclose(dose, 0.25 * np.sqrt(time * 3600.0), rtol=1e-12)
    assert_allclose(dose[7], 30.0, rtol=1e-12)


def test_dose_does_not_depend_on_how_the_time_is_cut():
    rough = recent_dose(np.array([0.1, 0.4, 0.2]), np.array([3.0, 2.0, 5.0]))
    fine = recent_dose(np.repeat([0.1, 0.4, 0.2], [30, 20, 50]), np.full(100, 0.1))
    assert_allclose(fine[[29, 49, 99]], rough, rtol=1e-9)
    # By hand, at 10 h: 5 h of 0.2 and the last hour of 0.4.
    assert_allclose(rough[2], np.sqrt((5 * 0.04 + 1 * 0.16) * 3600.0), rtol=1e-12)


def test_unknown_hour_spoils_the_dose_for_six_hours_and_no_longer():
    weighted = np.full(12, 0.3)
    weighted[2] = np.nan
    dose = recent_dose(weighted, np.ones(12))
    assert np.isfinite(dose[:2]).all()
    assert np.isnan(dose[2:8]).all()
    assert_allclose(dose[8:], 0.3 * np.sqrt(6 * 3600.0), rtol=1e-12)


# --- the band of the metacentric height -------------------------------------------


@pytest.mark.parametrize("factor", [1.0 - GM_BAND, 1.0 + GM_BAND])
def test_roll_at_another_gm_is_that_of_a_yacht_with_that_gm(plan, factor):
    """The same hull with GM x f: period over root f, constant damping moment."""
    vessel = plan.vessel()
    # By strip theory the slope goes with the height of gravity too, some per cent.
    by_formula = replace(vessel.roll, wave_slope_coefficient="formula")
    vessel = replace(vessel, roll=by_formula)
    other = replace(
        vessel,
        particulars=replace(vessel.particulars, gm_m=vessel.particulars.gm_m * factor),
        roll=replace(
            vessel.roll,
            natural_period_s=vessel.roll.natural_period_s / np.sqrt(factor),
            damping_ratio=vessel.roll.damping_ratio / np.sqrt(factor),
            damping_ratio_per_kn=vessel.roll.damping_ratio_per_kn / np.sqrt(factor),
        ),
    )
    track = plan.track((45, -8), (45.3, -8))
    ends = {}
    for name, made in (("band", Yacht(vessel)), ("made", Yacht(other))):
        way = march(track, plan.UniformForecast(height_m=1.0), 0.0, SPEED)
        ends[name] = evaluate(made, way, Choices(heel="leave")).values
    low, high = (ends["band"][f"roll_active_{end}_rms_deg"] for end in ("low", "high"))
    found = ends["made"]["roll_active_rms_deg"]
    # Encounter nodes follow the natural period, so the sums differ by their own error.
    assert_allclose(np.minimum(np.abs(found / low - 1), np.abs(found / high - 1)), 0, atol=3e-3)
    assert np.all(high > low)


def test_band_holds_the_roll_itself(plan):
    track = plan.track((45, -8), (46, -8))
    way = march(track, plan.UniformForecast(from_deg=240.0), 0.0, SPEED)
    values = evaluate(plan.yacht(), way, Choices()).values
    assert np.all(values["roll_active_low_rms_deg"] <= values["roll_active_rms_deg"])
    assert np.all(values["roll_active_high_rms_deg"] >= values["roll_active_rms_deg"])


# --- the share of the range that an offset may take --------------------------------


def test_offset_stops_at_its_share_of_the_range(plan):
    yacht = plan.yacht()
    track = plan.track((45, -8), (45.3, -8))
    way = march(track, plan.UniformForecast(height_m=0.2), 0.0, SPEED)
    values = evaluate(yacht, way, Choices(list_rad=deg_to_rad(9.0))).values
    # 60 % is the default of offset_share.
    most = 0.6 * max(pair.max_angle_deg for pair in yacht.vessel.fins)
    assert_allclose(values["fin_offset_deg"], -most, rtol=1e-9)
    other = evaluate(yacht, way, Choices(list_rad=deg_to_rad(-9.0))).values
    assert_allclose(other["fin_offset_deg"], most, rtol=1e-9)


def test_heel_limit_leaves_what_the_owner_allows(plan):
    vessel = plan.vessel()
    underway = replace(vessel.limits.underway, steady_heel_deg=0.4)
    yacht = Yacht(replace(vessel, limits=replace(vessel.limits, underway=underway)))
    track = plan.track((45, -8), (45.3, -8))
    way = march(track, plan.UniformForecast(height_m=0.2), 0.0, SPEED)
    values = evaluate(yacht, way, Choices(heel="limit", list_rad=deg_to_rad(1.0))).values
    assert_allclose(values["steady_heel_deg"], 0.4, atol=2e-3)
    within = evaluate(yacht, way, Choices(heel="limit", list_rad=deg_to_rad(0.3))).values
    assert_allclose(within["steady_heel_deg"], 0.3, atol=1e-9)
    assert_allclose(within["fin_offset_deg"], 0.0, atol=1e-12)


# --- estimates use the same formulas as the physics ---------------------------


def fins_section(**changes):
    values = {
        "position": "midship",
        "count": 2,
        "area_m2": 2.0,
        "aspect_ratio": 0.7,
        "lever_m": 3.6,
        "max_angle_deg": 25.0,
        "max_rate_deg_s": 30.0,
        "reference_speed_kn": 12.0,
        "rate_gain_s": 4.0,
    }
    return FinsSection(**(values | changes))


@pytest.mark.parametrize("aspect_ratio", [0.5, 0.7, 1.0, 1.4, 2.0])
def test_stall_estimate_is_the_one_of_the_physics(aspect_ratio):
    found, method = estimates.stall_angle(fins_section(aspect_ratio=aspect_ratio))
    assert_allclose(found, np.rad2deg(fin.stall_angle_rad(2 * aspect_ratio)), rtol=1e-12)
    assert "from memory" in method


def test_efficiency_estimate_is_the_boundary_layer_and_the_gap():
    found, _ = estimates.fin_efficiency(fins_section(x_m=2.5), 45.0)
    outreach = np.sqrt(2.0 * 0.7)  # area times geometric aspect ratio, squared outreach
    layer = fin.boundary_layer_efficiency(45.0 / 2 - 2.5, SPEED, outreach)
    assert_allclose(found, 0.925 * layer, rtol=1e-12)


def test_dose_of_a_long_track_equals_the_sum_over_all_pairs():
    # The definition, segment by segment: what is younger than six hours counts, each
    # segment by its part within them; an unknown one spoils the sums that hold it.
    rng = np.random.default_rng(5)
    rms, hours = rng.uniform(0.0, 0.5, 120), rng.uniform(0.05, 0.9, 120)
    rms[[20, 70]] = np.nan
    end = np.cumsum(hours)
    expected = []
    for now in end:
        inside = np.clip(np.minimum(end, now) - np.maximum(end - hours, now - 6.0), 0.0, None)
        counted = inside > 0.0
        expected.append(np.sqrt(np.sum(rms[counted] ** 2 * inside[counted]) * 3600.0))
    assert np.isnan(expected).sum() not in (0, 120)
    assert_allclose(recent_dose(rms, hours), expected, rtol=1e-9)
