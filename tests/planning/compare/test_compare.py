"""`passage compare`: equal to plans, the front by brute force, reasons counted, daylight."""

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from planning_scenario import UniformForecast, route, vessel

from passage.errors import OutputError, RouteError
from passage.inputs.route import read_route
from passage.planning.compare.choice import (
    BUDGET,
    DARK,
    LAND,
    LATE,
    LIMIT,
    UNKNOWN,
    balanced,
    non_dominated,
)
from passage.planning.compare.compare import CompareOptions, compare
from passage.planning.compare.daylight import (
    SUNRISE_ALTITUDE_DEG,
    _sun_place,
    dark_spans,
    is_daylight,
    sun_altitude_deg,
)
from passage.planning.compare.files import (
    CompareFiles,
    Wanted,
    choose,
    compare_files,
    plan_of,
)
from passage.planning.compare.route import departures, write_chosen_route
from passage.planning.plan.plan import PlanOptions, plan, plan_files, prepare
from passage.planning.voyage.yacht import Yacht
from passage.report.text.verdict_compare import compare_verdict
from passage.report.text.verdict_plan import plan_verdict

SAMPLES = Path(__file__).parents[3] / "sample_forecasts"
FORECASTS = tuple(SAMPLES / f"biscay_{name}.nc" for name in ("waves", "wind", "current"))
DEPARTURE_S = 1773468000.0  # 2026-03-14T06:00Z
HOUR_S = 3600.0


def files(*names, vessel_file=SAMPLES / "brambling.toml"):
    return CompareFiles(tuple(SAMPLES / f"{n}.csv" for n in names), vessel_file, FORECASTS)


# Daylight


def test_sunrise_is_that_of_a_published_table():
    # Astronomy Answers (aa.quae.nl), "The Position of the Sun: Tables", table 1: local
    # time of sunrise on 1 January 2002, read 2026-11-25; printed to the minute.
    table = {
        -60: "2:43", -50: "3:55", -40: "4:35", -30: "5:02", -20: "5:24", -10: "5:43", 0: "6:00",
        10: "6:17", 20: "6:35", 30: "6:56", 40: "7:22", 48: "7:50", 50: "7:59",
    }  # fmt: skip
    midnight = 1009843200.0  # 2002-01-01T00:00Z
    for lat, text in table.items():
        hours, minutes = map(int, text.split(":"))
        night = dark_spans(midnight, midnight + 12.0 * HOUR_S, lat, 0.0)
        sunrise = night[0][1] - midnight
        # A minute: half of the printed one, and half for the table's shared date.
        assert abs(sunrise - 60.0 * (60 * hours + minutes)) < 60.0, (lat, sunrise / 60.0)


def test_sun_place_is_that_of_a_worked_example():
    # Meeus, Astronomical Algorithms, 2nd edition, example 25.a: 1992 October 13, 0h TD,
    # right ascension 198.38083 deg, declination -7.78507 deg (from memory).
    days = (718934400.0 - 946728000.0) / 86400.0
    ascension, declination = _sun_place(days)
    # The almanac's low-precision formulae claim 0.01 degree.
    np.testing.assert_allclose(np.degrees(ascension) % 360.0, 198.38083, atol=0.01)
    np.testing.assert_allclose(np.degrees(declination), -7.78507, atol=0.01)


def test_sun_altitude_forms_and_missing():
    assert np.isnan(sun_altitude_deg(np.nan, 45.0, 0.0))
    assert not is_daylight(np.nan, 45.0, 0.0)
    grid = sun_altitude_deg(np.array([0.0, 3600.0])[:, None], np.array([10.0, 60.0]), 5.0)
    assert grid.shape == (2, 2)
    np.testing.assert_allclose(
        sun_altitude_deg(1e9, 20.0, 185.0), sun_altitude_deg(1e9, 20.0, -175.0), atol=1e-9
    )


def test_dark_spans_in_polar_night_and_day():
    june, december = 1782000000.0, 1798000000.0
    assert dark_spans(june, june + 86400.0, 80.0, 0.0) == []
    assert dark_spans(december, december + 86400.0, 80.0, 0.0) == [(december, december + 86400.0)]
    assert pytest.approx(-0.8333, abs=1e-3) == SUNRISE_ALTITUDE_DEG


# The front


def brute_front(cost, rough):
    known = np.isfinite(cost) & np.isfinite(rough)
    front = []
    for i in range(cost.size):
        better = (cost <= cost[i]) & (rough <= rough[i]) & ((cost < cost[i]) | (rough < rough[i]))
        front.append(bool(known[i] and not np.any(better & known)))
    return np.array(front)


@pytest.mark.parametrize("seed", range(20))
def test_front_by_brute_force(seed):
    rng = np.random.default_rng(seed)
    # Whole numbers, so that ties in either are common.
    cost = rng.integers(0, 15, 80).astype(float)
    rough = rng.integers(0, 15, 80).astype(float)
    cost[rng.random(80) < 0.1] = np.nan
    rough[rng.random(80) < 0.1] = np.nan
    np.testing.assert_array_equal(non_dominated(cost, rough), brute_front(cost, rough))


def test_front_of_nothing():
    assert non_dominated([], []).size == 0
    assert not non_dominated([np.nan, 1.0], [1.0, np.nan]).any()


def test_balanced_is_nearest_the_corner():
    cost, rough = np.array([0.0, 5.0, 100.0, 1.0]), np.array([10.0, 1.0, 0.0, 9.0])
    assert balanced(cost, rough, np.ones(4, bool)) == 1
    assert balanced(cost, rough, np.zeros(4, bool)) is None


# Equal to a plan


#: Ends of bands, GM and trim by leg: a comparison leaves them to the plan.
BANDS = {"fuel_low_l", "fuel_high_l", "roll_active_low_rms_deg", "roll_active_high_rms_deg",
         "fluid_gm_m", "trim_change_m"}  # fmt: skip


@pytest.mark.parametrize(
    ("name", "speed", "fins"),
    [("eastern", 11.0, "active"), ("western", None, "centred")],
)
def test_single_combination_is_the_plan(name, speed, fins):
    options = CompareOptions((DEPARTURE_S,), () if speed is None else (speed,), (fins,))
    found = compare_files(files(name), options)
    planned = plan_files(
        SAMPLES / f"{name}.csv",
        SAMPLES / "brambling.toml",
        FORECASTS,
        PlanOptions(DEPARTURE_S, speed, fins=fins),
    )
    rows = found.legs(0)
    assert len(rows) == len(planned.legs)
    for mine, theirs in zip(rows, planned.legs, strict=True):
        assert mine.keys() == theirs.keys()
        for key in mine.keys() - BANDS:
            if isinstance(theirs[key], float):
                np.testing.assert_allclose(mine[key], theirs[key], rtol=1e-9, err_msg=key)
            else:
                assert mine[key] == theirs[key], key
    if speed is None:  # the route names none: both take the same one, and say it once
        (note,) = [one for one in found.notes if "No speed is given" in one]
        assert note == f"{name}: {planned.notes[0]}"
        assert found.cell_of(0).speed_text == "12 kn"
    for key in ("fuel_l", "hours", "distance_nm", "fuel_waves_l", "cost", "co2_t",
                "worst_leg_motion_sickness_percent"):  # fmt: skip
        theirs = planned.totals[key]
        mine = found.totals[key][0]
        assert (theirs is None and np.isnan(mine)) or mine == pytest.approx(theirs, rel=1e-9)


def test_a_combination_does_not_depend_on_the_others():
    alone = compare_files(files("direct"), CompareOptions((DEPARTURE_S,), (10.0,)))
    times = tuple(DEPARTURE_S + 6 * HOUR_S * i for i in range(-1, 2))
    many = compare_files(
        files("western", "direct"), CompareOptions(times, (10.0, 12.5), ("active", "centred"))
    )
    same = [
        i
        for i in range(len(many))
        if many.departure_s[i] == DEPARTURE_S
        and many.cell_of(i).speed_kn == 10.0
        and many.cell_of(i).fins == "active"
        and many.cell_of(i).route == 1
    ]
    assert len(same) == 1
    for name, values in alone.totals.items():
        # The march settles all times to a second, 1e-5 of this way; company may bring
        # another round.
        np.testing.assert_allclose(many.totals[name][same[0]], values[0], rtol=2e-5, err_msg=name)


def test_where_the_engines_cannot_hold_the_speed_it_is_the_plan_too(tmp_path):
    text = (SAMPLES / "brambling.toml").read_text(encoding="utf-8")
    assert "max_fuel_l_per_h" in text
    lines = [
        "max_fuel_l_per_h = 215.0" if "max_fuel_l_per_h" in line else line
        for line in text.splitlines()
    ]
    file = tmp_path / "weak.toml"
    file.write_text("\n".join(lines) + "\n", encoding="utf-8")
    options = CompareOptions((DEPARTURE_S,), (12.0,), minutes=120.0)
    found = compare_files(files("direct", vessel_file=file), options)
    planned = found.plans[0]
    assert found.totals["fuel_l"][0] == pytest.approx(planned.totals["fuel_l"], rel=1e-6)
    assert found.totals["hours"][0] == pytest.approx(planned.totals["hours"], rel=1e-6)
    # In this sea she is slower than her 12 knots over the 311.6 nm.
    assert found.totals["hours"][0] > 311.6 / 12.0 * 1.02


# Judged


def uniform(routes, forecast=None, changes=None, **options):
    ship = vessel()
    if changes:
        ship = replace(ship, **changes)
    given = CompareOptions(**({"departures_s": (0.0,), "speeds_kn": (10.0,)} | options))
    return compare(Yacht(ship), routes, forecast or UniformForecast(), given)


def loose_limits():
    """Limits that nothing exceeds."""
    limits = vessel().limits
    one = replace(
        limits.underway,
        roll_significant_deg=90.0,
        steady_heel_deg=45.0,
        motion_sickness_percent=100.0,
        lateral_acceleration_rms_g=9.0,
        vertical_acceleration_rms_g=9.0,
        interruptions_per_minute=None,
    )
    return {"limits": replace(limits, underway=one, at_rest=one)}


def test_in_a_uniform_sea_fuel_follows_distance():
    # Same heading throughout, so that only the distance differs.
    ways = [route((45.0, -8.0), (45.0 + d, -8.0)) for d in (1.0, 0.5, 2.0, 1.4)]
    found = uniform(ways, changes=loose_limits())
    order = np.argsort(found.totals["fuel_l"])
    assert order.tolist() == np.argsort(found.totals["distance_nm"]).tolist() == [1, 0, 3, 2]
    assert found.names["least fuel"] == 1
    per_mile = found.totals["fuel_l"] / found.totals["distance_nm"]
    np.testing.assert_allclose(per_mile, per_mile[0], rtol=1e-6)


def test_what_the_forecast_does_not_cover_is_never_allowed():
    ways = [route((45.0, -8.0), (47.0, -8.0))]
    times = tuple(HOUR_S * np.arange(0.0, 24.0, 3.0))
    found = uniform(ways, UniformForecast(until_s=20 * HOUR_S), loose_limits(), departures_s=times)
    late = found.totals["eta_s"] > 20 * HOUR_S
    assert 0 < late.sum() < late.size
    np.testing.assert_array_equal((found.closed & UNKNOWN) > 0, late)
    np.testing.assert_array_equal(found.open, ~late)
    assert not np.any(found.front & late)
    words = found.exclusions[0].lines
    assert words == (
        f"leg 1 (P0 to P1) runs past the end of the forecast in {late.sum()} of 8 departures",
    )


@pytest.mark.parametrize(("height_m", "state"), [(4.5, "over"), (0.5, "unknown")])
def test_on_a_part_of_the_way_compare_decides_as_a_plan_does(height_m, state):
    way = route((45.0, -8.0), (46.0, -8.0), (47.0, -8.0))
    sea = UniformForecast(height_m, 7.0, 270.0, until_s=9 * HOUR_S)
    limits = vessel().limits
    one = replace(limits.underway, roll_significant_deg=3.0)
    changes = {"limits": replace(limits, underway=one)}
    found = uniform([way], sea, changes, speeds_kn=(12.0,))
    options = PlanOptions(departure_s=0.0, speed_kn=12.0)
    single = plan(prepare(replace(vessel(), **changes), way, options), sea, options)
    assert compare_verdict(found).state == plan_verdict(single).state == state
    words = compare_verdict(found)
    if state == "over":
        assert "on leg 1 against" in words.why
        assert "longer forecast" not in words.price


def test_limits_close_and_raising_them_never_does():
    ways = [route((45.0, -8.0), (46.0, -8.0), (46.0, -7.0))]
    opened = []
    for limit in (0.5, 2.0, 4.0, 16.0):
        changes = loose_limits()
        limits = changes["limits"]
        one = replace(limits.underway, roll_significant_deg=limit)
        changes = {"limits": replace(limits, underway=one)}
        found = uniform(
            ways, UniformForecast(2.5, 7.0, 270.0), changes, speeds_kn=(8.0, 10.0, 12.0)
        )
        worst = np.maximum.reduce(
            [[leg["roll_active_significant_deg"] for leg in found.legs(i)] for i in range(3)],
            axis=1,
        )
        np.testing.assert_array_equal((found.closed & LIMIT) > 0, worst > limit)
        opened.append(found.open)
    for tight, loose in pairwise(opened):
        assert np.all(loose >= tight)
    assert not opened[0].any()
    assert opened[-1].all()


def test_an_unknown_value_under_a_limit_is_closed():
    ways = [route((45.0, -8.0), (46.0, -8.0))]
    found = uniform(ways, UniformForecast(height_m=np.nan), loose_limits())
    assert found.closed[0] & UNKNOWN
    assert not found.front.any()
    assert found.names == {}


def test_constraints_rule_out_with_a_reason():
    ways = [route((45.0, -8.0), (46.0, -8.0))]
    times = tuple(HOUR_S * np.arange(0.0, 24.0))
    found = uniform(ways, None, loose_limits(), departures_s=times, arrive_by_s=12 * HOUR_S,
                    daylight=True)  # fmt: skip
    eta = found.totals["eta_s"]
    np.testing.assert_array_equal((found.closed & LATE) > 0, eta > 12 * HOUR_S)
    dark = ~is_daylight(eta, 46.0, -8.0)
    np.testing.assert_array_equal((found.closed & DARK) > 0, dark)
    assert 0 < dark.sum() < 24
    lines = found.exclusions[0].lines
    assert f"arrives too late in {(eta > 12 * HOUR_S).sum()} of 24 departures" in lines
    assert f"arrives in the dark in {dark.sum()} of 24 departures" in lines


def test_budget_closes():
    ways = [route((45.0, -8.0), (46.0, -8.0))]
    sea = UniformForecast(2.5, 7.0, 270.0)
    free = uniform(ways, sea, loose_limits(), speeds_kn=(8.0, 10.0, 12.0))
    budget = float(np.median(free.comfort))
    held = uniform(ways, sea, loose_limits(), speeds_kn=(8.0, 10.0, 12.0), budget=budget)
    np.testing.assert_array_equal((held.closed & BUDGET) > 0, free.comfort > budget)


def test_a_route_over_land_is_closed_unless_allowed():
    ways = [route((48.0, -5.5), (48.0, -2.0))]
    shut = uniform(ways, None, loose_limits())
    assert shut.closed[0] & LAND
    assert "over land" in shut.exclusions[0].lines[0]
    assert uniform(ways, None, loose_limits(), allow_land=True).open[0]


def test_over_land_beyond_the_forecast_is_judged_without_limits_at_every_departure():
    ways = [route((48.0, -5.5), (48.0, -2.0))]
    limits = vessel().limits
    none = replace(limits.underway, **dict.fromkeys(vars(limits.underway)))
    free = {"limits": replace(limits, underway=none, at_rest=none)}
    found = uniform(ways, UniformForecast(height_m=np.nan), free,
                    departures_s=(0.0, HOUR_S), speeds_kn=(10.0, 12.0))  # fmt: skip
    verdict = compare_verdict(found)
    assert verdict.state == "over"
    assert "over land" in verdict.why


def test_counts_in_the_reasons_are_those_of_the_legs():
    times = tuple(DEPARTURE_S + 3 * HOUR_S * i for i in range(-10, 6))
    found = compare_files(files("direct"), CompareOptions(times, (10.0,)))
    for number in (1, 2, 3):
        rolls = np.array(
            [found.legs(i)[number - 1]["window_roll_significant_deg"] for i in range(len(found))]
        )
        count = int((rolls > 4.0).sum())
        assert count
        words = f": over 4 deg significant roll in {count} of 16 departures"
        assert any(line.startswith(f"leg {number} (") and words in line
                   for line in found.exclusions[0].lines)  # fmt: skip


def test_without_an_open_one_the_nearest_to_the_limits_is_named():
    times = tuple(DEPARTURE_S + 6 * HOUR_S * i for i in range(3))
    found = compare_files(files("direct"), CompareOptions(times, (10.0, 12.0)))
    assert not found.front_open
    assert found.chosen is None
    nearest = found.names["nearest the limits"]
    assert found.totals["limit_share"][nearest] == np.nanmin(found.totals["limit_share"])
    assert found.totals["limit_share"][nearest] > 1.0
    assert np.all(found.front == brute_front(found.totals["fuel_l"], found.comfort))


def test_choose_by_word_and_number():
    found = compare_files(files("direct"), CompareOptions((DEPARTURE_S,), (10.0, 12.0)))
    assert choose(found, "2") == 1
    assert choose(found, "most-comfortable") == found.names["most comfortable"]
    for word in ("0", "3", "best"):
        with pytest.raises(RouteError, match="no such combination"):
            choose(found, word)


# Speeds chosen leg by leg


def test_by_leg_is_no_worse_than_one_speed_and_is_planned_alike():
    times = (DEPARTURE_S - 30 * HOUR_S, DEPARTURE_S - 24 * HOUR_S)
    options = CompareOptions(times, (9.0, 10.5, 12.0), minutes=60.0)
    plain = compare_files(files("direct"), options)
    # The last combination is one of those chosen leg by leg.
    found = compare_files(files("direct"), options, Wanted(by_leg=True, choose="8"))
    mine = [i for i in range(len(found)) if found.cell_of(i).leg_speeds_kn is not None]
    assert mine
    for i in np.flatnonzero(plain.front):
        fuel, rough = plain.totals["fuel_l"][i], plain.comfort[i]
        better = (found.totals["fuel_l"] <= fuel * (1 + 1e-9)) & (found.comfort <= rough + 1e-9)
        assert np.any(better & found.front)
    named = 7
    assert named in mine
    planned = found.plans[named]
    # Times are found to a second, in a plan for one departure, here for all together.
    assert planned.totals["fuel_l"] == pytest.approx(found.totals["fuel_l"][named], rel=1e-5)
    speeds = found.cell_of(named).leg_speeds_kn
    np.testing.assert_allclose(
        [leg["speed_through_water_kn"] for leg in planned.legs], speeds, rtol=1e-9
    )


def test_by_leg_refuses_a_measure_that_legs_do_not_add_up_to():
    options = CompareOptions((DEPARTURE_S,), (9.0, 12.0), comfort="sickness")
    with pytest.raises(RouteError, match="does not work with --comfort sickness"):
        compare_files(files("direct"), options, Wanted(by_leg=True))


def test_leg_tables_are_those_of_plans():
    from passage.inputs.forecast import open_forecast
    from passage.inputs.vessel import read_vessel
    from passage.planning.compare.speeds import STEP_S, leg_choices

    ship = read_vessel(SAMPLES / "brambling.toml")
    options = CompareOptions((DEPARTURE_S,), (10.0, 12.0))
    way = read_route(SAMPLES / "direct.csv")
    with open_forecast(list(FORECASTS)) as forecast:
        legs, _ = leg_choices(Yacht(ship), way, forecast, options, [0])["active"]
    found = compare_files(files("direct"), options)
    for i, column in ((0, 0), (1, 1)):
        rows = found.legs(i)
        time = 0.0
        for leg, row in zip(legs, rows, strict=True):
            at = round(time / STEP_S) - leg.first
            # Half a step of rounding at the start of a leg, and the list as it was.
            assert leg.fuel_l[at, column] == pytest.approx(row["fuel_l"], rel=0.01)
            # The same hour about any moment of the leg, but for what lies beyond its ends.
            assert leg.rough[at, column] >= 0.97 * row["roll_active_significant_deg"]
            time += row["hours"] * HOUR_S


# Route files


@pytest.mark.parametrize("ending", [".rtz", ".gpx", ".geojson"])
def test_written_route_reads_back_with_its_schedule(tmp_path, ending):
    found = compare_files(files("eastern"), CompareOptions((DEPARTURE_S,), (10.0,)))
    file = tmp_path / f"chosen{ending}"
    write_chosen_route(found, 0, file)
    back = read_route(file)
    rows = found.legs(0)
    assert [leg.label for leg in back.legs] == [leg.label for leg in found.routes[0].legs]
    ends = found.cells[0].end_s[0]
    last = back.legs[-1].eta_s
    assert last == pytest.approx(ends[-1], abs=1.0)
    if ending == ".rtz":
        for leg, end, row in zip(back.legs, ends, rows, strict=True):
            assert leg.eta_s == pytest.approx(end, abs=1.0)
            if row["type"] != "stay":
                assert leg.speed_kn == pytest.approx(10.0, rel=1e-6)


def test_unknown_ending_is_refused(tmp_path):
    found = compare_files(files("direct"), CompareOptions((DEPARTURE_S,), (10.0,)))
    with pytest.raises(OutputError, match="end of the name"):
        write_chosen_route(found, 0, tmp_path / "chosen.txt")
    assert list(tmp_path.iterdir()) == []


def test_departures_of_a_window():
    assert departures(0.0, 6 * HOUR_S, 3.0) == (0.0, 3 * HOUR_S, 6 * HOUR_S)
    assert departures(0.0, 5 * HOUR_S, 3.0) == (0.0, 3 * HOUR_S)
    assert departures(7.0, 7.0, 3.0) == (7.0,)


def test_plan_of_needs_no_more_than_the_comparison():
    from passage.inputs.forecast import open_forecast

    found = compare_files(files("direct"), CompareOptions((DEPARTURE_S,), (10.0, 12.0)))
    with open_forecast(list(FORECASTS)) as forecast:
        made = plan_of(found, 1, Yacht(found.vessel), forecast, files("direct"))
    assert made.totals["fuel_l"] == pytest.approx(found.totals["fuel_l"][1], rel=1e-9)
