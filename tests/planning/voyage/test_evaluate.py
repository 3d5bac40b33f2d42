"""The whole chain at points: identities that hold whatever the numbers are."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from passage.physics.fuel.account import PARTS
from passage.planning.voyage.evaluate import Choices, evaluate, over_engine
from passage.planning.voyage.march import march
from passage.units import KNOT_M_S, deg_to_rad


@pytest.fixture(scope="module")
def plan(load_helper):
    return load_helper("planning_scenario")


@pytest.fixture(scope="module")
def yacht(plan):
    return plan.yacht()


def run(plan, yacht, forecast=None, choices=None, speed_kn=12.0, points=((45, -8), (46, -8))):
    track = plan.track(*points, speed_kn=speed_kn)
    way = march(track, forecast or plan.UniformForecast(), 0.0, speed_kn * KNOT_M_S)
    return evaluate(yacht, way, choices or Choices()), way


def test_parts_of_the_fuel_add_to_the_total(plan, yacht):
    forecast = plan.UniformForecast(wind=(8.0, 3.0), current=(0.2, 0.1))
    result, _ = run(plan, yacht, forecast, Choices(list_rad=deg_to_rad(1.5)))
    values = result.values
    total = sum(values[f"fuel_{part}_l"] for part in PARTS)
    assert_allclose(values["fuel_l"], total, rtol=1e-14)
    assert (values["fuel_low_l"] <= values["fuel_l"]).all()
    assert (values["fuel_high_l"] >= values["fuel_l"]).all()


def test_calm_without_wind_is_still_water_and_the_house(plan, yacht):
    calm = plan.UniformForecast(height_m=0.0)
    result, way = run(plan, yacht, calm, Choices(fins="centred"))
    values = result.values
    ratio = yacht.displacement_ratio ** (2.0 / 3.0)
    expected = yacht.curve.fuel(12 * KNOT_M_S) * ratio * way.hours
    assert_allclose(values["fuel_still_water_l"], expected, rtol=1e-12)
    for part in ("waves", "wind", "fins_active", "fins_offset", "list"):
        assert_allclose(values[f"fuel_{part}_l"], 0.0, atol=1e-12)
    assert_allclose(values["roll_centred_rms_deg"], 0.0, atol=1e-12)


def test_port_and_starboard_seas_are_mirror_images(plan, yacht):
    port, _ = run(plan, yacht, plan.UniformForecast(from_deg=300.0))
    starboard, _ = run(plan, yacht, plan.UniformForecast(from_deg=60.0))
    for name in ("roll_active_rms_deg", "fuel_l", "vertical_acceleration_rms_g"):
        assert_allclose(port.values[name], starboard.values[name], rtol=1e-9)


def test_fins_reduce_roll_in_a_beam_sea_and_cost_fuel(plan, yacht):
    active, _ = run(plan, yacht)
    centred, _ = run(plan, yacht, choices=Choices(fins="centred"))
    for one, felt in ((active, "active"), (centred, "centred")):
        rms = one.values[f"roll_{felt}_rms_deg"]  # the band is of the roll sailed with
        assert (one.values["roll_active_low_rms_deg"] <= rms).all()
        assert (rms <= one.values["roll_active_high_rms_deg"]).all()
    assert (active.values["roll_active_rms_deg"] < active.values["roll_centred_rms_deg"]).all()
    assert (active.values["fuel_l"] > centred.values["fuel_l"]).all()
    assert_allclose(
        active.values["roll_centred_rms_deg"], centred.values["roll_centred_rms_deg"], rtol=1e-12
    )


def test_offset_holds_the_list_and_its_price_goes_with_the_square(plan, yacht):
    calm = plan.UniformForecast(height_m=0.2)
    one, _ = run(plan, yacht, calm, Choices(list_rad=deg_to_rad(0.5)))
    two, _ = run(plan, yacht, calm, Choices(list_rad=deg_to_rad(1.0)))
    assert_allclose(one.values["steady_heel_deg"], 0.0, atol=1e-3)
    assert (one.values["fin_offset_deg"] < 0).all()  # against a list to starboard
    ratio = two.values["fin_drag_offset_n"] / one.values["fin_drag_offset_n"]
    assert_allclose(ratio, 4.0, rtol=1e-3)


def test_offset_beyond_the_fins_is_reported(plan, yacht):
    calm = plan.UniformForecast(height_m=0.2)
    result, _ = run(plan, yacht, calm, Choices(list_rad=deg_to_rad(5.0)))
    left = result.values["steady_heel_deg"]
    assert (left > 1.0).all()
    assert_allclose(result.values["heel_shortfall_deg"], left, rtol=1e-6)


def test_heel_left_alone_stays(plan, yacht):
    result, _ = run(plan, yacht, choices=Choices(heel="leave", list_rad=deg_to_rad(1.5)))
    assert_allclose(result.values["steady_heel_deg"], 1.5, rtol=1e-9)
    assert_allclose(result.values["fuel_fins_offset_l"], 0.0, atol=1e-12)


def test_wind_from_port_heels_to_starboard(plan, yacht):
    # Course north, wind from the west blows towards the east.
    result, _ = run(plan, yacht, plan.UniformForecast(wind=(15.0, 0.0)))
    assert (result.values["heel_without_correction_deg"] > 0).all()


def test_after_the_forecast_nothing_that_needs_the_sea_is_known(plan, yacht):
    result, way = run(plan, yacht, plan.UniformForecast(until_s=7200.0))
    late = way.time_s > 7200.0
    assert late.any()
    assert (~late).any()
    for name in (
        "roll_active_rms_deg",
        "roll_centred_rms_deg",
        "fuel_l",
        "fuel_waves_l",
        "significant_height_m",
        "vertical_acceleration_rms_g",
        "encounter_period_s",
        "fin_offset_deg",
        "fuel_low_l",
        "roll_active_high_rms_deg",
    ):
        assert np.isnan(result.values[name][late]).all(), name
        assert np.isfinite(result.values[name][~late]).all(), name
    assert (result.fin_use[late] == 0).all()  # unknown, never open


def test_splitting_the_track_changes_nothing(plan, yacht):
    coarse = plan.track((45, -8), (46, -8), minutes=60)
    fine = plan.track((45, -8), (46, -8), minutes=10)
    totals = []
    for track in (coarse, fine):
        way = march(track, plan.UniformForecast(wind=(5.0, 2.0)), 0.0, 12 * KNOT_M_S)
        totals.append(evaluate(yacht, way, Choices()).values["fuel_l"].sum())
    assert_allclose(totals[0], totals[1], rtol=1e-12)


def test_twice_the_leg_is_twice_the_fuel(plan, yacht):
    totals = []
    for north in (46.0, 47.0):
        track = plan.track((45.0, -8.0), (north, -8.0))
        way = march(track, plan.UniformForecast(), 0.0, 12 * KNOT_M_S)
        fuel = evaluate(yacht, way, Choices()).values["fuel_l"].sum()
        totals.append(fuel / track.length_m.sum())
    assert_allclose(totals[0], totals[1], rtol=1e-12)


def test_no_fins_is_fins_absent(plan, yacht):
    bare = plan.yacht(fins=())
    without, _ = run(plan, bare)
    absent, _ = run(plan, yacht, choices=Choices(fins="absent"))
    assert_allclose(
        without.values["roll_active_rms_deg"], absent.values["roll_active_rms_deg"], rtol=1e-12
    )
    with_centred, _ = run(plan, yacht, choices=Choices(fins="centred"))
    assert (
        with_centred.values["roll_centred_rms_deg"] < absent.values["roll_centred_rms_deg"]
    ).all()


def test_zero_fin_area_is_fins_absent(plan, yacht):
    fins = tuple(replace(fin, area_m2=1e-12) for fin in yacht.vessel.fins)
    tiny, _ = run(plan, plan.yacht(fins=fins))
    absent, _ = run(plan, yacht, choices=Choices(fins="absent"))
    assert_allclose(
        tiny.values["roll_active_rms_deg"], absent.values["roll_active_rms_deg"], rtol=1e-6
    )


def test_wind_family_by_name_changes_the_price_of_wind_and_not_its_heel(plan, yacht):
    wind = plan.UniformForecast(wind=(0.0, -10.0))  # from the north, ahead on this course
    merchant = replace(yacht.vessel.windage, family="fujiwara")
    other, _ = run(plan, plan.yacht(windage=merchant), wind)
    usual, _ = run(plan, yacht, wind)
    assert_allclose(
        other.values["heel_without_correction_deg"],
        usual.values["heel_without_correction_deg"],
        rtol=1e-12,
        atol=1e-12,
    )
    # Dead ahead both prices are C (Vr^2 - U^2): they differ by the coefficient alone.
    from passage.planning.voyage.forces import wind_coefficients

    _, mine, _ = wind_coefficients(yacht.vessel, merchant, 0.0)
    _, theirs, _ = wind_coefficients(yacht.vessel, yacht.vessel.windage, 0.0)
    ratio = other.values["fuel_wind_l"] / usual.values["fuel_wind_l"]
    assert_allclose(ratio, mine / theirs, rtol=2e-3)


def test_band_has_both_sides_and_holds_the_other_answers(plan, yacht):
    """What the wave formula, the peak enhancement and the current may be lies within."""
    sea = {"height_m": 2.0, "peak_period_s": 6.5, "from_deg": 20.0, "current": (0.3, -0.4)}
    found, _ = run(plan, yacht, plan.UniformForecast(**sea))
    v = {name: found.values[name].sum() for name in ("fuel_l", "fuel_low_l", "fuel_high_l")}
    waves = found.values["fuel_waves_l"].sum()
    assert v["fuel_low_l"] < v["fuel_l"] - 0.2 * waves
    assert v["fuel_high_l"] > v["fuel_l"] + 0.2 * waves
    for gamma in (1.0, 3.3):
        forecast = plan.UniformForecast(**sea)
        plain = forecast.sample

        def sample(*args, gamma=gamma, plain=plain, **kept):
            sky = plain(*args, **kept)
            return replace(sky, gamma=np.full_like(sky.gamma, gamma))

        forecast.sample = sample
        other, _ = run(plan, yacht, forecast)
        assert v["fuel_low_l"] < other.values["fuel_l"].sum() < v["fuel_high_l"]
    for part in (0.75, 1.25):
        flow = tuple(part * x for x in sea["current"])
        other, _ = run(plan, yacht, plan.UniformForecast(**(sea | {"current": flow})))
        assert v["fuel_low_l"] < other.values["fuel_l"].sum() < v["fuel_high_l"]


def test_gm_of_the_day_rolls_her_as_a_yacht_with_that_gm(plan, yacht):
    # A fifth of GM gone at the same weight: the natural period is longer by its root, and
    # the same damping is a larger share of critical.
    ratio = 0.8
    file = yacht.vessel
    roll = replace(
        file.roll,
        natural_period_s=file.roll.natural_period_s / ratio**0.5,
        damping_ratio=file.roll.damping_ratio / ratio**0.5,
        damping_ratio_per_kn=file.roll.damping_ratio_per_kn / ratio**0.5,
    )
    hull = replace(file.particulars, gm_m=ratio * file.particulars.gm_m)
    soft = yacht.guessed_otherwise(replace(file, particulars=hull, roll=roll))
    sea = plan.UniformForecast(wind=(3.0, 6.0))
    list_rad = deg_to_rad(1.0)
    day = Choices(list_rad=list_rad, stiffness_ratio=ratio, gm_ratio=ratio, band=False)
    here, _ = run(plan, yacht, sea, day)
    other, _ = run(
        plan, soft, sea, Choices(list_rad=np.arctan(np.tan(list_rad) / ratio), band=False)
    )
    # Moments are counted as angles at the file's GM: the arc of a degree is the difference.
    for name in (
        "natural_roll_period_s", "roll_centred_rms_deg", "roll_active_rms_deg", "fuel_l",
        "heel_without_correction_deg", "steady_heel_deg", "lateral_acceleration_rms_g",
        "fin_at_limit_percent",
    ):  # fmt: skip
        assert_allclose(here.values[name], other.values[name], rtol=5e-4, atol=1e-5, err_msg=name)
    assert here.values["roll_centred_rms_deg"][0] != pytest.approx(
        run(plan, yacht, sea, replace(day, stiffness_ratio=1.0, gm_ratio=1.0))[0].values[
            "roll_centred_rms_deg"
        ][0],
        rel=0.02,
    )


def test_engines_without_a_limit_are_overloaded_at_no_point_of_any_draw():
    burns = SimpleNamespace(split=SimpleNamespace(main_engines=np.ones((5, 3))))
    free = SimpleNamespace(engine=SimpleNamespace(max_fuel_l_per_h=None))
    bound = SimpleNamespace(engine=SimpleNamespace(max_fuel_l_per_h=0.9))
    track = SimpleNamespace(length_m=np.ones(3))
    assert over_engine(free, track, burns).shape == over_engine(bound, track, burns).shape == (5, 3)
    assert not over_engine(free, track, burns).any()
    assert over_engine(bound, track, burns).all()
