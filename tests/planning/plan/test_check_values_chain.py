"""How the chain joins its links: places, forces and shares put together a second time here.

The links have their own references; these tests hold the joints: which lever, which
channel, which share, and that the numbers written on the page of limits are in use.
"""

from __future__ import annotations

import importlib
import inspect
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose
from precision import TABLES, TAILS

from passage.physics.fins.drag import Rudder
from passage.physics.fuel.account import standard_alternatives
from passage.physics.motions import encounter_cautions
from passage.physics.motions.comfort import motion_sickness_incidence_percent
from passage.physics.motions.places import lateral_acceleration_rms
from passage.physics.resistance.waves import wave_resistance_kernel
from passage.physics.resistance.wind import BLENDERMANN_CLASSES
from passage.physics.waves.spectrum import COS2_WIDTH_RAD
from passage.physics.waves.table import SpectralTable
from passage.planning.voyage.evaluate import Choices, evaluate
from passage.planning.voyage.forces import wave_forces
from passage.planning.voyage.march import march
from passage.planning.voyage.yacht import Yacht
from passage.units import G_M_S2, KNOT_M_S, deg_to_rad

LIMITS = Path(__file__).parents[3] / "docs" / "limits-of-validity.md"
SPEED = 12.0 * KNOT_M_S


@pytest.fixture(scope="module")
def plan(load_helper):
    return load_helper("planning_scenario")


def answer(plan, yacht, choices=None, points=((45, -8), (45.2, -8)), **sea):
    """One evaluation of a short track to the north."""
    way = march(plan.track(*points), plan.UniformForecast(**sea), 0.0, SPEED)
    return evaluate(yacht, way, choices or Choices()), way


def with_places(plan, *places, axis_m=None):
    """The sample yacht judged at (x, y, z)."""
    vessel = plan.vessel() if axis_m is None else plan.vessel(axis_above_waterline_m=axis_m)
    first = vessel.places[0]
    made = tuple(
        replace(first, name=f"place {i}", x_m=x, y_m=y, z_m=z) for i, (x, y, z) in enumerate(places)
    )
    return Yacht(replace(vessel, places=made))


# --- places --------------------------------------------------------------------------


def test_off_the_centreline_roll_adds_to_vertical_acceleration(plan):
    # Unrelated: variance + y^2 x variance of roll acceleration.
    middle, _ = answer(plan, with_places(plan, (3.0, 0.0, 2.0)), from_deg=300.0)
    aside, _ = answer(plan, with_places(plan, (3.0, -4.0, 2.0)), from_deg=300.0)
    m4 = middle.active.acceleration_rms_rad_s2**2
    here, there = (v.values["vertical_acceleration_rms_g"] * G_M_S2 for v in (middle, aside))
    assert_allclose(there**2 - here**2, 16.0 * m4, rtol=TABLES, atol=TABLES * np.max(there**2))


def test_height_counts_from_the_roll_axis(plan):
    """Felt sideways at z over the axis: (g + z w^2) roll, sway as the equation of roll has it."""
    axis = 0.8  # not the waterline, so that the two cannot be confused
    found = []
    for z in axis + np.array([0.0, 2.0, 5.0]):
        yacht = with_places(plan, (0.0, 0.0, z), axis_m=axis)
        made, _ = answer(plan, yacht, from_deg=270.0)
        found.append(made.values["lateral_acceleration_rms_g"] * G_M_S2)
    # On the axis gravity and sway alone are left; abeam the formula that takes sway to be in
    # phase with the slope, and yaw to be nothing, is within 6 % (docs/motions.md).
    roll = made.active
    sway = made.sea[..., yacht.motions.channel("sway_acceleration")]
    on_axis = lateral_acceleration_rms(
        roll.roll_rms_rad**2, roll.rate_rms_rad_s**2, roll.acceleration_rms_rad_s2**2, 0.0, sway,
        slope_variance=made.excitation.sum(axis=-1),
        natural_frequency_rad_s=2 * np.pi / yacht.vessel.roll.natural_period_s,
    )  # fmt: skip
    assert_allclose(found[0], on_axis, rtol=0.06)
    # The variance is a parabola in height over the axis: its curvature is that of the
    # roll acceleration, m4, whatever gravity and sway do.
    low, middle, high = (each**2 for each in found)
    curvature = ((high - low) / 5.0 - (middle - low) / 2.0) / (5.0 - 2.0)
    assert_allclose(curvature, made.active.acceleration_rms_rad_s2**2, rtol=1e-6)
    # Without sway the slope at the axis would be 2 g m2; sway takes part of it away.
    slope = (middle - low) / 2.0 - 2.0 * curvature
    assert np.all(slope > 0.0)
    below, _ = answer(plan, with_places(plan, (0.0, 0.0, axis - 2.0), axis_m=axis), from_deg=270.0)
    assert np.all(below.values["lateral_acceleration_rms_g"] * G_M_S2 < found[0])


def test_worst_place_is_taken(plan):
    places = [(12.0, 0.0, 2.0), (-3.0, 3.5, 9.0)]
    both, _ = answer(plan, with_places(plan, *places), from_deg=320.0)
    each = [answer(plan, with_places(plan, p), from_deg=320.0)[0] for p in places]
    for name in (
        "vertical_acceleration_rms_g",
        "lateral_acceleration_rms_g",
        "motion_sickness_percent",
        "motion_sickness_index_percent",
        "interruptions_low_per_minute",
        "interruptions_high_per_minute",
    ):
        largest = np.maximum(*(one.values[name] for one in each))
        rtol = TAILS if name.startswith("interruptions") else TABLES
        assert_allclose(both.values[name], largest, rtol=rtol, err_msg=name)


def test_index_uses_the_frequency_of_the_acceleration_felt(plan):
    # Root of acceleration over velocity variance, both with the roll's share at y = 4 m.
    yacht = with_places(plan, (6.0, 4.0, 2.0))
    made, _ = answer(plan, yacht, from_deg=300.0)
    velocity = made.sea[..., yacht.motions.channels("vertical_velocity")[0]]
    velocity = velocity + 16.0 * made.active.rate_rms_rad_s**2
    rms = made.values["vertical_acceleration_rms_g"] * G_M_S2
    expected = motion_sickness_incidence_percent(rms, rms / np.sqrt(velocity))
    assert_allclose(made.values["motion_sickness_index_percent"], expected, rtol=1e-9)


def test_slams_and_wet_deck_by_hand(plan):
    """Ochi 1964 from the variances at the two stations: probability, percent, an hour."""
    yacht = plan.yacht()
    made, _ = answer(plan, yacht, height_m=4.0, from_deg=0.0)
    hull = yacht.vessel.particulars
    m0, m0_bow = (made.sea[..., i] for i in yacht.motions.channels("relative_motion"))
    m2 = made.sea[..., yacht.motions.channels("relative_velocity")[0]]
    threshold = 0.093 * np.sqrt(G_M_S2 * hull.length_waterline_m)
    share = np.exp(-(hull.bow_draught_m**2) / (2 * m0) - threshold**2 / (2 * m2))
    assert np.all(share > 1e-6)
    assert_allclose(made.values["slamming_percent"], 100 * share, rtol=1e-9)
    hourly = 3600 / (2 * np.pi) * np.sqrt(m2 / m0) * share
    assert_allclose(made.values["slamming_per_hour"], hourly, rtol=1e-9)
    wet = np.exp(-(hull.freeboard_bow_m**2) / (2 * m0_bow))
    assert_allclose(made.values["deck_wetness_percent"], 100 * wet, rtol=1e-9)


def test_roll_and_fin_outputs_are_the_kind_they_say(plan):
    made, _ = answer(plan, plan.yacht(), from_deg=300.0, wind=(3.0, 4.0))
    rms = made.values["roll_active_rms_deg"]
    assert_allclose(rms, np.degrees(made.active.roll_rms_rad), rtol=1e-12)
    assert_allclose(made.values["roll_active_significant_deg"], 2 * rms, rtol=1e-12)
    hourly = np.degrees(made.active.travel_rad_s.max(axis=-1)) * 3600
    assert_allclose(made.values["fin_travel_deg_per_h"], hourly, rtol=1e-12)
    # Blowing to the north-east: from 180 + atan2(3, 4), at 5 m/s.
    assert_allclose(made.values["wind_from_deg"], 180 + np.degrees(np.arctan2(3, 4)), rtol=1e-12)
    assert_allclose(made.values["wind_speed_kn"], 5 / KNOT_M_S, rtol=1e-12)


# --- forces --------------------------------------------------------------------------


def test_wind_heel_by_hand(plan):
    """15 m/s from the west, course north at 12 kn: triangle, side force, lever, stiffness."""
    vessel = plan.vessel()
    yacht = Yacht(vessel)
    made, _ = answer(plan, yacht, Choices(heel="leave"), height_m=0.2, wind=(15.0, 0.0))
    area = vessel.windage
    speed = 15.0 * (area.lateral_centroid_above_waterline_m / 10.0) ** (1 / 7)
    apparent = np.hypot(speed, SPEED)
    off_bow = np.arctan2(speed, SPEED)
    # Blendermann 1994: CY = CDt sin e/[1 - (dl/2)(1 - CDl/CDt) sin^2 2e].
    row = BLENDERMANN_CLASSES[area.family]
    ahead = row.ahead if off_bow < np.pi / 2 else row.astern
    longitudinal = ahead * area.frontal_area_m2 / area.lateral_area_m2
    below = 1 - row.cross / 2 * (1 - longitudinal / row.transverse) * np.sin(2 * off_bow) ** 2
    side = row.transverse * np.sin(off_bow) / below
    force = 0.5 * 1.225 * apparent**2 * side * area.lateral_area_m2
    lever = area.lateral_centroid_above_waterline_m + vessel.particulars.draught_m / 2
    stiffness = vessel.particulars.displacement_t * 1000 * G_M_S2 * vessel.particulars.gm_m
    expected = np.degrees(np.arctan(force * lever / stiffness))
    assert_allclose(made.values["heel_without_correction_deg"], expected, rtol=1e-6)


def test_band_of_the_waves_is_the_other_variants(plan):
    yacht = plan.yacht()
    made, way = answer(plan, yacht, height_m=1.5, from_deg=20.0)
    variants = made.sea[..., yacht.resistance_channel :]
    first, others = wave_forces(yacht, way, made.mu_rad, variants, "all-heading")
    table = SpectralTable(wave_resistance_kernel(yacht.resistance_hull, yacht.strips), SPEED)
    three = table.variance([1.5], [8.0], made.mu_rad[0], 3.3, COS2_WIDTH_RAD)
    # Tables between speeds and tables of their own differ by less than a per cent.
    assert_allclose(first[0], three[0], rtol=0.01)
    assert_allclose(np.array(others)[:, 0], three[1:], rtol=0.01)
    assert np.all(np.abs(three[1:] / three[0] - 1.0) > 0.03)


def test_simple_formulas_in_the_plan(plan):
    # STAWAVE-1 by hand: rho g Hs^2 B sqrt(B/L_BWL)/16, times the shape at the heading.
    yacht = plan.yacht()
    made, way = answer(plan, yacht, height_m=1.2, from_deg=0.0)
    hull = yacht.vessel.particulars
    length = hull.entrance_length_m
    head = 1025 * G_M_S2 / 16 * 1.2**2 * hull.beam_waterline_m
    head = head * np.sqrt(hull.beam_waterline_m / length)
    variants = made.sea[..., yacht.resistance_channel :]
    found, _ = wave_forces(yacht, way, made.mu_rad, variants, "stawave-1")
    assert_allclose(found, head, rtol=1e-9)


def test_no_air_drag_is_paid_at_anchor(plan):
    points = ((45, -8), (45.2, -8, 4.0), (45.4, -8))
    made, way = answer(plan, plan.yacht(), points=points, wind=(12.0, 3.0), height_m=0.5)
    stay = way.speed_through_water_m_s == 0.0
    assert stay.any()
    assert_allclose(made.values["fuel_wind_l"][stay], 0.0, atol=0)
    assert np.all(made.values["fuel_wind_l"][~stay] != 0.0)


def test_rudder_pays_for_fins_away_from_midship(plan):
    vessel = plan.vessel()
    calm = {"height_m": 0.2}
    list_ = Choices(list_rad=deg_to_rad(1.0))

    def at(x):
        fins = tuple(replace(fin, x_m=x) for fin in vessel.fins)
        return answer(plan, Yacht(replace(vessel, fins=fins)), list_, **calm)[0]

    amidships, forward = at(0.0), at(9.0)
    extra = forward.values["fin_drag_offset_n"] - amidships.values["fin_drag_offset_n"]
    pair = Yacht(vessel).fin_drag[0]
    # Lift of the pair, half of it sideways at 30 degrees; couple over the rudders' arm.
    q = 0.5 * 1025 * SPEED**2
    mean = forward.active.incidence_mean_rad[..., 0]
    sideways = 0.5 * q * 2 * pair.area_m2 * pair.flow_fraction**2 * pair.lift_slope_per_rad * mean
    hull = vessel.particulars
    rudder = Rudder.estimate(hull.length_waterline_m, hull.draught_m)
    force = sideways * 9.0 / (0.47 * hull.length_waterline_m)
    expected = force**2 / (q * 0.03 * hull.length_waterline_m * hull.draught_m * np.pi * 1.5 * 0.9)
    assert rudder.x_m == -0.47 * hull.length_waterline_m
    assert_allclose(extra, expected, rtol=1e-6)


# --- cautions, shares, and the page ---------------------------------------------------


def test_high_waves_begin_at_four_hundredths_of_the_length():
    # Circ.1228: significant height above 0.04 L, 1.80 m for 45 m.
    fired = encounter_cautions.encounter_cautions(
        speed_m_s=SPEED, mu_rad=0.0, height_m=np.array([1.79, 1.81]),
        mean_period_s=8.0, length_m=45.0, roll_period_s=20.0,
    ).high_wave_groups  # fmt: skip
    assert fired.tolist() == [0, 1]


@pytest.mark.parametrize(
    ("where", "value", "words"),
    [
        ("planning.voyage.rolling.GM_BAND", 0.10, "GM 10 % either way"),
        ("planning.heel.headline.FIND_CAUSE_DEG", 6.0, "list of more than 6 degrees"),
        ("planning.heel.build.CREW_L_PER_TRANSFER", 5.0, "against 5 litres"),
        ("planning.heel.cautions.GM_MARGIN_M", 0.10, "0.10 m of its minimum"),
        ("planning.heel.model.EMPTY", 0.02, "Slack from 2 %"),
        ("planning.heel.model.PRESSED_UP", 0.98, "to 98 % full"),
        ("physics.motions.comfort.TIPPING_COEFFICIENTS", (0.222, 0.25), "0.222 to 0.25"),
        ("physics.motions.comfort.PERSON_CG_HEIGHT_M", 0.91, "0.91 m above the deck"),
        ("physics.motions.slamming.SLAM_STATION_RATIO", 0.35, "at 0.35 of the length"),
        (
            "physics.motions.places.STATION_PATCH",
            (0.1, 0.5),
            "a tenth of the length by half the beam",
        ),
        ("physics.fins.force.DEFAULT_TANDEM_SHARE", 0.25, "a quarter of the far downwash"),
        ("physics.fins.force.DEFAULT_SCHEDULE_CAP", 4.0, "at most four times"),
        ("physics.fins.force.DEFAULT_POST_STALL_SLOPE", 0.5, "falling at half the slope"),
        ("physics.fins.drag.OSWALD_EFFICIENCY", 0.9, "span efficiency 0.9"),
        ("physics.fins.drag.PROFILE_DRAG", 0.010, "Profile drag 0.010"),
        ("physics.waves.spectrum.SWELL_S", 25.0, "s = 25 for swell"),
        ("physics.motions.encounter_cautions.PERIOD_BAND", 0.20, "20 % (common practice)"),
        ("physics.roll.damping_ikeda.WAVE_SPEED_FACTOR_CAP", 12.0, "capped at 12"),
        ("physics.resistance.waves.BLOCK_COEFFICIENT_FLOOR", 0.60, "floored at 0.60"),
        ("physics.waves.peakedness.GAMMA_STEEPEST", 3.3, "one rule of steepness, 1 to 3.3"),
        ("physics.waves.peakedness.GAMMA_SWELL", 5.0, "of swell 5"),
        ("inputs.forecast.holding.CALM_HEIGHT_M", 0.05, "Below 0.05 m"),
        ("inputs.forecast.systems.CALM_PERIOD_S", 5.0, "a period of 5 s"),
        ("inputs.vessel.estimates.LEAST_DAMPING", 0.02, "below 0.02 of critical"),
        ("units.CO2_T_PER_T_MGO", 3.206, "CO₂ factor"),
    ],
)
def test_unsourced_numbers_are_those_of_the_page(where, value, words):
    """A change of such a number is a change of the page, and the other way round."""
    module, _, name = where.rpartition(".")
    assert getattr(importlib.import_module(f"passage.{module}"), name) == value
    text = " ".join(LIMITS.read_text(encoding="utf-8").split())
    assert words in text


def test_shares_of_the_fuel_band_are_those_of_the_page():
    given = inspect.signature(standard_alternatives).parameters
    assert (given["wind_share"].default, given["fin_share"].default) == (0.2, 0.15)
    text = " ".join(LIMITS.read_text(encoding="utf-8").split())
    assert "wind coefficients 20 %, fin drag 15 % either way" in text
