"""Still-water fuel, engine consumption, fuel split, speed policies.

Specific consumption: the published examples of US EPA's marine emission tools.
Energy identities need no source.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from passage.physics.fuel.account import (
    PARTS,
    current_alternatives,
    fuel_band,
    fuel_split,
    standard_alternatives,
)
from passage.physics.fuel.propulsion import (
    Engine,
    SpeedFuelCurve,
    brake_power_from_force,
    brake_power_from_fuel,
    co2_tonnes,
    displacement_factor,
    fuel_from_brake_power,
    fuel_per_extra_watt,
    fuel_tonnes,
    generator_fuel,
    pump_fuel,
    specific_fuel_shape,
)
from passage.physics.fuel.speed_policy import (
    REASONS,
    ForceGrid,
    arrive_by,
    hold_fuel_rate,
    limit_to_engine,
    propulsion_fuel,
    speed_nodes,
)
from passage.physics.resistance.current import hold_speed_through_water
from passage.units import CO2_T_PER_T_MGO, KNOT_M_S

SPEED_KN = np.array([8.0, 10.0, 12.0, 13.0, 14.0])
FUEL = np.array([52.0, 98.0, 170.0, 221.0, 290.0])
CURVE = SpeedFuelCurve(SPEED_KN * KNOT_M_S, FUEL)
ENGINE = Engine(propulsive_efficiency=0.55, specific_fuel_g_per_kwh=210.0)
LOADED = Engine(propulsive_efficiency=0.55, specific_fuel_g_per_kwh=205.0, max_power_kw=1400.0)


def test_curve_passes_through_the_owners_points():
    assert_allclose(CURVE.fuel(SPEED_KN * KNOT_M_S), FUEL, rtol=1e-12)


def test_a_power_law_is_reproduced():
    # Admiralty coefficient, methods note section 7: 560 t, 12 kn, 800 kW, exponent 3.
    speed = np.array([8.0, 9.0, 11.0, 13.0])
    curve = SpeedFuelCurve(speed, 800.0 * (speed / 12.0) ** 3)
    between = np.linspace(7.7, 13.6, 50)
    assert_allclose(curve.fuel(between), 800.0 * (between / 12.0) ** 3, rtol=1e-12)


@given(
    steps=st.lists(st.floats(0.05, 3.0), min_size=2, max_size=8),
    rises=st.lists(st.floats(0.5, 80.0), min_size=8, max_size=8),
)
def test_curve_rises_without_wiggles(steps, rises):
    speed = 4.0 + np.cumsum(steps)
    fuel = 20.0 + np.cumsum(rises[: len(steps)])
    curve = SpeedFuelCurve(speed, fuel)
    found = curve.fuel(np.linspace(speed[0], speed[-1], 400))
    assert np.all(np.diff(found) >= 0)
    for low, high, at_low, at_high in zip(speed[:-1], speed[1:], fuel[:-1], fuel[1:], strict=True):
        inside = curve.fuel(np.linspace(low, high, 20)[1:-1])
        slack = 1e-9 * at_high
        assert np.all((inside >= at_low - slack) & (inside <= at_high + slack))


def test_five_percent_past_the_ends_and_no_more():
    ends = SPEED_KN[[0, -1]] * KNOT_M_S
    assert np.all(np.isfinite(CURVE.fuel(ends * [0.951, 1.049])))
    assert np.all(np.isnan(CURVE.fuel(ends * [0.949, 1.051])))


def test_stopped_burns_nothing_and_missing_stays_missing():
    assert CURVE.fuel(0.0) == 0.0
    assert np.isnan(CURVE.fuel(np.nan))
    assert np.isnan(CURVE.speed(np.nan))


def test_inverse_of_the_curve():
    speed = np.linspace(CURVE.slowest_m_s, CURVE.fastest_m_s, 301)
    assert_allclose(CURVE.speed(CURVE.fuel(speed)), speed, rtol=1e-11)
    assert np.all(np.isnan(CURVE.speed([10.0, 900.0, -3.0])))
    assert CURVE.speed(0.0) == 0.0


@pytest.mark.parametrize(
    ("speed", "fuel", "message"),
    [
        ([5.0], [50.0], "two points"),
        ([5.0, 4.0], [50.0, 60.0], "rising"),
        ([5.0, 6.0], [50.0, 50.0], "rising"),
        ([0.0, 6.0], [50.0, 60.0], "above 0"),
        ([5.0, 6.0], [50.0, 60.0, 70.0], "length"),
    ],
)
def test_curve_refuses_points_that_cannot_be_inverted(speed, fuel, message):
    with pytest.raises(ValueError, match=message):
        SpeedFuelCurve(np.array(speed), np.array(fuel))


def test_specific_consumption_examples_of_us_epa():
    # US EPA marine emissions tools, after the IMO Third GHG Study: base 195 g/kWh at
    # load 0.5 -> 202.5563; base 300 at 0.7 -> 301.7850.
    assert_allclose(195 * specific_fuel_shape(0.5), 202.5563, rtol=0, atol=5e-5)
    assert_allclose(300 * specific_fuel_shape(0.7), 301.7850, rtol=0, atol=5e-5)


def test_specific_consumption_is_least_at_78_percent():
    # Methods note section 7.
    load = np.linspace(0, 1, 100001)
    shape = specific_fuel_shape(load)
    assert_allclose(load[np.argmin(shape)], 0.7802, rtol=0, atol=5e-5)
    assert_allclose(shape.min(), 1.0030, rtol=0, atol=5e-5)
    expected = [1.0250, 1.0034, 1.0388, 1.1309]
    found = specific_fuel_shape([1, 0.75, 0.5, 0.25])
    # The note rounds halves up.
    assert_allclose(found, expected, rtol=0, atol=1e-4)


@pytest.mark.parametrize("engine", [ENGINE, LOADED], ids=["constant", "by load"])
def test_power_and_fuel_are_inverse(engine):
    power = np.linspace(0, 1.5e6, 61)
    back = brake_power_from_fuel(fuel_from_brake_power(power, engine), engine)
    assert_allclose(back, power, rtol=1e-11, atol=1e-4)


def test_force_to_litres_by_hand():
    # 1604.4 N at 12 kn, efficiency 0.6, 210 g/kWh: 16.51 kW, 3.467 kg/h (note, 5).
    engine = Engine(propulsive_efficiency=0.6, specific_fuel_g_per_kwh=210.0, fuel_density_t_m3=1.0)
    power = brake_power_from_force(1604.4, 12 * KNOT_M_S, engine)
    assert_allclose(power, 16510, rtol=0, atol=5)
    assert_allclose(fuel_from_brake_power(power, engine), 3.467, rtol=0, atol=5e-4)


@pytest.mark.parametrize("engine", [ENGINE, LOADED], ids=["constant", "by load"])
def test_price_of_an_extra_watt(engine):
    extra = np.array([-5e4, -10.0, 0.0, 10.0, 5e4])
    still = 170.0
    whole = fuel_from_brake_power(brake_power_from_fuel(still, engine) + extra, engine)
    price = fuel_per_extra_watt(still, extra, engine)
    assert_allclose(still + extra * price, whole, rtol=1e-12)
    # Continuous through zero.
    assert_allclose(price[2], price[[1, 3]], rtol=1e-4)


def test_wind_can_save_no_more_than_everything():
    price = fuel_per_extra_watt(10.0, -1e9, ENGINE)
    assert_allclose(10.0 + -1e9 * price, 0.0, rtol=0, atol=1e-9)


def test_displacement_by_the_admiralty_rule():
    # Methods note section 11: 5 t on 560 t is 0.595 %, 4.76 kW at 800 kW; the band's
    # other end is 0.9 % (confirmations, section 8).
    ratio = 1 + 5 / 560
    assert_allclose(displacement_factor(ratio) - 1, 0.00595, rtol=0, atol=1e-5)
    assert_allclose(800 * (displacement_factor(ratio) - 1), 4.76, rtol=0, atol=0.01)
    assert_allclose(displacement_factor(ratio, 1.0) - 1, 0.00893, rtol=0, atol=1e-5)


def test_carbon_dioxide_of_marine_gas_oil():
    # IMO MEPC.308(73): 3.206 t/t; carbon 0.8744 burns to within 0.1 % of it.
    assert_allclose(co2_tonnes(1000.0, 0.85) / fuel_tonnes(1000.0, 0.85), 3.206, rtol=1e-7)
    assert_allclose(CO2_T_PER_T_MGO, 0.8744 * 44.01 / 12.011, rtol=1e-3)


def test_generator_and_pump():
    # 5 t, 6 m, efficiency 0.5: 0.1634 kWh, 0.034 kg (methods note section 11).
    assert_allclose(pump_fuel(5.0, 6.0, 0.5, 210.0, 1.0), 0.0343, rtol=0, atol=5e-5)
    assert_allclose(generator_fuel(10.0, 250.0, 0.845), 2.9586, rtol=0, atol=5e-5)


# --- the split -----------------------------------------------------------------

POINT = {
    "speed_m_s": np.array([5.0, 6.0, 6.5]),
    "wave_force_n": np.array([3000.0, 6000.0, 0.0]),
    "wind_force_n": np.array([-900.0, 4000.0, 100.0]),
    "fin_active_force_n": 1500.0,
    "fin_offset_force_n": np.array([0.0, 900.0, 1600.0]),
    "heel_rad": np.array([0.0, 0.01, -0.02]),
    "displacement_ratio": 1.02,
    "fins_kw": 8.0,
    "generator_l_per_h": 22.0,
}


@pytest.mark.parametrize("engine", [ENGINE, LOADED], ids=["constant", "by load"])
def test_parts_add_to_the_total_and_to_one_run_of_the_engine(engine):
    split = fuel_split(curve=CURVE, engine=engine, **POINT)
    total = np.zeros(3)
    for part in PARTS:
        total = total + getattr(split, part)
    assert np.array_equal(split.total, total)
    # Independent: one engine run at the summed power.
    still = CURVE.fuel(POINT["speed_m_s"]) * 1.02 ** (2 / 3)
    base = brake_power_from_fuel(still, engine)
    force = sum(POINT[key] for key in POINT if key.endswith("_force_n"))
    heel = 0.10 * 6.0 * np.abs(POINT["heel_rad"]) ** 1.7
    power = base * (1 + heel) + force * POINT["speed_m_s"] / 0.55
    assert_allclose(split.main_engines, fuel_from_brake_power(power, engine), rtol=1e-12)


def test_nothing_extra_is_still_water_exactly():
    split = fuel_split(speed_m_s=6.0, curve=CURVE, engine=LOADED)
    for part in PARTS[1:]:
        assert getattr(split, part) == 0.0
    assert split.total == CURVE.fuel(6.0)


def test_missing_wind_leaves_only_wind_and_total_unknown():
    split = fuel_split(curve=CURVE, engine=LOADED, **{**POINT, "wind_force_n": np.nan})
    without = fuel_split(curve=CURVE, engine=LOADED, **{**POINT, "wind_force_n": 0.0})
    assert np.all(np.isnan(split.wind))
    assert np.all(np.isnan(split.total))
    assert_allclose(split.waves, without.waves, rtol=1e-12)


def test_out_and_back_in_a_current_costs_more_than_still_water():
    rate = float(CURVE.fuel(6.0))
    still = 2 * rate / 6.0
    out = hold_speed_through_water(0.0, 6.0, 0.4, 1.2).speed_over_ground_m_s
    back = hold_speed_through_water(np.pi, 6.0, 0.4, 1.2).speed_over_ground_m_s
    assert rate / out + rate / back > still


def test_band_combines_independent_sources_and_skips_missing_ones():
    low, high = fuel_band(
        [100.0, 50.0, np.nan],
        {
            "a": ([97.0, 50.0, 1.0], [103.0, 50.0, 2.0]),
            "b": ([100.0, 50.0, 1.0], [104.0, np.nan, 3.0]),
        },
    )
    assert_allclose(high, [105.0, 50.0, np.nan], rtol=1e-7)
    assert_allclose(low[[0, 2]], [97.0, np.nan], rtol=1e-7)


def test_standard_band_holds_the_total_and_widens_with_each_source():
    split = fuel_split(curve=CURVE, engine=LOADED, **POINT)
    bands = standard_alternatives(
        split,
        displacement_ratio=1.02,
        heel_rad=POINT["heel_rad"],
        waves_others_l_per_h=[0.85 * split.waves],
    )
    low, high = fuel_band(split.total, bands)
    assert np.all(low < split.total)
    assert np.all(high > split.total)
    fewer = {key: bands[key] for key in list(bands)[:2]}
    narrow = fuel_band(split.total, fewer)
    assert np.all(narrow[0] >= low)
    assert np.all(narrow[1] <= high)
    exponent = bands["displacement exponent"][1] - split.total
    assert_allclose(exponent, split.still_water * (1.02 ** (1 / 3) - 1), rtol=1e-9)


def test_the_wave_formula_is_in_doubt_either_way():
    split = fuel_split(curve=CURVE, engine=LOADED, **POINT)
    for other in (0.5 * split.waves, 1.5 * split.waves):
        low, high = standard_alternatives(split, waves_others_l_per_h=[other])["wave formula"]
        assert_allclose(split.total - low, 0.5 * split.waves, rtol=1e-12)
        assert_allclose(high - split.total, 0.5 * split.waves, rtol=1e-12)
    # Variants that agree leave the quarter; no doubt takes more than all the waves.
    low, high = standard_alternatives(split, waves_others_l_per_h=[split.waves])["wave formula"]
    assert_allclose(high - low, 0.5 * split.waves, rtol=1e-12)
    low, _ = standard_alternatives(split, waves_others_l_per_h=[9 * split.waves])["wave formula"]
    assert_allclose(split.total - low, split.waves, rtol=1e-12)


def test_doubt_of_the_current_is_the_time_the_distance_takes():
    # 6 m/s over the ground with 1 m/s of current: a quarter of it either way.
    low, high = current_alternatives(100.0, 6.0, 1.0)
    assert_allclose([low, high], [100 * 6 / 6.25, 100 * 6 / 5.75], rtol=1e-12)
    low, high = current_alternatives(100.0, [6.0, 0.0], np.nan)
    assert_allclose(low, [100 * 6 / 6.15, 100.0], rtol=1e-12)
    assert_allclose(high, [100 * 6 / 5.85, 100.0], rtol=1e-12)


def test_band_has_no_width_where_nothing_is_in_doubt():
    split = fuel_split(speed_m_s=6.0, curve=CURVE, engine=LOADED)
    low, high = fuel_band(split.total, standard_alternatives(split))
    assert low == high == split.total


# --- speed policies ------------------------------------------------------------

NODES = speed_nodes(CURVE)


def grid(*shape, newton_per_m_s=700.0):
    force = newton_per_m_s * NODES * np.ones((*shape, 1))
    return ForceGrid(NODES, force)


def test_force_grid_is_exact_at_nodes_and_linear_between():
    forces = grid(2, 3)
    assert_allclose(forces.at(NODES[4]), 700.0 * NODES[4], rtol=1e-12)
    assert_allclose(forces.at(6.1), np.full((2, 3), 700.0 * 6.1), rtol=1e-12)
    assert np.all(np.isnan(forces.at(NODES[-1] + 0.1)))
    assert np.all(np.isnan(forces.at(np.nan)))


def test_fuel_rate_in_still_water_gives_the_speed_of_the_curve():
    held = hold_fuel_rate([98.0, 170.0], grid(2, newton_per_m_s=0.0), CURVE, ENGINE)
    assert_allclose(held.speed_m_s, np.array([10.0, 12.0]) * KNOT_M_S, rtol=1e-9)
    assert held.reason.tolist() == [0, 0]


@pytest.mark.parametrize("engine", [ENGINE, LOADED], ids=["constant", "by load"])
def test_held_fuel_rate_is_burnt_and_waves_cost_speed(engine):
    slopes = np.array([0.0, 300.0, 900.0, 1500.0])
    forces = ForceGrid(NODES, slopes[:, None] * NODES)
    held = hold_fuel_rate(170.0, forces, CURVE, engine, 1.01)
    burnt = propulsion_fuel(held.speed_m_s, forces, CURVE, engine, 1.01)
    assert_allclose(burnt, 170.0, rtol=1e-9)
    assert np.all(np.diff(held.speed_m_s) < 0)


def test_rates_beyond_the_curve_have_a_reason():
    held = hold_fuel_rate([5.0, 170.0, 5000.0], grid(3), CURVE, ENGINE)
    assert [REASONS[code].split()[0] for code in held.reason] == ["below", "as", "above"]
    assert np.isnan(held.speed_m_s[[0, 2]]).all()
    lost = hold_fuel_rate(170.0, ForceGrid(NODES, np.full(NODES.size, np.nan)), CURVE, ENGINE)
    assert REASONS[int(lost.reason)] == "no data"
    assert np.isnan(lost.speed_m_s)


def test_engine_limit_slows_her_down():
    engine = Engine(
        propulsive_efficiency=0.55, specific_fuel_g_per_kwh=210.0, max_fuel_l_per_h=180.0
    )
    forces = ForceGrid(NODES, np.array([[0.0], [900.0]]) * NODES)
    held = limit_to_engine(12 * KNOT_M_S, forces, CURVE, engine)
    assert held.speed_m_s[0] == 12 * KNOT_M_S
    assert held.speed_m_s[1] < 12 * KNOT_M_S
    burnt = propulsion_fuel(held.speed_m_s[1], ForceGrid(NODES, 900.0 * NODES), CURVE, engine)
    assert_allclose(burnt, 180.0, rtol=1e-9)
    assert [REASONS[code] for code in held.reason] == [REASONS[0], REASONS[3]]
    too_fast = limit_to_engine(20 * KNOT_M_S, grid(), CURVE, ENGINE)
    assert REASONS[int(too_fast.reason)].startswith("above")


def test_arrive_by_takes_the_lowest_speed_that_is_in_time():
    def hours(speed):
        return 100 * 1852 / speed / 3600

    found = arrive_by(hours, 10.0, 4.0, 7.0)
    assert found.reached
    assert found.hours <= 10.0
    assert_allclose(found.speed_m_s, 10 * KNOT_M_S, rtol=1e-3)
    assert not arrive_by(hours, 5.0, 4.0, 7.0).reached
    assert arrive_by(hours, 50.0, 4.0, 7.0).speed_m_s == 4.0


def test_arrive_by_treats_a_passage_that_cannot_be_made_as_late():
    def hours(speed):
        return float("nan") if speed < 5.0 else 30.0 / speed

    found = arrive_by(hours, 6.0, 4.0, 7.0)
    assert found.reached
    assert_allclose(found.speed_m_s, 5.0, rtol=1e-3)


@pytest.mark.parametrize("shape", [(), (4,), (2, 3), (0,)])
def test_input_forms(shape):
    speed = np.full(shape, 6.0)
    assert CURVE.fuel(speed).shape == shape
    assert CURVE.speed(np.full(shape, 100.0)).shape == shape
    split = fuel_split(speed_m_s=speed, curve=CURVE, engine=LOADED, wave_force_n=100.0)
    assert split.total.shape == shape
    assert hold_fuel_rate(150.0, grid(*shape), CURVE, ENGINE).speed_m_s.shape == shape
