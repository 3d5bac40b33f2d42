"""Plans on made seas: ensembles, stays, land, response of the answer to what is asked."""

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from passage.errors import NoCoverage, RouteError
from passage.inputs.vessel import Burn
from passage.planning.plan.plan import PlanOptions, plan, plan_files, prepare
from passage.planning.plan.totals import at_limits_note, fuel_aboard_note, usable_fuel_l
from passage.planning.voyage.prepare import corridor

SAMPLES = Path(__file__).parents[3] / "sample_forecasts"
DEPARTURE = 1773446400.0  # 2026-03-14T00:00Z


@pytest.fixture(scope="module")
def scenario(load_helper):
    return load_helper("planning_scenario")


def options(**changes):
    return replace(PlanOptions(departure_s=DEPARTURE), **changes)


def passage(scenario, *points, **changes):
    return prepare(scenario.vessel(), scenario.route(*points), options(**changes))


def test_ensemble_gives_percentiles_that_bracket_the_members(make_forecast, maker, tmp_path):
    # Ten members, 1.0 to 2.8 m: the 10, 50 and 90 percent heights are known.
    heights = 1.0 + 0.2 * np.arange(10)
    sea = maker.sea(height=lambda lat, lon, hour, m: heights[m])
    file = make_forecast(sea, members=10, hours=np.arange(0, 25, 3.0))
    route = tmp_path / "r.csv"
    route.write_text("name,lat,lon\nA,49.5,-7\nB,48.5,-7\n")
    made = plan_files(route, SAMPLES / "brambling.toml", [file], options())
    members = made.totals["members"]
    assert members["count"] == 10
    leg = members["legs"][0]
    # So few members: the quantiles by which a new one lies outside with the chance stated.
    expected = np.percentile(heights, [10, 50, 90], method="weibull")
    assert_allclose(leg["significant_height_m"], expected, rtol=1e-3)
    low, middle, high = leg["fuel_l"]
    assert low < middle < high
    assert_allclose(made.legs[0]["significant_height_m"], 1.0, rtol=1e-3)


def test_a_stay_burns_the_hotel_load_and_uses_the_at_rest_mode(scenario):
    made = plan(
        passage(scenario, (45.0, -8.0), (45.5, -8.0, 6.0), (46.0, -8.0)),
        scenario.UniformForecast(height_m=0.8, wind=(6.0, 0.0)),
        options(),
    )
    stay = made.legs[1]
    assert (stay["type"], stay["fin_use"]) == ("stay", "at rest")
    assert_allclose(stay["hours"], 6.0, rtol=1e-12)
    assert stay["fuel_still_water_l"] == 0.0
    assert stay["fuel_waves_l"] == 0.0
    hotel = scenario.vessel().hotel
    kw_l = hotel.generator_specific_fuel_g_per_kwh / 1000.0 / 0.845
    expected = 6.0 * (hotel.generator_l_per_h + hotel.fins_kw_at_rest * kw_l)
    assert_allclose(stay["fuel_l"], expected, rtol=1e-9)
    assert stay["roll_active_rms_deg"] < stay["roll_centred_rms_deg"]
    # Bow to a westerly wind, sea from the west: head to sea.
    assert stay["encounter_angle_deg"] > 175.0


def test_fins_at_rest_take_away_less_of_a_larger_roll(scenario):
    """The moment is bounded, so its equivalent damping falls as roll grows."""
    shares = []
    for height in (0.5, 2.0):
        made = plan(
            passage(scenario, (45.0, -8.0), (45.5, -8.0, 3.0), (46.0, -8.0)),
            scenario.UniformForecast(height_m=height, from_deg=0.0, wind=(6.0, 0.0)),
            options(),
        )
        shares.append(made.legs[1]["roll_reduction_percent"])
    assert shares[0] > shares[1] > 0.0


def test_leg_over_land_is_a_warning_and_is_still_computed(scenario):
    made = plan(
        passage(scenario, (48.0, -5.5), (48.0, -2.0)), scenario.UniformForecast(), options()
    )
    assert any(one.code == "over_land" and one.legs == (1,) for one in made.cautions)
    assert made.legs[0]["fuel_l"] > 0


def test_fuel_drawn_from_one_side_changes_the_list_with_its_sign(scenario):
    vessel = scenario.vessel()

    for tank, sign in (("fuel starboard", -1.0), ("fuel port", 1.0)):
        loading = replace(vessel.loading, burn=(Burn(tank=tank, share=1.0),))
        ready = prepare(
            replace(vessel, loading=loading), scenario.route((45.0, -8.0), (47.0, -8.0)), options()
        )
        made = plan(ready, scenario.UniformForecast(), options(heel="leave"))
        heel = made.points["steady_heel_deg"]
        assert np.all(np.diff(heel) * sign > 0)
        # Moment taken away = volume x density x lever; tan(heel) = moment/(mass x GM).
        litres = made.points["fuel_l"].sum() - 0.5 * made.points["fuel_l"][-1]
        tonnes = litres / 1000.0 * 0.845
        # Weight drawn from below the waterline takes stiffness away: 550 t x 1.0 m + t x z.
        height = next(t.z_m for t in vessel.tanks if t.name == tank)
        stiffness = 550.0 * 1.0 + tonnes * height
        expected = np.degrees(np.arctan(sign * tonnes * 2.8 / stiffness))
        # The list follows the fuel of an upright passage; a list of half a degree adds
        # 1e-4 of hull drag, and no second round is made for it.
        assert_allclose(heel[-1], expected, rtol=2e-4)


def test_speed_outside_the_fuel_points_is_refused_with_the_range(scenario):
    with pytest.raises(RouteError, match=r"25 kn.*5\.7 to 15\.8 kn"):
        passage(scenario, (45.0, -8.0), (46.0, -8.0), speed_kn=25.0)


def test_corridor_crosses_the_antimeridian(scenario):
    area = corridor([scenario.track((-17.0, 178.0), (-18.0, -178.0))])
    assert (round(area.west_deg), round(area.east_deg)) == (178, -178)
    inside = corridor([scenario.track((45.0, -1.0), (46.0, 2.0))])
    assert (round(inside.west_deg), round(inside.east_deg)) == (-1, 2)


def test_unstable_fins_are_reported_not_shown(scenario):
    fins = tuple(
        replace(fin, acceleration_gain_s2=-6.0, rate_gain_s=0.0, lag_s=1.0)
        for fin in scenario.vessel().fins
    )
    ready = prepare(
        replace(scenario.vessel(), fins=fins), scenario.route((45.0, -8.0), (46.0, -8.0)), options()
    )
    made = plan(ready, scenario.UniformForecast(), options())
    assert np.isnan(made.legs[0]["roll_active_rms_deg"])
    # Where the margins say how she hunts, the loop is not called unstable as well.
    codes = {one.code for one in made.cautions}
    assert "fins_hunt" in codes
    assert "fin_loop_unstable" not in codes


@pytest.mark.parametrize(
    ("times", "delay", "code"),
    [(1.0, 0.0, None), (100.0, 0.3, "fins_hunt"), (None, 0.3, "fins_near_hunting")],
)
def test_fins_near_hunting_are_reported_with_gain_and_period(scenario, times, delay, code):
    ready = prepare(scenario.vessel(), scenario.route((45.0, -8.0), (46.0, -8.0)), options())

    def planned(factor):
        fins = tuple(
            replace(
                fin,
                delay_s=delay,
                rate_gain_s=factor * fin.rate_gain_s,
                angle_gain=factor * fin.angle_gain,
                acceleration_gain_s2=factor * fin.acceleration_gain_s2,
            )
            for fin in scenario.vessel().fins
        )
        with_gains = prepare(replace(scenario.vessel(), fins=fins), ready.route, options())
        made = plan(with_gains, scenario.UniformForecast(), options())
        found = {one.code: one for one in made.cautions if "hunt" in one.code}
        (row,) = made.fin_loop
        gain_db = np.inf if row["gain_margin_db"] is None else row["gain_margin_db"]
        assert ("fins_hunt" in found) == (gain_db <= 0.0)
        assert (row["phase_margin_deg"] is None) == (gain_db <= 0.0)
        for one in found.values():
            begins = float(re.search(r"at ([\d.e+-]+) times", one.text)[1])
            assert gain_db == pytest.approx(20.0 * np.log10(begins), rel=0.0, abs=0.5)
        return found

    if times is None:
        # From the gain that the warning itself names, two thirds of it is near and no more.
        text = planned(100.0)["fins_hunt"].text
        begins = 100.0 * float(re.search(r"at ([\d.e+-]+) times", text)[1])
        times = begins / 1.5
    found = planned(times)
    assert list(found) == ([] if code is None else [code])
    if code is not None:
        assert re.search(r"every \d+\.\d s, with a control delay of 0\.3 s", found[code].text)


def test_roll_is_called_doubtful_where_fins_are_at_their_limits_much_of_the_time(scenario):
    def codes(height_m):
        ready = passage(scenario, (45.0, -8.0), (46.0, -8.0))
        made = plan(ready, scenario.UniformForecast(height_m=height_m), options())
        # From a tenth of the time on the scatter is beside the share.
        for one in made.cautions:
            assert one.code != "fins_at_limit" or "within 5 % of simulations" in one.text
        share = made.legs[0]["fin_at_limit_percent"], made.legs[0]["fin_beyond_stall_percent"]
        roll, high = (made.points[f"roll_active_{one}rms_deg"] for one in ("", "high_"))
        assert np.all(high >= (1.05 if max(share) > 50.0 else 1.0) * roll)
        return max(share) > 50.0, {one.code for one in made.cautions}

    for height_m, expected in ((0.5, False), (6.0, True)):
        beyond, found = codes(height_m)
        assert beyond == expected
        assert ("roll_at_limits" in found) == expected


def test_no_sea_at_all_is_refused_with_the_reason(scenario):
    with pytest.raises(NoCoverage, match="100 % after forecast"):
        plan(
            passage(scenario, (45.0, -8.0), (46.0, -8.0)),
            scenario.UniformForecast(until_s=0.0),
            options(),
        )


def test_fuel_that_does_not_last_is_reported_with_the_leg_on_which_it_ends(scenario):
    points = [(45.0, -8.0), (45.5, -8.0), (46.0, -8.0), (46.5, -8.0)]
    sea, vessel = scenario.UniformForecast(height_m=0.5), scenario.vessel()

    def said(usable_l):
        fuel = [tank for tank in vessel.tanks if tank.holds == "fuel"]
        content = usable_l / 1000.0 / len(fuel) + 0.2
        tanks = [
            replace(t, content_m3=content, minimum_m3=0.2) if t in fuel else t for t in vessel.tanks
        ]
        ready = prepare(replace(vessel, tanks=tuple(tanks)), scenario.route(*points), options())
        made = plan(ready, sea, options())
        return made, [c for c in made.cautions if c.code == "fuel_aboard"]

    made, none = said(20_000.0)
    assert not none
    burnt = np.cumsum([leg["fuel_l"] for leg in made.legs])
    _, (caution,) = said(0.5 * (burnt[0] + burnt[1]))
    assert caution.severity == "warning"
    assert caution.legs == (2, 3)
    assert "gone on leg 2" in caution.text
    assert not said(burnt[2] + 1.0)[1]
    assert said(burnt[2] - 1.0)[1][0].legs == (3,)


def test_fuel_aboard_of_many_passages_is_counted(scenario):
    vessel = scenario.vessel()
    usable = usable_fuel_l(vessel)
    assert usable is not None
    fuel = np.array([[usable - 1.0, usable + 1.0], [np.nan, usable + 50.0]])
    note = fuel_aboard_note(vessel, fuel, "departures")
    assert note is not None
    assert "on 2 of 3 departures" in note
    assert fuel_aboard_note(vessel, fuel[:, :1], "departures") is None
    assert fuel_aboard_note(replace(vessel, tanks=()), fuel, "departures") is None


def test_many_totals_say_how_many_of_them_have_fins_at_their_limits():
    assert at_limits_note([3.0, np.nan, 50.0], "combinations") is None
    text = at_limits_note([3.0, np.nan, 51.0, 85.0], "combinations")
    assert "2 of 3 combinations (up to 85 %)" in text
