"""Planning anew at sea: as the whole plan had it, and tanks that weigh what they hold."""

import re
from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner
from planning_scenario import SAMPLES

import passage
from passage.cli.main import group
from passage.errors import PassageError, VesselError
from passage.inputs.route import read_route
from passage.inputs.vessel import LoadingEvent, read_vessel
from passage.planning.voyage.underway import from_here, with_contents
from passage.report.text.verdict_plan import plan_verdict

VESSEL = SAMPLES / "brambling.toml"
FORECASTS = [SAMPLES / f"biscay_{name}.nc" for name in ("waves", "wind", "current")]


def test_contents_as_in_the_file_change_nothing():
    ship = read_vessel(VESSEL)
    same = with_contents(ship, [(tank.name, tank.content_m3) for tank in ship.tanks])
    assert same.tanks == ship.tanks
    assert same.loading.list_deg == pytest.approx(ship.loading.list_deg, abs=1e-12)
    for name in ("gm_m", "displacement_t", "draught_m", "bow_draught_m"):
        assert getattr(same.particulars, name) == pytest.approx(
            getattr(ship.particulars, name), rel=1e-6
        )
    assert same.roll.natural_period_s == pytest.approx(ship.roll.natural_period_s, rel=1e-6)


def test_a_cubic_metre_off_one_side_lists_her_to_the_other_and_weighs_what_it_weighs():
    ship = read_vessel(VESSEL)
    side = {tank.name: tank for tank in ship.tanks if tank.holds == "fuel" and tank.y_m != 0.0}
    lists = {}
    for name, tank in side.items():
        less = with_contents(ship, [(name, tank.content_m3 - 1.0)])
        gone = ship.particulars.displacement_t - less.particulars.displacement_t
        assert gone == pytest.approx(tank.density_t_m3, rel=1e-6)
        lists[name] = less.loading.list_deg - ship.loading.list_deg
        assert np.sign(lists[name]) == -np.sign(tank.y_m)
        assert less.particulars.draught_m < ship.particulars.draught_m
    assert len(lists) >= 2


def test_missing_tanks_are_refused_all_at_once():
    ship = read_vessel(VESSEL)
    name = ship.tanks[0].name
    with pytest.raises(VesselError) as caught:
        with_contents(ship, [(name + "x", 1.0), (name, 1e4)])
    text = str(caught.value)
    assert f"Did you mean {name}?" in text
    assert "is more than its" in text


def test_events_keep_their_place():
    ship = read_vessel(VESSEL)
    way = read_route(SAMPLES / "direct.csv")
    events = tuple(LoadingEvent(leg=n, moment_t_m=1.0, what="tender") for n in (1, 2, 3))
    ship = replace(ship, loading=replace(ship.loading, events=events))
    # Six miles past the second waypoint of three legs: the third is now the second.
    later, rest = from_here(ship, way, (way.legs[1].lat_from_deg - 0.1, way.legs[1].lon_from_deg))
    names = [leg.name_to for leg in rest.legs]
    assert names[-1] == way.legs[-1].name_to
    extra = len(rest.legs) - 2
    assert [one.leg for one in later.loading.events] == [max(extra, 1), 1 + extra, 2 + extra]


def test_from_a_waypoint_the_rest_is_what_the_whole_plan_gave():
    whole = passage.plan(
        SAMPLES / "direct.csv", VESSEL, FORECASTS, departure="2026-03-14T06:00Z", speed_kn=11.0,
        draws=0, map_times=0,
    ).answer  # fmt: skip
    way = read_route(SAMPLES / "direct.csv")
    at = way.legs[1]
    rest = passage.plan(
        SAMPLES / "direct.csv", VESSEL, FORECASTS, departure=whole.legs[1]["etd_utc"],
        start=(at.lat_from_deg, at.lon_from_deg), speed_kn=11.0, draws=0, map_times=0,
    ).answer  # fmt: skip
    assert len(rest.legs) == len(whole.legs) - 1
    for ours, theirs in zip(rest.legs, whole.legs[1:], strict=True):
        # Tanks are as at departure in the one, burnt down in the other: a per cent at most.
        for name, close in (("hours", 2e-3), ("significant_height_m", 5e-3), ("fuel_l", 1e-2)):
            assert ours[name] == pytest.approx(theirs[name], rel=close), name
    assert any("0.0 nm from the route, on leg 2 of the whole route" in n for n in rest.notes)
    # Motion sickness counts the six hours before the start, which the whole plan sailed.
    first = whole.points["leg"] > 1
    sick = whole.points["motion_sickness_percent"][first]
    np.testing.assert_allclose(rest.points["motion_sickness_percent"], sick, rtol=0.02)
    assert rest.points["motion_sickness_percent"][0] > 0.7 * sick[0] > 0.0
    assert "sickness_before" in {one.code for one in rest.cautions}


def test_words_on_the_command_line(tmp_path):
    words = ["plan", str(SAMPLES / "direct.csv"), "--vessel", str(VESSEL), "--departure",
             "2026-03-14T06:00Z", "--draws", "0"]  # fmt: skip
    for path in FORECASTS:
        words += ["--forecast", str(path)]

    def run(*more):
        return CliRunner().invoke(group, [*words, *more])

    far = run("--start", "47-12.3N 016-40.1W")
    assert isinstance(far.exception, PassageError)
    assert "nm from the route" in str(far.exception)
    assert "is not a position" in run("--start", "somewhere").stderr
    assert "write the tank and its m3" in run("--tank", "fuel port").stderr
    twice = run("--tank", "fuel port=5", "--tank", "fuel port=11")
    assert twice.exit_code == 2
    assert "fuel port is given 2 times (5, 11 m3). Give each tank once." in twice.stderr
    ship = read_vessel(VESSEL)
    tank = ship.tanks[0]
    made = run("--start", "47-12.3N 006-25.1W", "--tank", f"{tank.name}={tank.content_m3 - 1:g}")
    assert made.exit_code == 0, made.exception
    assert "- under way: from" in made.stdout
    assert f"- tanks as now: {tank.name}" in made.stdout


def test_motion_before_the_start_that_the_forecast_does_not_know_is_left_out_by_name():
    spring = [SAMPLES / f"spring_{name}.nc" for name in ("waves", "wind", "current")]
    at = read_route(SAMPLES / "outside.csv").legs[-1]
    ship = read_vessel(SAMPLES / "brambling_may.toml")
    only_sickness = replace(
        ship.limits.underway, roll_significant_deg=None, lateral_acceleration_rms_g=None,
        vertical_acceleration_rms_g=None, motion_sickness_percent=90.0,
    )  # fmt: skip
    ship = replace(ship, limits=replace(ship.limits, underway=only_sickness))
    late = passage.plan(
        SAMPLES / "outside.csv", ship, spring, speed_kn=10.5, draws=0,
        departure="2026-05-19T00:30Z", start=(at.lat_from_deg, at.lon_from_deg), map_times=0,
    ).answer  # fmt: skip
    found = [one for one in late.cautions if one.code == "sickness_before_unknown"]
    assert re.search(r"leaves out 5\.[3-6] h of motion", found[0].text)
    verdict = plan_verdict(late)
    assert verdict.state == "within"
    assert "without the motion before the start" in verdict.do
